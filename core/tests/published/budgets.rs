//! How uncertainties of several sources become one.

use crate::bench::{FINE, conductor, part};
use crate::near;
use evenwire_core::verdict::{Leads, Limit, LimitVerdict, MeterSpec, PartReadings, Rules, judge};

fn against_limit(part: &PartReadings, meter: &MeterSpec, rules: &Rules) -> LimitVerdict {
    judge(part, meter, rules).conductors[0].limit.expect("it has a limit and a value")
}

/// JCGM 100:2008 (GUM), H.1.4: 25, 9.7, 2.9 and 16.6 nm are 32 nm, 31.671 unrounded. Here in thousandths of an ohm: the
/// clips, the moving zero, the temperature and the meter.
#[test]
fn gum_h_1_four_contributions() {
    let rules = Rules {
        touch_u: 0.025,
        lead_ohm: 0.0,
        lead_half_width: 0.0,
        temperature_u_unknown: 0.0029 / 0.003_93,
        ..Rules::default()
    };
    let meter = MeterSpec { accuracy_counts: 0.0166 * 3f64.sqrt() / FINE.resolution, ..FINE };
    let mut touched = conductor(&[1.0]);
    touched.limit = Some(Limit { high: Some(2.0), low: None, t: Some(20.0) });
    let zero_moved = Leads { zeroed: false, zero: Some(0.0), zero_end: Some(0.0097 * 3f64.sqrt()) };
    let part = PartReadings { leads: zero_moved, ..part(vec![touched]) };
    let limit = against_limit(&part, &meter, &rules);
    near(limit.u, 0.032, 0.0005);
    near(limit.u, 0.031_671, 5e-7);
    near(limit.expanded, 2.0 * limit.u, 1e-15);
}

/// A meter's sheet as a rectangle and its step as another, root of the sum of squares (GUM 4.3.7, F.2.2.1). Computed
/// outside, not published: 1.85 and 0.35 ohm at ±(0.5 % + 3 steps) of 0.01, 1.85 at ±(0.2 % + 2 steps) of 0.001.
#[test]
fn a_meter_reading_has_its_sheet_and_its_step() {
    let no_leads = Rules { touch_u: 0.0, lead_ohm: 0.0, lead_half_width: 0.0, ..Rules::default() };
    for (ohms, accuracy_pct, accuracy_counts, resolution, u) in
        [(1.85, 0.5, 3.0, 0.01, 0.022_84), (0.35, 0.5, 3.0, 0.01, 0.018_56), (1.85, 0.2, 2.0, 0.001, 0.003_30)]
    {
        let mut touched = conductor(&[ohms]);
        touched.limit = Some(Limit { high: Some(5.0), ..Limit::default() });
        let part = PartReadings { leads: Leads::default(), ..part(vec![touched]) };
        let meter = MeterSpec { resolution, accuracy_pct, accuracy_counts };
        near(against_limit(&part, &meter, &no_leads).u, u, 5e-6);
    }
}

/// GUM 5.2.2: what is common to two readings adds up in a sum and cancels in a difference. The verdict compares
/// conductors read by one meter: its offset is in the uncertainty against a limit, and not against the neighbours.
#[test]
fn what_all_conductors_share_cancels() {
    let u_at = |accuracy_counts: f64| {
        let mut part = part([0.30, 0.31, 0.32, 0.33].map(|x| conductor(&[x, x])).to_vec());
        part.ceiling = Some(5.0);
        let meter = MeterSpec { resolution: 0.01, accuracy_pct: 0.0, accuracy_counts };
        let first = judge(&part, &meter, &Rules::default()).conductors[0].clone();
        (first.u.expect("compared"), first.limit.expect("a ceiling").u)
    };
    let (exact, offset) = (u_at(0.0), u_at(30.0));
    near(offset.0, exact.0, 0.0);
    near(offset.1, exact.1.hypot(0.3 / 3f64.sqrt()), 1e-12);
}

/// A lead zero of 0.16 off 2.03 leaves 1.87, which binary floats make 1.8699999999999999: a value that lies at its
/// limit together with its uncertainty keeps it, and one ten-thousandth more does not.
#[test]
fn the_end_of_a_limit_belongs_to_it_whatever_binary_floats_make_of_it() {
    let result = |read: f64, high: f64| {
        let mut touched = conductor(&[read, read]);
        touched.limit = Some(Limit { high: Some(high), ..Limit::default() });
        let zero = Leads { zeroed: false, zero: Some(0.16), zero_end: None };
        let part = PartReadings { leads: zero, ..part(vec![touched]) };
        // The step in the reading and, twice, in the zero: u is 0.05.
        let meter = MeterSpec { resolution: 0.1, accuracy_pct: 0.0, accuracy_counts: 0.0 };
        let limit = against_limit(&part, &meter, &Rules { touch_u: 0.0, ..Rules::default() });
        near(limit.expanded, 0.1, 1e-12);
        (limit.value, limit.result)
    };
    use evenwire_core::verdict::LimitResult::{Conform, Undecided};
    assert_ne!(2.03 - 0.16, 1.87, "the trap is one");
    assert_eq!(result(2.03, 1.97).1, Conform);
    assert_eq!(result(2.0301, 1.97).1, Undecided);
    near(result(2.03, 1.97).0, 1.87, 1e-15);
}
