use super::*;
use crate::procedure::{Fact, StepKind, built_in};
use crate::record::{Claimed, Done, Event, Hash, Lamp, Outcome, ProcedureFact};
use crate::unit::{BootId, Millis, Now, Stamp};
use uuid::Uuid;

/// A procedure on a device whose clock and boots are told, its events taken in as they are decided.
struct Yard {
    work: Work,
    now: Now,
}

const MINUTE: u64 = 60_000;

impl Yard {
    fn new(name: &str) -> Yard {
        let text = built_in().into_iter().find(|(known, _)| *known == name).expect("built in").1;
        let fact = ProcedureFact { text: text.into(), technician: Some(Uuid::from_u128(1)), approved_by: None };
        let wall = Stamp::parse("2026-03-01T10:00:00+01:00").unwrap();
        let now = Now { boot: Millis(5_000), boot_id: BootId("one".into()), wall };
        Yard { work: Work::begun(&fact).expect("a procedure"), now }
    }

    fn follow(&mut self, event: &Event) {
        self.work.follow(event, self.now.boot, &self.now.wall);
    }

    fn pass(&mut self, millis: u64) {
        self.now.boot.0 += millis;
    }

    fn act(&mut self, step: &str, act: &StepAct) -> Result<(), StepRefusal> {
        let events = self.work.decide((step, act), self.measured(step), &self.now)?;
        for event in &events {
            self.work.follow(event, self.now.boot, &self.now.wall);
        }
        Ok(())
    }

    /// Whatever is measured is measured.
    fn measured(&self, step: &str) -> Option<Result<Done, StepRefusal>> {
        let kind = &self.work.procedure.step(step)?.kind;
        match kind {
            StepKind::Compare(_) => Some(Ok(Done::Compared { alike: crate::record::Alike::All })),
            kind if kind.uses_ohms() => Some(Ok(Done::Measured { readings: Vec::new() })),
            _ => None,
        }
    }

    fn begin(&mut self, step: &str) -> Result<(), StepRefusal> {
        self.act(step, &StepAct::Begin)
    }

    fn finish(&mut self, step: &str, entry: StepEntry) -> Result<(), StepRefusal> {
        self.work.photo_kept(step);
        self.act(step, &StepAct::Done { words: "as told".into(), entry })
    }

    /// Begins a step and does it the usual way.
    fn take(&mut self, step: &str) -> Result<(), StepRefusal> {
        self.begin(step)?;
        if matches!(self.work.procedure.step(step).unwrap().kind, StepKind::Wait(_)) {
            self.pass(6 * MINUTE);
        }
        let entry = self.usual(step);
        self.finish(step, entry)
    }

    fn usual(&self, step: &str) -> StepEntry {
        let text = str::to_owned;
        match &self.work.procedure.step(step).unwrap().kind {
            StepKind::ProveDead(prove) => StepEntry::ProveDead {
                before: text("12,62"),
                points: prove.points.iter().map(|_| text("0.01")).collect(),
                after: text("12.61"),
            },
            StepKind::Codes(codes) => {
                let before = codes.when == crate::procedure::CodesWhen::Before;
                let list = if before { text("B0001-13\nU0140") } else { String::new() };
                StepEntry::Codes { list, none_stored: !before, no_scanner: false, lamp: Some(Lamp::WentOff) }
            }
            StepKind::Centre(_) => StepEntry::Centre(CentreEntry {
                sealed: false,
                total: text("5"),
                left: text("2.5"),
                right: text("2.5"),
            }),
            StepKind::Torque(_) => StepEntry::Torque {
                wrench: text("bench wrench 2"),
                most: String::new(),
                new_fastener: true,
                angle_turned: true,
            },
            StepKind::LiveValue(live) if live.steady_within.is_some() => {
                StepEntry::Value { values: vec![text("2.3"), text("2.4")] }
            }
            StepKind::LiveValue(live) => {
                let target = live.target.expect("one of the two").0;
                StepEntry::Value { values: vec![target.value().to_string()] }
            }
            StepKind::Sign(sign) => StepEntry::Sign { outcome: sign.closes.then_some(Outcome::Repaired) },
            StepKind::Part(_) => StepEntry::Part {
                number: text("OR3-1187"),
                origin: crate::procedure::Origin::New,
                from: text("dealer"),
            },
            _ => StepEntry::Tick,
        }
    }

