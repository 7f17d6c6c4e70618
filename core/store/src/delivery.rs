//! What a device knows of the shop's hub: with whom it is paired and what is there. A small file of its own beside the
//! ledger, `<ledger>.shop`, so that nothing of it waits for the bench or the bench for it. Losing it loses the pairing.

mod read;

pub use read::DeliveryGlance;

use crate::error::{During, StoreError};
use crate::open::{MOST_ASIDE, beside, exists, failed};
use crate::{lock, row};
use evenwire_core::record::{Hash, Sealed};
use evenwire_core::sync::{BesideChange, BesideKind, Note, changes_by};
use evenwire_core::unit::Stamp;
use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior, params};
use std::fs::OpenOptions;
use std::path::{Path, PathBuf};
use std::time::Duration;
use uuid::Uuid;

/// Stands in the header of the file ("EvSh").
const APPLICATION_ID: u32 = 0x4576_5368;
/// The format this program writes, and the only one it reads: another one is begun anew.
const FORMAT: i64 = 1;
const TABLES: &str = include_str!("migrations/delivery.sql");
/// How long a statement waits for whoever looks at the file.
const PATIENCE: Duration = Duration::from_secs(5);
/// Notes kept at most; the oldest go.
const MOST_NOTES: u32 = 50;

/// The hub a device is paired with.
#[derive(Clone, PartialEq, Eq)]
pub struct PairedHub {
    /// The hub.
    pub hub: Uuid,
    /// Name of the shop.
    pub shop: String,
    /// What the device is called there.
    pub device_name: String,
    /// Where it is reached, tried in this order.
    pub addresses: Vec<String>,
    /// The one certificate that is believed, DER.
    pub authority: Vec<u8>,
    /// The id the device had when it was paired.
    pub device: Uuid,
}

impl std::fmt::Debug for PairedHub {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "PairedHub({} as {}, {:?})", self.hub, self.device, self.addresses)
    }
}

/// Something an entry names, to be sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Named {
    /// SHA-256 of its bytes.
    pub hash: Hash,
    /// What it is.
    pub kind: BesideKind,
    /// The job whose entry names it; none: the device's.
    pub job: Option<Uuid>,
}

/// What is known of a thing that entries name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum There {
    /// Nothing.
    Unknown = 0,
    /// It is at the hub.
    Yes = 1,
    /// The hub said it lacks it.
    No = 2,
    /// It is not on this device any more.
    Lost = 3,
}

/// The file, opened by its only writer.
#[derive(Debug)]
pub struct Delivery(Connection);

