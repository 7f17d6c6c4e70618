//! The circuits of a procedure: plugs, conductors between them, and the bars that bridge a pair when a plug is apart.

use super::amount::Amount;
use super::texts::Texts;
use crate::part::{Conductor, Connector, End, MAX_NAME, Part};
use crate::verdict::words::Language;
use std::collections::BTreeSet;

/// Most shorting bars.
pub(super) const MAX_BARS: usize = 32;

/// Plugs, conductors and bars.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Circuits {
    /// What lies on the bench: "Steering coil".
    pub name: Texts,
    /// The plugs.
    pub plugs: Vec<Plug>,
    /// The conductors.
    pub wires: Vec<Wire>,
    /// The shorting bars.
    pub bars: Vec<Bar>,
}

/// A plug.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plug {
    /// Its face.
    pub face: Connector,
    /// The inflator it is mated with in the vehicle, by a name of our own. Measured only with that inflator away.
    pub inflator: Option<String>,
    /// The file says that it belongs to a restraint system. See [`Circuits::is_restraint`].
    pub restraint: bool,
}

/// A conductor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wire {
    /// Names it in the file.
    pub id: String,
    /// What a person calls it.
    pub name: Option<Texts>,
    /// What it carries.
    pub class: Class,
    /// Conductors that should read alike.
    pub group: Option<String>,
    /// One end, and what hangs there while it is measured.
    pub from: End,
    /// The other end.
    pub to: End,
    /// In the picture only.
    pub drawn_only: bool,
    /// Colour of its insulation.
    pub colour: Option<Texts>,
    /// Cross section.
    pub size: Option<Amount>,
}

impl Wire {
    /// What a person calls it, or its id.
    fn called(&self, language: Language) -> &str {
        self.name.as_ref().map_or(self.id.as_str(), |name| name.get(language).trim())
    }
}

/// What a conductor carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Fires an inflator or a tensioner.
    Squib,
    /// Supply.
    Supply,
    /// A signal.
    Signal,
    /// Ground.
    Ground,
}

/// A spring that bridges a pair when the plug is apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Names it in facts.
    pub id: String,
    /// Indices of the two conductors, the lower one first.
    pub pair: (usize, usize),
    /// How it is opened: the adapter or mating plug.
    pub opened_by: Texts,
    /// Plugs it sits in, indices.
    pub plugs: BTreeSet<u8>,
}

impl Circuits {
    /// Whether this plug belongs to a restraint system: the file says so, it is mated with an inflator, or a conductor
    /// that fires one, or one that ends at an inflator or tensioner, or at nobody knows what, stands in it.
    pub fn is_restraint(&self, plug: u8) -> bool {
        use crate::part::AtEnd::{Inflator, Tensioner, Unknown};
        let said = self.plugs.get(usize::from(plug)).is_none_or(|p| p.restraint || p.inflator.is_some());
        let fires = |end: &End| end.connector == plug && matches!(end.at, Inflator | Tensioner | Unknown);
        let within = |wire: &Wire| wire.from.connector == plug || wire.to.connector == plug;
        said || self
            .wires
            .iter()
            .any(|wire| (wire.class == Class::Squib && within(wire)) || fires(&wire.from) || fires(&wire.to))
    }

    /// The index of the conductor with this id.
    pub fn wire(&self, id: &str) -> Option<usize> {
        self.wires.iter().position(|wire| wire.id == id)
    }

    /// The index of the plug with this name.
    pub fn plug(&self, name: &str) -> Option<u8> {
        self.plugs.iter().position(|plug| plug.face.name == name).and_then(|index| u8::try_from(index).ok())
    }

    /// Both conductors of a pair fire something: only between such a bar may be forgotten (common practice, no source).
    pub fn both_fire(&self, (a, b): (u32, u32)) -> bool {
        let fires = |index: u32| {
            usize::try_from(index).ok().and_then(|index| self.wires.get(index)).is_none_or(|w| w.class == Class::Squib)
        };
        fires(a) && fires(b)
    }

    /// The conductors of a group, indices; not those that are only drawn.
    pub fn group(&self, group: &str) -> BTreeSet<usize> {
        let of = |wire: &Wire| wire.group.as_deref() == Some(group) && !wire.drawn_only;
        self.wires.iter().enumerate().filter(|(_, wire)| of(wire)).map(|(index, _)| index).collect()
    }

    /// The part as it is measured, in the words of a person. `touches` are wanted of every conductor. Conductors are
    /// called by their ids where their names would call two of them the same.
    pub fn part(&self, language: Language, touches: u8) -> Part {
        let mut part = self.by_ids(language, touches);
        let names: Vec<&str> = self.wires.iter().map(|wire| wire.called(language)).collect();
        let told_apart = names.iter().collect::<BTreeSet<_>>().len() == names.len();
        if told_apart && names.iter().all(|name| name.chars().count() <= MAX_NAME) {
            for (conductor, name) in part.conductors.iter_mut().zip(names) {
                name.clone_into(&mut conductor.name);
            }
        }
        part
    }

    /// The same, conductors called by their ids: the one rule for where a clip may go, [`Part::clip_points`], is asked
    /// of it.
    pub(super) fn by_ids(&self, language: Language, touches: u8) -> Part {
        let conductor = |wire: &Wire| Conductor {
            name: wire.id.clone(),
            group: wire.group.clone(),
            from: wire.from.clone(),
            to: wire.to.clone(),
            drawn_only: wire.drawn_only,
            limit: None,
        };
        let small = |index: usize| u32::try_from(index).unwrap_or(u32::MAX);
        Part {
            name: self.name.get(language).chars().take(MAX_NAME).collect(),
            connectors: self.plugs.iter().map(|plug| plug.face.clone()).collect(),
            conductors: self.wires.iter().map(conductor).collect(),
            touches_wanted: touches,
            ceiling: None,
            bars: self.bars.iter().map(|bar| (small(bar.pair.0), small(bar.pair.1))).collect(),
        }
    }
}
