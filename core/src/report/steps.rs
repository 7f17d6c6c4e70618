//! The procedure: which, its steps, what was left out, who signed.

use super::Telling;
use super::model::{Block, Field, Section, Table};
use crate::procedure::{Status, Step, StepKind};
use crate::record::{Done, StepDone};
use crate::verdict::words::Language;
use crate::view::work::{proof, second, standing_words, title_of};
use crate::work::{How, StepState, Work};
use uuid::Uuid;

/// Every step that was done, with how, in the order of the file.
pub(super) fn done_at<'a>(telling: &'a Telling) -> Vec<(&'a Step, &'a StepState, &'a StepDone)> {
    let Some(work) = telling.job().work.as_deref() else { return Vec::new() };
    let done = work.procedure.steps.iter().filter_map(|step| match work.state(&step.id) {
        Some(state) => match &state.how {
            How::Done(said) => Some((step, state, said)),
            How::Skipped(_) => None,
        },
        None => None,
    });
    done.collect()
}

/// Which procedure, in which version, and who stands for it.
pub(super) fn procedure(telling: &Telling) -> Option<Section> {
    let work = telling.job().work.as_deref()?;
    let language = telling.language();
    let head = &work.procedure.head;
    let approved = telling.person(work.approved_by).map_or(String::new(), |name| second::approved_by(&name, language));
    let mut fields = vec![
        Field::new(telling.t("Procedure", "Ablauf"), head.title.get(language)),
        Field::new(telling.t("Name of the file", "Name der Datei"), head.id.clone()),
        Field::new(telling.t("Version", "Fassung"), standing_words(&work.procedure, &approved, language)),
        Field::new(telling.t("For", "Für"), head.applies_to.get(language)),
    ];
    fields.push(Field::new(telling.t("Done by", "Ausgeführt von"), named(telling, work.technician)));
    let sources: Vec<&str> = work.procedure.head.sources.iter().map(|source| source.text.get(language)).collect();
    if !sources.is_empty() {
        fields.push(Field::new(telling.t("Sources", "Quellen"), sources.join("; ")));
    }
    if work.procedure.head.status == Status::Withdrawn {
        let gone = telling.t("This version is withdrawn.", "Diese Fassung ist zurückgezogen.");
        fields.push(Field::new(telling.t("Note", "Hinweis"), gone));
    }
    Section::of(telling.t("The procedure", "Der Ablauf"), vec![Block::Fields(fields)])
}

/// Somebody by name, or that nobody was named.
fn named(telling: &Telling, who: Option<Uuid>) -> String {
    let nobody = || telling.t("nobody of the roster was named", "niemand aus der Liste wurde genannt").to_owned();
    telling.person(who).unwrap_or_else(nobody)
}

/// Who did a step when it was said to be done.
pub(super) fn doer(telling: &Telling, step: &str) -> String {
    named(telling, telling.told.done_by.get(step).copied().flatten())
}

/// Every step of the procedure.
pub(super) fn all(telling: &Telling) -> Option<Section> {
    let work = telling.job().work.as_deref()?;
    let language = telling.language();
    let mut table = Table::new(
        telling.t("The steps", "Die Schritte"),
        &[
            telling.t("#No.", "#Nr."),
            telling.t("Step", "Schritt"),
            telling.t("Result", "Ergebnis"),
            telling.t("Time", "Zeit"),
            telling.t("Second person", "Zweite Person"),
        ],
    );
    for (number, step) in (1..).zip(&work.procedure.steps) {
        let (result, at, second) = match work.state(&step.id) {
            Some(state) => (result(telling, work, (step, state)), state.at.to_minute(), second_words(telling, state)),
            None => (telling.t("Not done.", "Nicht erledigt.").to_owned(), String::new(), String::new()),
        };
        table.push(vec![number.to_string(), step.title.get(language).to_owned(), result, at, second], false);
    }
    Section::of(telling.t("The steps", "Die Schritte"), table.block().into_iter().collect())
}

pub(super) fn result(telling: &Telling, work: &Work, (step, state): (&Step, &StepState)) -> String {
    let said = match &state.how {
        How::Skipped(reason) => return format!("{}: {reason}", telling.t("Left out", "Ausgelassen")),
        How::Done(said) => said,
    };
    if said.done == Done::NotTested {
        return format!("{}: {}", telling.t("Not tested", "Nicht geprüft"), reason(telling, &said.words));
    }
    let value = proof::value(work, step, &said.done, telling.language());
    let done = telling.t("Done", "Erledigt");
    let value = if value.is_empty() { done.to_owned() } else { value };
    if said.words.is_empty() { value } else { format!("{value} – {}", said.words) }
}

fn reason(telling: &Telling, words: &str) -> String {
    if words.is_empty() {
        telling.t("no reason given", "ohne Angabe eines Grundes").to_owned()
    } else {
        words.to_owned()
    }
}

