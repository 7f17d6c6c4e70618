//! Tightening torques: the published value and unit stay the truth, other units are only shown.
//!
//! Conversions are exact; only what is shown is rounded, and converting back gives what was published: 37 lbf·ft is
//! shown as 50.2 N·m and stays 37 lbf·ft. A torque is never carried from one vehicle to another; nothing here knows
//! a default.

use crate::unit::{Decimal, MAX_PLACES, NumberError};
use serde::{Deserialize, Serialize};

/// A unit of torque.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TorqueUnit {
    /// N·m.
    NewtonMetre,
    /// lbf·ft.
    PoundForceFoot,
    /// lbf·in.
    PoundForceInch,
    /// kgf·m.
    KilogramForceMetre,
    /// kgf·cm.
    KilogramForceCentimetre,
}

impl TorqueUnit {
    /// All of them.
    pub const ALL: [TorqueUnit; 5] = [
        TorqueUnit::NewtonMetre,
        TorqueUnit::PoundForceFoot,
        TorqueUnit::PoundForceInch,
        TorqueUnit::KilogramForceMetre,
        TorqueUnit::KilogramForceCentimetre,
    ];

    /// The sign printed after a number.
    pub fn sign(self) -> &'static str {
        match self {
            TorqueUnit::NewtonMetre => "N·m",
            TorqueUnit::PoundForceFoot => "lbf·ft",
            TorqueUnit::PoundForceInch => "lbf·in",
            TorqueUnit::KilogramForceMetre => "kgf·m",
            TorqueUnit::KilogramForceCentimetre => "kgf·cm",
        }
    }

    /// One of it in 10⁻¹⁶ N·m, without remainder. Inch 0.0254 m, foot 0.3048 m, pound-force 4.448 221 615 260 5 N and
    /// standard gravity 9.806 65 m/s² are exact by definition (NIST SP 811, appendix B.8, clause from memory).
    pub(crate) const fn in_parts(self) -> i128 {
        match self {
            TorqueUnit::NewtonMetre => 10_000_000_000_000_000,
            TorqueUnit::PoundForceFoot => 13_558_179_483_314_004,
            TorqueUnit::PoundForceInch => 1_129_848_290_276_167,
            TorqueUnit::KilogramForceMetre => 98_066_500_000_000_000,
            TorqueUnit::KilogramForceCentimetre => 980_665_000_000_000,
        }
    }
}

/// A torque as it was published or entered, above 0. Travels as `{"value":"37","unit":"pound-force-foot"}`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "Written", into = "Written")]
pub struct Torque {
    value: Decimal,
    unit: TorqueUnit,
}

/// How a [`Torque`] is written down.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
struct Written {
    value: Decimal,
    unit: TorqueUnit,
}

/// Why something is not a torque.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotATorque {
    /// Not a number.
    #[error(transparent)]
    Number(#[from] NumberError),
    /// Zero or less tightens nothing.
    #[error("a torque is above zero")]
    NotPositive,
    /// Over [`MOST_NEWTON_METRE`].
    #[error("no fastener of a vehicle takes that much")]
    TooMuch,
}

/// The largest torque that is taken, N·m: far above any fastener of a vehicle, so that a slipped decimal sign is
/// noticed (common practice, no source).
pub const MOST_NEWTON_METRE: i64 = 10_000;

impl Torque {
    /// # Errors
    /// [`NotATorque`] for a value of zero or less, or of more than [`MOST_NEWTON_METRE`].
    pub fn new(value: Decimal, unit: TorqueUnit) -> Result<Torque, NotATorque> {
        let torque = Torque { value, unit };
        let most =
            Torque { value: Decimal::new(MOST_NEWTON_METRE, 0).expect("no places"), unit: TorqueUnit::NewtonMetre };
        if value.digits() <= 0 {
            Err(NotATorque::NotPositive)
        } else if torque.parts() > most.parts() {
            Err(NotATorque::TooMuch)
        } else {
            Ok(torque)
        }
    }

    /// What a person typed, see [`Decimal::typed`].
    ///
    /// # Errors
    /// [`NotATorque`].
    pub fn typed(text: &str, unit: TorqueUnit, decimal_confirmed: bool) -> Result<Torque, NotATorque> {
        Torque::new(Decimal::typed(text, decimal_confirmed)?, unit)
    }

    /// The number as published.
    pub fn value(self) -> Decimal {
        self.value
    }

    /// The unit as published.
    pub fn unit(self) -> TorqueUnit {
        self.unit
    }

    /// The torque in another unit, rounded to `places` decimal places (at most 6; a half goes up). The published
    /// torque stays with it; in its own unit the number is shown as published, whatever `places` says.
    ///
    /// ```
    /// use evenwire_core::torque::{Torque, TorqueUnit};
    /// let wheel = Torque::typed("37", TorqueUnit::PoundForceFoot, false).unwrap();
    /// let metric = wheel.shown_in(TorqueUnit::NewtonMetre, 1);
    /// assert_eq!(metric.shown().to_string(), "50.2");
    /// assert_eq!(metric.shown_in(TorqueUnit::PoundForceFoot, 1).shown().to_string(), "37");
    /// ```
    pub fn shown_in(self, unit: TorqueUnit, places: u8) -> ShownTorque {
        if unit == self.unit {
            return ShownTorque { published: self, shown: self.value, unit };
        }
        let places = places.min(MOST_SHOWN_PLACES);
        // At most 10^32 parts: six more digits fit an i128.
        let amount = self.parts() * 10i128.pow(u32::from(places));
        let one = unit.in_parts() * 10i128.pow(u32::from(MAX_PLACES));
        let digits = amount / one + i128::from(amount % one * 2 >= one);
        let digits = i64::try_from(digits).expect("10^4 N·m have fewer than 10^6 of any unit, with six places 10^12");
        let shown = Decimal::new(digits, places).expect("six places at most");
        ShownTorque { published: self, shown, unit }
    }

