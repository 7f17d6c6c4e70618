//! What supports the readings of a job: zero, meter check, bars, isolation, sweeps, the old part.

use super::state::Job;
use crate::record::{BarState, IsolationFact, OldPart, ResistorFact, SweepFact, ZeroFact};
use crate::sweep::SweepVerdict;
use crate::unit::Quantity;
use crate::verdict::{Isolation, IsolationReading, isolation, zero_moved};
use std::collections::BTreeMap;
use uuid::Uuid;

/// All of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proofs {
    /// Zeros of the leads the standing readings rest on, oldest first.
    pub zeros: Vec<ZeroFact>,
    /// Known resistors read with the meter in use.
    pub resistors: Vec<ResistorFact>,
    /// Pairs somebody spoke of, by their lower and higher index.
    pub bars: BTreeMap<(u32, u32), BarState>,
    /// Isolation readings, oldest first.
    pub isolation: Vec<KeptReading<IsolationFact>>,
    /// Sweeps, oldest first.
    pub sweeps: Vec<KeptReading<SweepFact>>,
    /// The part it is compared with.
    pub old: Option<OldPart>,
    /// Why readings were set aside, until every conductor is read anew.
    pub retired: Option<Retired>,
}

/// Why earlier readings were set aside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Retired {
    /// The zero of the leads moved too far: from, to, ohm as shown.
    ZeroMoved(Quantity, Quantity),
    /// The meter's own zero was switched.
    OtherZero,
    /// Another instrument is in use.
    OtherInstrument,
}

/// What a verdict rests on and what changed since it was given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Since {
    /// Readings came or were taken back, or a shorting bar was spoken of.
    Readings,
    /// The description of the part, or the one it is compared with.
    Part,
    /// The meter, or how leads and bench are.
    Bench,
}

/// A reading of the record, and whether it was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptReading<F> {
    /// As recorded.
    pub fact: F,
    /// It was taken back: it is shown and not judged.
    pub withdrawn: bool,
}

impl<F> KeptReading<F> {
    pub(super) fn new(fact: F) -> KeptReading<F> {
        KeptReading { fact, withdrawn: false }
    }
}

impl Proofs {
    pub(super) fn withdraw(&mut self, reading: Uuid) {
        self.zeros.retain(|z| z.zero != reading);
        self.resistors.retain(|r| r.reading != reading);
        self.isolation.iter_mut().filter(|k| k.fact.reading == reading).for_each(|k| k.withdrawn = true);
        self.sweeps.iter_mut().filter(|k| k.fact.sweep == reading).for_each(|k| k.withdrawn = true);
    }

    /// A reading of this name stands.
    pub(super) fn holds(&self, reading: Uuid) -> bool {
        self.zeros.iter().any(|z| z.zero == reading)
            || self.resistors.iter().any(|r| r.reading == reading)
            || self.isolation.iter().any(|k| k.fact.reading == reading && !k.withdrawn)
            || self.sweeps.iter().any(|k| k.fact.sweep == reading && !k.withdrawn)
    }

    pub(super) fn other_instrument(&mut self) {
        self.zeros.clear();
        self.resistors.clear();
    }

    /// The first zero and this one, if they are too far apart for the readings between.
    /// `by_file` gives what a procedure allows at that display step, ohm.
    pub(super) fn zero_moved(&self, again: &ZeroFact, by_file: impl Fn(f64) -> Option<f64>) -> Option<Retired> {
        let first = self.zeros.first()?;
        let (before, now) = (first.taken.middle()?, again.taken.middle()?);
        let step = first.taken.step.to_f64().max(again.taken.step.to_f64());
        zero_moved((before.to_f64(), now.to_f64()), step, by_file(step)).then_some(Retired::ZeroMoved(before, now))
    }

    /// What the leads read first and last, ohm as shown.
    pub(super) fn zero_ohm(&self) -> (Option<f64>, Option<f64>) {
        let ohm = |fact: Option<&ZeroFact>| fact.and_then(|f| f.taken.middle()).map(Quantity::to_f64);
        let last = self.zeros.get(1..).and_then(<[_]>::last);
        (ohm(self.zeros.first()), ohm(last))
    }

    /// Standing sweeps of a conductor, oldest first.
    pub fn sweeps_of(&self, conductor: u32) -> impl DoubleEndedIterator<Item = &SweepFact> {
        self.sweeps.iter().filter(move |k| !k.withdrawn && k.fact.conductor == conductor).map(|k| &k.fact)
    }

    /// What all sweeps of a conductor say together: a fault that was seen once is there, else the newest one holds.
    pub fn swept(&self, conductor: u32) -> Option<SweepVerdict> {
        seen(self.sweeps_of(conductor))
    }

