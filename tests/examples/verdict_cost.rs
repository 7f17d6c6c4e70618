//! Measures the verdict on 12 conductors with 3 touches of 20 readings, and beside it a loop that does nothing
//! but add up the same 720 readings.

use evenwire_core::verdict::{ConductorReadings, Leads, MeterSpec, PartReadings, Rules, Sample, judge};
use evenwire_engine::practice::chance::Chance;
use std::hint::black_box;
use std::time::{Duration, Instant};

const ROUNDS: usize = 200;
/// Of each in one round, so that the clock's own step does not count.
const VERDICTS: u32 = 20;
const SUMS: u32 = 2_000;

fn part() -> PartReadings {
    let mut chance = Chance::new(12);
    let mut reading = |level: f64| {
        let shown = (level + chance.between(-0.01, 0.01)) * 100.0;
        Sample::Value(shown.round() / 100.0)
    };
    let conductors = (0..12).map(|number| {
        let level = if number == 3 { 12.0 } else { 0.34 + f64::from(number % 5) * 0.004 };
        let touches = (0..3).map(|_| (0..20).map(|_| reading(level)).collect()).collect();
        ConductorReadings { group: Some("ribbon".into()), touches, ..ConductorReadings::default() }
    });
    PartReadings {
        conductors: conductors.collect(),
        bars_open: Some(true),
        leads: Leads { zeroed: true, ..Leads::default() },
        ..PartReadings::default()
    }
}

fn sum(part: &PartReadings) -> f64 {
    let samples = part.conductors.iter().flat_map(|conductor| conductor.touches.iter().flatten());
    samples.map(|sample| if let Sample::Value(ohm) = sample { *ohm } else { 0.0 }).sum()
}

fn main() {
    let (part, meter, rules) = (part(), MeterSpec::handheld(0.01), Rules::default());
    let (mut verdicts, mut sums) = (Vec::new(), Vec::new());
    // In turn, so that whatever else the machine does meets both alike.
    for _ in 0..ROUNDS {
        verdicts.push(each(VERDICTS, || drop(black_box(judge(black_box(&part), &meter, &rules)))));
        sums.push(each(SUMS, || _ = black_box(sum(black_box(&part)))));
    }
    println!(
        "verdict on 12 conductors x 3 touches x 20 readings ({:?}), {ROUNDS} rounds",
        judge(&part, &meter, &rules).set
    );
    println!("{:<24}{:>10}{:>10}{:>10}", "microseconds", "least", "median", "most");
    let mut medians = Vec::new();
    for (name, mut times) in [("verdict", verdicts), ("adding them up", sums)] {
        times.sort();
        let [least, median, most] = [0, ROUNDS / 2, ROUNDS - 1].map(|at| times[at].as_secs_f64() * 1e6);
        println!("{name:<24}{least:>10.2}{median:>10.2}{most:>10.2}");
        medians.push(median);
    }
    println!("median against adding them up: {:.0} times", medians[0] / medians[1]);
}

fn each(times: u32, mut act: impl FnMut()) -> Duration {
    let begun = Instant::now();
    (0..times).for_each(|_| act());
    begun.elapsed() / times
}
