//! Made-up jobs as entries of a ledger, for the tests of reports and of their paper. Invented throughout.

use evenwire_core::caution::Caution;
use evenwire_core::dtc::TroubleCode;
use evenwire_core::job::Job;
use evenwire_core::meter::Shown;
use evenwire_core::meter::link::Source;
use evenwire_core::part::{AtEnd, Conductor, Connector, End, Part};
use evenwire_core::procedure::{self, Amount, CodesWhen, Origin, Procedure, Step, StepKind};
use evenwire_core::record::{
    Alike, CentredHow, Conditions, Details, Done, Draft, Event, Hash, Head, Instrument, IsolationFact, KeptDetails,
    Lamp, Outcome, PhotoFact, ProcedureFact, Sample, Sealed, StepDone, StepFact, SweepFact, TouchFact, ZeroFact,
};
use evenwire_core::settle::{Touch, TouchKind};
use evenwire_core::sweep::plan::{PlacedMark, SweepPlan, degrees, place_at};
use evenwire_core::sweep::written::Finding;
use evenwire_core::sweep::{SweepInput, SweepSample, examine};
use evenwire_core::unit::{BootId, Millis, Quantity, Stamp, Unit};
use std::collections::BTreeMap;
use uuid::Uuid;

/// The job of every ledger made here.
pub const JOB: Uuid = Uuid::from_u128(0x0193_0000_0000_7000_8000_0000_0000_0001);
/// Who does it, of the roster.
pub const OTTOKAR: Uuid = Uuid::from_u128(0x0193_0000_0000_7000_8000_0000_0000_00a1);
/// Who signs second.
pub const HEDWIG: Uuid = Uuid::from_u128(0x0193_0000_0000_7000_8000_0000_0000_00a2);

/// A ledger as it grows, with the job its entries tell.
pub struct Bench {
    head: Head,
    pub entries: Vec<Sealed>,
    pub job: Option<Job>,
    pub samples: BTreeMap<Uuid, Vec<Sample>>,
    pub photos: BTreeMap<Hash, Vec<u8>>,
    /// Seconds since it was opened.
    at: u64,
    made: u128,
}

pub fn details() -> Details {
    Details {
        odometer: String::new(),
        customer: "Marlene Sturmvogel".into(),
        phone: "0000 112233".into(),
        plate: "ZZ-QX 404".into(),
        vin: "ZZZEVENW1RE000042".into(),
        technician: "Ottokar Klemm".into(),
        complaint: "Horn is dead when turning left, airbag lamp comes on now and then.".into(),
    }
}

pub fn people() -> BTreeMap<Uuid, String> {
    BTreeMap::from([(OTTOKAR, "Ottokar Klemm".to_owned()), (HEDWIG, "Hedwig Lötauge".to_owned())])
}

pub fn ohm(digits: i64, places: u8) -> Quantity {
    Quantity::new(digits, places, Unit::Ohm).expect("few places")
}

/// A part with conductors of these names in one group.
pub fn part(names: &[String]) -> Part {
    let end = |connector, index: usize| End {
        connector,
        cavity: u8::try_from(index % 60 + 1).expect("up to 60"),
        at: AtEnd::OpenPlug,
    };
    let conductor = |(index, name): (usize, &String)| Conductor {
        name: name.clone(),
        group: Some("ribbon".to_owned()),
        from: end(0, index),
        to: end(1, index),
        drawn_only: false,
        limit: None,
    };
    let connector = |name: &str| Connector { name: name.into(), cavities: 64, rows: 4 };
    Part {
        name: "door harness".into(),
        connectors: vec![connector("A"), connector("B")],
        conductors: names.iter().enumerate().map(conductor).collect(),
        touches_wanted: 2,
        ceiling: None,
        bars: Vec::new(),
    }
}

impl Bench {
    /// An opened job.
    pub fn new() -> Bench {
        let device = Uuid::from_u128(0x0193_0000_0000_7000_8000_0000_0000_00d1);
        let mut bench = Bench {
            head: Head::empty(device),
            entries: Vec::new(),
            job: None,
            samples: BTreeMap::new(),
            photos: BTreeMap::new(),
            at: 0,
            made: 0x1000,
        };
        let personal = KeptDetails::new(JOB, [7; 32], &details()).commitment();
        bench.say(Event::JobOpened { order: "W-2041".into(), vehicle: "Orrin 3, blue".into(), personal });
        bench
    }

