//! Where values stand on a shared ohm axis, in thousandths of its length, so that a screen or a printed page
//! only has to draw.

pub(crate) mod trace;

/// Fraction of the span kept free on either side of the outermost value.
const MARGIN: f64 = 0.12;
/// A value this many tolerances beyond the band makes the axis logarithmic: on a linear one the band would vanish.
const FAR_OFF: f64 = 8.0;
/// Smallest value a logarithmic axis can show, ohm.
const LEAST_LOG: f64 = 0.01;
/// Labels wanted at most.
const MOST_TICKS: usize = 7;

/// A band in which values count as alike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Lower edge, ohm.
    pub from: f64,
    /// Upper edge, ohm.
    pub to: f64,
}

/// A shared axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    from: f64,
    to: f64,
    logarithmic: bool,
}

impl Axis {
    /// An axis on which all of `values` and `band` stand. Without any, 0 to 1 ohm.
    pub fn over(values: &[f64], band: Option<Band>) -> Axis {
        let edges = band.iter().flat_map(|b| [b.from, b.to]);
        let all = || values.iter().copied().chain(edges.clone()).filter(|v| v.is_finite());
        let least = all().fold(f64::INFINITY, f64::min);
        let most = all().fold(f64::NEG_INFINITY, f64::max);
        if least > most {
            return Axis { from: 0.0, to: 1.0, logarithmic: false };
        }
        // A band at or below nothing (a zero too large was taken off) has no place on a logarithmic axis.
        let far_off = band.is_some_and(|b| b.to > LEAST_LOG && most > b.to + FAR_OFF * (b.to - b.from));
        if far_off { Axis::logarithmic(least, most) } else { Axis::linear(least, most) }
    }

    fn linear(least: f64, most: f64) -> Axis {
        // A group that reads all the same still needs a width to be drawn in.
        let span = (most - least).max(0.1 * most.abs()).max(0.02);
        let step = nice_step(span);
        let from = ((least - MARGIN * span) / step).floor() * step;
        let from = if least >= 0.0 { from.max(0.0) } else { from };
        let to = ((most + MARGIN * span) / step).ceil() * step;
        Axis { from, to, logarithmic: false }
    }

    fn logarithmic(least: f64, most: f64) -> Axis {
        let least = least.max(LEAST_LOG);
        let stops = decade_stops(LEAST_LOG / 10.0, most * 10.0);
        let from = stops.iter().copied().filter(|s| *s < least * 0.95).fold(LEAST_LOG / 10.0, f64::max);
        let to = stops.iter().copied().filter(|s| *s > most * 1.05).fold(f64::INFINITY, f64::min);
        Axis { from, to, logarithmic: true }
    }

    /// The axis is logarithmic.
    pub fn is_logarithmic(&self) -> bool {
        self.logarithmic
    }

    /// Place of a value, 0 to 1000; values beyond an end stand at that end.
    pub fn place(&self, value: f64) -> u32 {
        let share = if self.logarithmic {
            (value.max(self.from) / self.from).ln() / (self.to / self.from).ln()
        } else {
            (value - self.from) / (self.to - self.from)
        };
        // NaN compares with nothing and stands at the start.
        if share > 0.0 { (share.min(1.0) * 1000.0).round() as u32 } else { 0 }
    }

    /// Labels: place and number.
    pub fn ticks(&self) -> Vec<(u32, String)> {
        let values = if self.logarithmic { self.log_ticks() } else { self.linear_ticks() };
        values.into_iter().map(|(value, places)| (self.place(value), format!("{value:.places$}"))).collect()
    }

    fn linear_ticks(&self) -> Vec<(f64, usize)> {
        let mut step = nice_step(self.to - self.from);
        if ((self.to - self.from) / step).round() as usize + 1 > MOST_TICKS {
            step *= 2.0;
        }
        let places = (-(step.log10() + 1e-9).floor()).max(0.0) as usize;
        let first = (self.from / step - 1e-6).ceil() as i64;
        let last = (self.to / step + 1e-6).floor() as i64;
        (first..=last).map(|i| (i as f64 * step, places)).collect()
    }

