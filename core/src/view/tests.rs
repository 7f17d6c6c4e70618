//! What a screen is told: never an old number, never a pass that is none, and a word for everything.

mod handed;
pub(crate) mod people;
mod proving;

use super::words::{MeterCode, meter_words, problem_words, state_word};
use super::*;
use crate::caution::Caution;
use crate::job::{Command, FileMistake, HandRefusal, Refusal, RosterRefusal, Stage};
use crate::meter::link::{LinkState, RefusedWhy, Source};
use crate::part::{EndRefused, PartProblem};
use crate::record::{Conditions, Details, Event, Head};
use crate::session::tests::bench::{Bench, Face, conditions, spec};
use crate::verdict::cases::judged;
use crate::verdict::written::Judgement;
use crate::verdict::{Code, ConductorState};
use proptest::prelude::*;
use std::collections::BTreeSet;

const PUBLIC: &str = include_str!("../../../tests/data/cases-public.jsonl");
const BOTH: [Language; 2] = [Language::En, Language::De];

fn view(bench: &Bench) -> View {
    of(&bench.session, &bench.time())
}

fn measure(bench: &Bench) -> MeasureView {
    view(bench).bench.expect("a job").measure.expect("a part")
}

// --- the live number ---

fn any_face() -> impl Strategy<Value = Face> {
    prop_oneof![
        3 => (-3i32..60).prop_map(Face::Ohm),
        2 => Just(Face::Over),
        1 => (20i32..60).prop_map(Face::LowBattery),
        1 => (20i32..60).prop_map(Face::Volt),
        1 => Just(Face::Garbage),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Over any stream and any silence: a number is shown only if the newest frame held it, and not for long.
    #[test]
    fn an_old_or_unreadable_number_is_never_shown(
        steps in prop::collection::vec((any_face(), 1usize..4, 0u64..4_000, any::<bool>()), 1..25)
    ) {
        let mut bench = Bench::measuring();
        for (face, times, silence, lose) in steps {
            (0..times).for_each(|_| bench.show(face));
            let meter = view(&bench).meter;
            let readable = !matches!(face, Face::Volt(_) | Face::Garbage);
            prop_assert_eq!(meter.display.is_some(), readable && bench.session.settler().is_some());
            prop_assert_eq!(meter.live, meter.display.is_some());
            if let (Face::Ohm(n), Some(display)) = (face, &meter.display) {
                let shown = crate::unit::Quantity::new(n.into(), 2, crate::unit::Unit::Ohm).unwrap().to_string();
                prop_assert_eq!((display.text.as_str(), display.unit.as_str()), (shown.as_str(), "Ω"));
            }
            if let (Face::Over, Some(display)) = (face, &meter.display) {
                prop_assert_eq!((display.text.as_str(), display.unit.as_str()), ("OL", ""));
            }
            bench.now += silence;
            let period = bench.session.settler().map_or(200, |s| s.period().0);
            let meter = view(&bench).meter;
            if silence > (3 * period).max(400) {
                prop_assert!(meter.display.is_none() && !meter.live);
                prop_assert_ne!(meter.code.as_str(), "live");
                prop_assert!(!measure(&bench).contact.can_take_over_range && !measure(&bench).contact.can_take_as_it_is);
                prop_assert_eq!(measure(&bench).contact.state, "off");
            }
            prop_assert!(meter.display.is_none_or(|d| d.age_ms.0 <= (3 * period).max(400)));
            if lose {
                bench.lose();
                prop_assert!(view(&bench).meter.display.is_none());
                bench.reach(Source::Radio, None);
                prop_assert!(view(&bench).meter.display.is_none(), "nothing came through the new connection yet");
            }
        }
    }
}

#[test]
fn keys_are_offered_exactly_when_they_would_be_obeyed() {
    let mut bench = Bench::measuring();
    bench.hold(Face::Over, 600);
    assert!(!measure(&bench).contact.can_take_over_range);
    bench.hold(Face::Over, 2_000);
    assert!(measure(&bench).contact.can_take_over_range);
    assert!(measure(&bench).contact.over_range_words.contains("only you can tell"));
    let short = crate::job::MeterSpecEntry { top: "600".into(), ..spec("bench meter 2") };
    bench.done(Command::DescribeMeter { spec: short });
    bench.hold(Face::Over, 2_000);
    assert!(!measure(&bench).contact.can_take_over_range, "above range is not open");
    assert!(measure(&bench).contact.over_range_words.contains("1000 Ω"));
    assert_eq!(bench.wish(Command::TakeOverRange), Some(Refusal::AboveRange));
    bench.done(Command::DescribeMeter { spec: spec("bench meter 2") });
    for turn in 0..40 {
        bench.show(Face::Ohm(35 + 6 * (turn % 2)));
    }
    assert!(measure(&bench).contact.can_take_as_it_is);
    bench.done(Command::TakeAsItIs);
    assert_eq!(measure(&bench).contact.state, "taken");
    bench.done(Command::ChooseConductor { conductor: 3 });
    assert_eq!(measure(&bench).contact.state, "lift", "nothing was taken for this one");
}

// --- words for everything ---

fn links() -> Vec<LinkState> {
    use LinkState::*;
    let why = [RefusedWhy::Connection, RefusedWhy::NoServices, RefusedWhy::NoReadableValue, RefusedWhy::Notifications];
    let plain = [
        Idle,
        NoBluetooth,
        NoAdapter,
        AdapterOff,
        NoPermission,
        Searching,
        Connecting,
        Discovering,
        Subscribed,
        Lost { attempt: 1, retry_ms: 500 },
        GaveUp,
    ];
    plain.into_iter().chain(why.map(|why| Refused { why })).collect()
}

#[test]
fn every_state_of_link_and_meter_has_its_code_and_words_in_both_languages() {
    use MeterCode as M;
    let own = [M::Live, M::Stale, M::WrongUnit, M::StepUnknown, M::Unreadable, M::LowBattery, M::Hold];
    let all: Vec<M> = own.into_iter().chain(links().into_iter().map(M::Link)).collect();
    let (mut codes, mut said) = (BTreeSet::new(), BTreeSet::new());
    for code in &all {
        codes.insert(code.code());
        let [en, de] = BOTH.map(|language| meter_words(*code, language));
        assert!(!en.0.is_empty() && !de.0.is_empty(), "{code:?}");
        assert_eq!(en.1.is_some(), de.1.is_some(), "{code:?}");
        if *code != M::Live {
            assert_ne!(en.0, de.0, "{code:?}");
        }
        assert!(said.insert(en.0), "{code:?} sounds like another");
    }
    // The four refusals of a link share their code; their words differ.
    assert_eq!(codes.len(), all.len() - 3);
}

fn refusals() -> Vec<Refusal> {
    use Refusal::*;
    let text = str::to_owned;
    let ends = [
        EndRefused::Inflator,
        EndRefused::Tensioner,
        EndRefused::ControlUnit,
        EndRefused::Unknown,
        EndRefused::SamePlug,
        EndRefused::NoConductor,
        EndRefused::DrawnOnly,
    ];
    let fields = [
        "order",
        "vehicle",
        "to",
        "customer",
        "phone",
        "plate",
        "vin",
        "technician",
        "complaint",
        "label",
        "opened",
        "name",
        "role",
        "address",
        "logo",
    ];
    let numbers = [
        "step",
        "top",
        "accuracy_percent",
        "accuracy_counts",
        "temperature",
        "resistor",
        "tolerance_percent",
        "reading",
    ];
    let mistake = FileMistake { line: 3, column: 9, what: text("unknown kind"), instead: text("a kind of step") };
    let plain = [
        NoJob,
        NoSuchJob,
        CorrectedTooOften,
        Erased,
        OrderMissing,
        CautionFirst { caution: Caution::C0 },
        PartFirst,
        PartWrong { problems: Vec::new() },
        PartMeasured,
        TemplateName,
        NoSuchMeter,
        MeterFirst,
        MeterUnknown,
        TestCurrent,
        NoSuchConductor,
        NothingToTake,
        NotOverRange,
        AboveRange,
        Stale,
        NothingToUndo,
        NewerTouch,
        NothingMeasured,
        VerdictFirst,
        VerdictGiven,
        OtherMeter,
        Finished,
        NotClosed,
        NothingToErase,
        BenchTaken,
        Day { field: text("calibration_due") },
        SweepPlan,
        SameConductor,
        BarFirst { a: 0, b: 1 },
        NothingAside,
        NothingSwept,
        NoSuchReading,
        RadioNeeded,
        NotTyped,
        FinerThanStep { step: text("0.01") },
        StepUnlikeDisplay { step: text("0.05"), shown: text("0.22") },
        NothingToCompareWith,
        ByProcedure,
        TooManyPhotos,
        NoPhoto,
        NoCode,
        NoSuchPhoto,
        ProcedureWrong { mistakes: vec![mistake] },
        ProcedureLooser { looser: text("the wait of step wait is weaker") },
        ProcedureVersion { known: 3 },
        NewerProgram,
        Step { refusal: crate::work::StepRefusal::DoerUnknown },
        Step { refusal: crate::work::StepRefusal::DoerNameless },
    ];
    let number = |field: &&str| [true, false].map(|ambiguous| Number { field: text(field), ambiguous });
    let mut all = plain.to_vec();
    let roster = [
        RosterRefusal::NoSuchPerson,
        RosterRefusal::Removed,
        RosterRefusal::NameMissing,
        RosterRefusal::NameTaken,
        RosterRefusal::Full,
        RosterRefusal::PinShape,
        RosterRefusal::PinWrong { left: 3 },
        RosterRefusal::Locked { left_s: 75 },
        RosterRefusal::AuthorApproves,
        RosterRefusal::OtherVersion { known: 4 },
        RosterRefusal::Approved,
    ];
    all.extend(roster.map(|refusal| Roster { refusal }));
    let hands = [
        HandRefusal::Away { to: text("the late shift") },
        HandRefusal::Away { to: String::new() },
        HandRefusal::NotAway,
        HandRefusal::NoKey,
        HandRefusal::KeyAway,
        HandRefusal::File { what: text("photos/ab.jpg is not the file that was signed") },
        HandRefusal::NewerFile,
        HandRefusal::NotReleased,
        HandRefusal::Here,
        HandRefusal::Parted,
        HandRefusal::Taken { by: text("Bench 2") },
    ];
    all.extend(hands.map(|refusal| Hand { refusal }));
    all.extend(ends.map(|why| End { why }));
    all.extend(fields.map(|field| TooLong { field: text(field) }));
    all.extend(numbers.iter().flat_map(number));
    all
}

/// A new refusal does not compile before it stands here; then it belongs into the list above.
fn code_of(refusal: &Refusal) -> &'static str {
    match refusal {
        Refusal::NoJob => "no-job",
        Refusal::NoSuchJob => "no-such-job",
        Refusal::CorrectedTooOften => "corrected-too-often",
        Refusal::Erased => "erased",
        Refusal::OrderMissing => "order-missing",
        Refusal::TooLong { .. } => "too-long",
        Refusal::CautionFirst { .. } => "caution-first",
        Refusal::PartFirst => "part-first",
        Refusal::PartWrong { .. } => "part-wrong",
        Refusal::PartMeasured => "part-measured",
        Refusal::TemplateName => "template-name",
        Refusal::NoSuchMeter => "no-such-meter",
        Refusal::MeterFirst => "meter-first",
        Refusal::MeterUnknown => "meter-unknown",
        Refusal::Number { .. } => "number",
        Refusal::TestCurrent => "test-current",
        Refusal::NoSuchConductor => "no-such-conductor",
        Refusal::End { .. } => "end",
        Refusal::NothingToTake => "nothing-to-take",
        Refusal::NotOverRange => "not-over-range",
        Refusal::AboveRange => "above-range",
        Refusal::Stale => "stale",
        Refusal::NothingToUndo => "nothing-to-undo",
        Refusal::NewerTouch => "newer-touch",
        Refusal::NothingMeasured => "nothing-measured",
        Refusal::VerdictFirst => "verdict-first",
        Refusal::VerdictGiven => "verdict-given",
        Refusal::OtherMeter => "other-meter",
        Refusal::NewerProgram => "newer-program",
        Refusal::Finished => "finished",
        Refusal::NotClosed => "not-closed",
        Refusal::NothingToErase => "nothing-to-erase",
        Refusal::BenchTaken => "bench-taken",
        Refusal::Day { .. } => "day",
        Refusal::SweepPlan => "sweep-plan",
        Refusal::SameConductor => "same-conductor",
        Refusal::BarFirst { .. } => "bar-first",
        Refusal::NothingAside => "nothing-aside",
        Refusal::NothingSwept => "nothing-swept",
        Refusal::NoSuchReading => "no-such-reading",
        Refusal::RadioNeeded => "radio-needed",
        Refusal::NotTyped => "not-typed",
        Refusal::FinerThanStep { .. } => "finer-than-step",
        Refusal::StepUnlikeDisplay { .. } => "step-unlike-display",
        Refusal::NothingToCompareWith => "nothing-to-compare-with",
        Refusal::ByProcedure => "by-procedure",
        Refusal::TooManyPhotos => "too-many-photos",
        Refusal::NoPhoto => "no-photo",
        Refusal::NoCode => "no-code",
        Refusal::NoSuchPhoto => "no-such-photo",
        Refusal::ProcedureWrong { .. } => "procedure-wrong",
        Refusal::ProcedureLooser { .. } => "procedure-looser",
        Refusal::ProcedureVersion { .. } => "procedure-version",
        Refusal::Step { .. } => "step",
        Refusal::Roster { .. } => "roster",
        Refusal::Hand { .. } => "hand",
    }
}

