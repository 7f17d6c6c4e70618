//! Where clips may go, and what is wrong with a description.

use super::*;

const ALL: [AtEnd; 7] = [
    AtEnd::OpenPlug,
    AtEnd::BareTerminal,
    AtEnd::UnpoweredLoad,
    AtEnd::ControlUnit,
    AtEnd::Inflator,
    AtEnd::Tensioner,
    AtEnd::Unknown,
];

fn end(connector: u8, cavity: u8, at: AtEnd) -> End {
    End { connector, cavity, at }
}

fn conductor(name: &str, cavity: u8, ends: (AtEnd, AtEnd)) -> Conductor {
    Conductor {
        name: name.into(),
        group: Some("ribbon".into()),
        from: end(0, cavity, ends.0),
        to: end(1, cavity, ends.1),
        drawn_only: false,
        limit: None,
    }
}

const FREE: (AtEnd, AtEnd) = (AtEnd::OpenPlug, AtEnd::OpenPlug);

/// Two plugs with four cavities, three conductors between them.
fn harness() -> Part {
    let connector = |name: &str| Connector { name: name.into(), cavities: 4, rows: 2 };
    Part {
        name: "Door harness".into(),
        connectors: vec![connector("A"), connector("B")],
        conductors: vec![conductor("1", 1, FREE), conductor("2", 2, FREE), conductor("3", 3, FREE)],
        touches_wanted: 2,
        ceiling: None,
        bars: Vec::new(),
    }
}

fn changed(change: impl FnOnce(&mut Part)) -> Vec<PartProblem> {
    let mut part = harness();
    change(&mut part);
    part.problems()
}

#[test]
fn a_clip_goes_only_where_both_ends_are_known_to_be_free() {
    let free = [AtEnd::OpenPlug, AtEnd::BareTerminal, AtEnd::UnpoweredLoad];
    let mut points = 0;
    for from in ALL {
        for to in ALL {
            for drawn_only in [false, true] {
                let wire = Conductor { drawn_only, ..conductor("1", 3, (from, to)) };
                let allowed = free.contains(&from) && free.contains(&to) && !drawn_only;
                let part = Part { conductors: vec![wire], ..harness() };
                match part.clip_points(0) {
                    Ok((a, b)) => {
                        assert!(allowed, "{from:?} {to:?} {drawn_only}");
                        assert_eq!((a.connector(), a.cavity(), b.connector(), b.cavity()), (0, 3, 1, 3));
                        points += 1;
                    }
                    Err(why) => {
                        assert!(!allowed, "{from:?} {to:?}: {why}");
                        // The worse of two reasons is told, not that it is only a drawing.
                        if !free.contains(&from) || !free.contains(&to) {
                            assert_ne!(why, EndRefused::DrawnOnly);
                        }
                    }
                }
            }
        }
    }
    assert_eq!(points, 9, "three free ends against three");
}

#[test]
fn every_end_that_is_refused_says_why() {
    for (at, why) in [
        (AtEnd::ControlUnit, EndRefused::ControlUnit),
        (AtEnd::Inflator, EndRefused::Inflator),
        (AtEnd::Tensioner, EndRefused::Tensioner),
        (AtEnd::Unknown, EndRefused::Unknown),
    ] {
        for ends in [(at, AtEnd::OpenPlug), (AtEnd::OpenPlug, at)] {
            let part = Part { conductors: vec![conductor("1", 1, ends)], ..harness() };
            assert_eq!(part.clip_points(0), Err(why));
        }
        // A plug that goes to something that fires is left alone with all its cavities.
        let fires = matches!(at, AtEnd::Inflator | AtEnd::Tensioner);
        let same_plug = |index| PartProblem::End { index, why: EndRefused::SamePlug };
        let with = |drawn_only| {
            changed(|p| p.conductors[1] = Conductor { drawn_only, ..conductor("2", 2, (AtEnd::OpenPlug, at)) })
        };
        let refused = PartProblem::End { index: 1, why };
        if fires {
            assert_eq!(with(false), [same_plug(0), refused, same_plug(2)]);
            assert_eq!(with(true), [same_plug(0), same_plug(2)], "it may be drawn");
        } else {
            assert_eq!(with(false), [refused]);
            assert_eq!(with(true), [], "it may be drawn");
        }
    }
    assert_eq!(harness().clip_points(99), Err(EndRefused::NoConductor));
}

#[test]
fn a_sound_description_has_no_problem() {
    assert_eq!(harness().problems(), []);
    assert_eq!(changed(|p| p.conductors[0].group = None), []);
    assert_eq!(changed(|p| p.name = "x".repeat(MAX_NAME)), []);
    assert_eq!(changed(|p| p.conductors[2].from.cavity = 2), [], "a joint: two conductors in one cavity");
}

