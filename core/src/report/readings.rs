//! What was read: every conductor, every touch, and with what.

use super::Telling;
use super::chronicle::{Leads, Noted};
use super::model::{Block, Field, Section, Table};
use super::summary::{MOST_RUNGS, picture};
use crate::job::Job;
use crate::meter::link::Source;
use crate::record::{Conditions, Instrument, TouchFact, ZeroFact};
use crate::settle::{Touch, TouchKind};
use crate::verdict::words::Language;
use crate::view::faces::end_name;
use crate::view::ladder::rung_words;
use crate::view::measure::touch_text;
use crate::view::words::{end_words, instrument_words, percent_words};
use crate::view::{self, Ladder, Rung, proving};
use std::collections::BTreeMap;

/// Every conductor of every part, with what came of it.
pub(super) fn conductors(telling: &Telling) -> Option<Section> {
    let mut blocks = Vec::new();
    let last = telling.told.parts.len() - 1;
    for (index, job) in telling.told.parts.iter().enumerate() {
        let Some(table) = conductors_of(telling, job) else { continue };
        blocks.extend(telling.of_part(index));
        let view = view::verdict_of(job, telling.language()).filter(|view| !view.outdated);
        // The last part's picture stands on the first page, unless it was too long for it.
        let told = |ladder: &&Ladder| index != last || ladder.rungs.len() > MOST_RUNGS;
        blocks.extend(view.iter().flat_map(|view| &view.ladders).filter(told).map(|ladder| picture(telling, ladder)));
        blocks.push(table);
    }
    Section::of(telling.t("The conductors", "Die Leiter"), blocks)
}

fn conductors_of(telling: &Telling, job: &Job) -> Option<Block> {
    let part = job.part.as_ref()?;
    let language = telling.language();
    // A verdict that does not hold says nothing of a conductor any more.
    let view = view::verdict_of(job, language).filter(|view| !view.outdated);
    let rungs: BTreeMap<u32, &Rung> =
        view.iter().flat_map(|view| &view.ladders).flat_map(|l| &l.rungs).map(|r| (r.conductor, r)).collect();
    let mut table = Table::new(
        &format!("{}: {}", telling.t("The conductors", "Die Leiter"), part.name),
        &[
            telling.t("Conductor", "Leiter"),
            telling.t("From – to", "Von – nach"),
            telling.t("Group", "Gruppe"),
            telling.t("#Value", "#Wert"),
            telling.t("#Difference", "#Unterschied"),
            telling.t("#Touches", "#Messungen"),
            telling.t("Finding", "Befund"),
            telling.t("Limit", "Grenzwert"),
        ],
    );
    for (index, conductor) in (0u32..).zip(&part.conductors) {
        let rung = rungs.get(&index);
        let never = part.clip_points(index as usize).err();
        let finding = match (never, rung) {
            (Some(why), _) => end_words(why, language).to_owned(),
            (None, Some(rung)) => rung.word.clone(),
            (None, None) if job.standing(index).next().is_none() => {
                telling.t("not measured", "nicht gemessen").to_owned()
            }
            (None, None) => telling.t("not judged", "nicht beurteilt").to_owned(),
        };
        let touches = job.standing(index).count();
        let judged = job.verdict.as_ref().filter(|v| !v.outdated).map(|v| &v.judgement);
        let judged = judged.and_then(|j| j.conductors.iter().find(|c| c.conductor == index));
        let (value, difference) = match judged {
            Some(judged) => rung_words(job, judged, language),
            None => (job.standing(index).last().map_or(String::new(), |t| touch_text(&t.taken)), String::new()),
        };
        table.push(
            vec![
                conductor.name.clone(),
                format!("{} – {}", end_name(part, &conductor.from), end_name(part, &conductor.to)),
                conductor.group.clone().unwrap_or_default(),
                if touches == 0 { "–".to_owned() } else { value },
                difference,
                touches.to_string(),
                finding,
                rung.map_or(String::new(), |rung| rung.limit_words.clone()),
            ],
            false,
        );
    }
    table.block()
}

