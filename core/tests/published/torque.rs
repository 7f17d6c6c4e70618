//! Torque units, adapters, and the range of a wrench.

use crate::near;
use evenwire_core::torque::TorqueUnit::{
    KilogramForceCentimetre, KilogramForceMetre, NewtonMetre, PoundForceFoot, PoundForceInch,
};
use evenwire_core::torque::{
    Adapter, MOST_NEWTON_METRE, NoSetting, NotATorque, Torque, TorqueUnit, WrenchRange, setting,
};
use evenwire_core::unit::{Decimal, NumberError};

fn decimal(text: &str) -> Decimal {
    Decimal::parse(text).expect("a number")
}

fn torque(text: &str, unit: TorqueUnit) -> Torque {
    Torque::new(decimal(text), unit).expect("a torque")
}

fn shown(text: &str, unit: TorqueUnit, other: TorqueUnit, places: u8) -> String {
    torque(text, unit).shown_in(other, places).shown().to_string()
}

/// NIST SP 811, appendix B.8 (clause from memory; it prints lbf·ft as 1.355 818): the units are exact products of
/// 0.3048 m, 0.0254 m, 4.448 221 615 260 5 N and 9.806 65 m/s².
#[test]
fn units_of_nist_sp_811() {
    // A thousand of each, to six places, shows nine places of one.
    assert_eq!(shown("1000", PoundForceFoot, NewtonMetre, 6), "1355.817948");
    assert_eq!(shown("1", PoundForceFoot, NewtonMetre, 6), "1.355818");
    assert_eq!(shown("1000", PoundForceInch, NewtonMetre, 6), "112.984829");
    assert_eq!(shown("1000", KilogramForceMetre, NewtonMetre, 6), "9806.650000");
    assert_eq!(shown("1000", KilogramForceCentimetre, NewtonMetre, 6), "98.066500");
    // Twelve inches are a foot, a hundred centimetres a metre: no digit may be lost on the way.
    assert_eq!(shown("12", PoundForceInch, PoundForceFoot, 6), "1.000000");
    assert_eq!(shown("100", KilogramForceCentimetre, KilogramForceMetre, 6), "1.000000");
}

/// The exact definitions at the far end: neighbours of ten thousand newton metres are told apart, a half goes up.
#[test]
fn conversions_lose_nothing_up_to_the_largest_torque() {
    assert_eq!(shown("10000", NewtonMetre, PoundForceFoot, 6), "7375.621493");
    assert_eq!(shown("7375.621492772653", PoundForceFoot, NewtonMetre, 6), "10000.000000");
    assert_eq!(shown("7375.621492", PoundForceFoot, NewtonMetre, 6), "9999.999999");
    assert_eq!(shown("0.000000000001", PoundForceFoot, NewtonMetre, 6), "0.000000");
    assert_eq!(shown("10.0", KilogramForceCentimetre, NewtonMetre, 5), "0.98067", "0.980665");
    assert_eq!(shown("10.0", KilogramForceCentimetre, NewtonMetre, 4), "0.9807");
    assert_eq!(shown("0.05", KilogramForceMetre, NewtonMetre, 0), "0", "0.49");
}

/// Computed with Pint and metrolopy: 33, 37 and 45 lbf·ft, 8 and 50 N·m.
#[test]
fn torques_of_the_trade_in_the_other_unit() {
    assert_eq!(shown("37", PoundForceFoot, NewtonMetre, 6), "50.165264");
    assert_eq!(shown("37", PoundForceFoot, NewtonMetre, 1), "50.2");
    assert_eq!(shown("33", PoundForceFoot, NewtonMetre, 6), "44.741992");
    assert_eq!(shown("45", PoundForceFoot, NewtonMetre, 6), "61.011808");
    assert_eq!(shown("8", NewtonMetre, PoundForceFoot, 6), "5.900497");
    assert_eq!(shown("8", NewtonMetre, PoundForceInch, 6), "70.805966");
    assert_eq!(shown("50", NewtonMetre, PoundForceFoot, 6), "36.878107");
}

/// A maker's triple, as printed: 4.5 to 5.0 kgf·m, 44.1 to 49.0 N·m, 32.5 to 36.2 lbf·ft (seen).
#[test]
fn a_published_triple_agrees_with_itself() {
    for (kilogram, newton, pound) in [("4.5", "44.1", "32.5"), ("5.0", "49.0", "36.2")] {
        assert_eq!(shown(kilogram, KilogramForceMetre, NewtonMetre, 1), newton);
        assert_eq!(shown(kilogram, KilogramForceMetre, PoundForceFoot, 1), pound);
    }
    // 37 lbf·ft is outside of that range: a torque belongs to one vehicle.
    let published = torque("5.0", KilogramForceMetre);
    assert_eq!(torque("37", PoundForceFoot).suits(published), WrenchRange::Above);
}

/// What was published stays the truth: 37 comes back as 37, not as the 36.88 of "50 N·m".
#[test]
fn converting_back_gives_what_was_entered() {
    let entered = torque("37", PoundForceFoot);
    let metric = entered.shown_in(NewtonMetre, 0);
    assert_eq!((metric.shown().to_string(), metric.unit()), ("50".into(), NewtonMetre));
    let back = metric.shown_in(PoundForceFoot, 2);
    assert_eq!((back.shown().to_string(), back.published()), ("37".into(), entered));
    assert_eq!(metric.shown_in(PoundForceInch, 0).shown().to_string(), "444", "roundings do not add up");
    for unit in TorqueUnit::ALL {
        for other in TorqueUnit::ALL {
            let twice = torque("4.50", unit).shown_in(other, 0).shown_in(unit, 1);
            assert_eq!(twice.shown().to_string(), "4.50", "{} over {}", unit.sign(), other.sign());
        }
    }
}

