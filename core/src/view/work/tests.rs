//! The words of a job that follows a procedure, at the moments that matter.

use crate::job::Command;
use crate::session::tests::bench::{Bench, new_job};
use crate::session::{Input, NewPhoto};
use crate::verdict::words::Language;
use crate::view::{Reply, StepCard, StepFields, View, WorkView, of, procedures, refusal_notice, step_card};
use crate::work::{StepAct, StepEntry, StepRefusal};
use uuid::Uuid;

const COIL: &str = "orrin-3-steering-coil";

fn view(bench: &Bench) -> View {
    of(&bench.session, &bench.time())
}

fn work(bench: &Bench) -> WorkView {
    *view(bench).bench.expect("a job").work.expect("a procedure")
}

fn card(bench: &Bench, step: &str) -> StepCard {
    match step_card(&bench.session, step, &bench.time()) {
        Reply::Step { card } => *card,
        other => panic!("{other:?}"),
    }
}

fn act(bench: &mut Bench, step: &str, act: StepAct) -> Option<crate::job::Refusal> {
    let job = bench.session.job().expect("a job").id;
    bench.wish(Command::AtStep { job, step: step.into(), act })
}

/// Begins a step and says that it is done.
fn take(bench: &mut Bench, step: &str, entry: StepEntry) {
    assert_eq!(act(bench, step, StepAct::Begin), None, "{step}");
    bench.photo(step);
    assert_eq!(act(bench, step, StepAct::Done { words: "seen".into(), entry }), None, "{step}");
}

fn codes(list: &str) -> StepEntry {
    StepEntry::Codes { list: list.into(), none_stored: false, no_scanner: false, lamp: None }
}

/// A job that follows the steering coil's procedure, up to the wait.
fn waiting() -> Bench {
    let mut bench = Bench::new();
    bench.done(new_job("4711"));
    bench.done(Command::BeginProcedure { procedure: COIL.into(), technician: None, pin: None });
    take(&mut bench, "identify", StepEntry::Tick);
    take(&mut bench, "before-scan", codes("B0001-13"));
    take(&mut bench, "wheels-straight", StepEntry::Tick);
    take(&mut bench, "cable-off", StepEntry::Tick);
    bench
}

#[test]
fn what_to_do_now_and_why_it_is_locked_stand_on_the_screen() {
    let mut bench = Bench::new();
    bench.done(new_job("4711"));
    let Reply::Procedures { lines } = procedures(&bench.session) else { panic!() };
    let coil = lines.iter().find(|line| line.procedure == COIL).expect("built in");
    assert!(coil.draft && coil.standing.contains("Draft: nobody but its author"), "{}", coil.standing);
    bench.done(Command::BeginProcedure { procedure: COIL.into(), technician: None, pin: None });
    let shown = work(&bench);
    assert_eq!((shown.steps[0].state.as_str(), shown.now.as_ref().unwrap().step.as_str()), ("now", "identify"));
    assert_eq!((shown.safe.state.as_str(), shown.safe.words.as_str()), ("on", "The cable is on."));
    assert_eq!(shown.safe.supply_key, "", "there is nothing it would end");
    let bag = card(&bench, "bag-off");
    assert_eq!((bag.state.as_str(), bag.done_key.as_str()), ("blocked", "It is off and safely away"));
    let needs: Vec<(&str, &str)> = bag.needs.iter().map(|n| (n.words.as_str(), n.title.as_str())).collect();
    assert_eq!(
        needs,
        [
            ("Has to be so first: The cable is off.", "Battery off, every source off"),
            ("Has to be so first: The whole wait is over.", "Wait"),
            ("Has to be so first: The supply is proven dead.", "Prove the supply dead"),
        ]
    );
    assert_eq!(bag.cautions.len(), 2, "before it can be begun");
    let refusal = act(&mut bench, "bag-off", StepAct::Begin).expect("refused");
    let notice = refusal_notice(&refusal, Language::De);
    assert_eq!(
        notice.words,
        "Zuerst muss gelten: Das Kabel ist ab. Die ganze Wartezeit ist um. Die Spannungsfreiheit ist festgestellt."
    );
}

