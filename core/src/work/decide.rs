//! Which events a wish at a step brings about, or why it brings none. Deciding changes nothing.

use super::done::{Entered, written};
use super::entry::{StepAct, StepEntry};
use super::held::Why;
use super::state::Work;
use crate::procedure::{self, Fact, Step, StepKind};
use crate::record::{Done, Event, Outcome, StepDone, StepFact};
use crate::unit::Now;
use serde::{Deserialize, Serialize};

/// Most characters a person writes at a step.
pub const MAX_WORDS: usize = 2_000;

/// A fact that has to stand first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Need {
    /// The fact, by its name in a file.
    #[cfg_attr(test, ts(type = "string"))]
    pub fact: Fact,
    /// The step that makes it so.
    pub step: Option<String>,
}

/// What is kept to show that a step was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Evidence {
    /// A photo.
    Photo,
    /// Words.
    Words,
}

/// Why a wish at a step was not carried out. Nothing changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum StepRefusal {
    /// The job follows no procedure.
    NoProcedure,
    /// It follows one already.
    ProcedureBegun,
    /// There is no such procedure, or it was withdrawn.
    NoSuchProcedure,
    /// What was asked for is of another job than the one on the bench.
    OtherJob,
    /// The procedure has no such step.
    NoSuchStep,
    /// It is done.
    Settled,
    /// It has to be begun first.
    NotBegun,
    /// Facts have to stand first.
    Needs {
        /// Which, with the steps that make them so.
        needs: Vec<Need>,
    },
    /// A step has to be settled first.
    StepFirst {
        /// Its id.
        step: String,
    },
    /// The wait is not over.
    Wait {
        /// Seconds to go, above zero.
        left_s: u64,
    },
    /// The wait does not count.
    WaitStopped,
    /// Something is kept to show that it was done, and is missing.
    Evidence {
        /// What.
        evidence: Evidence,
    },
    /// A field is empty.
    Empty {
        /// Which.
        field: String,
    },
    /// A text is longer than is kept.
    TooLong {
        /// Which field.
        field: String,
    },
    /// A number that was typed cannot be read.
    Number {
        /// Which field.
        field: String,
        /// One sign before three digits: thousands or decimal?
        ambiguous: bool,
    },
    /// What was entered is of another kind of step.
    OtherKind,
    /// The known source reads nothing: the meter is not shown to work.
    KnownSource {
        /// Which reading.
        field: String,
    },
    /// This is no code.
    Code {
        /// As typed.
        text: String,
    },
    /// Codes were listed and "none" was ticked.
    CodesAndNone,
    /// The turns counted are not those that are published.
    TurnsUnlikePublished,
    /// Too few turns are free on a side.
    TooFewTurns,
    /// One side has more turns than the other.
    SidesUnlike,
    /// A new fastener is needed.
    NewFastener,
    /// It was not turned on by the angle.
    AngleNotTurned,
    /// The part may not be of this origin.
    Origin,
    /// Conductors, pairs or the zero of this step are not all read.
    Unread {
        /// How many are missing.
        missing: u32,
    },
    /// What was read before this zero was set aside, because it moved too far or another meter is in use; it is to be
    /// read again first.
    ZeroMoved,
    /// It cannot be left out.
    MayNotSkip,
    /// So many substitute loads or lock pins are not back.
    NotCountedBack {
        /// Loads.
        loads: u8,
        /// Pins.
        locks: u8,
    },
    /// Something is open: the job cannot end like this.
    StillOpen {
        /// Steps to go to, if steps are what is open.
        steps: Vec<String>,
        /// The lamp or a code says that it is not repaired.
        not_repaired: bool,
        /// A bar is held open, or an inflator is not in its place.
        not_together: bool,
    },
    /// Nobody is their own second.
    OwnSecond,
    /// Nobody was named who does the job: whoever signs second could be the one who did it.
    DoerUnknown,
    /// The name of somebody who had a hand in the job is not here.
    DoerNameless,
    /// There is nothing to sign.
    NothingToSign,
    /// It was done again since it was seen: the signature would be for something else.
    SeenOtherwise,
    /// Read since, this comparison comes out worse than it was kept: it is made again before a verdict is signed.
    CompareFirst {
        /// Its step.
        step: String,
    },
}

