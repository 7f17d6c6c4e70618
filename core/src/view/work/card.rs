//! One step with all that is needed to do it.

use super::{ends, fields, title_of};
use crate::caution::Caution;
use crate::job::Job;
use crate::procedure::{Evidence, Fact, SignOff, Step, StepKind};
use crate::session::Session;
use crate::unit::Now;
use crate::verdict::words::Language;
use crate::view::bench::caution_views;
use crate::view::model::{NeedView, StepCard, StepFields};
use crate::view::words::{fact_name, fact_words, tongue, why_words};
use crate::work::{StepRefusal, Waiting, Why, Work};
use std::collections::BTreeSet;

/// The card of a step.
pub(super) fn of((session, job, work): (&Session, &Job, &Work), step: &Step, now: &Now) -> StepCard {
    let language = session.language();
    let begun = work.open.as_deref() == Some(step.id.as_str());
    let worse = job.compared_otherwise();
    let again = work.is_to_do_again(step, now) || worse.contains(&step.id);
    let settled = work.state(&step.id).is_some() && !again;
    let mut needs = if settled { Vec::new() } else { needs(work, step, now, language) };
    if matches!(&step.kind, StepKind::Sign(sign) if !sign.closes) && !settled {
        needs.extend(worse.iter().map(|compare| ends::compare_first(work, compare, language)));
    }
    if matches!(&step.kind, StepKind::Zero(zero) if zero.again.is_some()) && !settled {
        needs.extend(work.measured_again_first().map(|first| ends::read_again_first(first, language)));
    }
    let state = match (settled, begun, needs.is_empty()) {
        (true, ..) => "settled",
        (false, _, false) => "blocked",
        (false, true, true) => "begun",
        (false, false, true) => "to-begin",
    };
    let mut cautions: BTreeSet<Caution> = work.procedure.demanded_cautions(step);
    cautions.extend(&step.cautions);
    let cautions: Vec<Caution> = cautions.into_iter().collect();
    let asks = |evidence| step.evidence.contains(&evidence);
    StepCard {
        step: step.id.clone(),
        title: step.title.get(language).to_owned(),
        text: step.text.get(language).to_owned(),
        state: state.to_owned(),
        needs,
        ends: if settled || begun { String::new() } else { ends(work, step, now, language) },
        begin_key: if cautions.is_empty() {
            tongue(language, "Begin", "Beginnen").to_owned()
        } else {
            tongue(language, "I have read it: begin", "Gelesen: beginnen").to_owned()
        },
        cautions: caution_views(&cautions, language),
        // Before the time is over there is nothing to say: no key says what is not so.
        done_key: match &step.kind {
            StepKind::Wait(wait) if !matches!(work.waiting(wait, now), Waiting::Over(_)) => String::new(),
            _ => done_key(step, language).to_owned(),
        },
        photo: if asks(Evidence::Photo) { photo(step, language) } else { String::new() },
        asks_words: asks(Evidence::Words),
        skip: step.skip.as_ref().filter(|_| !settled).map(|when| when.get(language).to_owned()),
        may_be_untested: step.may_be_untested() && !settled,
        second: if step.sign_off == SignOff::Second {
            tongue(language, "A second person signs this step.", "Diesen Schritt unterschreibt eine zweite Person.")
                .to_owned()
        } else {
            String::new()
        },
        counted: counted(step, language),
        fields: fields((job, work), step, now, language),
    }
}

fn fields((job, work): (&Job, &Work), step: &Step, now: &Now, language: Language) -> StepFields {
    match &step.kind {
        StepKind::Do | StepKind::Check | StepKind::Note | StepKind::Photo { .. } => StepFields::Tick,
        StepKind::Wait(wait) => fields::wait(work, wait, now, language),
        StepKind::ProveDead(prove) => fields::prove_dead(work, prove, language),
        StepKind::Codes(codes) => fields::codes(work, codes, language),
        StepKind::Centre(centre) => fields::centre(work, centre, language),
        StepKind::Torque(torque) => fields::torque(work, torque, language),
        StepKind::LiveValue(live) => fields::live_value(work, live, language),
        StepKind::Sign(sign) => ends::sign((job, work), sign, now, language),
        StepKind::Part(part) => {
            StepFields::Part { name: part.name.get(language).to_owned(), may_be: part.may_be.iter().copied().collect() }
        }
        StepKind::Compare(compare) => fields::compare(job, work, compare, language),
        StepKind::Zero(_) | StepKind::Measure(_) | StepKind::Sweep(_) | StepKind::Isolation(_) => {
            fields::reading((job, work), step, language)
        }
    }
}

