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
}

impl Caution {
    /// All, in order.
    pub const ALL: [Caution; 2] = [Caution::C0, Caution::C1];

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
        }
    }
}
