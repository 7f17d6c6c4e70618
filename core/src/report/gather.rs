//! What a report is made of beside the job's entries, found by whoever keeps it.

use crate::record::{Event, Hash, Sample, Sealed, Shop};
use std::collections::BTreeMap;
use uuid::Uuid;

/// The shop as `entries` of a device described it last.
pub fn shop_described(entries: &[Sealed]) -> Shop {
    let of = |sealed: &Sealed| match sealed.event()? {
        Event::ShopDescribed { shop } => Some(shop),
        _ => None,
    };
    entries.iter().rev().find_map(of).unwrap_or_default()
}

/// Names of those who are or were on the roster by `entries` of a device, or were named in a job by its own entries;
/// `name` opens what was committed to. Where two say who somebody is, the later one counts.
pub fn people_named(entries: &[Sealed], name: impl Fn(Uuid, Hash) -> Option<String>) -> BTreeMap<Uuid, String> {
    let mut committed: BTreeMap<Uuid, Hash> = BTreeMap::new();
    for event in entries.iter().filter_map(Sealed::event) {
        match event {
            Event::PersonAdded { person, personal } => drop(committed.insert(person, personal)),
            Event::JobReleased(release) => committed.extend(release.people),
            Event::StepSignedAtOffice(signed) => drop(committed.insert(signed.person, signed.personal)),
            _ => {}
        }
    }
    committed.into_iter().filter_map(|(person, personal)| Some((person, name(person, personal)?))).collect()
}

/// Samples of every sweep of a job whose chunks are all found and can be read.
///
/// # Errors
/// As `chunk` fails; it gives `None` for a chunk that is not there or cannot be read.
pub fn samples_of_sweeps<E>(
    entries: &[Sealed],
    chunk: impl Fn(Hash) -> Result<Option<Vec<Sample>>, E>,
) -> Result<BTreeMap<Uuid, Vec<Sample>>, E> {
    let mut all = BTreeMap::new();
    for sealed in entries {
        let Some(Event::SweepTaken(sweep)) = sealed.event() else { continue };
        let mut samples = Some(Vec::new());
        for hash in &sweep.chunks {
            let decoded = chunk(*hash)?;
            samples = samples.zip(decoded).map(|(mut before, more)| {
                before.extend(more);
                before
            });
        }
        all.extend(samples.map(|samples| (sweep.sweep, samples)));
    }
    Ok(all)
}
