//! Is a changed file at least as strict as the one before? Asked before a procedure from elsewhere takes the place of
//! one that is known.

use super::amount::Amount;
use super::circuits::{Circuits, Class};
use super::fact::Fact;
use super::kind::{Limit, StepKind, Wait};
use super::step::{Evidence, Step};
use super::{Procedure, kind};
use crate::caution::Caution;
use crate::part::{AtEnd, End};
use std::collections::BTreeSet;

/// What a changed file loosened.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Rule {
    /// It is about another job.
    #[error("it has another id")]
    OtherProcedure,
    /// Something changed, and the version was not counted up.
    #[error("a change needs a higher version")]
    NewVersion,
    /// An end, a plug or a conductor is no longer kept from the clips, or is gone.
    #[error("{0}: what must not be measured is no longer marked, or is gone")]
    Inflator(String),
    /// A bar is gone, or bridges others.
    #[error("shorting bar {0} is gone or changed")]
    Bar(String),
    /// A step is gone.
    #[error("step {0} is gone")]
    StepGone(String),
    /// A step became one of another kind.
    #[error("step {0} is of another kind")]
    Kind(String),
    /// Steps stand in another order.
    #[error("step {0} stands elsewhere")]
    Order(String),
    /// A need, or a step to be done before, is gone.
    #[error("step {0} needs less")]
    Needs(String),
    /// A step makes other facts so, or ends fewer.
    #[error("step {0} gives or ends other facts")]
    Gives(String),
    /// A caution is gone.
    #[error("step {0} no longer shows {1:?}")]
    Caution(String, Caution),
    /// Evidence is no longer asked for.
    #[error("step {0} no longer asks for {1:?}")]
    Evidence(String, Evidence),
    /// A plug is no longer named, or the battery no longer said to be connected.
    #[error("step {0} no longer says what it touches")]
    RestraintPlug(String),
    /// A step may be skipped that could not.
    #[error("step {0} may be skipped now")]
    Skip(String),
    /// A second person no longer signs.
    #[error("step {0} no longer needs a second person")]
    SecondPerson(String),
    /// Loads or lock pins are counted otherwise.
    #[error("step {0} counts loads or lock pins otherwise")]
    Counted(String),
    /// The wait is shorter, or starts again for less.
    #[error("the wait of step {0} is weaker")]
    Wait(String),
    /// Dead is proven less well.
    #[error("step {0} proves dead less well")]
    Dead(String),
    /// Codes are erased that were not, or read at another time.
    #[error("step {0} reads or erases codes otherwise")]
    Codes(String),
    /// A limit is wider, fewer conductors are measured, or less often.
    #[error("step {0} allows more or measures less")]
    Limit(String),
    /// A limit that was the shop's own claims a source.
    #[error("step {0} claims a source for a limit that had none")]
    LimitSource(String),
    /// A torque is another, or in another unit.
    #[error("step {0} has another torque")]
    Torque(String),
    /// A part may be what it could not be.
    #[error("step {0} lets in other parts")]
    Part(String),
}

/// Whether `changed` keeps everything the safety rules and limits of `original` ask for: what it needs, shows, waits,
/// counts and forbids is equal or stricter. Steps, conductors and plugs are matched by their names; new ones may come
/// in, for they were checked when the file was read. What texts *say* is not judged: somebody has to read them.
///
/// # Errors
/// The first [`Rule`] that was loosened.
pub fn at_least_as_strict(original: &Procedure, changed: &Procedure) -> Result<(), Rule> {
    if original == changed {
        return Ok(());
    }
    keep(original.head.id == changed.head.id, || Rule::OtherProcedure)?;
    circuits(&original.circuits, &changed.circuits)?;
    let mut above = 0;
    for step in &original.steps {
        let id = || step.id.clone();
        let at = changed.steps.iter().position(|other| other.id == step.id);
        let at = at.ok_or_else(|| Rule::StepGone(id()))?;
        keep(at >= above, || Rule::Order(id()))?;
        above = at;
        let other = &changed.steps[at];
        keep(step.kind.word() == other.kind.word(), || Rule::Kind(id()))?;
        shared(original, changed, (step, other))?;
        own(original, changed, (step, other))?;
    }
    keep(changed.head.version > original.head.version, || Rule::NewVersion)
}

fn keep(kept: bool, rule: impl FnOnce() -> Rule) -> Result<(), Rule> {
    if kept { Ok(()) } else { Err(rule()) }
}

