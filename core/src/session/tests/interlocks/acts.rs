//! What a person wishes: the sensible next thing, or anything at all.

use super::books::BOOKS;
use super::world::{Dice, World, pin_of};
use crate::caution::Caution;
use crate::job::{Command, Refusal};
use crate::procedure::{CodesWhen, Origin, Step, StepKind, built_in};
use crate::record::{BarState, Conditions, Lamp, Outcome};
use crate::session::tests::bench::{Face, coil, conditions, new_job, spec};
use crate::sweep::plan::SweepPlan;
use crate::verdict::words::Language;
use crate::work::{CentreEntry, StepAct, StepEntry, StepRefusal};
use uuid::Uuid;

/// The roster. The third never does a job.
pub(super) const PEOPLE: [Uuid; 3] = [Uuid::from_u128(0xA), Uuid::from_u128(0xB), Uuid::from_u128(0xC)];

fn text(text: &str) -> String {
    text.to_owned()
}

impl World {
    pub(super) fn at_step(&mut self, step: &str, act: StepAct) -> Option<Refusal> {
        let job = self.job().map_or(Uuid::nil(), |job| job.id);
        self.wish(Command::AtStep { job, step: step.to_owned(), act })
    }

    /// The next thing a careful person does.
    pub(super) fn sensible(&mut self, dice: &mut Dice) {
        let Some(job) = self.job() else {
            return self.some_job(dice);
        };
        let now = self.now();
        if job.finished.is_some() {
            let waits: Vec<String> =
                job.work.iter().flat_map(|work| work.waits_for_second()).map(str::to_owned).collect();
            waits.iter().for_each(|step| self.sign_somehow(step, dice));
            drop(self.wish(Command::LeaveJob));
            return;
        }
        let Some(work) = &job.work else {
            return self.begin_some(dice);
        };
        let Some(step) = job.step_now(&now).cloned() else { return };
        let missing: Vec<_> = work.missing(&step, &now).into_iter().map(|(fact, _)| fact).collect();
        let maker = missing.first().and_then(|fact| work.maker(fact, &step.id)).map(|maker| maker.id.clone());
        let open = work.open.as_deref() == Some(step.id.as_str());
        // One in five does not look whether it still stands.
        let careless = open && dice.in_10_000(2_000);
        if let Some(maker) = maker.filter(|_| !careless) {
            if self.at_step(&maker, StepAct::Begin).is_some() {
                drop(self.at_step(&maker, StepAct::Again { reason: text("it does not stand") }));
            }
        } else if open {
            self.do_it(&step, dice);
        } else if step.skip.is_some() && self.leaves_out && dice.in_10_000(3_000) {
            drop(self.at_step(&step.id, StepAct::Skip { reason: text("the maker says so") }));
        } else if let Some(Refusal::Step { refusal: StepRefusal::StepFirst { step: first } }) =
            self.at_step(&step.id, StepAct::Begin)
            && self.at_step(&first, StepAct::Begin).is_some()
        {
            drop(self.at_step(&first, StepAct::Again { reason: text("it comes first") }));
        }
    }

    fn some_job(&mut self, dice: &mut Dice) {
        let opened = |sealed: &&crate::record::Sealed| sealed.entry().kind == "job-opened";
        let jobs: Vec<Uuid> = self.entries.iter().filter(opened).filter_map(|sealed| sealed.entry().job).collect();
        let unfinished: Vec<Uuid> =
            jobs.into_iter().filter(|job| !self.truth.jobs[job].finished && !self.full.contains(job)).collect();
        if unfinished.is_empty() || dice.in_10_000(2_000) {
            drop(self.wish(new_job("4711")));
        } else {
            let job = *dice.one_of(&unfinished);
            drop(self.wish(Command::OpenJob { job }));
        }
    }

