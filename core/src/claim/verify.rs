//! Whether a claim file is unchanged, and what it then proves.

use super::named;
use super::{DETAILS, FORM, MANIFEST, Manifest, Opened, Parcel, ParcelFault, SIGNATURE, SIGNED_AS, Signed};
use crate::record::{
    Event, HandedFault, Hash, KeptDetails, PublicKey, Sealed, SignedHead, SignedJob, claims_hold, told_of,
};
use crate::unit::Stamp;
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// What an unchanged claim file holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proved {
    /// The job.
    pub job: Uuid,
    /// Whose key signed the file: compare its fingerprint.
    pub key: PublicKey,
    /// The device or the hub that made and signed the file.
    pub device: Uuid,
    /// It is one that wrote in its own ledger what is here; otherwise a hub, which vouches for the file as a whole while
    /// the devices vouch for what they signed.
    pub made_by_device: bool,
    /// When the file was made, by the clock of whoever made it.
    pub made: Stamp,
    /// Time of the first and the newest entry, by the device's own clock.
    pub span: (Stamp, Stamp),
    /// Entries of the job.
    pub entries: u64,
    /// Signatures given while the job was worked on.
    pub heads: u64,
    /// Entries that the newest of them covers; what came after is covered by the file's own signature alone.
    pub sealed: u64,
    /// The keys that gave those signatures, each with how many entries the furthest of its own covers.
    pub signers: BTreeMap<PublicKey, u64>,
    /// Names of samples and photos that entries name and that are not here, as they would be called here.
    pub missing: Vec<String>,
    /// The personal details are here.
    pub details: bool,
    /// Entries of a kind this program does not know; they are as they were written, too.
    pub unknown: u64,
}

/// The first thing that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ClaimFault {
    /// It is no claim file, or one of its bytes was changed.
    #[error(transparent)]
    Parcel(#[from] ParcelFault),
    /// The list of its files is not there or cannot be read.
    #[error("{MANIFEST} is missing or cannot be read: {0}")]
    Manifest(String),
    /// It was made by a newer program.
    #[error("this file has form {0}; this program reads form {FORM}")]
    Newer(u32),
    /// The signature over the list does not fit.
    #[error("{SIGNATURE}: {0}")]
    Signature(String),
    /// A file is not the one that was signed.
    #[error("{0} is not the file that was signed")]
    Changed(String),
    /// A file that was signed is gone.
    #[error("{0} was signed and is missing")]
    Gone(String),
    /// A file is there that was not signed.
    #[error("{0} was not signed")]
    Added(String),
    /// An entry cannot be read, or stands where it does not belong.
    #[error("{file}: {why}")]
    Entry {
        /// Which.
        file: String,
        /// Why.
        why: String,
    },
    /// A signature of the device does not fit the entries.
    #[error("{file}: {why}")]
    Head {
        /// Which.
        file: String,
        /// Why.
        why: String,
    },
    /// A device says that it took the job over, and what stands before is not what was handed over.
    #[error("entries/: {0}")]
    Handed(#[from] HandedFault),
    /// What is personal, a sample or a photo is not what entries committed to.
    #[error("{0} is not what the entries of the job name")]
    Foreign(String),
}

/// Says that `bytes` are a claim file in which nothing was changed since it was signed, or names the first thing that
/// was. Whose key signed it tells [`Proved::key`]: whoever has another one can make a file of their own.
///
/// # Errors
/// [`ClaimFault`].
pub fn verify(bytes: &[u8]) -> Result<Proved, ClaimFault> {
    let parcel = Parcel::read(bytes)?;
    let manifest = signed_manifest(&parcel)?;
    assert_files(&parcel, &manifest)?;
    let entries = entries(&parcel, &manifest)?;
    claims_hold(manifest.job, &told_of(&entries))?;
    let keys = keys(&parcel, &manifest)?;
    let (heads, signers) = heads(&parcel, &entries, (&manifest, &keys))?;
    let made_by_device = entries.iter().any(|sealed| sealed.entry().device == manifest.device)
        || numbered(&parcel, "device")?.iter().any(|(_, sealed)| sealed.entry().device == manifest.device);
    let details = assert_details(&parcel, &entries)?;
    assert_people(&parcel, &entries)?;
    let missing = missing(&parcel, &entries)?;
    let ends = entries.first().zip(entries.last()).ok_or_else(|| entry("entries/", "there are none"))?;
    Ok(Proved {
        job: manifest.job,
        key: manifest.key,
        device: manifest.device,
        made_by_device,
        made: manifest.made,
        span: (ends.0.entry().wall.clone(), ends.1.entry().wall.clone()),
        entries: entries.len() as u64,
        heads,
        sealed: signers.values().copied().max().unwrap_or(0),
        signers,
        missing,
        details,
        unknown: entries.iter().filter(|sealed| sealed.event().is_none()).count() as u64,
    })
}

fn signed_manifest(parcel: &Parcel) -> Result<Manifest, ClaimFault> {
    let unreadable = |why: &dyn std::fmt::Display| ClaimFault::Manifest(why.to_string());
    let bytes = parcel.file(MANIFEST).ok_or_else(|| unreadable(&"it is not there"))?;
    let form = serde_json::from_slice::<serde_json::Value>(bytes).map_err(|e| unreadable(&e))?;
    match form["evenwire_claim"].as_u64().and_then(|form| u32::try_from(form).ok()) {
        Some(form) if form > FORM => return Err(ClaimFault::Newer(form)),
        Some(FORM) => {}
        _ => return Err(unreadable(&"it does not say its form")),
    }
    let manifest: Manifest = serde_json::from_slice(bytes).map_err(|e| unreadable(&e))?;
    let signature = |why: &dyn std::fmt::Display| ClaimFault::Signature(why.to_string());
    let jws = parcel.file(SIGNATURE).and_then(|jws| std::str::from_utf8(jws).ok());
    let jws = jws.ok_or_else(|| signature(&"it is not there or no text"))?;
    let payload = manifest.key.verify(SIGNED_AS, jws).map_err(|why| signature(&why))?;
    let signed: Signed = serde_json::from_slice(&payload).map_err(|why| signature(&why))?;
    if signed.manifest == Hash::of(bytes) { Ok(manifest) } else { Err(ClaimFault::Changed(MANIFEST.to_owned())) }
}

/// Every file is the one the manifest names, and there is no other.
fn assert_files(parcel: &Parcel, manifest: &Manifest) -> Result<(), ClaimFault> {
    for (name, bytes) in parcel.files().filter(|(name, _)| ![MANIFEST, SIGNATURE].contains(name)) {
        match manifest.files.get(name) {
            None => return Err(ClaimFault::Added(name.to_owned())),
            Some(hash) if *hash != Hash::of(bytes) => return Err(ClaimFault::Changed(name.to_owned())),
            Some(_) => {}
        }
    }
    match manifest.files.keys().find(|name| parcel.file(name).is_none()) {
        Some(name) => Err(ClaimFault::Gone(name.clone())),
        None => Ok(()),
    }
}

pub(super) fn inside<'a>(parcel: &'a Parcel, folder: &'a str) -> impl Iterator<Item = (&'a str, &'a [u8])> {
    parcel.files().filter(move |(name, _)| name.split_once('/').is_some_and(|(first, _)| first == folder))
}

