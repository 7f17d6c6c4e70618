//! Reports, claim files and copies of the whole record for whoever sits at the screens: made from the ledger's file, beside the bench's thread.

use super::faults;
use crate::claim::{self, NoClaim, note_end};
use crate::clock;
use crate::near::Near;
use crate::report::{self, Form, NoReport};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::job::{HandRefusal, Refusal};
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{Reply, offer_notice};
use evenwire_paper::PageSize;
use evenwire_store::{Glance, StoreError};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use uuid::Uuid;

/// Names tried before a report is given up: somebody keeps a hundred reports of one job.
const MOST_NAMES: u32 = 100;
/// Bytes of a ledger that is handed over to a page, at most: three quarters of what a message holds, as base64 needs.
const MOST_HANDED: u64 = 64 * 1024 * 1024;

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

    /// All that is recorded as one file that was read back and checked. Blocks as well: reads all of it twice.
    pub fn back_up(&self, language: Language) -> Reply {
        let name = format!("evenwire-records-{}", clock::wall().as_str().get(..10).unwrap_or("today"));
        match &self.folder {
            Some(folder) => match back_up_into(&self.database, folder, &name) {
                Ok(path) => kept_as(&path),
                Err(error @ StoreError::Damaged { .. }) => Reply::Failed { notice: faults::not_read(&error, language) },
                Err(error) => {
                    tracing::error!(%error, "a copy of the record cannot be put into its folder");
                    Reply::Failed { notice: faults::no_paper(&folder.display().to_string(), language) }
                }
            },
            None => match handed_out(&self.database) {
                Ok(Some(file)) => Reply::Paper { name: format!("{name}.db"), file, kept: String::new() },
                Ok(None) => Reply::Failed { notice: faults::too_large(language) },
                Err(error) => Reply::Failed { notice: faults::not_read(&error, language) },
            },
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
            Ok(path) => kept_as(&path),
            Err(error) => {
                tracing::error!(%error, "a file cannot be put into its folder");
                Reply::Failed { notice: faults::no_paper(&folder.display().to_string(), language) }
            }
        }
    }
}

/// It was put there.
fn kept_as(path: &Path) -> Reply {
    let name = path.file_name().map_or(String::new(), |name| name.to_string_lossy().into_owned());
    Reply::Paper { name, file: String::new(), kept: path.display().to_string() }
}

/// A copy of the ledger under a name of its own in `folder`.
fn back_up_into(database: &Path, folder: &Path, name: &str) -> Result<PathBuf, StoreError> {
    let io = |source| StoreError::Io { path: folder.to_owned(), source };
    std::fs::create_dir_all(folder).map_err(io)?;
    for path in names(folder, (name, "db")) {
        match backed_up(database, &path) {
            Err(StoreError::InTheWay { .. }) => {}
            backed_up => return backed_up.map(|()| path),
        }
    }
    Err(io(std::io::ErrorKind::AlreadyExists.into()))
}

/// A copy of the ledger, base64; `None`: it is too large to be handed over.
fn handed_out(database: &Path) -> Result<Option<String>, StoreError> {
    // Two pages that ask at once would take each other's file away.
    static ONE: Mutex<()> = Mutex::new(());
    let _mine = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let path = with_ending(database, ".handed-out");
    let io = |source| StoreError::Io { path: path.clone(), source };
    if std::fs::metadata(database).map_err(io)?.len() > MOST_HANDED {
        return Ok(None);
    }
    // What is left of one that was cut off goes.
    match std::fs::remove_file(&path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(io(error)),
        _ => {}
    }
    backed_up(database, &path)?;
    let read = std::fs::read(&path);
    std::fs::remove_file(&path).map_err(io)?;
    let bytes = read.map_err(io)?;
    // What stood in the log beside the ledger is in the copy as well.
    Ok((bytes.len() as u64 <= MOST_HANDED).then(|| STANDARD.encode(bytes)))
}

fn backed_up(database: &Path, out: &Path) -> Result<(), StoreError> {
    let ledger = Glance::at(database)?;
    ledger.back_up(out)?;
    note_end(&ledger);
    Ok(())
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    name.into()
}

fn form(letter: bool, language: Language) -> Form {
    let size = if letter { PageSize::Letter } else { PageSize::A4 };
    Form { language, size, shop: None, zone: None }
}

fn not_claimed(none: &NoClaim, language: Language) -> Reply {
    match none {
        NoClaim::Report(error) => not_made(error, language),
        NoClaim::Store(error) => Reply::Failed { notice: faults::not_read(error, language) },
        NoClaim::KeyAway(away) => Reply::Failed { notice: faults::key_away(*away, language) },
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

/// Names for a file of its own, the shortest first.
fn names(folder: &Path, (name, ending): (&str, &str)) -> impl Iterator<Item = PathBuf> {
    (1..=MOST_NAMES).map(move |number| {
        let tail = if number == 1 { String::new() } else { format!("-{number}") };
        folder.join(format!("{name}{tail}.{ending}"))
    })
}

/// Writes a file of its own: nothing that is there is written over.
fn put(folder: &Path, named: (&str, &str), bytes: &[u8]) -> std::io::Result<PathBuf> {
    std::fs::create_dir_all(folder)?;
    for path in names(folder, named) {
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
    use evenwire_store::Store;

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

    fn copied(papers: &Papers) -> (String, String, String) {
        match papers.back_up(Language::En) {
            Reply::Paper { name, file, kept } => (name, file, kept),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_copy_of_the_record_is_whole_and_takes_the_place_of_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("shop.db");
        let head = Store::open(&database, Uuid::from_u128(7)).unwrap().head().unwrap();
        let into = Papers { database: database.clone(), folder: Some(folder.path().join("papers")) };
        let (first, second) = (copied(&into), copied(&into));
        assert!(first.0.starts_with("evenwire-records-2") && second.0.ends_with("-2.db"), "{first:?} {second:?}");
        for (_, file, kept) in [first, second] {
            assert_eq!(
                (Store::open(Path::new(&kept), Uuid::nil()).unwrap().head().unwrap(), file),
                (head.clone(), String::new())
            );
        }
        // Handed over, also where one was cut off before; nothing is left of it beside the ledger.
        std::fs::write(folder.path().join("shop.db.handed-out"), "half of one").unwrap();
        let (name, file, kept) = copied(&Papers { database: database.clone(), folder: None });
        assert_eq!((&name[name.len() - 3..], kept.as_str()), (".db", ""));
        let back = folder.path().join("back.db");
        std::fs::write(&back, STANDARD.decode(file).unwrap()).unwrap();
        assert_eq!(Store::open(&back, Uuid::nil()).unwrap().head().unwrap(), head);
        assert!(!folder.path().join("shop.db.handed-out").exists());
    }

    #[test]
    fn a_record_that_is_too_large_or_damaged_is_not_copied_and_the_person_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("shop.db");
        std::fs::File::create(&database).unwrap().set_len(MOST_HANDED + 1).unwrap();
        let told = |folder| match (Papers { database: database.clone(), folder }).back_up(Language::De) {
            Reply::Failed { notice } => notice,
            other => panic!("{other:?}"),
        };
        let notice = told(None);
        assert!(notice.code == "too-large" && notice.remedy.contains("evenwire-cli backup"), "{notice:?}");
        std::fs::write(&database, [7; 8192]).unwrap();
        assert_eq!(told(None).code, "damaged");
        assert_eq!(told(Some(folder.path().join("papers"))).code, "damaged");
        assert_eq!(std::fs::read_dir(folder.path().join("papers")).unwrap().count(), 0, "nothing half is left");
    }
}
