//! What was compared, judged and signed does not outlive the readings it was made of.

use super::acts::PEOPLE;
use super::books::BOOKS;
use super::holes::{COIL, DOOR, again, at, begin, finish, follows, go_on, tick};
use super::world::{World, pin_of};
use crate::job::{Command, Refusal};
use crate::procedure::{StepKind, built_in};
use crate::record::{Alike, Done};
use crate::session::tests::bench::{Face, spec};
use crate::work::{How, StepAct, StepEntry, StepRefusal};

/// The coil's procedure with a step changed, under an id of its own, come to a step.
fn changed(from: &str, to: &str, step: &str) -> World {
    let (_, text) = built_in()[COIL];
    assert!(text.contains(from), "{from}");
    let id = format!("{}-own", BOOKS[COIL].id);
    let own = text.replace(BOOKS[COIL].id, &id).replacen(from, to, 1);
    let mut world = World::new(7);
    assert_eq!(world.wish(Command::KeepProcedure { text: own }), None);
    with_one_meter(follows(world, &id, "zero"), step)
}

/// Goes on to a step with one meter that sends, for everything that is read.
fn with_one_meter(mut world: World, step: &str) -> World {
    world.leaves_out = false;
    world.connect();
    assert_eq!(world.wish(Command::DescribeMeter { spec: spec("bench meter 2") }), None);
    go_on(&mut world, step);
    assert!(!world.job().unwrap().is_typed() && world.session.settler().is_some(), "it sends");
    world
}

fn refused(refusal: StepRefusal) -> Option<Refusal> {
    Some(Refusal::Step { refusal })
}

fn step_now(world: &World) -> String {
    world.job().unwrap().step_now(&world.now()).expect("something is to be done").id.clone()
}

fn alike(world: &World, step: &str) -> Alike {
    match &world.job().unwrap().work.as_ref().unwrap().state(step).expect("done").how {
        How::Done(done) => match done.done {
            Done::Compared { alike } => alike,
            ref other => panic!("{other:?}"),
        },
        How::Skipped(why) => panic!("{why}"),
    }
}

fn waits(world: &World) -> Vec<String> {
    world.job().unwrap().work.as_ref().unwrap().waits_for_second().map(str::to_owned).collect()
}

fn is_done(world: &World, step: &str) -> bool {
    world.job().unwrap().work.as_ref().unwrap().state(step).is_some()
}

/// Watches a conductor; `drops_out` opens it in the middle.
fn sweep(world: &mut World, conductor: u32, drops_out: bool) {
    let open = world.job().unwrap().work.as_ref().unwrap().open_step().expect("a step that sweeps");
    let StepKind::Sweep(sweeping) = &open.kind else { panic!("{open:?}") };
    let plan = sweeping.plan;
    assert_eq!(world.wish(Command::Sweep { conductor, plan }), None);
    world.show(Face::Over, 4);
    world.show(Face::Ohm(33), 30);
    world.show(if drops_out { Face::Over } else { Face::Ohm(33) }, 6);
    world.show(Face::Ohm(33), 30);
    assert_eq!(world.wish(Command::EndSweep), None);
}

/// Zeroes the clips at what the meter shows, hundredths of an ohm.
fn zero(world: &mut World, hundredths: i32) {
    assert_eq!(world.wish(Command::ZeroLeads), None);
    world.show(Face::Over, 4);
    world.show(Face::Ohm(hundredths), 11);
}

fn other_meter(world: &mut World, label: &str) {
    assert_eq!(world.wish(Command::UseTypedMeter { spec: spec(label) }), None);
}

/// The comparison is of readings at rest; the drop-out comes with the sweep after it.
#[test]
fn a_comparison_that_comes_out_worse_since_is_made_again_before_the_verdict_is_signed_and_asks_for_a_second() {
    let compare = "kind = \"compare\"\ngroup = \"squib\"\n";
    let mut world = changed(compare, &format!("{compare}known_good = true\n"), "sweep-squib");
    assert_eq!((alike(&world, "compare-squib"), waits(&world)), (Alike::All, vec![]));
    begin(&mut world, "sweep-squib");
    (0..4).for_each(|conductor| sweep(&mut world, conductor, conductor == 2));
    assert_eq!(finish(&mut world, "sweep-squib", StepEntry::Tick), None);
    assert_eq!(step_now(&world), "compare-squib", "it leads back there");
    go_on_to_the_verdict(&mut world);
    let first = refused(StepRefusal::CompareFirst { step: "compare-squib".into() });
    assert_eq!(world.at_step("verdict", StepAct::Begin), first);
    assert_eq!(alike(&world, "compare-squib"), Alike::All, "nothing changed");
    tick(&mut world, "compare-squib");
    assert_eq!(alike(&world, "compare-squib"), Alike::NotAll);
    assert_eq!(waits(&world), ["compare-squib"], "the part is not shown to be alike any more");
    begin(&mut world, "verdict");
    assert_eq!(finish(&mut world, "verdict", StepEntry::Sign { outcome: None }), None);
}