#[test]
fn the_wait_is_told_each_second_and_aloud_at_four_of_them() {
    let mut bench = waiting();
    let shown = work(&bench);
    assert_eq!(shown.safe.state, "waiting");
    assert!(shown.safe.words.ends_with("Wait 181 s more."), "{}", shown.safe.words);
    assert_eq!(shown.safe.supply_key, "The cable was on again");
    assert_eq!(act(&mut bench, "wait", StepAct::Begin), None);
    let began = bench.now;
    let mut said = Vec::new();
    for second in 0..=182 {
        bench.now = began + second * 1_000;
        let wait = card(&bench, "wait");
        assert_eq!(wait.done_key, if second < 181 { "" } else { "The time is over" }, "no key says what is not so");
        let StepFields::Wait(wait) = wait.fields else { panic!() };
        assert_eq!(u64::from(wait.left_s), 181u64.saturating_sub(second));
        if !wait.announce.is_empty() && said.last() != Some(&wait.announce) {
            said.push(wait.announce);
        }
        assert_eq!(wait.state, if second < 181 { "counting" } else { "over" });
        let due = bench.session.wake_at(&bench.time()).map(|at| at.0);
        if second < 181 {
            let due = due.expect("the screen is told again");
            assert!(due > bench.now && due <= bench.now + 1_000, "{due} at {}", bench.now);
        }
    }
    assert_eq!(
        said,
        ["60 seconds to wait.", "30 seconds to wait.", "10 seconds to wait.", "The waiting time is over."]
    );
    let StepFields::Wait(wait) = card(&bench, "wait").fields else { panic!() };
    assert!(wait.words.contains("prove the supply dead next"), "over is not safe: {}", wait.words);
    assert!(wait.source.contains("Invented") && wait.source.ends_with("Never under two minutes."), "{}", wait.source);
}

#[test]
fn a_cable_that_was_on_again_is_told_with_its_time_until_all_is_done_anew() {
    let mut bench = waiting();
    let job = bench.session.job().unwrap().id;
    bench.done(Command::SupplyWasOn { job });
    let shown = work(&bench);
    assert_eq!((shown.safe.state.as_str(), shown.safe.words.as_str()), ("doubt", "Not safe any more."));
    assert!(shown.safe.lost.starts_with("The cable was on again, or may have been, at "), "{}", shown.safe.lost);
    let line = shown.steps.iter().find(|line| line.step == "cable-off").unwrap();
    assert_eq!((line.state.as_str(), shown.now.unwrap().step.as_str()), ("again", "cable-off"));
    let wait = card(&bench, "wait");
    assert!(wait.needs[0].words.contains("The cable was on again"), "{}", wait.needs[0].words);
    bench.done(Command::Speak { language: Language::De });
    let wait = card(&bench, "wait");
    assert!(wait.needs[0].words.contains("war das Kabel wieder dran"), "{}", wait.needs[0].words);
    take(&mut bench, "cable-off", StepEntry::Tick);
    assert_eq!(work(&bench).safe.lost, "");
}

#[test]
fn settled_steps_say_what_proves_them() {
    let mut bench = waiting();
    let proof =
        |bench: &Bench, step: &str| work(bench).steps.into_iter().find(|line| line.step == step).expect("a step").proof;
    assert!(proof(&bench, "before-scan").ends_with("B0001-13 · seen · 1 photo"), "{}", proof(&bench, "before-scan"));
    assert_eq!(act(&mut bench, "wait", StepAct::Begin), None);
    bench.now += 200_000;
    assert_eq!(act(&mut bench, "wait", StepAct::Done { words: String::new(), entry: StepEntry::Tick }), None);
    assert!(proof(&bench, "wait").contains("waited 200 s"), "{}", proof(&bench, "wait"));
    let volts = |point: &str| StepEntry::ProveDead {
        before: "12.62".into(),
        points: vec![point.into()],
        after: "12,61".into(),
    };
    take(&mut bench, "prove-dead", volts("0.01"));
    assert!(proof(&bench, "prove-dead").contains("12.62 V · 0.01 V · 12.61 V"), "{}", proof(&bench, "prove-dead"));
    assert_eq!(work(&bench).safe.state, "dead");
    let reason = "the maker forbids it".to_owned();
    assert_eq!(act(&mut bench, "centre-old", StepAct::Skip { reason }), None);
    assert_eq!(proof(&bench, "centre-old"), "Left out: the maker forbids it");
    let on = card(&bench, "battery-on");
    assert_eq!(on.needs[0].title, "Airbag on", "what comes before it");
}

