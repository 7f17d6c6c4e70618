//! Part, contact, meter and hands together, moved on by time.

use super::chance::Chance;
use super::encoding;
use super::hands::{Act, Hands, PracticeWish};
use super::meter_model::{Display, LEAD_OHM, MeterModel, Misbehaviour};
use super::part_model::{PartModel, Place};
use evenwire_core::meter::Shown;
use evenwire_core::meter::link::Offer;
use evenwire_core::part::EndRefused;
use evenwire_core::unit::{Millis, Quantity};

/// Notifications that one step gives at most; a bench left alone for longer has not sent the others.
pub const MOST_FRAMES: usize = 1_000;
/// Looks at the part during one reading. The first two tenths are the meter's own.
const LOOKS: u32 = 10;
const FIRST_LOOK: u32 = 3;
const COUNTED_LOOKS: u32 = LOOKS - FIRST_LOOK + 1;
/// A fresh contact is too high by up to this, and loses it with this half-life: under 5 mohm after 0.3 s.
const FRESH_OHM: (f64, f64) = (0.02, 0.15);
const HALF_LIFE_MS: u64 = 60;
/// What a settled contact of the clips adds, differently each time, ohm.
const CONTACT_OHM: (f64, f64) = (0.0, 0.03);
/// A settled contact wanders by this, to either side, within this time.
const WANDER_OHM: (f64, f64) = (0.001, 0.004);
const WANDER_MS: (u64, u64) = (3_000, 8_000);

/// One notification.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame {
    /// When it was sent, on the bench's clock.
    pub at: Millis,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Sets the resistors' chance apart from that of the contacts, which starts from the same seed.
const RESISTORS: u64 = 0x5E51_0000_0000_0001;

/// Where the clips are.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Clips {
    Off,
    Together,
    /// On two places; none for the second: metal.
    On(Place, Option<Place>),
    /// On a resistor of so many ohm.
    Resistor(f64),
}

/// Which shorting bars are held open.
#[derive(Clone, Debug, Default)]
struct OpenBars {
    spoken: Vec<((Place, Place), bool)>,
    others: bool,
}

/// One contact of the clips.
#[derive(Clone, Copy, Debug)]
struct Contact {
    since: Millis,
    steady_ohm: f64,
    fresh_ohm: f64,
    wander_ohm: f64,
    wander_ms: u64,
}

impl Contact {
    fn new(since: Millis, chance: &mut Chance) -> Contact {
        Contact {
            since,
            steady_ohm: chance.between(CONTACT_OHM.0, CONTACT_OHM.1),
            fresh_ohm: chance.between(FRESH_OHM.0, FRESH_OHM.1),
            wander_ohm: chance.between(WANDER_OHM.0, WANDER_OHM.1),
            wander_ms: chance.whole(WANDER_MS.0, WANDER_MS.1),
        }
    }

    fn ohm(&self, at: Millis) -> f64 {
        let age = at.since(self.since).0;
        let halves = age / HALF_LIFE_MS;
        let part = (age % HALF_LIFE_MS) as f64 / HALF_LIFE_MS as f64;
        // Straight between two half-lives: no exponential function, so the same on every machine.
        let left = if halves < 40 { (1.0 - part / 2.0) / (1u64 << halves) as f64 } else { 0.0 };
        // A triangle from -1 to 1 and back.
        let phase = (age % self.wander_ms) as f64 / self.wander_ms as f64;
        let triangle = 1.0 - (4.0 * phase - 2.0).abs();
        self.steady_ohm + self.fresh_ohm * left + self.wander_ohm * triangle
    }
}

/// A practice part on the bench with a practice meter on it. The same seed, models and wishes at the same
/// times give the same bytes, however finely [`PracticeBench::step`] is called.
#[derive(Clone, Debug)]
pub struct PracticeBench {
    part: PartModel,
    meter: MeterModel,
    hands: Hands,
    seed: u64,
    chance: Chance,
    now: Millis,
    clips: Clips,
    contact: Contact,
    bars: OpenBars,
    /// Begin and end of the reading being made, and the look that comes next.
    reading: (Millis, Millis, u32),
    sum_ohm: f64,
    /// Looks of it that saw an open circuit.
    open_looks: u32,
    count: u64,
    frozen: Option<Display>,
}

impl PracticeBench {
    /// A bench at time 0, clips off, part at its centre.
    pub fn new(part: PartModel, meter: MeterModel, seed: u64) -> PracticeBench {
        let mut chance = Chance::new(seed);
        let meter = meter.within_limits();
        let end = Millis(u64::from(meter.period_ms));
        PracticeBench {
            hands: Hands::default(),
            part,
            meter,
            seed,
            contact: Contact::new(Millis(0), &mut chance),
            chance,
            now: Millis(0),
            clips: Clips::Off,
            bars: OpenBars::default(),
            reading: (Millis(0), end, FIRST_LOOK),
            sum_ohm: 0.0,
            open_looks: 0,
            count: 0,
            frozen: None,
        }
    }