    /// Does the steps in their order up to this one, which is left.
    fn up_to(&mut self, last: &str) {
        for step in self.ids() {
            if step == last {
                return;
            }
            self.take(&step).unwrap_or_else(|why| panic!("{step}: {why:?}"));
        }
    }

    fn ids(&self) -> Vec<String> {
        self.work.procedure.steps.iter().map(|step| step.id.clone()).collect()
    }

    /// A step and which doing of it stands there.
    fn shown<'a>(&self, step: &'a str) -> (&'a str, u32) {
        (step, self.work.state(step).map_or(0, |state| state.doing))
    }

    /// Everybody has a name of their own.
    fn may_be_second(&self, person: u128) -> Result<(), StepRefusal> {
        let named = |id: u128| ["", "Jakob Specht", "Ruth Amsel", "Lena Star", "", "Bodo Rain"][id as usize];
        self.work.may_be_second((Uuid::from_u128(person), named(person)), |doer| Some(named(doer.as_u128())))
    }

    fn stands(&self, fact: &Fact) -> bool {
        self.work.stands(fact, &self.now).is_ok()
    }
}

fn needs(refused: Result<(), StepRefusal>) -> Vec<(String, Option<String>)> {
    match refused {
        Err(StepRefusal::Needs { needs }) => needs.into_iter().map(|n| (n.fact.to_string(), n.step)).collect(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_three_procedures_go_from_first_to_last_step() {
    for (name, _) in built_in() {
        let mut yard = Yard::new(name);
        for step in yard.ids() {
            assert_eq!(yard.work.step_now(&yard.now).map(|s| s.id.clone()), Some(step.clone()), "{name}");
            yard.take(&step).unwrap_or_else(|why| panic!("{name}, {step}: {why:?}"));
        }
        assert_eq!(yard.work.step_now(&yard.now), None);
        assert_eq!(yard.work.outcome, Some(Outcome::Repaired));
    }
}

#[test]
fn the_wait_is_over_when_the_whole_time_went_by_on_the_clock_that_counts_sleep() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("wait");
    yard.begin("wait").unwrap();
    let cable_off = yard.now.boot.0;
    // 180 s by the file and one of margin.
    yard.now.boot.0 = cable_off + 180_999;
    assert_eq!(yard.finish("wait", StepEntry::Tick), Err(StepRefusal::Wait { left_s: 1 }));
    assert!(!yard.stands(&Fact::WaitDone));
    yard.now.boot.0 = cable_off + 181_000;
    yard.finish("wait", StepEntry::Tick).unwrap();
    assert!(yard.stands(&Fact::WaitDone));
}

#[test]
fn what_made_the_vehicle_safe_ends_with_every_doubt() {
    type Doubt = (&'static str, fn(&mut Yard));
    let doubts: [Doubt; 7] = [
        ("restarted", |yard| yard.now.boot_id = BootId("two".into())),
        ("no boot id", |yard| yard.now.boot_id = BootId(String::new())),
        ("clock back", |yard| yard.now.boot = Millis(1)),
        ("taken back", |yard| {
            let back = Event::JobTakenBack { boot: yard.now.boot_id.clone() };
            yard.work.follow(&back, yard.now.boot, &yard.now.wall);
        }),
        ("taken over", |yard| yard.follow(&claimed(yard))),
        ("four hours", |yard| yard.pass(4 * 60 * MINUTE)),
        ("supply", |yard| {
            let seen = Event::SupplySeen { boot: yard.now.boot_id.clone(), volt: None };
            yard.work.follow(&seen, yard.now.boot, &yard.now.wall);
        }),
    ];
    for (name, doubt) in doubts {
        let mut yard = Yard::new("steering-coil");
        yard.up_to("bag-off");
        assert!(Fact::SAFE.iter().all(|fact| yard.stands(fact)), "{name}");
        doubt(&mut yard);
        assert!(!Fact::SAFE.iter().any(|fact| yard.stands(fact)), "{name}");
        let missing = needs(yard.begin("bag-off"));
        let maker = |fact: &str, step: &str| (fact.to_owned(), Some(step.to_owned()));
        assert_eq!(
            missing,
            [maker("cable_off", "cable-off"), maker("wait_done", "wait"), maker("dead_proven", "prove-dead")],
            "{name}"
        );
        assert_eq!(yard.work.step_now(&yard.now).unwrap().id, "cable-off", "{name}: it is done again");
        yard.now.boot_id = BootId("three".into());
        for step in ["cable-off", "wait", "prove-dead", "bag-off"] {
            yard.take(step).unwrap_or_else(|why| panic!("{name}, {step}: {why:?}"));
        }
    }
}

/// The job was taken over, on a machine that calls its run by the same name.
fn claimed(yard: &Yard) -> Event {
    Event::JobClaimed(Claimed {
        boot: yard.now.boot_id.clone(),
        from_device: Uuid::from_u128(9),
        from_sequence: 40,
        from_hash: Hash::of(b"an entry"),
        signed: String::new(),
    })
}

#[test]
fn whoever_takes_a_job_over_begins_its_open_step_anew_and_is_named_anew() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("wait");
    yard.begin("wait").unwrap();
    yard.pass(60 * MINUTE);
    yard.follow(&claimed(&yard));
    assert_eq!((yard.work.open.as_deref(), yard.work.technician), (None, None));
    assert_eq!(yard.may_be_second(5), Err(StepRefusal::DoerUnknown));
    assert_eq!(yard.may_be_second(1), Err(StepRefusal::DoerUnknown));
    yard.follow(&Event::TechnicianNamed { person: Uuid::from_u128(5) });
    assert_eq!(yard.may_be_second(1), Err(StepRefusal::OwnSecond), "who did it before did it");
    assert_eq!(yard.finish("wait", StepEntry::Tick), Err(StepRefusal::NotBegun));
    assert_eq!(needs(yard.begin("wait"))[0].0, "cable_off");
    yard.take("cable-off").unwrap();
    yard.begin("wait").unwrap();
    assert!(matches!(yard.finish("wait", StepEntry::Tick), Err(StepRefusal::Wait { .. })), "the whole wait");
}

#[test]
fn an_empty_boot_id_never_counts_even_when_it_stays_empty() {
    let mut yard = Yard::new("steering-coil");
    yard.now.boot_id = BootId(String::new());
    yard.up_to("cable-off");
    yard.take("cable-off").unwrap();
    yard.pass(60 * MINUTE);
    assert!(!yard.stands(&Fact::CableOff));
    assert_eq!(needs(yard.begin("wait"))[0].0, "cable_off");
}

#[test]
fn a_supply_that_is_seen_while_it_is_to_be_proven_dead_starts_everything_again() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("prove-dead");
    yard.begin("prove-dead").unwrap();
    let volts =
        |point: &str| StepEntry::ProveDead { before: "12.6".into(), points: vec![point.into()], after: "12.6".into() };
    let known_dead = StepEntry::ProveDead { before: "0.3".into(), points: vec!["0".into()], after: "12.6".into() };
    assert_eq!(
        yard.finish("prove-dead", known_dead),
        Err(StepRefusal::KnownSource { field: "before".into() }),
        "a meter that reads nothing proves nothing"
    );
    assert!(yard.stands(&Fact::CableOff));
    yard.finish("prove-dead", volts("-11.9")).unwrap();
    assert!(!yard.stands(&Fact::DeadProven) && !yard.stands(&Fact::CableOff) && !yard.stands(&Fact::WaitDone));
    assert_eq!(yard.work.step_now(&yard.now).unwrap().id, "prove-dead", "it is still the one that was begun");
    assert_eq!(needs(yard.finish("prove-dead", volts("0.02")))[0].0, "cable_off");
}

#[test]
fn connecting_the_battery_ends_all_three_when_it_is_begun() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("battery-on");
    assert!(yard.stands(&Fact::DeadProven));
    yard.begin("battery-on").unwrap();
    assert!(!Fact::SAFE.iter().any(|fact| yard.stands(fact)));
    yard.finish("battery-on", StepEntry::Tick).unwrap();
    yard.act("cable-off", &StepAct::Again { reason: "a clip was forgotten".into() }).unwrap();
    assert_eq!(yard.work.step_now(&yard.now).unwrap().id, "cable-off");
    assert_eq!(needs(yard.begin("bag-off")).len(), 3);
}

