//! The first page: what somebody has to know who brought a vehicle.

use super::model::{Block, Field, LadderPicture, Section};
use super::{Telling, proofs, steps};
use crate::procedure::CodesWhen;
use crate::record::{Done, Outcome};
use crate::verdict::words::Language;
use crate::view::words::outcome_words;
use crate::view::{self, Ladder, Mark, Rung, VerdictView};
use crate::work::{How, Work};

/// Most rungs of a ladder on the first page.
pub(super) const MOST_RUNGS: usize = 16;
/// Rungs shown of a longer ladder when none stands out.
const FEW_RUNGS: usize = 4;

/// Order, vehicle and whom it concerns.
pub(super) fn head(telling: &Telling) -> Vec<Field> {
    let job = telling.job();
    let mut fields = vec![Field::new(telling.t("Order", "Auftrag"), job.order.clone())];
    let unknown = || telling.t("not stated", "nicht angegeben").to_owned();
    let stated = |text: &str| if text.trim().is_empty() { unknown() } else { text.to_owned() };
    fields.push(Field::new(telling.t("Vehicle", "Fahrzeug"), stated(&job.vehicle)));
    match telling.asked.details {
        None => fields.push(Field::new(
            telling.t("Personal details", "Persönliche Angaben"),
            telling.t(
                "erased, or not here: customer, plate, VIN, technician, complaint",
                "gelöscht oder nicht hier: Kunde, Kennzeichen, FIN, Techniker, Beanstandung",
            ),
        )),
        Some(details) => fields.extend([
            Field::new(telling.t("Customer", "Kunde"), stated(&details.customer)),
            Field::new(telling.t("Number plate", "Kennzeichen"), stated(&details.plate)),
            Field::new(telling.t("VIN", "FIN"), stated(&details.vin)),
            Field::new(telling.t("Technician", "Techniker"), stated(&details.technician)),
        ]),
    }
    fields.push(Field::new(telling.t("Opened", "Eröffnet"), job.opened.to_minute()));
    let closed = job.finished.as_ref().map(|at| at.to_minute());
    let open = || telling.t("not closed", "nicht abgeschlossen").to_owned();
    fields.push(Field::new(telling.t("Closed", "Abgeschlossen"), closed.unwrap_or_else(open)));
    let outcome = job.work.as_ref().and_then(|work| work.outcome).filter(|_| job.finished.is_some());
    let outcome =
        outcome.map_or(telling.t("not recorded", "nicht aufgezeichnet"), |o| outcome_words(o, telling.language()));
    fields.push(Field::new(telling.t("Outcome", "Ausgang"), outcome));
    fields
}

/// The sections of the first page.
pub(super) fn sections(telling: &Telling) -> Vec<Section> {
    let all = [
        wrong(telling),
        measured(telling),
        verdict(telling),
        done(telling),
        not_tested(telling),
        ended(telling),
        signed(telling),
    ];
    all.into_iter().flatten().collect()
}

fn wrong(telling: &Telling) -> Option<Section> {
    let mut blocks = Vec::new();
    let complaint = match telling.asked.details {
        None => telling.t(
            "What the customer said was erased with the personal details, or is not here.",
            "Was der Kunde sagte, ist mit den persönlichen Angaben gelöscht oder nicht hier.",
        ),
        Some(details) if details.complaint.trim().is_empty() => {
            telling.t("Nobody wrote down what was wrong.", "Was nicht in Ordnung war, hat niemand aufgeschrieben.")
        }
        Some(details) => details.complaint.trim(),
    };
    blocks.push(Block::Words(complaint.to_owned()));
    let before = telling.job().work.as_ref().and_then(|work| work.codes(CodesWhen::Before));
    blocks.extend(before.map(|(codes, _)| {
        let list: Vec<String> = codes.iter().map(ToString::to_string).collect();
        let none = telling.t("no code stored", "kein Code gespeichert").to_owned();
        let list = if list.is_empty() { none } else { list.join(", ") };
        Block::Words(format!("{}: {list}.", telling.t("Trouble codes before", "Fehlercodes davor")))
    }));
    Section::of(telling.t("What was wrong", "Was nicht in Ordnung war"), blocks)
}

