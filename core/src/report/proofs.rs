//! What supports the readings: bars, isolation, sweeps, the part it is compared with.

use super::Telling;
use super::chronicle::Noted;
use super::model::{Block, Section, Table, TracePicture};
use super::readings::{meter_key, seconds};
use crate::job::Job;
use crate::record::{IsolationFact, SweepFact};
use crate::verdict::words::Language;
use crate::view::words::{isolation_words, pair_words};
use crate::view::{self, Rung, TraceView, proving, trace};

/// The old part against the candidate, conductor by conductor.
pub(super) fn compared(telling: &Telling) -> Option<Section> {
    let job = telling.job();
    let language = telling.language();
    let old = proving::old(job, language)?;
    let mut blocks = vec![Block::Words(format!("{}. {}", old.name, old.words))];
    let view = view::verdict_of(job, language).filter(|view| !view.outdated);
    let rungs: Vec<&Rung> = view.iter().flat_map(|view| &view.ladders).flat_map(|ladder| &ladder.rungs).collect();
    let mut table = Table::new(
        telling.t("Old part and candidate", "Altes Teil und Ersatzteil"),
        &[
            telling.t("Conductor", "Leiter"),
            telling.t("#Old part", "#Altes Teil"),
            telling.t("#Candidate", "#Ersatzteil"),
            telling.t("Finding", "Befund"),
        ],
    );
    for rung in rungs {
        let none = telling.t("none of this name", "keiner dieses Namens");
        let before = if rung.old_value.is_empty() { none.to_owned() } else { rung.old_value.clone() };
        table.push(vec![rung.name.clone(), before, rung.value.clone(), rung.word.clone()], false);
    }
    blocks.extend(table.block());
    blocks.extend((!old.alike.is_empty()).then_some(Block::Words(old.alike)));
    Section::of(telling.t("Old part and candidate", "Altes Teil und Ersatzteil"), blocks)
}

/// Shorting bars as a person stated them.
pub(super) fn bars(telling: &Telling) -> Option<Section> {
    let mut blocks = Vec::new();
    for (index, job) in telling.told.parts.iter().enumerate() {
        let Some(part) = &job.part else { continue };
        let mut table = Table::new(
            telling.t("Shorting bars", "Kurzschlussbrücken"),
            &[telling.t("Pair", "Paar"), telling.t("State", "Zustand"), telling.t("Beside", "Dazu")],
        );
        for row in proving::bars(job, part, telling.language()) {
            table.push(vec![row.pair, row.line.words, row.hint], false);
        }
        let Some(block) = table.block() else { continue };
        blocks.extend(telling.of_part(index));
        blocks.push(block);
    }
    Section::of(telling.t("Shorting bars", "Kurzschlussbrücken"), blocks)
}

/// Every isolation reading.
pub(super) fn isolation(telling: &Telling) -> Option<Section> {
    let told = telling.told;
    let mut blocks = Vec::new();
    for (index, job) in told.parts.iter().enumerate() {
        let mut table = Table::new(
            telling.t("Isolation", "Isolation"),
            &[
                telling.t("Pair", "Paar"),
                telling.t("Reading", "Messwert"),
                telling.t("Meaning", "Bedeutung"),
                telling.t("Time", "Zeit"),
                telling.t("Meter", "Gerät"),
            ],
        );
        for noted in told.isolation.iter().filter(|noted| noted.part == index) {
            let gone = told.taken_back.contains(&noted.fact.reading);
            table.push(isolation_row(telling, job, (noted, gone)), gone);
        }
        let Some(block) = table.block() else { continue };
        blocks.extend(telling.of_part(index));
        blocks.push(block);
    }
    Section::of(telling.t("Isolation", "Isolation"), blocks)
}

fn isolation_row(telling: &Telling, job: &Job, (noted, gone): (&Noted<IsolationFact>, bool)) -> Vec<String> {
    let language = telling.language();
    let fact = &noted.fact;
    let pair = job.part.as_ref().map_or(String::new(), |part| pair_words(part, fact.a, fact.other, language));
    let (_, meaning) = isolation_words(job.isolation_means(fact), language);
    let meaning = if gone { telling.t("taken back", "zurückgenommen") } else { meaning };
    let value = proving::isolation_value(fact, language);
    vec![pair, value, meaning.to_owned(), seconds(noted), meter_key(noted.meter)]
}

/// Every sweep with its trace, as far as its samples are here.
pub(super) fn sweeps(telling: &Telling) -> Option<Section> {
    let mut blocks = Vec::new();
    for index in 0..telling.told.parts.len() {
        let of_part: Vec<&Noted<SweepFact>> = telling.told.sweeps.iter().filter(|noted| noted.part == index).collect();
        if !of_part.is_empty() {
            blocks.extend(telling.of_part(index));
        }
        for noted in of_part {
            blocks.extend(sweep(telling, noted));
        }
    }
    Section::of(telling.t("Watched while moved", "Beim Bewegen gemessen"), blocks)
}

