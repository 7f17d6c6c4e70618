//! A job as one file that proves itself: its entries as they were hashed, what they name (samples, photos, details,
//! people), the report, and a signature of the device over all of it.
//!
//! [`pack`] makes it, [`verify`] says that it is unchanged or names the first thing that is not. Neither needs a
//! ledger, a hub or the network.

mod handed;
mod parcel;
mod told;
mod verify;
#[cfg(test)]
mod tests;

pub use handed::{Handed, NotHanded, handed, handed_in};
pub use parcel::{MAX_BYTES, MAX_FILES, Parcel, ParcelFault};
pub use verify::{ClaimFault, Proved, verify};

use crate::record::{DeviceKey, Event, Hash, PublicKey, Sealed};
use crate::sync::{Beside, BesideChange, BesideKind, changes_by, parted};
use crate::unit::Stamp;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// The form of claim files this program writes, and the only one it reads.
pub const FORM: u32 = 1;
/// Says in the signature what was signed.
const SIGNED_AS: &str = "evenwire-claim";
/// Largest number of an entry: up to there names are in the order of numbers. A thousand a second for thirty years.
const MOST_SEQUENCE: u64 = 999_999_999_999;
const MANIFEST: &str = "manifest.json";
const SIGNATURE: &str = "manifest.jws";
const READ_ME: &str = "READ-ME.txt";
const DETAILS: &str = "details.json";

/// What goes into a claim file. Whoever packs it is a device or the hub that keeps what devices brought.
#[derive(Clone, Debug, Default)]
pub struct Contents {
    /// The entries of the job, oldest first; at least one.
    pub entries: Vec<Sealed>,
    /// Entries of the device: those that name its keys, and those that brought people onto the roster.
    pub device: Vec<Sealed>,
    /// Signed heads of the job, as JWS.
    pub heads: Vec<String>,
    /// What stands beside the entries and goes along, with its bytes as a device sends them; see [`wanted`].
    pub beside: Vec<(Beside, Vec<u8>)>,
    /// What is there to be read: "report.pdf", "readings.csv". Names as [`Parcel::put`] takes them.
    pub papers: BTreeMap<String, Vec<u8>>,
}

/// Names every other file with its hash, and whose key signs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Manifest {
    evenwire_claim: u32,
    job: Uuid,
    device: Uuid,
    key: PublicKey,
    made: Stamp,
    files: BTreeMap<String, Hash>,
}

/// What is signed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Signed {
    manifest: Hash,
}

/// Salt and text, as they were committed to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Opened {
    salt: String,
    text: String,
}

/// Why there is no claim file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoClaim {
    /// There is nothing to prove.
    #[error("the job has no entries")]
    Empty,
    /// An entry of the contents belongs to another job, or to none.
    #[error("entry {0} does not belong to the job")]
    OtherJob(u64),
    /// Bytes do not have the hash that entries name, or it is of nobody on the roster.
    #[error("{0} is not what the entries name")]
    Foreign(Hash),
    /// It does not fit.
    #[error(transparent)]
    Parcel(#[from] ParcelFault),
}

/// The claim file of a job, signed by the `key` of `device`, which is the hub's id where a hub packs it. The same contents, key and time give the same bytes.
///
/// # Errors
/// [`NoClaim`].
pub fn pack(contents: &Contents, (device, key): (Uuid, &DeviceKey), made: &Stamp) -> Result<Vec<u8>, NoClaim> {
    let newest = contents.entries.last().ok_or(NoClaim::Empty)?.entry();
    let job = newest.job.ok_or(NoClaim::OtherJob(newest.sequence))?;
    let mut parcel = Parcel::default();
    for sealed in &contents.entries {
        if sealed.entry().job != Some(job) {
            return Err(NoClaim::OtherJob(sealed.entry().sequence));
        }
        parcel.put(&place("entries", sealed), sealed.bytes().to_vec())?;
    }
    for sealed in &contents.device {
        parcel.put(&place("device", sealed), sealed.bytes().to_vec())?;
    }
    for (number, head) in (1..).zip(&contents.heads) {
        parcel.put(&format!("heads/{number:06}.jws"), head.clone().into_bytes())?;
    }
    let people = committed(&contents.entries, &contents.device);
    for (beside, bytes) in &contents.beside {
        let (name, bytes) = file_of(beside, bytes, &people).ok_or(NoClaim::Foreign(beside.hash))?;
        parcel.put(&name, bytes)?;
    }
    for (name, bytes) in &contents.papers {
        parcel.put(name, bytes.clone())?;
    }
    parcel.put(READ_ME, told::READ_ME.as_bytes().to_vec())?;
    let files = parcel.files().map(|(name, bytes)| (name.to_owned(), Hash::of(bytes))).collect();
    let manifest = Manifest { evenwire_claim: FORM, job, device, key: key.public(), made: made.clone(), files };
    let manifest = serde_json::to_vec_pretty(&manifest).expect("a manifest has only text keys");
    let signed = Signed { manifest: Hash::of(&manifest) };
    let signed = serde_json::to_vec(&signed).expect("a hash is a text");
    parcel.put(MANIFEST, manifest)?;
    parcel.put(SIGNATURE, key.sign(SIGNED_AS, &signed).into_bytes())?;
    Ok(parcel.to_bytes())
}

