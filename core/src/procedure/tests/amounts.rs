//! Figures and facts by themselves.

use crate::procedure::{Amount, Dimension, Fact, NotAFact, NotAnAmount};
use crate::unit::{Quantity, Unit};
use std::cmp::Ordering;

fn amount(text: &str) -> Amount {
    Amount::parse(text).unwrap_or_else(|why| panic!("{text}: {why}"))
}

#[test]
fn a_figure_keeps_its_unit_and_its_last_zeros() {
    for (text, shown) in [
        ("44 N·m", "44 N·m"),
        ("32.50 lbf ft", "32.50 lbf·ft"),
        ("0.020 ohm", "0.020 Ω"),
        ("1\u{2126}", "1 Ω"),
        ("-3°", "-3 °"),
        ("2.5 turns", "2.5 turns"),
        ("0.5 mm2", "0.5 mm²"),
    ] {
        assert_eq!(amount(text).to_string(), shown);
        assert_eq!(amount(&amount(text).to_string()), amount(text));
    }
    for (text, why) in [
        ("", NotAnAmount::NoNumber),
        ("V", NotAnAmount::NoNumber),
        ("0,1 V", NotAnAmount::UnknownUnit),
        ("1-2 V", NotAnAmount::NoNumber),
        ("3", NotAnAmount::NoUnit),
        ("3 volts!", NotAnAmount::UnknownUnit),
        ("1 M", NotAnAmount::UnknownUnit),
        ("1234567890 s", NotAnAmount::TooLong),
        ("0.1234567 V", NotAnAmount::TooLong),
    ] {
        assert_eq!(Amount::parse(text), Err(why), "{text}");
    }
}

#[test]
fn figures_compare_exactly_across_units_and_never_across_dimensions() {
    for (one, two, order) in [
        ("2 min", "120 s", Ordering::Equal),
        ("119.999999 s", "2 min", Ordering::Less),
        ("1 MΩ", "1000 kΩ", Ordering::Equal),
        ("500 mV", "0.5 V", Ordering::Equal),
        ("1 lbf·ft", "1.355817 N·m", Ordering::Greater),
        ("1 lbf·ft", "1.355818 N·m", Ordering::Less),
        ("12 lbf·in", "1 lbf·ft", Ordering::Equal),
        ("999999999 lbf·ft", "999999999 N·m", Ordering::Greater),
    ] {
        assert_eq!(amount(one).compare(amount(two)), Some(order), "{one} {two}");
        assert_eq!(amount(two).compare(amount(one)), Some(order.reverse()), "{two} {one}");
    }
    assert_eq!(amount("1 V").compare(amount("1 Ω")), None);
    assert!(!amount("1 V").at_most(amount("2 Ω")) && !amount("1 V").agrees_with(amount("1 Ω")));
    assert!(amount("44 N·m").agrees_with(amount("32.5 lbf·ft")) && !amount("44 N·m").agrees_with(amount("33 lbf·ft")));
    assert!(
        amount("2.75 turns").is_half_of(amount("5.5 turns")) && !amount("2.7 turns").is_half_of(amount("5.5 turns"))
    );
}

#[test]
fn a_figure_becomes_a_measured_value_or_a_time() {
    assert_eq!(amount("1.5 kΩ").quantity(), Quantity::new(1500, 0, Unit::Ohm));
    assert_eq!(amount("20 mΩ").quantity(), Quantity::new(20, 3, Unit::Ohm));
    assert_eq!(amount("0.10 V").quantity(), Quantity::new(10, 2, Unit::Volt));
    assert_eq!(amount("44 N·m").quantity(), None);
    assert_eq!(amount("3 min").millis(), Some(180_000));
    assert_eq!(amount("0.25 s").millis(), Some(250));
    assert_eq!(amount("0.0001 s").millis(), None);
    assert_eq!(amount("-1 s").millis(), None);
    assert_eq!(amount("1 V").millis(), None);
    assert_eq!(amount("1 lbf·ft").dimension(), Dimension::Torque);
}

#[test]
fn facts_are_read_as_they_are_written() {
    for name in Fact::NAMES {
        let about = ["inflator_away", "bar_open", "bar_restored"].contains(&name);
        let text = if about { format!("{name}(x-1)") } else { name.to_owned() };
        let fact = Fact::parse(&text).unwrap_or_else(|why| panic!("{text}: {why}"));
        assert_eq!((fact.to_string(), fact.name()), (text.clone(), name));
        let wrong = if about { name.to_owned() } else { format!("{name}(x)") };
        assert_eq!(Fact::parse(&wrong), Err(NotAFact), "{wrong}");
    }
    for text in
        ["", "cable off", "Cable_off", "bar_open()", "bar_open(A)", "bar_open(a", "bar_open(a))", "bar_open(a)b"]
    {
        assert_eq!(Fact::parse(text), Err(NotAFact), "{text}");
    }
}
