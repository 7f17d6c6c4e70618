//! The caution texts, shown at the step and before it. They defer to the maker's information and to law.

use crate::verdict::words::Language;
use serde::{Deserialize, Serialize};

/// A caution. Its number is its name in the record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
pub enum Caution {
    /// At the start of a job.
    C0,
    /// At any step with an ohmmeter.
    C1,
    /// Where the battery cable comes off.
    C2,
    /// At the wait.
    C3,
    /// Where the supply is proven dead.
    C4,
    /// Before a plug of a restraint system is touched.
    C5,
    /// Before an airbag is taken off.
    C6,
    /// At a shorting bar.
    C7,
    /// Before a coil is turned.
    C8,
    /// Before isolation is measured.
    C9,
    /// Where a bolt is tightened.
    C10,
    /// Before the battery is connected again.
    C11,
    /// At vehicles with high voltage.
    C12,
    /// Before a used part is chosen.
    C13,
    /// Where an inflator is disposed of.
    C14,
    /// Where a substitute load is fitted.
    C15,
    /// Before an angle is stored as zero.
    C16,
    /// Where anything surprises.
    C17,
}

impl Caution {
    /// All, in order.
    pub const ALL: [Caution; 18] = {
        use Caution::*;
        [C0, C1, C2, C3, C4, C5, C6, C7, C8, C9, C10, C11, C12, C13, C14, C15, C16, C17]
    };

    /// The text.
    pub fn text(self, language: Language) -> &'static str {
        let (_, en, de) = TEXTS[self as usize];
        match language {
            Language::En => en,
            Language::De => de,
        }
    }
}

