//! What is said of a sweep.

use super::*;
use crate::sweep::written::MOST_EVENTS;
use crate::view::words::sweep_words;
use std::collections::BTreeSet;

const VERDICTS: [SweepVerdict; 7] = [
    SweepVerdict::Steady,
    SweepVerdict::Jump,
    SweepVerdict::Dropout,
    SweepVerdict::GapInStream,
    SweepVerdict::TooShort,
    SweepVerdict::TooFewSamples,
    SweepVerdict::Noisy,
];
const CODES: [SweepCode; 7] = [
    SweepCode::BadSamples,
    SweepCode::EndsTrimmed,
    SweepCode::OpenThroughout,
    SweepCode::Drift,
    SweepCode::SameAngle,
    SweepCode::DisplayNeverMoved,
    SweepCode::SpikeSeen,
];
const TONGUES: [Language; 2] = [Language::En, Language::De];

/// A coil, two turns to each side in the default pace, broken 1.3 turns to the right: met on the way out and back.
fn broken_coil(language: Language) -> TraceView {
    let plan = SweepPlan::default();
    let marks = kept(plan);
    let readings = turned(&marks, |milli| ((milli - 1_300.0).abs() < 30.0).then_some(None));
    let finding = Finding::write(&outcome(&readings, &marks, 0.01));
    draw(&swept(&readings, &marks, plan.movement, Some(&finding)), language)
}

fn row(number: u32, texts: [&str; 5]) -> TraceRow {
    let [what, start, length, height, place] = texts.map(str::to_owned);
    TraceRow { number, what, start, length, height, place }
}

fn labels(ticks: &[Tick]) -> Vec<(u32, &str)> {
    ticks.iter().map(|tick| (tick.at, tick.label.as_str())).collect()
}

#[test]
fn a_break_on_the_way_out_and_back_is_told_in_english() {
    let shown = broken_coil(Language::En);
    assert_eq!(
        shown.sentence,
        "Conductor 2: drops out while moved. Longest drop-out, open, at +1.3 ± 0.4 turns, seen again, 5.2 s in, for 0.2 s; \
         one more event."
    );
    let place = "+1.3 ± 0.4 turns, seen again";
    let rows =
        [row(1, ["Drop-out", "5.2 s", "0.2 s", "open", place]), row(2, ["Drop-out", "10.8 s", "0.2 s", "open", place])];
    assert_eq!(shown.rows, rows);
    let notes = ["What this trace can show: a jump over 0.05 Ω that lasts longer than about two display readings."];
    assert_eq!(shown.notes, notes);
    let way = [(0, "−2 turns"), (250, "−1 turn"), (500, "centre"), (750, "+1 turn"), (1_000, "+2 turns")];
    assert_eq!(labels(&shown.way_ticks), way);
    for (at, place) in shown.places.iter().enumerate() {
        assert_eq!((place.number as usize, place.kind), (at + 1, EventKind::Dropout));
        assert_eq!((place.from, place.at, place.to), (742, 825, 908));
        assert_eq!((place.words.as_str(), place.repeats), ("+1.3 ± 0.4 turns", true));
    }
    // The line is broken in two places, where over-range was shown.
    assert_eq!((shown.lines.len(), shown.outs.len()), (3, 2));
    assert_eq!(shown.outs[0], (158, 164), "5.2 to 5.4 of 33 seconds");
    assert_eq!(shown.verdict, Some(SweepVerdict::Dropout));
}

#[test]
fn a_break_on_the_way_out_and_back_is_told_in_german() {
    let shown = broken_coil(Language::De);
    assert_eq!(
        shown.sentence,
        "Leiter 2: setzt beim Bewegen aus. Längster Aussetzer, unterbrochen, bei +1.3 ± 0.4 Umdrehungen, wieder gesehen, \
         nach 5.2 s, 0.2 s lang; noch ein Ereignis."
    );
    let place = "+1.3 ± 0.4 Umdrehungen, wieder gesehen";
    let rows = [
        row(1, ["Aussetzer", "5.2 s", "0.2 s", "unterbrochen", place]),
        row(2, ["Aussetzer", "10.8 s", "0.2 s", "unterbrochen", place]),
    ];
    assert_eq!(shown.rows, rows);
    let notes = ["Was diese Aufzeichnung zeigen kann: einen Sprung über 0.05 Ω, länger als etwa zwei Anzeigewerte."];
    assert_eq!(shown.notes, notes);
    let marks = ["Mitte", "+1 Umdrehung", "+2 Umdrehungen", "+1 Umdrehung", "Mitte", "−1 Umdrehung"];
    let told: Vec<&str> = shown.marks.iter().map(|tick| tick.label.as_str()).collect();
    assert_eq!((told.len(), &told[..6]), (9, &marks[..]));
}

