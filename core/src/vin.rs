//! Vehicle identification numbers. The check digit is a warning: vehicles made for other markets than North America
//! often have another character there, and none is ever refused for it.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Characters of a VIN (ISO 3779, clause from memory).
pub const LENGTH: usize = 17;

/// A vehicle identification number: 17 digits and capital letters without I, O and Q.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Vin(String);

/// Why a text is not a VIN.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAVin {
    /// So many characters instead of [`LENGTH`].
    #[error("{0} characters instead of 17")]
    Length(usize),
    /// A character that never occurs, with its position from 1. I, O and Q are among them: they are misread 1 and 0.
    #[error("'{character}' at character {position} never occurs in one")]
    Character {
        /// The character as entered.
        character: char,
        /// Its position, from 1.
        position: usize,
    },
}

/// What the check digit says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VinCheck {
    /// It fits the other sixteen characters.
    Fits,
    /// It does not: a slip of the pen, or a vehicle that has none. Worth a second look, no more.
    Differs {
        /// What would fit: a digit or X.
        fitting: char,
    },
}

/// 49 CFR 565.15(c), table of weights, by position. The ninth is the check digit itself.
const WEIGHTS: [u32; LENGTH] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
/// Where the check digit stands, from 0.
const CHECK_AT: usize = 8;

impl Vin {
    /// What a person typed or a scanner read: blanks around it are dropped, small letters become capitals.
    ///
    /// # Errors
    /// [`NotAVin`] for another length, or the first character that cannot be.
    pub fn parse(text: &str) -> Result<Vin, NotAVin> {
        let text = text.trim();
        let count = text.chars().count();
        if count != LENGTH {
            return Err(NotAVin::Length(count));
        }
        for (index, character) in text.chars().enumerate() {
            if value_of(character.to_ascii_uppercase()).is_none() {
                return Err(NotAVin::Character { character, position: index + 1 });
            }
        }
        Ok(Vin(text.to_ascii_uppercase()))
    }

    /// The seventeen characters.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Does the check digit fit? 49 CFR 565.15(c): values times weights, the remainder of 11, X for ten.
    ///
    /// ```
    /// use evenwire_core::vin::{Vin, VinCheck};
    /// assert_eq!(Vin::parse("zzzaa1a17ra000001").unwrap().check(), VinCheck::Fits);
    /// ```
    pub fn check(&self) -> VinCheck {
        let values = self.0.chars().map(|c| value_of(c).expect("checked when made"));
        let total: u32 = values.zip(WEIGHTS).map(|(value, weight)| value * weight).sum();
        let fitting = match total % 11 {
            10 => 'X',
            rest => char::from_digit(rest, 10).expect("below ten"),
        };
        if self.0[CHECK_AT..].starts_with(fitting) { VinCheck::Fits } else { VinCheck::Differs { fitting } }
    }
}

/// 49 CFR 565.15(c), table of values: A to H are 1 to 8, J to N 1 to 5, P 7, R 9, S to Z 2 to 9.
fn value_of(character: char) -> Option<u32> {
    let from = |first: char, value: u32| Some(u32::from(character) - u32::from(first) + value);
    match character {
        '0'..='9' => from('0', 0),
        'A'..='H' => from('A', 1),
        'J'..='N' => from('J', 1),
        'P' => Some(7),
        'R' => Some(9),
        'S'..='Z' => from('S', 2),
        _ => None,
    }
}

impl fmt::Display for Vin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl From<Vin> for String {
    fn from(vin: Vin) -> String {
        vin.0
    }
}

impl TryFrom<String> for Vin {
    type Error = NotAVin;
    fn try_from(text: String) -> Result<Vin, NotAVin> {
        Vin::parse(&text)
    }
}
