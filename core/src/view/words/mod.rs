//! Sentences of the screens, English and German side by side, so that neither is forgotten.

mod bench;
mod facts;
mod file;
mod meter;
mod part;
mod people;
mod proving;
mod refusal;
mod step;
mod sweep;

pub(super) use bench::*;
pub(super) use facts::{clock_words, fact_name, fact_words, why_words};
pub(super) use meter::{MeterCode, first_number_words, meter_words, practice_name, sign_words};
pub(super) use part::{end_words, problem_words};
pub(super) use people::locked_words;
pub(super) use proving::*;
pub use refusal::refusal_notice;
pub(super) use step::{alike_words, lamp_words, origin_words, outcome_words};
pub(super) use sweep::*;

use crate::verdict::words::Language;

/// English why and what to do, German why and what to do.
type Said = (&'static str, &'static str, &'static str, &'static str);

/// The text of the language.
pub(super) fn tongue<'a>(language: Language, en: &'a str, de: &'a str) -> &'a str {
    match language {
        Language::En => en,
        Language::De => de,
    }
}
