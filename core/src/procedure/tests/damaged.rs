//! Work orders with one thing wrong: each is told with its code at its line and column.

use super::*;
use crate::meter::FileErrorCode::{self, *};

const COIL: &str = "steering-coil";
const SEAT: &str = "seat-connector";
const DOOR: &str = "door-harness";

/// Where a mistake is told.
enum At {
    /// At the `¦` in what was written.
    Mark,
    /// At the `[[steps]]` of this step.
    Step(&'static str),
    /// At this text in this step.
    In(&'static str, &'static str),
    /// At this text, first in the file.
    First(&'static str),
    /// At the end of the file.
    End,
}
use At::*;

/// File, step (or none), what stood there, what was written, code, place.
type Case = (&'static str, &'static str, &'static str, &'static str, FileErrorCode, At);

fn expect(cases: &[Case]) {
    let mut wrong = Vec::new();
    for (file, step, from, to, code, at) in cases {
        let (damaged, mark) = changed(text(file), step, (from, to));
        let place = match at {
            Mark => mark.expect("a mark"),
            Step(id) => step_range(&damaged, id).0,
            In(id, key) => {
                let (start, end) = step_range(&damaged, id);
                start + damaged[start..end].find(key).expect("it stands there")
            }
            First(key) => damaged.find(key).expect("it stands there"),
            End => damaged.len(),
        };
        let (line, column) = line_and_column(&damaged, place);
        let errors = Procedure::parse(&damaged).err().unwrap_or_default();
        let hit = errors.iter().any(|e| (e.line, e.column, e.code) == (line, column, *code) && !e.instead.is_empty());
        if !hit {
            wrong.push(format!(
                "{file} {step}: {from:?} -> {to:?}: wanted {line}:{column}: {code}, told\n{}",
                told(&errors)
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_head_that_is_not_right() {
    expect(&[
        (COIL, "", "format = 1", "format = ¦2", OutOfRange, Mark),
        (COIL, "", "format = 1\n", "", MissingKey, First("# A procedure")),
        (COIL, "", "version = 1", "version = ¦0", OutOfRange, Mark),
        (COIL, "", "version = 1", "version = ¦\"1\"", WrongType, Mark),
        (COIL, "", "version = 1", "¦vversion = 1", UnknownKey, Mark),
        (COIL, "", "id = \"orrin", "id = ¦\"Orrin", OutOfRange, Mark),
        (COIL, "", "date = \"2026-03-01\"", "date = ¦\"2026-02-30\"", OutOfRange, Mark),
        (COIL, "", "date = \"2026-03-01\"", "date = ¦2026-03-01", WrongType, Mark),
        (COIL, "", "status = \"draft\"", "status = ¦\"draught\"", UnknownWord, Mark),
        (COIL, "", "status = \"draft\"", "¦status = \"approved\"", MissingKey, Mark),
        (COIL, "", "status = \"draft\"", "status = \"approved\"\n¦reviewer = \"evenWire\"", Conflict, Mark),
        (COIL, "", "author = \"Evenwire\"", "author = ¦\" \"", OutOfRange, Mark),
        (COIL, "", "languages = [\"en\", \"de\"]", "languages = [\"en\", ¦\"ed\"]", UnknownWord, Mark),
        (COIL, "", "languages = [\"en\", \"de\"]", "¦languages = []", OutOfRange, Mark),
        (COIL, "", "languages = [\"en\", \"de\"]", "languages = [\"en\", ¦\"en\"]", Conflict, Mark),
        (COIL, "", "languages", "langs", MissingKey, First("# A procedure")),
    ]);
}

#[test]
fn texts_in_the_languages_of_the_file() {
    expect(&[
        (COIL, "wait", "{ en = \"Wait\", de = \"Warten\" }", "¦{ en = \"Wait\" }", MissingKey, Mark),
        (COIL, "wait", "{ en = \"Wait\", de = \"Warten\" }", "¦\"Wait\"", WrongType, Mark),
        (COIL, "wait", "{ en = \"Wait\", de = \"Warten\" }", "{ en = ¦\"\", de = \"Warten\" }", OutOfRange, Mark),
        (COIL, "wait", "{ en = \"Wait\", de", "{ en = ¦\"Wa\\u202Eit\", de", OutOfRange, Mark),
        (COIL, "wait", "{ en = \"Wait\", de", "{ ¦fr = \"Attendre\", en = \"Wait\", de", UnknownKey, Mark),
        (COIL, "wait", "text = { en = \"Wait", "text = { en = ¦\"One. Two. Wait", OutOfRange, Mark),
        (
            COIL,
            "",
            "languages = [\"en\", \"de\"]",
            "languages = [\"en\"]",
            Conflict,
            First("\"Orrin 3: Lenkradspule\""),
        ),
        (COIL, "wait", "title =", "tilte =", MissingKey, Step("wait")),
        (COIL, "wait", "title =", "¦tilte =", UnknownKey, Mark),
        (COIL, "wait", "cautions", "¦needs = []\ncautions", Syntax, In("wait", "needs = [\"cable_off\"]")),
    ]);
}

#[test]
fn circuits_that_cannot_be_or_must_not_be_measured() {
    expect(&[
        (COIL, "", "cavities = 8", "cavities = ¦65", OutOfRange, Mark),
        (COIL, "", "rows = 2", "rows = ¦5", OutOfRange, Mark),
        (COIL, "", "[[conductors]]", "[[connectors]]\n¦name = \"bag 1\"\ncavities = 1\n[[conductors]]", Conflict, Mark),
        (
            COIL,
            "",
            "[[bars]]",
            "[[conductors]]\n¦id = \"horn\"\nclass = \"signal\"\n\
             from = { connector = \"column\", cavity = 5, at = \"open-plug\" }\n\
             to = { connector = \"wheel\", cavity = 1, at = \"open-plug\" }\n[[bars]]",
            Conflict,
            Mark,
        ),
        (COIL, "", "connector = \"wheel\", cavity = 1", "connector = ¦\"whele\", cavity = 1", UnknownWord, Mark),
        (COIL, "", "connector = \"wheel\", cavity = 1", "connector = \"wheel\", cavity = ¦5", OutOfRange, Mark),
        (
            COIL,
            "",
            "{ connector = \"bag 1\", cavity = 1, at = \"open-plug\" }",
            "{ connector = \"bag 1\", cavity = 1, at = ¦\"bag\" }",
            UnknownWord,
            Mark,
        ),
        (
            COIL,
            "",
            "to = { connector = \"bag 1\", cavity = 1, at = \"open-plug\" }",
            "¦to = { connector = \"bag 1\", cavity = 1, at = \"inflator\" }",
            Interlock,
            Mark,
        ),
        (
            COIL,
            "",
            "from = { connector = \"column\", cavity = 5, at = \"open-plug\" }",
            "¦from = { connector = \"column\", cavity = 5, at = \"control-unit\" }",
            Interlock,
            Mark,
        ),
        (
            COIL,
            "",
            "from = { connector = \"column\", cavity = 5, at = \"open-plug\" }",
            "¦from = { connector = \"column\", cavity = 5, at = \"unknown\" }",
            Interlock,
            Mark,
        ),
        (
            COIL,
            "",
            "to = { connector = \"wheel\", cavity = 1",
            "¦to = { connector = \"column\", cavity = 5",
            Conflict,
            Mark,
        ),
        (COIL, "", "class = \"squib\"", "class = ¦\"squid\"", UnknownWord, Mark),
        (COIL, "", "group = \"squib\"", "¦group = \"alone\"", Conflict, Mark),
        (
            COIL,
            "",
            "pair = [\"stage-1-plus\", \"stage-1-minus\"]",
            "pair = [\"stage-1-plus\", ¦\"stage-1\"]",
            UnknownWord,
            Mark,
        ),
        (COIL, "", "pair = [\"stage-1-plus\", \"stage-1-minus\"]", "¦pair = [\"stage-1-plus\"]", OutOfRange, Mark),
        (
            COIL,
            "",
            "pair = [\"stage-2-plus\", \"stage-2-minus\"]",
            "¦pair = [\"stage-1-minus\", \"stage-1-plus\"]",
            Conflict,
            Mark,
        ),
        (COIL, "", "id = \"stage-2\"", "¦id = \"stage-1\"", Conflict, Mark),
        (COIL, "", "opened_by", "¦opend_by", UnknownKey, Mark),
        (
            SEAT,
            "",
            "id = \"seat-plus\"\nclass = \"squib\"\ndrawn_only = true\n",
            "id = \"seat-plus\"\nclass = \"squib\"\n¦",
            Interlock,
            Mark,
        ),
        (DOOR, "", "size = \"0.5 mm²\"", "size = ¦\"0.5 mm\"", Conflict, Mark),
        (DOOR, "", "size = \"0.5 mm²\"", "size = ¦\"0,5 mm²\"", OutOfRange, Mark),
        (SEAT, "measure", "\"body-minus\"", "¦\"seat-plus\"", Interlock, Mark),
        (DOOR, "measure-signal", "\"mirror\"", "¦\"side-bag-plus\"", Interlock, Mark),
        (SEAT, "isolation", "pairs = [", "¦pairs = [[\"body-plus\", \"seat-plus\"], ", Interlock, Mark),
        (SEAT, "isolation", "pairs = [", "pairs = [¦[\"body-plus\", \"chassis\"], ", UnknownWord, Mark),
        (SEAT, "isolation", "pairs = [", "pairs = [¦[\"body-plus\", \"body-plus\"], ", Conflict, Mark),
        (SEAT, "isolation", "pairs = [", "pairs = [¦[\"body-plus\"], ", WrongType, Mark),
    ]);
}

#[test]
fn nothing_of_a_restraint_system_before_it_is_safe() {
    expect(&[
        (COIL, "bag-off", "\"wait_done\", ", "", Interlock, In("bag-off", "needs")),
        (COIL, "bag-off", "\"cable_off\", ", "", Interlock, In("bag-off", "needs")),
        (COIL, "bag-off", "needs = [\"cable_off\", \"wait_done\", \"dead_proven\"]\n", "", Interlock, Step("bag-off")),
        (COIL, "coil-off", "\"dead_proven\", ", "", Interlock, In("coil-off", "needs")),
        (COIL, "bars-open", "\"dead_proven\", ", "", Interlock, In("bars-open", "needs")),
        (COIL, "measure-squib", "\"inflator_away(bag)\", ", "", Interlock, In("measure-squib", "needs")),
        (COIL, "measure-squib", ", \"bar_open(stage-2)\"", "", Interlock, In("measure-squib", "needs")),
        (COIL, "measure-switch", "\"wait_done\", ", "", Interlock, In("measure-switch", "needs")),
        (COIL, "sweep-squib", "\"wait_done\", ", "", Interlock, In("sweep-squib", "needs")),
        (COIL, "isolation", ", \"bar_open(stage-1)\"", "", Interlock, In("isolation", "needs")),
        (COIL, "isolation", "bars = \"open\"", "¦bars = \"none\"", Interlock, Mark),
        (COIL, "bag-on", "\"cable_off\", ", "", Interlock, In("bag-on", "needs")),
        (SEAT, "load-in", "\"wait_done\", ", "", Interlock, In("load-in", "needs")),
        (SEAT, "load-back", "\"dead_proven\"", "", Interlock, In("load-back", "needs")),
        (SEAT, "remedy", "\"cable_off\", ", "", Interlock, In("remedy", "needs")),
        (DOOR, "plugs-apart", "\"wait_done\", ", "", Interlock, In("plugs-apart", "needs")),
        (COIL, "cable-off", "needs = [\"before_scan_saved\"]\n", "", Interlock, Step("cable-off")),
        (COIL, "after-scan", "needs = [\"before_scan_saved\"]\n", "", Interlock, Step("after-scan")),
        (COIL, "wait", "needs = [\"cable_off\"]\n", "", Interlock, Step("wait")),
        (COIL, "prove-dead", "needs = [\"cable_off\"]\n", "", Interlock, Step("prove-dead")),
        (COIL, "angle-zero", ", \"wheels_straight\"", "", Interlock, In("angle-zero", "needs")),
        (COIL, "close", "\"after_scan_saved\", ", "", Interlock, In("close", "needs")),
        (COIL, "close", ", \"locks_home\"", "", Interlock, In("close", "needs")),
        (SEAT, "close", ", \"loads_home\"", "", Interlock, In("close", "needs")),
    ]);
}

#[test]
fn waits_and_proofs_that_are_too_weak() {
    expect(&[
        (COIL, "wait", "at_least = \"180 s\"", "¦at_least = \"119 s\"", Interlock, Mark),
        (COIL, "wait", "at_least = \"180 s\"", "¦at_least = \"1.999 min\"", Interlock, Mark),
        (COIL, "wait", "at_least = \"180 s\"", "¦at_least = \"10801 s\"", Conflict, Mark),
        (COIL, "wait", "at_least = \"180 s\"", "at_least = ¦\"-180 s\"", OutOfRange, Mark),
        (COIL, "wait", "at_least = \"180 s\"", "at_least = ¦\"180 V\"", Conflict, Mark),
        (COIL, "wait", "at_least = \"180 s\"", "at_least = ¦\"180\"", OutOfRange, Mark),
        (COIL, "wait", "at_least = \"180 s\"", "at_least = ¦180", WrongType, Mark),
        (COIL, "wait", "at_least = \"180 s\"\n", "", MissingKey, Step("wait")),
        (COIL, "wait", "source = \"invented\"", "source = ¦\"handbook\"", UnknownWord, Mark),
        (COIL, "wait", "starts = \"cable_off\"", "¦starts = \"before_scan_saved\"", Interlock, Mark),
        (COIL, "wait", "starts = \"cable_off\"", "starts = ¦\"cable off\"", UnknownWord, Mark),
        (COIL, "wait", "gives = [\"wait_done\"]\n", "", Conflict, Step("wait")),
        (COIL, "prove-dead", "limit = \"0.1 V\"", "¦limit = \"0.501 V\"", Interlock, Mark),
        (COIL, "prove-dead", "limit = \"0.1 V\"", "limit = ¦\"0.1 Ω\"", Conflict, Mark),
        (COIL, "prove-dead", "limit = \"0.1 V\"", "limit = ¦\"0 V\"", OutOfRange, Mark),
        (COIL, "prove-dead", "known_after", "¦known_aftr", UnknownKey, Mark),
        (COIL, "prove-dead", "known_after", "known_aftr", MissingKey, Step("prove-dead")),
        (COIL, "prove-dead", "points = [{ ", "¦points = [{ connector = \"bag 1\", ", Interlock, Mark),
        (
            COIL,
            "prove-dead",
            "points = [{ name = { en = \"Battery clamps\", de = \"Batterieklemmen\" } }]",
            "¦points = []",
            OutOfRange,
            Mark,
        ),
        (COIL, "prove-dead", "gives = [\"dead_proven\"]", "gives = [\"dead_proven\", ¦\"wait_done\"]", Interlock, Mark),
        (COIL, "cable-off", "kind = \"check\"", "kind = \"do\"", Interlock, In("cable-off", "\"cable_off\"")),
    ]);
}

#[test]
fn cautions_evidence_and_what_may_be_skipped() {
    expect(&[
        (COIL, "identify", "\"C0\", ", "", Interlock, In("identify", "cautions")),
        (COIL, "cable-off", "\"C2\", ", "", Interlock, In("cable-off", "cautions")),
        (COIL, "wait", "cautions = [\"C3\"]\n", "", Interlock, Step("wait")),
        (COIL, "prove-dead", "cautions = [\"C4\"]\n", "", Interlock, Step("prove-dead")),
        (COIL, "bag-off", "\"C5\", ", "", Interlock, In("bag-off", "cautions")),
        (COIL, "bag-off", ", \"C6\"", "", Interlock, In("bag-off", "cautions")),
        (COIL, "bars-open", ", \"C7\"", "", Interlock, In("bars-open", "cautions")),
        (COIL, "measure-squib", "[\"C1\"]", "[]", Interlock, In("measure-squib", "cautions")),
        (COIL, "isolation", ", \"C9\"", "", Interlock, In("isolation", "cautions")),
        (COIL, "sweep-squib", ", \"C8\"", "", Interlock, In("sweep-squib", "cautions")),
        (COIL, "wheel-on", "\"C10\"", "", Interlock, In("wheel-on", "cautions")),
        (COIL, "battery-on", "\"C11\"", "", Interlock, In("battery-on", "cautions")),
        (COIL, "candidate", "\"C13\"", "", Interlock, In("candidate", "cautions")),
        (SEAT, "load-in", ", \"C15\"", "", Interlock, In("load-in", "cautions")),
        (COIL, "angle-zero", "\"C16\"", "", Interlock, In("angle-zero", "cautions")),
        (COIL, "wait", "\"C3\"", "\"C3\", ¦\"C18\"", UnknownWord, Mark),
        (COIL, "cable-off", "evidence = [\"photo\"]", "¦evidence = [\"words\"]", Interlock, Mark),
        (COIL, "cable-off", "evidence = [\"photo\"]", "evidence = [¦\"foto\"]", UnknownWord, Mark),
        (COIL, "bag-off", "evidence = [\"photo\"]\n", "", Interlock, Step("bag-off")),
        (COIL, "wait", "cautions", "¦skip = { en = \"In a hurry.\", de = \"Eilig.\" }\ncautions", Interlock, Mark),
        (COIL, "before-scan", "cautions", "¦skip = { en = \"No.\", de = \"Nein.\" }\ncautions", Interlock, Mark),
        (COIL, "battery-on", "cautions", "¦skip = { en = \"No.\", de = \"Nein.\" }\ncautions", Interlock, Mark),
        (SEAT, "load-back", "cautions", "¦skip = { en = \"No.\", de = \"Nein.\" }\ncautions", Interlock, Mark),
        (
            COIL,
            "zero",
            "cautions",
            "skip = { en = \"No.\", de = \"Nein.\" }\ncautions",
            Conflict,
            In("measure-squib", "\"zero_valid\""),
        ),
    ]);
}

#[test]
fn steps_in_an_order_that_works() {
    expect(&[
        (COIL, "bag-off", "\"wait_done\", ", "\"wait_done\", ¦\"wait_don\", ", UnknownWord, Mark),
        (COIL, "bag-off", "\"wait_done\", ", "\"wait_done\", ¦\"wait_done\", ", Conflict, Mark),
        (COIL, "identify", "cautions", "needs = [¦\"lamp_off\"]\ncautions", Conflict, Mark),
        (COIL, "before-scan", "cautions", "needs = [¦\"cable_off\"]\ncautions", Conflict, Mark),
        (COIL, "identify", "cautions", "after = [¦\"close\"]\ncautions", Conflict, Mark),
        (COIL, "identify", "cautions", "after = [¦\"identify\"]\ncautions", Conflict, Mark),
        (COIL, "close", "\"functions\"", "¦\"function\"", UnknownWord, Mark),
        (COIL, "functions", "evidence", "needs = [¦\"cable_off\"]\nevidence", Conflict, Mark),
        (SEAT, "new-terminals", "cautions", "battery_on = true\ncautions", Conflict, In("remedy", "\"wait_done\"")),
        (COIL, "road-test", "id = \"road-test\"", "¦id = \"functions\"", Conflict, Mark),
        (COIL, "bag-off", "\"inflator_away(bag)\"", "¦\"inflator_away(sack)\"", UnknownWord, Mark),
        (COIL, "bars-open", "\"bar_open(stage-1)\"", "¦\"bar_open(stage-3)\"", UnknownWord, Mark),
        (
            COIL,
            "wheels-straight",
            "gives = [\"wheels_straight\"]",
            "gives = [\"wheels_straight\", ¦\"centred\"]",
            Interlock,
            Mark,
        ),
        (COIL, "battery-on", "battery_on = true ", "", Interlock, In("after-scan", "kind")),
        (SEAT, "battery-on-load", "battery_on = true\n", "", Interlock, In("load-scan", "kind")),
        (SEAT, "cable-off-again", "gives = [\"cable_off\"]\n", "", Conflict, In("wait-again", "\"cable_off\"")),
        (SEAT, "wait-again", "gives = [\"wait_done\"]", "gives = []", Conflict, In("load-back", "\"wait_done\"")),
        (SEAT, "load-back", "loads_in = 1\n", "", Interlock, In("load-back", "\"loads_home\"")),
        (SEAT, "load-back", "loads_in = 1", "¦loads_in = 2", Conflict, Mark),
        (COIL, "plugs-home", "locks_in = 1\n", "", Interlock, Step("close")),
        (
            COIL,
            "plugs-home",
            "gives = [\"bar_restored(stage-1)\", ",
            "gives = [",
            Interlock,
            In("battery-on", "battery_on"),
        ),
        (COIL, "close", "closes = true\n", "", MissingKey, End),
        (
            COIL,
            "road-test",
            "kind = \"check\"",
            "kind = \"sign\"\ncloses = true\nrole = { en = \"a\", de = \"b\" }",
            Conflict,
            Step("close"),
        ),
        (COIL, "compare-squib", "group = \"squib\"", "group = ¦\"squibs\"", UnknownWord, Mark),
        (COIL, "measure-squib", ", \"stage-2-minus\"", "", Conflict, In("compare-squib", "group")),
        (COIL, "zero-again", "again = \"zero\"", "¦again = \"zero-again\"", UnknownWord, Mark),
        (COIL, "zero-again", "again = \"zero\"\n", "", Conflict, In("zero", "repeat_at_end")),
    ]);
}

#[test]
fn figures_that_do_not_fit_together() {
    expect(&[
        (COIL, "wheel-on", "value = \"44 N·m\"", "value = ¦\"44 V\"", Conflict, Mark),
        (COIL, "wheel-on", "also = \"32.5 lbf·ft\"", "also = ¦\"33 lbf·ft\"", Conflict, Mark),
        (COIL, "wheel-on", "new_fastener", "lowest = ¦\"48 N·m\"\nhighest = \"40 N·m\"\nnew_fastener", Conflict, Mark),
        (COIL, "wheel-on", "new_fastener", "lowest = ¦\"45 N·m\"\nhighest = \"48 N·m\"\nnew_fastener", Conflict, Mark),
        (COIL, "wheel-on", "new_fastener", "lowest = \"40 N·m\"\nnew_fastener", MissingKey, Step("wheel-on")),
        (COIL, "wheel-on", "new_fastener", "wrench_length = \"300 mm\"\nnew_fastener", MissingKey, Step("wheel-on")),
        (COIL, "centre-old", "back = \"2.5 turns\"", "back = ¦\"2.4 turns\"", Conflict, Mark),
        (COIL, "centre-old", "free_each_side = \"2 turns\"", "free_each_side = ¦\"3 turns\"", Conflict, Mark),
        (COIL, "sweep-squib", "turns_each_side = 2", "¦turns_each_side = 3", Interlock, Mark),
        (
            COIL,
            "sweep-squib",
            "turns_each_side = 2",
            "turns_each_side = 2\npasses = 3",
            MissingKey,
            Step("sweep-squib"),
        ),
        (COIL, "sweep-squib", "jump = \"0.05 Ω\"", "jump = ¦\"0.05 mm\"", Conflict, Mark),
        (COIL, "measure-squib", "touches = 3", "touches = ¦5", OutOfRange, Mark),
        (COIL, "measure-squib", "touches = 3", "touches = 3\nwires = ¦3", OutOfRange, Mark),
        (COIL, "measure-squib", "touches = 3", "touches = 3\nlow = ¦\"1 Ω\"\nhigh = \"1000 mΩ\"", Conflict, Mark),
        (COIL, "measure-squib", "touches = 3", "touches = 3\nlow = ¦\"-1 Ω\"", OutOfRange, Mark),
        (COIL, "measure-squib", "touches = 3", "touches = 3\n¦source = \"invented\"", UnknownKey, Mark),
        (COIL, "measure-squib", "\"stage-2-plus\"", "¦\"stage-2-pluss\"", UnknownWord, Mark),
        (COIL, "isolation", "above = \"1 MΩ\"", "above = ¦\"1 M\"", OutOfRange, Mark),
        (COIL, "angle", "tolerance = \"3 °\"", "tolerance = ¦\"3 V\"", Conflict, Mark),
        (COIL, "angle", "tolerance = \"3 °\"", "tolerance = ¦\"0 °\"", OutOfRange, Mark),
        (COIL, "angle", "tolerance = \"3 °\"\n", "", MissingKey, Step("angle")),
        (COIL, "loop", "steady_within = \"0.2 Ω\"\n", "", MissingKey, Step("loop")),
        (COIL, "candidate", "[\"new\", \"used\"]", "[\"new\", ¦\"borrowed\"]", UnknownWord, Mark),
        (COIL, "wheel-off", "locks_out = 1", "locks_out = ¦21", OutOfRange, Mark),
        (COIL, "wheel-off", "locks_out = 1", "locks_out = ¦0.5", WrongType, Mark),
        (COIL, "candidate", "sign_off = \"second\"", "sign_off = ¦\"nobody\"", UnknownWord, Mark),
        (COIL, "functions", "kind = \"check\"", "kind = ¦\"chekc\"", UnknownWord, Mark),
    ]);
}
