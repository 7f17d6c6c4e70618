//! Lets the practice hands follow what the session announces, as a person at the bench would.

use super::{PartModel, Place, PracticeWish, Way, made_up};
use evenwire_core::job::Job;
use evenwire_core::meter::link::Source;
use evenwire_core::part::Point;
use evenwire_core::session::{Aside, Run, Session};
use evenwire_core::settle::Phase;
use std::collections::BTreeSet;

/// Says wishes to hands that are told each only once.
#[derive(Debug, Default)]
pub struct Guide {
    hands: Option<PracticeWish>,
    bars: Option<PracticeWish>,
    laid: Option<PartModel>,
}

impl Guide {
    /// What the hands have to be told now, in this order.
    pub fn says(&mut self, session: &Session) -> Vec<PracticeWish> {
        let (bars, hands) = (bars(session), wish(session));
        let mut said = Vec::new();
        // Whoever chose another of the practice parts finds that one on the bench, as it is described.
        if let Some(part) = described(session).filter(|part| self.laid.as_ref() != Some(part)) {
            self.laid = Some(part.clone());
            self.hands = None;
            self.bars = None;
            said.push(PracticeWish::Lay { part: Box::new(part) });
        }
        if bars != self.bars {
            self.bars.clone_from(&bars);
            said.extend(bars);
        }
        // Lifting is said until it is seen: said once, hands that clip on again too early would stay there for good.
        if hands != self.hands || hands == Some(PracticeWish::Taken) {
            self.hands.clone_from(&hands);
            said.extend(hands);
        }
        said
    }

    /// Somebody else told the hands something: what they do by themselves is said anew.
    pub fn interrupted(&mut self) {
        self.hands = None;
    }
}

/// The part of the job on the bench, if it is one that came with the program or that of a procedure.
fn described(session: &Session) -> Option<PartModel> {
    let job = session.job().filter(|_| practises(session))?;
    let part = job.part.as_ref()?;
    let came = PartModel::built_in_parts().iter().find(|(_, model)| model.describes(part));
    came.map(|(_, model)| model.clone()).or_else(|| made_up::of_job(job))
}

/// What the hands are to do now; nothing when the practice meter is not in use.
pub fn wish(session: &Session) -> Option<PracticeWish> {
    if !practises(session) {
        return None;
    }
    // Nobody has said yet that this meter is to be used: the leads are held together, as a person would to see
    // that the number on the screen follows the one on the meter.
    if !session.meter_is_of_job() {
        return Some(PracticeWish::LeadsTogether);
    }
    // While a caution waits to be read there are no points for the clips, and hands wait too.
    let Some(wanted) = aside(session).or_else(|| announced(session)) else { return Some(PracticeWish::Rest) };
    // Clips that were on before the announcement, or that will not stand still, come off first. In a sweep that goes
    // on the clips stay: nothing is taken from it that would have to be taken anew.
    let sweeping = session.run().is_some_and(|run| !run.readings().is_empty());
    let off_first = matches!(session.settler().map(|s| s.phase()), Some(Phase::Lift | Phase::WillNotStand));
    Some(if off_first && !sweeping { PracticeWish::Taken } else { wanted })
}

/// Which shorting bars are held open, as the job says; nothing when the practice meter is not in use.
pub fn bars(session: &Session) -> Option<PracticeWish> {
    let job = session.job().filter(|_| practises(session))?;
    let part = job.part.as_ref()?;
    let pairs: BTreeSet<(u32, u32)> = part.bars.iter().chain(job.proofs.bars.keys()).copied().collect();
    let from = |conductor: u32| part.conductors.get(conductor as usize).map(|c| Place::from(&c.from));
    let spoken = pairs.into_iter().filter_map(|(a, b)| Some(((from(a)?, from(b)?), held_open(job, a, b))));
    Some(PracticeWish::Bars { spoken: spoken.collect(), others_open: job.conditions.bars_open == Some(true) })
}

/// A bar that somebody took for none is not held open by that.
fn held_open(job: &Job, a: u32, b: u32) -> bool {
    job.has_bar(a, b) && job.bar_open(a, b) == Some(true)
}

fn practises(session: &Session) -> bool {
    session.meter_wanted().is_some_and(|w| w.source == Source::Practice)
}

fn announced(session: &Session) -> Option<PracticeWish> {
    let (_, (from, to)) = session.announced()?;
    Some(PracticeWish::Announced { from: place(from), to: place(to) })
}

fn aside(session: &Session) -> Option<PracticeWish> {
    let clips = || session.aside_points().map(|(from, to)| (place(from), to.map(place)));
    match session.aside()? {
        Aside::Zero => Some(PracticeWish::LeadsTogether),
        Aside::Resistor { resistor, tolerance_milli_percent } => {
            Some(PracticeWish::Resistor { printed: *resistor, tolerance_milli_percent: *tolerance_milli_percent })
        }
        Aside::Isolation { .. } => clips().map(|(from, to)| PracticeWish::Isolation { from, to }),
        Aside::Sweep(run) => {
            let (from, to) = clips()?;
            Some(PracticeWish::Sweep { from, to: to?, way: way(run) })
        }
    }
}

/// The way to the next mark, to be gone from the last mark to the next tone.
fn way(run: &Run) -> Option<Way> {
    let (milli, tone) = run.way()?;
    let last = run.marks().last()?.at_ms;
    Some(Way { milli, within_ms: tone.map(|tone| tone.since(last).0) })
}

fn place(point: Point) -> Place {
    Place { connector: point.connector(), cavity: point.cavity() }
}