fn entry(file: &str, why: &str) -> ClaimFault {
    ClaimFault::Entry { file: file.to_owned(), why: why.to_owned() }
}

/// The entries of one folder, each under its number.
pub(super) fn numbered(parcel: &Parcel, folder: &str) -> Result<Vec<(String, Sealed)>, ClaimFault> {
    let read = |(name, bytes): (&str, &[u8])| {
        let sealed = Sealed::read(bytes.to_vec()).map_err(|why| entry(name, &why.to_string()))?;
        let wanted = super::place(folder, &sealed);
        if sealed.entry().sequence > super::MOST_SEQUENCE {
            return Err(entry(name, "no ledger has so many entries"));
        }
        if wanted == name { Ok((wanted, sealed)) } else { Err(entry(name, "it has another number")) }
    };
    inside(parcel, folder).map(read).collect()
}

/// The entries of the job. Where no other job's entry stands between two, the later names the earlier.
fn entries(parcel: &Parcel, manifest: &Manifest) -> Result<Vec<Sealed>, ClaimFault> {
    let named = numbered(parcel, "entries")?;
    let mut before: Option<&Sealed> = None;
    for (name, sealed) in &named {
        let this = sealed.entry();
        if this.job != Some(manifest.job) {
            return Err(entry(name, "it belongs to another job"));
        }
        let follows = before.filter(|before| before.entry().sequence.checked_add(1) == Some(this.sequence));
        if follows.is_some_and(|before| before.hash() != this.previous) {
            return Err(entry(name, "it does not follow from the one before it"));
        }
        before = Some(sealed);
    }
    Ok(named.into_iter().map(|(_, sealed)| sealed).collect())
}

/// Keys by device: the one that signed the file, and those its ledger named.
fn keys(parcel: &Parcel, manifest: &Manifest) -> Result<BTreeMap<Uuid, BTreeSet<PublicKey>>, ClaimFault> {
    let mut keys: BTreeMap<Uuid, BTreeSet<PublicKey>> = BTreeMap::new();
    keys.entry(manifest.device).or_default().insert(manifest.key);
    for (_, sealed) in numbered(parcel, "device")? {
        if let Some(Event::DeviceKeyed { key }) = sealed.entry().event() {
            keys.entry(sealed.entry().device).or_default().insert(key);
        }
    }
    Ok(keys)
}