#[test]
fn figures_stand_as_published_with_where_they_come_from() {
    let bench = waiting();
    let StepFields::Torque { value, also, shown_in, new_fastener: true, .. } = card(&bench, "wheel-on").fields else {
        panic!()
    };
    assert_eq!(
        (value.as_str(), also.as_str()),
        ("44 N·m (Invented for this example. Not a figure of any vehicle)", "32.5 lbf·ft")
    );
    assert!(shown_in.iter().all(|other| other.starts_with('≈')) && !shown_in.is_empty(), "{shown_in:?}");
    let StepFields::Sign { outcomes, .. } = card(&bench, "close").fields else { panic!() };
    assert!(outcomes[0].open.iter().any(|open| open.words == "The lamp did not come on and go off."));
    assert!(outcomes[1].open.is_empty(), "nothing is out: {:?}", outcomes[1].open);
}

/// No card of any step of any procedure lacks a word, and German cards are German.
/// From a fifth of its largest setting up to that a wrench is exact; figures of the invented 44 N·m.
#[test]
fn a_wrench_that_is_too_large_or_too_small_is_said_to_be_so() {
    use crate::torque::{Torque, TorqueUnit, WrenchRange};
    let said = |set: &str, most: &str| {
        let amount = |text: &str| crate::procedure::Amount::parse(text).unwrap();
        super::proof::wrench_words(amount(set), amount(most), Language::En)
    };
    let nm = |text: &str| Torque::typed(text, TorqueUnit::NewtonMetre, false).unwrap();
    for (most, range, words) in [
        ("43.9", WrenchRange::Above, " – more than this wrench can be set to"),
        ("44", WrenchRange::Within, ""),
        ("220", WrenchRange::Within, ""),
        ("220.1", WrenchRange::Below, " – too large a wrench to be exact"),
    ] {
        assert_eq!(nm("44").suits(nm(most)), range, "{most}");
        assert_eq!(said("44 N·m", &format!("{most} N·m")), words, "{most}");
    }
    // The sentence on the card names the same two ends.
    let StepFields::Torque { wrench, value, unit, .. } = card(&waiting(), "wheel-on").fields else { panic!("a bolt") };
    assert!(value.starts_with("44 N·m") && unit == "N·m", "{value}");
    assert!(wrench.contains("from 44 N·m to 220 N·m"), "{wrench}");
}

#[test]
fn every_card_of_every_procedure_has_its_words_in_both_languages() {
    for (_, text) in crate::procedure::built_in() {
        let id = crate::procedure::Procedure::parse(text).unwrap().head.id;
        let mut bench = Bench::new();
        bench.done(new_job("4711"));
        bench.done(Command::BeginProcedure { procedure: id, technician: None, pin: None });
        let steps: Vec<String> = work(&bench).steps.into_iter().map(|line| line.step).collect();
        for step in steps {
            let mut both = [Language::En, Language::De].map(|language| {
                bench.done(Command::Speak { language });
                card(&bench, &step)
            });
            for card in &both {
                let waits = matches!(card.fields, StepFields::Wait(_));
                let texts = [&card.title, &card.text, &card.begin_key];
                assert!(texts.iter().all(|text| !text.is_empty()), "{step}: {card:?}");
                assert_eq!(card.done_key.is_empty(), waits, "{step}: only a wait has to be over first");
                assert!(
                    card.needs.iter().all(|need| need.step.is_some() && !need.title.is_empty()),
                    "{step}: {card:?}"
                );
            }
            let [en, de] = &mut both;
            assert!(en.title != de.title && en.text != de.text, "{step}");
            assert!(en.done_key != de.done_key || en.done_key.is_empty(), "{step}");
            let pairs = en.needs.iter().zip(&de.needs);
            assert!(pairs.clone().all(|(en, de)| en.words != de.words), "{step}");
        }
    }
    let events = waiting().entries.iter().filter(|e| e.entry().kind == "step-done").count();
    assert_eq!(events, 4, "the story the words are read from was recorded");
}

