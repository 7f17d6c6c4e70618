//! Copper by size and temperature.

use crate::near;
use evenwire_core::copper::{
    AWG_RANGE, ConductorClass, REFERENCE_CELSIUS, RESISTIVITY, TEMPERATURE_COEFFICIENT, awg_cross_section_mm2,
    awg_diameter_mm, ceiling_ohm_per_km, ceiling_sizes_mm2, resistance, temperature_factor,
};
use evenwire_core::unit::Decimal;
use evenwire_core::verdict::{ConductorState, KnownGood, KnownGoodLevel, MeterSpec, Rules, judge};

/// IEC 60028:1925 (clause from memory): 1/58 ohm·mm²/m and 0.00393 /K at 20 °C.
#[test]
fn annealed_copper_of_iec_60028() {
    near(RESISTIVITY, 0.017_241_379, 5e-10);
    near(TEMPERATURE_COEFFICIENT, 0.003_93, 0.0);
    // Handbooks print −234.5 for the temperature of no resistance.
    near(temperature_factor(REFERENCE_CELSIUS, REFERENCE_CELSIUS - 1.0 / TEMPERATURE_COEFFICIENT), 0.0, 1e-12);
    near(REFERENCE_CELSIUS - 1.0 / TEMPERATURE_COEFFICIENT, -234.45, 0.005);
}

/// IEC 60028, R(t) = R20·(1 + 0.00393·(t − 20)).
#[test]
fn copper_from_minus_20_to_85() {
    let table = [
        (-20.0, 0.8428),
        (0.0, 0.9214),
        (10.0, 0.9607),
        (20.0, 1.0),
        (25.0, 1.019_65),
        (30.0, 1.0393),
        (40.0, 1.0786),
        (60.0, 1.1572),
        (85.0, 1.255_45),
    ];
    for (celsius, factor) in table {
        near(temperature_factor(20.0, celsius), factor, 1e-12);
        near(temperature_factor(celsius, 20.0) * factor, 1.0, 1e-12);
    }
}

/// A reading is brought to 20 °C by dividing. Multiplying by (1 − 0.00393·Δt) gives 2.2068, which is the trap; the
/// factor 254.5/(234.5 + t) of IEC 60228 (from memory) agrees to a hundred-thousandth, no better.
#[test]
fn a_reading_is_brought_to_20_degrees_by_dividing() {
    let at_20 = 2.345 * temperature_factor(35.0, 20.0);
    near(at_20, 2.214_458, 5e-7);
    near(1.000 * temperature_factor(0.0, 20.0), 1.085_305, 5e-7);
    let multiplied = 2.345 * (1.0 - 0.003_93 * 15.0);
    assert!((at_20 - multiplied).abs() > 0.007, "{at_20} is the trap's {multiplied}");
    let by_iec_60228 = 2.345 * 254.5 / (234.5 + 35.0);
    near(at_20, by_iec_60228, 2.2 * 1.1e-5);
    assert!((at_20 - by_iec_60228).abs() > 1e-5);
}

/// IEC 60028: a ribbon of 0.3448 ohm from a van of 5 °C into a cabin of 45 °C rises by 16.7 %.
#[test]
fn a_ribbon_carried_into_a_warm_cabin() {
    near(temperature_factor(5.0, 45.0), 1.167, 0.0005);
    near(0.3448 * temperature_factor(20.0, 5.0), 0.3245, 5e-5);
    near(0.3448 * temperature_factor(20.0, 45.0), 0.3787, 5e-5);
}

/// The verdict warms what a known-good part read by the same factor: 1 ohm at 0 °C is 1.085 305 at 20 °C.
#[test]
fn the_verdict_warms_by_iec_60028() {
    let mut warm = crate::bench::part(vec![crate::bench::conductor(&[1.085, 1.085])]);
    warm.temperature = Some(20.0);
    let level = KnownGoodLevel { value: 1.0, u: 0.01, t: Some(0.0), same_meter: true };
    warm.known_good = Some(KnownGood::Everywhere(level));
    let verdict = judge(&warm, &MeterSpec::handheld(0.001), &Rules::default());
    near(verdict.groups["a"].reference.expect("a known-good level"), 1.085_305, 5e-7);
    assert_eq!(verdict.conductors[0].state, ConductorState::Consistent);
}

/// ASTM B258 (clause from memory) with IEC 60028; ohms per 1000 ft as a public wire table prints them, to its digits
/// (18, 20 to 30: seen).
#[test]
fn american_wire_gauge() {
    let table = [
        (12, 2.0525, 3.308_77, 5.211, 1.588),
        (14, 1.6277, 2.080_91, 8.286, 2.525),
        (16, 1.2908, 1.308_70, 13.174, 4.016),
        (18, 1.0237, 0.823_05, 20.948, 6.385),
        (20, 0.8118, 0.517_62, 33.309, 10.153),
        (22, 0.6438, 0.325_53, 52.963, 16.143),
        (24, 0.5106, 0.204_73, 84.215, 25.669),
        (26, 0.4049, 0.128_76, 133.907, 40.815),
        (28, 0.3211, 0.080_98, 212.921, 64.898),
        (30, 0.2546, 0.050_93, 338.557, 103.192),
    ];
    for (number, diameter, area, per_km, per_1000_ft) in table {
        near(awg_diameter_mm(number).unwrap(), diameter, 5e-5);
        let cross_section = awg_cross_section_mm2(number).unwrap();
        near(cross_section, area, 5e-6);
        near(resistance(1000.0, cross_section).unwrap(), per_km, 5e-4);
        near(resistance(304.8, cross_section).unwrap(), per_1000_ft, 5e-4);
    }
    let printed = [(18, 6.385), (20, 10.15), (22, 16.14), (24, 25.67), (26, 40.81), (28, 64.90), (30, 103.2)];
    for (number, ohms) in printed {
        let places = if ohms > 100.0 {
            0.05
        } else if ohms > 10.0 {
            0.005
        } else {
            0.0005
        };
        near(resistance(304.8, awg_cross_section_mm2(number).unwrap()).unwrap(), ohms, places * 1.01);
    }
}

