//! Parts made up from a seed.

use super::chance::Chance;
use super::part_model::{Fault, PartModel, Wire};
use evenwire_core::part::{AtEnd, Conductor, Connector, End};

/// Sound level of a group of thin, short ribbons, ohm.
const SQUIB_OHM: (f64, f64) = (0.25, 0.6);
/// Sound level of a group of switch lines, ohm.
const SWITCH_OHM: (f64, f64) = (1.0, 1.6);
/// Sound conductors of a group differ from its level by up to this share to either side.
const SPREAD: f64 = 0.025;
/// What a fault adds, ohm.
const ADDED_OHM: (f64, f64) = (0.3, 40.0);

const NAMES: [&str; 5] = ["Steering coil", "Door harness", "Seat harness", "Tailgate harness", "Roof harness"];

/// See [`PartModel::random`].
pub(super) fn random(seed: u64) -> PartModel {
    // Another stream than the meter's, which starts from the same seed.
    let mut chance = Chance::new(seed ^ 0x70A2_7000_0000_0001);
    let count = usize::try_from(chance.whole(4, 12)).expect("at most 12");
    let sizes = group_sizes(count, &mut chance);
    let kind = NAMES[usize::try_from(chance.whole(0, NAMES.len() as u64 - 1)).expect("an index")];
    let cavities = u8::try_from(count).expect("at most 12");
    let rows = if count.is_multiple_of(2) { 2 } else { 1 };
    let connector = |name: &str| Connector { name: name.to_owned(), cavities, rows };
    let mut model = PartModel::empty(format!("{kind} {seed}"), vec![connector("A"), connector("B")]);
    for (group, size) in sizes.iter().enumerate() {
        push_group(&mut model, (group, *size), &mut chance);
    }
    for _ in 0..fault_count(&mut chance) {
        let at = usize::try_from(chance.whole(0, count as u64 - 1)).expect("an index");
        model.wires[at].fault = Some(fault(&mut chance));
    }
    model
}

/// 1 to 3 groups of 2 or more that make up `count`.
fn group_sizes(count: usize, chance: &mut Chance) -> Vec<usize> {
    let groups = usize::try_from(chance.whole(1, (count as u64 / 2).min(3))).expect("at most 3");
    let mut sizes = vec![2; groups];
    for _ in 2 * groups..count {
        sizes[usize::try_from(chance.whole(0, groups as u64 - 1)).expect("an index")] += 1;
    }
    sizes
}

fn push_group(model: &mut PartModel, (group, size): (usize, usize), chance: &mut Chance) {
    let (kind, (low, high)) =
        if chance.share() < 0.5 { ("squib circuits", SQUIB_OHM) } else { ("switch lines", SWITCH_OHM) };
    let level = chance.between(low, high);
    let group = format!("{kind} {}", group + 1);
    for _ in 0..size {
        let number = model.part.conductors.len() + 1;
        let cavity = u8::try_from(number).expect("at most 12");
        let end = |connector| End { connector, cavity, at: AtEnd::OpenPlug };
        let conductor = Conductor {
            name: number.to_string(),
            group: Some(group.clone()),
            from: end(0),
            to: end(1),
            drawn_only: false,
            limit: None,
        };
        let ohm = level * chance.between(1.0 - SPREAD, 1.0 + SPREAD);
        // To a tenth of a milliohm: what a person would write into a part file.
        let ohm = (ohm * 10_000.0).round() / 10_000.0;
        model.push(conductor, Wire { ohm, over_angle: Vec::new(), fault: None });
    }
}

/// None for one half, one for most of the others, sometimes two.
fn fault_count(chance: &mut Chance) -> usize {
    match chance.share() {
        s if s < 0.5 => 0,
        s if s < 0.9 => 1,
        _ => 2,
    }
}

fn fault(chance: &mut Chance) -> Fault {
    if chance.share() < 0.25 {
        return Fault::Open;
    }
    // As many small as large ones: even on each of seven doublings (0.3 · 2^7 = 38.4).
    let (least, most) = ADDED_OHM;
    let doubling = f64::from(1u32 << chance.whole(0, 6));
    let ohm = (least * doubling * chance.between(1.0, 2.0)).min(most);
    Fault::Added { ohm: (ohm * 1_000.0).round() / 1_000.0 }
}
