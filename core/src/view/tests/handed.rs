//! What a screen says of a job that goes from device to device.

use crate::caution::Caution;
use crate::job::Command;
use crate::record::Pin;
use crate::session::tests::bench::{Bench, coil, new_job};
use crate::session::tests::handed::{early, hand};
use crate::view;

#[test]
fn the_screen_says_what_is_unsafe_about_it_until_something_is_done() {
    let (mut early, job) = early();
    let mut late = Bench::of_device(22);
    let shown = |bench: &Bench| view::of(&bench.session, &bench.time()).bench.expect("a job").hand;
    assert!(shown(&early).may_release && shown(&early).away.is_empty());
    hand(&mut early, &mut late, job);
    assert!(shown(&early).away.contains("the late shift") && !shown(&early).back.is_empty());
    assert!(!shown(&early).may_release);
    let told = shown(&late).taken_over.join(" ");
    let key = early.key().public().fingerprint();
    assert!(told.contains("battery") && told.contains("bench meter 2") && told.contains(&key), "{told}");
    late.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
    assert!(!shown(&late).taken_over.is_empty());
    late.done(Command::DescribePart { part: coil() });
    assert!(shown(&late).taken_over.is_empty());
}

#[test]
fn of_a_procedure_it_says_that_nothing_is_safe_and_who_did_it() {
    let mut early = Bench::of_device(21);
    let pin = Pin::typed("4711");
    early.done(Command::AddPerson { name: "Jakob Specht".into(), pin: pin.clone(), role: String::new() });
    let (jakob, _) = early.session.roster().active().next().expect("added");
    early.done(new_job("4711"));
    let job = early.session.job().expect("a job").id;
    let procedure = "orrin-3-steering-coil".to_owned();
    early.done(Command::BeginProcedure { procedure, technician: Some(jakob), pin: Some(pin) });
    let mut late = Bench::of_device(22);
    hand(&mut early, &mut late, job);
    let told = view::of(&late.session, &late.time()).bench.expect("a job").hand.taken_over;
    assert!(told[0].contains("not safe") && told.iter().any(|line| line.contains("Jakob Specht")), "{told:?}");
}