#[test]
fn a_bundle_that_jumps_half_way_is_told_in_per_cent_of_its_way() {
    let plan = SweepPlan { movement: Movement::Flexes { passes: 3 }, pace_s: 4 };
    let marks = kept(plan);
    let readings = turned(&marks, |milli| ((milli - 500.0).abs() < 30.0).then_some(Some(85)));
    let finding = Finding::write(&outcome(&readings, &marks, 0.01));
    let shown = draw(&swept(&readings, &marks, plan.movement, Some(&finding)), Language::En);
    let sentence = "Conductor 2: jumps while moved. Largest jump, +0.50 Ω, at 50 ± 34 % of the way, seen again, 2.0 s in, \
                    for 0.2 s; 5 more events.";
    assert_eq!(shown.sentence, sentence);
    assert_eq!(labels(&shown.way_ticks), [(0, "one end"), (1_000, "other end")]);
    assert_eq!(shown.rows[5], row(6, ["Jump", "22.0 s", "0.2 s", "+0.50 Ω", "50 ± 34 % of the way, seen again"]));
}

#[test]
fn of_several_events_the_worst_is_told_and_where_it_was() {
    let plan = SweepPlan::default();
    let marks = kept(plan);
    let told = |spots: [(f64, f64, Option<i64>); 2]| {
        let spot = |milli: f64| spots.iter().find(|(at, reach, _)| (milli - at).abs() < *reach).map(|(_, _, d)| *d);
        let readings = turned(&marks, spot);
        let finding = Finding::write(&outcome(&readings, &marks, 0.01));
        draw(&swept(&readings, &marks, plan.movement, Some(&finding)), Language::En).sentence
    };
    let jumps = told([(600.0, 60.0, Some(65)), (-1_500.0, 60.0, Some(95))]);
    assert!(jumps.contains("Largest jump, +0.60 Ω, at −1.5 ± 0.4 turns"), "{jumps}");
    let longer = told([(600.0, 30.0, None), (-1_500.0, 130.0, None)]);
    assert!(longer.contains("Longest drop-out, open, at −1.") && longer.contains("; 3 more events"), "{longer}");
    let mixed = told([(600.0, 60.0, None), (-1_500.0, 60.0, Some(95))]);
    assert!(mixed.contains("Longest drop-out, open, at +0.6 ± 0.4 turns"), "a break outweighs a jump: {mixed}");
}

/// A finding as told, with one jump, or with none.
fn finding(verdict: SweepVerdict, codes: &[SweepCode], events: Vec<FoundEvent>) -> Finding {
    let readings = turned(&kept(SweepPlan::default()), |_| None);
    let mut finding = Finding::write(&outcome(&readings, &[], 0.01));
    finding.verdict = verdict;
    finding.codes = codes.iter().copied().collect();
    finding.events_in_all = u32::try_from(events.len()).unwrap();
    finding.events = events;
    finding
}

fn told(finding: &Finding, ended: bool, language: Language) -> TraceView {
    let mut one = swept(&[], &[], Movement::Turns { each_side: 2 }, Some(finding));
    one.ended = ended;
    draw(&one, language)
}

#[test]
fn every_verdict_has_its_sentence_and_a_poor_one_says_what_to_do() {
    let mut all = BTreeSet::new();
    for verdict in VERDICTS {
        let finding = finding(verdict, &[], Vec::new());
        let sentences = TONGUES.map(|language| told(&finding, true, language).sentence);
        assert_ne!(sentences[0], sentences[1]);
        for (sentence, language) in sentences.iter().zip(TONGUES) {
            let words = sweep_words(verdict, language);
            assert!(sentence.contains(words), "{sentence}");
            let poor = !verdict.is_fault() && verdict != SweepVerdict::Steady;
            let (_, todo) = sentence.split_once(words).unwrap();
            assert_eq!(todo.trim_start_matches('.').trim().len() > 20, poor, "{verdict:?}: {sentence}");
            let nothing = if language == Language::En { "proves nothing" } else { "beweist nichts" };
            assert_eq!(sentence.contains(nothing), poor, "{sentence}");
            assert!(sentence.ends_with('.') && !sentence.contains("..") && !sentence.contains("  "), "{sentence}");
        }
        all.extend(sentences);
    }
    assert_eq!(all.len(), 2 * VERDICTS.len(), "no two verdicts are told alike");
}