    pub fn id(&mut self) -> Uuid {
        self.made += 1;
        Uuid::from_u128(0x0193_0000_0000_7000_9000_0000_0000_0000 + self.made)
    }

    pub fn wall(&self) -> Stamp {
        let (hours, minutes, seconds) = (9 + self.at / 3_600, self.at / 60 % 60, self.at % 60);
        Stamp::parse(&format!("2026-03-02T{hours:02}:{minutes:02}:{seconds:02}+01:00")).expect("a stamp")
    }

    /// Writes an event down; ten seconds go by.
    pub fn say(&mut self, event: Event) {
        self.at += 10;
        let (kind, body) = event.parts();
        let draft = Draft {
            id: self.id(),
            job: Some(JOB),
            kind,
            version: Event::VERSION,
            elapsed_ms: Millis(self.at * 1_000),
            wall: self.wall(),
            clock: evenwire_core::record::Clock::Ok,
            body,
        };
        let sealed = self.head.seal(Uuid::from_u128(5), draft);
        match &mut self.job {
            Some(job) => job.follow(&sealed),
            none => *none = Job::open(&sealed),
        }
        self.entries.push(sealed);
    }

    pub fn job(&self) -> &Job {
        self.job.as_ref().expect("it was opened")
    }

    /// A meter that reads hundredths.
    pub fn meter(&mut self, source: Source) {
        self.say(Event::MeterUsed {
            instrument: Instrument {
                identity: "BM-7-0042".into(),
                told: source == Source::Radio,
                name: "bench meter 2".into(),
                source,
                profile: "self-describing".into(),
                step: ohm(1, 2),
                accuracy_milli_percent: 800,
                accuracy_counts: 3,
                top: ohm(60_000, 2),
                calibration_due: None,
            },
        });
        self.say(Event::ConditionsStated {
            conditions: Conditions {
                leads_zeroed: false,
                temperature: Quantity::new(21, 0, Unit::Celsius),
                bars_open: Some(true),
            },
        });
    }

    /// What was read since this many readings were there.
    fn read_since(&self, entries: usize) -> Vec<Uuid> {
        let of = |sealed: &Sealed| match sealed.entry().event()? {
            Event::TouchTaken(fact) => Some(fact.touch),
            Event::ZeroTaken(fact) => Some(fact.zero),
            Event::IsolationTaken(fact) => Some(fact.reading),
            Event::SweepTaken(fact) => Some(fact.sweep),
            _ => None,
        };
        self.entries[entries..].iter().filter_map(of).collect()
    }

    fn taken(&self, kind: TouchKind, digits: &[i64]) -> Touch {
        let at = self.at * 1_000;
        Touch {
            kind,
            digits: digits.to_vec(),
            places: 2,
            step: ohm(1, 2),
            from_ms: Millis(at),
            to_ms: Millis(at + 800),
            relative: false,
            auto_range: None,
        }
    }

    pub fn zero(&mut self, digits: i64) {
        let (zero, taken) = (self.id(), self.taken(TouchKind::Settled, &[digits]));
        let temperature = Quantity::new(21, 0, Unit::Celsius);
        self.say(Event::ZeroTaken(ZeroFact { zero, taken, temperature, chunks: Vec::new() }));
    }

    /// A touch in hundredths of an ohm.
    pub fn touch(&mut self, conductor: u32, kind: TouchKind, digits: i64) -> Uuid {
        let touch = self.id();
        let shown: &[i64] = if kind.is_over_range() { &[] } else { &[digits, digits, digits] };
        let taken = self.taken(kind, shown);
        self.say(Event::TouchTaken(TouchFact { touch, conductor, taken, chunks: Vec::new() }));
        touch
    }

    pub fn isolation(&mut self, a: u32, other: Option<u32>) {
        let (reading, taken) = (self.id(), self.taken(TouchKind::OverRange, &[]));
        let top = ohm(20_000_000, 0);
        let bar_open = Some(true);
        self.say(Event::IsolationTaken(IsolationFact { reading, a, other, taken, top, bar_open, chunks: Vec::new() }));
    }

