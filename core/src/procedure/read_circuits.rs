//! Reading plugs, conductors and bars.

use super::amount::Dimension;
use super::circuits::{Bar, Circuits, Class, MAX_BARS, Plug, Wire};
use super::places::Places;
use super::read::{items, known, positive, wanted_id};
use super::texts::{TITLE, Tongue};
use crate::meter::FileErrorCode;
use crate::meter::fields::Fields;
use crate::part::{AtEnd, Connector, End, MAX_CAVITIES, MAX_CONDUCTORS, MAX_CONNECTORS};
use std::collections::BTreeSet;

pub(super) const AT_ENDS: [(&str, AtEnd); 7] = [
    ("open-plug", AtEnd::OpenPlug),
    ("bare-terminal", AtEnd::BareTerminal),
    ("unpowered-load", AtEnd::UnpoweredLoad),
    ("control-unit", AtEnd::ControlUnit),
    ("inflator", AtEnd::Inflator),
    ("tensioner", AtEnd::Tensioner),
    ("unknown", AtEnd::Unknown),
];
pub(super) const CLASSES: [(&str, Class); 4] =
    [("squib", Class::Squib), ("supply", Class::Supply), ("signal", Class::Signal), ("ground", Class::Ground)];

/// Circuits with the places they were read from.
pub(super) struct ReadCircuits {
    pub circuits: Circuits,
    pub plugs: Vec<Places>,
    pub wires: Vec<Places>,
    pub bars: Vec<Places>,
}

/// `None` only after a mistake was told.
pub(super) fn circuits(root: &mut Fields<'_, '_>, tongue: &Tongue) -> Option<ReadCircuits> {
    let name = tongue.wanted(root, "part", TITLE);
    let (mut plug_places, mut wire_places, mut bar_places) = (Vec::new(), Vec::new(), Vec::new());
    let mut plugs: Vec<Option<Plug>> = Vec::new();
    for mut fields in root.tables_up_to("connectors", MAX_CONNECTORS) {
        plug_places.push(Places::of(&fields, &["name", "cavities", "rows", "inflator"]));
        plugs.push(plug(&mut fields));
        fields.finish();
    }
    let plugs: Option<Vec<Plug>> = plugs.into_iter().collect();
    let Some(plugs) = plugs else {
        root.let_pass(&["conductors", "bars"]);
        return None;
    };
    let mut wires: Vec<Option<Wire>> = Vec::new();
    for mut fields in root.tables_up_to("conductors", MAX_CONDUCTORS) {
        wire_places.push(Places::of(&fields, &["id", "from", "to", "group", "class", "drawn_only"]));
        wires.push(wire(&mut fields, tongue, &plugs));
        fields.finish();
    }
    let wires: Option<Vec<Wire>> = wires.into_iter().collect();
    let Some(wires) = wires else {
        root.let_pass(&["bars"]);
        return None;
    };
    let mut circuits = Circuits { name: name?, plugs, wires, bars: Vec::new() };
    let mut bars: Vec<Option<Bar>> = Vec::new();
    for mut fields in root.tables_up_to("bars", MAX_BARS) {
        let mut places = Places::of(&fields, &["id", "pair", "plugs", "opened_by"]);
        bars.push(bar(&mut fields, (tongue, &circuits), &mut places));
        bar_places.push(places);
        fields.finish();
    }
    circuits.bars = bars.into_iter().collect::<Option<Vec<Bar>>>()?;
    Some(ReadCircuits { circuits, plugs: plug_places, wires: wire_places, bars: bar_places })
}

fn plug(fields: &mut Fields<'_, '_>) -> Option<Plug> {
    for (key, instead) in [("name", "name = \"A\""), ("cavities", "cavities = 8")] {
        if !fields.has(key) {
            fields.missing(key, instead);
        }
    }
    let name = super::read::words(fields, "name");
    let cavities = fields.whole("cavities", 1..=i64::from(MAX_CAVITIES)).and_then(|c| u8::try_from(c.value).ok());
    let most = i64::from(cavities.unwrap_or(4).min(4));
    let given = fields.has("rows");
    let rows = fields.whole("rows", 1..=most).and_then(|rows| u8::try_from(rows.value).ok());
    let rows = if given { rows } else { Some(1) };
    let inflator = super::read::id(fields, "inflator").map(|id| id.value);
    let restraint = fields.yes_or_no("restraint").unwrap_or(false);
    Some(Plug { face: Connector { name: name?, cavities: cavities?, rows: rows? }, inflator, restraint })
}