/// Every touch that was ever taken.
pub(super) fn touches(telling: &Telling) -> Option<Section> {
    let told = telling.told;
    let mut blocks = Vec::new();
    for part in 0..told.parts.len() {
        let of_part: Vec<&Noted<TouchFact>> = told.touches.iter().filter(|noted| noted.part == part).collect();
        let mut table = Table::new(
            telling.t("Every reading", "Jede Messung"),
            &[
                telling.t("Conductor", "Leiter"),
                telling.t("#Reading", "#Messwert"),
                telling.t("Taken", "Übernommen"),
                telling.t("Time", "Zeit"),
                telling.t("Meter", "Gerät"),
                telling.t("Leads", "Leitungen"),
                telling.t("#Bench", "#Werkbank"),
                telling.t("Counts", "Zählt"),
            ],
        );
        for noted in of_part {
            let counts = told.counts(noted);
            table.push(row(telling, noted, counts), !counts);
        }
        let Some(block) = table.block() else { continue };
        blocks.extend(telling.of_part(part));
        blocks.push(block);
    }
    Section::of(telling.t("Every reading", "Jede Messung"), blocks)
}

fn row(telling: &Telling, noted: &Noted<TouchFact>, counts: bool) -> Vec<String> {
    let taken = &noted.fact.taken;
    vec![
        telling.wire(noted.part, noted.fact.conductor),
        touch_text(taken),
        kind_words(telling, taken.kind).to_owned(),
        seconds(noted),
        meter_key(noted.meter),
        leads_words(telling, telling.told.leads_of(noted, taken)),
        bench_words(&noted.conditions),
        match (counts, telling.told.taken_back.contains(&noted.fact.touch)) {
            (true, _) => telling.t("yes", "ja"),
            (false, true) => telling.t("taken back", "zurückgenommen"),
            (false, false) => telling.t("set aside", "verworfen"),
        }
        .to_owned(),
    ]
}

/// How a touch came about.
pub(super) fn kind_words<'a>(telling: &Telling, kind: TouchKind) -> &'a str {
    match kind {
        TouchKind::Settled => telling.t("by itself", "von selbst"),
        TouchKind::AsItWas => telling.t("as it was, by key", "wie es war, per Taste"),
        TouchKind::OverRange => telling.t("over-range, by key", "Überlauf, per Taste"),
        TouchKind::Typed => telling.t("typed", "getippt"),
        TouchKind::TypedOverRange => telling.t("over-range, typed", "Überlauf, getippt"),
    }
}

/// Date and time to the second, as the clock of the report shows it.
pub(super) fn seconds<F>(noted: &Noted<F>) -> String {
    noted.at.as_str().get(..19).unwrap_or(noted.at.as_str()).replace(['T', 't'], " ")
}

/// "M1": a meter by its number in the list.
pub(super) fn meter_key(meter: Option<usize>) -> String {
    meter.map_or_else(|| "?".to_owned(), |index| format!("M{}", index + 1))
}

fn leads_words(telling: &Telling, leads: Leads) -> String {
    match leads {
        Leads::TakenOff => telling.t("taken off by the meter", "vom Gerät abgezogen").to_owned(),
        Leads::Read(zero) => format!("{zero} Ω"),
        Leads::Unknown => telling.t("not zeroed", "nicht genullt").to_owned(),
    }
}

fn bench_words(conditions: &Conditions) -> String {
    conditions.temperature.map_or(String::new(), |temperature| format!("{temperature} °C"))
}

/// The meters, their leads, and how they were tried.
pub(super) fn meters(telling: &Telling) -> Option<Section> {
    let told = telling.told;
    let language = telling.language();
    let mut blocks: Vec<Block> = Vec::new();
    let list: Vec<Field> = told.meters.iter().enumerate().map(|(i, meter)| instrument(telling, (i, meter))).collect();
    let measured = !list.is_empty();
    blocks.extend(measured.then_some(Block::Fields(list)));
    let mut zeros = Table::new(
        telling.t("Leads, clips on each other", "Messleitungen, Klemmen aneinander"),
        &[
            telling.t("Leads read", "Leitungen maßen"),
            telling.t("Time", "Zeit"),
            telling.t("Meter", "Gerät"),
            telling.t("#Bench", "#Werkbank"),
        ],
    );
    for noted in &told.zeros {
        let gone = told.taken_back.contains(&noted.fact.zero);
        zeros.push(zero_row(telling, noted, gone), gone);
    }
    if let Some(table) = zeros.block() {
        blocks.extend([Block::Subtitle(telling.t("Zero of the leads", "Nullung der Leitungen").to_owned()), table]);
    }
    if measured {
        let job = telling.job();
        let said = [proving::zero(job, language).words, proving::check(job, language).words];
        blocks.push(Block::List(said.to_vec()));
        blocks.extend(unstated(telling));
    }
    Section::of(telling.t("Meter and leads", "Messgerät und Leitungen"), blocks)
}