fn second_words(telling: &Telling, state: &StepState) -> String {
    let name_of = |person| telling.person(Some(person)).unwrap_or_default();
    second::second_words(state, &name_of, telling.language())
}

/// Steps that were left out or not tested, with the reasons.
pub(super) fn left_out(telling: &Telling) -> Option<Section> {
    let work = telling.job().work.as_deref()?;
    let mut table = Table::new(
        telling.t("Left out and not tested", "Ausgelassen und nicht geprüft"),
        &[
            telling.t("Step", "Schritt"),
            telling.t("How", "Wie"),
            telling.t("Reason", "Grund"),
            telling.t("Time", "Zeit"),
        ],
    );
    for (step, how, reason) in omitted(telling, work) {
        let at = work.state(&step.id).map_or(String::new(), |state| state.at.to_minute());
        let title = step.title.get(telling.language()).to_owned();
        table.push(vec![title, how.to_owned(), reason, at], false);
    }
    let title = telling.t("Left out and not tested", "Ausgelassen und nicht geprüft");
    Section::of(title, table.block().into_iter().collect())
}

/// The same for the first page; and what is neither done nor left out.
pub(super) fn left_out_lines(telling: &Telling, work: &Work) -> Vec<String> {
    let language = telling.language();
    let line = |(step, how, reason): (&Step, &str, String)| format!("{} – {how}: {reason}", step.title.get(language));
    let mut lines: Vec<String> = omitted(telling, work).into_iter().map(line).collect();
    let open: Vec<&Step> = work.procedure.steps.iter().filter(|step| work.state(&step.id).is_none()).collect();
    match open.as_slice() {
        [] => {}
        [first, .., last] if open.len() > 4 => {
            let (first, last) = (first.title.get(language), last.title.get(language));
            let count = open.len();
            lines.push(match language {
                Language::En => format!("{count} steps were not done, from “{first}” to “{last}”."),
                Language::De => format!("{count} Schritte sind nicht erledigt, von „{first}“ bis „{last}“."),
            });
        }
        few => {
            let named: Vec<&str> = few.iter().map(|step| step.title.get(language)).collect();
            lines.push(format!("{}: {}.", telling.t("Not done", "Nicht erledigt"), named.join(", ")));
        }
    }
    lines
}

fn omitted<'a>(telling: &'a Telling, work: &'a Work) -> Vec<(&'a Step, &'a str, String)> {
    let of = |step: &'a Step| match &work.state(&step.id)?.how {
        How::Skipped(reason) => Some((step, telling.t("left out", "ausgelassen"), reason.clone())),
        How::Done(said) if said.done == Done::NotTested => {
            Some((step, telling.t("not tested", "nicht geprüft"), reason(telling, &said.words)))
        }
        How::Done(_) => None,
    };
    work.procedure.steps.iter().filter_map(of).collect()
}

/// Who signed what and when, and whose signature is waited for.
pub(super) fn signature_lines(telling: &Telling) -> Vec<String> {
    let Some(work) = telling.job().work.as_deref() else { return Vec::new() };
    let language = telling.language();
    let mut lines = Vec::new();
    for (step, state, said) in done_at(telling) {
        let StepKind::Sign(sign) = &step.kind else { continue };
        if said.done == Done::NotTested {
            continue;
        }
        let name = signer(telling, telling.told.done_by.get(&step.id).copied().flatten());
        let (role, title) = (sign.role.get(language), step.title.get(language));
        lines.push(format!("{role}, {title}: {name}, {}.", state.at.to_minute()));
    }
    let title = title_of(work, language);
    for (nth, (step, who, at)) in telling.told.signed.iter().enumerate() {
        let name = telling.person(Some(who.person)).unwrap_or_default();
        let second = if who.at_office {
            telling.t("Second signature, at the office", "Zweite Unterschrift, im Büro")
        } else {
            telling.t("Second signature", "Zweite Unterschrift")
        };
        let newest = !telling.told.signed[nth + 1..].iter().any(|(other, ..)| other == step);
        let stands = newest && work.state(step).is_some_and(|state| state.second == Some(*who));
        let lapsed = if stands { "" } else { telling.t(" It stands no longer.", " Sie gilt nicht mehr.") };
        let at = telling.here(at).to_minute();
        lines.push(format!("{second}, {}: {name}, {at}.{lapsed}", title(step)));
    }
    for id in work.waits_for_second() {
        let Some(step) = work.procedure.step(id) else { continue };
        let waits = telling.t("Second signature waiting", "Zweite Unterschrift steht aus");
        lines.push(format!("{waits}: {}. {}", title(id), second::why(work, step, language)));
    }
    lines
}

fn signer(telling: &Telling, technician: Option<Uuid>) -> String {
    let typed = telling.asked.details.map(|details| details.technician.trim()).filter(|name| !name.is_empty());
    let unnamed = || telling.t("signed without a name", "ohne Namen unterschrieben").to_owned();
    telling.person(technician).or_else(|| typed.map(str::to_owned)).unwrap_or_else(unnamed)
}
