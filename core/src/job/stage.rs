//! What of a job is to be done now, and how far it is.

use super::line::Stage;
use super::state::Job;
use crate::caution::Caution;

impl Job {
    /// The step to do now.
    pub fn stage(&self) -> Stage {
        if self.finished.is_some() {
            Stage::Done
        } else if self.hands.away().is_some() {
            Stage::HandedOver
        } else if self.work.as_ref().is_some_and(|work| !work.reads_ohms()) {
            Stage::Steps
        } else if self.work.is_some() {
            self.stage_of_reading()
        } else if !self.cautions.contains(&Caution::C0)
            || (self.proofs.old.is_some() && !self.cautions.contains(&Caution::C13))
        {
            Stage::Start
        } else if self.part.is_none() {
            Stage::Part
        } else if self.instrument.is_none() {
            Stage::Meter
        } else if self.verdict.is_some() && !self.resumed {
            // Given before the job was taken over, it is looked at before anything is measured here.
            Stage::Verdict
        } else if self.hands.meter_anew {
            Stage::Meter
        } else if !self.cautions.contains(&Caution::C1) {
            Stage::Caution
        } else {
            Stage::Measure
        }
    }

    /// At a step of a procedure that is read with an ohmmeter. Part and cautions came with the step.
    fn stage_of_reading(&self) -> Stage {
        if self.instrument.is_none() || self.hands.meter_anew { Stage::Meter } else { Stage::Measure }
    }

    /// Touches taken that count towards those wanted, and touches wanted.
    pub fn progress(&self) -> (usize, usize) {
        let goal = |c: u32| match self.chosen {
            Some((chosen, goal)) if chosen == c => goal.max(self.wanted()),
            _ => self.wanted(),
        };
        self.asked_conductors()
            .into_iter()
            .fold((0, 0), |(taken, wanted), c| (taken + self.standing(c).count().min(goal(c)), wanted + goal(c)))
    }
}