fn zero_row(telling: &Telling, noted: &Noted<ZeroFact>, gone: bool) -> Vec<String> {
    let read = touch_text(&noted.fact.taken);
    let back = telling.t("taken back", "zurückgenommen");
    let bench = noted.fact.temperature.map_or(String::new(), |temperature| format!("{temperature} °C"));
    let read = if gone { format!("{read} ({back})") } else { read };
    vec![read, seconds(noted), meter_key(noted.meter), bench]
}

/// What nobody said of the bench.
fn unstated(telling: &Telling) -> Option<Block> {
    let conditions = &telling.job().conditions;
    let unknown = conditions.temperature.is_none().then(|| {
        telling.t("Nobody stated the temperature of the bench.", "Die Temperatur der Werkbank nannte niemand.")
    });
    unknown.map(|words| Block::Words(words.to_owned()))
}

fn instrument(telling: &Telling, (index, meter): (usize, &Instrument)) -> Field {
    let language = telling.language();
    let name = instrument_words(meter, language);
    let (percent, counts) = (percent_words(meter.accuracy_milli_percent), meter.accuracy_counts);
    let told = match (meter.told, language) {
        (true, Language::En) => "serial number told by itself",
        (true, Language::De) => "Seriennummer von ihm selbst",
        (false, Language::En) => "known by the shop's label",
        (false, Language::De) => "bekannt durch die Aufschrift der Werkstatt",
    };
    let by = match meter.source {
        Source::Radio => telling.t("by radio", "per Funk").to_owned(),
        other => view::words::source_words(other, language).to_owned(),
    };
    let (step, top) = (meter.step, proving::large(meter.top));
    let due = match meter.calibration_due {
        Some(due) => format!("{} {due}", telling.t("calibration due", "Kalibrierung fällig am")),
        None => telling.t("calibration not stated", "Kalibrierung nicht angegeben").to_owned(),
    };
    let what = match language {
        Language::En => format!("{name}, {told}; step {step} Ω, up to {top}, ±({percent} % + {counts}); {due}; {by}"),
        Language::De => {
            format!("{name}, {told}; Schritt {step} Ω, bis {top}, ±({percent} % + {counts}); {due}; {by}")
        }
    };
    Field::new(&meter_key(Some(index)), what)
}

/// What was taken back, set aside, or taken by a person's key against what the program would have done.
pub(super) fn taken_back(telling: &Telling) -> Option<Section> {
    let told = telling.told;
    let mut table = Table::new(
        telling.t("Taken back and overridden", "Zurückgenommen und übergangen"),
        &[
            telling.t("What", "Was"),
            telling.t("Reading", "Messwert"),
            telling.t("Time", "Zeit"),
            telling.t("Why", "Warum"),
        ],
    );
    for noted in &told.touches {
        let kind = noted.fact.taken.kind;
        let back = told.taken_back.contains(&noted.fact.touch);
        let why = match (back, told.counts(noted), kind) {
            (true, ..) => telling.t("taken back by hand", "von Hand zurückgenommen").to_owned(),
            (false, false, _) => telling.t("set aside by the rules", "nach den Regeln verworfen").to_owned(),
            (false, true, TouchKind::AsItWas | TouchKind::OverRange) => kind_words(telling, kind).to_owned(),
            _ => continue,
        };
        let name = telling.wire(noted.part, noted.fact.conductor);
        let what = format!("{} {name}", telling.t("Conductor", "Leiter"));
        table.push(vec![what, touch_text(&noted.fact.taken), seconds(noted), why], false);
    }
    let by_hand = || telling.t("taken back by hand", "von Hand zurückgenommen").to_owned();
    let mut back = |what: String, taken: Option<&Touch>, at: String| {
        table.push(vec![what, taken.map_or(String::new(), touch_text), at, by_hand()], false);
    };
    for noted in told.isolation.iter().filter(|n| told.taken_back.contains(&n.fact.reading)) {
        let what = telling.t("Isolation", "Isolation").to_owned();
        back(what, Some(&noted.fact.taken), seconds(noted));
    }
    for noted in told.sweeps.iter().filter(|n| told.taken_back.contains(&n.fact.sweep)) {
        let name = telling.wire(noted.part, noted.fact.conductor);
        back(format!("{} {name}", telling.t("Sweep of conductor", "Bewegt gemessen, Leiter")), None, seconds(noted));
    }
    for noted in told.resistors.iter().filter(|n| told.taken_back.contains(&n.fact.reading)) {
        back(telling.t("Known resistor", "Bekannter Widerstand").to_owned(), Some(&noted.fact.taken), seconds(noted));
    }
    let title = telling.t("Taken back and overridden", "Zurückgenommen und übergangen");
    Section::of(title, table.block().into_iter().collect())
}
