//! A changed procedure keeps what the one before asked for, or is told which rule it loosens.

use super::*;
use crate::procedure::{Rule, at_least_as_strict};

const COIL: &str = "steering-coil";
const SEAT: &str = "seat-connector";
const DOOR: &str = "door-harness";

/// `text` as its next version.
fn next(text: &str) -> String {
    text.replacen("version = 1\n", "version = 2\n", 1)
}

/// What is said of a file that is right by itself, with this change in this step.
fn said(file: &str, step: &str, change: (&str, &str)) -> Result<(), Rule> {
    at_least_as_strict(&parsed(file), &right(&next(&changed(text(file), step, change).0)))
}

#[test]
fn the_same_and_what_is_stricter_is_let_in() {
    for file in [COIL, SEAT, DOOR] {
        assert_eq!(at_least_as_strict(&parsed(file), &parsed(file)), Ok(()));
        assert_eq!(at_least_as_strict(&parsed(file), &right(&next(text(file)))), Ok(()));
    }
    for (file, step, from, to) in [
        (COIL, "wait", "180 s", "4 min"),
        (COIL, "wait", "starts", "restarts = [\"dead_proven\"]\nstarts"),
        (COIL, "prove-dead", "0.1 V", "50 mV"),
        (COIL, "functions", "evidence = [", "evidence = [\"photo\", "),
        (COIL, "functions", "evidence", "cautions = [\"C17\"]\nevidence"),
        (COIL, "functions", "evidence", "needs = [\"lamp_off\"]\nevidence"),
        (COIL, "functions", "evidence", "sign_off = \"second\"\nevidence"),
        (COIL, "angle-zero", "skip", "# skip"),
        (COIL, "measure-squib", "touches = 3", "touches = 4\nwires = 4\nhigh = \"1 Ω\""),
        (COIL, "isolation", "1 MΩ", "2000 kΩ"),
        (COIL, "candidate", "[\"new\", \"used\"]", "[\"new\"]"),
        (
            COIL,
            "functions",
            "[[steps]]",
            "[[steps]]\nid = \"more\"\nkind = \"note\"\ntitle = { en = \"a\", de = \"b\" }\ntext = { en = \"a\", de = \"b\" }\n\n[[steps]]",
        ),
        (COIL, "after-scan", "erases = true", "erases = false"),
        (COIL, "", "name = \"wheel\"", "name = \"wheel\"\nrestraint = true"),
        (DOOR, "sweep", "at_least = \"10 s\"", "at_least = \"12 s\""),
    ] {
        assert_eq!(said(file, step, (from, to)), Ok(()), "{step}: {from} -> {to}");
    }
}

