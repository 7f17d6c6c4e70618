//! What is measured: connectors with numbered cavities, and the conductors between them.
//!
//! What hangs at each end of a conductor is always named. Only [`Part::clip_points`] makes a
//! [`Point`], and it makes none from an end that is, leads to, or may be an inflator or a belt tensioner.

mod limit;
#[cfg(test)]
mod tests;

pub use limit::PartLimit;

use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Most conductors of one part.
pub const MAX_CONDUCTORS: usize = 64;
/// Most connectors of one part.
pub const MAX_CONNECTORS: usize = 8;
/// Most cavities of one connector.
pub const MAX_CAVITIES: u8 = 64;
/// Longest name, in characters.
pub const MAX_NAME: usize = 60;

/// A part as it lies on the bench.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Part {
    /// What it is: "steering coil", "door harness".
    pub name: String,
    /// Its connectors, in the order they are drawn.
    pub connectors: Vec<Connector>,
    /// Its conductors, in the order they are measured.
    pub conductors: Vec<Conductor>,
    /// Touches wanted on each conductor, 1 to 4.
    pub touches_wanted: u8,
    /// A limit for every conductor without one of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ceiling: Option<PartLimit>,
    /// Pairs of conductors (indices, the lower one first) that a shorting bar may bridge when the plug is apart.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bars: Vec<(u32, u32)>,
}

/// A connector face: cavities numbered row by row, seen from the mating side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Connector {
    /// Its name on the part, unique: "A", "column side".
    pub name: String,
    /// Cavities, numbered 1 to this, 1 to 64.
    pub cavities: u8,
    /// Rows they stand in, 1 to 4.
    pub rows: u8,
}

/// One conductor from end to end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct Conductor {
    /// Its name, unique: "1", "horn".
    pub name: String,
    /// Conductors of one group should read alike. `None`: not known which belong together.
    pub group: Option<String>,
    /// One end.
    pub from: End,
    /// The other end.
    pub to: End,
    /// In the picture only; never measured and not judged.
    pub drawn_only: bool,
    /// What it may read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limit: Option<PartLimit>,
}

/// One end of a conductor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub struct End {
    /// Index into [`Part::connectors`].
    pub connector: u8,
    /// Cavity number, from 1.
    pub cavity: u8,
    /// What hangs there now.
    pub at: AtEnd,
}

/// What hangs at an end of a conductor while it is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum AtEnd {
    /// A plug that is apart, with nothing on it.
    OpenPlug,
    /// A bare terminal, eyelet or stripped wire.
    BareTerminal,
    /// A switch, horn contact or lamp, without supply.
    UnpoweredLoad,
    /// A control unit.
    ControlUnit,
    /// An airbag inflator.
    Inflator,
    /// A belt tensioner.
    Tensioner,
    /// Not known.
    Unknown,
}

/// A place where a clip may go. Cannot be made outside this module.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Point {
    connector: u8,
    cavity: u8,
}

impl Point {
    /// Index of the connector.
    pub fn connector(self) -> u8 {
        self.connector
    }

    /// Cavity number, from 1.
    pub fn cavity(self) -> u8 {
        self.cavity
    }

    fn of(end: &End) -> Result<Point, EndRefused> {
        match end.at {
            AtEnd::OpenPlug | AtEnd::BareTerminal | AtEnd::UnpoweredLoad => {
                Ok(Point { connector: end.connector, cavity: end.cavity })
            }
            AtEnd::ControlUnit => Err(EndRefused::ControlUnit),
            AtEnd::Inflator => Err(EndRefused::Inflator),
            AtEnd::Tensioner => Err(EndRefused::Tensioner),
            AtEnd::Unknown => Err(EndRefused::Unknown),
        }
    }
}

/// Why no clip may go to an end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum EndRefused {
    /// It leads to an inflator.
    #[error("an inflator is never measured")]
    Inflator,
    /// It leads to a belt tensioner.
    #[error("a belt tensioner is never measured")]
    Tensioner,
    /// A control unit is still connected.
    #[error("a control unit is still connected")]
    ControlUnit,
    /// It is not known what is there.
    #[error("it is not known what is at this end")]
    Unknown,
    /// Another cavity of the same plug leads to an inflator or a tensioner: the plug itself goes to one.
    #[error("its plug leads to an inflator or tensioner")]
    SamePlug,
    /// There is no such conductor.
    #[error("no such conductor")]
    NoConductor,
    /// The conductor is in the picture only.
    #[error("drawn only")]
    DrawnOnly,
}

