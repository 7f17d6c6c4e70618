//! What a report says of made-up jobs.

#[path = "tests/office.rs"]
mod office;
#[path = "tests/shop.rs"]
mod shop;

use super::export;
use super::{Asked, Block, LedgerPlace, Report, Section};
use crate::meter::link::Source;
use crate::record::{Conditions, Details, Earlier, Event};
use crate::settle::TouchKind;
use crate::unit::Stamp;
use crate::verdict::words::Language;
use shop::Bench;
use std::collections::BTreeMap;

fn names(count: usize) -> Vec<String> {
    (1..=count).map(|n| n.to_string()).collect()
}

fn report(bench: &Bench, language: Language, details: Option<&Details>) -> Report {
    let people = shop::people();
    let newest = bench.entries.last().unwrap();
    let asked = Asked {
        language,
        zone: None,
        printed: Stamp::parse("2026-03-02T17:00:00+01:00").unwrap(),
        details,
        earlier: &[],
        people: &people,
        samples: &bench.samples,
        place: Some(LedgerPlace {
            device: newest.entry().device,
            sequence: newest.entry().sequence,
            hash: newest.hash(),
        }),
    };
    Report::of(&bench.entries, &asked).unwrap()
}

fn words(section: &Section) -> String {
    section.blocks.iter().map(block_words).collect::<Vec<_>>().join("\n")
}

fn block_words(block: &Block) -> String {
    match block {
        Block::Headline(words) | Block::Subtitle(words) | Block::Words(words) => words.clone(),
        Block::List(items) => items.join("\n"),
        Block::Fields(fields) => {
            fields.iter().map(|f| format!("{}: {}", f.label, f.value)).collect::<Vec<_>>().join("\n")
        }
        Block::Table(table) => table.rows.iter().map(|row| row.cells.join(" | ")).collect::<Vec<_>>().join("\n"),
        Block::Ladder(picture) => picture.alternative.clone(),
        Block::Trace(picture) => picture.alternative.clone(),
        Block::Photo(photo) => photo.caption.clone(),
    }
}

/// The text under one title.
fn under(report: &Report, title: &str) -> String {
    let all = report.summary.iter().chain(&report.details);
    let found = all.filter(|section| section.title == title).map(words).collect::<Vec<_>>();
    assert_eq!(found.len(), 1, "{title} stands once");
    found.concat()
}

fn titles(report: &Report) -> Vec<&str> {
    report.summary.iter().chain(&report.details).map(|section| section.title.as_str()).collect()
}

#[test]
fn a_measured_job_says_its_verdict_every_value_and_what_was_not_tested() {
    let bench = shop::measured(&names(6));
    let told = report(&bench, Language::En, Some(&shop::details()));
    let view = crate::view::verdict_of(bench.job(), Language::En).unwrap();
    assert!(under(&told, "Verdict").starts_with(&view.headline), "in the words the screen had");
    let conductors = under(&told, "The conductors");
    for rung in view.ladders.iter().flat_map(|ladder| &ladder.rungs) {
        assert!(conductors.contains(&format!("{} | {}", rung.value, rung.difference)), "{}: {conductors}", rung.name);
    }
    let left = under(&told, "What was not tested");
    assert!(left.contains("Watched while moved: no conductor was."), "{left}");
    assert!(left.contains("Isolation: 11 of 11 pairs were not measured."), "{left}");
    assert!(!left.contains("Shorting bars"), "somebody said that they were open: {left}");
    assert!(under(&told, "How it ended").contains("Whether anything was repaired is not recorded."));
    assert_eq!(under(&told, "Who signed"), "Nobody has signed.");
    assert!(told.notice.is_empty());
    assert!(under(&told, "The record").contains(&bench.entries.last().unwrap().hash().to_string()));
}

#[test]
fn shorting_bars_that_nobody_spoke_of_are_said_to_be_unknown() {
    let mut bench = Bench::new();
    bench.say(Event::PartDescribed { part: shop::part(&names(6)) });
    bench.meter(Source::Radio);
    let conditions = Conditions { leads_zeroed: false, temperature: None, bars_open: None };
    bench.say(Event::ConditionsStated { conditions });
    let left = |bench: &Bench, language| {
        let title = if language == Language::De { "Was nicht geprüft wurde" } else { "What was not tested" };
        under(&report(bench, language, None), title)
    };
    assert!(!left(&bench, Language::En).contains("Shorting bars"), "nothing was measured yet");
    bench.touch(0, TouchKind::Settled, 55);
    assert!(left(&bench, Language::En).contains("Shorting bars: not known whether they were open."));
    assert!(left(&bench, Language::De).contains("Kurzschlussbrücken: nicht bekannt, ob sie offen waren."));
}