fn circuits(original: &Circuits, changed: &Circuits) -> Result<(), Rule> {
    for (index, plug) in (0u8..).zip(&original.plugs) {
        let rule = || Rule::Inflator(plug.face.name.clone());
        let other = changed.plug(&plug.face.name).ok_or_else(rule)?;
        let same = &changed.plugs[usize::from(other)];
        let marked = !original.is_restraint(index) || changed.is_restraint(other);
        keep(marked && same.face == plug.face && same.inflator == plug.inflator, rule)?;
    }
    for wire in &original.wires {
        let rule = || Rule::Inflator(wire.id.clone());
        let other = &changed.wires[changed.wire(&wire.id).ok_or_else(rule)?];
        let ends = [(&wire.from, &other.from), (&wire.to, &other.to)];
        let same = ends.iter().all(|(one, two)| end_kept((original, one), (changed, two)));
        let class = wire.class == other.class || wire.class != Class::Squib;
        keep(same && class && (other.drawn_only || !wire.drawn_only), rule)?;
    }
    for bar in &original.bars {
        let rule = || Rule::Bar(bar.id.clone());
        let other = changed.bars.iter().find(|other| other.id == bar.id).ok_or_else(rule)?;
        let names =
            |c: &Circuits, pair: (usize, usize)| BTreeSet::from([pair.0, pair.1].map(|w| c.wires[w].id.clone()));
        let plugs = named(original, &bar.plugs).is_subset(&named(changed, &other.plugs));
        keep(plugs && names(original, bar.pair) == names(changed, other.pair), rule)?;
    }
    Ok(())
}

/// The same cavity, and no clip may go where none could.
fn end_kept((original, one): (&Circuits, &End), (changed, two): (&Circuits, &End)) -> bool {
    let free = |end: &End| matches!(end.at, AtEnd::OpenPlug | AtEnd::BareTerminal | AtEnd::UnpoweredLoad);
    let name = |c: &Circuits, end: &End| c.plugs[usize::from(end.connector)].face.name.clone();
    let same = name(original, one) == name(changed, two) && one.cavity == two.cavity;
    same && (one.at == two.at || (free(one) && !free(two)))
}

fn named(circuits: &Circuits, plugs: &BTreeSet<u8>) -> BTreeSet<String> {
    plugs.iter().map(|plug| circuits.plugs[usize::from(*plug)].face.name.clone()).collect()
}

/// What every step has.
fn shared(original: &Procedure, changed: &Procedure, (one, two): (&Step, &Step)) -> Result<(), Rule> {
    let id = || one.id.clone();
    keep(one.needs.is_subset(&two.needs) && one.after.is_subset(&two.after), || Rule::Needs(id()))?;
    keep(one.gives == two.gives && one.cancels.is_subset(&two.cancels), || Rule::Gives(id()))?;
    if let Some(caution) = one.cautions.difference(&two.cautions).next() {
        return Err(Rule::Caution(id(), *caution));
    }
    if let Some(evidence) = one.evidence.difference(&two.evidence).next() {
        return Err(Rule::Evidence(id(), *evidence));
    }
    let plugs = named(&original.circuits, &one.plugs).is_subset(&named(&changed.circuits, &two.plugs));
    keep(plugs && one.battery_on == two.battery_on, || Rule::RestraintPlug(id()))?;
    keep(one.skip.is_some() || two.skip.is_none(), || Rule::Skip(id()))?;
    keep(one.sign_off <= two.sign_off, || Rule::SecondPerson(id()))?;
    keep(one.counted == two.counted, || Rule::Counted(id()))
}

