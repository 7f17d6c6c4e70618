//! Every constant of the verdict, with its unit and its reason.

/// The constants of the verdict. `Rules::default()` are the steps as published, to which case lines are held;
/// [`Rules::at_the_bench`] is what a job is judged by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules {
    /// Ohms a conductor may be above its reference. Twice the coarsest step in use (0.1), so that one flickering
    /// digit never condemns. A property of the part, never widened by the meter.
    pub tolerance_abs: f64,
    /// Share of the reference it may be above, if larger: three times the 5 % or so that ribbon spreads.
    pub tolerance_rel: f64,
    /// Share of the reference it may be below: a pair bridged at both ends reads about 55 %.
    pub low_rel: f64,
    /// Ohms it may be below, if larger: two touches differ by 0.06 by chance.
    pub low_abs: f64,
    /// Width of a level in tolerances: good conductors fit, one at the tolerance does not.
    pub level_width: f64,
    /// Coverage factor, about 95 %; the guard band is the expanded uncertainty (JCGM 106).
    pub coverage: f64,
    /// Standard uncertainty in ohms of one re-clipped two-wire touch; more if the readings show more.
    pub touch_u: f64,
    /// Degrees of freedom from which the repeatability seen is used.
    pub repeatability_freedom: usize,
    /// Touches needed to condemn: one bad clip looks like a bad conductor.
    pub min_touches: usize,
    /// Touches after which disagreement is the finding itself.
    pub max_touches: usize,
    /// Ohms from which a reading is over-range: no ribbon is a kilo-ohm.
    pub open_ohm: f64,
    /// How far the samples of one touch may lie apart: display steps …
    pub settle_steps: f64,
    /// … plus ohms of a settling clip …
    pub settle_abs: f64,
    /// … plus a share of the reading for heating.
    pub settle_rel: f64,
    /// Ohms of two-wire leads nobody zeroed …
    pub lead_ohm: f64,
    /// … give or take so many ohms, every value as likely.
    pub lead_half_width: f64,
    /// A bridged pair reads half plus the bars, never less than this share.
    pub ratio_bar: f64,
    /// Widths in one part differ up to 8 times, 11 after rounding to 0.1 ohm: not less than this share.
    pub ratio_width: f64,
    /// Ohms of the longest thin ribbon at 60 °C; above it agreement alone proves nothing.
    pub plausible_ohm: f64,
    /// Below zero by more than so many steps …
    pub negative_steps: f64,
    /// … and by more than so many ohms, the zero is wrong; less is display noise.
    pub negative_ohm: f64,
    /// Standard uncertainty in kelvin of a temperature that was read: thermometer ±3.5 K.
    pub temperature_u: f64,
    /// The same when it was not read: 10 to 30 °C, 20/√12.
    pub temperature_u_unknown: f64,
    /// Ohms up to which a display step is fine enough that the step is not what keeps a conductor undecided.
    pub fine_step: f64,
    /// A conductor this share above its reference is named, even within tolerance.
    pub watch_rel: f64,
    /// Go beyond the published steps where they let a dead short pass or ask for what cannot help: a limit with a high
    /// side only acquits nothing of being low, and the next action is one that can settle it.
    pub careful: bool,
}

impl Rules {
    /// The rules of the bench: those published, and [`Rules::careful`].
    pub fn at_the_bench() -> Rules {
        Rules { careful: true, ..Rules::default() }
    }

    /// Ohms below zero, or between two zeros, that are still display noise at a step of so many ohms.
    pub fn negative_at(&self, step: f64) -> f64 {
        (self.negative_steps * step).max(self.negative_ohm)
    }
}

impl Default for Rules {
    fn default() -> Rules {
        Rules {
            tolerance_abs: 0.20,
            tolerance_rel: 0.15,
            low_rel: 0.30,
            low_abs: 0.06,
            level_width: 2.0 / 3.0,
            coverage: 2.0,
            touch_u: 0.03,
            repeatability_freedom: 3,
            min_touches: 2,
            max_touches: 4,
            open_ohm: 1000.0,
            settle_steps: 2.0,
            settle_abs: 0.10,
            settle_rel: 0.02,
            lead_ohm: 0.20,
            lead_half_width: 0.20,
            ratio_bar: 0.40,
            ratio_width: 0.09,
            plausible_ohm: 2.5,
            negative_steps: 2.0,
            negative_ohm: 0.05,
            temperature_u: 2.0,
            temperature_u_unknown: 6.0,
            fine_step: 0.02,
            watch_rel: 0.25,
            careful: false,
        }
    }
}