#[test]
fn every_touch_stands_with_time_meter_leads_and_temperature() {
    let told = report(&shop::measured(&names(6)), Language::En, None);
    let touches = under(&told, "Every reading");
    assert_eq!(touches.lines().count(), 12);
    assert_eq!(
        touches.lines().next().unwrap(),
        "1 | 0.55 Ω | by itself | 2026-03-02 09:01:20 | M1 | 0.21 Ω | 21 °C | yes"
    );
    assert!(touches.contains("3 | OL | over-range, by key |"), "{touches}");
    let meters = under(&told, "Meter and leads");
    assert!(meters.contains("M1: bench meter 2 (BM-7-0042)"), "{meters}");
    assert!(meters.contains("by radio") && meters.contains("calibration not stated"), "{meters}");
}

#[test]
fn erased_details_are_said_to_be_erased_and_stand_nowhere() {
    let bench = shop::steering_coil();
    for language in [Language::En, Language::De] {
        let told = report(&bench, language, None);
        let all = serde_json::to_string(&told).unwrap();
        let details = shop::details();
        // The technician is of the roster here; the roster is not what is erased.
        for gone in [details.customer, details.plate, details.vin, details.complaint, details.phone] {
            assert!(!all.contains(&gone), "{gone}");
        }
        assert!(!told.vehicle.contains("000042"), "{}", told.vehicle);
        let said = told.head.iter().map(|field| field.value.as_str()).collect::<Vec<_>>().join(" ");
        let erased = if language == Language::En { "erased, or not here" } else { "gelöscht oder nicht" };
        assert!(said.contains(erased), "{said}");
    }
}

#[test]
fn a_whole_procedure_tells_both_parts_the_codes_the_bolt_and_who_still_has_to_sign() {
    let told = report(&shop::steering_coil(), Language::En, Some(&shop::details()));
    assert!(under(&told, "Trouble codes").contains("B0001-13 | gone\nC0460-62 | still there\nU0121-00 | new"));
    assert!(under(&told, "Parts").contains("771-204-09 | used | parts shelf, lot 12"));
    assert!(under(&told, "Bolts").contains("DW-3"));
    let safe = under(&told, "Made safe");
    assert!(safe.contains("known source 12.51 V") && safe.contains("waited 184 s"), "{safe}");
    let signed = under(&told, "Who signed");
    assert!(signed.contains("Ottokar Klemm"), "{signed}");
    assert!(signed.contains("Second signature, Reuse, replace, or cannot tell: Hedwig Lötauge"), "{signed}");
    assert!(signed.contains("Second signature waiting: Report and signature"), "{signed}");
    let readings = under(&told, "Every reading");
    assert!(readings.starts_with("Old part\n") && readings.contains("\nCandidate\n"), "{readings}");
    assert!(readings.contains("taken back"), "{readings}");
    assert!(under(&told, "Taken back and overridden").contains("taken back by hand"));
    assert!(under(&told, "Old part and candidate").contains("W-2041, Steering coil"));
    assert!(under(&told, "Left out and not tested").contains("The customer did not want it."));
    assert!(under(&told, "The procedure").contains("Draft"));
    assert!(under(&told, "Watched while moved").contains("jumps while moved"));
    assert!(under(&told, "How it ended").starts_with("Not repaired."));
}

#[test]
fn no_section_is_empty_and_no_title_stands_twice_in_either_language() {
    for bench in [shop::steering_coil(), shop::measured(&names(4)), Bench::new()] {
        for language in [Language::En, Language::De] {
            let told = report(&bench, language, Some(&shop::details()));
            let mut seen = titles(&told);
            assert!(told.summary.iter().chain(&told.details).all(|section| !section.blocks.is_empty()));
            for block in told.summary.iter().chain(&told.details).flat_map(|section| &section.blocks) {
                assert!(!block_words(block).trim().is_empty(), "{block:?}");
                if let Block::Table(table) = block {
                    assert!(table.rows.iter().all(|row| row.cells.len() == table.columns.len()));
                }
            }
            let count = seen.len();
            seen.sort_unstable();
            seen.dedup();
            assert_eq!(seen.len(), count, "{seen:?}");
        }
    }
}