/// Whatever lies between the sweep and the verdict.
fn go_on_to_the_verdict(world: &mut World) {
    begin(world, "zero-again");
    zero(world, 21);
    assert_eq!(finish(world, "zero-again", StepEntry::Tick), None);
}

#[test]
fn who_signs_second_signs_no_comparison_that_comes_out_worse_since() {
    let compare = "kind = \"compare\"\ngroup = \"squib\"\n";
    let mut world = changed(compare, &format!("{compare}sign_off = \"second\"\n"), "sweep-squib");
    assert_eq!(waits(&world), ["compare-squib"]);
    begin(&mut world, "sweep-squib");
    sweep(&mut world, 2, true);
    let job = world.job().unwrap().id;
    let seen = world.doing_of("compare-squib");
    let (person, step) = (PEOPLE[2], "compare-squib".to_owned());
    let sign = Command::SignStep { job, step: step.clone(), seen, person, pin: pin_of(person) };
    assert_eq!(world.wish(sign), refused(StepRefusal::CompareFirst { step }));
    assert_eq!(waits(&world), ["compare-squib"]);
}

#[test]
fn a_repair_that_a_later_sweep_gives_the_lie_is_not_closed_as_repaired_before_it_was_compared_again() {
    use crate::record::Outcome;
    let mut world = with_one_meter(at(DOOR, "zero"), "sweep-2");
    begin(&mut world, "sweep-2");
    sweep(&mut world, 1, true);
    begin(&mut world, "close");
    let entry = StepEntry::Sign { outcome: Some(Outcome::Repaired) };
    let group = world.job().unwrap().compared_otherwise();
    assert_eq!(group, ["compare-signal-2"], "the newest of its group, not the one before the repair");
    assert!(matches!(finish(&mut world, "close", entry), Some(StepRefusal::StillOpen { .. })), "steps are open, too");
    let entry = StepEntry::Sign { outcome: Some(Outcome::NotRepaired) };
    assert_eq!(finish(&mut world, "close", entry), None, "that it is not may be signed at any time");
}

/// The coil measured, and a zero at the end that moved too far.
pub(crate) fn with_a_zero_that_moved() -> World {
    let mut world = with_one_meter(at(COIL, "zero"), "zero-again");
    begin(&mut world, "zero-again");
    zero(&mut world, 60);
    world
}

/// The verdict was signed and gone on from; then the zero is looked at once more, and has moved.
#[test]
fn a_verdict_that_was_gone_on_from_does_not_outlive_a_zero_that_is_looked_at_again() {
    let rests = ["measure-squib", "measure-switch", "compare-squib", "compare-switch"];
    let mut world = with_one_meter(at(COIL, "zero"), "bars-back");
    begin(&mut world, "bars-back");
    again(&mut world, "zero-again");
    assert!(rests.iter().all(|step| is_done(&world, step)), "the zero alone says nothing yet");
    begin(&mut world, "zero-again");
    zero(&mut world, 60);
    assert!(!rests.iter().any(|step| is_done(&world, step)), "nothing is left of them");
    assert_eq!(finish(&mut world, "zero-again", StepEntry::Tick), Some(StepRefusal::ZeroMoved));
}

