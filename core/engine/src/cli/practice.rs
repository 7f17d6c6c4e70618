//! `practice`: a whole job without a screen, at the practice bench, into a real ledger.

use crate::clock;
use crate::practice::rehearsal::{self, Beside, Ledger, NotFinished, Setting};
use crate::practice::{MeterModel, PartModel};
use evenwire_core::job::Job;
use evenwire_core::sweep::SweepVerdict;
use evenwire_core::verdict::ConductorState;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::{self, Ladder, Rung, VerdictView};
use evenwire_store::Store;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Characters of the ladder's axis.
const AXIS: usize = 48;

/// What is asked for on the command line.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Seed of part (unless a file is given), meter and hands.
    pub seed: u64,
    /// Decimal places of the meter: 1, 2 or 3.
    pub places: u8,
    /// The ledger; a new one in the temporary folder if none.
    pub database: Option<PathBuf>,
    /// Leads read, conductors swept.
    pub beside: Beside,
    /// Print one JSON object as the last line.
    pub json: bool,
}

/// Does it. Exit code 0: done. 1: not finished or not recorded.
pub fn run(part: PartModel, wanted: &Wanted) -> ExitCode {
    match rehearse(wanted, part) {
        Ok(()) => ExitCode::SUCCESS,
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}

/// The built-in part of that word, or the part of that file.
///
/// # Errors
/// The file cannot be read, or every mistake in it with its line, in words.
pub fn part_model(named: &Path) -> Result<PartModel, String> {
    if let Some(model) = named.to_str().and_then(PartModel::built_in) {
        return Ok(model);
    }
    let name = named.display();
    let text = std::fs::read_to_string(named).map_err(|e| format!("{name}: {e}"))?;
    PartModel::parse(&text)
        .map_err(|errors| errors.iter().map(|e| format!("{name}:{e}")).collect::<Vec<_>>().join("\n"))
}

fn rehearse(wanted: &Wanted, part: PartModel) -> Result<(), String> {
    let fresh = rehearsal::device(wanted.seed);
    let path = wanted.database.clone().unwrap_or_else(|| {
        std::env::temp_dir().join(format!("evenwire-practice-{}-{}.db", wanted.seed, std::process::id()))
    });
    let at = |e: evenwire_store::StoreError| format!("{}: {e}", path.display());
    let mut store = Store::open(&path, fresh).map_err(at)?;
    let ledger = Ledger::settled(&mut store).map_err(|e| e.to_string())?;
    let before = ledger.head.sequence;
    let mut commit = |batch: &evenwire_core::session::Batch| store.append(batch).map_err(|e| e.to_string());
    let mut seed = rehearsal::seed_bytes(wanted.seed);
    // A second practice in the same ledger needs other ids than the first.
    seed.iter_mut().zip(before.to_le_bytes()).for_each(|(s, b)| *s ^= b);
    let setting = Setting { ledger, seed, wall: clock::wall(), beside: wanted.beside, commit: &mut commit };
    let meter = MeterModel { places: wanted.places, ..MeterModel::default() };
    let (job, head) = rehearsal::rehearse(part, meter, wanted.seed, setting).map_err(|e: NotFinished| e.to_string())?;
    let reopened = store.entries_of(job.id).map_err(at)?;
    if Job::from_entries(&reopened).as_ref() != Some(&job) {
        return Err("the job read back from the ledger is not the job that was done".into());
    }
    let verdict = view::verdict_of(&job, Language::En).ok_or("no verdict was given")?;
    verdict.ladders.iter().for_each(print_ladder);
    println!("\n{}", verdict.headline);
    verdict.sentences.iter().for_each(|sentence| println!("{sentence}"));
    println!("Next: {}", verdict.action);
    println!("{}", verdict.measured_with);
    println!("Job {} is stored in {}, entries {} to {}.", job.id, path.display(), before + 1, head.sequence);
    if wanted.json {
        println!("{}", summary(&job, &verdict, &path, head.sequence - before));
    }
    Ok(())
}

fn summary(job: &Job, verdict: &VerdictView, path: &Path, entries: u64) -> serde_json::Value {
    let given = job.verdict.as_ref().map(|v| &v.judgement);
    let states: Vec<ConductorState> = given.iter().flat_map(|j| j.conductors.iter().map(|c| c.state)).collect();
    serde_json::json!({
        "job": job.id,
        "set": verdict.kind,
        "conductors": states,
        "reasons": given.map(|j| &j.reasons),
        "action": verdict.action_code,
        "database": path,
        "entries": entries,
        "zero": job.proofs.zeros.first().and_then(|zero| zero.taken.middle()).map(|zero| zero.to_string()),
        "swept": swept(job),
    })
}

/// What the sweeps of each conductor say together; none for one that was not swept.
fn swept(job: &Job) -> Vec<Option<SweepVerdict>> {
    let conductors = job.part.as_ref().map_or(0, |part| part.conductors.len());
    (0u32..).take(conductors).map(|conductor| job.proofs.swept(conductor)).collect()
}

fn print_ladder(ladder: &Ladder) {
    let group = if ladder.group.is_empty() { "no group declared" } else { &ladder.group };
    println!("\n{group}{}", if ladder.logarithmic { " (logarithmic)" } else { "" });
    for rung in &ladder.rungs {
        println!("{:>12} {} {} {} {}", rung.name, rail(ladder, rung), rung.value, rung.word, rung.difference);
    }
    if let Some(band) = &ladder.band {
        println!("{:>12} alike: {}", "", band.words);
    }
}

/// The axis of one rung: the band as dots, the value as a mark.
fn rail(ladder: &Ladder, rung: &Rung) -> String {
    let column = |at: u32| (at as usize * (AXIS - 1)) / 1000;
    let mut rail = vec![' '; AXIS];
    if let Some(band) = &ladder.band {
        rail[column(band.from)..=column(band.to)].fill('.');
    }
    let mark = match rung.mark {
        view::Mark::Consistent => 'o',
        view::Mark::High => '^',
        view::Mark::Low => 'v',
        view::Mark::Open => 'x',
        view::Mark::Unstable => '~',
        view::Mark::Undecided => '?',
        view::Mark::NotMeasured => '-',
    };
    rail[rung.at.map_or(AXIS - 1, column)] = mark;
    rail.into_iter().collect()
}