impl Delivery {
    /// Where the file beside `ledger` is.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn place(ledger: &Path) -> Result<PathBuf, StoreError> {
        Ok(beside(&lock::whole(ledger)?, ".shop"))
    }

    /// There is such a file beside `ledger`.
    ///
    /// # Errors
    /// [`StoreError::Io`].
    pub fn is_there(ledger: &Path) -> Result<bool, StoreError> {
        exists(&Delivery::place(ledger)?)
    }

    /// Opens the file beside `ledger`, or makes it. One that cannot be understood is put aside, and an empty one takes
    /// its place.
    ///
    /// # Errors
    /// [`StoreError`] when it cannot be opened or made.
    pub fn open(ledger: &Path) -> Result<Delivery, StoreError> {
        let path = Delivery::place(ledger)?;
        match Delivery::at(&path) {
            Err(StoreError::Damaged { .. }) => {
                put_aside(&path)?;
                Delivery::at(&path)
            }
            opened => opened,
        }
    }

    fn at(path: &Path) -> Result<Delivery, StoreError> {
        let during = || format!("opening {}", path.display());
        if !exists(path)? {
            let mut options = OpenOptions::new();
            options.write(true).create_new(true);
            // It says where the hub is and how it is known; SQLite gives its own files beside it the same rights.
            #[cfg(unix)]
            std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
            options.open(path).map_err(failed(path))?;
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut conn = Connection::open_with_flags(path, flags).during(during)?;
        conn.busy_timeout(PATIENCE).during(during)?;
        conn.pragma_update(None, "trusted_schema", "OFF").during(during)?;
        conn.pragma_update(None, "secure_delete", "ON").during(during)?;
        conn.pragma_update(None, "journal_mode", "WAL").during(during)?;
        conn.pragma_update(None, "synchronous", "FULL").during(during)?;
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
        let number = |name| tx.pragma_query_value(None, name, |row| row.get::<_, i64>(0)).during(during);
        match (number("application_id")?, number("user_version")?) {
            (0, 0) => {
                tx.execute_batch(TABLES).during(during)?;
                tx.pragma_update(None, "application_id", APPLICATION_ID).during(during)?;
                tx.pragma_update(None, "user_version", FORMAT).during(during)?;
            }
            (id, FORMAT) if id == i64::from(APPLICATION_ID) => {}
            (id, format) => return Err(StoreError::damaged(format!("it says it is {id}, format {format}"))),
        }
        tx.commit().during(during)?;
        Ok(Delivery(conn))
    }

    /// The hub it is paired with.
    ///
    /// # Errors
    /// As SQLite reports; so for all others here.
    pub fn paired(&self) -> Result<Option<PairedHub>, StoreError> {
        read::paired(&self.0)
    }

    /// Pairs it, in place of what was before: nothing is known of what is there.
    pub fn pair(&mut self, with: &PairedHub) -> Result<(), StoreError> {
        self.write("pairing", |tx| {
            clear(tx)?;
            let addresses = serde_json::to_string(&with.addresses).expect("texts are written");
            let ids = (with.hub.as_bytes(), with.device.as_bytes());
            tx.execute(
                "INSERT INTO pairing (only_row, hub, shop, device_name, addresses, authority, device)
                 VALUES (1, ?1, ?2, ?3, ?4, ?5, ?6)",
                params![ids.0, with.shop, with.device_name, addresses, with.authority, ids.1],
            )
        })
    }

    /// The shop is called this now.
    pub fn call_shop(&mut self, name: &str) -> Result<(), StoreError> {
        self.write("noting the shop's name", |tx| tx.execute("UPDATE pairing SET shop = ?1", [name]))
    }

    /// Forgets the hub.
    pub fn unpair(&mut self) -> Result<(), StoreError> {
        self.write("unpairing", clear)
    }

    /// Notes what these entries name, which follow those that were looked at before.
    pub fn look_at(&mut self, entries: &[Sealed]) -> Result<(), StoreError> {
        self.write("noting what entries name", |tx| entries.iter().try_for_each(|sealed| look_at(tx, sealed)))
    }

    /// The hub said that it has everything up to this entry.
    pub fn stored(&mut self, through: u64) -> Result<(), StoreError> {
        self.write("noting what is stored", |tx| {
            tx.execute("UPDATE pairing SET stored_through = ?1", [row::signed(through)])
        })
    }

    /// The hub was brought every signed head up to this one, by its number in the ledger.
    pub fn brought_heads(&mut self, through: u64) -> Result<(), StoreError> {
        self.write("noting what is proved there", |tx| {
            tx.execute("UPDATE pairing SET heads = ?1", [row::signed(through)])
        })
    }

    /// The hub has less than it said: only up to this entry, and of what stands beside them nobody knows.
    pub fn fell_back(&mut self, to: u64) -> Result<(), StoreError> {
        self.write("noting what is lost there", |tx| {
            tx.execute("UPDATE pairing SET stored_through = ?1, heads = 0, again = 1", [row::signed(to)])?;
            tx.execute("UPDATE named SET there = 0 WHERE there <> 3", [])
        })
    }

    /// Of nothing that was there it is known any more whether it is.
    pub fn ask_again(&mut self) -> Result<(), StoreError> {
        self.write("forgetting what is there", |tx| tx.execute("UPDATE named SET there = 0 WHERE there <> 3", []))
    }

    /// What was not on this device may be there again.
    pub fn seek_again(&mut self) -> Result<(), StoreError> {
        self.write("seeking again", |tx| tx.execute("UPDATE named SET there = 0 WHERE there = 3", []))
    }

    /// Notes what is known of these.
    pub fn know(&mut self, things: &[(Hash, There)]) -> Result<(), StoreError> {
        self.write("noting what is there", |tx| {
            let mut update = tx.prepare_cached("UPDATE named SET there = ?2 WHERE hash = ?1")?;
            things.iter().try_for_each(|(hash, there)| update.execute(params![hash.0, *there as u8]).map(drop))
        })
    }

    /// A change was done, or passed over; a word from the office is kept with its number.
    pub fn took(&mut self, number: u64, note: Option<(Option<Uuid>, &str)>) -> Result<(), StoreError> {
        let number = row::signed(number);
        self.write("noting a change", |tx| {
            tx.execute("UPDATE pairing SET change = max(change, ?1)", [number])?;
            if let Some((job, text)) = note {
                let job = job.map(Uuid::into_bytes);
                tx.execute("INSERT OR IGNORE INTO note (number, job, text) VALUES (?1, ?2, ?3)", (number, job, text))?;
            }
            let old = "DELETE FROM note WHERE number NOT IN (SELECT number FROM note ORDER BY number DESC LIMIT ?1)";
            tx.execute(old, [MOST_NOTES])
        })
    }

    /// The office erased the details of this job (`true`), or they are erased here, too, or unknown here.
    pub fn erase_later(&mut self, job: Uuid, later: bool) -> Result<(), StoreError> {
        self.write("noting what is to be erased", |tx| {
            let keep = "INSERT OR IGNORE INTO to_erase (job) VALUES (?1)";
            tx.execute(if later { keep } else { "DELETE FROM to_erase WHERE job = ?1" }, [job.as_bytes()])
        })
    }

    /// Jobs whose details the office erased and that are still here.
    pub fn to_erase(&self) -> Result<Vec<Uuid>, StoreError> {
        read::to_erase(&self.0)
    }

    /// Somebody read this note.
    pub fn put_away(&mut self, number: u64) -> Result<(), StoreError> {
        self.write("putting a note away", |tx| tx.execute("DELETE FROM note WHERE number = ?1", [row::signed(number)]))
    }

    /// Everything was there at this time.
    pub fn complete(&mut self, at: &Stamp) -> Result<(), StoreError> {
        self.write("noting that everything is there", |tx| {
            tx.execute("UPDATE pairing SET again = 0, complete = ?1", [at.as_str()])
        })
    }

    /// What is known now.
    ///
    /// # Errors
    /// As SQLite reports.
    pub fn standing(&self) -> Result<Delivered, StoreError> {
        read::standing(&self.0)
    }

    /// At most `limit` things that entries up to `tail` name and of which nobody knows whether they are there.
    pub fn unasked(&self, tail: u64, limit: u32) -> Result<Vec<Hash>, StoreError> {
        read::unasked(&self.0, tail, limit)
    }

    /// How many things that entries up to `tail` name are not known to be there.
    pub fn lacking(&self, tail: u64) -> Result<u64, StoreError> {
        read::lacking(&self.0, tail)
    }

    /// The next thing that the hub lacks. Names and details come first, photos last: they are large.
    pub fn missing(&self) -> Result<Option<Named>, StoreError> {
        read::missing(&self.0)
    }

    /// Notes that nobody put away, oldest first.
    pub fn notes(&self) -> Result<Vec<Note>, StoreError> {
        read::notes(&self.0)
    }

    fn write<T>(
        &mut self,
        what: &str,
        deed: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<(), StoreError> {
        let during = || format!("{what} beside the ledger");
        let tx = self.0.transaction_with_behavior(TransactionBehavior::Immediate).during(during)?;
        deed(&tx).during(during)?;
        tx.commit().during(during)
    }
}

/// How far a device came with its hub.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Delivered {
    /// The hub has everything up to this entry, as it said itself.
    pub stored_through: u64,
    /// What entries name is known up to this one.
    pub looked: u64,
    /// The hub was brought every signed head up to this one, by its number.
    pub heads: u64,
    /// Number of the last change that was done.
    pub change: u64,
    /// The hub had lost what it had.
    pub again: bool,
    /// When everything was there last.
    pub complete: Option<Stamp>,
    /// Things that are there.
    pub there: u64,
    /// Things that are named.
    pub named: u64,
    /// Things that are not on this device any more.
    pub lost: u64,
}

