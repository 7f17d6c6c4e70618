//! The pair of hands at the practice bench: they clip on, wait until the touch is taken, lift, go on.

use super::part_model::Place;
use evenwire_core::unit::Millis;

/// Clips are off for so long between two touches. Over the half second a settler needs to arm.
pub const PAUSE_MS: u64 = 800;
/// From "taken" to lifting.
pub const REACT_MS: u64 = 150;
/// Turning by hand, thousandths of a turn in a second.
pub const TURN_MILLI_PER_S: u64 = 400;

/// What a person (or the engine on their behalf) asks of the practice bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
    /// Hands work by themselves: keep the clips on this conductor and turn to and fro.
    Sweep {
        /// One clip.
        from: Place,
        /// The other.
        to: Place,
    },
    /// The touch was taken, or the contact has to be made anew: lift. May be repeated at will; while it is, the
    /// clips stay off, so that a bench run faster than life still leaves the meter time to see them off.
    Taken,
    /// Nothing is announced: lift, turn back to the centre and wait.
    Rest,
}

/// What the hands do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Clips go on.
    Clip(Place, Place),
    /// Clips go together.
    Together,
    /// Clips come off.
    Lift,
    /// The part is turned towards this angle.
    Turn(i32),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Ask {
    /// Only what is asked for by key.
    ByKey {
        /// What comes after lifting.
        then: Option<Act>,
    },
    Touch(Place, Place),
    Sweep(Place, Place),
}

impl Ask {
    /// Where the clips are to be.
    fn clip(self) -> Option<Act> {
        match self {
            Ask::ByKey { then } => then,
            Ask::Touch(from, to) | Ask::Sweep(from, to) => Some(Act::Clip(from, to)),
        }
    }
}

/// The hands' plan. Time is an argument.
#[derive(Clone, Debug)]
pub struct Hands {
    ask: Ask,
    /// The act that put the clips where they are.
    on: Option<Act>,
    travel_milli: i32,
    /// The next clip or lift, and when.
    next: Option<(Millis, Act)>,
    /// The next change of direction, and when.
    turn: Option<(Millis, i32)>,
    /// Where the part is being turned to.
    goal: i32,
    free_at: Millis,
}

impl Hands {
    /// Idle hands at a part that turns `travel_milli` to either side.
    pub fn new(travel_milli: i32) -> Hands {
        Hands {
            ask: Ask::ByKey { then: None },
            on: None,
            travel_milli,
            next: None,
            turn: None,
            goal: 0,
            free_at: Millis(PAUSE_MS),
        }
    }

    /// Takes a wish; the acts it brings about at once, in order. Later ones come from [`Hands::act`].
    pub fn wish(&mut self, wish: PracticeWish, now: Millis) -> Vec<Act> {
        match wish {
            PracticeWish::Clip { from, to } => self.by_key(now, Some(Act::Clip(from, to))),
            PracticeWish::LeadsTogether => self.by_key(now, Some(Act::Together)),
            PracticeWish::Lift => self.by_key(now, None),
            PracticeWish::Turn { milli } => {
                self.turn = None;
                self.goal = milli;
                vec![Act::Turn(milli)]
            }
            PracticeWish::Announced { from, to } => self.plan(Ask::Touch(from, to), now),
            PracticeWish::Sweep { from, to } => self.plan(Ask::Sweep(from, to), now),
            PracticeWish::Taken => {
                // Repeated, it must not put the lifting off again and again.
                match (self.ask, self.on, self.next) {
                    (Ask::Touch(..) | Ask::ByKey { .. }, Some(_), None) => {
                        self.next = Some((after(now, REACT_MS), Act::Lift));
                    }
                    (Ask::Touch(..) | Ask::ByKey { .. }, None, Some((at, act))) => {
                        self.next = Some((at.max(after(now, REACT_MS)), act));
                    }
                    _ => {}
                }
                Vec::new()
            }
            PracticeWish::Rest => {
                let mut acts = self.turn_back();
                acts.extend(self.by_key(now, None));
                acts
            }
        }
    }

    /// When the hands do something next by themselves.
    pub fn act_at(&self) -> Option<Millis> {
        let clip = self.next.map(|(at, _)| at);
        let turn = self.turn.map(|(at, _)| at);
        clip.into_iter().chain(turn).min()
    }

    /// The act that is due `now`, one at a time; call until `None`.
    pub fn act(&mut self, now: Millis) -> Option<Act> {
        if let Some((_, act)) = self.next.take_if(|(at, _)| *at <= now) {
            self.done(act, now);
            return Some(act);
        }
        let (at, goal) = self.turn.take_if(|(at, _)| *at <= now)?;
        let way = u64::from(goal.abs_diff(self.goal));
        self.goal = goal;
        // At the end of the way the part is turned to the other side.
        let other = if goal > 0 { -self.travel_milli } else { self.travel_milli };
        self.turn = Some((after(at, (way * 1_000).div_ceil(TURN_MILLI_PER_S)), other));
        Some(Act::Turn(goal))
    }

    fn by_key(&mut self, now: Millis, wanted: Option<Act>) -> Vec<Act> {
        let acts = self.end_sweep();
        self.ask = Ask::ByKey { then: wanted };
        self.next = match (self.on, wanted) {
            (Some(_), on) if on == self.on => None,
            (Some(_), _) => Some((now, Act::Lift)),
            (None, Some(act)) => Some((self.free_at.max(now), act)),
            (None, None) => None,
        };
        acts
    }

    fn plan(&mut self, ask: Ask, now: Millis) -> Vec<Act> {
        if self.ask == ask {
            return Vec::new();
        }
        let acts = self.end_sweep();
        self.ask = ask;
        let wanted = ask.clip();
        let stays = self.on.is_some() && self.on == wanted && matches!(ask, Ask::Sweep(..));
        self.next = match self.on {
            _ if stays => None,
            Some(_) => Some((now, Act::Lift)),
            None => wanted.map(|act| (self.free_at.max(now), act)),
        };
        if stays {
            self.begin_turning(now);
        }
        acts
    }

    fn done(&mut self, act: Act, now: Millis) {
        match act {
            Act::Clip(..) | Act::Together => {
                self.on = Some(act);
                if matches!(self.ask, Ask::Sweep(..)) {
                    self.begin_turning(now);
                }
            }
            Act::Lift => {
                self.on = None;
                self.free_at = after(now, PAUSE_MS);
                self.next = self.ask.clip().map(|act| (self.free_at, act));
            }
            Act::Turn(_) => {}
        }
    }

    /// The first second stands still, so that a baseline is there.
    fn begin_turning(&mut self, now: Millis) {
        self.turn = Some((after(now, 1_000), self.travel_milli));
    }

    fn end_sweep(&mut self) -> Vec<Act> {
        if matches!(self.ask, Ask::Sweep(..)) { self.turn_back() } else { Vec::new() }
    }

    fn turn_back(&mut self) -> Vec<Act> {
        self.turn = None;
        let moved = self.goal != 0;
        self.goal = 0;
        if moved { vec![Act::Turn(0)] } else { Vec::new() }
    }
}

fn after(at: Millis, ms: u64) -> Millis {
    Millis(at.0.saturating_add(ms))
}
