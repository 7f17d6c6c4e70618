//! Reading steps: what only one kind has.

use super::amount::{Amount, Dimension};
use super::fact::Fact;
use super::kind::{
    Centre, Codes, CodesWhen, LiveValue, NewPart, Origin, ProveDead, ProvedPoint, Sign, StepKind, Torque, Wait,
};
use super::places::Places;
use super::read::{Book, amount, amount_of, id, items, known, positive, shortened, wanted_amount};
use super::read_measuring::{compare, isolation, measure, sweep, zero};
use super::read_step::facts;
use super::texts::TITLE;
use crate::meter::FileErrorCode;
use crate::meter::fields::Fields;

pub(super) const KINDS: [&str; 17] = [
    "do",
    "check",
    "wait",
    "prove-dead",
    "codes",
    "zero",
    "measure",
    "sweep",
    "isolation",
    "compare",
    "centre",
    "torque",
    "live-value",
    "photo",
    "sign",
    "note",
    "part",
];
pub(super) const WHEN: [(&str, CodesWhen); 3] =
    [("before", CodesWhen::Before), ("during", CodesWhen::During), ("after", CodesWhen::After)];
pub(super) const ORIGINS: [(&str, Origin); 3] =
    [("new", Origin::New), ("used", Origin::Used), ("rebuilt", Origin::Rebuilt)];