fn clear(tx: &Transaction<'_>) -> rusqlite::Result<()> {
    ["pairing", "named", "job", "note", "to_erase"]
        .iter()
        .try_for_each(|table| tx.execute(&format!("DELETE FROM {table}"), []).map(drop))
}

fn look_at(tx: &Transaction<'_>, sealed: &Sealed) -> rusqlite::Result<()> {
    let entry = sealed.entry();
    let looked: Option<i64> = tx.query_row("SELECT looked FROM pairing", [], |row| row.get(0)).optional()?;
    // Looked at once; and where nobody is paired, there is nothing to be noted.
    if looked.is_none_or(|looked| row::signed(entry.sequence) != looked + 1) {
        return Ok(());
    }
    for change in changes_by(sealed) {
        match change {
            BesideChange::Named(of) => tx
                .prepare_cached("INSERT OR REPLACE INTO named (hash, job, kind, sequence) VALUES (?1, ?2, ?3, ?4)")?
                .execute(params![of.hash.0, key(of.job), read::code(of.kind), row::signed(entry.sequence)])?,
            BesideChange::Superseded(job) => tx.execute(
                "DELETE FROM named WHERE job = ?1 AND kind = ?2",
                params![job.as_bytes(), read::code(BesideKind::Details)],
            )?,
            BesideChange::Erased(job) => tx.execute(
                "DELETE FROM named WHERE job = ?1 AND kind IN (?2, ?3)",
                params![job.as_bytes(), read::code(BesideKind::Details), read::code(BesideKind::Photo)],
            )?,
        };
    }
    if let Some(job) = entry.job {
        let newest = "INSERT INTO job (job, newest) VALUES (?1, ?2) ON CONFLICT (job) DO UPDATE SET newest = ?2";
        tx.prepare_cached(newest)?.execute(params![job.as_bytes(), row::signed(entry.sequence)])?;
    }
    tx.prepare_cached("UPDATE pairing SET looked = ?1")?.execute([row::signed(entry.sequence)])?;
    Ok(())
}

/// The job as it is kept: what is the device's own has none.
fn key(job: Option<Uuid>) -> [u8; 16] {
    job.unwrap_or(Uuid::nil()).into_bytes()
}

fn put_aside(path: &Path) -> Result<(), StoreError> {
    for counter in 1..=MOST_ASIDE {
        let target = beside(path, &format!(".aside-{counter}"));
        if !exists(&target)? {
            return crate::open::move_all(path, &target);
        }
    }
    Err(failed(path)(std::io::ErrorKind::AlreadyExists.into()))
}
