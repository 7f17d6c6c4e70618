//! The touches of a job as the readings that are judged.

use super::state::Job;
use crate::record::{Instrument, TouchFact};
use crate::settle::TouchKind;
use crate::unit::Quantity;
use crate::verdict::written::Judgement;
use crate::verdict::{ConductorReadings, Leads, MeterSpec, PartReadings, Rules, Sample, judge};

impl Job {
    /// The verdict on the touches that stand now; `None` before part and instrument are known.
    pub fn judged(&self) -> Option<Judgement> {
        let part = self.part.as_ref()?;
        let instrument = self.instrument.as_ref()?;
        let measured = self.measured_conductors();
        let conductors = measured.iter().map(|index| ConductorReadings {
            group: part.conductors[*index as usize].group.clone(),
            touches: self.standing(*index).map(samples).collect(),
            limit: None,
            sweep: None,
        });
        let readings = PartReadings {
            conductors: conductors.collect(),
            bars_open: self.conditions.bars_open,
            temperature: self.conditions.temperature.map(Quantity::to_f64),
            leads: Leads { zeroed: self.conditions.leads_zeroed, ..Leads::default() },
            ..PartReadings::default()
        };
        let verdict = judge(&readings, &self.meter_spec(instrument), &Rules::default());
        Some(Judgement::write(&verdict, &measured))
    }

    /// The coarsest step any standing touch was taken with: a verdict is no finer than its worst reading.
    fn meter_spec(&self, instrument: &Instrument) -> MeterSpec {
        let standing = self.touches.iter().filter(|k| !k.undone).map(|k| k.fact.taken.step.to_f64());
        MeterSpec {
            resolution: standing.fold(instrument.step.to_f64(), f64::max),
            accuracy_pct: f64::from(instrument.accuracy_milli_percent) / 1000.0,
            accuracy_counts: f64::from(instrument.accuracy_counts),
        }
    }
}

fn samples(fact: &TouchFact) -> Vec<Sample> {
    match fact.taken.kind {
        TouchKind::OverRange => vec![Sample::OverRange],
        TouchKind::Settled | TouchKind::AsItWas => fact.taken.readings().map(|q| Sample::Value(q.to_f64())).collect(),
    }
}
