//! What a sweep can see: the shares of simulated faults that are found, beside the figures the rules of the sweep were
//! written down with, and the false alarms of sound conductors. Ends with 1 when it sees less than was written down.
//!
//! The model: 24 seconds; a base of 0.25 to 1.6 ohm that drifts by up to 0.05 ohm a minute; the wander of a sound
//! contact, a sine of 2 to 8 milliohm and 3 to 8 seconds; white noise of 1 to 8 milliohm a reading; a reading averages
//! 0.8 of its period; a fault is a rectangle at least 3 seconds from either end; an open counts 600 ohm for its share
//! of the reading, and over 600 ohm is over-range; everything is rounded to the display step.

use evenwire_core::sweep::{JUMP_OHM, MIN_S, SweepInput, SweepSample, SweepVerdict, examine};
use evenwire_engine::practice::chance::Chance;
use std::f64::consts::TAU;
use std::process::ExitCode;

const SEED: u64 = 20_240;
const LENGTH_S: f64 = 24.0;
/// Share of its period that a reading averages.
const AVERAGED: f64 = 0.8;
const OPEN_OHM: f64 = 600.0;
const KEPT_FROM_ENDS_S: f64 = 3.0;
const TRACES: u32 = 120;
const CLEAN_TRACES: u32 = 480;
const DURATIONS_S: [f64; 7] = [0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0];
/// So many standard errors of a share found in `TRACES` below the written one are less sight, not chance.
const ERRORS: f64 = 2.6;

#[derive(Clone, Copy)]
struct Meter {
    rate: f64,
    step: f64,
}

/// Ohms it adds while it lasts.
#[derive(Clone, Copy, PartialEq)]
enum Size {
    Ohms(f64),
    Open,
}

#[derive(Clone, Copy)]
struct Fault {
    size: Size,
    length_s: f64,
}

/// A share written down: of faults of this size and length so many per cent are found at this rate.
struct Written {
    rate: f64,
    fault: Fault,
    percent: f64,
}

const fn written(rate: f64, size: Size, length_s: f64, percent: f64) -> Written {
    Written { rate, fault: Fault { size, length_s }, percent }
}

const WRITTEN: [Written; 9] = [
    written(5.0, Size::Ohms(0.1), 0.2, 11.0),
    written(5.0, Size::Ohms(0.1), 0.5, 100.0),
    written(5.0, Size::Ohms(0.1), 1.0, 100.0),
    written(5.0, Size::Ohms(0.1), 2.0, 100.0),
    written(5.0, Size::Ohms(0.3), 0.1, 82.0),
    written(5.0, Size::Ohms(0.5), 0.05, 69.0),
    written(5.0, Size::Open, 0.05, 100.0),
    written(2.0, Size::Ohms(0.2), 0.5, 100.0),
    written(2.0, Size::Open, 0.05, 84.0),
];

