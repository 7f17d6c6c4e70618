//! Step F: what the conductors of a group should read.
//!
//! Faults add resistance. So the reference is the level most conductors agree on, or a lower level at least two
//! agree on, unless a closed shorting bar or a wider ribbon explains the lower one.

use super::bench::Bench;
use super::outcome::GroupKind;
use super::readings::{KnownGood, KnownGoodLevel};
use super::statistics::{at_most, below, mean, sum, variance};
use crate::copper::TEMPERATURE_COEFFICIENT;

/// A conductor's value with its variance.
#[derive(Clone, Copy, Debug)]
pub(super) struct Usable {
    pub index: usize,
    pub value: f64,
    /// Ohms squared.
    pub variance: f64,
}

/// A level that conductors can be compared with.
#[derive(Clone, Debug)]
pub(super) struct Reference {
    /// Ohms.
    pub level: f64,
    /// Ohms squared.
    pub variance: f64,
    /// The conductors that carry it.
    pub members: Vec<usize>,
    /// Ohms allowed above and below.
    pub tolerance: f64,
    pub low_tolerance: f64,
}

/// The reference of a group, or two of them when it cannot be told which is right.
#[derive(Clone, Debug)]
pub(super) struct GroupReference {
    pub kind: GroupKind,
    /// None, one, or two (ambiguous): the main one first.
    pub references: Vec<Reference>,
    /// The group shows two levels.
    pub two_levels: bool,
    /// The conductors that carry the lower level, if there is one.
    pub lower: Vec<usize>,
    /// Number of usable values in the group.
    pub usable: usize,
}

/// A group as F sees it.
#[derive(Debug)]
pub(super) struct Group<'a> {
    /// Name, `""` when undeclared.
    pub name: &'a str,
    pub declared: bool,
}

/// F: the reference of a group. `values` are the usable ones of its conductors, in any order.
pub(super) fn find_reference(group: &Group, mut values: Vec<Usable>, bench: &Bench) -> GroupReference {
    values.sort_by(|a, b| a.value.total_cmp(&b.value).then(a.index.cmp(&b.index)));
    let usable = values.len();
    let settled = |kind, references| GroupReference { kind, references, two_levels: false, lower: Vec::new(), usable };
    if let Some(known) = known_good_of(group.name, bench) {
        return settled(GroupKind::KnownGood, vec![from_known_good(known, bench)]);
    }
    let windows = Windows::over(&values, bench);
    let Some(main) = windows.main() else {
        return match values.first() {
            None => settled(GroupKind::None, Vec::new()),
            Some(lowest) => settled(GroupKind::Lone, vec![from_members(&[*lowest], bench)]),
        };
    };
    let main_reference = from_members(windows.values(main), bench);
    if let Some(lower) = windows.lower_than(main) {
        let lower_reference = from_members(windows.values(lower), bench);
        let explained = may_be_explained(bench.ratio(lower_reference.level, main_reference.level), group, bench);
        let lower = lower_reference.members.clone();
        let (kind, references) = if explained {
            (GroupKind::Ambiguous, vec![main_reference, lower_reference])
        } else {
            // No bar and no width explains so low a level: it is the sound one, the upper ones are bad.
            (GroupKind::Cluster, vec![lower_reference])
        };
        return GroupReference { kind, references, two_levels: true, lower, usable };
    }
    if !group.declared {
        for upper in windows.higher_than(main) {
            let upper_reference = from_members(windows.values(upper), bench);
            let ratio = bench.ratio(main_reference.level, upper_reference.level);
            if at_most(bench.rules.ratio_width, ratio) {
                let references = vec![main_reference, upper_reference];
                return GroupReference {
                    kind: GroupKind::Ambiguous,
                    references,
                    two_levels: true,
                    lower: Vec::new(),
                    usable,
                };
            }
        }
    }
    settled(GroupKind::Cluster, vec![main_reference])
}

