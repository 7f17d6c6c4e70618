//! What is said of a vehicle identification number while it is typed.

use super::asks::Reply;
use super::words::tongue;
use crate::verdict::words::Language;
use crate::vin::{NotAVin, Vin, VinCheck};

/// A warning in words, or none. Nothing is refused: not every vehicle has such a number, and not every maker uses the
/// check digit (it is required by 49 CFR 565.15 where that rule holds).
pub fn look_at_vin(vin: &str, language: Language) -> Reply {
    Reply::Vin { words: words(vin, language) }
}

fn words(vin: &str, language: Language) -> String {
    if vin.trim().is_empty() {
        return String::new();
    }
    match Vin::parse(vin).map(|vin| vin.check()) {
        Ok(VinCheck::Fits) => String::new(),
        Ok(VinCheck::Differs { .. }) => tongue(
            language,
            "The check digit does not fit. Look again; many makers use none, then it is fine as it is.",
            "Die Prüfziffer passt nicht. Noch einmal hinsehen; viele Hersteller verwenden keine, dann stimmt es so.",
        )
        .to_owned(),
        Err(NotAVin::Length(found)) => match language {
            Language::En => format!("A VIN has 17 characters; these are {found}. It is kept as typed."),
            Language::De => format!("Eine FIN hat 17 Zeichen; das sind {found}. Sie wird so aufgehoben."),
        },
        Err(NotAVin::Character { character, .. }) => match language {
            Language::En => format!("“{character}” is in no VIN; nor are I, O and Q. It is kept as typed."),
            Language::De => {
                format!("„{character}“ steht in keiner FIN; auch I, O und Q nicht. Sie wird so aufgehoben.")
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The number that fits is the example worked through beside [`Vin::check`].
    #[test]
    fn a_vin_is_warned_of_and_never_refused() {
        let said = |vin| words(vin, Language::En);
        assert_eq!((said(""), said("zzzaa1a17ra000001")), (String::new(), String::new()));
        assert!(said("ZZZAA1A18RA000001").starts_with("The check digit does not fit"));
        assert!(said("ZZZAA1A1").contains("these are 8"));
        assert!(said("IZZAA1A17RA000001").starts_with("“I” is in no VIN"));
        assert!(words("ZZZAA1A1", Language::De).contains("17 Zeichen"));
    }
}