#[test]
fn every_code_has_its_note_but_the_place_that_is_told_at_the_place() {
    let mut all = BTreeSet::new();
    for code in CODES {
        let finding = finding(SweepVerdict::Steady, &[code], Vec::new());
        for language in TONGUES {
            let notes = told(&finding, true, language).notes;
            assert_eq!(notes.len(), if code == SweepCode::SameAngle { 1 } else { 2 }, "{code:?} {notes:?}");
            all.extend(notes);
        }
    }
    assert_eq!(all.len(), 2 + 2 * 6, "what the trace can show, and six notes, in two languages");
}

#[test]
fn while_it_runs_no_verdict_is_told() {
    let words = [
        &["steady", "proves", "jumps", "drops out", "condemn", "too short", "too few", "wanders", "sound"][..],
        &["ruhig", "beweist", "springt", "setzt", "verwerfen", "zu kurz", "zu wenig", "schwankt"],
    ];
    let events = [vec![], vec![found(EventKind::Spike, 3.0, 20.0)], vec![found(EventKind::Dropout, 3.0, 20.0); 3]];
    for (verdict, events) in VERDICTS.into_iter().flat_map(|v| events.iter().map(move |e| (v, e.clone()))) {
        let finding = finding(verdict, &CODES, events);
        for (language, words) in TONGUES.into_iter().zip(words) {
            let live = told(&finding, false, language);
            assert_eq!(live.verdict, None);
            let said = format!("{} {}", live.sentence, live.notes.join(" ")).to_lowercase();
            assert!(live.sentence.starts_with(if language == Language::En { "So far: " } else { "Bisher: " }));
            for word in words.iter().copied().chain(VERDICTS.map(|v| sweep_words(v, language))) {
                assert!(!said.contains(word), "{verdict:?} says {word:?} before the end: {said}");
            }
        }
    }
    let nothing = draw(&Swept { ended: false, ..swept(&[], &[], Movement::Turns { each_side: 2 }, None) }, TONGUES[0]);
    assert_eq!((nothing.sentence.as_str(), nothing.verdict, nothing.notes.len()), ("Nothing was read yet.", None, 0));
}

#[test]
fn the_smallest_jump_is_never_told_smaller_than_it_is() {
    for (threshold, told_as) in [(0.05, "0.05"), (0.07, "0.07"), (0.051, "0.06"), (0.3, "0.30"), (0.300_4, "0.31")] {
        let mut finding = finding(SweepVerdict::Steady, &[], Vec::new());
        finding.threshold = Some(Figure::write(threshold));
        for language in TONGUES {
            let notes = told(&finding, true, language).notes;
            assert!(notes[0].contains(&format!(" {told_as} Ω")), "{threshold}: {notes:?}");
        }
    }
}

#[test]
fn a_stream_that_falls_apart_is_written_with_its_first_events_and_their_number() {
    // Seventy over-range readings, each between sound ones.
    let reads = (0..352).map(|n| reading(n * 200, (n % 5 != 2).then_some(35), 2)).collect::<Vec<_>>();
    let outcome = outcome(&reads, &[], 0.01);
    assert_eq!(outcome.events.len(), 70);
    let finding = Finding::write(&outcome);
    assert_eq!((finding.events.len(), finding.events_in_all), (MOST_EVENTS, 70));
    for (written, event) in finding.events.iter().zip(&outcome.events) {
        assert_eq!((written.start.read(), written.samples), ((event.start * 1e6).round() / 1e6, 1));
    }
    let shown = told(&finding, true, Language::En);
    assert_eq!((shown.rows.len(), shown.events.len()), (MOST_EVENTS, MOST_EVENTS));
    assert!(shown.sentence.ends_with("0.4 s in, for 0.2 s; 69 more events."), "{}", shown.sentence);
    assert!(told(&finding, true, Language::De).sentence.ends_with("; noch 69 Ereignisse."));
    let text = serde_json::to_string(&finding).unwrap();
    assert_eq!(serde_json::from_str::<Finding>(&text).unwrap(), finding, "it survives being written down");
}

#[test]
fn more_holes_than_are_written_down_are_cut_too() {
    let reads = (0..300).map(|n| reading(n * 200 + n / 3 * 5_000, Some(35), 2)).collect::<Vec<_>>();
    let outcome = outcome(&reads, &[], 0.01);
    assert_eq!((outcome.gaps.len(), Finding::write(&outcome).gaps.len()), (99, MOST_EVENTS));
}
