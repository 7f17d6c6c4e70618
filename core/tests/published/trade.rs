//! Facts of the trade: common practice, no source.

use crate::bench::read_twice;
use evenwire_core::torque::{Torque, TorqueUnit};
use evenwire_core::verdict::ConductorState::{Consistent, High};
use evenwire_core::verdict::SetVerdict;

/// Common practice, no source: 0.3, 0.4, 0.3 and 12 ohm condemn the fourth, and only it.
#[test]
fn twelve_ohms_among_a_third_of_one_condemn_the_part() {
    let verdict = read_twice(&[0.3, 0.4, 0.3, 12.0], 0.1);
    let states: Vec<_> = verdict.conductors.iter().map(|c| c.state).collect();
    assert_eq!((verdict.set, states), (SetVerdict::Fail, vec![Consistent, Consistent, Consistent, High]));
    assert_eq!(verdict.action.conductor, Some(3));
}

/// Common practice, no source: five alike pass, at rest only.
#[test]
fn five_alike_pass_at_rest() {
    let verdict = read_twice(&[0.3, 0.4, 0.3, 0.3, 0.3], 0.1);
    assert_eq!((verdict.set, verdict.swept_steady), (SetVerdict::Pass, false));
}

/// Common practice, no source for the figure: 37 lbf·ft on the wheel's fastener are 50.2 N·m.
#[test]
fn thirty_seven_pound_force_feet() {
    let wheel = Torque::typed("37", TorqueUnit::PoundForceFoot, false).expect("a torque");
    let metric = wheel.shown_in(TorqueUnit::NewtonMetre, 1);
    assert_eq!(format!("{} {}", metric.shown(), metric.unit().sign()), "50.2 N·m");
}
