//! What is said while a job is offered to a device on the same network, and what can stand in the way.

use super::{Said, tongue};
use crate::sync::{OfferEnd, OfferTrouble, Offering};
use crate::unit::Stamp;
use crate::verdict::words::Language;
use crate::view::Notice;

/// Hour and minute where it was written: "14:07".
fn hour(stamp: &Stamp) -> String {
    let minute = stamp.to_minute();
    minute.get(11..).map_or(minute.clone(), str::to_owned)
}

/// How far it has come, or how it ended.
pub(in crate::view) fn offer_words(offering: &Offering, language: Language) -> String {
    let said = |en: &str, de: &str| tongue(language, en, de).to_owned();
    match (&offering.end, language) {
        (None, _) if offering.fetching > 0 => said(
            "The other device is fetching it. Stay on this screen until it has.",
            "Das andere Gerät holt ihn gerade. Bleib auf diesem Bildschirm, bis es ihn hat.",
        ),
        (None, Language::En) => {
            format!("Waits for the other device until {}. Stay on this screen.", hour(&offering.until))
        }
        (None, Language::De) => {
            format!("Wartet bis {} auf das andere Gerät. Bleib auf diesem Bildschirm.", hour(&offering.until))
        }
        (Some(OfferEnd::HandedOut { at }), Language::En) => format!(
            "Handed out at {}. That does not prove that the other device recorded it: look there before you go.",
            hour(at)
        ),
        (Some(OfferEnd::HandedOut { at }), Language::De) => format!(
            "Um {} ausgehändigt. Das beweist nicht, dass das andere Gerät ihn festgehalten hat: Sieh dort nach, bevor du \
             gehst.",
            hour(at)
        ),
        (Some(OfferEnd::Time), _) => said(
            "Time is up, and nobody has it. Show a new code if it is still wanted.",
            "Die Zeit ist um, niemand hat ihn geholt. Zeig einen neuen Code, wenn er noch gebraucht wird.",
        ),
        (Some(OfferEnd::WrongCodes), _) => said(
            "Somebody in this network tried wrong codes, so it was ended. Nobody has the job. Show a new code, or use the \
             file.",
            "Jemand in diesem Netz hat falsche Codes probiert, darum ist Schluss. Niemand hat den Auftrag. Zeig einen neuen \
             Code, oder nimm die Datei.",
        ),
    }
}

/// What stands between two devices, with a stable code.
pub(in crate::view) fn offer_trouble(trouble: OfferTrouble, language: Language) -> Notice {
    let (code, (en, en_do, de, de_do)) = match trouble {
        OfferTrouble::NoOffer | OfferTrouble::NotWhole | OfferTrouble::Far => of_the_text(trouble),
        OfferTrouble::NoListening | OfferTrouble::Unreachable => of_the_network(trouble),
        _ => of_the_other(trouble),
    };
    let said = |en: &str, de: &str| tongue(language, en, de).to_owned();
    Notice { code: code.to_owned(), words: said(en, de), remedy: said(en_do, de_do) }
}

fn of_the_text(trouble: OfferTrouble) -> (&'static str, Said) {
    match trouble {
        OfferTrouble::NotWhole => (
            "offer-not-whole",
            (
                "The text of the code is not whole.",
                "Photograph the code once more, or copy all of its text; it begins with evenwire:job/1/",
                "Der Text des Codes ist nicht vollständig.",
                "Fotografier den Code noch einmal, oder kopier seinen ganzen Text; er beginnt mit evenwire:job/1/",
            ),
        ),
        OfferTrouble::Far => (
            "offer-far",
            (
                "This code leads out of the network here. No connection was made.",
                "Take codes only from the screen of a device in front of you.",
                "Dieser Code führt aus dem Netz hier hinaus. Es wurde keine Verbindung aufgebaut.",
                "Nimm Codes nur vom Bildschirm eines Geräts, das vor dir liegt.",
            ),
        ),
        _ => (
            "offer-none",
            (
                "This is not the code of a job that is handed over.",
                "On the other device, hand the job over and let it show its code.",
                "Das ist nicht der Code eines übergebenen Auftrags.",
                "Am anderen Gerät den Auftrag übergeben und seinen Code zeigen lassen.",
            ),
        ),
    }
}

