//! A job as a line of the list: derived from its entries, rebuilt from them at any time.

use super::state::Job;
use crate::record::Details;
use crate::unit::Stamp;
use crate::verdict::SetVerdict;
use crate::verdict::words::Language;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use uuid::Uuid;

/// What a search asks for to find only jobs in which something is open. Nobody types its first character.
pub const OPEN_MARK: &str = "\u{e000}open";

/// Which step of a job is to be done now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// Read the caution at job start.
    Start,
    /// Do the steps of the procedure.
    Steps,
    /// Describe the part.
    Part,
    /// Choose and connect the meter.
    Meter,
    /// Read the caution before any ohm step.
    Caution,
    /// Clip and measure.
    Measure,
    /// See the verdict.
    Verdict,
    /// It is with another device.
    HandedOver,
    /// Closed.
    Done,
}

/// Something that is open in a job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OpenItem {
    /// Substitute loads or lock pins are out.
    Loads,
    /// A step waits for the signature of a second person.
    Signature,
    /// The lamp is on or a code is stored, as known last.
    Lamp,
    /// It is not closed.
    NotClosed,
}

impl OpenItem {
    /// Words it is found by, English and German.
    fn words(self) -> &'static str {
        match self {
            OpenItem::Loads => "loads out lasten draußen",
            OpenItem::Signature => "second signature zweite unterschrift",
            OpenItem::Lamp => "lamp on lampe an",
            OpenItem::NotClosed => "not closed open nicht abgeschlossen offen",
        }
    }
}

/// What the list needs to know of a job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// The job.
    pub job: Uuid,
    /// Sequence of the entry that opened it: the list is in this order, newest first.
    pub opened_by: u64,
    /// Order number or name.
    pub order: String,
    /// Vehicle in short words, with the last six of the VIN if there is one.
    pub vehicle: String,
    /// Customer; personal, erased with the details.
    pub customer: String,
    /// When it was opened.
    pub opened: Stamp,
    /// The step it waits at.
    pub stage: Stage,
    /// The newest verdict, as long as nothing it rests on changed.
    pub verdict: Option<SetVerdict>,
    /// Name of the conductor that condemned it, if one did.
    pub condemned_by: String,
    /// Touches taken.
    pub taken: u32,
    /// Touches wanted.
    pub wanted: u32,
    /// What is open in it.
    pub open: BTreeSet<OpenItem>,
    /// Its personal details and photos were erased.
    pub erased: bool,
    /// Everything a search looks at, lower case and without U+0000; personal, erased with the details.
    pub search: String,
}

impl Line {
    /// The line without what is personal: it is found by its order, its day, its verdict and what is open, and says
    /// neither customer nor vehicle (which may end in digits of the VIN).
    pub fn without_details(&self) -> Line {
        let (customer, vehicle) = (String::new(), String::new());
        let line = Line { customer, vehicle, erased: true, ..self.clone() };
        Line { search: line.search_with([]), ..line }
    }

    /// What the line itself is found by, and `others`.
    fn search_with<const N: usize>(&self, others: [&str; N]) -> String {
        let day = self.opened.as_str().get(..10).unwrap_or_default();
        let german: Vec<&str> = day.rsplit('-').collect();
        let verdict = match self.verdict {
            Some(SetVerdict::Pass) => "alike gleich",
            Some(SetVerdict::Fail) => "condemned verworfen",
            Some(SetVerdict::Undecided) => "undecided unentschieden",
            None => "",
        };
        let open = self.open.iter().map(|item| item.words()).collect::<Vec<_>>().join("\n");
        let mark = if self.open.is_empty() { "" } else { OPEN_MARK };
        let own = [&self.order, day, &german.join("."), verdict, &open, mark].join("\n");
        // What ends at a U+0000 for some would hide what comes after it.
        format!("{own}\n{}", others.join("\n")).to_lowercase().replace('\0', " ")
    }
}

/// What the order of a candidate begins with, English and German.
const CANDIDATE: (&str, &str) = ("Candidate for ", "Ersatz für ");

