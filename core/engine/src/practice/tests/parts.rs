use super::super::part_model::{Fault, PLAIN_OHM, PartModel, Place, Truth};
use evenwire_core::part::{MAX_CONDUCTORS, Part};
use evenwire_core::unit::Quantity;
use evenwire_core::verdict::words::Language;
use std::collections::BTreeMap;

#[test]
fn random_parts_are_always_valid() {
    let (mut faulty, mut two, mut open) = (0, 0, 0);
    for seed in 0..2_000 {
        let model = PartModel::random(seed);
        let part = model.to_part();
        assert_eq!(part.problems(), [], "seed {seed}");
        assert_eq!(part.touches_wanted, 2);
        assert!((4..=12).contains(&part.conductors.len()));
        let mut groups: BTreeMap<_, Vec<f64>> = BTreeMap::new();
        for (index, (conductor, wire)) in part.conductors.iter().zip(model.wires()).enumerate() {
            assert!(part.clip_points(index).is_ok());
            groups.entry(conductor.group.clone().unwrap()).or_default().push(wire.ohm);
        }
        assert!((1..=3).contains(&groups.len()));
        for (name, ohms) in groups {
            assert!(ohms.len() >= 2, "seed {seed}");
            let (low, high) = if name.starts_with("squib") { (0.243, 0.616) } else { (0.974, 1.641) };
            assert!(ohms.iter().all(|ohm| (low..high).contains(ohm)), "seed {seed}: {name} {ohms:?}");
        }
        let faults: Vec<Fault> = model.wires().iter().filter_map(|w| w.fault).collect();
        let truth = model.truth();
        assert_eq!(truth.bad.len() + truth.slight.len(), faults.len(), "seed {seed}");
        assert!(truth.at_times.is_empty());
        for fault in &faults {
            let fits = matches!(fault, Fault::Open | Fault::Added { ohm: 0.3..=40.0 });
            assert!(fits, "{fault:?}");
        }
        faulty += usize::from(!faults.is_empty());
        two += usize::from(faults.len() == 2);
        open += usize::from(faults.contains(&Fault::Open));
        assert_eq!(model, PartModel::random(seed));
    }
    assert!((900..1_100).contains(&faulty), "{faulty}");
    assert!((120..240).contains(&two), "{two}");
    assert!((200..350).contains(&open), "{open}");
}

#[test]
fn built_in_parts_are_what_they_say() {
    let truth = |word| PartModel::built_in(word).unwrap().truth();
    assert_eq!(truth("first-practice"), Truth { bad: vec![3], ..Truth::default() });
    assert_eq!(truth("all-good"), Truth::default());
    assert_eq!(truth("only-turning"), Truth { at_times: vec![2], ..Truth::default() });
    for word in PartModel::built_in_words() {
        assert_eq!(PartModel::built_in(word).unwrap().to_part().problems(), [], "{word}");
    }
    assert_eq!(PartModel::built_in("nothing"), None);
    let worn = PartModel::built_in("first-practice").unwrap().ohm(3, 0.0, (0, 0)).unwrap();
    assert!((worn - 12.0).abs() < 1e-9);
}

/// A part with one conductor pair; `lines` stand in the second conductor.
fn file(lines: &str) -> String {
    let end =
        |connector: &str, cavity| format!("{{ connector = \"{connector}\", cavity = {cavity}, at = \"open-plug\" }}");
    let mut text = String::from("format = 1\nname = \"Two wires\"\n");
    for name in ["A", "B"] {
        text += &format!("[[connectors]]\nname = \"{name}\"\ncavities = 2\n");
    }
    text += &format!("[[conductors]]\nname = \"1\"\nfrom = {}\nto = {}\nohm = 0.3\n", end("A", 1), end("B", 1));
    text += &format!("[[conductors]]\nname = \"2\"\nfrom = {}\nto = {}\n{lines}\n", end("A", 2), end("B", 2));
    text
}

fn mistakes(text: &str) -> Vec<String> {
    PartModel::parse(text).expect_err("a mistake").iter().map(ToString::to_string).collect()
}

