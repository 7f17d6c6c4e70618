//! A word that was mistyped is corrected, and what stood there stays to be seen.

use super::bench::*;
use crate::job::{Command, Refusal};
use crate::record::{Details, MAX_FIELD};
use crate::session::Signal;
use crate::verdict::SetVerdict;
use crate::work::StepRefusal;
use uuid::Uuid;

fn correct(bench: &Bench, order: &str, vehicle: &str, details: Details) -> Command {
    let job = bench.session.job().map_or(Uuid::nil(), |job| job.id);
    Command::CorrectJob { job, order: order.into(), vehicle: vehicle.into(), details }
}

fn customer(name: &str) -> Details {
    Details { customer: name.into(), ..Details::default() }
}

/// Field, and what stood there.
fn before(bench: &Bench) -> Vec<(String, String)> {
    let job = bench.session.job().expect("a job");
    let all = job.corrections(bench.session.details(), bench.session.earlier_details());
    all.into_iter().map(|correction| (correction.field.to_owned(), correction.before)).collect()
}

fn pairs(all: &[(&str, &str)]) -> Vec<(String, String)> {
    all.iter().map(|(field, text)| ((*field).to_owned(), (*text).to_owned())).collect()
}

#[test]
fn what_is_corrected_takes_the_place_of_what_was_and_both_are_kept() {
    let mut bench = Bench::new();
    bench.done(Command::NewJob { order: "4711".into(), vehicle: "Blue estate".into(), details: customer("Sturmvogl") });
    let opened = bench.entries.len();
    bench.done(correct(&bench, " 4712 ", "Blue estate", customer("Sturmvogel")));
    assert_eq!(bench.entries.len(), opened + 1);
    assert_eq!(bench.session.job().unwrap().order, "4712");
    assert_eq!(bench.session.details().customer, "Sturmvogel");
    assert_eq!(before(&bench), pairs(&[("order", "4711"), ("customer", "Sturmvogl")]));
    bench.done(correct(&bench, "4712", "", Details { plate: "ZZ-QX 404".into(), ..customer("Sturmvogel") }));
    let told = pairs(&[("order", "4711"), ("vehicle", "Blue estate"), ("customer", "Sturmvogl"), ("plate", "")]);
    assert_eq!(before(&bench), told);
    // The entries hold no name, neither the old one nor the new one.
    assert!(bench.entries.iter().all(|e| !String::from_utf8_lossy(e.bytes()).contains("Sturmvog")));
    // It is the same after the program was started again, and found by its new words.
    bench.start_again();
    assert_eq!(before(&bench), told);
    let line = bench.session.job().unwrap().line(bench.session.details());
    assert!(line.search.contains("4712") && line.search.contains("sturmvogel") && !line.search.contains("4711"));
    for typed in ["zz-qx 404", "zz-qx404", "zzqx404"] {
        assert!(line.search.contains(typed), "{typed}");
    }
    bench.check_nothing_is_lost();
}

#[test]
fn nothing_is_written_without_a_change_and_nothing_that_does_not_fit() {
    let mut bench = Bench::new();
    bench.done(Command::NewJob { order: "4711".into(), vehicle: String::new(), details: customer("Sturmvogel") });
    let entries = bench.entries.len();
    bench.done(correct(&bench, "4711 ", "", customer("Sturmvogel")));
    assert_eq!(bench.wish(correct(&bench, " ", "", customer("Sturmvogel"))), Some(Refusal::OrderMissing));
    let long = customer(&"x".repeat(MAX_FIELD + 1));
    assert_eq!(bench.wish(correct(&bench, "4711", "", long)), Some(Refusal::TooLong { field: "customer".into() }));
    let other = Command::CorrectJob {
        job: Uuid::from_u128(99),
        order: "1".into(),
        vehicle: String::new(),
        details: Details::default(),
    };
    assert_eq!(bench.wish(other), Some(Refusal::Step { refusal: StepRefusal::OtherJob }));
    assert_eq!(bench.entries.len(), entries);
    for number in 0..50 {
        bench.done(correct(&bench, &number.to_string(), "", customer("Sturmvogel")));
    }
    let once_more = correct(&bench, "once more", "", customer("Sturmvogel"));
    assert_eq!(bench.wish(once_more), Some(Refusal::CorrectedTooOften));
    bench.done(Command::LeaveJob);
    assert_eq!(bench.wish(correct(&bench, "1", "", Details::default())), Some(Refusal::NoJob));
}

/// A name is no reading: a verdict stands as it was given, and a closed job stays closed.
#[test]
fn a_closed_job_is_corrected_and_its_verdict_stands() {
    let mut bench = Bench::measuring();
    while bench.session.announced().is_some() {
        bench.clip(35);
    }
    assert!(bench.signals.contains(&Signal::Taken));
    bench.done(Command::Judge);
    bench.done(Command::Finish);
    let finished = bench.session.job().unwrap().finished.clone();
    bench.done(correct(&bench, "4713", "Blue estate", Details::default()));
    bench.start_again();
    let job = bench.session.job().unwrap();
    assert_eq!((job.order.as_str(), &job.finished), ("4713", &finished));
    let verdict = job.verdict.as_ref().unwrap();
    assert!(!verdict.outdated && verdict.judgement.set == SetVerdict::Pass);
}

#[test]
fn what_was_erased_stays_erased() {
    let mut bench = Bench::measuring();
    while bench.session.announced().is_some() {
        bench.clip(35);
    }
    bench.done(correct(&bench, "4712", "", customer("Sturmvogel")));
    bench.done(Command::Judge);
    bench.done(Command::Finish);
    let job = bench.session.job().unwrap().id;
    bench.done(Command::EraseDetails { job });
    assert!(before(&bench).iter().all(|(field, _)| field != "customer"), "{:?}", before(&bench));
    let again = correct(&bench, "4712", "", customer("Sturmvogel"));
    assert_eq!(bench.wish(again), Some(Refusal::Erased));
    bench.done(correct(&bench, "4799", "Blue estate", Details::default()));
    bench.start_again();
    let job = bench.session.job().unwrap();
    assert!(job.erased.is_some() && job.order == "4799");
    let line = job.line(bench.session.details());
    assert!(line.erased && line.customer.is_empty() && !line.search.contains("sturmvogel"), "{line:?}");
    bench.check_nothing_is_lost();
}