impl Work {
    /// The events of `act` at `step`. `measured`: what the readings of the job come to at a step that is measured.
    ///
    /// # Errors
    /// [`StepRefusal`], and nothing changes.
    pub fn decide(
        &self,
        (step, act): (&str, &StepAct),
        measured: Option<Result<Done, StepRefusal>>,
        now: &Now,
    ) -> Result<Vec<Event>, StepRefusal> {
        let step = self.procedure.step(step).ok_or(StepRefusal::NoSuchStep)?;
        match act {
            StepAct::Begin => {
                self.may_begin(step, now)?;
                Ok(vec![Event::StepBegun(said(step, (), now))])
            }
            StepAct::Done { words, entry } => self.finish(step, (words, entry), measured, now),
            StepAct::Skip { reason } => {
                let reason = written("reason", reason)?;
                if self.states.contains_key(&step.id) && !self.is_to_do_again(step, now) {
                    return Err(StepRefusal::Settled);
                }
                if step.skip.is_none() || step.must_be_done() {
                    return Err(StepRefusal::MayNotSkip);
                }
                Ok(vec![Event::StepSkipped(said(step, reason, now))])
            }
            StepAct::Again { reason } => {
                let reason = written("reason", reason)?;
                Ok(vec![Event::StepsReopened(said(step, reason, now))])
            }
        }
    }

    /// The step may be begun now.
    ///
    /// # Errors
    /// [`StepRefusal`]: what stands in the way.
    pub fn may_begin(&self, step: &Step, now: &Now) -> Result<(), StepRefusal> {
        let again = self.is_to_do_again(step, now);
        if self.states.contains_key(&step.id) && !again {
            return Err(StepRefusal::Settled);
        }
        self.way_is_free(step, now)
    }

    /// The event that begins a comparison again that comes out worse by what was read since.
    ///
    /// # Errors
    /// [`StepRefusal`]: what stands in the way.
    pub(crate) fn compare_again(&self, step: &Step, now: &Now) -> Result<Vec<Event>, StepRefusal> {
        self.way_is_free(step, now)?;
        Ok(vec![Event::StepBegun(said(step, (), now))])
    }

    /// Nothing that comes first is missing.
    fn way_is_free(&self, step: &Step, now: &Now) -> Result<(), StepRefusal> {
        // How a job may end is asked where it ends: it has to be possible to stop without having repaired it.
        if step.kind.closes() {
            return Ok(());
        }
        if let Some(first) = step.after.iter().find(|id| !self.states.contains_key(*id)) {
            return Err(StepRefusal::StepFirst { step: first.clone() });
        }
        if step.kind.needs_supply()
            && self.held.contains_key(&Fact::CableOff)
            && let Some(on) = self.connects(&step.id)
        {
            return Err(StepRefusal::StepFirst { step: on.id.clone() });
        }
        self.needs_stand(step, now)
    }

    /// The step that connects the battery: the last one above `before`, else the first. As long as nobody said that it
    /// is on, a vehicle without supply has no codes and no lamp to show.
    fn connects(&self, before: &str) -> Option<&Step> {
        let connects = |step: &&Step| step.battery_on;
        let above = self.procedure.steps.iter().take_while(|step| step.id != before).filter(connects).last();
        above.or_else(|| self.procedure.steps.iter().find(connects))
    }

    /// Everything the step needs stands now.
    fn needs_stand(&self, step: &Step, now: &Now) -> Result<(), StepRefusal> {
        let missing = self.missing(step, now);
        let need = |(fact, _): (Fact, Why)| Need { step: self.maker(&fact, &step.id).map(|s| s.id.clone()), fact };
        if missing.is_empty() {
            Ok(())
        } else {
            Err(StepRefusal::Needs { needs: missing.into_iter().map(need).collect() })
        }
    }

    /// What the step needs and does not have, and why: before it is begun, and while it is done. What the rules ask for is
    /// asked whatever a file says.
    pub fn missing(&self, step: &Step, now: &Now) -> Vec<(Fact, Why)> {
        if step.kind.closes() {
            return Vec::new();
        }
        let mut needed = step.needs.clone();
        if self.open.as_deref() == Some(step.id.as_str()) {
            // What it ended itself when it was begun stood then, and what it makes so it may have made so before.
            let ended = step.ends();
            needed.retain(|fact| !ended.contains(fact) && !step.gives.contains(fact));
        }
        // What the rules ask for has to stand to the end: no file ends it and goes on.
        needed.extend(self.procedure.demanded_needs(step));
        needed.into_iter().filter_map(|fact| self.stands(&fact, now).err().map(|why| (fact, why))).collect()
    }