    /// A sweep of 32 seconds; with a jump of a third of an ohm at a third of it, or steady.
    pub fn sweep(&mut self, conductor: u32, plan: SweepPlan, jumps: bool) -> Uuid {
        let sweep = self.id();
        let from = self.at * 1_000;
        let value = |i: u64| 34 + i64::from(i.is_multiple_of(7)) + if jumps && (55..62).contains(&i) { 35 } else { 0 };
        let readings: Vec<(u64, i64)> = (0..160).map(|i| (from + i * 200, value(i))).collect();
        let marks: Vec<PlacedMark> = (0u64..)
            .zip(plan.marks())
            .map(|(n, milli)| PlacedMark { at_ms: Millis(from + n * 3_900), milli })
            .collect();
        let seconds = |at: u64| (at - from) as f64 / 1_000.0;
        let sample = |(at, digits): &(u64, i64)| SweepSample {
            t: seconds(*at),
            ohms: Some(*digits as f64 / 100.0),
            angle: place_at(&marks, Millis(*at)).map(|(milli, _)| degrees(milli)),
        };
        let input =
            SweepInput { resolution: 0.01, samples: readings.iter().map(sample).collect(), jump: 0.05, min_s: 10.0 };
        let kept = |(at, digits): &(u64, i64)| Sample {
            at: Millis(*at),
            raw: Vec::new(),
            shown: vec![Shown::Value(ohm(*digits, 2))],
        };
        self.samples.insert(sweep, readings.iter().map(kept).collect());
        self.at += 32;
        self.say(Event::SweepTaken(SweepFact {
            sweep,
            conductor,
            plan,
            from_ms: Millis(from),
            to_ms: Millis(from + 159 * 200),
            step: ohm(1, 2),
            marks,
            finding: Finding::write(&examine(&input)),
            chunks: Vec::new(),
        }));
        sweep
    }

    pub fn judge(&mut self) {
        let judgement = self.job().judged().expect("part and meter are known");
        self.say(Event::Judged { judgement });
    }

    pub fn photo(&mut self, step: Option<&str>, (jpeg, width, height): (Vec<u8>, u32, u32)) {
        let (photo, bytes) = (Hash::of(&jpeg), u32::try_from(jpeg.len()).expect("small"));
        self.photos.insert(photo, jpeg);
        self.say(Event::PhotoTaken(PhotoFact { photo, step: step.map(str::to_owned), width, height, bytes }));
    }
}

/// Measured without a procedure: conductor 3 is open, 4 reads high; closed.
pub fn measured(names: &[String]) -> Bench {
    let mut bench = Bench::new();
    bench.say(Event::CautionAccepted { caution: Caution::C0 });
    bench.say(Event::PartDescribed { part: part(names) });
    bench.meter(Source::Radio);
    bench.say(Event::CautionAccepted { caution: Caution::C1 });
    bench.zero(21);
    for _ in 0..2 {
        for conductor in 0..u32::try_from(names.len()).expect("few") {
            match conductor {
                2 => drop(bench.touch(conductor, TouchKind::OverRange, 0)),
                3 => drop(bench.touch(conductor, TouchKind::Settled, 1_234)),
                _ => drop(bench.touch(conductor, TouchKind::Settled, 55 + i64::from(conductor % 3))),
            }
        }
    }
    bench.judge();
    bench.say(Event::JobFinished {});
    bench
}

/// The built-in steering coil from the first step to the last: an old coil whose horn reads high, a used one in its
/// place that waits for a second signature, one step left out, one not tested.
pub fn steering_coil() -> Bench {
    let mut bench = Bench::new();
    let text = procedure::built_in()[0].1.to_owned();
    let procedure = Procedure::parse(&text).expect("it is built in");
    bench.say(Event::ProcedureBegun(ProcedureFact { text, technician: Some(OTTOKAR), approved_by: None }));
    let part = procedure.circuits.part(evenwire_core::verdict::words::Language::En, 2);
    bench.say(Event::PartDescribed { part });
    bench.meter(Source::Radio);
    let mut skipped = false;
    for step in &procedure.steps {
        for caution in step.cautions.iter().copied() {
            if !bench.job().cautions.contains(&caution) {
                bench.say(Event::CautionAccepted { caution });
            }
        }
        let boot = BootId("boot-1".into());
        if step.id == "road-test" || (step.skip.is_some() && !skipped) {
            skipped = true;
            let said = "The customer did not want it.".to_owned();
            bench.say(Event::StepSkipped(StepFact { step: step.id.clone(), boot, said }));
            continue;
        }
        bench.say(Event::StepBegun(StepFact { step: step.id.clone(), boot: boot.clone(), said: () }));
        let said = StepDone { words: String::new(), done: done(&mut bench, step) };
        bench.say(Event::StepDone(StepFact { step: step.id.clone(), boot: boot.clone(), said }));
        if step.id == "verdict" {
            bench.say(Event::StepSigned(StepFact { step: step.id.clone(), boot, said: HEDWIG }));
        }
    }
    bench.say(Event::JobFinished {});
    bench
}

