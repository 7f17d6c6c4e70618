//! The measuring screen.

use super::faces::end_name;
use super::model::{ConductorRow, MeasureView, TouchView, UndoKey};
use super::words::{end_words, instruction_words, interrupted_words, taken_words, tongue, undo_words};
use super::{contact, ladder};
use crate::job::{Job, KeptTouch};
use crate::part::Part;
use crate::session::Session;
use crate::settle::TouchKind;
use crate::unit::{Now, Unit};
use crate::verdict::words::Language;

/// What is measured, what comes next, and what can be pressed.
pub(super) fn of(session: &Session, job: &Job, now: &Now) -> Option<MeasureView> {
    let part = job.part.as_ref()?;
    let language = session.language();
    let meter = session.meter(now);
    let now_conductor = session.announced().map(|(conductor, _)| conductor);
    let (taken, wanted) = job.progress();
    let typed = job.is_typed();
    let contact = contact::of(session, now);
    let judging = job.judged();
    Some(MeasureView {
        now: now_conductor,
        instruction: match now_conductor {
            Some(conductor) if meter.wanted.is_none() && !typed => interrupted_words(&name(part, conductor), language),
            _ => instruction_words(
                part,
                now_conductor.map(|c| (c, job.standing(c).count())),
                job.measured_conductors().is_empty(),
                language,
            ),
        },
        contact,
        typed,
        rows: rows(job, part, now_conductor, language),
        zero_first: zero_first(job, language),
        last_taken: job.newest_touch().map(|t| taken_words(&name(part, t.conductor), &touch_text(&t.taken), language)),
        undo: session.may_undo().map(|t| UndoKey {
            touch: t.touch,
            words: undo_words(&name(part, t.conductor), &touch_text(&t.taken), language),
        }),
        can_judge: session.may_judge(),
        taken: u32::try_from(taken).unwrap_or(u32::MAX),
        wanted: u32::try_from(wanted).unwrap_or(u32::MAX),
        ladders: judging.map(|j| ladder::of(job, &j, language)).unwrap_or_default(),
    })
}

/// A candidate is held against what the old part read: leads that nobody zeroed would be taken for its own.
fn zero_first(job: &Job, language: Language) -> String {
    let leads = job.leads();
    if job.proofs.old.is_none() || leads.zeroed || leads.zero.is_some() {
        return String::new();
    }
    tongue(
        language,
        "Zero the leads first: this part is compared with the old one, and leads that were not zeroed would count as \
         part of it.",
        "Zuerst die Messleitungen nullen: Dieses Teil wird mit dem alten verglichen, und nicht genullte Leitungen \
         zählten zu ihm.",
    )
    .to_owned()
}

fn rows(job: &Job, part: &Part, now: Option<u32>, language: Language) -> Vec<ConductorRow> {
    (0u32..)
        .zip(&part.conductors)
        .map(|(index, conductor)| {
            let never = part.clip_points(index as usize).err();
            let taken = job.standing(index).count();
            let wanted = match job.chosen {
                Some((chosen, goal)) if chosen == index => goal.max(job.wanted()),
                _ => job.wanted(),
            };
            let state = match never {
                Some(_) => "never",
                None if now == Some(index) => "now",
                None if taken >= wanted => "done",
                None => "to-come",
            };
            ConductorRow {
                conductor: index,
                name: conductor.name.clone(),
                ends: format!("{} – {}", end_name(part, &conductor.from), end_name(part, &conductor.to)),
                group: conductor.group.clone().unwrap_or_default(),
                state: state.to_owned(),
                never_words: never.map_or(String::new(), |why| end_words(why, language).to_owned()),
                touches: job.touches.iter().filter(|k| k.fact.conductor == index).map(touch_view).collect(),
                wanted: if never.is_some() { 0 } else { u32::try_from(wanted).unwrap_or(u32::MAX) },
            }
        })
        .collect()
}

fn touch_view(kept: &KeptTouch) -> TouchView {
    let kind = match kept.fact.taken.kind {
        TouchKind::Settled => "settled",
        TouchKind::AsItWas => "as-it-was",
        TouchKind::OverRange => "over-range",
        TouchKind::Typed => "typed",
        TouchKind::TypedOverRange => "typed-over-range",
    };
    TouchView { text: touch_digits(&kept.fact.taken), kind: kind.to_owned(), undone: kept.undone }
}

fn touch_digits(touch: &crate::settle::Touch) -> String {
    touch.middle().map_or("OL".to_owned(), |q| q.to_string())
}

pub(crate) fn touch_text(touch: &crate::settle::Touch) -> String {
    match touch.middle() {
        Some(quantity) => format!("{quantity} {}", Unit::Ohm.sign()),
        None => "OL".into(),
    }
}

pub(crate) fn name(part: &Part, conductor: u32) -> String {
    part.conductors.get(conductor as usize).map_or(String::new(), |c| c.name.clone())
}