    fn log_ticks(&self) -> Vec<(f64, usize)> {
        let mut stops = decade_stops(self.from, self.to);
        if stops.len() > MOST_TICKS {
            stops.retain(|s| (s.log10() - s.log10().round()).abs() < 1e-6);
        }
        stops.into_iter().map(|s| (s, (-(s.log10() + 1e-9).floor()).max(0.0) as usize)).collect()
    }
}

/// 1, 2 or 5 times a power of ten, about a fifth of `span`.
fn nice_step(span: f64) -> f64 {
    let rough = span / 5.0;
    let power = 10f64.powf(rough.log10().floor());
    match rough / power {
        r if r < 1.5 => power,
        r if r < 3.5 => 2.0 * power,
        r if r < 7.5 => 5.0 * power,
        _ => 10.0 * power,
    }
}

/// 1, 2 and 5 of every decade within the two values, both included.
fn decade_stops(from: f64, to: f64) -> Vec<f64> {
    let decades = (from.log10().floor() as i32)..=(to.log10().ceil() as i32);
    let all = decades.flat_map(|d| [1.0, 2.0, 5.0].map(|m| m * 10f64.powi(d)));
    all.filter(|s| *s >= from * (1.0 - 1e-9) && *s <= to * (1.0 + 1e-9)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn band() -> Band {
        Band { from: 0.2, to: 0.5 }
    }

    #[test]
    fn a_sound_part_stands_on_a_linear_axis_with_round_labels() {
        let axis = Axis::over(&[0.30, 0.31, 0.34], Some(band()));
        assert!(!axis.is_logarithmic());
        let labels: Vec<String> = axis.ticks().into_iter().map(|(_, l)| l).collect();
        assert_eq!(labels, ["0.2", "0.3", "0.4", "0.5"].map(String::from));
    }

    #[test]
    fn twelve_ohm_beside_a_third_makes_the_axis_logarithmic_and_keeps_the_band_visible() {
        let axis = Axis::over(&[0.3, 0.4, 0.3, 12.0], Some(band()));
        assert!(axis.is_logarithmic());
        assert!(axis.place(0.5) - axis.place(0.2) > 100, "the band is at least a tenth of the axis");
        assert!(axis.place(12.0) < 1000 && axis.place(12.0) > 800);
    }

    #[test]
    fn places_grow_with_values_and_stay_on_the_axis() {
        for values in [vec![0.3, 0.4], vec![0.3, 40.0], vec![-0.02, 0.3], vec![0.0], vec![999.0, 0.001], vec![]] {
            let axis = Axis::over(&values, Some(band()));
            let places: Vec<u32> = (0..2000).map(|i| axis.place(f64::from(i) * 0.5 - 1.0)).collect();
            assert!(places.windows(2).all(|w| w[0] <= w[1]), "{values:?}");
            assert!(places.iter().all(|p| *p <= 1000));
            assert!(axis.ticks().len() >= 2, "{values:?} {:?}", axis.ticks());
            assert!(axis.ticks().windows(2).all(|w| w[0].0 < w[1].0), "{:?}", axis.ticks());
        }
        assert_eq!(Axis::over(&[], None).place(f64::NAN), 0);
    }

    #[test]
    fn a_band_below_zero_stands_on_a_linear_axis_however_far_the_rest_is() {
        for (from, to, far) in [(-5.0, -4.9, -3.6), (-5.0, -4.9, 0.001), (-5.0, -4.9, 12.0), (-0.2, 0.0, 9.0)] {
            let axis = Axis::over(&[from, far], Some(Band { from, to }));
            assert!(!axis.is_logarithmic(), "{from} to {to}, {far}");
            assert!(axis.place(from) < axis.place(far), "{from} to {to}, {far}");
            assert!(axis.ticks().len() >= 2, "{:?}", axis.ticks());
        }
    }
}
