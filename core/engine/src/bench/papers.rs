//! Reports for whoever sits at the screens: made from the ledger's file, beside the bench's thread.

use super::faults;
use crate::report::{self, Form, NoReport};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::Refusal;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::Reply;
use evenwire_paper::{PageSize, ShopHeader};
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
        let size = if letter { PageSize::Letter } else { PageSize::A4 };
        let form = Form { language, size, shop: ShopHeader::default(), zone: None };
        let pdf = match report::pdf(&self.database, job, &form) {
            Ok(pdf) => pdf,
            Err(NoReport::NoSuchJob(_)) => return Reply::refused(Refusal::NoSuchJob, language),
            Err(NoReport::Store(error)) => return Reply::Failed { notice: faults::not_read(&error, language) },
            Err(NoReport::Paper(words)) => {
                tracing::error!("a report cannot be laid out: {words}");
                return Reply::Failed { notice: faults::bug(language) };
            }
        };
        // Times are in ids: the newest jobs differ in the last characters.
        let id = job.simple().to_string();
        let name = format!("evenwire-{}", &id[id.len() - 8..]);
        let Some(folder) = &self.folder else {
            return Reply::Report { name: format!("{name}.pdf"), pdf: STANDARD.encode(pdf), kept: String::new() };
        };
        match put(folder, &name, &pdf) {
            Ok(path) => {
                let name = path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned());
                Reply::Report { name, pdf: String::new(), kept: path.display().to_string() }
            }
            Err(error) => {
                tracing::error!(%error, "a report cannot be put into its folder");
                Reply::Failed { notice: faults::no_paper(&folder.display().to_string(), language) }
            }
        }
    }
}

/// Writes a file of its own: nothing that is there is written over.
fn put(folder: &Path, name: &str, pdf: &[u8]) -> std::io::Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    for number in 1..=MOST_NAMES {
        let tail = if number == 1 { String::new() } else { format!("-{number}") };
        let path = folder.join(format!("{name}{tail}.pdf"));
        match std::fs::File::create_new(&path) {
            Ok(mut file) => {
                // Half a report is none.
                file.write_all(pdf)
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
        let first = put(&inside, "evenwire-1", b"one").unwrap();
        let second = put(&inside, "evenwire-1", b"two").unwrap();
        assert_ne!(first, second);
        assert_eq!((std::fs::read(first).unwrap(), std::fs::read(second).unwrap()), (b"one".to_vec(), b"two".to_vec()));
        std::fs::write(folder.path().join("file"), b"").unwrap();
        assert!(put(&folder.path().join("file"), "evenwire-1", b"three").is_err(), "a folder that is a file");
    }
}