#[test]
fn resistance_follows_the_angle_and_the_fault() {
    let ohm = |lines: &str, turn: f64| PartModel::parse(&file(lines)).unwrap().ohm(1, turn, (0, 0));
    let table = "over_angle = [[-1000, 0.4], [0, 0.3], [2000, 0.5]]";
    for (turn, wanted) in [(-3_000.0, 0.4), (-1_000.0, 0.4), (-500.0, 0.35), (0.0, 0.3), (500.0, 0.35), (9e3, 0.5)] {
        assert!((ohm(table, turn).unwrap() - wanted).abs() < 1e-12, "{turn}");
    }
    assert_eq!(ohm("ohm = 1\nfault = { kind = \"open\" }", 0.0), None);
    assert_eq!(ohm("ohm = 1\nfault = { kind = \"added\", ohm = 0.5 }", 0.0), Some(1.5));
    let spot = "ohm = 1\nfault = { kind = \"intermittent\", at_milli = 300, reach_milli = 20, ohm = 2 }";
    assert_eq!([279.0, 280.0, 320.0, 321.0].map(|turn| ohm(spot, turn)), [1.0, 3.0, 3.0, 1.0].map(Some));
    let broken = "ohm = 1\nfault = { kind = \"intermittent\", at_milli = -300 }";
    assert_eq!([-300.0, 0.0].map(|turn| ohm(broken, turn)), [None, Some(1.0)]);
}

#[test]
fn a_flaky_conductor_is_bad_at_some_moments_only() {
    let model = PartModel::parse(&file("ohm = 1\nfault = { kind = \"flaky\", ohm = 4 }")).unwrap();
    let bad = (0..10_000).filter(|slot| model.ohm(1, 0.0, (slot * 150, 7)).unwrap() > 1.1).count();
    assert!((2_200..2_800).contains(&bad), "{bad}");
    let stands = |slot: u64| model.ohm(1, 0.0, (slot * 150, 7)) == model.ohm(1, 0.0, (slot * 150 + 149, 7));
    assert!((0..100).all(stands), "it changes only every 150 ms");
    assert_eq!(model.truth().at_times, [1]);
}

#[test]
fn truth_draws_the_line_where_nobody_would_argue() {
    let truth = |added: f64| {
        PartModel::parse(&file(&format!("ohm = 0.3\nfault = {{ kind = \"added\", ohm = {added} }}"))).unwrap().truth()
    };
    assert_eq!(truth(PLAIN_OHM + 0.01).bad, [1]);
    assert!(truth(PLAIN_OHM - 0.01).bad.is_empty());
    assert_eq!(truth(PLAIN_OHM - 0.01).slight, [1]);
}

#[test]
fn mistakes_are_told_with_line_column_and_what_to_write() {
    // What `lines` holds begins on line 18.
    for (lines, wanted) in [
        ("ohm = -1", "18:7: out-of-range: `ohm` is -1: a number from 0 to 1000000"),
        ("ohm = \"much\"", "18:7: wrong-type: invalid type: string \"much\": f64"),
        ("ohm = 1\nohms = 2", "19:1: unknown-key: unknown field `ohms`: "),
        ("ohm = ", "18:7: syntax: "),
        ("ohm = 1\nfault = { kind = \"opn\" }", "19:18: unknown-word: `kind` is \"opn\": \"open\", "),
        ("ohm = 1\nfault = { kind = \"added\" }", "19:9: missing-key: `ohm` is missing: ohm = 11.6"),
        ("ohm = 1\nfault = { kind = \"open\", ohm = 3 }", "19:32: conflict: an open conductor has no ohm"),
        ("ohm = 1\nfault = { kind = \"intermittent\" }", "19:9: missing-key: `at_milli` is missing"),
        ("ohm = 1\nfault = { kind = \"open\", at_milli = 3 }", "19:37: conflict: only an intermittent fault"),
        (
            "ohm = 1\nfault = { kind = \"touches\", ohm = 3 }",
            "19:9: missing-key: `touches` is missing: touches = \"5\"",
        ),
        ("ohm = 1\nfault = { kind = \"touches\", touches = \"metal\" }", "19:9: missing-key: `ohm` is missing"),
        (
            "ohm = 1\nfault = { kind = \"touches\", touches = \"9\", ohm = 3 }",
            "19:39: unknown-word: no conductor is called \"9\": \"1\", \"2\"",
        ),
        (
            "ohm = 1\nfault = { kind = \"touches\", touches = \"2\", ohm = 3 }",
            "19:39: conflict: a conductor touches itself: another conductor",
        ),
        ("ohm = 1\nfault = { kind = \"open\", touches = \"1\" }", "19:36: conflict: another kind of fault touches"),
        ("ohm = 1\nlimit = { source = \"shop\" }", "19:9: out-of-range: a limit needs a side"),
        ("ohm = 1\nlimit = { high = 0.5, low = 0.5 }", "19:9: out-of-range: a limit needs a side"),
        ("ohm = 1\nlimit = { high = -1 }", "19:18: out-of-range: `high` is -1: a number from 0 to 1000000"),
        ("ohm = 1\nlimit = { high = 1, temperature = 900 }", "19:35: out-of-range: `temperature` is 900"),
        ("over_angle = [[0, 0.3], [0, 0.4]]", "18:25: conflict: angle 0 does not rise"),
        ("over_angle = [[0, nan]]", "18:15: out-of-range: [0, NaN] is beyond"),
        ("over_angle = [[99999, 1]]", "18:15: out-of-range: [99999, 1] is beyond"),
    ] {
        let found = mistakes(&file(lines));
        assert_eq!(found.len(), 1, "{lines}: {found:?}");
        assert!(found[0].starts_with(wanted), "{lines}\n  {}\n  {wanted}", found[0]);
    }
}

