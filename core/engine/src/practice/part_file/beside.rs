//! What stands beside the conductors of a part file: shorting bars and limits.

use super::raw::{RawLimit, RawPart};
use super::{MAX_OHM, Reading};
use crate::practice::part_model::BarModel;
use evenwire_core::meter::FileErrorCode;
use evenwire_core::part::PartLimit;
use evenwire_core::unit::{Quantity, Unit};
use toml::Spanned;

/// Which ends of its pair a bar bridges.
const BAR_AT: [(&str, (bool, bool)); 3] = [("from", (true, false)), ("to", (false, true)), ("both", (true, true))];
/// A limit is printed for temperatures in between, degree Celsius.
const LIMIT_CELSIUS: (f64, f64) = (-60.0, 200.0);

impl Reading<'_> {
    /// The pairs that a bar bridges, as indices.
    pub(super) fn bars(&mut self, raw: &RawPart) -> Vec<(u32, u32)> {
        let mut bars = Vec::new();
        for bar in &raw.bars {
            let (a, b) = bar.get_ref();
            let (a, b) = (self.conductor_named(raw, a), self.conductor_named(raw, b));
            if let (Some(a), Some(b)) = (a, b) {
                let small = |index: usize| u32::try_from(index).expect("a file holds fewer");
                bars.push((small(a.min(b)), small(a.max(b))));
            }
        }
        bars
    }

    /// What a bar is like.
    pub(super) fn bar_model(&mut self, raw: &RawPart) -> BarModel {
        let mut model = BarModel::default();
        let keys = [raw.bar_ohm.as_ref().map(Spanned::span), raw.bar_at.as_ref().map(Spanned::span)];
        if let (true, Some(at)) = (raw.bars.is_empty(), keys.into_iter().flatten().next()) {
            self.mistake(at, FileErrorCode::Conflict, "the part has no bar", "bars = [[\"4\", \"5\"]]");
        }
        if let Some(ohm) = &raw.bar_ohm {
            model.ohm = self.number("bar_ohm", ohm, (0.0, MAX_OHM)).unwrap_or(model.ohm);
        }
        if let Some(word) = &raw.bar_at {
            match BAR_AT.iter().find(|(known, _)| known == word.get_ref()) {
                Some((_, at)) => model.at = *at,
                None => {
                    let what = format!("`bar_at` is {:?}", word.get_ref());
                    self.mistake(word.span(), FileErrorCode::UnknownWord, what, "\"from\", \"to\", \"both\"");
                }
            }
        }
        model
    }

    /// A limit as the program takes it; whether it makes sense is for the part's own check.
    pub(super) fn limit(&mut self, raw: Option<&Spanned<RawLimit>>) -> Option<PartLimit> {
        let raw = raw?.get_ref();
        let side = |reading: &mut Self, key: &str, side: &Option<Spanned<f64>>| {
            let ohm = side.as_ref().and_then(|ohm| reading.number(key, ohm, (0.0, MAX_OHM)));
            ohm.and_then(|ohm| exact(ohm, Unit::Ohm))
        };
        let (high, low) = (side(self, "high", &raw.high), side(self, "low", &raw.low));
        let celsius = raw.temperature.as_ref().and_then(|t| self.number("temperature", t, LIMIT_CELSIUS));
        Some(PartLimit {
            high,
            low,
            temperature: celsius.and_then(|celsius| exact(celsius, Unit::Celsius)),
            source: raw.source.clone(),
        })
    }
}

/// The digits of a number as the file has it: the shortest ones that mean the same number.
fn exact(number: f64, unit: Unit) -> Option<Quantity> {
    Quantity::parse(&number.to_string(), unit).ok()
}