/// What has to be so first, each with its reason and the step that makes it so.
fn needs(work: &Work, step: &Step, now: &Now, language: Language) -> Vec<NeedView> {
    let title = title_of(work, language);
    if let Err(StepRefusal::StepFirst { step: first }) = work.may_begin(step, now) {
        let words = match language {
            Language::En => "A step has to be done first.",
            Language::De => "Zuerst kommt ein anderer Schritt.",
        };
        return vec![NeedView { words: words.to_owned(), title: title(&first), step: Some(first) }];
    }
    let need = |(fact, why): (Fact, Why)| {
        let maker = work.maker(&fact, &step.id).map(|maker| maker.id.clone());
        let reason = if why == Why::NotYet { String::new() } else { format!(" {}", why_words(&why, &title, language)) };
        let words = match language {
            Language::En => format!("Has to be so first: {}{reason}", fact_words(&fact, language)),
            Language::De => format!("Zuerst muss gelten: {}{reason}", fact_words(&fact, language)),
        };
        NeedView { words, title: maker.as_deref().map_or(String::new(), &title), step: maker }
    };
    work.missing(step, now).into_iter().map(need).collect()
}

/// What stands now and ends when the step is begun.
fn ends(work: &Work, step: &Step, now: &Now, language: Language) -> String {
    let gives_back = |fact: &Fact| step.gives.contains(fact);
    let ended: Vec<String> = step
        .ends()
        .iter()
        .filter(|fact| work.stands(fact, now).is_ok() && !gives_back(fact))
        .map(|fact| fact_name(fact, language))
        .collect();
    if ended.is_empty() {
        return String::new();
    }
    let list = ended.join(", ");
    match (step.battery_on, language) {
        (true, Language::En) => {
            format!("Beginning this ends: {list}. Before a plug is touched again, all of it is done anew.")
        }
        (true, Language::De) => {
            format!("Mit dem Beginn endet: {list}. Bevor wieder ein Stecker angefasst wird, kommt alles noch einmal.")
        }
        (false, Language::En) => format!("Beginning this ends: {list}."),
        (false, Language::De) => format!("Mit dem Beginn endet: {list}."),
    }
}

/// What the key confirms.
fn done_key(step: &Step, language: Language) -> &'static str {
    let gives = |of: fn(&Fact) -> bool| step.gives.iter().any(of);
    let (en, de) = match &step.kind {
        _ if step.battery_on => ("The battery is connected", "Die Batterie ist angeschlossen"),
        _ if gives(|f| *f == Fact::CableOff) => ("The cable is off", "Das Kabel ist ab"),
        _ if gives(|f| matches!(f, Fact::InflatorAway(_))) => {
            ("It is off and safely away", "Er ist ab und sicher weggelegt")
        }
        _ if gives(|f| matches!(f, Fact::BarOpen(_))) => ("The bars are held open", "Die Brücken sind offen gehalten"),
        _ if gives(|f| matches!(f, Fact::BarRestored(_))) => {
            ("The bars have sprung back", "Die Brücken sind zurückgefedert")
        }
        _ if gives(|f| *f == Fact::WheelsStraight) => ("The wheels stand straight", "Die Räder stehen gerade"),
        _ if gives(|f| matches!(f, Fact::LoadsHome | Fact::LocksHome)) => ("All of it is back", "Alles ist zurück"),
        StepKind::Wait(_) => ("The time is over", "Die Zeit ist um"),
        StepKind::ProveDead(_) => ("The supply is dead", "Keine Spannung"),
        StepKind::Codes(_) => ("Save the codes", "Codes sichern"),
        StepKind::Torque(_) => ("It is tightened", "Sie ist angezogen"),
        StepKind::Sign(sign) if sign.closes => ("Sign and close", "Unterschreiben und abschließen"),
        StepKind::Sign(_) => ("Sign", "Unterschreiben"),
        StepKind::Compare(_) => ("Keep this comparison", "Diesen Vergleich festhalten"),
        StepKind::Centre(_) => ("It stands in its centre", "Sie steht in der Mitte"),
        StepKind::LiveValue(_) => ("Keep the value", "Wert festhalten"),
        StepKind::Part(_) => ("This part", "Dieses Teil"),
        _ => ("Done", "Erledigt"),
    };
    tongue(language, en, de)
}

fn photo(step: &Step, language: Language) -> String {
    match &step.kind {
        StepKind::Photo { shows } => shows.get(language).to_owned(),
        _ => tongue(language, "A photo that shows it.", "Ein Foto, auf dem man es sieht.").to_owned(),
    }
}

fn counted(step: &Step, language: Language) -> String {
    let of = step.counted;
    let out = tongue(language, "fitted", "eingesetzt");
    let back = tongue(language, "comes back", "zurück");
    let load = tongue(language, "substitute load", "Ersatzlast");
    let pin = tongue(language, "lock pin", "Sperrstift");
    let each =
        [(of.loads_out, load, out), (of.loads_in, load, back), (of.locks_out, pin, out), (of.locks_in, pin, back)];
    let said: Vec<String> =
        each.iter().filter(|(n, ..)| *n > 0).map(|(n, what, way)| format!("{what} × {n}: {way}")).collect();
    said.join("; ")
}