/// A lower level is explained by a closed bar, or, where nobody said which conductors belong together, by a width.
fn may_be_explained(ratio: f64, group: &Group, bench: &Bench) -> bool {
    at_most(bench.rules.ratio_bar, ratio) || (!group.declared && at_most(bench.rules.ratio_width, ratio))
}

fn known_good_of<'a>(name: &str, bench: &Bench<'a>) -> Option<&'a KnownGoodLevel> {
    match bench.part.known_good.as_ref()? {
        KnownGood::Everywhere(level) => Some(level),
        KnownGood::ByGroup(levels) => levels.get(name),
    }
}

/// F1: what a known good part read, brought to this temperature and these leads.
fn from_known_good(known: &KnownGoodLevel, bench: &Bench) -> Reference {
    let (factor, kelvin) = bench.warmed_from(known.t);
    let value = known.value * factor;
    let warmth = TEMPERATURE_COEFFICIENT * kelvin * value;
    let meter = if known.same_meter { 0.0 } else { (bench.accuracy * value.abs() + bench.accuracy_ohm).powi(2) / 3.0 };
    let leads = if bench.lead.left > 0.0 { bench.lead.u * bench.lead.u } else { 0.0 };
    let variance = sum([known.u * known.u, warmth * warmth, meter, leads]);
    reference(value + bench.lead.left, variance, Vec::new(), bench)
}

/// F6: the mean of the members; its variance from their scatter or from their own, whichever is larger.
fn from_members(members: &[Usable], bench: &Bench) -> Reference {
    let values: Vec<f64> = members.iter().map(|m| m.value).collect();
    let own: Vec<f64> = members.iter().map(|m| m.variance).collect();
    let level = mean(&values).unwrap_or(f64::NAN);
    let own = mean(&own).unwrap_or(f64::NAN);
    let scatter = variance(&values);
    // Not f64::max: an uncertainty that cannot be computed must stay one.
    let larger = if scatter > own { scatter } else { own };
    let mut indices: Vec<usize> = members.iter().map(|m| m.index).collect();
    indices.sort_unstable();
    reference(level, larger / members.len() as f64, indices, bench)
}

fn reference(level: f64, variance: f64, members: Vec<usize>, bench: &Bench) -> Reference {
    let above_leads = (level - bench.lead.left).max(0.0);
    Reference {
        level,
        variance,
        members,
        tolerance: bench.tolerance_at(above_leads),
        low_tolerance: bench.low_tolerance_at(above_leads),
    }
}

/// F2: for every value, the values that lie within the width of a level above it. Ranges of the ascending values.
struct Windows<'a> {
    values: &'a [Usable],
    ranges: Vec<std::ops::Range<usize>>,
}

impl<'a> Windows<'a> {
    fn over(values: &'a [Usable], bench: &Bench) -> Windows<'a> {
        let ranges = values
            .iter()
            .map(|start| {
                let width = bench.rules.level_width * bench.tolerance_at((start.value - bench.lead.left).max(0.0));
                let top = start.value + width;
                let from = values.partition_point(|v| below(v.value, start.value));
                let to = values.partition_point(|v| at_most(v.value, top));
                from..to.max(from)
            })
            .collect();
        Windows { values, ranges }
    }

    fn values(&self, window: &std::ops::Range<usize>) -> &'a [Usable] {
        &self.values[window.clone()]
    }

    /// The window of most members, at least two; of equals the highest.
    fn main(&self) -> Option<&std::ops::Range<usize>> {
        self.levels().max_by_key(|window| (window.len(), window.start))
    }

    /// The lowest window that lies wholly under another.
    fn lower_than(&self, main: &std::ops::Range<usize>) -> Option<&std::ops::Range<usize>> {
        self.levels().find(|window| window.end <= main.start)
    }

    /// The windows that lie wholly over another, from the lowest.
    fn higher_than(&self, main: &std::ops::Range<usize>) -> impl Iterator<Item = &std::ops::Range<usize>> {
        self.levels().filter(move |window| window.start >= main.end)
    }

    fn levels(&self) -> impl Iterator<Item = &std::ops::Range<usize>> {
        self.ranges.iter().filter(|window| window.len() >= 2)
    }
}
