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
    /// At a shorting bar.
    C7,
    /// Before a coil is turned.
    C8,
    /// Before isolation is measured.
    C9,
    /// Before a used part is chosen.
    C13,
}

impl Caution {
    /// All, in order.
    pub const ALL: [Caution; 6] = [Caution::C0, Caution::C1, Caution::C7, Caution::C8, Caution::C9, Caution::C13];

    /// The text.
    pub fn text(self, language: Language) -> &'static str {
        match (self, language) {
            (Caution::C0, Language::En) => {
                "This app does not replace the vehicle maker's service information or local law. \
                 Where they differ, follow them and stop here."
            }
            (Caution::C0, Language::De) => {
                "Diese App ersetzt weder die Serviceunterlagen des Fahrzeugherstellers noch geltendes Recht. \
                 Bei Abweichungen gelten diese: hier anhalten."
            }
            (Caution::C1, Language::En) => {
                "Never put a meter on an airbag or belt tensioner, or on a plug that leads to one. Both ends off first."
            }
            (Caution::C1, Language::De) => {
                "Nie ein Messgerät an Airbag oder Gurtstraffer anlegen, auch nicht an einen Stecker, der dorthin führt. \
                 Erst beide Enden abstecken."
            }
            (Caution::C7, Language::En) => {
                "The plug may bridge this pair when it is apart. Open the bar with the right adapter, never with \
                 anything that stays inside, and make sure it springs back."
            }
            (Caution::C7, Language::De) => {
                "Der abgezogene Stecker kann dieses Paar überbrücken. Die Brücke nur mit dem passenden Adapter öffnen, \
                 nie mit etwas, das darin bleibt, und prüfen, dass sie zurückfedert."
            }
            (Caution::C8, Language::En) => {
                "Do not turn a steering coil past its end or out of centre. If the centre is lost, follow the maker: \
                 some require a new part."
            }
            (Caution::C8, Language::De) => {
                "Eine Lenkradspule nicht über ihr Ende und nicht aus der Mitte drehen. Ist die Mitte verloren, gilt der \
                 Hersteller: manche verlangen ein neues Teil."
            }
            (Caution::C9, Language::En) => {
                "Ordinary ohms range of a multimeter only, a few milliamps at most. No insulation or installation \
                 tester on restraint wiring."
            }
            (Caution::C9, Language::De) => {
                "Nur der gewöhnliche Ohmbereich eines Multimeters, höchstens einige Milliampere. Kein Isolations- oder \
                 Installationsprüfer an Rückhaltesystemen."
            }
            (Caution::C13, Language::En) => {
                "Used restraint parts may be restricted where you are. Check, and tell the customer in writing."
            }
            (Caution::C13, Language::De) => {
                "Gebrauchte Teile von Rückhaltesystemen können am Ort eingeschränkt sein. Prüfen und dem Kunden \
                 schriftlich mitteilen."
            }
        }
    }
}
