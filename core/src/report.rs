//! A job on paper: its entries to titled blocks, tables and pictures, in one language. Nothing is placed on a page
//! here, and nothing is worded twice: what the screens say already, they say here, too.
//!
//! ```text
//! entries -> Chronicle -> Report -> (evenwire-paper) -> PDF
//!                      -> export -> CSV, JSON
//! ```
//!
//! A report says no more than the ledger: what nobody entered is said to be unknown.

mod bolts;
mod chronicle;
pub mod export;
mod gather;
mod model;
mod proofs;
mod readings;
mod record;
mod safety;
mod steps;
mod summary;
mod unsigned;
#[cfg(test)]
mod tests;

pub use gather::{people_named, samples_of_sweeps, shop_described};
pub use model::{
    Block, Column, Field, LadderPicture, PageWords, PhotoBlock, Report, Row, Section, Table, TracePicture,
};
pub use unsigned::{Unsigned, unsigned};

use crate::job::{Job, vehicle_words};
use crate::record::{Details, Earlier, Hash, Sample, Sealed};
use crate::unit::Stamp;
use crate::verdict::words::Language;
use crate::view::people::shown;
use crate::view::words::tongue;
use chronicle::Chronicle;
use jiff::tz::TimeZone;
use std::collections::BTreeMap;
use uuid::Uuid;

/// What a report is to be made of beside the entries.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    /// Its language.
    pub language: Language,
    /// Where the clock hangs that its times are told by; none: as they were written down.
    pub zone: Option<TimeZone>,
    /// When it is put together.
    pub printed: Stamp,
    /// Personal details; none: they were erased, or are not on this device.
    pub details: Option<&'a Details>,
    /// What stood in their place before they were corrected, oldest first.
    pub earlier: &'a [Earlier],
    /// Names of those who are or were on the roster; one that is missing is said not to be kept.
    pub people: &'a BTreeMap<Uuid, String>,
    /// Samples of sweeps, by the sweep's name; one that is not here is told without its picture.
    pub samples: &'a BTreeMap<Uuid, Vec<Sample>>,
    /// Where the job's newest entry stands in its ledger.
    pub place: Option<LedgerPlace>,
}

/// Where an entry stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LedgerPlace {
    /// Whose ledger.
    pub device: Uuid,
    /// Number of the entry.
    pub sequence: u64,
    /// Hash of the entry, which binds all that stand before it.
    pub hash: Hash,
}

impl LedgerPlace {
    /// Where `sealed` stands.
    pub fn of(sealed: &Sealed) -> LedgerPlace {
        LedgerPlace { device: sealed.entry().device, sequence: sealed.entry().sequence, hash: sealed.hash() }
    }
}

/// All that the parts of a report are told from.
struct Telling<'a> {
    told: &'a Chronicle,
    asked: &'a Asked<'a>,
}

impl Report {
    /// The report of a job from its entries, oldest first; `None` if the first one does not open a job.
    pub fn of(entries: &[Sealed], asked: &Asked<'_>) -> Option<Report> {
        let told = Chronicle::read(entries, asked.zone.as_ref())?;
        let telling = Telling { told: &told, asked };
        let details = [
            record::corrected(&telling),
            record::handed(&telling),
            steps::procedure(&telling),
            safety::section(&telling),
            record::codes(&telling),
            readings::conductors(&telling),
            proofs::compared(&telling),
            readings::touches(&telling),
            readings::meters(&telling),
            proofs::bars(&telling),
            proofs::isolation(&telling),
            proofs::sweeps(&telling),
            bolts::parts(&telling),
            bolts::bolts(&telling),
            steps::all(&telling),
            steps::left_out(&telling),
            readings::taken_back(&telling),
            record::cautions(&telling),
            record::photos(&telling),
            record::place(&telling),
        ];
        Some(Report {
            language: asked.language,
            title: telling.t("Job report", "Auftragsbericht").to_owned(),
            order: told.job.order.clone(),
            vehicle: vehicle_words(&told.job.vehicle, asked.details.map_or("", |details| &details.vin)),
            printed: telling.here(&asked.printed),
            notice: telling.notice(),
            head: summary::head(&telling),
            summary: summary::sections(&telling),
            details: details.into_iter().flatten().collect(),
            page_words: PageWords {
                page_of: telling.t("Page {} of {}", "Seite {} von {}").to_owned(),
                details: telling.t("Details", "Im Einzelnen").to_owned(),
                logo: telling.t("Logo of the shop", "Zeichen der Werkstatt").to_owned(),
            },
        })
    }
}

impl Section {
    /// A section of these blocks; `None` when there are none, so that no empty title is printed.
    fn of(title: &str, blocks: Vec<Block>) -> Option<Section> {
        (!blocks.is_empty()).then(|| Section { title: title.to_owned(), blocks })
    }
}

impl Telling<'_> {
    fn language(&self) -> Language {
        self.asked.language
    }

    fn t<'t>(&self, en: &'t str, de: &'t str) -> &'t str {
        tongue(self.asked.language, en, de)
    }

    /// A stamp that does not come from an entry, on the clock of the report.
    fn here(&self, at: &Stamp) -> Stamp {
        chronicle::moved(at, self.asked.zone.as_ref())
    }

    fn job(&self) -> &Job {
        &self.told.job
    }

    /// Name of a conductor of one of the parts.
    fn wire(&self, part: usize, conductor: u32) -> String {
        let part = self.told.parts.get(part).and_then(|job| job.part.as_ref());
        let named = part.and_then(|part| part.conductors.get(conductor as usize));
        named.map_or_else(|| "?".to_owned(), |conductor| conductor.name.clone())
    }

    /// What one of the parts is called, where there are several.
    fn part_name(&self, part: usize) -> String {
        match (part, self.told.parts.len()) {
            (0, _) => self.t("Old part", "Altes Teil").to_owned(),
            (1, 2) => self.t("Candidate", "Ersatzteil").to_owned(),
            (n, _) => format!("{} {n}", self.t("Candidate", "Ersatzteil")),
        }
    }

    /// The part's name as a subtitle, where there are several.
    fn of_part(&self, part: usize) -> Option<Block> {
        (self.told.parts.len() > 1).then(|| Block::Subtitle(self.part_name(part)))
    }

    /// A person of the roster; `None`: the record names nobody.
    fn person(&self, who: Option<Uuid>) -> Option<String> {
        let name = self.asked.people.get(&who?).map_or("", String::as_str);
        Some(shown(name, self.language()))
    }

    /// What has to be known before anything else is read.
    fn notice(&self) -> Vec<String> {
        let mut said: Vec<String> = Vec::new();
        let mut sources: Vec<&str> = self
            .told
            .meters
            .iter()
            .filter(|meter| meter.source != crate::meter::link::Source::Typed)
            .map(|meter| crate::view::words::source_words(meter.source, self.language()))
            .filter(|words| !words.is_empty())
            .collect();
        sources.dedup();
        said.extend(sources.into_iter().map(str::to_owned));
        if self.job().finished.is_none() {
            let at = self.told.newest.to_minute();
            said.push(match self.language() {
                Language::En => format!("This job is not closed. It is told as it stood at {at}."),
                Language::De => format!("Dieser Auftrag ist nicht abgeschlossen. Stand: {at}."),
            });
        }
        if self.job().newer_entries {
            said.push(
                self.t(
                    "The job holds entries of a newer program. They are kept, and are not told here.",
                    "Der Auftrag enthält Einträge eines neueren Programms. Sie sind aufbewahrt und stehen hier nicht.",
                )
                .to_owned(),
            );
        }
        said
    }
}