#[test]
fn what_is_no_torque_is_refused() {
    let typed = |text| Torque::typed(text, NewtonMetre, false);
    assert_eq!(typed("50,2").unwrap().value().to_string(), "50.2");
    assert_eq!(typed("0.0"), Err(NotATorque::NotPositive));
    assert_eq!(typed("-8"), Err(NotATorque::NotPositive));
    assert_eq!(typed("1,500"), Err(NotATorque::Number(NumberError::Ambiguous)));
    assert!(typed("10000").is_ok());
    assert_eq!(typed("10000.000000000001"), Err(NotATorque::TooMuch));
    assert_eq!(Torque::new(decimal("9223372036854775807"), KilogramForceMetre), Err(NotATorque::TooMuch));
    assert_eq!(Torque::new(decimal("9223372.036854775807"), NewtonMetre), Err(NotATorque::TooMuch));
    assert_eq!(MOST_NEWTON_METRE, 10_000);
}

#[test]
fn a_torque_is_written_down_as_it_was_published() {
    let written = serde_json::to_string(&torque("37.0", PoundForceFoot)).unwrap();
    assert_eq!(written, r#"{"value":"37.0","unit":"pound-force-foot"}"#);
    assert_eq!(serde_json::from_str::<Torque>(&written).unwrap(), torque("37.0", PoundForceFoot));
    assert!(serde_json::from_str::<Torque>(r#"{"value":"0","unit":"newton-metre"}"#).is_err());
}

fn set(value: &str, unit: TorqueUnit, length: &str, adapter: (&str, &str)) -> Result<f64, NoSetting> {
    let adapter = Adapter { length: decimal(adapter.0), angle_degree: decimal(adapter.1) };
    setting(torque(value, unit), decimal(length), adapter).map(|set| {
        assert_eq!(set.unit(), unit, "the wrench is set in the unit of the torque");
        set.value().to_f64()
    })
}

/// Balance of moments, T·L/(L + E·cos θ); 80 N·m on 40 and 5 cm is a public worked example (seen).
#[test]
fn an_adapter_changes_what_the_wrench_is_set_to() {
    for (angle, wanted) in [("0", 44.444), ("45", 45.939), ("90", 50.0), ("180", 57.143)] {
        near(set("50", NewtonMetre, "400", ("50", angle)).unwrap(), wanted, 1e-9);
    }
    near(set("80", NewtonMetre, "40", ("5", "0")).unwrap(), 71.111, 1e-9);
    near(set("37", PoundForceFoot, "14", ("2", "0")).unwrap(), 32.375, 1e-9);
    near(set("50", NewtonMetre, "400", ("0", "0")).unwrap(), 50.0, 0.0);
    // Forgetting it applies 56.25: a wrench set to 50 acts on the fastener by 450/400.
    near(set("56.25", NewtonMetre, "400", ("50", "0")).unwrap(), 50.0, 1e-9);
}

/// Two public pages state it the wrong way round, which is right at 90° only: straight on, the lever is longer and the
/// wrench is set lower.
#[test]
fn straight_on_is_set_lower_and_folded_back_higher() {
    let at = |angle| set("50", NewtonMetre, "400", ("50", angle)).unwrap();
    assert!(at("0") < at("89") && at("89") < 50.0 && 50.0 < at("91") && at("91") < at("180"));
}

#[test]
fn what_has_no_lever_has_no_setting() {
    let set = |length, adapter| set("50", NewtonMetre, length, adapter);
    assert_eq!(set("0", ("0", "0")), Err(NoSetting::WrenchLength));
    assert_eq!(set("-400", ("50", "0")), Err(NoSetting::WrenchLength));
    assert_eq!(set("400", ("400", "180")), Err(NoSetting::AdapterLength));
    assert_eq!(set("400", ("-50", "0")), Err(NoSetting::AdapterLength));
    assert_eq!(set("400", ("50", "-1")), Err(NoSetting::Angle));
    assert_eq!(set("400", ("50", "180.1")), Err(NoSetting::Angle));
    assert_eq!(set("400", ("399.999999", "180")), Err(NoSetting::OutOfReach));
}

/// A wrench is good from 20 to 100 % of its highest value (ISO 6789-1, clause from memory); both ends belong to it.
#[test]
fn a_wrench_is_good_from_a_fifth_of_its_highest_value() {
    let wrench = torque("100", NewtonMetre);
    for (value, range) in [
        ("19.999999999999", WrenchRange::Below),
        ("20", WrenchRange::Within),
        ("100.0", WrenchRange::Within),
        ("100.000000000001", WrenchRange::Above),
    ] {
        assert_eq!(torque(value, NewtonMetre).suits(wrench), range, "{value}");
    }
    // Across units: 37 lbf·ft on a wrench up to 50 N·m is just too much, on one up to 250 N·m just enough.
    assert_eq!(torque("37", PoundForceFoot).suits(torque("50", NewtonMetre)), WrenchRange::Above);
    assert_eq!(torque("37", PoundForceFoot).suits(torque("250", NewtonMetre)), WrenchRange::Within);
    assert_eq!(torque("37", PoundForceFoot).suits(torque("251", NewtonMetre)), WrenchRange::Below);
}
