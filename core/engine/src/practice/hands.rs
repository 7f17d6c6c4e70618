//! The pair of hands at the practice bench: they clip on, wait until the touch is taken, lift, go on, turn the part.

use super::part_model::Place;
use super::turning::Turning;
use evenwire_core::unit::{Millis, Quantity};

/// Clips are off for so long between two touches. Over the half second a settler needs to arm.
pub const PAUSE_MS: u64 = 800;
/// From "taken" to lifting.
pub const REACT_MS: u64 = 150;
/// To the next mark of a sweep that nothing but a key paces, ms.
pub const UNPACED_MS: u64 = 3_000;

/// What a person (or the engine on their behalf) asks of the practice bench.
#[derive(Clone, Debug, PartialEq)]
pub enum PracticeWish {
    /// Put the clips on, [`PAUSE_MS`] after they came off at the earliest; from elsewhere they are lifted first.
    Clip {
        /// One clip.
        from: Place,
        /// The other.
        to: Place,
    },
    /// Put both clips together: what is shown then is the resistance of the leads.
    LeadsTogether,
    /// Put the clips on a resistor with this print on it. What it really has lies within its tolerance, the same
    /// each time for the same bench and print.
    Resistor {
        /// Its value, ohm.
        printed: Quantity,
        /// Its tolerance, thousandths of a percent.
        tolerance_milli_percent: u32,
    },
    /// Take the clips off now.
    Lift,
    /// Turn to this angle, thousandths of a turn, at a hand's speed.
    Turn {
        /// The angle.
        milli: i32,
    },
    /// Hands work by themselves: this conductor is announced. They clip on after a pause, lift when
    /// [`PracticeWish::Taken`] comes, and clip on again after another pause. The same one again changes
    /// nothing, so it may be repeated at will.
    Announced {
        /// One clip.
        from: Place,
        /// The other.
        to: Place,
    },
    /// As [`PracticeWish::Announced`], on two things that should not touch.
    Isolation {
        /// One clip.
        from: Place,
        /// The other; none: on metal.
        to: Option<Place>,
    },
    /// Hands work by themselves: put the clips on this conductor, keep them there and turn the part as told.
    Sweep {
        /// One clip.
        from: Place,
        /// The other.
        to: Place,
        /// The way to go now; none: stay.
        way: Option<Way>,
    },
    /// These shorting bars are held open now, every other one is not.
    Bars {
        /// Each pair of places that was spoken of, and whether the bar between them is open.
        spoken: Vec<((Place, Place), bool)>,
        /// The ones nobody spoke of are open.
        others_open: bool,
    },
    /// This part lies on the bench now. The clips come off first.
    Lay {
        /// Which, with what is the matter with it.
        part: Box<super::PartModel>,
    },
    /// The touch was taken, or the contact has to be made anew: lift. May be repeated at will; while it is, the
    /// clips stay off, so that a bench run faster than life still leaves the meter time to see them off.
    Taken,
    /// Nothing is announced: lift, turn back to the centre and wait.
    Rest,
}

/// A stretch of a sweep, from where the part is to the next mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Way {
    /// The mark, thousandths of a turn.
    pub milli: i32,
    /// From the mark before to the tone of this one, ms; none: [`UNPACED_MS`], and wait there.
    pub within_ms: Option<u64>,
}

impl PracticeWish {
    /// The same wish for a bench whose time runs at so many per cent of life.
    #[must_use]
    pub fn at_speed(self, percent: u64) -> PracticeWish {
        match self {
            PracticeWish::Sweep { from, to, way: Some(Way { milli, within_ms: Some(ms) }) } => {
                let within_ms = Some(ms.saturating_mul(percent) / 100);
                PracticeWish::Sweep { from, to, way: Some(Way { milli, within_ms }) }
            }
            other => other,
        }
    }
}

/// What the hands do with the clips.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Clips go on two places; none for the second: metal.
    Clip(Place, Option<Place>),
    /// Clips go together.
    Together,
    /// Clips go on a resistor: its print, and its tolerance in thousandths of a percent.
    Resistor(Quantity, u32),
    /// Clips come off.
    Lift,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ask {
    /// Only what is asked for by key.
    ByKey {
        /// What comes after lifting.
        then: Option<Act>,
    },
    Touch(Act),
    Sweep(Act),
}

impl Ask {
    /// Where the clips are to be.
    fn clip(self) -> Option<Act> {
        match self {
            Ask::ByKey { then } => then,
            Ask::Touch(act) | Ask::Sweep(act) => Some(act),
        }
    }
}

/// The hands' plan. Time is an argument.
#[derive(Clone, Debug)]
pub struct Hands {
    ask: Ask,
    /// The act that put the clips where they are.
    on: Option<Act>,
    /// The next clip or lift, and when.
    next: Option<(Millis, Act)>,
    /// The stretch of a sweep that was begun last.
    way: Option<Way>,
    turning: Turning,
    free_at: Millis,
}

