//! Reports and claim files for whoever sits at the screens: made from the ledger's file, beside the bench's thread.

use super::faults;
use crate::claim::{self, NoClaim};
use crate::near::Near;
use crate::report::{self, Form, NoReport};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::{HandRefusal, Refusal};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Reply, offer_notice};
use evenwire_paper::PageSize;
use std::io::Write;
use std::path::{Path, PathBuf};
use uuid::Uuid;

/// Names tried before a report is given up: somebody keeps a hundred reports of one job.
const MOST_NAMES: u32 = 100;

/// Where reports are made from and put.
#[derive(Debug, Default)]
pub(super) struct Papers {
    /// The ledger.
    pub database: PathBuf,
    /// The folder they are put into; none: they are handed over.
    pub folder: Option<PathBuf>,
}

impl Papers {
    /// The report of a job. Blocks: reads the ledger, lays out, writes.
    pub fn report(&self, (job, letter): (Uuid, bool), language: Language) -> Reply {
        match report::pdf(&self.database, job, &form(letter, language)) {
            Ok(pdf) => self.give((job, "pdf"), &pdf, language),
            Err(error) => not_made(&error, language),
        }
    }

    /// The claim file of a job, with what is personal in it. Blocks as well.
    pub fn claim(&self, (job, letter): (Uuid, bool), language: Language) -> Reply {
        let made = claim::file((&self.database, job), &form(letter, language), true);
        self.claimed((job, "zip"), made, language)
    }

    /// A job that was handed over, as a file for another device. Blocks as well.
    pub fn hand_over(&self, job: Uuid, language: Language) -> Reply {
        self.claimed((job, "job.zip"), claim::handed((&self.database, job)), language)
    }

    /// The same file, offered to a device on the same network. Blocks as well.
    pub fn offer(&self, (job, near): (Uuid, &Near), language: Language) -> Reply {
        match claim::handed((&self.database, job)) {
            Ok(zip) => match near.offer(job, zip) {
                Ok(()) => Reply::Done,
                Err(trouble) => Reply::Failed { notice: offer_notice(trouble, language) },
            },
            Err(none) => not_claimed(&none, language),
        }
    }

    fn claimed(&self, named: (Uuid, &str), made: Result<Vec<u8>, NoClaim>, language: Language) -> Reply {
        match made {
            Ok(zip) => self.give(named, &zip, language),
            Err(none) => not_claimed(&none, language),
        }
    }

    /// Puts a file into the folder, or hands it over.
    fn give(&self, (job, ending): (Uuid, &str), file: &[u8], language: Language) -> Reply {
        // Times are in ids: the newest jobs differ in the last characters.
        let id = job.simple().to_string();
        let name = format!("evenwire-{}", &id[id.len() - 8..]);
        let Some(folder) = &self.folder else {
            return Reply::Paper { name: format!("{name}.{ending}"), file: STANDARD.encode(file), kept: String::new() };
        };
        match put(folder, (&name, ending), file) {
            Ok(path) => {
                let name = path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned());
                Reply::Paper { name, file: String::new(), kept: path.display().to_string() }
            }
            Err(error) => {
                tracing::error!(%error, "a file cannot be put into its folder");
                Reply::Failed { notice: faults::no_paper(&folder.display().to_string(), language) }
            }
        }
    }
}

fn form(letter: bool, language: Language) -> Form {
    let size = if letter { PageSize::Letter } else { PageSize::A4 };
    Form { language, size, shop: None, zone: None }
}

fn not_claimed(none: &NoClaim, language: Language) -> Reply {
    match none {
        NoClaim::Report(error) => not_made(error, language),
        NoClaim::Store(error) => Reply::Failed { notice: faults::not_read(error, language) },
        NoClaim::NoKey => Reply::Failed { notice: faults::no_key(language) },
        NoClaim::NotHanded => Reply::refused(HandRefusal::NotAway.into(), language),
        NoClaim::Pack(error) => {
            tracing::error!(%error, "a claim file cannot be packed");
            Reply::Failed { notice: faults::bug(language) }
        }
    }
}

fn not_made(error: &NoReport, language: Language) -> Reply {
    match error {
        NoReport::NoSuchJob(_) => Reply::refused(Refusal::NoSuchJob, language),
        NoReport::Store(error) => Reply::Failed { notice: faults::not_read(error, language) },
        NoReport::Paper(words) => {
            tracing::error!("a report cannot be laid out: {words}");
            Reply::Failed { notice: faults::bug(language) }
        }
    }
}

/// Writes a file of its own: nothing that is there is written over.
fn put(folder: &Path, (name, ending): (&str, &str), bytes: &[u8]) -> std::io::Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    for number in 1..=MOST_NAMES {
        let tail = if number == 1 { String::new() } else { format!("-{number}") };
        let path = folder.join(format!("{name}{tail}.{ending}"));
        match std::fs::File::create_new(&path) {
            Ok(mut file) => {
                // Half a report is none.
                file.write_all(bytes)
                    .and_then(|()| file.sync_all())
                    .inspect_err(|_| drop(std::fs::remove_file(&path)))?;
                return Ok(path);
            }
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
    Err(std::io::ErrorKind::AlreadyExists.into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_report_never_takes_the_place_of_another_file_and_half_of_one_is_not_left() {
        let folder = tempfile::tempdir().unwrap();
        let inside = folder.path().join("reports");
        let first = put(&inside, ("evenwire-1", "pdf"), b"one").unwrap();
        let second = put(&inside, ("evenwire-1", "pdf"), b"two").unwrap();
        assert_ne!(first, second);
        assert_eq!((std::fs::read(first).unwrap(), std::fs::read(second).unwrap()), (b"one".to_vec(), b"two".to_vec()));
        std::fs::write(folder.path().join("file"), b"").unwrap();
        assert!(put(&folder.path().join("file"), ("evenwire-1", "pdf"), b"three").is_err(), "a folder that is a file");
    }
}