fn measured(telling: &Telling) -> Option<Section> {
    let mut said = Vec::new();
    for (index, job) in telling.told.parts.iter().enumerate() {
        let Some(part) = &job.part else { continue };
        let all = job.measured_conductors();
        let read = all.iter().filter(|c| job.standing(**c).next().is_some()).count();
        let readings = all.iter().map(|c| job.standing(*c).count()).sum::<usize>();
        let name = if telling.told.parts.len() > 1 {
            format!("{} ({})", telling.part_name(index), part.name)
        } else {
            part.name.clone()
        };
        let of = all.len();
        said.push(match telling.language() {
            Language::En => format!("{name}: {read} of {of} conductors measured end to end, {readings} readings."),
            Language::De => format!("{name}: {read} von {of} Leitern durchgemessen, {readings} Messungen."),
        });
        let of_part =
            if telling.told.parts.len() > 1 { format!("{}: ", telling.part_name(index)) } else { String::new() };
        let swept = all.iter().filter(|c| job.proofs.swept(**c).is_some()).count();
        if swept > 0 {
            said.push(match telling.language() {
                Language::En => format!("{of_part}{swept} of {of} conductors watched while the part was moved."),
                Language::De => format!("{of_part}{swept} von {of} Leitern gemessen, während das Teil bewegt wurde."),
            });
        }
        let pairs = job.proofs.isolation.iter().filter(|kept| !kept.withdrawn).count();
        if pairs > 0 {
            said.push(match telling.language() {
                Language::En => format!("{of_part}{pairs} isolation readings between conductors or to metal."),
                Language::De => format!("{of_part}{pairs} Isolationsmessungen zwischen Leitern oder gegen Metall."),
            });
        }
    }
    if said.is_empty() {
        said.push(telling.t("Nothing was measured.", "Es wurde nichts gemessen.").to_owned());
    }
    Section::of(telling.t("What was measured", "Was gemessen wurde"), vec![Block::List(said)])
}

fn verdict(telling: &Telling) -> Option<Section> {
    let mut blocks = Vec::new();
    let last = telling.told.parts.len() - 1;
    for (index, job) in telling.told.parts.iter().enumerate() {
        blocks.extend(telling.of_part(index));
        let view = view::verdict_of(job, telling.language());
        // Marks of a verdict that does not hold could still look like a pass.
        let holds = view.iter().filter(|view| index == last && !view.outdated);
        let told = holds.flat_map(|view| &view.ladders).filter(|ladder| is_told(ladder));
        let pictures: Vec<Block> = told.flat_map(|ladder| short_picture(telling, ladder)).collect();
        let open = index == last && job.finished.is_none();
        blocks.extend(verdict_words(telling, view, open));
        blocks.extend(pictures);
    }
    Section::of(telling.t("Verdict", "Urteil"), blocks)
}

/// Something of it was measured: a group that was not says so among what was not tested.
fn is_told(ladder: &Ladder) -> bool {
    ladder.rungs.iter().any(|rung| rung.mark != Mark::NotMeasured)
}

/// The picture on the first page: of a long ladder the conductors that stand out; the whole stands in the details.
fn short_picture(telling: &Telling, ladder: &Ladder) -> Vec<Block> {
    let out = |rung: &&Rung| rung.mark != Mark::Consistent;
    let mut shown: Vec<Rung> = ladder.rungs.iter().filter(out).take(MOST_RUNGS).cloned().collect();
    if ladder.rungs.len() <= MOST_RUNGS {
        return vec![picture(telling, ladder)];
    }
    if shown.is_empty() {
        shown.extend(ladder.rungs.iter().take(FEW_RUNGS).cloned());
    }
    let more = ladder.rungs.len() - shown.len();
    let alike = ladder.rungs.iter().filter(|rung| rung.mark == Mark::Consistent).count();
    let words = match telling.language() {
        Language::En => format!("{alike} of {} read alike; {more} more stand in the details.", ladder.rungs.len()),
        Language::De => {
            format!("{alike} von {} messen gleich; {more} weitere stehen im Einzelnen.", ladder.rungs.len())
        }
    };
    vec![picture(telling, &Ladder { rungs: shown, ..ladder.clone() }), Block::Words(words)]
}

fn verdict_words(telling: &Telling, view: Option<VerdictView>, open: bool) -> Vec<Block> {
    let Some(view) = view else {
        return vec![Block::Headline(telling.t("No verdict was given.", "Es wurde kein Urteil gegeben.").to_owned())];
    };
    if view.outdated {
        let gone = telling.t("No verdict holds any more.", "Kein Urteil gilt mehr.");
        let said = [&view.since, &view.before].into_iter().filter(|words| !words.is_empty()).cloned();
        return vec![Block::Headline(gone.to_owned()), Block::List(said.collect())];
    }
    let mut blocks = vec![Block::Headline(view.headline)];
    blocks.extend(match view.sentences.len() {
        0 => None,
        1..=3 => Some(Block::List(view.sentences)),
        // Many short sentences would push the rest off the first page.
        _ => Some(Block::Words(view.sentences.join(" "))),
    });
    if open {
        blocks.push(Block::Words(format!("{}: {}", telling.t("Next", "Als Nächstes"), view.action)));
    }
    blocks.push(Block::Words(view.measured_with));
    blocks
}