/// A public table prints the row after 20 as 25: every gauge is thinner than the one before, by the same ratio.
#[test]
fn every_gauge_is_thinner_than_the_one_before() {
    let diameters: Vec<f64> = AWG_RANGE.map(|number| awg_diameter_mm(number).unwrap()).collect();
    assert_eq!(diameters.len(), 44);
    for pair in diameters.windows(2) {
        near(pair[0] / pair[1], 92f64.powf(1.0 / 39.0), 1e-12);
    }
    // ASTM B258: the two ends it is defined by, 0000 of 0.46 in and 36 of 0.005 in.
    near(awg_diameter_mm(-3).unwrap(), 0.46 * 25.4, 1e-9);
    near(awg_diameter_mm(36).unwrap(), 0.005 * 25.4, 1e-15);
    assert_eq!((awg_diameter_mm(-4), awg_cross_section_mm2(41)), (None, None));
}

fn decimal(text: &str) -> Decimal {
    Decimal::parse(text).expect("a number")
}

/// IEC 60228:2004, tables 1 to 4 (two public tables seen to agree): highest ohms per kilometre at 20 °C.
#[test]
fn ceilings_of_iec_60228() {
    let table = [
        ("0.5", "36.0", "39.0", "40.1"),
        ("0.75", "24.5", "26.0", "26.7"),
        ("1", "18.1", "19.5", "20.0"),
        ("1.5", "12.1", "13.3", "13.7"),
        ("2.5", "7.41", "7.98", "8.21"),
        ("4", "4.61", "4.95", "5.09"),
        ("6", "3.08", "3.30", "3.39"),
    ];
    let sizes: Vec<String> = ceiling_sizes_mm2().map(|size| size.to_string()).collect();
    assert_eq!(sizes, table.map(|row| row.0));
    for (size, fixed, flexible, tinned) in table {
        let printed = |class| ceiling_ohm_per_km(decimal(size), class).expect("in the table").to_string();
        assert_eq!(printed(ConductorClass::Fixed), fixed, "{size}");
        assert_eq!(printed(ConductorClass::Flexible), flexible, "{size}");
        assert_eq!(printed(ConductorClass::FlexibleTinned), tinned, "{size}");
    }
    assert_eq!(ceiling_ohm_per_km(decimal("1.50"), ConductorClass::Fixed), Some(decimal("12.1")));
    // Road-vehicle sizes have another standard and are not in this table.
    assert_eq!(ceiling_ohm_per_km(decimal("0.35"), ConductorClass::Flexible), None);
}

/// They are ceilings, not expected values, though a public page heads the table "minimum": plain copper has less
/// (0.5 mm²: 34.48), and tin and finer strands only add to what is allowed.
#[test]
fn a_ceiling_lies_above_what_copper_has() {
    near(resistance(1000.0, 0.5).unwrap(), 34.48, 0.005);
    for size in ceiling_sizes_mm2() {
        let of = |class| ceiling_ohm_per_km(size, class).expect("in the table").to_f64();
        let copper = resistance(1000.0, size.to_f64()).unwrap();
        let (fixed, flexible) = (of(ConductorClass::Fixed), of(ConductorClass::Flexible));
        assert!(copper < fixed && fixed < flexible && flexible < of(ConductorClass::FlexibleTinned), "{size}");
        assert!(fixed < 1.10 * copper, "{size}: a ceiling {fixed} so far above {copper} is a slip of the pen");
    }
}

/// R = ρ·L/A and the factor to 60 °C, computed outside: flat cable of 1.0 × 0.05, 2.0 × 0.10 and 0.8 × 0.035 mm.
#[test]
fn flat_cable_by_its_size() {
    let table = [
        (1.0, 0.05, 4.0, 1.379_310, 1.596_138),
        (2.0, 0.10, 4.0, 0.344_828, 0.399_034),
        (0.8, 0.035, 3.5, 2.155_172, 2.493_966),
        (1.0, 0.05, 0.05, 0.017_241, 0.019_952),
    ];
    for (width, thickness, length, at_20, at_60) in table {
        let ohms = resistance(length, width * thickness).unwrap();
        near(ohms, at_20, 5e-7);
        near(ohms * temperature_factor(20.0, 60.0), at_60, 5e-7);
    }
    // Backwards: 1.20 ohm of the first are 3.48 m.
    near(1.20 / resistance(1.0, 0.05).unwrap(), 3.48, 0.005);
}

#[test]
fn a_size_that_cannot_be_has_no_resistance() {
    let nothing = [(1.0, 0.0), (1.0, -0.5), (-1.0, 0.5), (f64::NAN, 0.5), (1.0, f64::NAN), (1.0, f64::INFINITY)];
    for (length, area) in nothing {
        assert_eq!(resistance(length, area), None, "{length} m of {area} mm²");
    }
    assert_eq!(resistance(0.0, 0.5), Some(0.0));
}
