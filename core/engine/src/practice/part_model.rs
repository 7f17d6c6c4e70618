//! A part as physics sees it: resistance of each conductor over the angle of turn, and its faults.

use super::chance::Chance;
use super::network::Network;
use evenwire_core::meter::FileError;
use evenwire_core::part::{Conductor, Connector, End, Part};
use evenwire_core::verdict::words::Language;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

/// Touches the practice part asks for on each conductor.
const TOUCHES_WANTED: u8 = 2;
/// A fault that adds more than this is plain: a person looking at the table would not argue, ohm.
pub const PLAIN_OHM: f64 = 1.0;
/// A flaky contact decides anew after so long whether it conducts well.
const FLAKY_SLOT_MS: u64 = 150;
/// Share of those times in which it does not.
const FLAKY_SHARE: f64 = 0.25;

/// A cavity of a part where a clip can go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Index of the connector in [`Part::connectors`].
    pub connector: u8,
    /// Cavity number, from 1.
    pub cavity: u8,
}

impl From<&End> for Place {
    fn from(end: &End) -> Place {
        Place { connector: end.connector, cavity: end.cavity }
    }
}

/// What is wrong with a conductor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fault {
    /// Broken right through.
    Open,
    /// A steady addition.
    Added {
        /// Ohm added, above zero.
        ohm: f64,
    },
    /// Bad only near one angle.
    Intermittent {
        /// The middle of the bad spot, thousandths of a turn.
        at_milli: i32,
        /// How far the spot reaches to either side, thousandths of a turn.
        reach_milli: i32,
        /// Ohm added there; `None`: broken there.
        ohm: Option<f64>,
    },
    /// Comes and goes by itself, whatever the angle.
    Flaky {
        /// Most that is added at a bad moment, ohm.
        ohm: f64,
    },
    /// Its insulation is through in its middle, and it touches something there.
    Touches {
        /// Index of the other conductor, which is touched in its middle too; `None`: metal.
        other: Option<usize>,
        /// Resistance of the place where they touch, above zero.
        ohm: f64,
    },
}

/// What a shorting bar and its terminals read unless the part file says otherwise, ohm.
pub const BAR_OHM: f64 = 0.03;

/// The shorting bars of a part, all of one sort.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BarModel {
    /// What one reads while it is closed, ohm.
    pub ohm: f64,
    /// It bridges the `from` ends of its pair, the `to` ends, or both.
    pub at: (bool, bool),
}

impl Default for BarModel {
    /// At the `from` ends.
    fn default() -> BarModel {
        BarModel { ohm: BAR_OHM, at: (true, false) }
    }
}

/// The electrical side of one conductor.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// Resistance of the sound conductor, ohm, 0 or above.
    pub ohm: f64,
    /// Resistance over the angle (thousandths of a turn, ohm), angles rising. Linear between, level
    /// outside. Empty: [`Wire::ohm`] at every angle.
    pub over_angle: Vec<(i32, f64)>,
    /// What is wrong with it.
    pub fault: Option<Fault>,
}

impl Wire {
    /// The sound conductor at an angle, ohm.
    fn sound(&self, turn_milli: f64) -> f64 {
        let after = self.over_angle.iter().position(|(angle, _)| f64::from(*angle) > turn_milli);
        match (after, self.over_angle.first(), self.over_angle.last()) {
            (_, None, _) | (_, _, None) => self.ohm,
            (Some(0), Some((_, ohm)), _) | (None, _, Some((_, ohm))) => *ohm,
            (Some(index), ..) => {
                let ((a, low), (b, high)) = (self.over_angle[index - 1], self.over_angle[index]);
                let share = (turn_milli - f64::from(a)) / f64::from(b - a);
                low + (high - low) * share
            }
        }
    }
}

/// A part with what is really the matter with it.
#[derive(Clone, Debug, PartialEq)]
pub struct PartModel {
    pub(super) part: Part,
    /// One for each conductor of the part, in its order.
    pub(super) wires: Vec<Wire>,
    /// What bridges each pair of [`Part::bars`].
    pub(super) bar: BarModel,
}