#[test]
fn both_languages_say_the_same_things() {
    let bench = shop::steering_coil();
    let (en, de) = (report(&bench, Language::En, None), report(&bench, Language::De, None));
    assert_eq!(titles(&en).len(), titles(&de).len());
    assert!(titles(&en).iter().zip(titles(&de)).all(|(en, de)| *en != de || *en == "Isolation"));
    for (en, de) in en.details.iter().zip(&de.details) {
        assert_eq!(en.blocks.len(), de.blocks.len(), "{} / {}", en.title, de.title);
    }
}

#[test]
fn an_open_job_says_so_and_gives_no_verdict() {
    let told = report(&Bench::new(), Language::En, None);
    assert_eq!(under(&told, "Verdict"), "No verdict was given.");
    assert_eq!(under(&told, "What was measured"), "Nothing was measured.");
    assert_eq!(told.notice, ["This job is not closed. It is told as it stood at 2026-03-02 09:00."]);
}

#[test]
fn a_verdict_that_holds_no_more_is_not_told_as_one() {
    let mut bench = Bench::new();
    bench.say(Event::PartDescribed { part: shop::part(&names(4)) });
    bench.meter(Source::Practice);
    for conductor in [0, 1, 2, 3, 0, 1, 2, 3] {
        bench.touch(conductor, TouchKind::Settled, 55);
    }
    bench.judge();
    let held = report(&bench, Language::En, None);
    assert!(under(&held, "Verdict").starts_with("Alike at rest."), "{}", under(&held, "Verdict"));
    bench.touch(2, TouchKind::Settled, 900);
    let told = report(&bench, Language::En, None);
    assert!(under(&told, "Verdict").starts_with("No verdict holds any more."), "{}", under(&told, "Verdict"));
    assert!(told.notice[0].starts_with("PRACTICE"), "{:?}", told.notice);
}

#[test]
fn photos_carry_the_title_of_their_step() {
    let mut bench = shop::steering_coil();
    bench.photo(Some("wheel-off"), (vec![1, 2, 3], 40, 30));
    bench.photo(None, (vec![4], 10, 10));
    let told = report(&bench, Language::En, None);
    let photos = told.details.iter().flat_map(|section| &section.blocks).filter_map(|block| match block {
        Block::Photo(photo) => Some((photo.caption.split(", 2026").next().unwrap(), bench.photos[&photo.photo].len())),
        _ => None,
    });
    assert_eq!(photos.collect::<Vec<_>>(), [("Wheel off, coil locked", 3), ("Of the job", 1)]);
}

#[test]
fn a_long_ladder_shows_what_stands_out_first_and_all_of_it_later() {
    let told = report(&shop::measured(&names(40)), Language::En, None);
    let rungs = |sections: &[Section]| -> Vec<Vec<String>> {
        let blocks = sections.iter().flat_map(|section| &section.blocks);
        let ladders = blocks.filter_map(|block| match block {
            Block::Ladder(picture) => Some(picture.ladder.rungs.iter().map(|rung| rung.name.clone()).collect()),
            _ => None,
        });
        ladders.collect()
    };
    assert_eq!(rungs(&told.summary), [["3", "4"]]);
    assert!(under(&told, "Verdict").contains("38 of 40 read alike; 38 more stand in the details."));
    assert_eq!(rungs(&told.details), [names(40)]);
    let short = report(&shop::measured(&names(16)), Language::En, None);
    assert_eq!((rungs(&short.summary), rungs(&short.details)), (vec![names(16)], vec![]));
}

#[test]
fn times_are_told_by_the_clock_that_was_asked_for() {
    let bench = shop::measured(&names(3));
    let people = BTreeMap::new();
    let asked = Asked {
        language: Language::En,
        zone: Some(jiff::tz::TimeZone::fixed(jiff::tz::offset(-5))),
        printed: Stamp::parse("2026-03-02T17:00:00+01:00").unwrap(),
        details: None,
        earlier: &[],
        people: &people,
        samples: &bench.samples,
        place: None,
    };
    let told = Report::of(&bench.entries, &asked).unwrap();
    assert_eq!(told.printed.as_str(), "2026-03-02T11:00:00-05:00");
    assert!(under(&told, "Every reading").contains("2026-03-02 03:0"), "{}", under(&told, "Every reading"));
    assert!(!serde_json::to_string(&told).unwrap().contains("2026-03-02 09:"));
}

