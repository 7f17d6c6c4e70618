//! What goes into a verdict: the readings of a part, and what is known about leads, temperature, limits.

use crate::sweep::SweepVerdict;
use std::collections::BTreeMap;

/// One reading as the display showed it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sample {
    /// Ohms. 1000 and more, and +∞, count as over-range; NaN and -∞ are no readings and are dropped.
    Value(f64),
    /// The display said that the value is beyond its range. Never the same as "nothing shown".
    OverRange,
}

/// A part with everything that was read on it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartReadings {
    /// The conductors in the order the technician counts them; the verdict keeps their indices.
    pub conductors: Vec<ConductorReadings>,
    /// Are the shorting bars held open? `None` = nobody said; treated as not open.
    pub bars_open: Option<bool>,
    /// Temperature of the part, °C, if known.
    pub temperature: Option<f64>,
    /// What was done about the resistance of the test leads.
    pub leads: Leads,
    /// A highest allowed resistance in ohms for every conductor without a high limit of its own.
    pub ceiling: Option<f64>,
    /// Replaces the tolerance of the [`super::Rules`] for this part.
    pub tolerance: Option<Tolerance>,
    /// What conductors of a part known to be good read.
    pub known_good: Option<KnownGood>,
}

/// One conductor: where it belongs and what was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ConductorReadings {
    /// Conductors of one group should read alike. `None` = nobody said; all such form one group.
    pub group: Option<String>,
    /// One list of samples for each time the clips were put on. Empty = not measured.
    pub touches: Vec<Vec<Sample>>,
    /// The maker's limit for this conductor, if there is one.
    pub limit: Option<Limit>,
    /// What its sweep showed, if it was swept.
    pub sweep: Option<SweepVerdict>,
    /// An isolation reading showed that it touches another conductor or metal.
    pub touches_something: bool,
}

/// What was done about the test leads.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Leads {
    /// The zero is already off the readings.
    pub zeroed: bool,
    /// What the shorted clips read before, in ohms. Taken off every reading unless `zeroed`.
    pub zero: Option<f64>,
    /// What the shorted clips read afterwards, in ohms.
    pub zero_end: Option<f64>,
}

impl Leads {
    /// Ohms that are taken off every reading.
    pub fn taken_off(&self) -> f64 {
        if self.zeroed { 0.0 } else { self.zero.unwrap_or(0.0) }
    }
}

/// How far a conductor may be above its reference: the larger of the two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// Ohms.
    pub abs: f64,
    /// Share of the reference.
    pub rel: f64,
}

/// A limit of the maker. It outranks the comparison with the group. A missing side is not judged.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limit {
    /// Highest allowed, ohms.
    pub high: Option<f64>,
    /// Lowest allowed, ohms.
    pub low: Option<f64>,
    /// Temperature the limit holds at, °C. `None` = the limit is taken as it stands.
    pub t: Option<f64>,
}

/// What good conductors read, without leads.
#[derive(Clone, Debug, PartialEq)]
pub enum KnownGood {
    /// One level for every group.
    Everywhere(KnownGoodLevel),
    /// A level for each group by name; the undeclared group is `""`. Groups that are not named have none.
    ByGroup(BTreeMap<String, KnownGoodLevel>),
}

/// One level with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownGoodLevel {
    /// Ohms, leads taken off.
    pub value: f64,
    /// Standard uncertainty, ohms.
    pub u: f64,
    /// Temperature it was read at, °C, if known.
    pub t: Option<f64>,
    /// Read with the meter that reads the part now; then its calibration error is common and cancels.
    pub same_meter: bool,
}

/// What the meter's sheet says about its ohm range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterSpec {
    /// The display step in ohms. Anything but a finite number above 0 decides nothing.
    pub resolution: f64,
    /// Percent of reading.
    pub accuracy_pct: f64,
    /// Display steps on top.
    pub accuracy_counts: f64,
}

impl MeterSpec {
    /// A handheld meter whose sheet is not at hand: 0.8 % and 3 steps.
    pub fn handheld(resolution: f64) -> MeterSpec {
        MeterSpec { resolution, accuracy_pct: 0.8, accuracy_counts: 3.0 }
    }
}