#[test]
fn every_refusal_says_why_and_what_to_do_in_both_languages() {
    let (mut codes, mut said) = (BTreeSet::new(), BTreeSet::new());
    for refusal in refusals() {
        let [en, de] = BOTH.map(|language| refusal_notice(&refusal, language));
        assert_eq!((en.code.as_str(), de.code.as_str()), (code_of(&refusal), code_of(&refusal)));
        for (en, de) in [(&en.words, &de.words), (&en.remedy, &de.remedy)] {
            assert!(!en.is_empty() && !de.is_empty() && en != de, "{refusal:?}: {en} / {de}");
        }
        assert!(!en.words.contains("This cannot be done now"), "{refusal:?} has no words of its own");
        let begins = |words: &str| words.starts_with(char::is_uppercase) || words.starts_with('„');
        assert!(begins(&en.words) && begins(&de.words), "{refusal:?}: a field has no name: {}", en.words);
        assert!(said.insert((en.words.clone(), de.words)), "{refusal:?} sounds like another: {}", en.words);
        codes.insert(en.code);
    }
    assert_eq!(codes.len(), 56);
}

#[test]
fn every_problem_of_a_part_has_its_sentence() {
    let place = |place: &str| place.to_owned();
    let mut all = vec![
        PartProblem::NameTwice { place: place("connector"), index: 0 },
        PartProblem::Face { index: 0 },
        PartProblem::NoSuchCavity { index: 0 },
        PartProblem::SameCavity { index: 0 },
        PartProblem::EndsDisagree { index: 0 },
        PartProblem::TouchesWanted,
        PartProblem::Limit { index: None },
        PartProblem::Bar { index: 0 },
    ];
    all.extend(["part", "connector", "conductor", "group"].map(|p| PartProblem::Name { place: place(p), index: 0 }));
    all.extend(["connector", "conductor"].map(|p| PartProblem::Count { place: place(p) }));
    let ends = [EndRefused::Inflator, EndRefused::Tensioner, EndRefused::ControlUnit, EndRefused::Unknown];
    all.extend(ends.map(|why| PartProblem::End { index: 0, why }));
    let mut said = BTreeSet::new();
    for problem in &all {
        let [en, de] = BOTH.map(|language| problem_words(problem, language));
        assert!(!en.is_empty() && en != de, "{problem:?}");
        assert!(said.insert(en), "{problem:?} sounds like another");
    }
}