#[test]
fn what_was_corrected_stands_with_what_was_there_before_until_it_is_erased() {
    let mut bench = Bench::new();
    let personal = bench.job().personal;
    bench.say(Event::JobCorrected { order: "W-2042".into(), vehicle: "Orrin 3, blue".into(), personal });
    let until = bench.wall();
    let before = Details { plate: "ZZ-QX 440".into(), ..shop::details() };
    let (people, now) = (shop::people(), shop::details());
    let told = |details, language| {
        let asked = Asked {
            language,
            zone: None,
            printed: until.clone(),
            details,
            earlier: &[Earlier { until: until.clone(), details: before.clone() }],
            people: &people,
            samples: &bench.samples,
            place: None,
        };
        Report::of(&bench.entries, &asked).unwrap()
    };
    let english = under(&told(Some(&now), Language::En), "Corrected");
    let at = until.to_minute();
    assert!(english.contains("W-2041") && english.contains("ZZ-QX 440") && english.contains(&at), "{english}");
    assert!(!english.contains("Orrin") && !english.contains("Sturmvogel"), "only what is another now: {english}");
    assert!(under(&told(Some(&now), Language::De), "Berichtigt").contains("ZZ-QX 440"));
    let erased = under(&told(None, Language::En), "Corrected");
    assert!(erased.contains("W-2041") && !erased.contains("ZZ-QX"), "{erased}");
}

#[test]
fn readings_as_rows_have_points_times_and_sources() {
    let bench = shop::measured(&["=1+1".to_owned(), "a, \"b\"".to_owned(), "3".to_owned(), "4".to_owned()]);
    let rows = export::rows(&bench.entries, None).unwrap();
    assert_eq!(rows.len(), 8);
    let text = export::csv(&rows);
    let lines: Vec<&str> = text.split("\r\n").collect();
    assert_eq!(lines[0], export::COLUMNS.join(","));
    let first = format!(
        "1,'=1+1,,touch,0.55,value,ohm,{},2026-03-02T09:01:20+01:00,radio,BM-7-0042,settled,true,,,{}",
        rows[0].standard_uncertainty, rows[0].id
    );
    assert_eq!(lines[1], first);
    assert!(lines[2].starts_with("1,\"a, \"\"b\"\"\",,touch,"), "{}", lines[2]);
    assert!(lines[3].contains(",3,,touch,,over-range,ohm,"), "{}", lines[3]);
    assert_eq!(lines.last(), Some(&""));
    let json: serde_json::Value = serde_json::from_str(&export::json(&rows)).unwrap();
    assert_eq!(json[3]["value"], "12.34");
    assert_eq!(json[0]["counts"], true);
}

#[test]
fn readings_of_every_kind_and_part_are_rows() {
    let bench = shop::steering_coil();
    let rows = export::rows(&bench.entries, None).unwrap();
    let count = |kind: &str| rows.iter().filter(|row| row.kind == kind).count();
    assert!(count("touch") > 8 && count("isolation") > 2 && count("sweep") > 1);
    assert!(rows.iter().any(|row| row.part == 2) && rows.iter().any(|row| !row.counts));
    assert!(rows.iter().any(|row| row.finding == "jump" && row.seconds == "31.800"), "{rows:?}");
    assert!(rows.iter().any(|row| row.other == "metal"));
}

/// Hedwig signed second and is said afterwards to have done it herself: that is told, and nobody else's name changes.
#[test]
fn who_signed_is_told_as_it_was_and_a_signature_that_lapsed_is_told_to_have() {
    let mut bench = shop::steering_coil();
    let before = under(&report(&bench, Language::En, None), "Who signed");
    assert!(!before.contains("stands no longer"), "{before}");
    bench.say(Event::TechnicianNamed { person: shop::HEDWIG });
    let after = under(&report(&bench, Language::En, None), "Who signed");
    let second = after.lines().find(|line| line.starts_with("Second signature, Reuse")).expect("it is listed");
    assert!(second.ends_with("It stands no longer."), "{second}");
    let own = |text: &str| text.lines().filter(|line| line.contains("Ottokar Klemm")).count();
    assert!(own(&before) > 0 && own(&before) == own(&after), "{before}\n{after}");
}

#[test]
fn what_was_not_tested_says_of_which_part() {
    let left = under(&report(&shop::steering_coil(), Language::En, None), "What was not tested");
    let of_proofs = left.lines().filter(|line| line.contains("Isolation:") || line.contains("Watched while moved"));
    let of_proofs: Vec<&str> = of_proofs.collect();
    assert!(!of_proofs.is_empty() && of_proofs.iter().all(|line| line.starts_with("Candidate: ")), "{left}");
}