#[test]
fn with_the_lamp_on_the_job_is_not_repaired_and_leads_back_to_battery_off() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("after-scan");
    yard.begin("after-scan").unwrap();
    let scan = |list: &str, lamp| StepEntry::Codes {
        list: list.into(),
        none_stored: list.is_empty(),
        no_scanner: false,
        lamp: Some(lamp),
    };
    yard.finish("after-scan", scan("b0001-13", Lamp::StayedOn)).unwrap();
    assert!(yard.stands(&Fact::AfterScanSaved) && !yard.stands(&Fact::LampOff));
    assert_eq!(needs(yard.begin("road-test")), [("lamp_off".to_owned(), Some("after-scan".to_owned()))]);
    yard.begin("close").unwrap();
    let close = |outcome| StepEntry::Sign { outcome: Some(outcome) };
    let Err(StepRefusal::StillOpen { not_repaired: true, steps, .. }) = yard.finish("close", close(Outcome::Repaired))
    else {
        panic!("closed as repaired")
    };
    assert!(steps.contains(&"functions".to_owned()), "{steps:?}");
    yard.act("cable-off", &StepAct::Again { reason: "lamp".into() }).unwrap();
    assert_eq!(needs(yard.begin("bag-off")).len(), 3, "nothing is touched before it is safe again");
    for step in ["cable-off", "wait", "prove-dead", "bag-off"] {
        yard.take(step).unwrap();
    }
    yard.begin("close").unwrap();
    assert_eq!(yard.finish("close", close(Outcome::NotRepaired)), Ok(()), "it may end without having been repaired");
    assert_eq!(yard.work.outcome, Some(Outcome::NotRepaired));
}