/// The order of a candidate that is compared with the part of `order`: "Candidate for W-2041". A candidate of a
/// candidate is one for the same order, whichever language it was opened in.
///
/// ```
/// use evenwire_core::job::candidate_order;
/// use evenwire_core::verdict::words::Language;
/// let first = candidate_order("W-2041", Language::En);
/// assert_eq!(candidate_order(&first, Language::De), "Ersatz für W-2041");
/// ```
pub fn candidate_order(order: &str, language: Language) -> String {
    let mut bare = order.trim();
    while let Some(rest) = bare.strip_prefix(CANDIDATE.0).or_else(|| bare.strip_prefix(CANDIDATE.1)) {
        bare = rest.trim_start();
    }
    let before = match language {
        Language::En => CANDIDATE.0,
        Language::De => CANDIDATE.1,
    };
    format!("{before}{bare}")
}

/// A plate or a number as it is typed in a hurry: without its blanks, and without anything else between letters and digits.
///
/// "XX-AB 123" gives "XX-AB123 XXAB123".
fn run_together(text: &str) -> String {
    let blanks_gone: String = text.split_whitespace().collect();
    let bare: String = text.chars().filter(|character| character.is_alphanumeric()).collect();
    let others = [blanks_gone, bare].into_iter().filter(|other| other != text);
    others.collect::<Vec<_>>().join(" ")
}

impl Job {
    /// Its line of the list.
    pub fn line(&self, details: &Details) -> Line {
        let (taken, wanted) = self.progress();
        // A verdict that does not hold any more is none.
        let verdict = self.verdict.as_ref().filter(|v| !v.outdated).map(|v| &v.judgement);
        let condemned = verdict.filter(|j| j.set == SetVerdict::Fail).and_then(|j| j.action_conductor);
        let name_of = |c: u32| self.part.as_ref().and_then(|p| p.conductors.get(c as usize)).map(|c| c.name.clone());
        let line = Line {
            job: self.id,
            opened_by: self.opened_by,
            order: self.order.clone(),
            vehicle: vehicle_words(&self.vehicle, &details.vin),
            customer: details.customer.clone(),
            opened: self.opened.clone(),
            stage: self.stage(),
            verdict: verdict.map(|j| j.set),
            condemned_by: condemned.and_then(name_of).unwrap_or_default(),
            taken: u32::try_from(taken).unwrap_or(u32::MAX),
            wanted: u32::try_from(wanted).unwrap_or(u32::MAX),
            open: self.open_items(),
            erased: false,
            search: String::new(),
        };
        if self.erased.is_some() {
            return line.without_details();
        }
        let Details { customer, plate, vin, phone, .. } = details;
        let [plates, phones] = [plate, phone].map(|text| run_together(text));
        Line { search: line.search_with([&self.vehicle, customer, plate, &plates, vin, phone, &phones]), ..line }
    }

    /// What is open in it, as its entries tell.
    fn open_items(&self) -> BTreeSet<OpenItem> {
        let work = self.work.as_deref();
        let open = |item, is: bool| is.then_some(item);
        [
            open(OpenItem::Loads, work.is_some_and(|work| work.counted_out() != (0, 0))),
            open(OpenItem::Signature, work.is_some_and(|work| work.waits_for_second().next().is_some())),
            open(OpenItem::Lamp, work.is_some_and(|work| work.is_in_trouble())),
            open(OpenItem::NotClosed, self.finished.is_none()),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

/// A vehicle in one line: its short name and the last six of the VIN.
pub fn vehicle_words(vehicle: &str, vin: &str) -> String {
    let characters: Vec<char> = vin.trim().chars().collect();
    let last: String = characters[characters.len().saturating_sub(6)..].iter().collect();
    match (vehicle.trim(), last.is_empty()) {
        ("", true) => String::new(),
        (name, true) => name.to_owned(),
        ("", false) => format!("…{last}"),
        (name, false) => format!("{name} …{last}"),
    }
}