    /// Another job, perhaps at the same vehicle, then this one again.
    pub(super) fn another_between(&mut self, dice: &mut Dice) {
        let this = self.job().map(|job| job.id);
        drop(self.wish(Command::LeaveJob));
        drop(self.wish(new_job("4712")));
        for _ in 0..dice.below(12) {
            self.sensible(dice);
        }
        if let Some(job) = this {
            self.readable = dice.in_10_000(9_000);
            drop(self.wish(Command::OpenJob { job }));
            self.readable = true;
        }
    }

    fn begin_some(&mut self, dice: &mut Dice) {
        let mut procedure = text(dice.one_of(&BOOKS).id);
        if dice.in_10_000(1_500) {
            // A file of the shop: some line of it changed. Most are refused, the rest are followed.
            procedure = self.changed(dice);
        }
        let technician = dice.in_10_000(8_000).then(|| *dice.one_of(&PEOPLE[..2]));
        let pin = technician.map(pin_of);
        drop(self.wish(Command::BeginProcedure { procedure, technician, pin }));
    }

    /// Somebody signs, with the right PIN or with somebody else's.
    fn sign_somehow(&mut self, step: &str, dice: &mut Dice) {
        let person = *dice.one_of(&PEOPLE);
        let typed = if dice.in_10_000(7_000) { person } else { *dice.one_of(&PEOPLE) };
        self.sign(step, person, pin_of(typed));
    }

    /// Brings in a file with a shorter wait, without a need, or with something ended; says its id.
    fn changed(&mut self, dice: &mut Dice) -> String {
        let (_, original) = *dice.one_of(&built_in());
        let id = BOOKS.iter().find(|book| original.contains(&format!("\"{}\"", book.id))).expect("a book").id;
        let new = format!("{id}-{}", dice.below(1_000_000));
        let mut lines: Vec<String> =
            original.replace(&format!("\"{id}\""), &format!("\"{new}\"")).lines().map(text).collect();
        let wanted = *dice.one_of(&["at_least", "needs", "needs", "cancels", "battery_on", "after", "kind"]);
        let at: Vec<usize> = (0..lines.len()).filter(|at| lines[*at].starts_with(&format!("{wanted} ="))).collect();
        if at.is_empty() {
            return new;
        }
        let at = *dice.one_of(&at);
        match wanted {
            "at_least" => lines[at] = format!("at_least = \"{} s\"", dice.one_of(&[12, 119, 120, 121, 200])),
            "kind" => {
                let ended = ["cable_off", "wait_done", "dead_proven", "inflator_away(bag)", "before_scan_saved"];
                let ended = *dice.one_of(&ended);
                lines.insert(at + 1, format!("cancels = [\"{ended}\"]"));
            }
            "needs" if dice.in_10_000(5_000) => {
                let cut = lines[at].rfind(", \"").map(|comma| format!("{}]", &lines[at][..comma]));
                lines[at] = cut.unwrap_or_default();
            }
            _ => drop(lines.remove(at)),
        }
        drop(self.wish(Command::KeepProcedure { text: lines.join("\n") }));
        new
    }

    /// Does the step that was begun: reads, takes the photo, and says that it is done.
    fn do_it(&mut self, step: &Step, dice: &mut Dice) {
        if dice.in_10_000(30) {
            // Somebody turned the ignition on, and says so.
            let job = self.job().map_or(Uuid::nil(), |job| job.id);
            drop(self.wish(Command::SupplyWasOn { job }));
        }
        let by_eye = !matches!(step.kind, StepKind::Sweep(_)) && dice.in_10_000(9_000);
        match &step.kind {
            StepKind::Wait(_) => self.pass(30_000 + dice.below(300_000)),
            kind if kind.uses_ohms() => self.read_all(kind, by_eye, dice),
            _ => {}
        }
        if dice.in_10_000(9_700) && self.photo(&step.id) == Some(Refusal::TooManyPhotos) {
            // Nothing more is shown in this job.
            self.full.extend(self.job().map(|job| job.id));
            drop(self.wish(Command::LeaveJob));
            return;
        }
        let entry = usual(&step.kind, dice);
        drop(self.at_step(&step.id, StepAct::Done { words: text("as told"), entry }));
    }