/// Everything that was read at the first zero is read at another one again, and only then the zero is looked at again.
#[test]
fn a_zero_that_moved_makes_what_was_measured_compared_and_judged_to_be_done_again() {
    let rests = ["measure-squib", "measure-switch", "compare-squib", "compare-switch"];
    assert!(rests.iter().all(|step| is_done(&with_one_meter(at(COIL, "zero"), "zero-again"), step)));
    let mut world = with_a_zero_that_moved();
    assert!(!rests.iter().any(|step| is_done(&world, step)), "nothing is left of them");
    assert!(is_done(&world, "isolation") && is_done(&world, "bars-open"), "and nothing else was touched");
    assert_eq!(finish(&mut world, "zero-again", StepEntry::Tick), Some(StepRefusal::ZeroMoved));
    let first = refused(StepRefusal::StepFirst { step: "compare-squib".into() });
    assert_eq!(world.at_step("verdict", StepAct::Begin), first);
    begin(&mut world, "measure-squib");
    assert_eq!(finish(&mut world, "measure-squib", StepEntry::Tick), Some(StepRefusal::Unread { missing: 12 }));
    go_on(&mut world, "zero-again");
    assert!(rests.iter().all(|step| is_done(&world, step)));
    begin(&mut world, "zero-again");
    let unread = Some(StepRefusal::Unread { missing: 1 });
    assert_eq!(
        finish(&mut world, "zero-again", StepEntry::Tick),
        unread,
        "the one that moved is not the one at the end"
    );
}

#[test]
fn another_meter_ends_a_verdict_and_its_second_signature_until_it_was_acted_on() {
    let with_second = "kind = \"sign\"\nsign_off = \"second\"\nrole";
    let signed = || {
        let mut world = changed("kind = \"sign\"\nrole", with_second, "verdict");
        begin(&mut world, "verdict");
        assert_eq!(finish(&mut world, "verdict", StepEntry::Sign { outcome: None }), None);
        world.sign("verdict", PEOPLE[2], pin_of(PEOPLE[2]));
        assert_eq!(waits(&world), Vec::<String>::new());
        world
    };
    let second = |world: &World| {
        let work = world.job().unwrap().work.as_ref().unwrap();
        work.state("verdict").map(|state| state.second.map(|second| second.person))
    };
    let mut world = signed();
    assert_eq!(second(&world), Some(Some(PEOPLE[2])));
    other_meter(&mut world, "another one");
    assert_eq!(second(&world), None, "there is no verdict any more, and nobody signed one");
    assert!(!is_done(&world, "measure-squib") && !is_done(&world, "compare-switch"));
    let measured = refused(StepRefusal::StepFirst { step: "compare-squib".into() });
    assert_eq!(world.at_step("verdict", StepAct::Begin), measured);
    // The bars are put back on the strength of it: what was found out then was found out.
    let mut world = signed();
    tick(&mut world, "bars-back");
    other_meter(&mut world, "another one");
    assert_eq!(second(&world), Some(Some(PEOPLE[2])));
    assert!(is_done(&world, "measure-squib") && is_done(&world, "compare-switch"));
}

#[test]
fn the_newest_touch_goes_back_only_at_its_own_step() {
    let mut world = with_one_meter(at(COIL, "zero"), "measure-switch");
    begin(&mut world, "measure-switch");
    let standing = |world: &World| world.job().unwrap().standing(3).count();
    assert_eq!(standing(&world), 3);
    let touch = world.job().unwrap().newest_touch().unwrap().touch;
    assert_eq!(world.wish(Command::UndoTouch { touch }), refused(StepRefusal::Settled));
    assert_eq!(standing(&world), 3, "the step of the airbag conductors is done");
}

/// On another screen the step is done again while somebody looks at it here.
#[test]
fn a_second_person_signs_only_what_was_seen() {
    let mut world = at(COIL, "candidate");
    let choose = |world: &mut World, number: &str| {
        begin(world, "candidate");
        let (number, origin, from) = (number.into(), crate::procedure::Origin::New, "dealer".into());
        assert_eq!(finish(world, "candidate", StepEntry::Part { number, origin, from }), None);
    };
    choose(&mut world, "OR3-1187");
    let (job, person, pin) = (world.job().unwrap().id, PEOPLE[2], pin_of(PEOPLE[2]));
    let seen = world.doing_of("candidate");
    let sign = |seen| Command::SignStep { job, step: "candidate".into(), seen, person, pin: pin.clone() };
    again(&mut world, "candidate");
    assert_eq!(world.wish(sign(seen)), refused(StepRefusal::NothingToSign));
    choose(&mut world, "another number");
    assert_eq!(world.wish(sign(seen)), refused(StepRefusal::SeenOtherwise), "and not a wrong PIN");
    assert_eq!(waits(&world), ["candidate"]);
    assert_eq!(world.wish(sign(world.doing_of("candidate"))), None);
    assert_eq!(waits(&world), Vec::<String>::new());
}