fn sweep(telling: &Telling, noted: &Noted<SweepFact>) -> Vec<Block> {
    let language = telling.language();
    let fact = &noted.fact;
    let name = telling.wire(noted.part, fact.conductor);
    let job = &telling.told.parts[noted.part];
    let gone = telling.told.taken_back.contains(&fact.sweep);
    let back = if gone { telling.t(" (taken back)", " (zurückgenommen)") } else { "" };
    let conductor = telling.t("Conductor", "Leiter");
    let length = fact.to_ms.since(fact.from_ms).0 / 1_000;
    let (meter, at) = (meter_key(noted.meter), seconds(noted));
    let head = match language {
        Language::En => format!("{conductor} {name}{back} · {at} · {length} s · {meter}"),
        Language::De => format!("{conductor} {name}{back} · {at} · {length} s · {meter}"),
    };
    let mut blocks = vec![Block::Subtitle(head), Block::Words(trace::sentence(fact, &name, language))];
    let samples = telling.asked.samples.get(&fact.sweep);
    let drawn = samples.and_then(|samples| trace::of_job(job, fact.sweep, samples, language));
    match drawn {
        Some(trace) => blocks.extend(pictured(telling, trace)),
        None => blocks
            .push(Block::Words(telling.t("Its trace is not here.", "Ihre Aufzeichnung ist nicht hier.").to_owned())),
    }
    blocks
}

fn pictured(telling: &Telling, trace: TraceView) -> Vec<Block> {
    let mut table = Table::new(
        telling.t("What stands out", "Was auffällt"),
        &[
            telling.t("#No.", "#Nr."),
            telling.t("What", "Was"),
            telling.t("#Begins", "#Beginn"),
            telling.t("#Lasts", "#Dauer"),
            telling.t("#Height", "#Höhe"),
            telling.t("Where", "Wo"),
        ],
    );
    for row in &trace.rows {
        let number = row.number.to_string();
        let cells = [&number, &row.what, &row.start, &row.length, &row.height, &row.place];
        table.push(cells.map(Clone::clone).to_vec(), false);
    }
    let notes: Vec<String> = trace
        .notes
        .iter()
        .cloned()
        .chain((!trace.way_words.is_empty() && !trace.rows.is_empty()).then(|| trace.way_words.clone()))
        .collect();
    let alternative = format!("{} {}", trace.sentence, notes.join(" "));
    let axis = telling.t("Ω, logarithmic", "Ω, logarithmisch");
    let picture = Block::Trace(Box::new(TracePicture {
        axis_words: if trace.logarithmic { axis.to_owned() } else { "Ω".to_owned() },
        alternative,
        trace,
    }));
    let notes = (!notes.is_empty()).then_some(Block::List(notes));
    std::iter::once(picture).chain(table.block()).chain(notes).collect()
}

/// What was not proved of the part that lies on the bench, in short sentences; said whose it is where there were two.
pub(super) fn not_proved(telling: &Telling) -> Vec<String> {
    let job = telling.job();
    let mut said = Vec::new();
    let Some(part) = &job.part else { return said };
    let language = telling.language();
    let all = job.measured_conductors();
    let names = |lacks: &dyn Fn(u32) -> bool| {
        let named: Vec<String> = all.iter().filter(|c| lacks(**c)).map(|c| view::measure::name(part, *c)).collect();
        (named.len(), named.join(", "))
    };
    let mut lacking = |what: &str, (count, list): (usize, String)| {
        let every = telling.t("no conductor was", "kein Leiter");
        match count {
            0 => {}
            n if n == all.len() => said.push(format!("{what}: {every}.")),
            _ => said.push(format!("{what}: {}.", not_these(telling, &list))),
        }
    };
    lacking(telling.t("Measured end to end", "Durchgemessen"), names(&|c| job.standing(c).next().is_none()));
    lacking(telling.t("Watched while moved", "Beim Bewegen gemessen"), names(&|c| job.proofs.swept(c).is_none()));
    let rows = proving::isolation(job, part, language);
    let unread = rows.iter().filter(|row| row.line.state == "none").count();
    if unread > 0 {
        let of = rows.len();
        said.push(match language {
            Language::En => format!("Isolation: {unread} of {of} pairs were not measured."),
            Language::De => format!("Isolation: {unread} von {of} Paaren nicht gemessen."),
        });
    }
    if job.bars_open().is_none() && !job.touches.is_empty() {
        said.push(
            telling
                .t(
                    "Shorting bars: not known whether they were open.",
                    "Kurzschlussbrücken: nicht bekannt, ob sie offen waren.",
                )
                .to_owned(),
        );
    }
    if let Some(last) = telling.told.parts.len().checked_sub(1).filter(|last| *last > 0) {
        said.iter_mut().for_each(|line| *line = format!("{}: {line}", telling.part_name(last)));
    }
    let check = proving::check(job, language);
    if check.state == "none" && job.instrument.is_some() {
        said.push(format!("{}: {}", telling.t("Meter", "Messgerät"), check.words));
    }
    said
}

fn not_these(telling: &Telling, list: &str) -> String {
    format!("{} {list}", telling.t("not", "nicht"))
}