/// English and German, in the order of [`Caution::ALL`].
const TEXTS: [(Caution, &str, &str); 18] = [
    (
        Caution::C0,
        "This app does not replace the vehicle maker's service information or local law. \
         Where they differ, follow them and stop here.",
        "Diese App ersetzt weder die Serviceunterlagen des Fahrzeugherstellers noch geltendes Recht. \
         Bei Abweichungen gelten diese: hier anhalten.",
    ),
    (
        Caution::C1,
        "Never put a meter on an airbag or belt tensioner, or on a plug that leads to one. Both ends off first.",
        "Nie ein Messgerät an Airbag oder Gurtstraffer anlegen, auch nicht an einen Stecker, der dorthin führt. \
         Erst beide Enden abstecken.",
    ),
    (
        Caution::C2,
        "Negative cable off, and insulated so that it cannot spring back. No memory saver, no charger, no second \
         battery, no solar feed.",
        "Minuskabel ab und so isoliert, dass es nicht zurückfedert. Kein Spannungserhalter, kein Ladegerät, keine \
         zweite Batterie, keine Solareinspeisung.",
    ),
    (
        Caution::C3,
        "The airbag unit keeps a charge. Wait the maker's full time, at least two minutes. If the battery was \
         connected again even for a moment, the whole wait starts again.",
        "Das Airbagsteuergerät bleibt geladen. Die volle Zeit des Herstellers warten, mindestens zwei Minuten. War die \
         Batterie auch nur kurz wieder angeschlossen, beginnt die ganze Wartezeit von vorn.",
    ),
    (
        Caution::C4,
        "Prove the supply dead and wait: neither replaces the other. A dead battery lead does not prove that the \
         airbag unit is empty.",
        "Spannungsfreiheit feststellen und warten: keines ersetzt das andere. Ein spannungsfreies Batteriekabel \
         beweist nicht, dass das Airbagsteuergerät leer ist.",
    ),
    (
        Caution::C5,
        "Touch bare metal first. Pull the plug, not the wires. Keep face and hands to the side.",
        "Erst blankes Metall berühren. Am Stecker ziehen, nicht an den Leitungen. Gesicht und Hände seitlich halten.",
    ),
    (
        Caution::C6,
        "Trim side up, nothing on it, away from people and heat. Carry it facing away from you. Keep the phone and a \
         radio meter a forearm away. Never leave it unguarded.",
        "Zierseite nach oben, nichts darauf, fern von Menschen und Wärme. Vom Körper weg tragen. Telefon und \
         Funkmessgerät eine Unterarmlänge entfernt halten. Nie unbeaufsichtigt lassen.",
    ),
    (
        Caution::C7,
        "The plug may bridge this pair when it is apart. Open the bar with the right adapter, never with \
         anything that stays inside, and make sure it springs back.",
        "Der abgezogene Stecker kann dieses Paar überbrücken. Die Brücke nur mit dem passenden Adapter öffnen, \
         nie mit etwas, das darin bleibt, und prüfen, dass sie zurückfedert.",
    ),
    (
        Caution::C8,
        "Do not turn a steering coil past its end, and do not leave it out of its centre. If the centre is lost, \
         follow the maker: some require a new part.",
        "Eine Lenkradspule nicht über ihr Ende drehen und nicht außerhalb ihrer Mitte lassen. Ist die Mitte verloren, \
         gilt der Hersteller: manche verlangen ein neues Teil.",
    ),
    (
        Caution::C9,
        "Ordinary ohms range of a multimeter only, a few milliamps at most. No insulation or installation \
         tester on restraint wiring.",
        "Nur der gewöhnliche Ohmbereich eines Multimeters, höchstens einige Milliampere. Kein Isolations- oder \
         Installationsprüfer an Rückhaltesystemen.",
    ),
    (
        Caution::C10,
        "The maker's figure for this very vehicle. A new bolt where one is required. Never an impact tool.",
        "Der Wert des Herstellers für genau dieses Fahrzeug. Neue Schraube, wo eine verlangt ist. Nie ein \
         Schlagschrauber.",
    ),
    (
        Caution::C11,
        "Nobody in the seats or in front of an airbag. Ignition off while the battery is being connected.",
        "Niemand auf den Sitzen oder vor einem Airbag. Zündung aus, während die Batterie angeschlossen wird.",
    ),
    (
        Caution::C12,
        "Orange cables are for trained people only. Twelve volts off does not mean high voltage off.",
        "Orange Leitungen nur für dafür ausgebildete Personen. Zwölf Volt ab heißt nicht Hochvolt ab.",
    ),
    (
        Caution::C13,
        "Used restraint parts may be restricted where you are. Check, and tell the customer in writing.",
        "Gebrauchte Teile von Rückhaltesystemen können am Ort eingeschränkt sein. Prüfen und dem Kunden \
         schriftlich mitteilen.",
    ),
    (
        Caution::C14,
        "An inflator that is live or recalled is dangerous goods. It leaves the shop by an approved route only.",
        "Ein nicht gezündeter oder zurückgerufener Gasgenerator ist Gefahrgut. Er verlässt die Werkstatt nur auf \
         zugelassenem Weg.",
    ),
    (
        Caution::C15,
        "A substitute load is for finding the fault only. Left in, the airbag stays away and the lamp stays off: \
         count it back in before closing.",
        "Ein Ersatzwiderstand dient nur der Fehlersuche. Bleibt er darin, fehlt der Airbag und die Lampe schweigt: vor \
         dem Abschluss zurückzählen.",
    ),
    (
        Caution::C16,
        "Are the road wheels truly straight? This stores where they stand now as zero.",
        "Stehen die Räder wirklich gerade? Ihre jetzige Stellung wird als Null gespeichert.",
    ),
    (
        Caution::C17,
        "If a reading or a step surprises you: stop, leave the battery off, ask.",
        "Überrascht ein Messwert oder ein Schritt: anhalten, Batterie abgeklemmt lassen, nachfragen.",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_caution_stands_at_its_own_place() {
        assert_eq!(TEXTS.map(|(caution, _, _)| caution), Caution::ALL);
        for (at, caution) in Caution::ALL.into_iter().enumerate() {
            assert_eq!(format!("{caution:?}"), format!("C{at}"), "its name is its number");
        }
    }
}
