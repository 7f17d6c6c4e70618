//! What comes from outside is read or refused, whatever it is; what was read is written down the same.

use evenwire_core::dtc::{StandardCode, TroubleCode, failure_type_family, failure_type_meaning};
use evenwire_core::torque::{Adapter, Torque, TorqueUnit, setting};
use evenwire_core::unit::Decimal;
use evenwire_core::vin::Vin;
use proptest::prelude::*;

fn any_decimal() -> impl Strategy<Value = Decimal> {
    let digits = prop_oneof![3 => 0i64..100_000, 1 => any::<i64>(), 1 => Just(i64::MIN), 1 => Just(i64::MAX)];
    (digits, 0u8..=12).prop_map(|(digits, places)| Decimal::new(digits, places).expect("at most twelve places"))
}

fn any_unit() -> impl Strategy<Value = TorqueUnit> {
    prop::sample::select(TorqueUnit::ALL.to_vec())
}

/// Almost one of them, or anything at all.
fn any_text() -> impl Strategy<Value = String> {
    prop_oneof![".{0,45}", "[ 0-9A-Za-zäıK]{16,18}", "[PCBUpcbu][0-4][0-9A-Ga-g]{2,4}(-[0-9A-G]{0,3})?"]
}

proptest! {
    #[test]
    fn a_text_is_an_identification_or_refused(text in any_text()) {
        if let Ok(vin) = Vin::parse(&text) {
            prop_assert_eq!(vin.as_str().len(), 17);
            let _ = vin.check();
            prop_assert_eq!(Vin::parse(vin.as_str()), Ok(vin.clone()));
        }
        if let Ok(code) = TroubleCode::parse(&text) {
            prop_assert_eq!(TroubleCode::parse(&code.to_string()), Ok(code));
        }
    }

    #[test]
    fn three_bytes_are_a_code_or_none(bytes in any::<[u8; 3]>()) {
        prop_assert_eq!(StandardCode::from_three(bytes).is_none(), bytes[..2] == [0, 0]);
        // A byte with a meaning is in a family.
        prop_assert!(failure_type_meaning(bytes[2]).is_none() || failure_type_family(bytes[2]).is_some());
    }

    #[test]
    fn a_torque_is_shown_and_set_or_refused(
        value in any_decimal(), unit in any_unit(), other in any_unit(), places in any::<u8>(),
        (length, adapter, angle_degree) in (any_decimal(), any_decimal(), any_decimal()),
    ) {
        if let Ok(torque) = Torque::new(value, unit) {
            let shown = torque.shown_in(other, places);
            prop_assert_eq!(shown.shown_in(unit, 0).shown(), value);
            prop_assert!(shown.shown().digits() >= 0);
            let _ = torque.suits(torque);
            if let Ok(set) = setting(torque, length, Adapter { length: adapter, angle_degree }) {
                prop_assert_eq!(set.unit(), unit);
            }
        }
    }
}