/// What is wrong with a part description, and where.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case", tag = "problem")]
pub enum PartProblem {
    /// A name is missing or too long. `place` is "part", "connector", "conductor" or "group" (of a conductor).
    Name {
        /// Which list.
        place: String,
        /// Index in it.
        index: usize,
    },
    /// The same name stands twice in a list.
    NameTwice {
        /// Which list.
        place: String,
        /// Index of the second one.
        index: usize,
    },
    /// No connector, no conductor to measure, or more than can be held.
    Count {
        /// Which list.
        place: String,
    },
    /// Cavities or rows out of range, or more rows than cavities.
    Face {
        /// Index of the connector.
        index: usize,
    },
    /// A conductor names a cavity that is not there.
    NoSuchCavity {
        /// Index of the conductor.
        index: usize,
    },
    /// Both ends are the same cavity.
    SameCavity {
        /// Index of the conductor.
        index: usize,
    },
    /// Another conductor ends at the same cavity, and they do not agree whether a clip may go there.
    EndsDisagree {
        /// Index of the later conductor.
        index: usize,
    },
    /// An end may not be measured, and the conductor is not marked as drawn only.
    End {
        /// Index of the conductor.
        index: usize,
        /// Why.
        why: EndRefused,
    },
    /// Touches wanted is not 1 to 4.
    TouchesWanted,
    /// A limit has no side, a low side above its high one, a value below 0 or not in ohm, or a text that is too
    /// long. `index` is that of the conductor; none: the limit for all.
    Limit {
        /// Index of the conductor.
        index: Option<usize>,
    },
    /// A bar does not bridge two different conductors of the part, or stands there twice.
    Bar {
        /// Index in the list of bars.
        index: usize,
    },
}

impl Part {
    /// The two places for the clips on the conductor with this index.
    ///
    /// # Errors
    /// [`EndRefused`] when either end is or may be an inflator, a tensioner or a control unit, when its plug goes
    /// to an inflator or tensioner by another cavity, or the conductor is drawn only. There is no other way to a
    /// [`Point`].
    pub fn clip_points(&self, index: usize) -> Result<(Point, Point), EndRefused> {
        let conductor = self.conductors.get(index).ok_or(EndRefused::NoConductor)?;
        let points = (Point::of(&conductor.from)?, Point::of(&conductor.to)?);
        let ends = self.conductors.iter().flat_map(|c| [&c.from, &c.to]);
        let fires = |end: &&End| matches!(end.at, AtEnd::Inflator | AtEnd::Tensioner);
        let plugs: BTreeSet<u8> = ends.filter(fires).map(|end| end.connector).collect();
        if plugs.contains(&points.0.connector) || plugs.contains(&points.1.connector) {
            return Err(EndRefused::SamePlug);
        }
        if conductor.drawn_only { Err(EndRefused::DrawnOnly) } else { Ok(points) }
    }

    /// The same part without blanks around its names: "squib" and "squib " are one group.
    #[must_use]
    pub fn trimmed(mut self) -> Part {
        let trim = |name: &mut String| *name = name.trim().to_owned();
        trim(&mut self.name);
        self.connectors.iter_mut().for_each(|c| trim(&mut c.name));
        for conductor in &mut self.conductors {
            trim(&mut conductor.name);
            // An empty group is none.
            conductor.group = conductor.group.take().map(|g| g.trim().to_owned()).filter(|g| !g.is_empty());
            conductor.limit.iter_mut().for_each(|limit| trim(&mut limit.source));
        }
        self.ceiling.iter_mut().for_each(|limit| trim(&mut limit.source));
        self.bars.iter_mut().for_each(|bar| *bar = (bar.0.min(bar.1), bar.0.max(bar.1)));
        self
    }