    fn read_all(&mut self, kind: &StepKind, by_eye: bool, dice: &mut Dice) {
        let typed = self.job().is_some_and(crate::job::Job::is_typed);
        let at_hand =
            self.job().is_some_and(|job| job.instrument.is_some()) && (typed || self.session.settler().is_some());
        if !at_hand || (matches!(kind, StepKind::Sweep(_)) && typed) {
            if by_eye {
                drop(self.wish(Command::UseTypedMeter { spec: spec("eye meter") }));
            } else {
                self.connect();
                drop(self.wish(Command::DescribeMeter { spec: spec("bench meter 2") }));
            }
        }
        match kind {
            StepKind::Zero(_) => {
                drop(self.wish(Command::ZeroLeads));
                self.reading(21);
            }
            StepKind::Measure(measuring) => {
                for _ in 0..measuring.wires.len() * usize::from(measuring.touches) {
                    if self.session.announced().is_none() {
                        break;
                    }
                    let bad = if dice.in_10_000(100) { 60 } else { 0 };
                    self.reading(33 + bad);
                }
            }
            StepKind::Isolation(isolation) => {
                let open = Conditions { bars_open: Some(true), ..conditions(false, Some(20)) };
                drop(self.wish(Command::StateConditions { conditions: open }));
                for (a, b) in &isolation.pairs {
                    let small = |index: usize| u32::try_from(index).expect("few");
                    drop(self.wish(Command::MeasureIsolation { a: small(*a), other: b.map(small) }));
                    drop(self.wish(Command::TypeOverRange));
                    self.show(Face::Over, if self.session.settler().is_some() { 10 } else { 0 });
                    drop(self.wish(Command::TakeOverRange));
                }
            }
            StepKind::Sweep(sweeping) => {
                for wire in &sweeping.wires {
                    let conductor = u32::try_from(*wire).expect("few");
                    drop(self.wish(Command::Sweep { conductor, plan: sweeping.plan }));
                    self.show(Face::Over, 4);
                    self.show(Face::Ohm(35), 54);
                    drop(self.wish(Command::EndSweep));
                }
            }
            _ => {}
        }
    }

    /// One reading, typed or through the clips.
    fn reading(&mut self, hundredths: i32) {
        if self.job().is_some_and(crate::job::Job::is_typed) {
            let reading = Command::TypeReading { text: format!("0.{hundredths}"), confirmed: false };
            drop(self.wish(reading));
        } else {
            self.show(Face::Over, 4);
            self.show(Face::Ohm(hundredths), 11);
        }
    }

    /// Anything at all.
    pub(super) fn anything(&mut self, dice: &mut Dice) {
        let steps: Vec<String> = match self.job().and_then(|job| job.work.as_ref()) {
            Some(work) => work.procedure.steps.iter().map(|step| step.id.clone()).collect(),
            None => vec![text("cable-off"), text("close")],
        };
        let step = dice.one_of(&steps).clone();
        let job = self.job().map_or(Uuid::nil(), |job| job.id);
        match dice.below(100) {
            0..30 => drop(self.at_step(&step, StepAct::Begin)),
            30..52 => self.try_to_finish(&steps, dice),
            52..58 => drop(self.at_step(&step, StepAct::Skip { reason: dice.word(&["", "no time"]) })),
            58..61 => {
                drop(self.at_step(&step, StepAct::Again { reason: dice.word(&[" ", "not sure"]) }));
                // And goes on as if nothing were undone.
                for _ in 0..8 {
                    let step = dice.one_of(&steps).clone();
                    drop(self.at_step(&step, StepAct::Begin));
                }
            }
            61..63 => drop(self.wish(Command::SupplyWasOn { job: *dice.one_of(&[job, Uuid::nil()]) })),
            63..66 => self.begin_some(dice),
            66..67 => drop(self.wish(Command::AtStep { job: Uuid::nil(), step, act: StepAct::Begin })),
            67..70 => drop(self.wish(Command::LeaveJob)),
            70..71 => self.some_job(dice),
            71..75 => self.sign_somehow(&step, dice),
            75..76 => {
                let person = *dice.one_of(&PEOPLE[..2]);
                drop(self.wish(Command::NameTechnician { job, person, pin: pin_of(person) }));
            }
            76..80 => self.close_now(&steps, dice),
            _ => self.any_wish(dice),
        }
    }