/// A point of the part's net of resistors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Node {
    Cavity(Place),
    /// The middle of the conductor with this index.
    Middle(usize),
    Metal,
}

/// What a perfect judge would say. Indices into [`Part::conductors`], rising.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Truth {
    /// At rest in the centre: open, or more than [`PLAIN_OHM`] above the sound level of its group.
    pub bad: Vec<usize>,
    /// At rest in the centre: above its group by a fault that adds [`PLAIN_OHM`] or less.
    pub slight: Vec<usize>,
    /// Not bad at rest, but bad at some angle or at some moments.
    pub at_times: Vec<usize>,
    /// Touches another conductor or metal; end to end it may be sound.
    pub touching: Vec<usize>,
}

/// The parts that come with the program, as (word for the command line, file).
const BUILT_IN: [(&str, &str); 3] = [
    ("first-practice", include_str!("parts/first-practice.toml")),
    ("all-good", include_str!("parts/all-good.toml")),
    ("only-turning", include_str!("parts/only-turning.toml")),
];

/// Names of the parts that come with the program and of their groups: English as in their files, German.
const NAMES: [(&str, &str); 6] = [
    ("Practice coil, eight conductors", "Übungsspule, acht Leiter"),
    ("Practice coil, all good", "Übungsspule, alles gut"),
    ("Practice coil, bad only while turning", "Übungsspule, nur beim Drehen schlecht"),
    ("ribbon", "Band"),
    ("wide ribbon", "breites Band"),
    ("narrow ribbon", "schmales Band"),
];

fn named(name: &str, language: Language) -> String {
    let ours = NAMES.iter().find(|(english, _)| *english == name).filter(|_| language == Language::De);
    ours.map_or(name, |(_, german)| german).to_owned()
}

impl PartModel {
    /// Reads a part file (`format = 1`); the built-in ones are examples of it.
    ///
    /// # Errors
    /// Every mistake with line, column and what to write instead; the caller knows the file's name.
    pub fn parse(text: &str) -> Result<PartModel, Vec<FileError>> {
        super::part_file::parse(text)
    }

    /// A valid part of 4 to 12 conductors in 1 to 3 groups, the same for the same seed. About every
    /// second one has a faulty conductor, some of those two.
    pub fn random(seed: u64) -> PartModel {
        super::random_part::random(seed)
    }