#[test]
fn a_photo_that_was_meant_for_another_job_is_not_kept_with_this_one() {
    let mut bench = waiting();
    assert_eq!(act(&mut bench, "wait", StepAct::Begin), None);
    let mut photo = NewPhoto { job: Uuid::from_u128(9), step: Some("wait".into()), width: 4, height: 3, jpeg: vec![1] };
    let other = StepRefusal::OtherJob.into();
    assert_eq!(bench.input(Input::Photo(photo.clone())), Some(other));
    photo.job = bench.session.job().unwrap().id;
    let before = view(&bench).bench.unwrap().photos.len();
    for _ in 0..2 {
        assert_eq!(bench.input(Input::Photo(photo.clone())), None);
        assert_eq!(view(&bench).bench.unwrap().photos.len(), before + 1, "the same one again is nothing new");
    }
}

#[test]
fn a_job_keeps_sixty_photos_and_says_when_it_keeps_no_more() {
    let mut bench = waiting();
    let job = bench.session.job().unwrap().id;
    let of_the_job = |number: u8| Input::Photo(NewPhoto { job, step: None, width: 4, height: 3, jpeg: vec![number] });
    let kept = view(&bench).bench.unwrap().photos.len();
    for number in 0..60 {
        let refused = bench.input(of_the_job(number));
        let full = usize::from(number) + kept >= 60;
        assert_eq!(refused, full.then_some(crate::job::Refusal::TooManyPhotos), "{number}");
    }
    assert_eq!(view(&bench).bench.unwrap().photos.len(), 60);
}

/// The list of a step shows what was read at it, as the step itself counts.
#[test]
fn what_was_read_at_another_step_is_not_shown_as_read_at_this_one() {
    use crate::session::tests::interlocks::holes::{DOOR, at, begin};
    let mut world = at(DOOR, "isolation-open");
    begin(&mut world, "isolation-open");
    let shown = |step: &str| match step_card(&world.session, step, &world.now()) {
        Reply::Step { card } => match card.fields {
            StepFields::Reading { done, of, .. } => (done, of),
            other => panic!("{other:?}"),
        },
        other => panic!("{other:?}"),
    };
    assert_eq!(shown("isolation-shut"), (9, 9));
    assert_eq!(shown("isolation-open"), (0, 9));
    assert_eq!(shown("measure-signal").0, shown("measure-signal").1);
    assert_eq!(shown("sweep").0, shown("sweep").1);
}

/// What was read is not what is in order: two conductors that touch, and a sweep that drops out.
#[test]
fn a_reading_at_a_step_is_marked_by_what_it_means() {
    use crate::session::tests::bench::Face;
    use crate::session::tests::interlocks::holes::{DOOR, at, begin};
    let mut world = at(DOOR, "isolation-open");
    begin(&mut world, "isolation-open");
    assert_eq!(world.wish(Command::MeasureIsolation { a: 0, other: Some(1) }), None);
    world.show(Face::Over, 10);
    world.show(Face::Ohm(35), 20);
    let Reply::Step { card } = step_card(&world.session, "isolation-open", &world.now()) else { panic!() };
    let StepFields::Reading { parts, done: 1, .. } = card.fields else { panic!("{:?}", card.fields) };
    let states: Vec<(bool, &str)> = parts.iter().map(|part| (part.done, part.state.as_str())).collect();
    assert_eq!(states.iter().filter(|one| **one == (true, "bad")).count(), 1, "{states:?}");
    assert_eq!(states.iter().filter(|one| **one == (false, "none")).count(), 8, "{states:?}");
    let touching = parts.iter().find(|part| part.done).unwrap();
    assert!(touching.words.ends_with("They touch."), "{}", touching.words);
}

/// The card of the zero says where to go, and the list why.
#[test]
fn a_zero_that_moved_leads_to_what_is_read_again() {
    let world = crate::session::tests::interlocks::lapses::with_a_zero_that_moved();
    let Reply::Step { card } = step_card(&world.session, "zero-again", &world.now()) else { panic!("no card") };
    let leads_to: Vec<&str> = card.needs.iter().filter_map(|need| need.step.as_deref()).collect();
    assert_eq!((card.state.as_str(), leads_to), ("blocked", vec!["measure-squib"]));
    let shown = *of(&world.session, &world.now()).bench.expect("a job").work.expect("a procedure");
    let lapsed: Vec<&str> =
        shown.steps.iter().filter(|line| line.state == "again").map(|line| line.step.as_str()).collect();
    assert_eq!(lapsed, ["measure-squib", "measure-switch", "compare-squib", "compare-switch"]);
    let line = shown.steps.iter().find(|line| line.step == "measure-squib").expect("a step");
    assert!(line.proof.contains("set aside"), "{}", line.proof);
}