    fn finish(
        &self,
        step: &Step,
        (words, entry): (&str, &StepEntry),
        measured: Option<Result<Done, StepRefusal>>,
        now: &Now,
    ) -> Result<Vec<Event>, StepRefusal> {
        if self.open.as_deref() != Some(step.id.as_str()) {
            return Err(StepRefusal::NotBegun);
        }
        self.needs_stand(step, now)?;
        let words = if words.trim().is_empty() { String::new() } else { written("words", words)? };
        let done = match (measured, entry) {
            (Some(measured), StepEntry::Tick) => measured?,
            (Some(_), _) => return Err(StepRefusal::OtherKind),
            (None, entry) => match self.entered(step, entry, now)? {
                Entered::Done(done) => done,
                Entered::Alive(volt) => {
                    return Ok(vec![Event::SupplySeen { boot: now.boot_id.clone(), volt: Some(volt) }]);
                }
            },
        };
        self.evidence(step, &done, &words)?;
        self.counted(step)?;
        let outcome = if let Done::Signed { outcome } = &done { *outcome } else { None };
        if let Some(outcome) = outcome {
            self.may_close(outcome, now)?;
        }
        let mut events = vec![Event::StepDone(said(step, StepDone { words, done }, now))];
        events.extend(outcome.map(|_| Event::JobFinished {}));
        Ok(events)
    }

    fn evidence(&self, step: &Step, done: &Done, words: &str) -> Result<(), StepRefusal> {
        let asks = |evidence| step.evidence.contains(&evidence);
        let unsaid = words.is_empty();
        let explain = matches!(done, Done::NotTested | Done::Codes { no_scanner: true, .. })
            || matches!(done, Done::Signed { outcome: Some(outcome) } if *outcome != Outcome::Repaired);
        let photo = asks(procedure::Evidence::Photo) && !matches!(done, Done::NotTested);
        if photo && self.photos_of(&step.id) == 0 {
            return Err(StepRefusal::Evidence { evidence: Evidence::Photo });
        }
        if (asks(procedure::Evidence::Words) || explain) && unsaid {
            return Err(StepRefusal::Evidence { evidence: Evidence::Words });
        }
        Ok(())
    }

    /// What is said to be home is home: what went out of the drawer came back by the count.
    fn counted(&self, step: &Step) -> Result<(), StepRefusal> {
        let (loads, locks) = self.counted_out();
        let (loads, locks) = (loads.saturating_sub(step.counted.loads_in), locks.saturating_sub(step.counted.locks_in));
        let short = (step.gives.contains(&Fact::LoadsHome) && loads > 0)
            || (step.gives.contains(&Fact::LocksHome) && locks > 0);
        if short { Err(StepRefusal::NotCountedBack { loads, locks }) } else { Ok(()) }
    }

    fn may_close(&self, outcome: Outcome, now: &Now) -> Result<(), StepRefusal> {
        use super::closing::Open;
        let open = self.open_at_the_end(outcome, now);
        if open.is_empty() {
            return Ok(());
        }
        let (loads, locks) = self.counted_out();
        if (loads, locks) != (0, 0) {
            return Err(StepRefusal::NotCountedBack { loads, locks });
        }
        let steps = open.iter().filter_map(|open| match open {
            Open::Step(step) | Open::Value(step) => Some(step.clone()),
            _ => None,
        });
        Err(StepRefusal::StillOpen {
            steps: steps.collect(),
            not_repaired: open.iter().any(|o| matches!(o, Open::Lamp | Open::Codes(_) | Open::NoAfterScan)),
            not_together: open.iter().any(|o| matches!(o, Open::BarHeldOpen(_) | Open::InflatorAway(_))),
        })
    }

    /// The step that was begun is one of `kind`, and everything it needs stands: something may be read now.
    ///
    /// # Errors
    /// [`StepRefusal`]: what stands in the way.
    pub fn may_read(&self, kind: impl Fn(&StepKind) -> bool, now: &Now) -> Result<&Step, StepRefusal> {
        let step = self.open_step().filter(|step| kind(&step.kind)).ok_or(StepRefusal::NotBegun)?;
        self.needs_stand(step, now)?;
        Ok(step)
    }
}

pub(super) fn said<T>(step: &Step, said: T, now: &Now) -> StepFact<T> {
    StepFact { step: step.id.clone(), boot: now.boot_id.clone(), said }
}
