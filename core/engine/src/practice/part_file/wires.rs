//! The electrical side of a conductor: resistance, angles, what is wrong with it.

use super::raw::{RawConductor, RawFault, RawPart};
use super::told::example;
use super::{MAX_OHM, Reading};
use crate::practice::part_model::{Fault, Wire};
use evenwire_core::meter::FileErrorCode;
use toml::Spanned;

/// Most entries of a table over angle.
const MAX_ANGLES: usize = 256;
/// Angles go this far to either side, thousandths of a turn.
const MAX_TURN_MILLI: i64 = 10_000;
const DEFAULT_REACH_MILLI: i64 = 40;
/// What a conductor touches that touches no other one.
const METAL: &str = "metal";

impl Reading<'_> {
    pub(super) fn wire(&mut self, part: &RawPart, spanned: &Spanned<RawConductor>) -> Option<Wire> {
        let raw = spanned.get_ref();
        let over_angle = self.over_angle(&raw.over_angle);
        let fault = raw.fault.as_ref().map(|fault| self.fault(part, fault));
        let ohm = match (&raw.ohm, over_angle.first()) {
            (Some(ohm), _) => self.ohm(ohm, 0.0)?,
            (None, Some((_, ohm))) => *ohm,
            (None, None) if raw.over_angle.is_empty() => {
                self.mistake(spanned.span(), FileErrorCode::MissingKey, "`ohm` is missing", example("ohm"));
                return None;
            }
            (None, None) => return None,
        };
        match fault {
            None => Some(Wire { ohm, over_angle, fault: None }),
            Some(fault) => Some(Wire { ohm, over_angle, fault: Some(fault?) }),
        }
    }

    fn over_angle(&mut self, raw: &[Spanned<(i64, f64)>]) -> Vec<(i32, f64)> {
        if let Some(over) = raw.get(MAX_ANGLES) {
            let instead = format!("at most {MAX_ANGLES}");
            self.mistake(over.span(), FileErrorCode::OutOfRange, "too many angles", instead);
        }
        let mut table: Vec<(i32, f64)> = Vec::new();
        for entry in raw.iter().take(MAX_ANGLES) {
            let (angle, ohm) = *entry.get_ref();
            let fits = (-MAX_TURN_MILLI..=MAX_TURN_MILLI).contains(&angle) && (0.0..=MAX_OHM).contains(&ohm);
            let rises = table.last().is_none_or(|(before, _)| i64::from(*before) < angle);
            if !fits {
                let what = format!("[{angle}, {ohm}] is beyond what a part can have");
                let instead = "[thousandths of a turn from -10000 to 10000, ohm from 0 to 1000000]";
                self.mistake(entry.span(), FileErrorCode::OutOfRange, what, instead);
            } else if !rises {
                let what = format!("angle {angle} does not rise");
                self.mistake(entry.span(), FileErrorCode::Conflict, what, "angles in rising order, each once");
            } else {
                table.push((i32::try_from(angle).expect("at most 10000"), ohm));
            }
        }
        table
    }

    fn fault(&mut self, part: &RawPart, spanned: &Spanned<RawFault>) -> Option<Fault> {
        let raw = spanned.get_ref();
        let kind = raw.kind.get_ref().as_str();
        let angles = [&raw.at_milli, &raw.reach_milli].into_iter().flatten().next();
        if let (true, Some(angle)) = (kind != "intermittent", angles) {
            self.mistake(angle.span(), FileErrorCode::Conflict, "only an intermittent fault has a place", "no angle");
        }
        if let ("open", Some(ohm)) = (kind, &raw.ohm) {
            self.mistake(ohm.span(), FileErrorCode::Conflict, "an open conductor has no ohm", "no `ohm`, or \"added\"");
        }
        if let (true, Some(touched)) = (kind != "touches", &raw.touches) {
            self.mistake(
                touched.span(),
                FileErrorCode::Conflict,
                "another kind of fault touches nothing",
                "kind = \"touches\"",
            );
        }
        match kind {
            "open" => Some(Fault::Open),
            "added" => Some(Fault::Added { ohm: self.fault_ohm(spanned)? }),
            "flaky" => Some(Fault::Flaky { ohm: self.fault_ohm(spanned)? }),
            "intermittent" => self.intermittent(spanned),
            "touches" => self.touches(part, spanned),
            _ => {
                let what = format!("`kind` is {kind:?}");
                let known = "\"open\", \"added\", \"intermittent\", \"flaky\", \"touches\"";
                self.mistake(raw.kind.span(), FileErrorCode::UnknownWord, what, known);
                None
            }
        }
    }

    fn intermittent(&mut self, spanned: &Spanned<RawFault>) -> Option<Fault> {
        let raw = spanned.get_ref();
        let ohm = match &raw.ohm {
            Some(ohm) => Some(self.ohm(ohm, f64::MIN_POSITIVE)?),
            None => None,
        };
        let Some(at) = &raw.at_milli else {
            let instead = "at_milli = 420, thousandths of a turn";
            self.mistake(spanned.span(), FileErrorCode::MissingKey, "`at_milli` is missing", instead);
            return None;
        };
        let at = self.whole(at, "at_milli", (-MAX_TURN_MILLI, MAX_TURN_MILLI))?;
        let reach = match &raw.reach_milli {
            Some(reach) => self.whole(reach, "reach_milli", (1, 1_000))?,
            None => DEFAULT_REACH_MILLI,
        };
        let small = |number: i64| i32::try_from(number).expect("within its range");
        Some(Fault::Intermittent { at_milli: small(at), reach_milli: small(reach), ohm })
    }

    fn touches(&mut self, part: &RawPart, spanned: &Spanned<RawFault>) -> Option<Fault> {
        let Some(touched) = &spanned.get_ref().touches else {
            let instead = "touches = \"5\", another conductor, or \"metal\"";
            self.mistake(spanned.span(), FileErrorCode::MissingKey, "`touches` is missing", instead);
            return None;
        };
        let other = match touched.get_ref().as_str() {
            METAL => None,
            _ => Some(self.conductor_named(part, touched)?),
        };
        let own = other.is_some_and(|other| {
            part.conductors[other].get_ref().fault.as_ref().is_some_and(|fault| fault.span() == spanned.span())
        });
        if own {
            self.mistake(touched.span(), FileErrorCode::Conflict, "a conductor touches itself", "another conductor");
        }
        Some(Fault::Touches { other, ohm: self.fault_ohm(spanned)? })
    }

    fn fault_ohm(&mut self, spanned: &Spanned<RawFault>) -> Option<f64> {
        match &spanned.get_ref().ohm {
            Some(ohm) => self.ohm(ohm, f64::MIN_POSITIVE),
            None => {
                let instead = "ohm = 11.6, what the fault adds";
                self.mistake(spanned.span(), FileErrorCode::MissingKey, "`ohm` is missing", instead);
                None
            }
        }
    }
}
