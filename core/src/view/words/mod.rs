//! Sentences of the screens, English and German side by side, so that neither is forgotten.

mod bench;
mod correction;
mod facts;
mod file;
mod handed;
mod hub;
mod meter;
mod offer;
mod part;
mod people;
mod proving;
mod refusal;
mod step;
mod sweep;

pub(crate) use bench::*;
pub(crate) use correction::before_words;
pub(crate) use facts::fact_name;
pub(super) use facts::{clock_words, fact_words, why_words};
pub(super) use hub::hub_trouble;
pub(super) use meter::{MeterCode, first_number_words, meter_words, practice_name, sign_words};
pub(super) use offer::{offer_trouble, offer_words};
pub(crate) use part::end_words;
pub(super) use part::problem_words;
pub(super) use people::locked_words;
pub(crate) use proving::*;
pub(crate) use refusal::field_words;
pub use refusal::refusal_notice;
pub(super) use step::alike_words;
pub(crate) use step::{lamp_words, origin_words, outcome_words};
pub(super) use sweep::*;

use crate::verdict::words::Language;

/// English why and what to do, German why and what to do.
type Said = (&'static str, &'static str, &'static str, &'static str);

/// The text of the language.
pub(crate) fn tongue<'a>(language: Language, en: &'a str, de: &'a str) -> &'a str {
    match language {
        Language::En => en,
        Language::De => de,
    }
}
