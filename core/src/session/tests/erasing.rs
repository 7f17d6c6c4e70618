//! What is personal goes; the record says so, and what it stood for can still be read.

use super::bench::{Bench, new_job};
use crate::job::{Command, Job, Line, OPEN_MARK, OpenItem, Refusal, Stage};
use crate::record::{Details, Event};
use crate::session::{Erasing, Input, NewPhoto};

/// A closed job of Marlene Sturmvogel, put aside, and its line.
fn closed(bench: &mut Bench) -> Line {
    let details = Details {
        customer: "Marlene Sturmvogel".into(),
        plate: "ZZ-QX 404".into(),
        phone: "0000 112233".into(),
        vin: "ZZZEVENW1RE000042".into(),
        ..Details::default()
    };
    bench.done(Command::NewJob { order: "W-2041".into(), vehicle: "Kombi".into(), details });
    let id = bench.session.job().unwrap().id;
    bench.say(id, &Event::JobFinished {});
    bench.start_again();
    let line = bench.session.job().unwrap().line(bench.session.details());
    assert_eq!((line.stage, line.customer.as_str()), (Stage::Done, "Marlene Sturmvogel"));
    line
}

#[test]
fn a_closed_job_loses_its_details_on_the_bench_and_keeps_its_record() {
    let mut bench = Bench::new();
    let line = closed(&mut bench);
    bench.done(Command::EraseDetails { job: line.job });
    assert_eq!(bench.session.details(), &Details::default());
    assert!(bench.session.job().unwrap().erased.is_some());
    assert_eq!(bench.entries.last().unwrap().entry().kind, "details-erased");
    assert_eq!(bench.erased, [line.job], "the store is told which details and photos go");
    let after = bench.lines[&line.job].clone();
    assert_eq!((after.customer.as_str(), after.vehicle.as_str(), after.erased), ("", "", true));
    for gone in ["sturmvogel", "000042", "kombi", "zz-qx404", "zzqx404", "0000112233"] {
        assert!(line.search.contains(gone) && !after.search.contains(gone), "{gone}");
    }
    assert!(after.search.contains("w-2041"), "it is still found by its order");
    // Made anew from the entries it is the same line, whatever details somebody might hand in.
    let anew = Job::from_entries(&bench.of_job(line.job)).unwrap();
    assert_eq!(anew.line(&Details { customer: "Marlene".into(), ..Details::default() }), after);
    let written = bench.entries.len();
    bench.done(Command::EraseDetails { job: line.job });
    assert_eq!(bench.entries.len(), written, "once more writes nothing");
    assert_eq!(bench.erased.len(), 2, "and takes out what may have been left behind");
}

#[test]
fn a_job_that_is_open_or_unknown_keeps_its_details() {
    let mut bench = Bench::new();
    bench.done(new_job("4711"));
    let job = bench.session.job().unwrap().id;
    assert_eq!(bench.wish(Command::EraseDetails { job }), Some(Refusal::NotClosed));
    bench.done(Command::LeaveJob);
    assert_eq!(bench.wish(Command::EraseDetails { job }), Some(Refusal::NotClosed));
    let nobody = uuid::Uuid::from_u128(9);
    assert_eq!(bench.wish(Command::EraseDetails { job: nobody }), Some(Refusal::NoSuchJob));
    assert!(bench.erased.is_empty());
}

#[test]
fn what_is_old_goes_whether_or_not_it_was_closed_but_not_what_lies_open_on_the_bench() {
    let mut bench = Bench::new();
    let closed = closed(&mut bench);
    bench.done(Command::LeaveJob);
    bench.done(new_job("left behind"));
    let left = bench.session.job().unwrap().id;
    bench.done(Command::LeaveJob);
    bench.done(new_job("on the bench"));
    let there = bench.session.job().unwrap().id;
    let day = crate::unit::Day::parse("2999-01-01").unwrap();
    let lines = bench.lines.values().cloned().collect();
    assert_eq!(bench.input(Input::Collected(Erasing::OpenedBefore(day), lines)), None);
    let erased = std::collections::BTreeSet::from_iter(bench.erased.iter().copied());
    assert_eq!(erased, [closed.job, left].into());
    assert!(!bench.lines[&there].erased && bench.session.job().unwrap().erased.is_none());
    for months in [0, 1_201, u16::MAX] {
        assert_eq!(bench.wish(Command::EraseOlder { months }), Some(Refusal::NothingToErase), "{months}");
    }
    assert_eq!(bench.wish(Command::EraseOlder { months: 12 }), Some(Refusal::NothingToErase), "none is that old");
}

#[test]
fn a_line_says_what_is_open_and_is_found_by_it_and_by_its_day() {
    let mut bench = Bench::new();
    bench.done(new_job("4711"));
    let line = bench.lines.values().next().unwrap().clone();
    assert_eq!(line.open, [OpenItem::NotClosed].into());
    let day = line.opened.as_str()[..10].to_owned();
    let german: Vec<&str> = day.rsplit('-').collect();
    for word in [&day, &german.join("."), "offen", "not closed", OPEN_MARK] {
        assert!(line.search.contains(word), "{word} in {:?}", line.search);
    }
    let job = bench.session.job().unwrap().id;
    bench.say(job, &Event::JobFinished {});
    bench.start_again();
    let line = bench.session.job().unwrap().line(&Details::default());
    assert!(line.open.is_empty() && !line.search.contains(OPEN_MARK));
}

/// A job that went by its age may be open still: nothing personal comes to it any more.
#[test]
fn no_photo_is_kept_of_a_job_whose_details_were_erased() {
    let mut bench = Bench::measuring();
    let job = bench.session.job().unwrap().id;
    let photo = |jpeg: &[u8]| Input::Photo(NewPhoto { job, step: None, width: 4, height: 3, jpeg: jpeg.to_vec() });
    assert_eq!(bench.input(photo(b"one")), None);
    bench.say(job, &Event::DetailsErased {});
    bench.start_again();
    assert_eq!(bench.input(photo(b"another")), Some(Refusal::Erased));
    assert_eq!(bench.session.job().unwrap().photos.len(), 1);
}