#[test]
fn pins_and_loads_come_back_before_anything_ends() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("coil-off");
    assert_eq!(yard.work.counted_out(), (0, 1));
    yard.begin("close").unwrap();
    let close = StepEntry::Sign { outcome: Some(Outcome::Refused) };
    assert_eq!(yard.finish("close", close), Err(StepRefusal::NotCountedBack { loads: 0, locks: 1 }));
    yard.begin("count-back").unwrap();
    assert_eq!(yard.finish("count-back", StepEntry::Tick), Err(StepRefusal::NotCountedBack { loads: 0, locks: 1 }));
}

#[test]
fn a_bar_that_is_held_open_stands_in_the_way_of_every_end() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("measure-squib");
    // The pin comes back, the bars stay open.
    yard.take("centre-old").unwrap();
    yard.begin("close").unwrap();
    for outcome in [Outcome::Repaired, Outcome::NotRepaired, Outcome::Refused] {
        let refused = yard.finish("close", StepEntry::Sign { outcome: Some(outcome) });
        assert!(matches!(refused, Err(StepRefusal::StillOpen { not_together: true, .. })), "{outcome:?} {refused:?}");
    }
}

#[test]
fn a_used_part_is_signed_by_somebody_else() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("candidate");
    yard.begin("candidate").unwrap();
    let used = StepEntry::Part {
        number: "OR3-1187".into(),
        origin: crate::procedure::Origin::Used,
        from: "breaker's yard".into(),
    };
    yard.finish("candidate", used).unwrap();
    assert_eq!(yard.work.waits_for_second().collect::<Vec<_>>(), ["candidate"]);
    let (own, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
    assert_eq!(yard.work.sign(yard.shown("candidate"), own, &yard.now), Err(StepRefusal::OwnSecond));
    assert_eq!(yard.work.sign(yard.shown("wheel-off"), other, &yard.now), Err(StepRefusal::NothingToSign));
    let signed = yard.work.sign(yard.shown("candidate"), other, &yard.now).unwrap();
    signed.iter().for_each(|event| yard.work.follow(event, yard.now.boot, &yard.now.wall));
    assert_eq!(yard.work.waits_for_second().count(), 0);
}