    /// The newest standing isolation reading between the two, in either order; none for `other`: metal.
    pub fn isolation_of(&self, a: u32, other: Option<u32>) -> Option<&IsolationFact> {
        let same = |f: &IsolationFact| match (f.other, other) {
            (None, None) => f.a == a,
            (Some(b), Some(other)) => (f.a, b) == (a, other) || (f.a, b) == (other, a),
            _ => false,
        };
        self.isolation.iter().rev().filter(|k| !k.withdrawn).map(|k| &k.fact).find(|f| same(f))
    }
}

/// What these sweeps of one conductor, oldest first, say together: a fault that was seen once is there, else the newest
/// one holds.
pub(crate) fn seen<'a>(sweeps: impl Iterator<Item = &'a SweepFact>) -> Option<SweepVerdict> {
    let verdicts: Vec<SweepVerdict> = sweeps.map(|sweep| sweep.finding.verdict).collect();
    let fault = |wanted: SweepVerdict| verdicts.iter().copied().find(|verdict| *verdict == wanted);
    fault(SweepVerdict::Dropout).or_else(|| fault(SweepVerdict::Jump)).or_else(|| verdicts.last().copied())
}

impl Job {
    /// Every shorting bar is open: as the pairs say, if the part names any, else as stated for all.
    pub fn bars_open(&self) -> Option<bool> {
        let named = self.part.as_ref().map(|p| p.bars.as_slice()).unwrap_or_default();
        if named.is_empty() && self.proofs.bars.is_empty() {
            return self.conditions.bars_open;
        }
        let spoken = self.proofs.bars.keys().filter(|pair| !named.contains(pair));
        named.iter().chain(spoken).try_fold(true, |all, pair| self.bar_open(pair.0, pair.1).map(|open| all && open))
    }

    /// The bar between the two is open or there is none (true), it is not (false), or nobody said.
    pub fn bar_open(&self, a: u32, b: u32) -> Option<bool> {
        let pair = (a.min(b), a.max(b));
        match self.proofs.bars.get(&pair) {
            Some(bar) => match bar.present {
                Some(true) => Some(!bar.opened.is_empty() && !bar.restored),
                Some(false) => Some(true),
                None => None,
            },
            // A file may have forgotten one between two conductors that fire something; between others there is none.
            None => match &self.work {
                Some(work) => (!self.names_a_bar(pair) && !work.procedure.circuits.both_fire(pair)).then_some(true),
                None => self.conditions.bars_open,
            },
        }
    }

    /// A step or the person has to say first how the bar between the two stands: where a procedure names none, nobody is
    /// asked, and a low reading is told as one that nobody can tell.
    pub fn bar_has_to_be_told(&self, a: u32, b: u32) -> bool {
        let asked = self.work.is_none() || self.names_a_bar((a.min(b), a.max(b)));
        asked && self.bar_open(a, b).is_none()
    }

    fn names_a_bar(&self, pair: (u32, u32)) -> bool {
        self.part.as_ref().is_some_and(|part| part.bars.contains(&pair))
    }

    /// Somebody said that a bar bridges the two, or the part names one there.
    pub fn has_bar(&self, a: u32, b: u32) -> bool {
        let pair = (a.min(b), a.max(b));
        let named = self.names_a_bar(pair);
        self.proofs.bars.get(&pair).map_or(named, |bar| bar.present.unwrap_or(named))
    }

    /// What an isolation reading of this job means.
    pub fn isolation_means(&self, fact: &IsolationFact) -> Isolation {
        let (zero, _) = self.proofs.zero_ohm();
        isolation(&IsolationReading {
            ohm: fact.taken.middle().map(Quantity::to_f64),
            top: fact.top.to_f64(),
            step: fact.taken.step.to_f64(),
            above: self.work.as_ref().and_then(|work| work.sound_above(fact.a, fact.other)),
            zero: if fact.taken.relative { Some(0.0) } else { zero },
            bar_open: fact.bar_open,
            to_metal: fact.other.is_none(),
            range_locked: fact.taken.auto_range == Some(false),
        })
    }

    /// Some isolation reading of this conductor shows that it touches something.
    pub(super) fn touches_something(&self, conductor: u32) -> bool {
        let of_it = self.proofs.isolation.iter().filter(|k| !k.withdrawn).map(|k| &k.fact);
        let of_it = of_it.filter(|f| f.a == conductor || f.other == Some(conductor));
        let newest =
            |f: &&IsolationFact| self.proofs.isolation_of(f.a, f.other).is_some_and(|n| n.reading == f.reading);
        of_it.filter(newest).any(|fact| self.isolation_means(fact) == Isolation::Touches)
    }
}
