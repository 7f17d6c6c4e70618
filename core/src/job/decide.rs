//! Which events a wish brings about, or why it brings none. Deciding changes nothing.

use super::command::Command;
use super::line::Stage;
use super::refusal::Refusal;
use super::state::Job;
use crate::caution::Caution;
use crate::part::{EndRefused, MAX_NAME, Part};
use crate::procedure::StepKind;
use crate::record::{BarState, Conditions, Event, TouchFact};
use crate::unit::{Now, Quantity, Unit};
use crate::verdict::ActionCode;
use crate::work::StepRefusal;

/// Verdict actions that are answered by clipping a conductor again.
const CLIP_AGAIN: [ActionCode; 2] = [ActionCode::TouchAgain, ActionCode::Measure];

impl Job {
    /// The events of `command`. Commands that do not concern the job itself give none.
    ///
    /// # Errors
    /// [`Refusal`], and nothing changes.
    pub fn decide(&self, command: &Command) -> Result<Vec<Event>, Refusal> {
        if self.finished.is_some() {
            return Err(Refusal::Finished);
        }
        self.may_go_on()?;
        match command {
            Command::AcceptCautions { cautions } => {
                Ok(cautions.iter().map(|caution| Event::CautionAccepted { caution: *caution }).collect())
            }
            // Part, bars and the end of the job are steps of it.
            Command::DescribePart { .. } | Command::StateBar { .. } | Command::Finish if self.work.is_some() => {
                Err(Refusal::ByProcedure)
            }
            Command::StateBar { bar } => self.state_bar(bar),
            Command::Withdraw { reading } => {
                let there = self.proofs.holds(*reading);
                // What a step that is done rests on goes only with the step.
                if there && self.work.as_ref().is_some_and(|work| work.rests_on(*reading)) {
                    Err(StepRefusal::Settled.into())
                } else if there {
                    Ok(vec![Event::ReadingWithdrawn { reading: *reading }])
                } else {
                    Err(Refusal::NoSuchReading)
                }
            }
            Command::DescribePart { part } => self.describe(part),
            Command::StateConditions { conditions } => {
                check_temperature(conditions)?;
                Ok(vec![Event::ConditionsStated { conditions: conditions.clone() }])
            }
            Command::ChooseConductor { conductor } => {
                self.may_measure(*conductor)?;
                if self.work.is_some() && !self.asked_conductors().contains(conductor) {
                    return Err(Refusal::ByProcedure);
                }
                Ok(vec![Event::ConductorChosen { conductor: *conductor }])
            }
            Command::UndoTouch { touch } => {
                self.at_measuring()?;
                let newest = self.newest_touch().ok_or(Refusal::NothingToUndo)?;
                // One that was taken since the key was drawn is not taken back unseen.
                if newest.touch != *touch {
                    return Err(Refusal::NewerTouch);
                }
                if self.work.as_ref().is_some_and(|work| work.rests_on(newest.touch)) {
                    return Err(StepRefusal::Settled.into());
                }
                Ok(vec![Event::TouchUndone { touch: newest.touch }])
            }
            Command::Judge => {
                self.may_judge()?;
                Ok(vec![Event::Judged { judgement: self.judged().ok_or(Refusal::MeterFirst)? }])
            }
            Command::MeasureMore => self.measure_more(),
            Command::Finish => match &self.verdict {
                Some(verdict) if self.stage() == Stage::Verdict && !verdict.outdated => Ok(vec![Event::JobFinished {}]),
                _ => Err(Refusal::VerdictFirst),
            },
            _ => Ok(Vec::new()),
        }
    }

    /// The event of a touch that settled or was taken by key on the conductor announced.
    ///
    /// # Errors
    /// [`Refusal`] when measuring is not the step to do, or the clips may not go there.
    pub fn touch(&self, fact: TouchFact, now: &Now) -> Result<Vec<Event>, Refusal> {
        self.at_measuring()?;
        let wire = fact.conductor as usize;
        self.may_read(|kind| matches!(kind, StepKind::Measure(m) if m.wires.contains(&wire)), now)?;
        self.may_measure(fact.conductor)?;
        Ok(vec![Event::TouchTaken(fact)])
    }

    fn describe(&self, part: &Part) -> Result<Vec<Event>, Refusal> {
        if !self.cautions.contains(&Caution::C0) {
            return Err(Refusal::CautionFirst { caution: Caution::C0 });
        }
        let part = part.clone().trimmed();
        // What was measured is measured: the same cavities, whatever they are called and held against.
        if self.was_measured() && !self.part.as_ref().is_some_and(|p| p.same_wiring(&part)) {
            return Err(Refusal::PartMeasured);
        }
        let problems = part.problems();
        if problems.is_empty() { Ok(vec![Event::PartDescribed { part }]) } else { Err(Refusal::PartWrong { problems }) }
    }