#[test]
fn a_signature_ends_with_a_reading_that_it_rests_on() {
    let (technician, second) = (Uuid::from_u128(1), Uuid::from_u128(2));
    let (touch, other) = (Uuid::from_u128(71), Uuid::from_u128(72));
    let mut yard = Yard::new("steering-coil");
    let said = |step: &str, done| {
        let said = crate::record::StepDone { words: String::new(), done };
        Event::StepDone(crate::record::StepFact { step: step.into(), boot: BootId("one".into()), said })
    };
    let done = [
        said("candidate-compare", Done::Compared { alike: crate::record::Alike::NotAll }),
        said(
            "candidate",
            Done::PartChosen { number: "1".into(), origin: crate::procedure::Origin::Used, from: "a".into() },
        ),
    ];
    for event in &done {
        yard.follow(event);
    }
    let sign = |yard: &mut Yard, step: &str| {
        let events = yard.work.sign(yard.shown(step), second, &yard.now).expect("it waits");
        events.iter().for_each(|event| yard.follow(event));
    };
    let waits = |yard: &Yard| yard.work.waits_for_second().map(str::to_owned).collect::<Vec<_>>();
    for gone in [Event::TouchUndone { touch }, Event::ReadingWithdrawn { reading: other }] {
        waits(&yard).iter().for_each(|step| sign(&mut yard, step));
        assert_eq!(waits(&yard), Vec::<String>::new());
        yard.follow(&gone);
        assert_eq!(waits(&yard), ["candidate-compare"], "the part itself was not read");
    }
    assert_eq!(yard.work.technician, Some(technician));
}

#[test]
fn a_signature_under_what_was_measured_ends_with_those_readings_and_no_others() {
    let text = built_in().into_iter().find(|(known, _)| *known == "steering-coil").unwrap().1;
    let text = text.replace("id = \"measure-squib\"\n", "id = \"measure-squib\"\nsign_off = \"second\"\n");
    let mut yard = Yard::new("steering-coil");
    let fact = ProcedureFact { text, technician: Some(Uuid::from_u128(1)), approved_by: None };
    yard.work = Work::begun(&fact).expect("a procedure");
    let touch = Uuid::from_u128(71);
    let said = crate::record::StepDone { words: String::new(), done: Done::Measured { readings: vec![touch] } };
    let step = "measure-squib".to_owned();
    yard.follow(&Event::StepDone(crate::record::StepFact { step: step.clone(), boot: BootId("one".into()), said }));
    let signed = yard.work.sign(yard.shown(&step), Uuid::from_u128(2), &yard.now).unwrap();
    signed.iter().for_each(|event| yard.follow(event));
    yard.follow(&Event::TouchUndone { touch: Uuid::from_u128(72) });
    assert_eq!(yard.work.waits_for_second().count(), 0);
    yard.follow(&Event::TouchUndone { touch });
    assert_eq!(yard.work.waits_for_second().collect::<Vec<_>>(), [step]);
}

#[test]
fn what_shows_that_a_step_was_done_is_asked_for() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("cable-off");
    yard.begin("cable-off").unwrap();
    let done = StepAct::Done { words: String::new(), entry: StepEntry::Tick };
    assert_eq!(yard.act("cable-off", &done), Err(StepRefusal::Evidence { evidence: Evidence::Photo }));
    yard.work.photo_kept("cable-off");
    yard.act("cable-off", &done).unwrap();
    yard.act("cable-off", &StepAct::Again { reason: "not sure".into() }).unwrap();
    yard.begin("cable-off").unwrap();
    assert_eq!(
        yard.act("cable-off", &done),
        Err(StepRefusal::Evidence { evidence: Evidence::Photo }),
        "a photo of the first time shows nothing of the second"
    );
}

