//! `report`: a job of a ledger as a PDF. The ledger is only read; another may have it open.

use crate::clock;
use evenwire_core::record::{Event, Hash, Sample, Sealed};
use evenwire_core::report::{Asked, LedgerPlace, Report};
use evenwire_core::verdict::words::Language;
use evenwire_paper::{PageSize, ShopHeader};
use evenwire_store::{Glance, StoreError};
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use uuid::Uuid;

/// What is asked for on the command line.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// The ledger.
    pub database: PathBuf,
    /// The job.
    pub job: Uuid,
    /// Where the PDF goes.
    pub out: PathBuf,
    /// Language of the report.
    pub language: Language,
    /// What it is printed on.
    pub size: PageSize,
    /// The shop that hands it out.
    pub shop: ShopHeader,
    /// Where the clock hangs that times are told by; none: as they were written.
    pub zone: Option<TimeZone>,
}

/// Writes the report. Exit code 0: done. 1: there is no such job, or a file cannot be read or written.
pub fn run(wanted: &Wanted) -> ExitCode {
    match write(wanted) {
        Ok(bytes) => {
            println!("{}: {bytes} bytes", wanted.out.display());
            ExitCode::SUCCESS
        }
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}

fn write(wanted: &Wanted) -> Result<usize, String> {
    let at = |e: StoreError| format!("{}: {e}", wanted.database.display());
    let ledger = Glance::at(&wanted.database).map_err(at)?;
    let entries = entries(&ledger, (&wanted.database, wanted.job))?;
    let details = details(&ledger, &entries).map_err(at)?;
    let samples = samples(&ledger, &entries).map_err(at)?;
    let people = people(&ledger).map_err(at)?;
    let asked = Asked {
        language: wanted.language,
        zone: wanted.zone.clone(),
        printed: clock::wall(),
        details: details.as_ref(),
        people: &people,
        samples: &samples,
        place: entries.last().map(place),
    };
    let report = Report::of(&entries, &asked).ok_or("the entries of this job do not begin with its opening")?;
    // A photo that cannot be read is told to be missing, not left out with the whole report.
    let photos = |hash| ledger.picture(wanted.job, hash).ok().flatten();
    let pdf = evenwire_paper::write(&report, &wanted.shop, wanted.size, &photos).map_err(|e| e.to_string())?;
    std::fs::write(&wanted.out, &pdf).map_err(|e| format!("{}: {e}", wanted.out.display()))?;
    Ok(pdf.len())
}

/// The entries of a job; in words that there are none.
pub(super) fn entries(ledger: &Glance, (path, job): (&Path, Uuid)) -> Result<Vec<Sealed>, String> {
    let entries = ledger.entries_of(job).map_err(|e| format!("{}: {e}", path.display()))?;
    if entries.is_empty() { Err(format!("{}: there is no job {job}", path.display())) } else { Ok(entries) }
}

fn place(newest: &Sealed) -> LedgerPlace {
    LedgerPlace { device: newest.entry().device, sequence: newest.entry().sequence, hash: newest.hash() }
}

/// The details, if they are here and are those the job was opened with.
fn details(ledger: &Glance, entries: &[Sealed]) -> Result<Option<evenwire_core::record::Details>, StoreError> {
    let opened = entries.first().and_then(|first| {
        let entry = first.entry();
        match Event::read(&entry.kind, entry.version, &entry.body)? {
            Event::JobOpened { personal, .. } => Some((entry.job?, personal)),
            _ => None,
        }
    });
    let Some((job, personal)) = opened else { return Ok(None) };
    Ok(ledger.details(job)?.and_then(|kept| kept.opened(personal)))
}

/// Names of those who are or were on the roster, as they were committed to.
fn people(ledger: &Glance) -> Result<BTreeMap<Uuid, String>, StoreError> {
    let of = |sealed: &Sealed| match Event::read(&sealed.entry().kind, sealed.entry().version, &sealed.entry().body)? {
        Event::PersonAdded { person, personal } => Some((person, personal)),
        _ => None,
    };
    let committed: BTreeMap<Uuid, Hash> = ledger.entries_of_device()?.iter().filter_map(of).collect();
    let named = ledger.people()?.into_iter().filter_map(|kept| {
        let details = kept.opened(*committed.get(&kept.person)?)?;
        Some((kept.person, details.name))
    });
    Ok(named.collect())
}

/// Samples of every sweep whose chunks are all here and can be read.
fn samples(ledger: &Glance, entries: &[Sealed]) -> Result<BTreeMap<Uuid, Vec<Sample>>, StoreError> {
    let mut all = BTreeMap::new();
    for entry in entries.iter().map(Sealed::entry) {
        let Some(Event::SweepTaken(sweep)) = Event::read(&entry.kind, entry.version, &entry.body) else { continue };
        let mut samples = Some(Vec::new());
        for hash in &sweep.chunks {
            let decoded = ledger.chunk(*hash)?.and_then(|chunk| chunk.samples().ok());
            samples = samples.zip(decoded).map(|(mut before, more)| {
                before.extend(more);
                before
            });
        }
        all.extend(samples.map(|samples| (sweep.sweep, samples)));
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::practice;
    use crate::practice::PartModel;
    use crate::practice::rehearsal::Beside;
    use evenwire_store::Store;

    #[test]
    fn a_practised_job_is_written_while_another_has_its_ledger_open() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("bench.db");
        let practised = practice::Wanted {
            seed: 8,
            places: 2,
            database: Some(database.clone()),
            beside: Beside { zero: true, sweep: false },
            json: false,
        };
        practice::run(PartModel::built_in("first-practice").unwrap(), &practised);
        let open = Store::open(&database, Uuid::from_u128(1)).unwrap();
        let job = open.newest_job().unwrap().unwrap();
        let out = folder.path().join("report.pdf");
        let mut wanted = Wanted {
            database,
            job,
            out: out.clone(),
            language: Language::De,
            size: PageSize::A4,
            shop: ShopHeader::default(),
            zone: None,
        };
        let bytes = write(&wanted).unwrap();
        let pdf = std::fs::read(&out).unwrap();
        assert_eq!((pdf.len(), &pdf[..5]), (bytes, &b"%PDF-"[..]));
        wanted.job = Uuid::from_u128(7);
        assert!(write(&wanted).unwrap_err().contains("there is no job"), "and nothing is written of it");
        assert_eq!(std::fs::read(&out).unwrap(), pdf);
    }
}
