//! Holes that were found, and stay shut: each of them by its shortest way.

use super::acts::PEOPLE;
use super::books::BOOKS;
use super::world::{Dice, World, pin_of};
use crate::job::{Command, Refusal};
use crate::procedure::{Fact, Origin, built_in};
use crate::record::{Lamp, Outcome};
use crate::session::tests::bench::new_job;
use crate::sweep::plan::SweepPlan;
use crate::work::{CentreEntry, Need, StepAct, StepEntry, StepRefusal};

pub(super) const COIL: usize = 0;
pub(crate) const DOOR: usize = 1;
const SEAT: usize = 2;

/// A job that follows this procedure and comes to this step, which is not begun.
pub(crate) fn at(procedure: usize, step: &str) -> World {
    follows(World::new(7), BOOKS[procedure].id, step)
}

pub(super) fn follows(mut world: World, procedure: &str, step: &str) -> World {
    assert_eq!(world.wish(new_job("4711")), None);
    let begin = Command::BeginProcedure {
        procedure: procedure.into(),
        technician: Some(PEOPLE[0]),
        pin: Some(pin_of(PEOPLE[0])),
    };
    assert_eq!(world.wish(begin), None);
    go_on(&mut world, step);
    world
}

/// Does what is to be done, up to this step.
pub(super) fn go_on(world: &mut World, step: &str) {
    let mut dice = Dice::new(11);
    for _ in 0..500 {
        let now = world.now();
        let work = world.job().unwrap().work.as_ref().unwrap();
        if work.open.is_none() && work.step_now(&now).is_some_and(|now| now.id == step) {
            return;
        }
        world.sensible(&mut dice);
    }
    panic!("{step} is not come to")
}

/// Begins it and ticks it.
pub(super) fn tick(world: &mut World, step: &str) {
    begin(world, step);
    assert_eq!(finish(world, step, StepEntry::Tick), None, "{step}");
}

pub(crate) fn begin(world: &mut World, step: &str) {
    assert_eq!(world.at_step(step, StepAct::Begin), None, "{step}");
}

pub(super) fn finish(world: &mut World, step: &str, entry: StepEntry) -> Option<StepRefusal> {
    drop(world.photo(step));
    match world.at_step(step, StepAct::Done { words: "as told".into(), entry }) {
        None => None,
        Some(Refusal::Step { refusal }) => Some(refusal),
        other => panic!("{other:?}"),
    }
}

pub(super) fn again(world: &mut World, step: &str) {
    assert_eq!(world.at_step(step, StepAct::Again { reason: "not sure".into() }), None);
}

fn close(world: &mut World, outcome: Outcome) -> Option<StepRefusal> {
    begin(world, "close");
    finish(world, "close", StepEntry::Sign { outcome: Some(outcome) })
}

fn needs(refused: Option<Refusal>) -> Vec<Fact> {
    match refused {
        Some(Refusal::Step { refusal: StepRefusal::Needs { needs } }) => {
            needs.into_iter().map(|Need { fact, .. }| fact).collect()
        }
        other => panic!("{other:?}"),
    }
}

/// Neither doing it again nor a step that was only begun puts a spring back on its terminals.
#[test]
fn a_bar_is_held_open_from_the_moment_it_may_be_until_somebody_looked_that_it_is_not() {
    let held_open = |refused| matches!(refused, Some(StepRefusal::StillOpen { not_together: true, .. }));
    let mut world = at(SEAT, "bar-open");
    begin(&mut world, "bar-open");
    assert!(held_open(close(&mut world, Outcome::Refused)), "begun and left");
    let mut world = at(SEAT, "measure");
    again(&mut world, "bar-open");
    assert!(held_open(close(&mut world, Outcome::NotRepaired)), "to be done again");
    let mut world = at(SEAT, "measure");
    begin(&mut world, "unit-plug-home");
    assert!(held_open(close(&mut world, Outcome::NotRepaired)), "putting it back was begun and left");
    tick(&mut world, "unit-plug-home");
    assert_eq!(close(&mut world, Outcome::NotRepaired), None);
}