#[test]
fn codes_and_counts_are_taken_only_when_they_say_something() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("before-scan");
    yard.begin("before-scan").unwrap();
    let scan =
        |list: &str, none_stored| StepEntry::Codes { list: list.into(), none_stored, no_scanner: false, lamp: None };
    assert_eq!(yard.finish("before-scan", scan(" ", false)), Err(StepRefusal::Empty { field: "list".into() }));
    assert_eq!(yard.finish("before-scan", scan("B0001", true)), Err(StepRefusal::CodesAndNone));
    assert_eq!(yard.finish("before-scan", scan("P0000", false)), Err(StepRefusal::Code { text: "P0000".into() }));
    yard.finish("before-scan", scan("b0001-13, own 9\n", false)).unwrap();
    let (codes, _) = yard.work.codes(crate::procedure::CodesWhen::Before).unwrap();
    assert_eq!(codes.iter().map(ToString::to_string).collect::<Vec<_>>(), ["B0001-13", "own 9"]);
    let mut yard = Yard::new("steering-coil");
    yard.up_to("centre-old");
    yard.begin("centre-old").unwrap();
    let count = |total: &str, left: &str, right: &str| {
        StepEntry::Centre(CentreEntry { sealed: false, total: total.into(), left: left.into(), right: right.into() })
    };
    assert_eq!(yard.finish("centre-old", count("6", "3", "3")), Err(StepRefusal::TurnsUnlikePublished));
    assert_eq!(yard.finish("centre-old", count("5", "3.5", "1.5")), Err(StepRefusal::TooFewTurns));
    assert_eq!(yard.finish("centre-old", count("5.3", "3", "2.25")), Err(StepRefusal::SidesUnlike));
    yard.finish("centre-old", count("5,25", "2,75", "2.5")).unwrap();
}

#[test]
fn only_what_may_be_left_out_is() {
    let mut yard = Yard::new("steering-coil");
    let skip = StepAct::Skip { reason: "no time".into() };
    for step in yard.ids() {
        let refused = yard.act(&step, &skip);
        let may = yard.work.procedure.step(&step).unwrap().skip.is_some();
        assert_eq!(refused.is_ok(), may, "{step}: {refused:?}");
    }
    assert_eq!(
        yard.act("sweep-squib", &StepAct::Skip { reason: " ".into() }),
        Err(StepRefusal::Empty { field: "reason".into() })
    );
}

#[test]
fn a_zero_is_believed_for_half_an_hour() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("measure-squib");
    yard.pass(29 * MINUTE);
    assert!(yard.stands(&Fact::ZeroValid));
    yard.pass(MINUTE);
    assert!(!yard.stands(&Fact::ZeroValid));
    assert_eq!(needs(yard.begin("measure-squib")), [("zero_valid".to_owned(), Some("zero".to_owned()))]);
}

#[test]
fn whoever_signed_second_and_is_named_as_the_doer_after_that_has_not_signed_second() {
    let mut yard = Yard::new("steering-coil");
    yard.up_to("candidate");
    yard.begin("candidate").unwrap();
    let origin = crate::procedure::Origin::Used;
    yard.finish("candidate", StepEntry::Part { number: "7".into(), origin, from: "yard".into() }).unwrap();
    let other = Uuid::from_u128(2);
    let signed = yard.work.sign(yard.shown("candidate"), other, &yard.now).unwrap();
    signed.iter().for_each(|event| yard.follow(event));
    assert_eq!(yard.work.waits_for_second().count(), 0);
    yard.follow(&Event::TechnicianNamed { person: other });
    yard.work.named(other);
    assert_eq!(yard.work.waits_for_second().collect::<Vec<_>>(), ["candidate"]);
}