fn volt(digits: i64) -> Quantity {
    Quantity::new(digits, 2, Unit::Volt).expect("two places")
}

/// What a step comes to.
fn done(bench: &mut Bench, step: &Step) -> Done {
    let before = bench.entries.len();
    let small = |index: usize| u32::try_from(index).expect("few");
    match &step.kind {
        StepKind::Wait(_) => Done::Waited {
            from_ms: Millis(1_000),
            required_ms: Millis(180_000),
            passed_ms: Millis(184_000),
            wall_apart_ms: None,
        },
        StepKind::ProveDead(prove) => Done::ProvenDead {
            before: volt(1_251),
            points: prove.points.iter().map(|_| volt(1)).collect(),
            after: volt(1_250),
        },
        StepKind::Codes(codes) => {
            let code = |text: &str| TroubleCode::parse(text).expect("a code");
            let (codes, lamp) = match codes.when {
                CodesWhen::Before => (vec![code("B0001-13"), code("C0460-62")], None),
                CodesWhen::During => (vec![code("B0001-13")], None),
                CodesWhen::After => (vec![code("C0460-62"), code("U0121-00")], Some(Lamp::WentOff)),
            };
            Done::Codes { codes, no_scanner: false, lamp }
        }
        StepKind::Zero(_) => {
            bench.zero(21);
            Done::Measured { readings: bench.read_since(before) }
        }
        StepKind::Measure(measuring) => {
            let candidate = step.id.starts_with("candidate");
            for wire in measuring.wires.iter().map(|wire| small(*wire)) {
                for _ in 0..measuring.touches {
                    let value = if wire == 4 && !candidate { 455 } else { 55 + i64::from(wire % 2) };
                    bench.touch(wire, TouchKind::Settled, value);
                }
            }
            if step.id == "measure-squib" {
                let touch = bench.touch(0, TouchKind::AsItWas, 61);
                bench.say(Event::TouchUndone { touch });
            }
            Done::Measured { readings: bench.read_since(before) }
        }
        StepKind::Sweep(sweeping) => {
            for wire in sweeping.wires.iter().map(|wire| small(*wire)) {
                bench.sweep(wire, sweeping.plan, wire == 1);
            }
            Done::Measured { readings: bench.read_since(before) }
        }
        StepKind::Isolation(isolation) => {
            for (a, other) in &isolation.pairs {
                bench.isolation(small(*a), other.map(small));
            }
            Done::Measured { readings: bench.read_since(before) }
        }
        StepKind::Compare(_) => {
            bench.judge();
            Done::Compared { alike: Alike::CannotTell }
        }
        other => done_by_hand(bench, step, other),
    }
}

fn done_by_hand(bench: &mut Bench, step: &Step, kind: &StepKind) -> Done {
    match kind {
        StepKind::Centre(centre) => {
            Done::Centred { how: CentredHow::Counted { total: centre.total, left: centre.back, right: centre.back } }
        }
        StepKind::Torque(torque) => {
            Done::Tightened { value: torque.value, wrench: "DW-3".into(), set_to: torque.set_to(), wrench_most: None }
        }
        StepKind::LiveValue(live) => {
            let seen: Vec<Amount> = live.target.iter().map(|(target, _)| *target).chain(live.steady_within).collect();
            Done::Read { values: seen, within: true }
        }
        StepKind::Part(_) => {
            // What was turned and isolated since counts, too.
            bench.judge();
            if let Some(old) = bench.job().as_old_part() {
                bench.say(Event::OldPartTaken { old });
            }
            bench.say(Event::NextPart {});
            Done::PartChosen { number: "771-204-09".into(), origin: Origin::Used, from: "parts shelf, lot 12".into() }
        }
        StepKind::Sign(sign) => Done::Signed { outcome: sign.closes.then_some(Outcome::NotRepaired) },
        _ if step.may_be_untested() => Done::NotTested,
        _ => Done::Ticked,
    }
}