    /// Words that [`PartModel::built_in`] knows: `first-practice` (an 8-conductor steering coil whose
    /// conductor 4 reads 12 ohm), `all-good`, `only-turning` (broken at one angle, sound at rest).
    pub fn built_in_words() -> impl Iterator<Item = &'static str> {
        BUILT_IN.iter().map(|(word, _)| *word)
    }

    /// The parts that come with the program, with their words.
    pub fn built_in_parts() -> &'static [(&'static str, PartModel)] {
        static PARTS: OnceLock<Vec<(&'static str, PartModel)>> = OnceLock::new();
        let read = |text| PartModel::parse(text).expect("every built-in part is read by a test");
        PARTS.get_or_init(|| BUILT_IN.map(|(word, text)| (word, read(text))).to_vec())
    }

    /// A part that comes with the program; `None` for an unknown word.
    pub fn built_in(word: &str) -> Option<PartModel> {
        PartModel::built_in_parts().iter().find(|(known, _)| *known == word).map(|(_, model)| model.clone())
    }

    /// A description speaks of this part: the same name in any language, the same wiring.
    pub fn describes(&self, part: &Part) -> bool {
        let languages = [Language::En, Language::De];
        languages.iter().any(|l| named(&self.part.name, *l) == part.name) && self.part.same_wiring(part)
    }

    /// The built-in part for a first practice: an 8-conductor steering coil whose conductor 4 reads 12 ohm.
    pub fn first_practice() -> PartModel {
        PartModel::built_in("first-practice").expect("it is in the list")
    }

    /// The part as it is described to the program; nothing in it tells the faults.
    pub fn to_part(&self) -> Part {
        self.part.clone()
    }

    /// The same in a language of the screen: the names that are ours are worded in it, others stay as they are.
    pub fn to_part_in(&self, language: Language) -> Part {
        let mut part = self.to_part();
        part.name = named(&part.name, language);
        for conductor in &mut part.conductors {
            conductor.group = conductor.group.as_ref().map(|group| named(group, language));
        }
        part
    }

    /// The electrical side of each conductor, in the order of [`Part::conductors`].
    pub fn wires(&self) -> &[Wire] {
        &self.wires
    }

    /// The conductor that ends at these two places, in either order.
    pub fn between(&self, from: Place, to: Place) -> Option<usize> {
        let joins = |c: &Conductor| {
            let ends = (Place::from(&c.from), Place::from(&c.to));
            ends == (from, to) || ends == (to, from)
        };
        self.part.conductors.iter().position(joins)
    }

    /// Resistance of a conductor, ohm, at an angle (thousandths of a turn); `None` is open. `moment`
    /// picks the state of a flaky one: boot clock in ms with the seed of the bench.
    /// `index` must be below the number of conductors.
    pub fn ohm(&self, index: usize, turn_milli: f64, moment: (u64, u64)) -> Option<f64> {
        let wire = &self.wires[index];
        let sound = wire.sound(turn_milli);
        match wire.fault {
            None => Some(sound),
            Some(Fault::Open) => None,
            Some(Fault::Added { ohm }) => Some(sound + ohm),
            Some(Fault::Intermittent { at_milli, reach_milli, ohm }) => {
                let inside = (turn_milli - f64::from(at_milli)).abs() <= f64::from(reach_milli);
                if inside { ohm.map(|added| sound + added) } else { Some(sound) }
            }
            Some(Fault::Flaky { ohm }) => Some(sound + flaky(ohm, index, moment)),
            Some(Fault::Touches { .. }) => Some(sound),
        }
    }

    /// Resistance between two clips, ohm; no second place is metal. `None` is open. `turn_milli` and `moment` as in
    /// [`PartModel::ohm`]; `bar_is_open` tells the state of the bar with that index in [`Part::bars`].
    pub fn ohm_between(
        &self,
        (from, to): (Place, Option<Place>),
        turn_milli: f64,
        moment: (u64, u64),
        bar_is_open: impl Fn(usize) -> bool,
    ) -> Option<f64> {
        if self.is_plain() {
            return self.ohm(self.between(from, to?)?, turn_milli, moment);
        }
        let mut net = Network::new();
        let touched = self.touched();
        for (index, conductor) in self.part.conductors.iter().enumerate().filter(|(_, c)| !c.drawn_only) {
            let ends = (Node::Cavity(Place::from(&conductor.from)), Node::Cavity(Place::from(&conductor.to)));
            let ohm = self.ohm(index, turn_milli, moment);
            if touched.contains(&index) {
                // A break lies beyond the middle.
                net.join(ends.0, Node::Middle(index), ohm.unwrap_or(self.wires[index].sound(turn_milli)) / 2.0);
                ohm.iter().for_each(|ohm| net.join(Node::Middle(index), ends.1, ohm / 2.0));
            } else {
                ohm.iter().for_each(|ohm| net.join(ends.0, ends.1, *ohm));
            }
            if let Some(Fault::Touches { other, ohm }) = self.wires[index].fault {
                net.join(Node::Middle(index), other.map_or(Node::Metal, Node::Middle), ohm);
            }
        }
        for (a, b) in self.part.bars.iter().enumerate().filter(|(bar, _)| !bar_is_open(*bar)).map(|(_, pair)| *pair) {
            let (a, b) = (&self.part.conductors[a as usize], &self.part.conductors[b as usize]);
            let ends = [(self.bar.at.0, &a.from, &b.from), (self.bar.at.1, &a.to, &b.to)];
            for (_, a, b) in ends.into_iter().filter(|(there, ..)| *there) {
                net.join(Node::Cavity(Place::from(a)), Node::Cavity(Place::from(b)), self.bar.ohm);
            }
        }
        net.between(Node::Cavity(from), to.map_or(Node::Metal, Node::Cavity))
    }

    /// Nothing joins two conductors: each is measured by itself.
    fn is_plain(&self) -> bool {
        let mut places = BTreeSet::new();
        let mut ends = self.part.conductors.iter().flat_map(|c| [Place::from(&c.from), Place::from(&c.to)]);
        self.part.bars.is_empty() && self.touched().is_empty() && ends.all(|place| places.insert(place))
    }

    /// Conductors that touch something, and those they touch.
    fn touched(&self) -> BTreeSet<usize> {
        let pairs = self.wires.iter().enumerate().filter_map(|(index, wire)| match wire.fault {
            Some(Fault::Touches { other, .. }) => Some((index, other)),
            _ => None,
        });
        pairs.flat_map(|(index, other)| std::iter::once(index).chain(other)).collect()
    }

    /// What a perfect judge would say of the part.
    pub fn truth(&self) -> Truth {
        let levels = self.levels();
        let mut truth = Truth::default();
        for (index, (wire, conductor)) in self.wires.iter().zip(&self.part.conductors).enumerate() {
            if conductor.drawn_only {
                continue;
            }
            if matches!(wire.fault, Some(Fault::Touches { .. })) {
                truth.touching.push(index);
            }
            let level = levels[&conductor.group];
            let list = match (wire.fault, self.ohm(index, 0.0, (0, 0))) {
                (Some(Fault::Flaky { .. }), _) => &mut truth.at_times,
                (_, None) => &mut truth.bad,
                (_, Some(ohm)) if ohm - level > PLAIN_OHM => &mut truth.bad,
                (Some(Fault::Added { .. }), _) => &mut truth.slight,
                (Some(Fault::Intermittent { .. }), Some(ohm)) if ohm > wire.sound(0.0) => &mut truth.slight,
                (Some(Fault::Intermittent { .. }), _) => &mut truth.at_times,
                _ => continue,
            };
            list.push(index);
        }
        truth
    }

    /// The lower median of each group's sound conductors at the centre: what its members should read.
    fn levels(&self) -> BTreeMap<Option<String>, f64> {
        let mut groups: BTreeMap<Option<String>, Vec<f64>> = BTreeMap::new();
        for (wire, conductor) in self.wires.iter().zip(&self.part.conductors) {
            groups.entry(conductor.group.clone()).or_default().push(wire.sound(0.0));
        }
        let middle = |mut sound: Vec<f64>| {
            sound.sort_by(f64::total_cmp);
            sound[(sound.len() - 1) / 2]
        };
        groups.into_iter().map(|(group, sound)| (group, middle(sound))).collect()
    }

    /// The part of a model, before its conductors are known.
    pub(super) fn empty(name: String, connectors: Vec<Connector>) -> PartModel {
        let part = Part {
            name,
            connectors,
            conductors: Vec::new(),
            touches_wanted: TOUCHES_WANTED,
            ceiling: None,
            bars: Vec::new(),
        };
        PartModel { part, wires: Vec::new(), bar: BarModel::default() }
    }

    pub(super) fn push(&mut self, conductor: Conductor, wire: Wire) {
        self.part.conductors.push(conductor);
        self.wires.push(wire);
    }
}

/// What a flaky conductor adds at a moment: nothing for most of the time.
fn flaky(most: f64, index: usize, (at_ms, seed): (u64, u64)) -> f64 {
    let slot = at_ms / FLAKY_SLOT_MS;
    let mut chance = Chance::new(seed ^ (index as u64) << 48 ^ slot.wrapping_mul(0xD1B5_4A32_D192_ED03));
    if chance.share() < FLAKY_SHARE { chance.between(0.2, 1.0) * most } else { 0.0 }
}