/// The coil's file, with figures of its own in place of some.
fn with(changes: &[(&str, &str)]) -> Work {
    let mut text = built_in()[0].1.to_owned();
    for (was, is) in changes {
        assert!(text.contains(was), "{was}");
        text = text.replace(was, is);
    }
    let fact = ProcedureFact { text, technician: None, approved_by: None };
    Work::begun(&fact).expect("it is right")
}

/// The figures of the files that come with the program are those of the rules: these are others.
#[test]
fn a_file_that_asks_for_more_than_the_rules_is_held_to_it_and_one_that_asks_for_less_is_not() {
    use crate::verdict::{Isolation, IsolationReading, isolation, zero_moved};
    let means = |ohm: Option<f64>, work: &Work| {
        let above = work.sound_above(1, Some(2));
        assert_eq!(above, work.sound_above(2, Some(1)), "in either order");
        let range_locked = false;
        let (top, zero, bar_open) = (20e6, Some(0.2), Some(true));
        isolation(&IsolationReading { ohm, top, step: 0.01, above, zero, bar_open, to_metal: false, range_locked })
    };
    let (usual, strict, loose) = (
        with(&[]),
        with(&[
            ("above = \"1 MΩ\"", "above = \"50 MΩ\""),
            ("drift = \"0.05 Ω\"", "drift = \"0.01 Ω\""),
            ("drift_steps = 2", "drift_steps = 1"),
            ("jump = \"0.05 Ω\"", "jump = \"0.03 Ω\""),
        ]),
        with(&[("above = \"1 MΩ\"", "above = \"100 kΩ\""), ("drift = \"0.05 Ω\"", "drift = \"0.5 Ω\"")]),
    );
    assert_eq!(means(Some(2e6), &usual), Isolation::Isolated);
    assert_eq!(means(Some(2e6), &strict), Isolation::TooLow);
    assert_eq!(means(None, &usual), Isolation::BeyondRange);
    assert_eq!(means(None, &strict), Isolation::RangeTooLow, "the meter ends at 20 MΩ");
    assert_eq!(means(Some(2e5), &loose), Isolation::Touches, "the rule stands");
    assert_eq!(usual.sound_above(0, Some(5)), None, "no step reads that pair");
    let moved = |work: &Work, by: f64| zero_moved((0.2, 0.2 + by), 0.001, work.zero_may_move(0.001));
    assert!(!moved(&usual, 0.045) && moved(&usual, 0.055) && !moved(&strict, 0.008) && moved(&strict, 0.018));
    assert!(!moved(&loose, 0.045) && moved(&loose, 0.055), "the rule stands");
    // A jump is asked for at the step that looks for it.
    assert_eq!(strict.jump_wanted(0), None);
    let mut yard = Yard { work: strict, ..Yard::new("steering-coil") };
    yard.up_to("sweep-squib");
    yard.begin("sweep-squib").unwrap();
    assert_eq!(yard.work.jump_wanted(0).map(|jump| jump.to_string()).as_deref(), Some("0.03"));
    assert_eq!(yard.work.jump_wanted(5), None, "another conductor");
}

#[test]
fn a_limit_of_a_measuring_step_stands_at_its_conductors_with_its_source() {
    let squib = "kind = \"measure\"\n";
    let limit = "kind = \"measure\"\nhigh = \"900 mΩ\"\nsource = \"invented\"\n";
    let mut text = built_in()[0].1.to_owned();
    text = text.replacen(squib, limit, 1);
    let fact = ProcedureFact { text, technician: None, approved_by: None };
    let work = Work::begun(&fact).expect("it is right");
    let limit = work.limit_of(0, crate::verdict::words::Language::En).expect("a limit");
    assert_eq!(limit.high.map(|high| high.to_string()).as_deref(), Some("0.900"));
    assert!(limit.low.is_none() && limit.source.starts_with("Invented"), "{limit:?}");
    assert_eq!(work.limit_of(4, crate::verdict::words::Language::En), None, "the horn is not of that step");
}