#[test]
fn a_load_counts_from_the_moment_it_may_be_fitted_and_once_however_often_it_is_fitted() {
    let mut world = at(SEAT, "load-in");
    begin(&mut world, "load-in");
    assert_eq!(close(&mut world, Outcome::Refused), Some(StepRefusal::NotCountedBack { loads: 1, locks: 0 }));
    tick(&mut world, "load-in");
    again(&mut world, "load-in");
    tick(&mut world, "load-in");
    begin(&mut world, "load-back");
    assert_eq!(finish(&mut world, "load-back", StepEntry::Tick), None, "there is one load, and it is back");
    assert_eq!(close(&mut world, Outcome::Refused), None);
}

/// The other job may be at the same vehicle, and put the inflator back.
#[test]
fn after_another_job_an_inflator_is_looked_for_again() {
    let mut world = at(COIL, "measure-squib");
    let job = world.job().unwrap().id;
    assert_eq!(world.wish(Command::LeaveJob), None);
    assert_eq!(world.wish(new_job("4712")), None);
    assert_eq!(world.wish(Command::OpenJob { job }), None);
    let missing = needs(world.at_step("measure-squib", StepAct::Begin));
    assert!(missing.contains(&Fact::InflatorAway("bag".into())) && missing.contains(&Fact::CableOff), "{missing:?}");
    let open = world.job().unwrap().work.as_ref().unwrap().open_at_the_end(Outcome::Repaired, &world.now());
    assert!(open.contains(&crate::work::Open::InflatorAway("bag".into())), "nobody put it back by looking away");
}

#[test]
fn another_job_counts_even_when_the_boot_could_not_be_told_on_the_way_back() {
    let mut world = at(COIL, "bag-off");
    let job = world.job().unwrap().id;
    assert_eq!(world.wish(Command::LeaveJob), None);
    assert_eq!(world.wish(new_job("4712")), None);
    world.readable = false;
    assert_eq!(world.wish(Command::OpenJob { job }), None);
    world.readable = true;
    assert_eq!(needs(world.at_step("bag-off", StepAct::Begin)), Fact::SAFE);
}

/// The lamp was on: to do the scan again, or to have no scanner, does not put it out.
#[test]
fn whoever_closes_with_trouble_that_was_seen_is_signed_for() {
    let scan = |list: &str, no_scanner| StepEntry::Codes {
        list: list.into(),
        none_stored: false,
        no_scanner,
        lamp: Some(Lamp::StayedOn),
    };
    for (list, no_scanner) in [("B0001-13", false), ("", true)] {
        let mut world = at(DOOR, "after-scan");
        begin(&mut world, "after-scan");
        assert_eq!(finish(&mut world, "after-scan", scan(list, no_scanner)), None);
        again(&mut world, "after-scan");
        assert_eq!(close(&mut world, Outcome::NotRepaired), None);
        let work = world.job().unwrap().work.as_ref().unwrap();
        assert_eq!(work.waits_for_second().collect::<Vec<_>>(), ["close"]);
    }
}

/// A file may say that a step ends what it needs. It is asked for to the end all the same.
#[test]
fn no_file_ends_what_the_rules_ask_for_and_goes_on() {
    let (_, text) = built_in()[COIL];
    let own = text.replace(BOOKS[COIL].id, &format!("{}-own", BOOKS[COIL].id)).replace(
        "cancels = [\"inflator_away(bag)\"]",
        "cancels = [\"inflator_away(bag)\", \"cable_off\", \"wait_done\", \"dead_proven\"]",
    );
    let mut world = World::new(7);
    assert_eq!(world.wish(Command::KeepProcedure { text: own }), None);
    let mut world = follows(world, &format!("{}-own", BOOKS[COIL].id), "bag-on");
    begin(&mut world, "bag-on");
    let refused = finish(&mut world, "bag-on", StepEntry::Tick).map(|refusal| Refusal::Step { refusal });
    assert_eq!(needs(refused), Fact::SAFE);
}

