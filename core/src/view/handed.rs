//! A job that goes from device to device, in words.

use super::asks::Reply;
use super::model::{HandView, Notice, OfferView, WaitingLine};
use super::words::{instrument_words, offer_trouble, offer_words, tongue};
use crate::job::{HandOver, Job};
use crate::session::Session;
use crate::sync::{OfferEnd, OfferTrouble, Offering, WaitingJob};
use crate::verdict::words::Language;

/// What is to be said of it.
pub(super) fn of(session: &Session, job: &Job) -> HandView {
    let language = session.language();
    let away = job.hands.away();
    let fresh = job.hands.taken_over().filter(|_| job.hands.fresh);
    HandView {
        may_release: job.may_release("").is_ok(),
        away: away.map_or(String::new(), |over| away_words(over, language)),
        back: away.map_or(String::new(), |_| back_words(language).to_owned()),
        taken_over: fresh.map_or(Vec::new(), |(over, _)| taken_over(session, job, over)),
        offer: None,
    }
}

/// How it stands with a job that is offered to a device on the same network.
pub fn offer_of(offering: &Offering, language: Language) -> OfferView {
    let (state, text, (fields, path)) = match &offering.end {
        None => ("open", offering.text.clone(), offering.picture.clone()),
        Some(OfferEnd::HandedOut { .. }) => ("handed-out", String::new(), (0, String::new())),
        Some(OfferEnd::Time | OfferEnd::WrongCodes) => ("over", String::new(), (0, String::new())),
    };
    OfferView { state: state.to_owned(), words: offer_words(offering, language), text, fields, path }
}

/// What stands between two devices, with what to do.
pub fn offer_notice(trouble: OfferTrouble, language: Language) -> Notice {
    offer_trouble(trouble, language)
}

/// What waits at the shop to be taken over.
pub fn waiting(jobs: Vec<WaitingJob>, language: Language) -> Reply {
    let none = tongue(language, "Nothing waits at the shop.", "Im Betrieb wartet nichts.");
    let words = if jobs.is_empty() { none.to_owned() } else { String::new() };
    Reply::Waiting { lines: jobs.into_iter().map(|job| waiting_line(job, language)).collect(), words }
}

fn waiting_line(of: WaitingJob, language: Language) -> WaitingLine {
    let from = &of.from;
    let words = match (&of.taken_by, language) {
        (None, Language::En) => format!("Handed over by {from}."),
        (None, Language::De) => format!("Übergeben von {from}."),
        (Some(_), Language::En) if of.yours => format!("Handed over by {from}. This device takes it over."),
        (Some(_), Language::De) if of.yours => format!("Übergeben von {from}. Dieses Gerät übernimmt ihn."),
        (Some(by), Language::En) => format!("Handed over by {from}. {by} takes it over: ask there first."),
        (Some(by), Language::De) => format!("Übergeben von {from}. {by} übernimmt ihn: erst dort nachfragen."),
    };
    let taken = of.taken_by.is_some() && !of.yours;
    WaitingLine { job: of.job.to_string(), order: of.order, vehicle: of.vehicle, words, taken }
}

fn away_words(over: &HandOver, language: Language) -> String {
    let at = over.at.to_minute();
    match (language, over.to.is_empty()) {
        (Language::En, true) => format!("Handed over on {at}. What was measured can be read here."),
        (Language::De, true) => format!("Am {at} übergeben. Was gemessen wurde, kann man hier lesen."),
        (Language::En, false) => format!("Handed over to {} on {at}. What was measured can be read here.", over.to),
        (Language::De, false) => {
            format!("Am {at} an {} übergeben. Was gemessen wurde, kann man hier lesen.", over.to)
        }
    }
}

fn back_words(language: Language) -> &'static str {
    tongue(
        language,
        "Take it back only if nobody took it over. Otherwise both of you go on, and the record keeps two versions. \
         What made the vehicle safe is made anew.",
        "Nur zurücknehmen, wenn ihn niemand übernommen hat. Sonst macht ihr beide weiter, und die Aufzeichnung behält \
         zwei Fassungen. Was das Fahrzeug sicher machte, wird neu gemacht.",
    )
}

fn taken_over(session: &Session, job: &Job, over: &HandOver) -> Vec<String> {
    let language = session.language();
    let mut lines = vec![safety_words(job, language).to_owned()];
    lines.extend(job.work.as_deref().and_then(|work| out_words(work.counted_out(), language)));
    lines.extend(job.instrument.as_ref().map(|instrument| {
        let meter = instrument_words(instrument, language);
        match language {
            Language::En => format!(
                "Measured so far with: {meter}. Say which meter is used here; with another one every conductor is read \
                 anew."
            ),
            Language::De => format!(
                "Bisher gemessen mit: {meter}. Sag, welches Messgerät hier misst; mit einem anderen wird jeder Leiter \
                 neu gemessen."
            ),
        }
    }));
    lines.extend(done_by(session, job, language));
    lines.push(came_words(over, language));
    lines
}

fn safety_words(job: &Job, language: Language) -> &'static str {
    if job.work.is_some() {
        return tongue(
            language,
            "The vehicle counts as not safe here. Cable off, the whole wait and the proof that the supply is dead are \
             made anew on this device, whatever was done on the other one.",
            "Das Fahrzeug gilt hier als nicht sicher. Kabel ab, die ganze Wartezeit und die Spannungsfreiheit werden auf \
             diesem Gerät neu gemacht, gleich, was auf dem anderen geschah.",
        );
    }
    tongue(
        language,
        "Nobody here saw whether the battery is off and both ends are unplugged: look before a clip goes on.",
        "Hier hat niemand gesehen, ob die Batterie ab ist und beide Enden abgesteckt sind: nachsehen, bevor eine Klemme \
         dran kommt.",
    )
}

fn out_words((loads, locks): (u8, u8), language: Language) -> Option<String> {
    let words = match language {
        Language::En => format!("Perhaps still in the vehicle: substitute loads {loads}, lock pins {locks}."),
        Language::De => format!("Vielleicht noch im Fahrzeug: Ersatzlasten {loads}, Sperrstifte {locks}."),
    };
    ((loads, locks) != (0, 0)).then_some(words)
}

fn done_by(session: &Session, job: &Job, language: Language) -> Option<String> {
    let doers: Vec<&str> = job.work.as_deref()?.doers().filter_map(|person| session.roster().name(person)).collect();
    (!doers.is_empty()).then(|| match language {
        Language::En => format!("Done until now by: {}. Say who goes on.", doers.join(", ")),
        Language::De => format!("Bis hierher gemacht von: {}. Sag, wer weitermacht.", doers.join(", ")),
    })
}

fn came_words(over: &HandOver, language: Language) -> String {
    let (at, key) = (over.at.to_minute(), over.key.fingerprint());
    match language {
        Language::En => {
            format!("Handed over on {at} by the device with the key {key}; compare it where you are in doubt.")
        }
        Language::De => format!("Übergeben am {at} vom Gerät mit dem Schlüssel {key}; im Zweifel vergleichen."),
    }
}
