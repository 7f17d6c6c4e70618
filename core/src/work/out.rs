//! What may be out of its place. A step may have been carried out as soon as it was begun, and it stays so until another
//! one that puts it back is done: neither a step that is done again nor another job on the bench puts anything back.

use crate::procedure::{Fact, Procedure, Step};
use std::collections::{BTreeMap, BTreeSet};

/// Bars, inflators, substitute loads and lock pins that may be out of their place.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Out {
    /// Shorting bars that may be held open.
    pub(super) bars: BTreeSet<String>,
    /// Inflators that may not be where they belong.
    pub(super) inflators: BTreeSet<String>,
    /// Substitute loads, by the step that fits them: done again it fits the same ones.
    loads: BTreeMap<String, u8>,
    /// Lock pins, likewise.
    locks: BTreeMap<String, u8>,
}

impl Out {
    pub(super) fn begin(&mut self, step: &Step) {
        for fact in &step.gives {
            match fact {
                Fact::BarOpen(bar) => drop(self.bars.insert(bar.clone())),
                Fact::InflatorAway(inflator) => drop(self.inflators.insert(inflator.clone())),
                _ => {}
            }
        }
        for (fitted, count) in [(&mut self.loads, step.counted.loads_out), (&mut self.locks, step.counted.locks_out)] {
            if count > 0 {
                fitted.insert(step.id.clone(), count);
            }
        }
    }

    /// `refitted`: inflators that are back with it.
    pub(super) fn done(&mut self, step: &Step, refitted: &BTreeSet<String>) {
        for fact in &step.gives {
            if let Fact::BarRestored(bar) = fact {
                self.bars.remove(bar);
            }
        }
        self.inflators.retain(|inflator| !refitted.contains(inflator));
        back(&mut self.loads, step.counted.loads_in);
        back(&mut self.locks, step.counted.locks_in);
    }

    /// Substitute loads and lock pins.
    pub(super) fn counted(&self) -> (u8, u8) {
        let sum = |of: &BTreeMap<String, u8>| of.values().fold(0u8, |sum, count| sum.saturating_add(*count));
        (sum(&self.loads), sum(&self.locks))
    }
}

/// The inflators that go back to their place in this step: its file says so, or it touches a plug they sit on and neither
/// takes them off nor needs them away.
pub(super) fn refitted(procedure: &Procedure, step: &Step) -> BTreeSet<String> {
    let said = step.cancels.iter().filter(|fact| matches!(fact, Fact::InflatorAway(_))).filter_map(Fact::about);
    let on = |plug: &u8| procedure.circuits.plugs.get(usize::from(*plug))?.inflator.as_deref();
    let touched = step.plugs.iter().filter_map(on).filter(|inflator| {
        let away = Fact::InflatorAway((*inflator).to_owned());
        !step.gives.contains(&away) && !step.needs.contains(&away)
    });
    said.chain(touched).map(str::to_owned).collect()
}

fn back(out: &mut BTreeMap<String, u8>, mut count: u8) {
    for fitted in out.values_mut() {
        let taken = count.min(*fitted);
        (*fitted, count) = (*fitted - taken, count - taken);
    }
    out.retain(|_, fitted| *fitted > 0);
}