/// `None` only after a mistake was told.
pub(super) fn kind(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<StepKind> {
    if !fields.has("kind") {
        fields.missing("kind", "kind = \"check\"");
    }
    let known = KINDS.map(|word| (word, word));
    match fields.word("kind", &known)? {
        "do" => Some(StepKind::Do),
        "check" => Some(StepKind::Check),
        "wait" => wait(fields, book, places).map(StepKind::Wait),
        "prove-dead" => prove_dead(fields, book).map(StepKind::ProveDead),
        "codes" => codes(fields).map(StepKind::Codes),
        "zero" => zero(fields, book).map(StepKind::Zero),
        "measure" => measure(fields, book, places).map(StepKind::Measure),
        "sweep" => sweep(fields, book, places).map(StepKind::Sweep),
        "isolation" => isolation(fields, book).map(StepKind::Isolation),
        "compare" => compare(fields, book).map(StepKind::Compare),
        "centre" => centre(fields, book).map(StepKind::Centre),
        "torque" => torque(fields, book).map(StepKind::Torque),
        "live-value" => live_value(fields, book).map(StepKind::LiveValue),
        "photo" => book.tongue.wanted(fields, "shows", TITLE).map(|shows| StepKind::Photo { shows }),
        "sign" => sign(fields, book).map(StepKind::Sign),
        "part" => part(fields, book, places).map(StepKind::Part),
        _ => Some(StepKind::Note),
    }
}

/// The source a figure names; the outer `None` only after a mistake was told.
pub(super) fn source(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Option<String>> {
    let given = fields.has("source");
    let Some(word) = id(fields, "source") else {
        return if given { None } else { Some(None) };
    };
    let ids: Vec<(&str, ())> = book.sources.iter().map(|source| (source.id.as_str(), ())).collect();
    let hit = *known(fields, ("source", &[word]), &ids).first()?;
    Some(Some(book.sources[hit].id.clone()))
}

fn wait(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<Wait> {
    let at_least = wanted_amount(fields, "at_least", Dimension::Time);
    let source = source(fields, book);
    let starts = match fields.text("starts", "\"cable_off\"") {
        None if fields.has("starts") => None,
        None => Some(Fact::CableOff),
        Some(word) => {
            let fact = Fact::parse(&word.value).ok();
            if fact.is_none() {
                let what = format!("`starts` is {:?}, which is no fact", shortened(&word.value));
                fields.mistake(word.at, FileErrorCode::UnknownWord, what, "starts = \"cable_off\"");
            }
            fact
        }
    };
    let mut restarts = facts(fields, "restarts", places);
    restarts.insert(Fact::CableOff);
    Some(Wait { at_least: at_least?.value, source: source?, starts: starts?, restarts })
}

fn prove_dead(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<ProveDead> {
    let limit = wanted_amount(fields, "limit", Dimension::Voltage);
    let source = source(fields, book);
    let known_before = book.tongue.wanted(fields, "known_before", TITLE);
    let known_after = book.tongue.wanted(fields, "known_after", TITLE);
    if !fields.has("points") {
        fields.missing("points", "[[steps.points]] with a name for each place");
    }
    let mut points: Vec<Option<ProvedPoint>> = Vec::new();
    for mut inner in fields.tables_up_to("points", 16) {
        let name = book.tongue.wanted(&mut inner, "name", TITLE);
        let names: Vec<(&str, ())> = book.circuits.plugs.iter().map(|plug| (plug.face.name.as_str(), ())).collect();
        let word = inner.text("connector", "the name of a connector in quotes");
        let plug = word.map(|word| known(&inner, ("connector", &[word]), &names).first().copied());
        inner.finish();
        let plug = match plug {
            Some(hit) => hit.and_then(|index| u8::try_from(index).ok()).map(Some),
            None => Some(None),
        };
        points.push(name.zip(plug).map(|(name, plug)| ProvedPoint { name, plug }));
    }
    if fields.has("points") && points.is_empty() {
        let at = fields.place("points");
        fields.mistake(at, FileErrorCode::OutOfRange, "no point is named", "[[steps.points]] for each place");
    }
    Some(ProveDead {
        points: points.into_iter().collect::<Option<Vec<_>>>()?,
        limit: limit?.value,
        source: source?,
        known_before: known_before?,
        known_after: known_after?,
    })
}

fn codes(fields: &mut Fields<'_, '_>) -> Option<Codes> {
    if !fields.has("when") {
        fields.missing("when", "when = \"before\", \"during\" or \"after\"");
    }
    let when = fields.word("when", &WHEN);
    let erases = fields.yes_or_no("erases").unwrap_or(false);
    Some(Codes { when: when?, erases })
}

fn centre(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Centre> {
    let total = wanted_amount(fields, "total", Dimension::Turns);
    let back = wanted_amount(fields, "back", Dimension::Turns);
    let free_each_side = wanted_amount(fields, "free_each_side", Dimension::Turns);
    let plug_angle = amount(fields, "plug_angle", Dimension::Angle).map(|angle| angle.value);
    let source = source(fields, book);
    if let (Some(total), Some(back)) = (total, back)
        && !back.value.is_half_of(total.value)
    {
        let what = format!("`back` {} is not half of `total` {}", back.value, total.value);
        fields.mistake(back.at, FileErrorCode::Conflict, what, "half of the turns from end to end");
    }
    if let (Some(back), Some(free)) = (back, free_each_side)
        && !free.value.at_most(back.value)
    {
        let what = format!("`free_each_side` {} is more than there is on a side", free.value);
        fields.mistake(free.at, FileErrorCode::Conflict, what, format!("at most {}", back.value));
    }
    let (total, back, free_each_side) = (total?.value, back?.value, free_each_side?.value);
    Some(Centre { total, back, free_each_side, plug_angle, source: source? })
}

fn torque(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Torque> {
    let value = wanted_amount(fields, "value", Dimension::Torque);
    let also = positive(fields, "also", Dimension::Torque);
    if let (Some(value), Some(also)) = (value, also)
        && !value.value.agrees_with(also.value)
    {
        let what = format!("{} and {} are not the same torque", value.value, also.value);
        fields.mistake(also.at, FileErrorCode::Conflict, what, "the figure as it is printed beside the other");
    }
    let range = range(fields, value.map(|value| value.value));
    let angle = positive(fields, "angle", Dimension::Angle).map(|angle| angle.value);
    let new_fastener = fields.yes_or_no("new_fastener").unwrap_or(false);
    let wrench = positive(fields, "wrench_length", Dimension::Length).map(|length| length.value);
    let adapter = positive(fields, "adapter_length", Dimension::Length).map(|length| length.value);
    for (key, other) in [("wrench_length", "adapter_length"), ("adapter_length", "wrench_length")] {
        if fields.has(key) && !fields.has(other) {
            fields.missing(other, "the lengths of wrench and adapter stand together");
        }
    }
    let source = source(fields, book);
    let lengths = wrench.zip(adapter);
    let also = also.map(|also| also.value);
    Some(Torque { value: value?.value, also, range, angle, new_fastener, lengths, source: source? })
}

/// Lowest and highest torque, with the value between them.
fn range(fields: &mut Fields<'_, '_>, value: Option<Amount>) -> Option<(Amount, Amount)> {
    let lowest = positive(fields, "lowest", Dimension::Torque);
    let highest = positive(fields, "highest", Dimension::Torque);
    for (key, other) in [("lowest", "highest"), ("highest", "lowest")] {
        if fields.has(key) && !fields.has(other) {
            fields.missing(other, "the lowest and the highest figure stand together");
        }
    }
    let (lowest, highest) = (lowest?, highest?);
    let within = value.is_none_or(|value| lowest.value.at_most(value) && value.at_most(highest.value));
    if highest.value.at_most(lowest.value) || !within {
        let what = format!("{} to {} does not hold the value", lowest.value, highest.value);
        fields.mistake(lowest.at, FileErrorCode::Conflict, what, "lowest below highest, the value between them");
    }
    Some((lowest.value, highest.value))
}

fn live_value(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<LiveValue> {
    let name = book.tongue.wanted(fields, "name", TITLE);
    let target = amount_of(fields, "target", &[]);
    let tolerance = amount_of(fields, "tolerance", &[]);
    let steady = amount_of(fields, "steady_within", &[]);
    for (key, other) in [("target", "tolerance"), ("tolerance", "target")] {
        if fields.has(key) && !fields.has(other) {
            fields.missing(other, "target = \"0 °\" and tolerance = \"3 °\" stand together");
        }
    }
    if !fields.has("target") && !fields.has("steady_within") {
        fields.missing("steady_within", "target and tolerance, or steady_within = \"0.2 Ω\"");
    }
    for (key, width) in [("tolerance", tolerance), ("steady_within", steady)] {
        if let Some(width) = width.filter(|width| !width.value.is_positive()) {
            let what = format!("`{key}` is {}", width.value);
            fields.mistake(width.at, FileErrorCode::OutOfRange, what, "a figure above zero");
        }
    }
    if let (Some(target), Some(other)) = (target, tolerance)
        && target.value.dimension() != other.value.dimension()
    {
        let what = format!("`tolerance` {} does not fit `target` {}", other.value, target.value);
        fields.mistake(other.at, FileErrorCode::Conflict, what, "both in the same unit");
    }
    let stores_zero = fields.yes_or_no("stores_zero").unwrap_or(false);
    let source = source(fields, book);
    let target = target.zip(tolerance).map(|(target, tolerance)| (target.value, tolerance.value));
    let steady_within = steady.map(|steady| steady.value);
    Some(LiveValue { name: name?, target, steady_within, stores_zero, source: source? })
}

fn sign(fields: &mut Fields<'_, '_>, book: &Book<'_>) -> Option<Sign> {
    let role = book.tongue.wanted(fields, "role", TITLE);
    let closes = fields.yes_or_no("closes").unwrap_or(false);
    Some(Sign { role: role?, closes })
}

fn part(fields: &mut Fields<'_, '_>, book: &Book<'_>, places: &mut Places) -> Option<NewPart> {
    let name = book.tongue.wanted(fields, "name", TITLE);
    if !fields.has("may_be") {
        fields.missing("may_be", "may_be = [\"new\"], or [\"new\", \"used\", \"rebuilt\"]");
    }
    let words = items(fields, "may_be", places)?;
    if words.is_empty() {
        let at = fields.place("may_be");
        fields.mistake(at, FileErrorCode::OutOfRange, "no origin is named", "may_be = [\"new\"]");
    }
    let may_be = known(fields, ("may_be", &words), &ORIGINS).into_iter().map(|hit| ORIGINS[hit].1).collect();
    Some(NewPart { name: name?, may_be })
}
