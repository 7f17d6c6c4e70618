//! A part for practising a procedure: wired as its file says, with one fault until the verdict on it is signed.

use super::part_model::{BarModel, Fault, PartModel, Wire};
use evenwire_core::job::Job;
use evenwire_core::part::Part;
use evenwire_core::procedure::StepKind;
use std::collections::BTreeMap;

/// Sound levels of the groups of a part in turn, ohm.
const LEVELS_OHM: [f64; 4] = [0.35, 0.62, 0.21, 1.3];
/// Sound conductors of a group differ by so much from one to the next, ohm.
const APART_OHM: f64 = 0.002;
/// What is the matter with it, ohm above the others.
const ADDED_OHM: f64 = 11.65;

/// What lies on the bench of a job that follows a procedure; `None` where it follows none.
pub(super) fn of_job(job: &Job) -> Option<PartModel> {
    let work = job.work.as_ref()?;
    let judged = |kind: &StepKind| matches!(kind, StepKind::Sign(_));
    let signed = work.procedure.steps.iter().any(|step| judged(&step.kind) && work.state(&step.id).is_some());
    Some(wired(job.part.as_ref()?, !signed))
}

/// Wired like `part`. A faulty one has its fault in the last conductor of the first group that can be measured.
fn wired(part: &Part, faulty: bool) -> PartModel {
    let mut groups: BTreeMap<&str, usize> = BTreeMap::new();
    let measured = |index: usize| !part.conductors[index].drawn_only;
    let first = part.conductors.iter().find(|c| c.group.is_some() && !c.drawn_only).and_then(|c| c.group.as_ref());
    let bad = (0..part.conductors.len()).rfind(|&i| measured(i) && part.conductors[i].group.as_ref() == first);
    let mut wires = Vec::new();
    for (index, conductor) in part.conductors.iter().enumerate() {
        let next = groups.len();
        let level = conductor.group.as_deref().map_or(next, |group| *groups.entry(group).or_insert(next));
        let even = LEVELS_OHM[level % LEVELS_OHM.len()];
        let fault = (faulty && bad == Some(index)).then_some(Fault::Added { ohm: ADDED_OHM });
        wires.push(Wire { ohm: even + APART_OHM * (index % 3) as f64, over_angle: Vec::new(), fault });
    }
    PartModel { part: part.clone(), wires, bar: BarModel::default() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenwire_core::procedure::{Procedure, built_in};
    use evenwire_core::verdict::words::Language;

    #[test]
    fn a_procedures_part_has_one_plain_fault_until_it_is_judged_and_nothing_that_is_never_measured_has_one() {
        for (name, text) in built_in() {
            let part = Procedure::parse(text).unwrap().circuits.part(Language::En, 2);
            let bad = wired(&part, true).truth().bad;
            assert_eq!(bad.len(), 1, "{name}");
            assert!(!part.conductors[bad[0]].drawn_only, "{name}");
            assert!(part.conductors[bad[0]].group.is_some(), "{name}: it stands beside others");
            assert_eq!(wired(&part, false).truth(), crate::practice::Truth::default(), "{name}");
        }
    }
}
