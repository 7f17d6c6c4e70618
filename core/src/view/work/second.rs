//! Who does the job, who signs second, and who stands for its procedure.

use crate::procedure::{Origin, Step, StepKind};
use crate::record::{Alike, Done, StepDone};
use crate::session::Session;
use crate::unit::Now;
use crate::verdict::words::Language;
use crate::view::model::SecondView;
use crate::view::people;
use crate::view::words::tongue;
use crate::work::{How, StepState, Work};
use uuid::Uuid;

/// Who signed a step second, or that it waits for that.
pub(super) fn signed_words(session: &Session, state: &StepState) -> String {
    let language = session.language();
    second_words(state, &|person| people::name(session.roster(), person, language), language)
}

/// The same; `name_of` names a person.
pub(crate) fn second_words(state: &StepState, name_of: &dyn Fn(Uuid) -> String, language: Language) -> String {
    match (state.wants_second, state.second) {
        (_, Some(second)) => {
            let name = name_of(second.person);
            match (language, second.at_office) {
                (Language::En, false) => format!("Signed second by {name}."),
                (Language::De, false) => format!("Gegengezeichnet: {name}."),
                (Language::En, true) => format!("Signed second by {name} at the office."),
                (Language::De, true) => format!("Im Büro gegengezeichnet: {name}."),
            }
        }
        (true, None) => waits_words(language).to_owned(),
        (false, None) => String::new(),
    }
}

/// Something waits for a second person.
pub(in crate::view) fn waits_words(language: Language) -> &'static str {
    tongue(language, "Second signature waiting.", "Zweite Unterschrift steht aus.")
}

/// Who stands for a version of a procedure; empty when nobody does.
pub(super) fn approved_words(session: &Session, person: Option<Uuid>) -> String {
    let language = session.language();
    person.map_or(String::new(), |person| approved_by(&people::name(session.roster(), person, language), language))
}

/// That somebody of this name stands for a version of a procedure.
pub(crate) fn approved_by(name: &str, language: Language) -> String {
    match language {
        Language::En => format!("Approved by {name}."),
        Language::De => format!("Freigegeben: {name}."),
    }
}

/// Who does the job, or that nobody said so.
pub(super) fn technician_words(session: &Session, work: &Work) -> String {
    let language = session.language();
    let name = work.technician.map(|person| people::name(session.roster(), person, language));
    match (name, language) {
        (None, _) => tongue(language, "Nobody is named who does it.", "Niemand ist genannt, der es macht.").to_owned(),
        (Some(name), Language::En) => format!("Technician: {name}."),
        (Some(name), Language::De) => format!("Techniker: {name}."),
    }
}

/// The steps that wait for a second person, and who that can be.
pub(super) fn waiting(session: &Session, work: &Work, now: &Now) -> Vec<SecondView> {
    let language = session.language();
    let view = |id: &str| {
        let (step, doing) = (work.procedure.step(id)?, work.state(id)?.doing);
        let signers = people::lines(session, now, |person| session.may_be_second(person).is_ok());
        let nobody = if signers.is_empty() { nobody_words(work, language).to_owned() } else { String::new() };
        let title = step.title.get(language).to_owned();
        Some(SecondView {
            step: id.to_owned(),
            doing,
            title,
            why: why(work, step, language).to_owned(),
            signers,
            nobody,
        })
    };
    work.waits_for_second().filter_map(view).collect()
}

fn nobody_words(work: &Work, language: Language) -> &'static str {
    if work.technician.is_none() {
        tongue(
            language,
            "First whoever did the job says so with a PIN. Until then nobody can sign second.",
            "Zuerst sagt mit PIN, wer den Auftrag gemacht hat. Vorher kann niemand gegenzeichnen.",
        )
    } else {
        tongue(
            language,
            "Nobody else is on the roster. It waits until somebody is, or until the office of a shop that this device is paired with signs.",
            "Sonst steht niemand auf der Liste. Es wartet, bis jemand dazukommt oder das Büro des Betriebs unterschreibt, mit dem dieses Gerät verbunden ist.",
        )
    }
}

/// Why a second person signs a step.
pub(crate) fn why(work: &Work, step: &Step, language: Language) -> &'static str {
    let done = match work.state(&step.id).map(|state| &state.how) {
        Some(How::Done(StepDone { done, .. })) => Some(done),
        _ => None,
    };
    match (&step.kind, done) {
        (StepKind::Compare(_), Some(Done::Compared { alike })) if *alike != Alike::All => {
            tongue(language, "The part is not shown to be alike.", "Dass das Teil gleich ist, ist nicht gezeigt.")
        }
        (_, Some(Done::PartChosen { origin: Origin::Used, .. })) if work.is_restraint() => {
            tongue(language, "A used restraint part.", "Ein gebrauchtes Teil eines Rückhaltesystems.")
        }
        (kind, _) if kind.closes() && work.is_in_trouble() => {
            tongue(language, "It ends with a lamp or a code.", "Er endet mit Lampe oder Code.")
        }
        _ => tongue(language, "The procedure asks for it.", "Der Ablauf verlangt es."),
    }
}