#[test]
fn what_is_looser_is_told_by_its_rule() {
    let id = |id: &str| id.to_owned();
    let wheel_names = "name = { en = \"Horn\"";
    for (file, step, from, to, rule) in [
        (COIL, "wait", "180 s", "179 s", Rule::Wait(id("wait"))),
        (COIL, "wait", "180 s", "2 min", Rule::Wait(id("wait"))),
        (COIL, "prove-dead", "0.1 V", "0.2 V", Rule::Dead(id("prove-dead"))),
        (COIL, "measure-squib", "\"zero_valid\", ", "", Rule::Needs(id("measure-squib"))),
        (COIL, "wheel-on", "\"wheels_straight\", ", "", Rule::Needs(id("wheel-on"))),
        (COIL, "battery-on", "after = [\"bag-on\"]\n", "", Rule::Needs(id("battery-on"))),
        (COIL, "cable-off", ", \"C12\"", "", Rule::Caution(id("cable-off"), crate::caution::Caution::C12)),
        (
            COIL,
            "wheel-off",
            "evidence = [\"photo\"]",
            "",
            Rule::Evidence(id("wheel-off"), crate::procedure::Evidence::Photo),
        ),
        (COIL, "plugs-home", "plugs = [\"column\", \"wheel\"]\n", "", Rule::RestraintPlug(id("plugs-home"))),
        (
            COIL,
            "functions",
            "evidence",
            "battery_on = true\ncautions = [\"C11\"]\nevidence",
            Rule::RestraintPlug(id("functions")),
        ),
        (COIL, "road-test", "evidence", "skip = { en = \"a\", de = \"b\" }\nevidence", Rule::Skip(id("road-test"))),
        (COIL, "candidate", "sign_off = \"second\"", "", Rule::SecondPerson(id("candidate"))),
        (COIL, "candidate", "[\"new\", \"used\"]", "[\"new\", \"used\", \"rebuilt\"]", Rule::Part(id("candidate"))),
        (COIL, "bag-on", "cancels = [\"inflator_away(bag)\"]\n", "", Rule::Gives(id("bag-on"))),
        (COIL, "measure-squib", "touches = 3", "touches = 2", Rule::Limit(id("measure-squib"))),
        (COIL, "isolation", "1 MΩ", "999 kΩ", Rule::Limit(id("isolation"))),
        (COIL, "isolation", "[\"stage-2-minus\", \"horn\"], ", "", Rule::Limit(id("isolation"))),
        (COIL, "sweep-squib", "0.05 Ω", "0.06 Ω", Rule::Limit(id("sweep-squib"))),
        (COIL, "sweep-squib", "jump_steps = 3", "jump_steps = 4", Rule::Limit(id("sweep-squib"))),
        (COIL, "zero", "0.05 Ω", "0.06 Ω", Rule::Limit(id("zero"))),
        (COIL, "angle", "3 °", "4 °", Rule::Limit(id("angle"))),
        (COIL, "angle", "target = \"0 °\"", "target = \"1 °\"", Rule::Limit(id("angle"))),
        (COIL, "loop", "0.2 Ω", "300 mΩ", Rule::Limit(id("loop"))),
        (
            COIL,
            "centre-new",
            "free_each_side = \"2 turns\"",
            "free_each_side = \"1 turns\"",
            Rule::Limit(id("centre-new")),
        ),
        (COIL, "wheel-on", "44 N·m", "44.1 N·m", Rule::Torque(id("wheel-on"))),
        (
            COIL,
            "wheel-on",
            "value = \"44 N·m\"\nalso = \"32.5 lbf·ft\"",
            "value = \"32.5 lbf·ft\"\nalso = \"44 N·m\"",
            Rule::Torque(id("wheel-on")),
        ),
        (COIL, "wheel-on", "new_fastener = true", "", Rule::Torque(id("wheel-on"))),
        (COIL, "functions", "kind = \"check\"", "kind = \"do\"", Rule::Kind(id("functions"))),
        (COIL, "functions", "id = \"functions\"", "id = \"other\"", Rule::StepGone(id("functions"))),
        (COIL, "", wheel_names, "drawn_only = false\nname = { en = \"Horn\"", Rule::NewVersion),
        (COIL, "", "id = \"orrin-3-steering-coil\"", "id = \"another\"", Rule::OtherProcedure),
        (DOOR, "measure-signal", ", \"speaker-minus\"", "", Rule::Limit(id("measure-signal"))),
        // A pin that is neither fitted nor counted back in this step; the way stays even.
        (COIL, "sweep-squib", "locks_out = 1", "locks_out = 2\nlocks_in = 1", Rule::Counted(id("sweep-squib"))),
    ] {
        let broken = changed(text(file), step, (from, to)).0;
        // Two changes that only hold together with another one.
        let whole = match (step, to) {
            ("functions", "id = \"other\"") => broken.replace("after = [\"functions\"", "after = [\"other\""),
            ("measure-signal", _) => broken.replacen(
                "id = \"speaker-minus\"\nname = { en = \"Loudspeaker −\", de = \"Lautsprecher −\" }\nclass = \"signal\"\ngroup = \"signal\"",
                "id = \"speaker-minus\"\nname = { en = \"Loudspeaker −\", de = \"Lautsprecher −\" }\nclass = \"signal\"", 1),
            _ => broken,
        };
        let whole = if rule == Rule::NewVersion { whole.replacen("Hupe", "Tröte", 1) } else { next(&whole) };
        assert_eq!(at_least_as_strict(&parsed(file), &right(&whole)), Err(rule), "{step}: {from} -> {to}");
    }
}

#[test]
fn circuits_are_not_opened_to_the_clips() {
    let rule = |file: &str, from: &str, to: &str| {
        let text = text(file);
        assert!(text.contains(from), "{from}");
        at_least_as_strict(&parsed(file), &right(&next(&text.replace(from, to))))
    };
    let name = |name: &str| name.to_owned();
    // An inflator's end said to be open.
    assert_eq!(rule(SEAT, "at = \"inflator\"", "at = \"open-plug\""), Err(Rule::Inflator(name("seat-plus"))));
    assert_eq!(rule(SEAT, "cavities = 2", "cavities = 3"), Err(Rule::Inflator(name("control unit"))));
    assert_eq!(rule(DOOR, "restraint = true\n", ""), Ok(()), "a conductor that fires stands in it all the same");
    assert_eq!(rule(DOOR, "class = \"squib\"", "class = \"signal\""), Err(Rule::Inflator(name("side-bag-plus"))));
    let unmarked = text(DOOR).replace("class = \"squib\"", "class = \"signal\"").replace("restraint = true\n", "");
    assert_eq!(
        at_least_as_strict(
            &parsed(DOOR),
            &right(&next(&unmarked.replace("at = \"control-unit\"", "at = \"open-plug\"")))
        ),
        Err(Rule::Inflator(name("yellow, pillar"))),
    );
    // The plug no longer sits on an inflator.
    let gone = text(COIL)
        .replace("inflator = \"bag\"", "#")
        .replace("\"inflator_away(bag)\", ", "")
        .replace("\"inflator_away(bag)\"", "");
    assert_eq!(at_least_as_strict(&parsed(COIL), &right(&next(&gone))), Err(Rule::Inflator(name("bag 1"))));
    assert_eq!(rule(COIL, "plugs = [\"bag 2\", \"column\"]", ""), Err(Rule::Bar(name("stage-2"))));
}

#[test]
fn steps_stay_in_their_order() {
    let coil = text(COIL);
    let (start, end) = step_range(coil, "functions");
    let (_, close) = step_range(coil, "road-test");
    let moved = format!("{}{}{}{}", &coil[..start], &coil[end..close], &coil[start..end], &coil[close..]);
    assert_eq!(at_least_as_strict(&parsed(COIL), &right(&next(&moved))), Err(Rule::Order("road-test".to_owned())));
}
