//! A claim file of a job that was handed over, taken apart by whoever takes the job over.

use super::verify::{commitment, inside, numbered, parted};
use super::{ClaimFault, DETAILS, Parcel, named, verify};
use crate::record::{
    Chunk, Event, HandedFault, Hash, KeptDetails, KeptPerson, PinHash, Release, Sealed, SignedHead, Tries, told_of,
    vouched,
};
use std::collections::BTreeSet;
use uuid::Uuid;

/// A job as another device handed it over. Everything in it was looked at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Handed {
    /// Which.
    pub job: Uuid,
    /// Its entries as they were written first, up to the newest release; see [`told_of`].
    pub entries: Vec<Sealed>,
    /// What the device signed that handed it over, and the signature.
    pub head: (SignedHead, String),
    /// The personal details, if they came along.
    pub details: Option<KeptDetails>,
    /// Names of those who are named in it, as far as they came along. None of them has a PIN.
    pub people: Vec<KeptPerson>,
    /// Samples that its entries rest on, as far as they came along and can be read.
    pub chunks: Vec<Chunk>,
    /// Photos, as far as they came along.
    pub photos: Vec<(Hash, Vec<u8>)>,
}

/// Why a file is not a job that can be taken over.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotHanded {
    /// It is no claim file, or not the one that was written.
    #[error(transparent)]
    File(#[from] ClaimFault),
    /// Its entries are not those of a job that was handed over.
    #[error(transparent)]
    Entries(#[from] HandedFault),
}

/// The job in a claim file, if the device that wrote it had handed it over and nothing was changed since.
///
/// # Errors
/// [`NotHanded`], with the first thing that does not fit.
pub fn handed(bytes: &[u8]) -> Result<Handed, NotHanded> {
    verify(bytes)?;
    handed_in(&Parcel::read(bytes).map_err(ClaimFault::from)?)
}

/// The same from a parcel whose list of files nobody signed: entries are known by the signature over the job, and all that
/// stands beside them by what they commit to.
///
/// # Errors
/// As [`handed`].
pub fn handed_in(parcel: &Parcel) -> Result<Handed, NotHanded> {
    let all: Vec<Sealed> = numbered(parcel, "entries")?.into_iter().map(|(_, sealed)| sealed).collect();
    let told = told_of(&all);
    let Some(Event::JobReleased(release)) = told.last().and_then(|last| last.entry().event()) else {
        return Err(HandedFault::NotReleased.into());
    };
    let heads = inside(parcel, "heads").filter_map(|(_, bytes)| std::str::from_utf8(bytes).ok());
    let mut why = HandedFault::Other;
    let found = heads.filter_map(|jws| match vouched(&told, jws) {
        Ok(head) => Some((head, jws.to_owned())),
        Err(fault) => {
            // Signatures of other moments say nothing; a job that is none does.
            if !matches!(fault, HandedFault::Signature(_)) {
                why = fault;
            }
            None
        }
    });
    let head = found.last().ok_or(why)?;
    let entries: Vec<Sealed> = told.into_iter().cloned().collect();
    let job = entries[0].entry().job.ok_or(HandedFault::NoJob)?;
    Ok(Handed {
        job,
        details: details(parcel, (job, &entries))?,
        people: people(parcel, &release)?,
        chunks: chunks(parcel, (job, &entries))?,
        photos: photos(parcel, &entries)?,
        entries,
        head,
    })
}

fn foreign(name: &str) -> NotHanded {
    ClaimFault::Foreign(name.to_owned()).into()
}

fn details(parcel: &Parcel, (job, entries): (Uuid, &[Sealed])) -> Result<Option<KeptDetails>, NotHanded> {
    let Some(bytes) = parcel.file(DETAILS) else { return Ok(None) };
    let committed = entries.iter().rev().filter_map(Sealed::event).find_map(|event| commitment(&event));
    let kept = parted(bytes).map(|(salt, text)| KeptDetails { job, salt, text });
    kept.filter(|kept| Some(kept.commitment()) == committed).map(Some).ok_or_else(|| foreign(DETAILS))
}

fn people(parcel: &Parcel, release: &Release) -> Result<Vec<KeptPerson>, NotHanded> {
    let mut people = Vec::new();
    for (name, bytes) in inside(parcel, "people") {
        let person = name.strip_prefix("people/").and_then(|name| name.strip_suffix(".json"));
        let person = person.and_then(|person| Uuid::parse_str(person).ok()).ok_or_else(|| foreign(name))?;
        // Whom the job does not name concerns nobody here.
        let Some(commitment) = release.people.get(&person) else { continue };
        let (salt, text) = parted(bytes).ok_or_else(|| foreign(name))?;
        let kept = KeptPerson { person, salt, text, pin: PinHash::default(), tries: Tries::default() };
        if kept.commitment() != *commitment {
            return Err(foreign(name));
        }
        people.push(kept);
    }
    Ok(people)
}

fn chunks(parcel: &Parcel, (job, entries): (Uuid, &[Sealed])) -> Result<Vec<Chunk>, NotHanded> {
    let (wanted, _) = named(entries);
    let mut chunks = Vec::new();
    for (name, bytes) in inside(parcel, "samples") {
        fits((name, bytes), ("samples", "bin"), &wanted)?;
        // One in a coding of a newer program is left out, and told to be missing.
        chunks.extend(Chunk::of_payload(job, bytes.to_vec()).ok());
    }
    Ok(chunks)
}

fn photos(parcel: &Parcel, entries: &[Sealed]) -> Result<Vec<(Hash, Vec<u8>)>, NotHanded> {
    let (_, wanted) = named(entries);
    let read = |(name, bytes): (&str, &[u8])| Ok((fits((name, bytes), ("photos", "jpg"), &wanted)?, bytes.to_vec()));
    inside(parcel, "photos").map(read).collect()
}

/// The hash of a file that stands under it and that entries name.
fn fits(
    (name, bytes): (&str, &[u8]),
    (folder, ending): (&str, &str),
    wanted: &BTreeSet<Hash>,
) -> Result<Hash, NotHanded> {
    let hash = Hash::of(bytes);
    let here = wanted.contains(&hash) && name == format!("{folder}/{hash}.{ending}");
    if here { Ok(hash) } else { Err(foreign(name)) }
}
