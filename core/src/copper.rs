//! Copper: what a conductor should read by its size, and how that changes with its temperature.
//!
//! What is computed here is what sound copper has at a size and a temperature. It is never a limit: a limit is the
//! maker's. Floats, for the statistics of a verdict; the ceilings of the standard are exact decimals.

use crate::unit::Decimal;

/// Resistivity of annealed copper at 20 °C, ohm·mm²/m: 1/58 (IEC 60028:1925, clause from memory).
pub const RESISTIVITY: f64 = 1.0 / 58.0;

/// Temperature coefficient of its resistance at [`REFERENCE_CELSIUS`], constant mass, per kelvin (IEC 60028:1925,
/// clause from memory).
pub const TEMPERATURE_COEFFICIENT: f64 = 0.003_93;

/// The temperature both of them hold at, °C.
pub const REFERENCE_CELSIUS: f64 = 20.0;

/// Resistance at `to` °C over the resistance of the same conductor at `from` °C.
///
/// Linear in the resistance at 20 °C, as the coefficient is defined: dividing by what it grew, never multiplying by
/// what it would shrink (1 − 0.00393·Δt is wrong by 0.3 % at 15 K). Good from −50 to 150 °C, which nobody checks here;
/// below −234.45 °C the line says nothing. NaN gives NaN.
///
/// ```
/// let read_at_35 = 2.345 * evenwire_core::copper::temperature_factor(35.0, 20.0);
/// assert!((read_at_35 - 2.214_458).abs() < 5e-7);
/// ```
pub fn temperature_factor(from: f64, to: f64) -> f64 {
    let grown = |celsius: f64| 1.0 + TEMPERATURE_COEFFICIENT * (celsius - REFERENCE_CELSIUS);
    grown(to) / grown(from)
}

/// Ohms of a conductor of `length_m` metres and `cross_section_mm2` square millimetres of copper at 20 °C.
///
/// `None` unless the cross-section is a finite number above 0 and the length one not below 0. Stranded wire reads a
/// few per cent more than its length says (lay of the strands: common practice, no source).
pub fn resistance(length_m: f64, cross_section_mm2: f64) -> Option<f64> {
    let sound = length_m.is_finite() && length_m >= 0.0 && cross_section_mm2.is_finite() && cross_section_mm2 > 0.0;
    sound.then(|| RESISTIVITY * length_m / cross_section_mm2)
}

/// The thickest and the thinnest gauge number that [`awg_diameter_mm`] knows: 0000 is written −3.
pub const AWG_RANGE: std::ops::RangeInclusive<i8> = -3..=40;

/// Diameter in millimetres of a solid wire of American Wire Gauge `number`: 0.127 · 92^((36−n)/39) (ASTM B258, clause
/// from memory). `None` outside of [`AWG_RANGE`].
pub fn awg_diameter_mm(number: i8) -> Option<f64> {
    AWG_RANGE.contains(&number).then(|| 0.127 * libm::pow(92.0, (36.0 - f64::from(number)) / 39.0))
}

/// Cross-section in square millimetres of a solid wire of American Wire Gauge `number`. `None` outside of
/// [`AWG_RANGE`].
pub fn awg_cross_section_mm2(number: i8) -> Option<f64> {
    awg_diameter_mm(number).map(|d| std::f64::consts::FRAC_PI_4 * d * d)
}

/// How a conductor of a cable is made up (IEC 60228:2004).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ConductorClass {
    /// Classes 1 and 2, plain copper: solid, and stranded for fixed installation.
    Fixed,
    /// Classes 5 and 6, plain copper: flexible, and more flexible.
    Flexible,
    /// Classes 5 and 6, each wire coated with tin.
    FlexibleTinned,
}

/// IEC 60228:2004, tables 1 to 4: cross-section in mm², then the highest d.c. resistance at 20 °C in ohms per
/// kilometre for each [`ConductorClass`]. Only the sizes for which two public tables were seen to agree.
const CEILINGS: [(Decimal, [Decimal; 3]); 7] = [
    (written(5, 1), [written(360, 1), written(390, 1), written(401, 1)]),
    (written(75, 2), [written(245, 1), written(260, 1), written(267, 1)]),
    (written(1, 0), [written(181, 1), written(195, 1), written(200, 1)]),
    (written(15, 1), [written(121, 1), written(133, 1), written(137, 1)]),
    (written(25, 1), [written(741, 2), written(798, 2), written(821, 2)]),
    (written(4, 0), [written(461, 2), written(495, 2), written(509, 2)]),
    (written(6, 0), [written(308, 2), written(330, 2), written(339, 2)]),
];

const fn written(digits: i64, places: u8) -> Decimal {
    Decimal::new(digits, places).expect("one or two places")
}

/// The highest resistance IEC 60228:2004 allows a cable's conductor of `cross_section_mm2` at 20 °C, in ohms per
/// kilometre, digit for digit as printed. `None` for a size that is not in the table.
///
/// A ceiling for new cable, not what it should read: plain copper of 0.5 mm² has 34.5, its ceiling is 36.0. Cable of
/// road vehicles has another standard.
pub fn ceiling_ohm_per_km(cross_section_mm2: Decimal, class: ConductorClass) -> Option<Decimal> {
    let (_, ceilings) = CEILINGS.iter().find(|(size, _)| size.compare(cross_section_mm2).is_eq())?;
    Some(match class {
        ConductorClass::Fixed => ceilings[0],
        ConductorClass::Flexible => ceilings[1],
        ConductorClass::FlexibleTinned => ceilings[2],
    })
}

/// The sizes [`ceiling_ohm_per_km`] knows, mm², from the thinnest.
pub fn ceiling_sizes_mm2() -> impl Iterator<Item = Decimal> {
    CEILINGS.iter().map(|(size, _)| *size)
}