    /// Says of the step that was begun, or of any, that it is done, with an entry that fits or does not.
    fn try_to_finish(&mut self, steps: &[String], dice: &mut Dice) {
        let open = self.job().and_then(|job| job.work.as_ref()).and_then(|work| work.open_step()).cloned();
        let step = match &open {
            Some(open) if dice.in_10_000(7_000) => open.id.clone(),
            _ => dice.one_of(steps).clone(),
        };
        if dice.in_10_000(5_000) {
            drop(self.photo(&step));
        }
        let entry = match &open {
            Some(open) if dice.in_10_000(6_000) => unusual(&open.kind, dice),
            _ => StepEntry::Tick,
        };
        let words = dice.word(&["", "as told"]);
        drop(self.at_step(&step, StepAct::Done { words, entry }));
    }

    /// Tries to end the job here and now.
    fn close_now(&mut self, steps: &[String], dice: &mut Dice) {
        let close = steps.last().expect("a last step").clone();
        drop(self.at_step(&close, StepAct::Begin));
        if dice.in_10_000(5_000) {
            let outcome = Some(*dice.one_of(&[Outcome::Repaired, Outcome::NotRepaired, Outcome::Refused]));
            let words = text("the customer waits");
            drop(self.at_step(&close, StepAct::Done { words, entry: StepEntry::Sign { outcome } }));
        }
    }

    fn any_wish(&mut self, dice: &mut Dice) {
        let wire = |dice: &mut Dice| u32::try_from(dice.below(11)).expect("few");
        let (a, b) = (wire(dice), wire(dice));
        let named = |sealed: &crate::record::Sealed| {
            let body: serde_json::Value = serde_json::from_str(sealed.entry().body.text()).expect("JSON");
            ["sweep", "reading", "zero", "touch"].iter().find_map(|key| body[key].as_str()?.parse().ok())
        };
        let reading = self.entries.iter().rev().find_map(named).unwrap_or(Uuid::nil());
        let wish = match dice.below(24) {
            0..3 => Command::ChooseConductor { conductor: a },
            3..6 => Command::MeasureIsolation { a, other: dice.in_10_000(6_000).then_some(b) },
            6 => Command::Sweep { conductor: a, plan: SweepPlan::default() },
            7 => Command::PlanSweep { conductor: a, plan: SweepPlan::default() },
            8 => Command::EndSweep,
            9 => Command::ZeroLeads,
            10..14 => Command::TypeReading { text: text("0.35"), confirmed: false },
            14 => Command::TypeOverRange,
            15 => Command::UndoTouch {
                touch: match self.job().and_then(|job| job.newest_touch()) {
                    Some(newest) if dice.in_10_000(8_000) => newest.touch,
                    _ => reading,
                },
            },
            16 => Command::Judge,
            17 => Command::Withdraw { reading },
            18 => Command::AcceptCautions { cautions: Caution::ALL.to_vec() },
            19 => Command::StateBar {
                bar: BarState { a, b, present: Some(true), opened: text("adapter"), restored: false },
            },
            20 => Command::Finish,
            21 => Command::DescribePart { part: coil() },
            22 => Command::Speak { language: Language::De },
            _ => Command::UseTypedMeter { spec: spec("spare") },
        };
        drop(self.wish(wish));
        self.show(Face::Ohm(35), if self.session.settler().is_some() { dice.below(12) } else { 0 });
    }
}