/// A ladder with what is written beside it.
pub(super) fn picture(telling: &Telling, ladder: &Ladder) -> Block {
    let old = ladder.rungs.iter().any(|rung| rung.old_at.is_some());
    let limit = ladder.rungs.iter().any(|rung| rung.limit_at.is_some());
    let rungs: Vec<String> =
        ladder.rungs.iter().map(|rung| format!("{}: {}, {}", rung.name, rung.value, rung.word)).collect();
    let alike = telling.t("Counts as alike", "Gilt als gleich");
    Block::Ladder(Box::new(LadderPicture {
        band_words: ladder.band.as_ref().map_or(String::new(), |band| format!("{alike}: {}", band.words)),
        axis_words: if ladder.logarithmic {
            telling.t("Ω, logarithmic", "Ω, logarithmisch").to_owned()
        } else {
            "Ω".to_owned()
        },
        old_words: if old { telling.t("old part", "altes Teil").to_owned() } else { String::new() },
        limit_words: if limit { telling.t("limit", "Grenzwert").to_owned() } else { String::new() },
        alternative: format!("{} {}", ladder.sentence, rungs.join("; ")),
        ladder: ladder.clone(),
    }))
}

fn done(telling: &Telling) -> Option<Section> {
    let Some(work) = telling.job().work.as_deref() else {
        let only = if telling.told.touches.is_empty() {
            telling.t(
                "No procedure was followed, and nothing is recorded.",
                "Keinem Ablauf wurde gefolgt, und nichts ist aufgezeichnet.",
            )
        } else {
            telling.t(
                "It was measured only. No procedure was followed, and nothing else is recorded.",
                "Es wurde nur gemessen. Keinem Ablauf wurde gefolgt, und nichts anderes ist aufgezeichnet.",
            )
        };
        return Section::of(telling.t("What was done", "Was getan wurde"), vec![Block::Words(only.to_owned())]);
    };
    let language = telling.language();
    let title = work.procedure.head.title.get(language);
    let all = work.procedure.steps.len();
    let settled = |how: fn(&How) -> bool| {
        let states = work.procedure.steps.iter().filter_map(|step| work.state(&step.id));
        states.filter(|state| how(&state.how)).count()
    };
    let really = settled(|how| matches!(how, How::Done(said) if said.done != Done::NotTested));
    let mut said = vec![match language {
        Language::En => format!("{title}: {really} of {all} steps done."),
        Language::De => format!("{title}: {really} von {all} Schritten erledigt."),
    }];
    said.extend(super::bolts::part_lines(telling));
    said.extend(super::bolts::bolt_line(telling));
    Section::of(telling.t("What was done", "Was getan wurde"), vec![Block::List(said)])
}

fn not_tested(telling: &Telling) -> Option<Section> {
    let mut said = proofs::not_proved(telling);
    if let Some(work) = telling.job().work.as_deref() {
        said.extend(steps::left_out_lines(telling, work));
        said.extend(unread_at_the_end(telling, work));
    } else {
        said.push(
            telling
                .t(
                    "What this report does not name was not tested.",
                    "Was dieser Bericht nicht nennt, wurde nicht geprüft.",
                )
                .to_owned(),
        );
    }
    Section::of(telling.t("What was not tested", "Was nicht geprüft wurde"), vec![Block::List(said)])
}

fn unread_at_the_end(telling: &Telling, work: &Work) -> Option<String> {
    work.codes(CodesWhen::After).is_none().then(|| {
        telling.t("Trouble codes were not read at the end.", "Die Fehlercodes wurden am Ende nicht gelesen.").to_owned()
    })
}

fn ended(telling: &Telling) -> Option<Section> {
    let job = telling.job();
    let outcome: Option<Outcome> = job.work.as_ref().and_then(|work| work.outcome);
    let said = match (&job.finished, outcome) {
        (None, _) => telling.t("The job is not closed.", "Der Auftrag ist nicht abgeschlossen.").to_owned(),
        (Some(at), Some(outcome)) => format!("{}. {}", outcome_words(outcome, telling.language()), at.to_minute()),
        (Some(at), None) => match telling.language() {
            Language::En => format!("Closed at {}. Whether anything was repaired is not recorded.", at.to_minute()),
            Language::De => {
                format!("Abgeschlossen um {}. Ob etwas repariert wurde, ist nicht aufgezeichnet.", at.to_minute())
            }
        },
    };
    Section::of(telling.t("How it ended", "Wie er endete"), vec![Block::Words(said)])
}

fn signed(telling: &Telling) -> Option<Section> {
    let lines = steps::signature_lines(telling);
    let none = || vec![telling.t("Nobody has signed.", "Niemand hat unterschrieben.").to_owned()];
    let lines = if lines.is_empty() { none() } else { lines };
    Section::of(telling.t("Who signed", "Wer unterschrieb"), vec![Block::List(lines)])
}