#[test]
fn names_are_there_once_and_fit() {
    let name = |place: &str, index| PartProblem::Name { place: place.into(), index };
    let twice = |place: &str, index| PartProblem::NameTwice { place: place.into(), index };
    for bad in [String::new(), "  ".into(), "ü".repeat(MAX_NAME + 1)] {
        assert_eq!(changed(|p| p.name = bad.clone()), [name("part", 0)]);
        assert_eq!(changed(|p| p.connectors[1].name = bad.clone()), [name("connector", 1)]);
        assert_eq!(changed(|p| p.conductors[2].name = bad.clone()), [name("conductor", 2)]);
        assert_eq!(changed(|p| p.conductors[2].group = Some(bad.clone())), [name("group", 2)]);
    }
    assert_eq!(changed(|p| p.connectors[1].name = " A".into()), [twice("connector", 1)]);
    assert_eq!(changed(|p| p.conductors[2].name = "1".into()), [twice("conductor", 2)]);
}

#[test]
fn there_is_something_to_measure_and_not_too_much() {
    let count = |place: &str| PartProblem::Count { place: place.into() };
    let conductors = |many: usize| {
        changed(|p| {
            p.conductors = (0..many).map(|i| conductor(&i.to_string(), 1, FREE)).collect();
        })
    };
    assert_eq!(conductors(0), [count("conductor")]);
    assert_eq!(conductors(MAX_CONDUCTORS), []);
    assert_eq!(conductors(MAX_CONDUCTORS + 1), [count("conductor")]);
    assert_eq!(changed(|p| p.conductors.iter_mut().for_each(|c| c.drawn_only = true)), [count("conductor")]);
    let connectors = |many: usize| {
        changed(|p| {
            let one = p.connectors[0].clone();
            p.connectors = (0..many).map(|i| Connector { name: format!("C{i}"), ..one.clone() }).collect();
        })
    };
    assert_eq!(connectors(MAX_CONNECTORS), []);
    assert_eq!(connectors(MAX_CONNECTORS + 1), [count("connector")]);
    assert!(connectors(0).contains(&count("connector")));
}

#[test]
fn a_face_has_its_rows_within_its_cavities() {
    let face = |cavities, rows| {
        changed(|p| {
            p.connectors.push(Connector { name: "C".into(), cavities, rows });
        })
    };
    for (cavities, rows) in [(1, 1), (4, 4), (MAX_CAVITIES, 1)] {
        assert_eq!(face(cavities, rows), [], "{cavities} in {rows}");
    }
    for (cavities, rows) in [(0, 0), (0, 1), (1, 0), (2, 3), (5, 5), (MAX_CAVITIES + 1, 1), (255, 255)] {
        assert_eq!(face(cavities, rows), [PartProblem::Face { index: 2 }], "{cavities} in {rows}");
    }
}

#[test]
fn a_conductor_joins_two_cavities_that_are_there() {
    let no_such = [PartProblem::NoSuchCavity { index: 0 }];
    assert_eq!(changed(|p| p.conductors[0].from.cavity = 0), no_such);
    assert_eq!(changed(|p| p.conductors[0].to.cavity = 5), no_such);
    assert_eq!(changed(|p| p.conductors[0].to.connector = 2), no_such);
    let loop_back = |p: &mut Part| p.conductors[0].to = p.conductors[0].from.clone();
    assert_eq!(changed(loop_back), [PartProblem::SameCavity { index: 0 }]);
}

#[test]
fn one_cavity_is_not_free_for_one_conductor_and_an_inflator_for_another() {
    for at in [AtEnd::Inflator, AtEnd::Tensioner, AtEnd::ControlUnit, AtEnd::Unknown] {
        let drawn = Conductor { drawn_only: true, ..conductor("2", 1, (AtEnd::OpenPlug, at)) };
        let found = changed(|p| p.conductors[1] = drawn);
        assert!(found.contains(&PartProblem::EndsDisagree { index: 1 }), "{at:?}: {found:?}");
    }
    let both = |p: &mut Part| {
        p.conductors[0] = Conductor { drawn_only: true, ..conductor("1", 1, (AtEnd::Inflator, AtEnd::Inflator)) };
        p.conductors[1] = Conductor { drawn_only: true, ..conductor("2", 1, (AtEnd::Tensioner, AtEnd::Inflator)) };
    };
    let disagree = |p: &PartProblem| matches!(p, PartProblem::EndsDisagree { .. });
    assert!(!changed(both).iter().any(disagree), "neither is free: no clip goes there");
}

#[test]
fn one_to_four_touches_are_wanted() {
    for touches in 0..=255u8 {
        let wrong = !(1..=4).contains(&touches);
        let found = changed(|p| p.touches_wanted = touches);
        assert_eq!(found, if wrong { vec![PartProblem::TouchesWanted] } else { vec![] }, "{touches}");
    }
}

#[test]
fn blanks_around_names_make_no_second_group() {
    let mut part = harness();
    part.conductors[0].group = Some(" ribbon ".into());
    part.conductors[1].group = Some("  ".into());
    part.connectors[0].name = "A ".into();
    let trimmed = part.trimmed();
    let groups: Vec<Option<&str>> = trimmed.conductors.iter().map(|c| c.group.as_deref()).collect();
    assert_eq!(groups, [Some("ribbon"), None, Some("ribbon")]);
    assert_eq!(trimmed.connectors[0].name, "A");
}