/// What goes along with the entries of a job: their samples and, if it is to be `personal`, photos and details that were
/// not erased and the names of those on the roster of `device` who are named in them.
pub fn wanted(entries: &[Sealed], device: &[Sealed], personal: bool) -> Vec<Beside> {
    let mut wanted: Vec<Beside> = Vec::new();
    for change in entries.iter().flat_map(changes_by) {
        match change {
            BesideChange::Named(beside) if personal || beside.kind == BesideKind::Samples => wanted.push(beside),
            BesideChange::Named(_) => {}
            BesideChange::Superseded(_) => wanted.retain(|beside| beside.kind != BesideKind::Details),
            BesideChange::Erased(_) => {
                wanted.retain(|beside| matches!(beside.kind, BesideKind::Samples | BesideKind::Person));
            }
        }
    }
    let people = if personal { people_in(entries, device) } else { BTreeMap::new() };
    wanted.extend(people.into_values().map(|hash| Beside { kind: BesideKind::Person, hash, job: None }));
    wanted.sort_unstable();
    wanted.dedup();
    wanted
}

/// Those entries of the `device` itself that go along: they name its keys or, if it is to be `personal`, the people in
/// the entries of the job.
pub fn telling(entries: &[Sealed], device: &[Sealed], personal: bool) -> Vec<Sealed> {
    let people = if personal { people_in(entries, device) } else { BTreeMap::new() };
    let tells = |sealed: &&Sealed| match sealed.entry().event() {
        Some(Event::DeviceKeyed { .. } | Event::IdentityRenewed { .. }) => true,
        Some(Event::PersonAdded { person, .. }) => people.contains_key(&person),
        _ => false,
    };
    device.iter().filter(tells).cloned().collect()
}

/// People that are named in entries of a job, with what their names were committed to.
fn people_in(entries: &[Sealed], device: &[Sealed]) -> BTreeMap<Uuid, Hash> {
    let told: Vec<_> = entries.iter().map(|sealed| String::from_utf8_lossy(sealed.bytes())).collect();
    let named = |person: &Uuid| told.iter().any(|entry| entry.contains(&person.to_string()));
    committed(entries, device).into_iter().filter(|(person, _)| named(person)).collect()
}

/// What names were committed to: those of people whom the job's entries brought from elsewhere, and of those on the roster
/// of the device.
fn committed(entries: &[Sealed], device: &[Sealed]) -> BTreeMap<Uuid, Hash> {
    let mut committed = BTreeMap::new();
    for event in entries.iter().chain(device).filter_map(Sealed::event) {
        match event {
            Event::JobReleased(release) => committed.extend(release.people),
            Event::StepSignedAtOffice(signed) => drop(committed.insert(signed.person, signed.personal)),
            Event::PersonAdded { person, personal } => drop(committed.insert(person, personal)),
            _ => {}
        }
    }
    committed
}

/// The hashes that entries name: of chunks, and of photos.
pub(crate) fn named(entries: &[Sealed]) -> (BTreeSet<Hash>, BTreeSet<Hash>) {
    let (mut chunks, mut photos) = (BTreeSet::new(), BTreeSet::new());
    for change in entries.iter().flat_map(changes_by) {
        match change {
            BesideChange::Named(Beside { kind: BesideKind::Samples, hash, .. }) => chunks.insert(hash),
            BesideChange::Named(Beside { kind: BesideKind::Photo, hash, .. }) => photos.insert(hash),
            _ => false,
        };
    }
    (chunks, photos)
}

/// What stands beside the entries as a file of the claim; `None` for bytes that are not what it says they are.
fn file_of(beside: &Beside, bytes: &[u8], people: &BTreeMap<Uuid, Hash>) -> Option<(String, Vec<u8>)> {
    if Hash::of(bytes) != beside.hash {
        return None;
    }
    let text = || parted(bytes).map(|(salt, text)| opened(&salt, text));
    match beside.kind {
        BesideKind::Samples => Some((format!("samples/{}.bin", beside.hash), bytes.to_vec())),
        BesideKind::Photo => Some((format!("photos/{}.jpg", beside.hash), bytes.to_vec())),
        BesideKind::Details => Some((DETAILS.to_owned(), text()?)),
        BesideKind::Person => {
            let (person, _) = people.iter().find(|(_, hash)| **hash == beside.hash)?;
            Some((format!("people/{person}.json"), text()?))
        }
    }
}

fn place(folder: &str, sealed: &Sealed) -> String {
    format!("{folder}/{:012}.json", sealed.entry().sequence)
}

fn opened(salt: &[u8; 32], text: &str) -> Vec<u8> {
    // A salt is written as a hash is: 64 hexadecimal digits.
    let opened = Opened { salt: Hash(*salt).to_string(), text: text.to_owned() };
    serde_json::to_vec_pretty(&opened).expect("two texts")
}