/// The two wires with keys of the part itself, on the third line.
fn with_keys(keys: &str) -> String {
    file("ohm = 0.5").replacen("name = \"Two wires\"\n", &format!("name = \"Two wires\"\n{keys}\n"), 1)
}

#[test]
fn mistakes_in_bars_and_limits_of_the_whole_part_are_told() {
    for (keys, wanted) in [
        ("bars = [[\"1\", \"3\"]]", "3:15: unknown-word: no conductor is called \"3\""),
        ("bars = [[\"1\", \"1\"]]", "3:9: conflict: a bar bridges two different conductors"),
        (
            "bars = [[\"1\", \"2\"], [\"2\", \"1\"]]",
            "3:21: conflict: a bar bridges two different conductors, each pair",
        ),
        ("bars = [[\"1\"]]", "3:9: "),
        ("bars = [[\"1\", \"2\"]]\nbar_ohm = -1", "4:11: out-of-range: `bar_ohm` is -1"),
        (
            "bars = [[\"1\", \"2\"]]\nbar_at = \"top\"",
            "4:10: unknown-word: `bar_at` is \"top\": \"from\", \"to\", \"both\"",
        ),
        ("bar_ohm = 0.03", "3:11: conflict: the part has no bar"),
        ("ceiling = { low = 1, high = 0.5 }", "3:11: out-of-range: a limit needs a side"),
        ("ceiling = { highest = 1 }", "3:13: unknown-key: unknown field `highest`"),
    ] {
        let found = mistakes(&with_keys(keys));
        assert_eq!(found.len(), 1, "{keys}: {found:?}");
        assert!(found[0].starts_with(wanted), "{keys}\n  {}\n  {wanted}", found[0]);
    }
}

#[test]
fn bars_and_limits_stand_in_the_part_as_they_are_written() {
    let keys = "bars = [[\"2\", \"1\"]]\nceiling = { high = 0.80, temperature = 20.5, source = \"sheet 4\" }";
    let text = with_keys(keys).replace("ohm = 0.5", "ohm = 0.5\nlimit = { low = 0.1 }");
    let part = PartModel::parse(&text).unwrap().to_part();
    assert_eq!(part.bars, [(0, 1)]);
    let written = |q: Option<Quantity>| q.map(|q| q.to_string());
    let ceiling = part.ceiling.unwrap();
    assert_eq!((written(ceiling.high), written(ceiling.low)), (Some("0.8".into()), None));
    assert_eq!((written(ceiling.temperature), ceiling.source.as_str()), (Some("20.5".into()), "sheet 4"));
    let own = part.conductors[1].limit.clone().unwrap();
    assert_eq!((written(own.low), own.high, own.source.as_str()), (Some("0.1".into()), None, ""));
    assert_eq!(part.conductors[0].limit, None);
}

fn place(connector: u8, cavity: u8) -> Place {
    Place { connector, cavity }
}

/// Between two clips of the two wires (0.3 and 0.5 ohm), with the bar closed or open.
fn between(text: &str, clips: (Place, Option<Place>), bar_is_open: bool) -> Option<f64> {
    let model = PartModel::parse(text).unwrap();
    let ohm = model.ohm_between(clips, 0.0, (0, 0), |_| bar_is_open)?;
    Some((ohm * 1e9).round() / 1e9)
}

#[test]
fn a_closed_bar_bridges_its_pair_at_its_end_and_nothing_else() {
    let bars = "bars = [[\"1\", \"2\"]]";
    let (near, far, through) =
        ((place(0, 1), Some(place(0, 2))), (place(1, 1), Some(place(1, 2))), (place(0, 1), Some(place(1, 1))));
    let text = with_keys(bars);
    assert_eq!([near, far, through].map(|clips| between(&text, clips, false)), [Some(0.03), Some(0.83), Some(0.3)]);
    assert_eq!([near, far, through].map(|clips| between(&text, clips, true)), [None, None, Some(0.3)]);
    let text = with_keys(&format!("{bars}\nbar_ohm = 0.1\nbar_at = \"to\""));
    assert_eq!([near, far].map(|clips| between(&text, clips, false)), [Some(0.9), Some(0.1)]);
    // Bridged at both ends the pair reads about half: 0.3 beside 0.5 and two bars.
    let both = with_keys(&format!("{bars}\nbar_ohm = 0.05\nbar_at = \"both\""));
    assert_eq!(between(&both, through, false), Some(0.2));
    assert_eq!(between(&both, through, true), Some(0.3));
}

