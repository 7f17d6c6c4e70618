//! What the clips are doing, for conductors and for what is done beside them.

use super::measure::name;
use super::model::ContactView;
use super::words::{
    contact_words, isolation_key, over_range_key, over_range_words, pair_words, refusal_notice, tongue,
};
use crate::job::Refusal;
use crate::meter::Shown;
use crate::session::{Aside, Session};
use crate::settle::Phase;
use crate::unit::Now;
use crate::verdict::words::Language;

/// The contact now; `off` while nothing is awaited or the meter is not live.
pub(super) fn of(session: &Session, now: &Now) -> ContactView {
    let language = session.language();
    let live = session.meter(now).live;
    let awaited = session.awaited().is_ok() && live.is_some();
    let state = state(session, session.watches_clips() && live.is_some());
    let announced = session.announced().map(|(conductor, _)| conductor);
    let shows_over_range = awaited && live.is_some_and(|r| r.shown == Shown::OverRange);
    let key = session.may_take_over_range(now);
    let before = announced
        .zip(session.job())
        .is_some_and(|(conductor, job)| job.standing(conductor).any(|touch| touch.taken.kind.is_over_range()));
    ContactView {
        words: contact_words(state, &clip_where(session, announced, language), language),
        settling: match session.settler().map(|s| s.phase()) {
            Some(Phase::Settling(thousandths)) if state == "settling" => thousandths,
            _ => 0,
        },
        can_take_as_it_is: state == "unsteady",
        can_take_over_range: key.is_ok(),
        over_range_key: match session.aside() {
            None => over_range_key(before, language).to_owned(),
            Some(Aside::Isolation { .. }) => {
                let told = live.is_some_and(|reading| reading.flags.auto_range.is_some());
                isolation_key(told, language).to_owned()
            }
            Some(Aside::Zero | Aside::Resistor { .. } | Aside::Sweep(_)) => String::new(),
        },
        over_range_words: match key {
            Err(refusal @ Refusal::AboveRange) if shows_over_range => refusal_notice(&refusal, language).words,
            // Said when the key would be obeyed, not each time the clips come off after a touch.
            Ok(()) => over_range_words(language).to_owned(),
            Err(_) => String::new(),
        },
        state: state.to_owned(),
    }
}

/// What the clips go on, as it stands after "clips on".
fn clip_where(session: &Session, announced: Option<u32>, language: Language) -> String {
    let Some(part) = session.job().and_then(|j| j.part.as_ref()) else { return String::new() };
    match session.aside() {
        None => announced.map_or(String::new(), |conductor| name(part, conductor)),
        Some(Aside::Zero) => tongue(language, "each other", "einander").to_owned(),
        Some(Aside::Resistor { .. }) => tongue(language, "the resistor", "dem Widerstand").to_owned(),
        Some(Aside::Isolation { a, other }) => pair_words(part, *a, *other, language),
        Some(Aside::Sweep(run)) => name(part, run.conductor),
    }
}

fn state(session: &Session, awaited: bool) -> &'static str {
    let Some(settler) = session.settler().filter(|_| awaited) else { return "off" };
    match settler.phase() {
        Phase::Lift if settler.still_on_taken() => "taken",
        Phase::Lift => "lift",
        Phase::Clip => "clip",
        Phase::Settling(_) => "settling",
        Phase::Unsteady => "unsteady",
        Phase::WillNotStand => "will-not-stand",
    }
}