fn of_the_network(trouble: OfferTrouble) -> (&'static str, Said) {
    match trouble {
        OfferTrouble::NoListening => (
            "offer-no-network",
            (
                "This device cannot be reached by others just now.",
                "Check that it is in a network, or hand over the file instead.",
                "Dieses Gerät ist für andere gerade nicht erreichbar.",
                "Prüf, ob es in einem Netz ist, oder gib stattdessen die Datei weiter.",
            ),
        ),
        _ => (
            "offer-unreachable",
            (
                "The other device does not answer, or the connection was cut. Nothing was recorded here.",
                "Are both in the same network, and is the code still on its screen? Then try again. Otherwise let it show a \
                 new code, or use the file.",
                "Das andere Gerät antwortet nicht, oder die Verbindung riss ab. Hier wurde nichts festgehalten.",
                "Sind beide im selben Netz, und steht der Code noch auf seinem Bildschirm? Dann versuch es noch einmal. Sonst lass \
                 einen neuen Code zeigen, oder nimm die Datei.",
            ),
        ),
    }
}

fn of_the_other(trouble: OfferTrouble) -> (&'static str, Said) {
    match trouble {
        OfferTrouble::OtherCertificate => (
            "offer-certificate",
            (
                "Whoever answers there is not the device that showed this code. Nothing was taken from it.",
                "Let the other device show a new code. If this comes again, use the file.",
                "Wer dort antwortet, ist nicht das Gerät, das diesen Code zeigte. Nichts wurde angenommen.",
                "Lass am anderen Gerät einen neuen Code zeigen. Kommt das wieder, nimm die Datei.",
            ),
        ),
        OfferTrouble::Over => (
            "offer-over",
            (
                "This code is no longer good: the job was fetched with it, or it was ended. Nothing was recorded here.",
                "Ask who fetched it. If it was nobody, let the other device show a new code.",
                "Dieser Code gilt nicht mehr: Der Auftrag wurde damit geholt, oder es wurde beendet. Hier wurde nichts \
                 festgehalten.",
                "Frag, wer ihn geholt hat. War es niemand, lass am anderen Gerät einen neuen Code zeigen.",
            ),
        ),
        _ => (
            "offer-not-understood",
            (
                "The other device does not answer as agreed. Nothing was recorded here.",
                "Update the app on both devices, or use the file.",
                "Das andere Gerät antwortet nicht wie vereinbart. Hier wurde nichts festgehalten.",
                "Die App auf beiden Geräten aktualisieren, oder die Datei nehmen.",
            ),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sync::{OFFER_LASTS, Offer};
    use crate::unit::Millis;
    use std::collections::BTreeSet;
    use uuid::Uuid;

    fn stamp(time: &str) -> Stamp {
        Stamp::parse(&format!("2026-03-01T{time}:10+01:00")).unwrap()
    }

    fn ended(end: Option<OfferEnd>, fetching: u32) -> Offering {
        let offer = Offer::new(vec!["10.0.0.7:40123".into()], b"certificate", "7K2M9QXTB0".into());
        let mut of = Offering::begin(Uuid::from_u128(7), &offer, (Millis(0), OFFER_LASTS), stamp("14:07")).unwrap();
        (of.end, of.fetching) = (end, fetching);
        of
    }

    #[test]
    fn the_giver_reads_how_far_it_is_and_that_nothing_is_proved() {
        let said = |end, fetching| offer_words(&ended(end, fetching), Language::En);
        assert!(said(None, 0).contains("until 14:07") && said(None, 1).contains("is fetching"));
        let out = OfferEnd::HandedOut { at: stamp("14:03") };
        let words = said(Some(out.clone()), 1);
        assert!(words.starts_with("Handed out at 14:03.") && words.contains("does not prove"), "{words}");
        let ends = [OfferEnd::Time, OfferEnd::WrongCodes];
        assert!(ends.into_iter().all(|end| said(Some(end), 0).contains("obody has")));
        let german = offer_words(&ended(Some(out), 0), Language::De);
        assert!(german.starts_with("Um 14:03 ausgehändigt.") && german.contains("beweist nicht"), "{german}");
    }

    #[test]
    fn everything_that_can_stand_in_the_way_has_words_of_its_own_in_both_languages() {
        let all = [
            OfferTrouble::NoListening,
            OfferTrouble::NoOffer,
            OfferTrouble::NotWhole,
            OfferTrouble::Far,
            OfferTrouble::Unreachable,
            OfferTrouble::OtherCertificate,
            OfferTrouble::Over,
            OfferTrouble::NotUnderstood,
        ];
        let (en, de) = (all.map(|of| offer_trouble(of, Language::En)), all.map(|of| offer_trouble(of, Language::De)));
        let codes: BTreeSet<&str> = en.iter().map(|notice| notice.code.as_str()).collect();
        let words: BTreeSet<&str> = en.iter().chain(&de).map(|notice| notice.words.as_str()).collect();
        assert_eq!((codes.len(), words.len()), (all.len(), 2 * all.len()));
        assert!(en.iter().chain(&de).all(|notice| !notice.remedy.is_empty()));
    }
}