#[test]
fn every_finding_has_its_mark_and_word() {
    let verdict = judged(PUBLIC.lines().next().unwrap()).unwrap().unwrap();
    let mut one = Judgement::write(&verdict, &[0, 1, 2, 3]).conductors.remove(0);
    let mut marks = Vec::new();
    use ConductorState as S;
    for state in [S::Consistent, S::High, S::Low, S::Open, S::Unstable, S::Undecided] {
        one.state = state;
        marks.push(ladder::mark_of(&one));
    }
    one.codes.insert(Code::NotMeasured);
    marks.push(ladder::mark_of(&one));
    // A finding that waits for a second touch is not condemned yet.
    one.codes.clear();
    one.provisional = Some(S::High);
    assert_eq!(ladder::mark_of(&one), Mark::Undecided);
    let words: BTreeSet<_> = marks.iter().map(|m| BOTH.map(|l| state_word(*m, l))).collect();
    assert_eq!(words.len(), 7, "{words:?}");
    assert!(words.iter().all(|[en, de]| !en.is_empty() && en != de));
}

#[test]
fn cautions_are_told_in_both_languages() {
    for caution in Caution::ALL {
        let [en, de] = BOTH.map(|language| caution.text(language));
        assert!(en.len() > 40 && de.len() > 40 && en != de);
    }
}