    /// Is a wrench that is good up to `wrench_most` within its range at this setting? Exact, the ends belong to it.
    pub fn suits(self, wrench_most: Torque) -> WrenchRange {
        if self.parts() > wrench_most.parts() {
            WrenchRange::Above
        } else if self.parts() * 100 < wrench_most.parts() * WRENCH_LEAST_PERCENT {
            WrenchRange::Below
        } else {
            WrenchRange::Within
        }
    }

    /// The torque in 10⁻²⁸ N·m: exact up to far over [`MOST_NEWTON_METRE`], which are 10³² of them.
    fn parts(self) -> i128 {
        let finer = 10i128.pow(u32::from(MAX_PLACES - self.value.places()));
        (i128::from(self.value.digits()) * self.unit.in_parts()).saturating_mul(finer)
    }
}

/// Decimal places a shown torque has at most.
const MOST_SHOWN_PLACES: u8 = 6;

/// A wrench is accurate from this share of its highest value, per cent (ISO 6789-1, clause from memory).
const WRENCH_LEAST_PERCENT: i128 = 20;

/// Where a setting lies in the range of a torque wrench.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WrenchRange {
    /// Under 20 % of its highest value: take a smaller wrench.
    Below,
    /// From 20 % to 100 %.
    Within,
    /// Over its highest value: take a larger wrench.
    Above,
}

/// A torque as shown in some unit, with the published one beside it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShownTorque {
    published: Torque,
    shown: Decimal,
    unit: TorqueUnit,
}

impl ShownTorque {
    /// The rounded number.
    pub fn shown(self) -> Decimal {
        self.shown
    }

    /// Its unit.
    pub fn unit(self) -> TorqueUnit {
        self.unit
    }

    /// What was published.
    pub fn published(self) -> Torque {
        self.published
    }

    /// The torque in yet another unit, computed from the published one: roundings do not add up.
    pub fn shown_in(self, unit: TorqueUnit, places: u8) -> ShownTorque {
        self.published.shown_in(unit, places)
    }
}

impl From<Torque> for Written {
    fn from(torque: Torque) -> Written {
        Written { value: torque.value, unit: torque.unit }
    }
}

impl TryFrom<Written> for Torque {
    type Error = NotATorque;
    fn try_from(written: Written) -> Result<Torque, NotATorque> {
        Torque::new(written.value, written.unit)
    }
}

/// A crowfoot or another adapter that moves the fastener off the drive of the wrench. A straight extension along the
/// drive's own axis is none: it changes nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Adapter {
    /// From the middle of the wrench's drive to the middle of the fastener, as fitted. 0 or more.
    pub length: Decimal,
    /// Between the wrench's outward axis and the adapter, degrees from 0 (straight on, the lever gets longer) over 90
    /// (no change) to 180 (folded back).
    pub angle_degree: Decimal,
}

/// Why no setting can be given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoSetting {
    /// The wrench has no length.
    #[error("the length of the wrench has to be above zero")]
    WrenchLength,
    /// The adapter's length is below zero, or not below the wrench's.
    #[error("the adapter has to be shorter than the wrench")]
    AdapterLength,
    /// Not from 0 to 180 degrees.
    #[error("the angle has to be from 0 to 180 degrees")]
    Angle,
    /// What comes out is no torque a wrench can be set to.
    #[error("the setting is out of reach")]
    OutOfReach,
}

/// What to set the wrench to, so that the fastener gets `torque` through `adapter`: T·L/(L + E·cos θ), in the unit of
/// `torque`, to a thousandth. From the balance of moments about the drive and about the fastener.
///
/// `wrench_length` is from the middle of the grip, where the hand pulls, to the middle of the drive, in the unit of
/// the adapter's length. An adapter as long as the wrench is refused: folded back, the lever would vanish (common
/// practice, no source).
///
/// # Errors
/// [`NoSetting`].
pub fn setting(torque: Torque, wrench_length: Decimal, adapter: Adapter) -> Result<Torque, NoSetting> {
    let nothing = Decimal::new(0, 0).expect("no places");
    let half_turn = Decimal::new(180, 0).expect("no places");
    if wrench_length.compare(nothing).is_le() {
        return Err(NoSetting::WrenchLength);
    }
    if adapter.length.compare(nothing).is_lt() || adapter.length.compare(wrench_length).is_ge() {
        return Err(NoSetting::AdapterLength);
    }
    if adapter.angle_degree.compare(nothing).is_lt() || adapter.angle_degree.compare(half_turn).is_gt() {
        return Err(NoSetting::Angle);
    }
    let length = wrench_length.to_f64();
    let lever = length + adapter.length.to_f64() * cosine_of_degrees(adapter.angle_degree.to_f64());
    let set = torque.value.to_f64() * length / lever;
    let places = SETTING_PLACES.max(torque.value.places().min(MOST_SHOWN_PLACES));
    let digits = (set * 10f64.powi(i32::from(places))).round();
    if !digits.is_finite() || digits >= 1e15 {
        return Err(NoSetting::OutOfReach);
    }
    let value = Decimal::new(digits as i64, places).expect("six places at most");
    Torque::new(value, torque.unit).map_err(|_| NoSetting::OutOfReach)
}

/// Decimal places of a setting, at least.
const SETTING_PLACES: u8 = 3;

/// Exactly 0 at 90°, where an adapter changes nothing.
fn cosine_of_degrees(angle: f64) -> f64 {
    libm::sin((90.0 - angle).to_radians())
}
