//! A wall clock that is set ten years on or back, between two starts and in the middle of one. Nothing is ordered by it:
//! numbers stay without a gap, and whoever reads the record is told where the clock was not to be believed.

use super::truth::Truth;
use super::{Ground, Tally, work};
use anyhow::{Context, Result, bail, ensure};
use evenwire_core::caution::Caution;
use evenwire_core::job::Command;
use evenwire_core::record::{Clock, Details, Sealed};
use evenwire_core::session::{Beginning, Input, Output, Session};
use evenwire_core::unit::{BootId, Millis, Now, Stamp};
use evenwire_core::verdict::words::Language;
use evenwire_engine::practice::PartModel;
use evenwire_engine::practice::chance::Chance;
use evenwire_engine::practice::rehearsal::seed_bytes;
use evenwire_engine::report::{self, Form};
use evenwire_paper::PageSize;
use evenwire_store::Store;
use std::path::Path;
use uuid::Uuid;

/// The right year, ten on and ten back, and what a clock without a battery says.
const YEARS: [u32; 4] = [2031, 2041, 2021, 1970];
/// Starts at one ledger.
const STARTS: u64 = 4;
/// Things done in one start.
const DEEDS: u64 = 6;

/// Sets the clock as often as asked for.
///
/// # Errors
/// Only what keeps the trial itself from running.
pub fn trial(ground: &Ground) -> Result<Tally> {
    let mut tally = Tally::of("clock set");
    let mut chance = ground.chance(5);
    let folder = ground.folder.join("clocks");
    std::fs::create_dir_all(&folder)?;
    for ledger in 0..ground.amount.clocks {
        let path = folder.join(format!("{ledger}.db"));
        let seed = chance.bits();
        let (mut truth, mut chance) = (Truth::default(), Chance::new(seed));
        for start in 1..=STARTS {
            let came = a_start(&path, (&mut truth, &mut chance), (start, &mut tally));
            tally.take(|| format!("start {start} of ledger {ledger} (seed {seed})"), came);
        }
    }
    Ok(tally)
}

/// A program at its ledger, with a clock that somebody sets.
struct Run {
    session: Session,
    store: Store,
    now: Now,
    /// What it did last.
    newest: Vec<Sealed>,
}

fn a_start(path: &Path, (truth, chance): (&mut Truth, &mut Chance), (start, tally): (u64, &mut Tally)) -> Result<()> {
    let store = work::open(path, 1)?;
    let mut year = YEARS[chance.whole(0, 3) as usize];
    let now = Now { boot: Millis(1_000), boot_id: BootId(format!("start-{start}")), wall: wall(year) };
    let beginning = Beginning {
        head: store.head()?,
        device_entries: store.entries_of_device()?,
        people: store.people()?,
        key: None,
        seed: seed_bytes(chance.bits()),
        profiles: evenwire_core::meter::built_in(),
        now: now.clone(),
    };
    let began = year;
    let mut run = Run { session: Session::new(beginning), store, now, newest: Vec::new() };
    run.wish(Command::NewJob { order: "2108".into(), vehicle: String::new(), details: Details::default() }, truth)?;
    let job = run.newest.first().and_then(|sealed| sealed.entry().job).context("a job was opened")?;
    for deed in 0..DEEDS {
        if chance.whole(0, 1) == 0 {
            year = YEARS[chance.whole(0, 3) as usize];
            run.now.wall = wall(year);
            tally.see("times set");
        }
        run.now.boot = Millis(run.now.boot.0 + 20);
        let language = if deed.is_multiple_of(2) { Language::De } else { Language::En };
        run.wish(
            match deed {
                1 => Command::AcceptCautions { cautions: vec![Caution::C0] },
                2 => Command::DescribePart { part: PartModel::random(chance.bits()).to_part() },
                _ => Command::Speak { language },
            },
            truth,
        )?;
        for sealed in &run.newest {
            let said = sealed.entry().clock;
            let right = match year {
                1970 | 2021 => said == Clock::Unset,
                _ if year != began => said == Clock::Jumped,
                _ => said == Clock::Ok,
            };
            ensure!(right, "begun in {began}, now {year}, and the entry says {said:?}");
            tally.see(if said == Clock::Ok { "entries with a clock that went on" } else { "entries flagged" });
        }
    }
    let form = Form { language: Language::De, size: PageSize::A4, shop: None, zone: None };
    ensure!(!report::pdf(path, job, &form)?.is_empty(), "no report");
    drop(run);
    let store = work::open(path, 1)?;
    truth.all_in(&store)?;
    ensure!(truth.held_by(&store)?.entries == truth.newest(), "the numbers have a gap");
    Ok(())
}

fn wall(year: u32) -> Stamp {
    Stamp::parse(&format!("{year}-03-04T08:15:00+00:00")).expect("a time")
}

impl Run {
    fn wish(&mut self, command: Command, truth: &mut Truth) -> Result<()> {
        self.newest.clear();
        self.input(Input::Wish(command), truth)
    }

    fn input(&mut self, input: Input, truth: &mut Truth) -> Result<()> {
        for output in self.session.handle(input, &self.now) {
            match output {
                Output::Append(batch) => {
                    self.store.append(&batch)?;
                    truth.learn(&batch);
                    self.newest.extend(batch.entries);
                }
                Output::Load(job, wanted) => {
                    let (entries, details) = (self.store.entries_of(job)?, self.store.details(job)?);
                    let newest_job: Option<Uuid> = self.store.newest_job()?;
                    self.input(Input::Loaded { wanted, entries, details, newest_job }, truth)?;
                }
                Output::Refused(refusal) => bail!("refused: {refusal:?}"),
                _ => {}
            }
        }
        Ok(())
    }
}