/// What only one kind has.
fn own(original: &Procedure, changed: &Procedure, (one, two): (&Step, &Step)) -> Result<(), Rule> {
    let id = || one.id.clone();
    let ids = |p: &Procedure, wires: &BTreeSet<usize>| -> BTreeSet<String> {
        wires.iter().map(|wire| p.circuits.wires[*wire].id.clone()).collect()
    };
    let wires = ids(original, &one.kind.wires()).is_subset(&ids(changed, &two.kind.wires()));
    keep(wires, || Rule::Limit(id()))?;
    match (&one.kind, &two.kind) {
        (StepKind::Wait(one), StepKind::Wait(two)) => keep(wait_kept(one, two), || Rule::Wait(id())),
        (StepKind::ProveDead(one), StepKind::ProveDead(two)) => {
            keep(two.limit.at_most(one.limit) && two.points.len() >= one.points.len(), || Rule::Dead(id()))
        }
        (StepKind::Codes(one), StepKind::Codes(two)) => {
            keep(one.when == two.when && (one.erases || !two.erases), || Rule::Codes(id()))
        }
        (StepKind::Torque(one), StepKind::Torque(two)) => {
            let figures =
                |torque: &kind::Torque| (torque.value, torque.also, torque.range, torque.angle, torque.lengths);
            let same = figures(one) == figures(two) && (two.new_fastener || !one.new_fastener);
            keep(same, || Rule::Torque(id()))
        }
        (StepKind::Part(one), StepKind::Part(two)) => keep(two.may_be.is_subset(&one.may_be), || Rule::Part(id())),
        (StepKind::Sign(one), StepKind::Sign(two)) => keep(one.closes == two.closes, || Rule::StepGone(id())),
        (StepKind::Measure(first), StepKind::Measure(second)) => {
            let claims = |limit: &Option<Limit>| limit.as_ref().is_some_and(|limit| limit.source.is_some());
            let claimed = first.limit.is_some() && !claims(&first.limit) && claims(&second.limit);
            keep(!claimed, || Rule::LimitSource(id()))?;
            let often = second.touches >= first.touches && second.leads >= first.leads;
            keep(often && limit_kept(first.limit.as_ref(), second.limit.as_ref()), || Rule::Limit(id()))
        }
        (StepKind::Isolation(first), StepKind::Isolation(second)) => {
            keep(first.source.is_some() || second.source.is_none(), || Rule::LimitSource(id()))?;
            let pairs =
                |p: &Procedure, pairs: &BTreeSet<(usize, Option<usize>)>| -> BTreeSet<BTreeSet<Option<String>>> {
                    let name = |wire: usize| Some(p.circuits.wires[wire].id.clone());
                    pairs.iter().map(|(a, b)| BTreeSet::from([name(*a), b.and_then(name)])).collect()
                };
            let all = pairs(original, &first.pairs).is_subset(&pairs(changed, &second.pairs));
            let bars = second.bars_open || !first.bars_open;
            keep(all && bars && first.above.at_most(second.above), || Rule::Limit(id()))
        }
        (one, two) => keep(figures_kept(one, two), || Rule::Limit(id())),
    }
}

fn wait_kept(one: &Wait, two: &Wait) -> bool {
    let starts = one.starts == two.starts && one.restarts.is_subset(&two.restarts);
    starts && one.at_least.at_most(two.at_least) && two.restarts.contains(&Fact::CableOff)
}

/// A limit may come in or close in, not go or open.
fn limit_kept(one: Option<&Limit>, two: Option<&Limit>) -> bool {
    let (Some(one), two) = (one, two) else { return true };
    let Some(two) = two else { return false };
    let high = one.high.is_none_or(|one| two.high.is_some_and(|two| two.at_most(one)));
    let low = one.low.is_none_or(|one| two.low.is_some_and(|two| one.at_most(two)));
    high && low
}

/// The figures of the kinds that have no rule of their own.
fn figures_kept(one: &StepKind, two: &StepKind) -> bool {
    match (one, two) {
        (StepKind::Zero(one), StepKind::Zero(two)) => {
            let repeats = (two.repeat_at_end || !one.repeat_at_end) && one.again == two.again;
            repeats && two.drift.at_most(one.drift) && two.drift_steps <= one.drift_steps
        }
        (StepKind::Sweep(one), StepKind::Sweep(two)) => {
            let finer = two.jump.at_most(one.jump) && two.jump_steps <= one.jump_steps;
            finer && one.plan == two.plan && one.at_least.at_most(two.at_least) && two.marks.len() >= one.marks.len()
        }
        (StepKind::Compare(one), StepKind::Compare(two)) => {
            one.group == two.group && (two.known_good || !one.known_good)
        }
        (StepKind::Centre(one), StepKind::Centre(two)) => {
            let figures = |centre: &kind::Centre| (centre.total, centre.back, centre.plug_angle);
            figures(one) == figures(two) && one.free_each_side.at_most(two.free_each_side)
        }
        (StepKind::LiveValue(one), StepKind::LiveValue(two)) => {
            let narrower = |one: Option<Amount>, two: Option<Amount>| {
                one.is_none_or(|one| two.is_some_and(|two| two.at_most(one)))
            };
            let width = |target: Option<(Amount, Amount)>| target.map(|(_, width)| width);
            let aim = one.target.is_none_or(|(one, _)| two.target.is_some_and(|(two, _)| one == two));
            let steady = narrower(one.steady_within, two.steady_within);
            aim && steady && narrower(width(one.target), width(two.target)) && (one.stores_zero || !two.stores_zero)
        }
        _ => true,
    }
}