#[test]
fn a_supply_that_is_seen_counts_whatever_else_is_missing() {
    for (before, points, after) in [("0.2", vec!["12.4"], ""), ("x", vec!["0.01", "-12.4"], "12.6")] {
        let mut world = at(COIL, "prove-dead");
        begin(&mut world, "prove-dead");
        let points = points.into_iter().map(str::to_owned).collect();
        let entry = StepEntry::ProveDead { before: before.into(), points, after: after.into() };
        assert_eq!(finish(&mut world, "prove-dead", entry), None);
        assert_eq!(needs(world.at_step("wait", StepAct::Begin)), [Fact::CableOff]);
    }
}

/// A dead vehicle shows no lamp and no code: that is no scan.
#[test]
fn nothing_is_scanned_while_the_battery_is_off() {
    let mut world = at(SEAT, "unit-plug-apart");
    for step in ["load-back", "seat-plug-home", "battery-on", "cable-off"] {
        tick(&mut world, step);
    }
    let first = Refusal::Step { refusal: StepRefusal::StepFirst { step: "battery-on".into() } };
    assert_eq!(world.at_step("after-scan", StepAct::Begin), Some(first));
}

#[test]
fn what_was_read_at_another_step_does_not_make_this_one_done() {
    let mut world = at(DOOR, "measure-signal-2");
    begin(&mut world, "measure-signal-2");
    assert_eq!(
        finish(&mut world, "measure-signal-2", StepEntry::Tick),
        Some(StepRefusal::Unread { missing: 15 }),
        "before the repair it read otherwise"
    );
    assert_eq!(world.session.announced().map(|(conductor, _)| conductor), Some(0), "they are asked for");
    let mut world = at(DOOR, "isolation-open");
    begin(&mut world, "isolation-open");
    assert_eq!(finish(&mut world, "isolation-open", StepEntry::Tick), Some(StepRefusal::Unread { missing: 9 }));
}

#[test]
fn a_zero_of_an_earlier_run_of_the_machine_does_not_make_the_step_done() {
    let mut world = at(COIL, "bars-open");
    world.reboot(1_000);
    again(&mut world, "zero");
    begin(&mut world, "zero");
    assert_eq!(finish(&mut world, "zero", StepEntry::Tick), Some(StepRefusal::Unread { missing: 1 }));
}

#[test]
fn the_centre_and_the_bars_of_the_old_part_are_not_those_of_the_new_one() {
    let mut world = at(COIL, "centre-old");
    begin(&mut world, "centre-old");
    let sealed = CentreEntry { sealed: true, total: String::new(), left: String::new(), right: String::new() };
    assert_eq!(finish(&mut world, "centre-old", StepEntry::Centre(sealed)), None);
    let may_not_turn = StepAct::Skip { reason: "the maker says so".into() };
    assert_eq!(world.at_step("sweep-squib", may_not_turn), None);
    go_on(&mut world, "candidate");
    tick(&mut world, "candidate-bars-open");
    let stands =
        |world: &World, fact: &Fact| world.job().unwrap().work.as_ref().unwrap().stands(fact, &world.now()).is_ok();
    let of_the_part = [Fact::Centred, Fact::BarOpen("stage-1".into())];
    assert!(of_the_part.iter().all(|fact| stands(&world, fact)));
    begin(&mut world, "candidate");
    let new = StepEntry::Part { number: "7".into(), origin: Origin::New, from: "dealer".into() };
    assert_eq!(finish(&mut world, "candidate", new), None);
    assert!(!of_the_part.iter().any(|fact| stands(&world, fact)));
}

/// To look at another vehicle's job is to have left this one, even if nothing is written there.
#[test]
fn a_job_that_was_only_looked_at_was_another_job() {
    let mut world = at(SEAT, "loop-before");
    let other = world.job().unwrap().id;
    assert_eq!(world.wish(Command::LeaveJob), None);
    let mut world = follows(world, BOOKS[COIL].id, "bag-off");
    let this = world.job().unwrap().id;
    for job in [other, this] {
        assert_eq!(world.wish(Command::OpenJob { job }), None);
    }
    assert_eq!(needs(world.at_step("bag-off", StepAct::Begin)), Fact::SAFE);
}