// --- verdicts ---

/// The job of the case on this line: its conductors in the groups it names, its verdict as judged.
fn job_of(line: &str) -> Option<Job> {
    let case: serde_json::Value = serde_json::from_str(line).unwrap();
    let verdict = judged(line).unwrap()?;
    let conductors = case["conductors"].as_array().unwrap().iter().zip(0u8..).map(|(c, index)| {
        let plain = crate::session::tests::bench::conductor(index, crate::part::AtEnd::OpenPlug);
        crate::part::Conductor { group: c["group"].as_str().map(str::to_owned), ..plain }
    });
    let part = Part { conductors: conductors.collect(), ..crate::session::tests::bench::coil() };
    let indices: Vec<u32> = (0u32..).take(verdict.conductors.len()).collect();
    let judgement = Judgement::write(&verdict, &indices);
    let events = [
        Event::JobOpened { order: "1".into(), vehicle: String::new(), personal: crate::record::Hash::ZERO },
        Event::PartDescribed { part },
        Event::Judged { judgement },
    ];
    let mut head = Head::empty(uuid::Uuid::nil());
    let entries: Vec<_> = events.iter().map(|event| head.seal(uuid::Uuid::nil(), draft(event))).collect();
    Job::from_entries(&entries)
}

fn draft(event: &Event) -> crate::record::Draft {
    let (kind, body) = event.parts();
    crate::record::Draft {
        id: uuid::Uuid::nil(),
        job: Some(uuid::Uuid::nil()),
        kind,
        version: Event::VERSION,
        elapsed_ms: crate::unit::Millis(1),
        wall: crate::unit::Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
        clock: crate::record::Clock::Ok,
        body,
    }
}