impl Default for Hands {
    /// Idle hands at a part that stands in its centre.
    fn default() -> Hands {
        Hands::at(Millis(0))
    }
}

impl Hands {
    /// Hands that have just laid a part down, in its centre, the clips off.
    pub fn at(now: Millis) -> Hands {
        Hands {
            ask: Ask::ByKey { then: None },
            on: None,
            next: None,
            way: None,
            turning: Turning::default(),
            free_at: after(now, PAUSE_MS),
        }
    }

    /// Takes a wish. What it brings about comes from [`Hands::act`], some of it at once.
    pub fn wish(&mut self, wish: PracticeWish, now: Millis) {
        match wish {
            PracticeWish::Clip { from, to } => self.by_key(now, Some(Act::Clip(from, Some(to)))),
            PracticeWish::LeadsTogether => self.by_key(now, Some(Act::Together)),
            PracticeWish::Resistor { printed, tolerance_milli_percent } => {
                self.by_key(now, Some(Act::Resistor(printed, tolerance_milli_percent)));
            }
            PracticeWish::Lift => self.by_key(now, None),
            PracticeWish::Turn { milli } => self.turning.turn(milli, now, None),
            PracticeWish::Announced { from, to } => self.plan(Ask::Touch(Act::Clip(from, Some(to))), now),
            PracticeWish::Isolation { from, to } => self.plan(Ask::Touch(Act::Clip(from, to)), now),
            PracticeWish::Sweep { from, to, way } => {
                self.plan(Ask::Sweep(Act::Clip(from, Some(to))), now);
                self.go(way, now);
            }
            PracticeWish::Taken => self.lift_soon(now),
            PracticeWish::Rest => {
                self.turn_back(now);
                self.by_key(now, None);
            }
            // The hands are not what holds a bar open.
            PracticeWish::Bars { .. } | PracticeWish::Lay { .. } => {}
        }
    }

    /// When the hands do something next by themselves.
    pub fn act_at(&self) -> Option<Millis> {
        self.next.map(|(at, _)| at)
    }

    /// The act that is due `now`, one at a time; call until `None`.
    pub fn act(&mut self, now: Millis) -> Option<Act> {
        let (_, act) = self.next.take_if(|(at, _)| *at <= now)?;
        if act == Act::Lift {
            self.on = None;
            self.free_at = self.free_at.max(after(now, PAUSE_MS));
            self.next = self.ask.clip().map(|act| (self.free_at, act));
        } else {
            self.on = Some(act);
        }
        Some(act)
    }

    /// Angle the part is turned to at a time, thousandths of a turn.
    pub fn turn_milli(&self, at: Millis) -> f64 {
        self.turning.at(at)
    }

    fn by_key(&mut self, now: Millis, wanted: Option<Act>) {
        self.leave_sweep(now);
        self.ask = Ask::ByKey { then: wanted };
        self.next = match (self.on, wanted) {
            (Some(_), on) if on == self.on => None,
            (Some(_), _) => Some((now, Act::Lift)),
            (None, Some(act)) => Some((self.free_at.max(now), act)),
            (None, None) => None,
        };
    }

    fn plan(&mut self, ask: Ask, now: Millis) {
        if self.ask == ask {
            return;
        }
        self.leave_sweep(now);
        self.ask = ask;
        self.next = match self.on {
            Some(_) => Some((now, Act::Lift)),
            None => ask.clip().map(|act| (self.free_at.max(now), act)),
        };
    }

    fn lift_soon(&mut self, now: Millis) {
        // Repeated, it must not put the lifting off again and again.
        match (self.on, self.next) {
            (Some(_), None) => self.next = Some((after(now, REACT_MS), Act::Lift)),
            (None, Some((at, act))) => self.next = Some((at.max(after(now, REACT_MS)), act)),
            _ => {}
        }
    }

    /// The next stretch of a sweep. The same one again changes nothing.
    fn go(&mut self, way: Option<Way>, now: Millis) {
        if self.way == way || self.on != self.ask.clip() {
            return;
        }
        self.way = way;
        if let Some(Way { milli, within_ms }) = way {
            self.turning.turn(milli, now, Some(within_ms.unwrap_or(UNPACED_MS)));
        }
    }

    fn leave_sweep(&mut self, now: Millis) {
        if matches!(self.ask, Ask::Sweep(_)) {
            self.turn_back(now);
        }
    }

    /// Back to the centre at a hand's speed; nothing is clipped on before the part stands there.
    fn turn_back(&mut self, now: Millis) {
        self.way = None;
        if self.turning.goal() != 0 {
            self.turning.turn(0, now, None);
        }
        self.free_at = self.free_at.max(self.turning.arrives());
    }
}

fn after(at: Millis, ms: u64) -> Millis {
    Millis(at.0.saturating_add(ms))
}
