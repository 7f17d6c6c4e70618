//! The procedure of the job on the bench, worded: its list, its step to do, and what stands of the vehicle's safety.

mod card;
mod ends;
mod fields;
pub(crate) mod proof;
pub(crate) mod second;
#[cfg(test)]
mod tests;

use super::asks::Reply;
use super::model::{ProcedureLine, SafeView, WorkLine, WorkView};
use super::words::{clock_words, fact_name, outcome_words, tongue, why_words};
use crate::job::Job;
use crate::procedure::{Fact, Procedure, Step, StepKind};
use crate::record::{Done, StepDone};
use crate::session::{KeptProcedure, Session};
use crate::unit::Now;
use crate::verdict::words::Language;
use crate::work::{How, StepRefusal, Waiting, Why, Work};
use uuid::Uuid;

/// The procedures that can be followed, by title.
pub fn procedures(session: &Session) -> Reply {
    let kept = session.library().all().iter().filter(|kept| !kept.withdrawn);
    let mut lines: Vec<ProcedureLine> = kept.map(|kept| kept_line(kept, session)).collect();
    lines.sort_by(|a, b| a.title.cmp(&b.title));
    Reply::Procedures { lines }
}

/// A step of the procedure of the job on the bench.
pub fn step_card(session: &Session, step: &str, now: &Now) -> Reply {
    let found = session.job().and_then(|job| {
        let work = job.work.as_deref()?;
        Some(card::of((session, job, work), work.procedure.step(step)?, now))
    });
    match found {
        Some(card) => Reply::Step { card: Box::new(card) },
        None => Reply::refused(StepRefusal::NoSuchStep.into(), session.language()),
    }
}

/// The procedure a job follows.
pub(super) fn of(session: &Session, job: &Job, now: &Now) -> Option<Box<WorkView>> {
    let work = job.work.as_deref()?;
    let language = session.language();
    let open = job.finished.is_none();
    let step_now = job.step_now(now).filter(|_| open);
    let worse = job.compared_otherwise();
    let steps: Vec<WorkLine> = work
        .procedure
        .steps
        .iter()
        .map(|step| line((session, work), step, (step_now.map(|s| s.id.as_str()), &worse), now))
        .collect();
    let settled = steps.iter().filter(|line| matches!(line.state.as_str(), "done" | "skipped" | "untested")).count();
    let small = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Some(Box::new(WorkView {
        procedure: procedure_line(&work.procedure, work.approved_by, session),
        settled: small(settled),
        of: small(steps.len()),
        steps,
        now: step_now.map(|step| card::of((session, job, work), step, now)),
        safe: safe(work, open, now, language),
        technician: second::technician_words(session, work),
        may_name: job.may_name_technician().is_ok(),
        waiting: second::waiting(session, work, now),
        ended: work
            .outcome
            .filter(|_| !open)
            .map_or(String::new(), |o| ended_words(work, outcome_words(o, language), language)),
    }))
}

fn ended_words(work: &Work, outcome: &str, language: Language) -> String {
    if work.waits_for_second().next().is_none() {
        return format!("{outcome}.");
    }
    format!("{outcome}. {}", second::waits_words(language))
}

fn kept_line(kept: &KeptProcedure, session: &Session) -> ProcedureLine {
    procedure_line(&kept.procedure, kept.approved_by, session)
}

fn procedure_line(procedure: &Procedure, approved_by: Option<Uuid>, session: &Session) -> ProcedureLine {
    let (head, language) = (&procedure.head, session.language());
    let approved = second::approved_words(session, approved_by);
    let said = |texts: &[crate::procedure::Texts]| texts.iter().map(|t| t.get(language).to_owned()).collect();
    ProcedureLine {
        procedure: head.id.clone(),
        title: head.title.get(language).to_owned(),
        applies_to: head.applies_to.get(language).to_owned(),
        standing: standing_words(procedure, &approved, language),
        version: head.version,
        draft: approved_by.is_none(),
        approved,
        tools: said(&head.tools),
        parts_to_renew: said(&head.parts_to_renew),
    }
}

/// Version, day, author, and who stands for it; `approved` is empty when nobody does.
pub(crate) fn standing_words(procedure: &Procedure, approved: &str, language: Language) -> String {
    let head = &procedure.head;
    let version = match language {
        Language::En => format!("Version {}, {}, by {}.", head.version, head.date, head.author),
        Language::De => format!("Fassung {}, {}, von {}.", head.version, head.date, head.author),
    };
    let stands = tongue(
        language,
        "Draft: nobody but its author stands for it.",
        "Entwurf: Niemand außer dem Verfasser steht dafür ein.",
    );
    format!("{version} {}", if approved.is_empty() { stands } else { approved })
}

/// The title of a step by its id.
pub(crate) fn title_of<'a>(work: &'a Work, language: Language) -> impl Fn(&str) -> String + use<'a> {
    move |id| work.procedure.step(id).map_or(String::new(), |step| step.title.get(language).to_owned())
}