    /// A verdict could be given now.
    ///
    /// # Errors
    /// The [`Refusal`] it would meet.
    pub fn may_judge(&self) -> Result<(), Refusal> {
        if self.finished.is_some() {
            return Err(Refusal::Finished);
        }
        self.may_prove()?;
        if self.newest_touch().is_some() { Ok(()) } else { Err(Refusal::NothingMeasured) }
    }

    /// Something in the record rests on plugs and conductors as they are described now.
    pub fn was_measured(&self) -> bool {
        !self.touches.is_empty() || !self.proofs.sweeps.is_empty() || !self.proofs.isolation.is_empty()
    }

    fn state_bar(&self, bar: &BarState) -> Result<Vec<Event>, Refusal> {
        self.may_prove()?;
        let count = self.part.as_ref().map_or(0, |p| p.conductors.len());
        if bar.a == bar.b {
            return Err(Refusal::SameConductor);
        }
        if bar.a as usize >= count || bar.b as usize >= count {
            return Err(Refusal::NoSuchConductor);
        }
        if bar.opened.chars().count() > MAX_NAME {
            return Err(Refusal::TooLong { field: "opened".into() });
        }
        if !self.cautions.contains(&Caution::C7) {
            return Err(Refusal::CautionFirst { caution: Caution::C7 });
        }
        let bar = BarState { opened: bar.opened.trim().to_owned(), ..bar.clone() };
        Ok(vec![Event::BarStated { bar }])
    }

    /// Zero, meter check, bars, isolation and sweeps: while measuring, and after a verdict as long as the job is open.
    ///
    /// # Errors
    /// The [`Refusal`] of a step that comes before.
    pub(crate) fn may_prove(&self) -> Result<(), Refusal> {
        if self.stage() != Stage::Verdict {
            return self.at_measuring();
        }
        self.may_go_on()?;
        // Of a verdict that was given elsewhere the steps before it were done there.
        if self.hands.meter_anew {
            return Err(Refusal::MeterFirst);
        }
        if self.cautions.contains(&Caution::C1) { Ok(()) } else { Err(Refusal::CautionFirst { caution: Caution::C1 }) }
    }

    fn measure_more(&self) -> Result<Vec<Event>, Refusal> {
        let verdict = self.verdict.as_ref().filter(|_| !self.resumed).ok_or(Refusal::VerdictFirst)?;
        let mut events = vec![Event::MeasuringResumed {}];
        let judgement = &verdict.judgement;
        if let Some(conductor) = judgement.action_conductor.filter(|_| CLIP_AGAIN.contains(&judgement.action)) {
            events.push(Event::ConductorChosen { conductor });
        }
        Ok(events)
    }

    /// Measuring is the step to do now.
    pub(crate) fn at_measuring(&self) -> Result<(), Refusal> {
        self.may_go_on()?;
        match self.stage() {
            Stage::Measure => Ok(()),
            Stage::Start => Err(Refusal::CautionFirst { caution: Caution::C0 }),
            Stage::Steps => Err(Refusal::ByProcedure),
            Stage::Part => Err(Refusal::PartFirst),
            Stage::Meter => Err(Refusal::MeterFirst),
            Stage::Caution => Err(Refusal::CautionFirst { caution: Caution::C1 }),
            Stage::Verdict => Err(Refusal::VerdictGiven),
            Stage::HandedOver | Stage::Done => Err(Refusal::Finished),
        }
    }

    pub(crate) fn may_measure(&self, conductor: u32) -> Result<(), Refusal> {
        let part = self.part.as_ref().ok_or(Refusal::PartFirst)?;
        part.clip_points(conductor as usize).map(|_| ()).map_err(|why| match why {
            EndRefused::NoConductor => Refusal::NoSuchConductor,
            why => Refusal::End { why },
        })
    }
}

/// Colder or hotter than this no part lies on a bench, degree Celsius.
const BENCH_CELSIUS: (i64, i64) = (-40, 85);

fn check_temperature(conditions: &Conditions) -> Result<(), Refusal> {
    let edge = |digits| Quantity::new(digits, 0, Unit::Celsius).expect("no places");
    let (coldest, hottest) = (edge(BENCH_CELSIUS.0), edge(BENCH_CELSIUS.1));
    let fits = conditions
        .temperature
        .is_none_or(|t| t.compare(coldest).is_some_and(|o| o.is_ge()) && t.compare(hottest).is_some_and(|o| o.is_le()));
    if fits { Ok(()) } else { Err(Refusal::Number { field: "temperature".into(), ambiguous: false }) }
}

/// A template's name is there and fits in the list.
pub(crate) fn template_name_fits(name: &str) -> bool {
    !name.trim().is_empty() && name.chars().count() <= MAX_NAME
}
