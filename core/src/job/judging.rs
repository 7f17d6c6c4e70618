//! The touches of a job as the readings that are judged, and what its good conductors read.

use super::state::Job;
use crate::part::PartLimit;
use crate::record::{Instrument, OldConductor, OldLevel, OldPart, TouchFact};
use crate::settle::TouchKind;
use crate::unit::{Figure, Quantity};
use crate::verdict::written::Judgement;
use crate::verdict::{
    ConductorReadings, KnownGood, KnownGoodLevel, Leads, Limit, MeterSpec, PartReadings, Rules, Sample, judge,
    known_good_from,
};

impl Job {
    /// The verdict on the touches that stand now; `None` before part and instrument are known.
    pub fn judged(&self) -> Option<Judgement> {
        let (readings, spec) = self.readings()?;
        Some(Judgement::write(&judge(&readings, &spec, &Rules::at_the_bench()), &self.measured_conductors()))
    }

    /// What a candidate is compared with: the good conductors of this job's part. `None` without a verdict that still
    /// holds, or when no group has two conductors that read alike.
    pub fn as_old_part(&self) -> Option<OldPart> {
        let verdict = self.verdict.as_ref().filter(|v| !v.outdated)?;
        let (readings, spec) = self.readings()?;
        let KnownGood::ByGroup(levels) = known_good_from(&readings, &spec, &Rules::at_the_bench()) else { return None };
        let part = self.part.as_ref()?;
        let levels = levels.into_iter().map(|(group, level)| (group, written(&level)));
        let levels: std::collections::BTreeMap<_, _> = levels.collect();
        let leads = self.leads_left();
        let conductors = verdict.judgement.conductors.iter().map(|judged| OldConductor {
            name: part.conductors.get(judged.conductor as usize).map_or(String::new(), |c| c.name.clone()),
            value: judged.value.as_ref().map(|value| Figure::write(value.read() - leads)),
            state: judged.state,
        });
        (!levels.is_empty()).then(|| OldPart {
            job: self.id,
            name: format!("{}, {}", self.order, part.name),
            at: verdict.at.clone(),
            instrument: self.instrument.as_ref().map_or(String::new(), |i| i.identity.clone()),
            levels,
            conductors: conductors.collect(),
        })
    }

    /// Meter, leads and touches as the verdict takes them; `None` before part and instrument are known.
    fn readings(&self) -> Option<(PartReadings, MeterSpec)> {
        let part = self.part.as_ref()?;
        let instrument = self.instrument.as_ref()?;
        let measured = self.measured_conductors();
        let conductors = measured.iter().map(|index| {
            let conductor = &part.conductors[*index as usize];
            ConductorReadings {
                group: conductor.group.clone(),
                touches: self.standing(*index).map(samples).collect(),
                limit: conductor.limit.as_ref().or(part.ceiling.as_ref()).map(limit),
                sweep: self.proofs.swept(*index),
                touches_something: self.touches_something(*index),
            }
        });
        let readings = PartReadings {
            conductors: conductors.collect(),
            bars_open: self.bars_open(),
            temperature: self.conditions.temperature.map(Quantity::to_f64),
            leads: self.leads(),
            known_good: self.known_good(instrument),
            ..PartReadings::default()
        };
        Some((readings, self.meter_spec(instrument)))
    }

    /// What was done about the leads: the meter told that it subtracts them, a person said so, or they were read.
    pub(crate) fn leads(&self) -> Leads {
        let (zero, zero_end) = self.proofs.zero_ohm();
        Leads { zeroed: self.reads_relative().unwrap_or(false) || self.conditions.leads_zeroed, zero, zero_end }
    }

    /// Ohms of the leads that are still in the judged values, guessed.
    fn leads_left(&self) -> f64 {
        let leads = self.leads();
        if leads.zeroed || leads.zero.is_some() { 0.0 } else { Rules::default().lead_ohm }
    }

    fn known_good(&self, instrument: &Instrument) -> Option<KnownGood> {
        let old = self.proofs.old.as_ref()?;
        let level = |level: &OldLevel| KnownGoodLevel {
            value: level.value.read(),
            u: level.u.read(),
            t: level.temperature.as_ref().map(Figure::read),
            same_meter: old.instrument == instrument.identity,
        };
        Some(KnownGood::ByGroup(old.levels.iter().map(|(group, of)| (group.clone(), level(of))).collect()))
    }

    /// The coarsest step any standing touch was taken with: a verdict is no finer than its worst reading.
    pub(crate) fn meter_spec(&self, instrument: &Instrument) -> MeterSpec {
        let standing = self.touches.iter().filter(|k| !k.undone).map(|k| k.fact.taken.step.to_f64());
        MeterSpec {
            resolution: standing.fold(instrument.step.to_f64(), f64::max),
            accuracy_pct: f64::from(instrument.accuracy_milli_percent) / 1000.0,
            accuracy_counts: f64::from(instrument.accuracy_counts),
        }
    }
}

fn written(level: &KnownGoodLevel) -> OldLevel {
    OldLevel { value: Figure::write(level.value), u: Figure::write(level.u), temperature: level.t.map(Figure::write) }
}

fn limit(limit: &PartLimit) -> Limit {
    let ohm = |q: Option<Quantity>| q.map(Quantity::to_f64);
    Limit { high: ohm(limit.high), low: ohm(limit.low), t: ohm(limit.temperature) }
}

fn samples(fact: &TouchFact) -> Vec<Sample> {
    match fact.taken.kind {
        TouchKind::OverRange | TouchKind::TypedOverRange => vec![Sample::OverRange],
        TouchKind::Settled | TouchKind::AsItWas | TouchKind::Typed => {
            fact.taken.readings().map(|q| Sample::Value(q.to_f64())).collect()
        }
    }
}