fn main() -> ExitCode {
    println!("faults found, per cent of {TRACES} simulated traces of {LENGTH_S:.0} s; seed {SEED}");
    println!("in brackets what was written down; * worse by more than {ERRORS} standard errors");
    let mut worse = 0;
    for rate in [5.0, 2.0] {
        worse += show_faults(Meter { rate, step: 0.01 });
    }
    println!("\nthe edge, 5 readings a second, 0.01 ohm step (written: 0.06 ohm is the edge, 0.03 ohm is not seen)");
    print_head();
    for ohms in [0.06, 0.03] {
        show_row(Meter { rate: 5.0, step: 0.01 }, Size::Ohms(ohms));
    }
    worse += show_clean();
    match worse {
        0 => println!("\nno worse than written down"),
        _ => println!("\nWORSE than written down: {worse} of the figures above"),
    }
    if worse == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn show_faults(meter: Meter) -> u32 {
    println!("\n{:.0} readings a second, {} ohm step", meter.rate, meter.step);
    print_head();
    let sizes = [Size::Ohms(0.1), Size::Ohms(0.2), Size::Ohms(0.3), Size::Ohms(0.5), Size::Open];
    sizes.into_iter().map(|size| show_row(meter, size)).sum()
}

fn print_head() {
    let columns: Vec<String> = DURATIONS_S.iter().map(|s| format!("{:>11}", format!("{s} s"))).collect();
    println!("{:<10}{}", "", columns.concat());
}

/// Prints a row; gives how many of its figures are worse than written.
fn show_row(meter: Meter, size: Size) -> u32 {
    let name = match size {
        Size::Ohms(ohms) => format!("{ohms} ohm"),
        Size::Open => "open".to_owned(),
    };
    print!("{name:<10}");
    let mut worse = 0;
    for length_s in DURATIONS_S {
        let fault = Fault { size, length_s };
        let percent = 100.0 * f64::from(alarms(meter, Some(fault), TRACES)) / f64::from(TRACES);
        let mut cell = format!("{percent:.0}");
        if let Some(want) = figure_written(meter.rate, fault) {
            let bad = percent < want - ERRORS * standard_error(want);
            worse += u32::from(bad);
            cell = format!("{}{cell} ({want:.0})", if bad { "*" } else { "" });
        }
        print!("{cell:>11}");
    }
    println!();
    worse
}

fn figure_written(rate: f64, fault: Fault) -> Option<f64> {
    let same = |w: &&Written| w.rate == rate && w.fault.size == fault.size && w.fault.length_s == fault.length_s;
    WRITTEN.iter().find(same).map(|w| w.percent)
}

/// Per cent, of a share found in `TRACES`. Of what is always found nothing may be missed.
fn standard_error(percent: f64) -> f64 {
    (percent * (100.0 - percent) / f64::from(TRACES)).sqrt()
}

/// Sound conductors on twelve meters; one false alarm is worse than written.
fn show_clean() -> u32 {
    println!("\nfalse alarms of {CLEAN_TRACES} traces of sound conductors");
    let steps = [0.001, 0.01, 0.1];
    println!("{:<14}{}", "", steps.map(|step| format!("{:>11}", format!("{step} ohm"))).concat());
    let (mut traces, mut false_alarms) = (0, 0);
    for rate in [2.0, 5.0, 10.0, 20.0] {
        print!("{:<14}", format!("{rate:.0} a second"));
        for step in steps {
            let found = alarms(Meter { rate, step }, None, CLEAN_TRACES);
            print!("{found:>11}");
            traces += CLEAN_TRACES;
            false_alarms += found;
        }
        println!();
    }
    // None in n: the share is below 3 / n with 95 % confidence.
    let bound =
        if false_alarms == 0 { format!(": below {:.2} % (95 %)", 300.0 / f64::from(traces)) } else { "*".into() };
    println!("{false_alarms} of {traces} (written: 0 of 5760, below 0.05 %){bound}");
    false_alarms
}

/// In how many of so many traces a fault is reported. Each cell of a table draws its own numbers.
fn alarms(meter: Meter, fault: Option<Fault>, traces: u32) -> u32 {
    let mut cell = SEED ^ meter.rate.to_bits().rotate_left(8) ^ meter.step.to_bits().rotate_left(16);
    if let Some(Fault { size, length_s }) = fault {
        let ohms = if let Size::Ohms(ohms) = size { ohms } else { OPEN_OHM };
        cell ^= ohms.to_bits().rotate_left(24) ^ length_s.to_bits().rotate_left(32);
    }
    let mut chance = Chance::new(cell);
    (0..traces).map(|_| u32::from(alarm(trace(meter, fault, &mut chance), meter.step))).sum()
}

fn alarm(samples: Vec<SweepSample>, resolution: f64) -> bool {
    let verdict = examine(&SweepInput { resolution, samples, jump: JUMP_OHM, min_s: MIN_S }).verdict;
    matches!(verdict, SweepVerdict::Jump | SweepVerdict::Dropout)
}

fn trace(meter: Meter, fault: Option<Fault>, chance: &mut Chance) -> Vec<SweepSample> {
    let period = 1.0 / meter.rate;
    let base = chance.between(0.25, 1.6);
    let drift = chance.between(-0.05, 0.05) / 60.0;
    let (wander, wave_s, phase) = (chance.between(0.002, 0.008), chance.between(3.0, 8.0), chance.between(0.0, TAU));
    let noise = chance.between(0.001, 0.008);
    let begins = fault.map(|f| chance.between(KEPT_FROM_ENDS_S, LENGTH_S - KEPT_FROM_ENDS_S - f.length_s));
    let mut samples = Vec::new();
    for number in 1_u32.. {
        let t = f64::from(number) * period;
        if t > LENGTH_S + period / 2.0 {
            break;
        }
        let mut ohms = base + drift * t + wander * (TAU * t / wave_s + phase).sin() + noise * normal(chance);
        if let (Some(fault), Some(begins)) = (fault, begins) {
            let averaged_s = AVERAGED * period;
            let shared_s = (t.min(begins + fault.length_s) - (t - averaged_s).max(begins)).max(0.0);
            let adds = if let Size::Ohms(ohms) = fault.size { ohms } else { OPEN_OHM };
            ohms += adds * shared_s / averaged_s;
        }
        let shown = (ohms / meter.step).round() * meter.step;
        samples.push(SweepSample { t, ohms: (ohms <= OPEN_OHM).then_some(shown), angle: None });
    }
    samples
}

/// Normally distributed with mean 0 and deviation 1 (Marsaglia's polar method): false alarms live in the tails, which
/// a sum of shares does not have.
fn normal(chance: &mut Chance) -> f64 {
    loop {
        let (x, y) = (chance.between(-1.0, 1.0), chance.between(-1.0, 1.0));
        let square = x * x + y * y;
        if square > 0.0 && square < 1.0 {
            return x * (-2.0 * square.ln() / square).sqrt();
        }
    }
}