/// How many signed heads there are, and by key how many entries the furthest of them covers.
fn heads(
    parcel: &Parcel,
    entries: &[Sealed],
    (manifest, keys): (&Manifest, &BTreeMap<Uuid, BTreeSet<PublicKey>>),
) -> Result<(u64, BTreeMap<PublicKey, u64>), ClaimFault> {
    let told = told_of(entries);
    let (mut count, mut furthest) = (0, BTreeMap::new());
    for (name, bytes) in inside(parcel, "heads") {
        let wrong = |why: String| ClaimFault::Head { file: name.to_owned(), why };
        let jws = std::str::from_utf8(bytes).map_err(|why| wrong(why.to_string()))?;
        let mut known = keys.iter().flat_map(|(device, keys)| keys.iter().map(move |key| (device, key)));
        let signed = |(device, key): (&Uuid, &PublicKey)| {
            let head = SignedHead::verify(key, jws).ok().filter(|head| head.device == *device);
            head.map(|head| (*key, head))
        };
        let (key, head) = known.find_map(signed).ok_or_else(|| wrong("no key that is known here signed it".into()))?;
        let job = head.job.filter(|job| job.id == manifest.job).ok_or_else(|| wrong("it is of another job".into()))?;
        let covered = usize::try_from(job.entries).ok().and_then(|covered| told.get(..covered));
        let covered = covered.ok_or_else(|| wrong(format!("it covers {} entries, not all are here", job.entries)))?;
        if SignedJob::of(manifest.job, covered.iter().map(|sealed| sealed.hash())) != job {
            return Err(wrong(format!("the first {} entries are not those it was given for", job.entries)));
        }
        let at = entries.iter().find(|sealed| sealed.entry().sequence == head.sequence);
        if at.is_some_and(|sealed| sealed.hash() != head.hash) {
            return Err(wrong(format!("entry {} is not the one it was given for", head.sequence)));
        }
        count += 1;
        let of_key: &mut u64 = furthest.entry(key).or_default();
        *of_key = job.entries.max(*of_key);
    }
    Ok((count, furthest))
}

/// Details that are here are those the job has: as it was opened, or as it was corrected last.
fn assert_details(parcel: &Parcel, entries: &[Sealed]) -> Result<bool, ClaimFault> {
    let Some(bytes) = parcel.file(DETAILS) else { return Ok(false) };
    let committed = entries.iter().rev().filter_map(Sealed::event).find_map(|event| commitment(&event));
    let fits = committed.is_some() && opened(bytes) == committed;
    if fits { Ok(true) } else { Err(ClaimFault::Foreign(DETAILS.to_owned())) }
}

pub(super) fn commitment(event: &Event) -> Option<Hash> {
    match event {
        Event::JobOpened { personal, .. } | Event::JobCorrected { personal, .. } => Some(*personal),
        _ => None,
    }
}

/// What `bytes` open: the commitment to their text.
fn opened(bytes: &[u8]) -> Option<Hash> {
    let (salt, text) = parted(bytes)?;
    Some(KeptDetails { job: Uuid::nil(), salt, text }.commitment())
}

/// Salt and text.
pub(super) fn parted(bytes: &[u8]) -> Option<([u8; 32], String)> {
    let Opened { salt, text } = serde_json::from_slice(bytes).ok()?;
    let Hash(salt) = Hash::try_from(salt).ok()?;
    Some((salt, text))
}

/// Everybody whose name is here came onto the roster under that name, here or where the job was before, or signed at the
/// office under it.
fn assert_people(parcel: &Parcel, entries: &[Sealed]) -> Result<(), ClaimFault> {
    let mut committed: BTreeMap<Uuid, Hash> = BTreeMap::new();
    for event in entries.iter().filter_map(Sealed::event) {
        match event {
            Event::JobReleased(release) => committed.extend(release.people),
            Event::StepSignedAtOffice(signed) => drop(committed.insert(signed.person, signed.personal)),
            _ => {}
        }
    }
    for (_, sealed) in numbered(parcel, "device")? {
        if let Some(Event::PersonAdded { person, personal }) = sealed.entry().event() {
            committed.insert(person, personal);
        }
    }
    for (name, bytes) in inside(parcel, "people") {
        let person = name.strip_prefix("people/").and_then(|name| name.strip_suffix(".json"));
        let wanted = person.and_then(|person| Uuid::parse_str(person).ok()).and_then(|person| committed.get(&person));
        if wanted.is_none() || opened(bytes).as_ref() != wanted {
            return Err(ClaimFault::Foreign(name.to_owned()));
        }
    }
    Ok(())
}

/// Samples and photos are those that entries name; which of them are not here.
fn missing(parcel: &Parcel, entries: &[Sealed]) -> Result<Vec<String>, ClaimFault> {
    let (chunks, photos) = named(entries);
    let chunks = chunks.into_iter().map(|hash| (format!("samples/{hash}.bin"), hash));
    let photos = photos.into_iter().map(|hash| (format!("photos/{hash}.jpg"), hash));
    let wanted: BTreeMap<String, Hash> = chunks.chain(photos).collect();
    for (name, bytes) in inside(parcel, "samples").chain(inside(parcel, "photos")) {
        if wanted.get(name) != Some(&Hash::of(bytes)) {
            return Err(ClaimFault::Foreign(name.to_owned()));
        }
    }
    Ok(wanted.into_keys().filter(|name| parcel.file(name).is_none()).collect())
}