fn wire(fields: &mut Fields<'_, '_>, tongue: &Tongue, plugs: &[Plug]) -> Option<Wire> {
    for (key, instead) in [
        ("class", "class = \"squib\", \"supply\", \"signal\" or \"ground\""),
        ("from", "from = { connector = \"A\", cavity = 1, at = \"open-plug\" }"),
        ("to", "to = { connector = \"B\", cavity = 1, at = \"open-plug\" }"),
    ] {
        if !fields.has(key) {
            fields.missing(key, instead);
        }
    }
    let id = wanted_id(fields, "id", "id = \"horn\"");
    let name = tongue.texts(fields, "name", TITLE);
    let class = fields.word("class", &CLASSES);
    let group = super::read::id(fields, "group").map(|group| group.value);
    let from = fields.table("from").and_then(|end| self::end(end, plugs));
    let to = fields.table("to").and_then(|end| self::end(end, plugs));
    let drawn_only = fields.yes_or_no("drawn_only").unwrap_or(false);
    let colour = tongue.texts(fields, "colour", TITLE);
    let size = positive(fields, "size", Dimension::Area).map(|size| size.value);
    Some(Wire { id: id?.value, name, class: class?, group, from: from?, to: to?, drawn_only, colour, size })
}

fn end(mut fields: Fields<'_, '_>, plugs: &[Plug]) -> Option<End> {
    for (key, instead) in [
        ("connector", "connector = \"A\""),
        ("cavity", "cavity = 1"),
        ("at", "at = \"open-plug\", or what hangs there"),
    ] {
        if !fields.has(key) {
            fields.missing(key, instead);
        }
    }
    let named = fields.text("connector", "the name of a connector in quotes");
    let names: Vec<(&str, ())> = plugs.iter().map(|plug| (plug.face.name.as_str(), ())).collect();
    let index = named.and_then(|name| known(&fields, ("connector", &[name]), &names).first().copied());
    let most = index.map_or(MAX_CAVITIES, |index| plugs[index].face.cavities);
    let cavity = fields.whole("cavity", 1..=i64::from(most)).and_then(|cavity| u8::try_from(cavity.value).ok());
    let at = fields.word("at", &AT_ENDS);
    fields.finish();
    Some(End { connector: u8::try_from(index?).ok()?, cavity: cavity?, at: at? })
}

fn bar(fields: &mut Fields<'_, '_>, (tongue, circuits): (&Tongue, &Circuits), places: &mut Places) -> Option<Bar> {
    if !fields.has("pair") {
        fields.missing("pair", "pair = [\"stage-1-plus\", \"stage-1-minus\"]");
    }
    let id = wanted_id(fields, "id", "id = \"stage-1\"");
    let opened_by = tongue.wanted(fields, "opened_by", TITLE);
    let ids: Vec<(&str, ())> = circuits.wires.iter().map(|wire| (wire.id.as_str(), ())).collect();
    let pair = items(fields, "pair", places).map(|words| (known(fields, ("pair", &words), &ids), words.len()));
    let plugs = plugs(fields, circuits, places);
    let pair = match pair {
        Some((hits, 2)) if hits.len() == 2 => Some((hits[0].min(hits[1]), hits[0].max(hits[1]))),
        Some((_, 2)) | None => None,
        Some((_, count)) => {
            let what = format!("`pair` names {count} conductors");
            let at = fields.place("pair");
            fields.mistake(at, FileErrorCode::OutOfRange, what, "the two conductors that the bar bridges");
            None
        }
    };
    Some(Bar { id: id?.value, pair: pair?, opened_by: opened_by?, plugs })
}

/// The plugs named at `plugs`, indices.
pub(super) fn plugs(fields: &mut Fields<'_, '_>, circuits: &Circuits, places: &mut Places) -> BTreeSet<u8> {
    let names: Vec<(&str, ())> = circuits.plugs.iter().map(|plug| (plug.face.name.as_str(), ())).collect();
    let words = items(fields, "plugs", places).unwrap_or_default();
    let hits = known(fields, ("plugs", &words), &names);
    hits.into_iter().filter_map(|index| u8::try_from(index).ok()).collect()
}