#[test]
fn the_public_cases_are_shown_as_what_they_are() {
    let mut seen = BTreeSet::new();
    for job in PUBLIC.lines().filter_map(job_of) {
        let [en, de] = BOTH.map(|language| verdict_of(&job, language).expect("a verdict"));
        seen.insert(en.kind);
        let passes =
            |words: &str| ["Alike at rest", "Gleich in Ruhe", "Within the limits"].iter().any(|p| words.contains(p));
        for shown in [&en, &de] {
            let all = || std::iter::once(&shown.headline).chain(&shown.sentences);
            assert!(!shown.headline.is_empty() && !shown.action.is_empty());
            assert!(all().all(|s| !s.is_empty() && !s.contains("{}")));
            if shown.kind != SetVerdict::Pass {
                assert!(!all().any(|s| passes(s)), "{:?}: {:?}", shown.kind, shown.sentences);
            }
            for ladder in &shown.ladders {
                let at = ladder
                    .rungs
                    .iter()
                    .flat_map(|r| r.at.into_iter().chain(r.bar.into_iter().flat_map(|(a, b)| [a, b])));
                let band = ladder.band.iter().flat_map(|b| [b.from, b.reference, b.to]);
                let touches = ladder.rungs.iter().flat_map(|r| r.touches.clone());
                let ticks = ladder.ticks.iter().map(|t| t.at);
                assert!(at.chain(band).chain(touches).chain(ticks).all(|place| place <= 1_000));
            }
        }
        assert_ne!(en.headline, de.headline);
        assert_ne!(en.action, de.action);
        assert_ne!(en.stored, de.stored);
        let line = job_line(&job.line(&crate::record::Details::default()), Language::En);
        assert_eq!(passes(&line.words), en.kind == SetVerdict::Pass, "{}", line.words);
    }
    assert_eq!(seen.len(), 3, "all three verdicts came up");
}