/// What a careful person enters.
fn usual(kind: &StepKind, dice: &mut Dice) -> StepEntry {
    match kind {
        StepKind::ProveDead(prove) => StepEntry::ProveDead {
            before: text("12,62"),
            points: prove.points.iter().map(|_| text(if dice.in_10_000(100) { "11.8" } else { "0.01" })).collect(),
            after: text("12.61"),
        },
        StepKind::Codes(codes) => {
            let dirty = codes.when != CodesWhen::After || dice.in_10_000(1_500);
            let lamp = if dice.in_10_000(9_000) { Lamp::WentOff } else { Lamp::StayedOn };
            let list = if dirty { text("B0001-13") } else { String::new() };
            let no_scanner = dice.in_10_000(300);
            let list = if no_scanner { String::new() } else { list };
            StepEntry::Codes { none_stored: list.is_empty(), list, no_scanner, lamp: Some(lamp) }
        }
        StepKind::Centre(_) => StepEntry::Centre(CentreEntry {
            sealed: dice.in_10_000(2_000),
            total: text("5"),
            left: text("2.5"),
            right: text("2.5"),
        }),
        StepKind::Torque(_) => {
            StepEntry::Torque { wrench: text("wrench 2"), most: text("120"), new_fastener: true, angle_turned: true }
        }
        StepKind::LiveValue(live) => {
            let value = live.target.map_or(text("2.3"), |(target, _)| target.value().to_string());
            let wanted = if live.steady_within.is_some() { 2 } else { 1 };
            StepEntry::Value { values: vec![value; wanted] }
        }
        StepKind::Sign(sign) => {
            let outcome = if dice.in_10_000(8_000) { Outcome::Repaired } else { Outcome::NotRepaired };
            StepEntry::Sign { outcome: sign.closes.then_some(outcome) }
        }
        StepKind::Part(_) => {
            let origin = if dice.in_10_000(3_000) { Origin::Used } else { Origin::New };
            StepEntry::Part { number: text("OR3-1187"), origin, from: text("dealer") }
        }
        _ => StepEntry::Tick,
    }
}

/// What nobody should enter.
fn unusual(kind: &StepKind, dice: &mut Dice) -> StepEntry {
    match kind {
        StepKind::ProveDead(prove) => {
            let any = |dice: &mut Dice| dice.word(&["0", "0.01", "-12.4", "12.6", "x", "", "1,234"]);
            let count = prove.points.len() + usize::try_from(dice.below(2)).expect("0 or 1");
            StepEntry::ProveDead {
                before: any(dice),
                points: (0..count).map(|_| any(dice)).collect(),
                after: any(dice),
            }
        }
        StepKind::Codes(_) => StepEntry::Codes {
            list: dice.word(&["", "B0001", "P0000", "own 9"]),
            none_stored: dice.in_10_000(5_000),
            no_scanner: dice.in_10_000(3_000),
            lamp: *dice.one_of(&[None, Some(Lamp::StayedOn), Some(Lamp::NeverCame), Some(Lamp::WentOff)]),
        },
        StepKind::Sign(_) => StepEntry::Sign {
            outcome: *dice.one_of(&[None, Some(Outcome::Repaired), Some(Outcome::NotRepaired), Some(Outcome::Refused)]),
        },
        StepKind::Part(_) => StepEntry::Part {
            number: dice.word(&["", "7"]),
            origin: *dice.one_of(&[Origin::Used, Origin::Rebuilt]),
            from: text("nowhere"),
        },
        _ => dice
            .one_of(&[StepEntry::NotTested, StepEntry::Tick, StepEntry::Value { values: vec![text("9999")] }])
            .clone(),
    }
}