    /// The part on it.
    pub fn part(&self) -> &PartModel {
        &self.part
    }

    /// The meter on it.
    pub fn meter(&self) -> &MeterModel {
        &self.meter
    }

    /// What the meter offers when it is connected.
    pub fn offer(&self) -> Offer {
        encoding::offer(&self.meter)
    }

    /// The time stepped to.
    pub fn now(&self) -> Millis {
        self.now
    }

    /// When the next notification is sent.
    pub fn next_at(&self) -> Millis {
        self.reading.1
    }

    /// The clips are on a part, not in the air and not on each other.
    pub fn clips_are_on(&self) -> bool {
        matches!(self.clips, Clips::On(..))
    }

    /// Angle of turn, thousandths of a turn.
    pub fn turn_milli(&self) -> f64 {
        self.hands.turn_milli(self.now)
    }

    /// Moves time on to `now` and gives what was sent up to then, at most the last [`MOST_FRAMES`].
    /// A time before the last one changes nothing.
    pub fn step(&mut self, now: Millis) -> Vec<Frame> {
        let mut frames = Vec::new();
        self.skip_what_nobody_heard(now);
        loop {
            let look = self.look_at();
            let act = self.hands.act_at();
            let next = act.map_or(look, |act| act.min(look));
            if next > now {
                break;
            }
            self.now = self.now.max(next);
            if act == Some(next) {
                self.act_now();
            } else {
                frames.extend(self.look(look));
            }
        }
        self.now = self.now.max(now);
        frames
    }

    /// Takes a wish at the time last stepped to.
    ///
    /// # Errors
    /// [`EndRefused`] when a clip would go where none may: the hands never do that, and stay as they are.
    pub fn wish(&mut self, wish: PracticeWish) -> Result<(), EndRefused> {
        match &wish {
            PracticeWish::Clip { from, to }
            | PracticeWish::Announced { from, to }
            | PracticeWish::Sweep { from, to, .. } => self.may_clip(*from, Some(*to))?,
            PracticeWish::Isolation { from, to } => self.may_clip(*from, *to)?,
            PracticeWish::Bars { spoken, others_open } => {
                self.bars = OpenBars { spoken: spoken.clone(), others: *others_open };
            }
            PracticeWish::Lay { part } => {
                self.lay(part);
                return Ok(());
            }
            _ => {}
        }
        self.hands.wish(wish, self.now);
        // What is due at once does not wait for the next step.
        self.act_now();
        Ok(())
    }

    /// Another part on the bench; the hands begin anew with their clips off.
    fn lay(&mut self, part: &PartModel) {
        // One that was made from a part that came with the program, with other faults, stays.
        let came = PartModel::built_in_parts().iter().any(|(_, model)| model.part == part.part);
        if !(came && self.part.describes(&part.part)) && self.part != *part {
            self.part = part.clone();
            self.bars = OpenBars::default();
            self.clips = Clips::Off;
            self.hands = Hands::at(self.now);
        }
    }

    /// [`PracticeWish::Clip`].
    ///
    /// # Errors
    /// As [`PracticeBench::wish`].
    pub fn clip(&mut self, from: Place, to: Place) -> Result<(), EndRefused> {
        self.wish(PracticeWish::Clip { from, to })
    }

    /// [`PracticeWish::Lift`].
    pub fn lift(&mut self) {
        self.wish(PracticeWish::Lift).expect("lifting is never refused");
    }

    /// [`PracticeWish::Turn`].
    pub fn turn(&mut self, milli: i32) {
        self.wish(PracticeWish::Turn { milli }).expect("turning is never refused");
    }

    /// The meter does something wrong from now on, or behaves again.
    pub fn misbehave(&mut self, how: Option<Misbehaviour>) {
        self.meter.misbehaviour = how;
        self.frozen = None;
    }

    fn may_clip(&self, from: Place, to: Option<Place>) -> Result<(), EndRefused> {
        let ends = |place: Place| {
            let conductors = self.part.part.conductors.iter().enumerate();
            conductors.filter(move |(_, c)| [Place::from(&c.from), Place::from(&c.to)].contains(&place))
        };
        // Both ends of every conductor that is touched have to be fit, not only the touched one.
        std::iter::once(from)
            .chain(to)
            .flat_map(ends)
            .try_for_each(|(index, _)| self.part.part.clip_points(index).map(|_| ()))
    }

    fn act_now(&mut self) {
        while let Some(act) = self.hands.act(self.now) {
            self.perform(act);
        }
    }

    fn perform(&mut self, act: Act) {
        self.clips = match act {
            Act::Lift => {
                self.clips = Clips::Off;
                return;
            }
            Act::Clip(from, to) if to == Some(from) => Clips::Together,
            Act::Clip(from, to) => Clips::On(from, to),
            Act::Together => Clips::Together,
            Act::Resistor(printed, tolerance) => Clips::Resistor(self.resistor_ohm(printed, tolerance)),
        };
        self.contact = Contact::new(self.now, &mut self.chance);
    }