/// The file forgets to say that the inflator is back: who touches its plugs without needing it away puts it back.
#[test]
fn an_inflator_is_back_with_its_plugs_whatever_the_file_says() {
    let (_, text) = built_in()[COIL];
    let id = format!("{}-own", BOOKS[COIL].id);
    let own = text.replace(BOOKS[COIL].id, &id).replace("cancels = [\"inflator_away(bag)\"]\n", "");
    let mut world = World::new(7);
    assert_eq!(world.wish(Command::KeepProcedure { text: own }), None);
    let mut world = follows(world, &id, "bag-on");
    begin(&mut world, "bag-on");
    let work = world.job().unwrap().work.as_ref().unwrap();
    assert!(work.stands(&Fact::InflatorAway("bag".into()), &world.now()).is_err());
    assert_eq!(finish(&mut world, "bag-on", StepEntry::Tick), None);
    let open = world.job().unwrap().work.as_ref().unwrap().open_at_the_end(Outcome::Repaired, &world.now());
    assert!(!open.contains(&crate::work::Open::InflatorAway("bag".into())));
}

/// A scanner that is not there any more does not carry on what one saw before, and a lamp that is seen on is on.
#[test]
fn the_newest_that_was_seen_of_codes_and_lamp_decides() {
    let scan = |no_scanner: bool, lamp| StepEntry::Codes {
        list: String::new(),
        none_stored: !no_scanner,
        no_scanner,
        lamp: Some(lamp),
    };
    let open =
        |world: &World| world.job().unwrap().work.as_ref().unwrap().open_at_the_end(Outcome::Repaired, &world.now());
    let mut world = at(COIL, "after-scan");
    for entry in [scan(false, Lamp::StayedOn), scan(true, Lamp::WentOff)] {
        begin(&mut world, "after-scan");
        assert_eq!(finish(&mut world, "after-scan", entry), None);
    }
    assert!(open(&world).contains(&crate::work::Open::NoAfterScan));
    // Out of order: the load is taken back before anybody looked what it changed.
    let mut world = at(SEAT, "drag-test");
    for step in ["unit-plug-home", "load-in", "battery-on-load", "cable-off"] {
        tick(&mut world, step);
    }
    world.pass(300_000);
    tick(&mut world, "wait");
    begin(&mut world, "prove-dead");
    let (live, points) = ("12.6".to_owned(), vec!["0".to_owned()]);
    let entry = StepEntry::ProveDead { before: live.clone(), points, after: live };
    assert_eq!(finish(&mut world, "prove-dead", entry), None);
    for step in ["load-back", "seat-plug-home", "battery-on"] {
        tick(&mut world, step);
    }
    begin(&mut world, "after-scan");
    assert_eq!(finish(&mut world, "after-scan", scan(false, Lamp::WentOff)), None);
    begin(&mut world, "load-scan");
    assert_eq!(finish(&mut world, "load-scan", scan(false, Lamp::StayedOn)), None);
    assert!(open(&world).contains(&crate::work::Open::Lamp));
}

#[test]
fn a_sweep_is_planned_at_its_step_and_for_its_conductors() {
    let mut world = at(COIL, "sweep-squib");
    let plan = |conductor| Command::PlanSweep { conductor, plan: SweepPlan::default() };
    assert_eq!(world.wish(plan(0)), Some(Refusal::ByProcedure), "the step is not begun");
    begin(&mut world, "sweep-squib");
    let other = Some(Refusal::Step { refusal: StepRefusal::NotBegun });
    assert_eq!(world.wish(plan(4)), other, "the horn is not of this step");
    assert_ne!(world.wish(plan(0)), other);
}