/// `worse`: comparisons that come out worse now.
fn line(
    (session, work): (&Session, &Work),
    step: &Step,
    (now_id, worse): (Option<&str>, &[String]),
    now: &Now,
) -> WorkLine {
    let language = session.language();
    let state = work.state(&step.id);
    let again = work.is_to_do_again(step, now) || worse.contains(&step.id);
    let is_now = now_id == Some(step.id.as_str());
    let word = match state.map(|state| &state.how) {
        _ if is_now && !again => "now",
        _ if again => "again",
        Some(How::Skipped(_)) => "skipped",
        Some(How::Done(StepDone { done: Done::NotTested, .. })) => "untested",
        Some(How::Done(_)) => "done",
        None => "to-come",
    };
    let blocked = if state.is_some() && !again { String::new() } else { blocked_words(work, step, now, language) };
    WorkLine {
        step: step.id.clone(),
        title: step.title.get(language).to_owned(),
        state: word.to_owned(),
        proof: match state {
            Some(state) if worse.contains(&step.id) => proof::worse(work, step, state, language),
            Some(state) => proof::of(work, step, state, language),
            None if work.is_lapsed(&step.id) => proof::lapsed(language).to_owned(),
            None => String::new(),
        },
        blocked,
        second: state.map_or(String::new(), |state| second::signed_words(session, state)),
    }
}

/// Why a step cannot be begun, shortly: the first thing that is missing.
fn blocked_words(work: &Work, step: &Step, now: &Now, language: Language) -> String {
    match work.may_begin(step, now) {
        Ok(()) | Err(StepRefusal::Settled) => String::new(),
        Err(StepRefusal::StepFirst { step }) => match language {
            Language::En => format!("First: {}.", title_of(work, language)(&step)),
            Language::De => format!("Zuerst: {}.", title_of(work, language)(&step)),
        },
        Err(_) => {
            let missing = work.missing(step, now);
            let names: Vec<String> = missing.iter().map(|(fact, _)| fact_name(fact, language)).collect();
            match language {
                Language::En => format!("Missing: {}.", names.join(", ")),
                Language::De => format!("Es fehlt: {}.", names.join(", ")),
            }
        }
    }
}

/// What stands of the vehicle's safety, for the top line.
fn safe(work: &Work, open: bool, now: &Now, language: Language) -> SafeView {
    let title = title_of(work, language);
    let off = work.stands(&Fact::CableOff, now);
    let (state, words) = match &off {
        _ if !open || !work.procedure.steps.iter().any(|step| step.gives.contains(&Fact::CableOff)) => {
            ("none", String::new())
        }
        Err(Why::NotYet) => ("on", tongue(language, "The cable is on.", "Das Kabel ist dran.").to_owned()),
        // That is how it is meant at the end: nothing to be alarmed about, and nothing to touch either.
        Err(Why::StepBegun(step, at)) if work.procedure.step(step).is_some_and(|step| step.battery_on) => {
            let at = clock_words(at);
            let words = match language {
                Language::En => format!("The battery is on again since {at}."),
                Language::De => format!("Die Batterie ist seit {at} wieder dran."),
            };
            ("on", words)
        }
        Err(_) => ("doubt", tongue(language, "Not safe any more.", "Nicht mehr abgesichert.").to_owned()),
        Ok(held) => {
            let at = clock_words(&held.wall);
            let (waited, dead) =
                (work.stands(&Fact::WaitDone, now).is_ok(), work.stands(&Fact::DeadProven, now).is_ok());
            let since = match language {
                Language::En => format!("Cable off {at}."),
                Language::De => format!("Kabel ab {at}."),
            };
            let (state, rest) = match (waited, dead) {
                (true, true) => {
                    ("dead", tongue(language, "Waited, proven dead.", "Gewartet, spannungsfrei.").to_owned())
                }
                (true, false) => (
                    "waited",
                    tongue(language, "Waited. Not proven dead yet.", "Gewartet. Spannung noch nicht geprüft.")
                        .to_owned(),
                ),
                (false, _) => ("waiting", left_words(work, now, language)),
            };
            (state, format!("{since} {rest}"))
        }
    };
    let ended = open && state == "doubt";
    SafeView {
        state: state.to_owned(),
        words,
        lost: off.as_ref().err().filter(|_| ended).map_or(String::new(), |why| why_words(why, &title, language)),
        supply_key: if off.is_ok() && open {
            tongue(language, "The cable was on again", "Das Kabel war wieder dran").to_owned()
        } else {
            String::new()
        },
        supply_ends: if off.is_ok() && open {
            tongue(
                language,
                "This ends: cable off, the wait, the proof. All three are done again before anything is touched.",
                "Das beendet: Kabel ab, Wartezeit, Feststellung. Alle drei kommen noch einmal, bevor etwas angefasst wird.",
            )
            .to_owned()
        } else {
            String::new()
        },
    }
}

/// How much of the wait that comes next is left.
fn left_words(work: &Work, now: &Now, language: Language) -> String {
    let waits = || {
        work.procedure.steps.iter().filter_map(|step| match &step.kind {
            StepKind::Wait(wait) => Some((step, wait)),
            _ => None,
        })
    };
    let pending = waits().find(|(step, _)| work.state(&step.id).is_none() || work.is_to_do_again(step, now));
    let Some((_, wait)) = pending.or_else(|| waits().next_back()) else { return String::new() };
    match work.waiting(wait, now) {
        Waiting::Counting { left, .. } => {
            let seconds = left.0.div_ceil(1_000);
            match language {
                Language::En => format!("Wait {seconds} s more."),
                Language::De => format!("Noch {seconds} s warten."),
            }
        }
        Waiting::Over(_) => {
            tongue(language, "The time is over; open the wait.", "Die Zeit ist um; den Warteschritt öffnen.").to_owned()
        }
        Waiting::Stopped(why) => why_words(&why, &title_of(work, language), language),
    }
}
