//! What the rules ask of a step by what it does. No file can switch these off: a step that does not name them is
//! refused when the file is read.

use super::Procedure;
use super::fact::Fact;
use super::kind::{CodesWhen, StepKind};
use super::step::{Evidence, Step};
use crate::caution::Caution;
use std::collections::BTreeSet;

impl Procedure {
    /// Whether a plug of a restraint system is taken apart, mated, touched or measured in this step.
    pub fn touches_restraint(&self, step: &Step) -> bool {
        let of_restraint = |plug: u8| self.circuits.is_restraint(plug);
        let about = |fact: &Fact| fact.about().is_some();
        step.plugs.iter().copied().any(of_restraint)
            || self.clipped_plugs(step).into_iter().any(of_restraint)
            || step.gives.iter().any(about)
            || (step.counted.loads_out, step.counted.loads_in) != (0, 0)
    }

    /// The plugs the clips go to, indices.
    fn clipped_plugs(&self, step: &Step) -> BTreeSet<u8> {
        let wires = step.kind.wires();
        let ends = |index: usize| self.circuits.wires.get(index).map(|wire| [wire.from.connector, wire.to.connector]);
        wires.into_iter().filter_map(ends).flatten().collect()
    }

    /// The facts this step needs whatever its file says.
    pub fn demanded_needs(&self, step: &Step) -> BTreeSet<Fact> {
        let mut demanded = BTreeSet::new();
        if self.touches_restraint(step) {
            demanded.extend(Fact::SAFE);
        }
        if step.gives.contains(&Fact::CableOff) {
            demanded.insert(Fact::BeforeScanSaved);
        }
        match &step.kind {
            StepKind::Wait(_) | StepKind::ProveDead(_) => drop(demanded.insert(Fact::CableOff)),
            StepKind::Codes(codes) if codes.erases || codes.when == CodesWhen::After => {
                demanded.insert(Fact::BeforeScanSaved);
            }
            StepKind::LiveValue(live) if live.stores_zero => drop(demanded.insert(Fact::WheelsStraight)),
            _ => {}
        }
        let wires = step.kind.wires();
        for plug in self.clipped_plugs(step) {
            let inflator = self.circuits.plugs.get(usize::from(plug)).and_then(|plug| plug.inflator.clone());
            demanded.extend(inflator.map(Fact::InflatorAway));
        }
        let bridged =
            self.circuits.bars.iter().filter(|bar| [bar.pair.0, bar.pair.1].iter().any(|w| wires.contains(w)));
        demanded.extend(bridged.map(|bar| Fact::BarOpen(bar.id.clone())));
        if step.kind.closes() {
            demanded.insert(Fact::AfterScanSaved);
            let loose = |count: fn(&Step) -> u8| self.steps.iter().any(|step| count(step) > 0);
            demanded.extend(loose(|step| step.counted.loads_out).then_some(Fact::LoadsHome));
            demanded.extend(loose(|step| step.counted.locks_out).then_some(Fact::LocksHome));
        }
        demanded
    }

    /// The cautions shown at this step whatever its file says.
    pub fn demanded_cautions(&self, step: &Step) -> BTreeSet<Caution> {
        let gives = |one: fn(&Fact) -> bool| step.gives.iter().any(one);
        let first = self.steps.first().is_some_and(|first| first.id == step.id);
        let asked = [
            (first, Caution::C0),
            (step.kind.uses_ohms(), Caution::C1),
            (gives(|fact| *fact == Fact::CableOff), Caution::C2),
            (matches!(step.kind, StepKind::Wait(_)), Caution::C3),
            (matches!(step.kind, StepKind::ProveDead(_)), Caution::C4),
            // Clips on terminals of a plug that is apart already pull no plug.
            (self.touches_restraint(step) && !step.kind.uses_ohms(), Caution::C5),
            (gives(|fact| matches!(fact, Fact::InflatorAway(_))), Caution::C6),
            (gives(|fact| matches!(fact, Fact::BarOpen(_))), Caution::C7),
            (step.kind.turns_the_coil(), Caution::C8),
            (matches!(step.kind, StepKind::Isolation(_)), Caution::C9),
            (matches!(step.kind, StepKind::Torque(_)), Caution::C10),
            (step.battery_on, Caution::C11),
            (matches!(step.kind, StepKind::Part(_)), Caution::C13),
            (step.counted.loads_out > 0, Caution::C15),
            (matches!(&step.kind, StepKind::LiveValue(live) if live.stores_zero), Caution::C16),
        ];
        asked.into_iter().filter(|(applies, _)| *applies).map(|(_, caution)| caution).collect()
    }
}

/// Whether a step of this kind may make `fact` so.
pub(super) fn may_give(kind: &StepKind, fact: &Fact) -> bool {
    let codes = |wanted: CodesWhen| matches!(kind, StepKind::Codes(codes) if codes.when == wanted);
    let check = matches!(kind, StepKind::Check);
    match fact {
        Fact::BeforeScanSaved => codes(CodesWhen::Before),
        Fact::AfterScanSaved | Fact::LampOff => codes(CodesWhen::After),
        Fact::WaitDone => matches!(kind, StepKind::Wait(_)),
        Fact::DeadProven => matches!(kind, StepKind::ProveDead(_)),
        Fact::ZeroValid => matches!(kind, StepKind::Zero(_)),
        Fact::Centred => matches!(kind, StepKind::Centre(_)),
        Fact::LockIn => check || kind.turns_the_coil(),
        Fact::CableOff
        | Fact::WheelsStraight
        | Fact::InflatorAway(_)
        | Fact::BarOpen(_)
        | Fact::BarRestored(_)
        | Fact::LoadsHome
        | Fact::LocksHome => check,
    }
}

/// The fact a step of this kind is there for, if there is one.
pub(super) fn purpose(kind: &StepKind) -> Option<Fact> {
    match kind {
        StepKind::Wait(_) => Some(Fact::WaitDone),
        StepKind::ProveDead(_) => Some(Fact::DeadProven),
        StepKind::Zero(_) => Some(Fact::ZeroValid),
        StepKind::Codes(codes) => match codes.when {
            CodesWhen::Before => Some(Fact::BeforeScanSaved),
            CodesWhen::During => None,
            CodesWhen::After => Some(Fact::AfterScanSaved),
        },
        _ => None,
    }
}

/// What must be kept to show that `fact` is so.
pub(super) fn evidence_of(fact: &Fact) -> Option<Evidence> {
    let seen = matches!(fact, Fact::CableOff | Fact::WheelsStraight | Fact::InflatorAway(_));
    seen.then_some(Evidence::Photo)
}