#[test]
fn what_touches_is_read_between_the_two_and_nowhere_else() {
    let touching =
        |what: &str| file(&format!("ohm = 0.5\nfault = {{ kind = \"touches\", touches = {what:?}, ohm = 2 }}"));
    let (pair, metal) = ((place(0, 1), Some(place(0, 2))), (place(0, 2), None));
    let to_other = touching("1");
    assert_eq!(between(&to_other, pair, true), Some(0.15 + 2.0 + 0.25), "both in their middle");
    assert_eq!(between(&to_other, metal, true), None);
    assert_eq!(between(&to_other, (place(0, 2), Some(place(1, 2))), true), Some(0.5), "end to end it is sound");
    let to_metal = touching("metal");
    assert_eq!((between(&to_metal, pair, true), between(&to_metal, metal, true)), (None, Some(2.25)));
    assert_eq!(between(&to_metal, (place(0, 1), None), true), None);
    assert_eq!(PartModel::parse(&to_metal).unwrap().truth(), Truth { touching: vec![1], ..Truth::default() });
    assert_eq!(between(&file("ohm = 0.5"), metal, true), None);
}

#[test]
fn several_mistakes_are_told_at_once_in_their_order() {
    let text = file("ohm = 1")
        .replace("format = 1", "format = 2")
        .replacen("connector = \"B\", cavity = 1", "connector = \"C\", cavity = 1", 1)
        .replacen("cavity = 2, at = \"open-plug\"", "cavity = 3, at = \"open\"", 1);
    let found = mistakes(&text);
    let wanted = [
        "1:10: out-of-range: another file format",
        "12:20: unknown-word: no connector is called \"C\"",
        "16:36: out-of-range: `cavity` is 3: a whole number from 1 to 2",
        "16:44: unknown-word: `at` is \"open\"",
    ];
    assert_eq!(found.len(), wanted.len(), "{found:#?}");
    for (found, wanted) in found.iter().zip(wanted) {
        assert!(found.starts_with(wanted), "{found}\n{wanted}");
    }
}

#[test]
fn what_the_program_would_refuse_as_a_part_is_refused_here() {
    let twice = file("ohm = 1").replace("name = \"2\"", "name = \"1\"");
    assert_eq!(mistakes(&twice), ["15:8: conflict: another conductor has this name: a name of its own"]);
    let inflator = file("ohm = 1").replacen("open-plug", "inflator", 1);
    assert!(mistakes(&inflator)[0].starts_with("10:8: conflict: an inflator is never measured: `drawn_only = true`"));
    let same = file("ohm = 1").replace("connector = \"B\", cavity = 2", "connector = \"A\", cavity = 2");
    assert!(mistakes(&same)[0].starts_with("17:6: conflict: both ends are the same cavity"));
    let empty = mistakes("format = 1\nname = \"x\"\n");
    assert_eq!(empty.len(), 2);
    assert!(empty[1].starts_with("3:1: out-of-range: no connector that can be measured"), "{empty:?}");
    assert!(mistakes("")[0].starts_with("1:1: missing-key: `format` is missing: format = 1"));
    assert!(mistakes(&"#".repeat(70_000))[0].starts_with("1:1: syntax: the file is too long"));
    let one = "[[conductors]]\nname = \"%\"\nfrom = { connector = \"A\", cavity = 1, at = \"open-plug\" }\nto = { connector = \"B\", cavity = 1, at = \"open-plug\" }\nohm = 1\n";
    let many: String = (0..=MAX_CONDUCTORS).map(|n| one.replace('%', &format!("more {n}"))).collect();
    assert!(mistakes(&(file("ohm = 1") + &many))[0].contains("too many"));
}

#[test]
fn the_parts_that_come_with_the_program_are_known_by_their_names_in_both_languages() {
    for (word, model) in PartModel::built_in_parts() {
        let (english, german) = (model.to_part_in(Language::En), model.to_part_in(Language::De));
        assert_eq!(english, model.to_part(), "{word}");
        assert!(german.name.starts_with("Übungsspule, "), "{word}: {}", german.name);
        let groups = |part: &Part| part.conductors.iter().filter_map(|c| c.group.clone()).collect::<Vec<_>>();
        assert!(groups(&german).iter().all(|group| group.ends_with("Band")), "{word}: {:?}", groups(&german));
        assert!(model.describes(&english) && model.describes(&german), "{word}");
        let other = Part { name: "Somebody's coil".into(), ..english };
        assert!(!model.describes(&other), "{word}");
    }
}