    /// What a resistor with this print really has, by the bench's seed and its own print.
    fn resistor_ohm(&self, printed: Quantity, tolerance_milli_percent: u32) -> f64 {
        let print = printed.digits().cast_unsigned() ^ u64::from(printed.places()) << 56;
        let mut chance = Chance::new(self.seed ^ RESISTORS ^ print ^ u64::from(tolerance_milli_percent) << 32);
        let share = f64::from(tolerance_milli_percent) / 100_000.0;
        printed.to_f64() * (1.0 + chance.between(-share, share))
    }

    /// Time of the next look.
    fn look_at(&self) -> Millis {
        let (begin, end, look) = self.reading;
        Millis(begin.0 + end.since(begin).0 * u64::from(look) / u64::from(LOOKS))
    }

    /// One look at the part; the last one of a reading gives a notification.
    fn look(&mut self, at: Millis) -> Option<Frame> {
        let seen = self.between_clips(at);
        self.sum_ohm += seen.unwrap_or(self.meter.open_ohm());
        self.open_looks += u32::from(seen.is_none());
        let (_, end, look) = self.reading;
        if look < LOOKS {
            self.reading.2 += 1;
            return None;
        }
        // Half of a reading open is over-range.
        let open = std::mem::take(&mut self.open_looks) * 2 >= COUNTED_LOOKS;
        let ohm = std::mem::take(&mut self.sum_ohm) / f64::from(COUNTED_LOOKS);
        let jitter = self.chance.whole(0, u64::from(self.meter.jitter_ms));
        self.reading = (end, Millis(end.0 + u64::from(self.meter.period_ms) + jitter), FIRST_LOOK);
        self.count += 1;
        let display = self.meter.display((!open).then_some(ohm), &mut self.chance);
        Some(Frame { at, bytes: self.notification(display) })
    }

    /// Resistance between the meter's sockets, ohm; `None` is open.
    fn between_clips(&self, at: Millis) -> Option<f64> {
        let part = match self.clips {
            Clips::Off => return None,
            Clips::Together => 0.0,
            Clips::Resistor(ohm) => ohm,
            Clips::On(from, to) => {
                let turn = self.hands.turn_milli(at);
                self.part.ohm_between((from, to), turn, (at.0, self.seed), |bar| self.bar_is_open(bar))?
            }
        };
        Some(part + LEAD_OHM + self.contact.ohm(at) - self.meter.zero_ohm())
    }

    /// What was said of a bar counts for it, whichever plug it was said of.
    fn bar_is_open(&self, bar: usize) -> bool {
        let (a, b) = self.part.part.bars[bar];
        let ends = |c: u32| {
            let conductor = &self.part.part.conductors[c as usize];
            [Place::from(&conductor.from), Place::from(&conductor.to)]
        };
        let joins = |(one, other): &(Place, Place)| {
            (ends(a).contains(one) && ends(b).contains(other)) || (ends(b).contains(one) && ends(a).contains(other))
        };
        self.bars.spoken.iter().find(|(pair, _)| joins(pair)).map_or(self.bars.others, |(_, open)| *open)
    }

    fn notification(&mut self, mut display: Display) -> Vec<u8> {
        let encoding = self.meter.encoding;
        match self.meter.misbehaviour {
            Some(Misbehaviour::LowBattery) if encoding.has_signs() => display.flags.low_battery = true,
            Some(Misbehaviour::LowBattery) if self.count.is_multiple_of(2) => display.shown = Shown::Blank,
            Some(Misbehaviour::Hold) => {
                display = *self.frozen.get_or_insert(display);
                display.flags.hold = true;
            }
            Some(Misbehaviour::Garbage) if self.count.is_multiple_of(3) => return self.garbage(),
            _ => {}
        }
        encoding.bytes(&display)
    }

    /// Never as long as a value: four bytes of chance can be a number that nobody could tell from a real one.
    fn garbage(&mut self) -> Vec<u8> {
        let right = self.meter.encoding.length() as u64;
        let length = match self.chance.whole(1, 20) {
            length if length == right => right + 1,
            length => length,
        };
        (0..length).map(|_| (self.chance.bits() >> 56) as u8).collect()
    }

    /// After a long time without a step (the machine slept) only the last readings are made.
    fn skip_what_nobody_heard(&mut self, now: Millis) {
        let period = u64::from(self.meter.period_ms);
        let most = period * MOST_FRAMES as u64;
        if now.since(self.reading.0).0 <= most {
            return;
        }
        let begin = Millis(now.0 - most / 2);
        self.reading = (begin, Millis(begin.0 + period), FIRST_LOOK);
        (self.sum_ohm, self.open_looks) = (0.0, 0);
        self.now = self.now.max(begin);
    }
}