#[test]
fn the_figures_that_condemn_are_exact() {
    let job = job_of(PUBLIC.lines().next().unwrap()).expect("P001");
    let shown = verdict_of(&job, Language::En).unwrap();
    assert_eq!(shown.kind, SetVerdict::Fail);
    assert!(shown.headline.contains("Conductor 4"), "{}", shown.headline);
    let rungs = &shown.ladders[0].rungs;
    assert_eq!(rungs[3].difference, "+11.67 ± 0.15 Ω");
    assert_eq!(rungs[0].difference, "−0.03 ± 0.10 Ω");
    assert_eq!((rungs[3].mark, rungs[0].mark), (Mark::High, Mark::Consistent));
}

#[test]
fn figures_are_rounded_half_away_from_nothing() {
    let rounded = |text: &str, places: u8| {
        let figure = crate::unit::Figure::try_from(text.to_owned()).unwrap();
        ladder::rounded(&figure, places).to_string()
    };
    for (text, places, want) in [
        ("11.666667", 2, "11.67"),
        ("0.145577", 2, "0.15"),
        ("0.125000", 2, "0.13"),
        ("-0.125000", 2, "-0.13"),
        ("0.124999", 2, "0.12"),
        ("-0.004000", 2, "0.00"),
        ("0.999999", 0, "1"),
        ("0.333333", 6, "0.333333"),
        ("0.333333", 9, "0.333333"),
    ] {
        assert_eq!(rounded(text, places), want, "{text} to {places}");
    }
    let huge = format!("{}.000000", "9".repeat(30));
    assert!(!rounded(&huge, 2).is_empty(), "a damaged file does no harm");
}

#[test]
fn a_verdict_that_does_not_hold_any_more_is_not_told_in_the_list() {
    let mut bench = Bench::measuring();
    while bench.session.announced().is_some() {
        bench.clip(35);
    }
    bench.done(Command::Judge);
    let line = |bench: &Bench| {
        let job = bench.session.job().unwrap();
        job_line(&job.line(bench.session.details()), Language::En)
    };
    assert_eq!(line(&bench).verdict, Some(SetVerdict::Pass));
    assert!(line(&bench).words.starts_with("Alike at rest"));
    assert_eq!(bench.session.job().unwrap().stage(), Stage::Verdict);
    let conditions = Conditions { bars_open: Some(false), ..conditions(true, None) };
    bench.done(Command::StateConditions { conditions });
    assert_eq!(line(&bench).verdict, None);
    assert!(!line(&bench).words.contains("Alike"), "{}", line(&bench).words);
    assert!(view(&bench).bench.unwrap().verdict.unwrap().outdated);
    bench.done(Command::Judge);
    assert!(line(&bench).verdict.is_some());
}

#[test]
fn what_stood_there_before_a_correction_is_told_with_until_when() {
    let mut bench = Bench::measuring();
    let job = bench.session.job().unwrap().id;
    let details = Details { plate: "ZZ-QX 404".into(), ..Details::default() };
    bench.done(Command::CorrectJob { job, order: "4799".into(), vehicle: "Blue estate".into(), details });
    let about = |bench: &Bench| view(bench).bench.unwrap().about;
    let told = about(&bench);
    assert_eq!((told.vehicle.as_str(), told.details.plate.as_str()), ("Blue estate", "ZZ-QX 404"));
    let fields: Vec<&str> = told.before.iter().map(|before| before.field.as_str()).collect();
    assert_eq!(fields, ["order", "plate"]);
    assert_eq!(told.before[1].text, "nothing");
    assert!(told.before.iter().all(|before| before.until.starts_with("until 20")), "{:?}", told.before);
    bench.done(Command::Speak { language: Language::De });
    let told = about(&bench).before;
    assert!(told[1].text == "nichts" && told[1].until.starts_with("bis 20"), "{told:?}");
}