    /// Every problem of the description, in reading order; empty when it can be measured.
    pub fn problems(&self) -> Vec<PartProblem> {
        let mut found = Vec::new();
        if !name_fits(&self.name) {
            found.push(PartProblem::Name { place: "part".into(), index: 0 });
        }
        if !(1..=4).contains(&self.touches_wanted) {
            found.push(PartProblem::TouchesWanted);
        }
        check_names("connector", self.connectors.iter().map(|c| c.name.as_str()), MAX_CONNECTORS, &mut found);
        for (index, connector) in self.connectors.iter().enumerate() {
            let rows_fit = (1..=4).contains(&connector.rows) && connector.rows <= connector.cavities;
            if !(1..=MAX_CAVITIES).contains(&connector.cavities) || !rows_fit {
                found.push(PartProblem::Face { index });
            }
        }
        check_names("conductor", self.conductors.iter().map(|c| c.name.as_str()), MAX_CONDUCTORS, &mut found);
        for (index, conductor) in self.conductors.iter().enumerate() {
            self.check_ends(index, conductor, &mut found);
        }
        if !self.conductors.is_empty() && self.conductors.iter().all(|c| c.drawn_only) {
            found.push(PartProblem::Count { place: "conductor".into() });
        }
        limit::check(self, &mut found);
        found
    }

    /// The other description has the same plugs and conductors between the same cavities: what was measured on one
    /// holds for the other. Names, groups, limits, bars and touches wanted may differ.
    pub fn same_wiring(&self, other: &Part) -> bool {
        let faces = |part: &Part| part.connectors.iter().map(|c| (c.cavities, c.rows)).collect::<Vec<_>>();
        let wires = |part: &Part| {
            part.conductors.iter().map(|c| (c.from.clone(), c.to.clone(), c.drawn_only)).collect::<Vec<_>>()
        };
        faces(self) == faces(other) && wires(self) == wires(other)
    }

    fn check_ends(&self, index: usize, conductor: &Conductor, found: &mut Vec<PartProblem>) {
        let there = |end: &End| {
            self.connectors.get(usize::from(end.connector)).is_some_and(|c| (1..=c.cavities).contains(&end.cavity))
        };
        if conductor.group.as_deref().is_some_and(|group| !name_fits(group)) {
            found.push(PartProblem::Name { place: "group".into(), index });
        }
        if !there(&conductor.from) || !there(&conductor.to) {
            found.push(PartProblem::NoSuchCavity { index });
        } else if (conductor.from.connector, conductor.from.cavity) == (conductor.to.connector, conductor.to.cavity) {
            found.push(PartProblem::SameCavity { index });
        }
        if self.disagrees_with_earlier(index, conductor) {
            found.push(PartProblem::EndsDisagree { index });
        }
        match self.clip_points(index) {
            Ok(_) | Err(EndRefused::DrawnOnly) => {}
            Err(_) if conductor.drawn_only => {}
            Err(why) => found.push(PartProblem::End { index, why }),
        }
    }
}

impl Part {
    /// One cavity cannot be free for one conductor and lead to an inflator for another.
    fn disagrees_with_earlier(&self, index: usize, conductor: &Conductor) -> bool {
        let ends = |c: &Conductor| [c.from.clone(), c.to.clone()];
        let earlier: Vec<End> = self.conductors[..index].iter().flat_map(ends).collect();
        ends(conductor).iter().any(|end| {
            let same = |other: &&End| (other.connector, other.cavity) == (end.connector, end.cavity);
            earlier.iter().filter(same).any(|other| Point::of(other).is_ok() != Point::of(end).is_ok())
        })
    }
}

fn name_fits(name: &str) -> bool {
    !name.trim().is_empty() && name.chars().count() <= MAX_NAME
}

fn check_names<'a>(
    place: &str,
    names: impl ExactSizeIterator<Item = &'a str>,
    most: usize,
    found: &mut Vec<PartProblem>,
) {
    if names.len() == 0 || names.len() > most {
        found.push(PartProblem::Count { place: place.into() });
    }
    let mut seen = BTreeSet::new();
    for (index, name) in names.enumerate() {
        if !name_fits(name) {
            found.push(PartProblem::Name { place: place.into(), index });
        } else if !seen.insert(name.trim()) {
            found.push(PartProblem::NameTwice { place: place.into(), index });
        }
    }
}