/// The file names the bars of the plugs it takes apart. Between two others that fire something it may have forgotten
/// one: that is not told as open, and nobody is asked.
#[test]
fn between_conductors_for_which_the_file_names_no_bar_nothing_is_asked_first() {
    let mut world = at(COIL, "isolation");
    begin(&mut world, "isolation");
    let pair = |a, other| Command::MeasureIsolation { a, other };
    let bars = world.job().unwrap().part.as_ref().unwrap().bars.clone();
    assert!(!bars.contains(&(1, 2)) && bars.contains(&(0, 1)), "{bars:?}");
    assert_ne!(world.wish(pair(1, Some(2))), Some(Refusal::BarFirst { a: 1, b: 2 }));
    let job = world.job().unwrap();
    assert_eq!(job.bar_open(1, 2), None, "two stages: nobody can tell");
    assert_eq!(job.bar_open(3, 4), Some(true), "a stage and the horn");
    assert_eq!(job.bar_open(0, 1), Some(true), "a step before held it open");
    assert_eq!(at(COIL, "zero").job().unwrap().bar_open(0, 1), None, "and before that nobody had said so");
}

#[test]
fn a_reading_that_a_settled_step_rests_on_goes_only_with_the_step() {
    let mut world = at(DOOR, "isolation-open");
    let read = |world: &World| world.job().unwrap().proofs.isolation_of(0, Some(1)).map(|fact| fact.reading);
    let reading = read(&world).expect("read with the door shut");
    let settled = Some(Refusal::Step { refusal: StepRefusal::Settled });
    assert_eq!(world.wish(Command::Withdraw { reading }), settled);
    assert_eq!(read(&world), Some(reading), "nothing changed");
    let reason = "the clips slipped".to_owned();
    assert_eq!(world.at_step("isolation-shut", StepAct::Again { reason }), None);
    assert_eq!(world.wish(Command::Withdraw { reading }), None, "with the step it may go");
}

/// What the file asks for reaches the finding, and what a sweep looks for.
#[test]
fn a_stricter_file_is_what_readings_are_held_to() {
    use crate::record::IsolationFact;
    use crate::settle::Touch;
    use crate::verdict::Isolation;
    let (_, text) = built_in()[COIL];
    let id = format!("{}-own", BOOKS[COIL].id);
    let own = text
        .replace(BOOKS[COIL].id, &id)
        .replace("above = \"1 MΩ\"", "above = \"900 MΩ\"")
        .replace("jump = \"0.05 Ω\"", "jump = \"0.03 Ω\"");
    let swept = |text: Option<String>, id: &str| {
        let mut world = World::new(7);
        world.leaves_out = false;
        text.into_iter().for_each(|text| assert_eq!(world.wish(Command::KeepProcedure { text }), None));
        follows(world, id, "verdict")
    };
    let (strict, plain) = (swept(Some(own), &id), swept(None, BOOKS[COIL].id));
    let means_in = |world: &World, auto_range: Option<bool>| {
        let job = world.job().unwrap();
        let read = job.proofs.isolation_of(1, Some(2)).expect("read").clone();
        // With a meter that ends at 20 MΩ; the one of this world ends far below.
        let top = crate::unit::Quantity::new(20_000_000, 0, crate::unit::Unit::Ohm).unwrap();
        job.isolation_means(&IsolationFact { top, taken: Touch { auto_range, ..read.taken }, ..read })
    };
    let means = |world: &World| means_in(world, None);
    assert_eq!(means_in(&plain, Some(true)), Isolation::BeyondRange);
    assert_eq!(means_in(&plain, Some(false)), Isolation::RangeLocked, "its end may be a low one");
    assert_eq!(means(&plain), Isolation::BeyondRange);
    assert_eq!(means(&strict), Isolation::RangeTooLow, "the meter does not reach so far");
    let finest = |world: &World| {
        let job = world.job().unwrap();
        job.proofs.sweeps_of(0).next().expect("swept").finding.threshold.clone()
    };
    assert_ne!(finest(&strict), finest(&plain), "a finer jump is looked for");
}
