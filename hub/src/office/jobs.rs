//! The jobs of the shop: looking for some, and the shop at one look.

use super::devices;
use super::model::{Access, OfficeJob, OfficeJobs, OfficeToday};
use super::refusal::No;
use super::seat::{Seat, Technician};
use super::sent::{Spoken, Told, Wanted};
use crate::app::{Shared, stamp};
use crate::storage::{Deed, DeviceRow, LineRow, Search};
use axum::extract::State;
use evenwire_core::job::{OPEN_MARK, OpenItem};
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::SetVerdict;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::job_line;
use evenwire_core::view::jobs_found;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::Deserialize;
use std::collections::BTreeSet;

/// Lines told at once, at most.
const MOST: u32 = 200;
/// Looking through jobs is written once in a while for each person, not with every letter.
const PAUSE_MS: i64 = 10 * 60 * 1000;
/// A day, as long as most are.
const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// What is looked for.
#[derive(Debug, Deserialize)]
pub struct Looked {
    #[serde(default)]
    language: Option<Language>,
    #[serde(default)]
    search: String,
    #[serde(default)]
    verdict: String,
    #[serde(default)]
    open: bool,
    #[serde(default)]
    limit: Option<u32>,
    /// Where the list that is shown ended, as it was told with it.
    #[serde(default)]
    below: Option<i64>,
    /// How many of it are shown.
    #[serde(default)]
    shown: usize,
}

impl Looked {
    /// The verdict that is wanted, if it is one.
    fn verdict(&self) -> Option<SetVerdict> {
        serde_json::from_value(self.verdict.as_str().into()).ok()
    }

    /// Every word that has to occur.
    fn words(&self) -> String {
        let verdict = match self.verdict() {
            Some(SetVerdict::Pass) => "alike",
            Some(SetVerdict::Fail) => "condemned",
            Some(SetVerdict::Undecided) => "undecided",
            None => "",
        };
        [self.search.as_str(), verdict, if self.open { OPEN_MARK } else { "" }].join(" ")
    }
}

/// Versions of one job become one line: what is told of it is told by the newest.
fn job(versions: &[LineRow], devices: &[DeviceRow], language: Language) -> Option<OfficeJob> {
    let first = versions.first()?;
    let mut line = job_line(&first.line, language);
    let mut verdict = first.line.verdict;
    // Which of them holds nobody knows: neither is told as that of the job.
    if versions.iter().any(|version| version.line.verdict != verdict) {
        (verdict, line.verdict) = (None, None);
        line.words = differing(language).to_owned();
    }
    let named = |row: &LineRow| devices.iter().find(|device| device.number == row.device).map(|it| it.name.clone());
    let open: BTreeSet<OpenItem> = versions.iter().flat_map(|version| version.line.open.iter().copied()).collect();
    Some(OfficeJob {
        line,
        verdict,
        open: open.into_iter().collect(),
        erased: first.line.erased,
        devices: versions.iter().filter_map(named).collect(),
        versions: first.versions,
    })
}

fn differing(language: Language) -> &'static str {
    match language {
        Language::En => "Its versions end in different verdicts: look at each.",
        Language::De => "Die Fassungen enden mit verschiedenen Urteilen: schau jede an.",
    }
}

/// Jobs, and where the list goes on below them.
async fn find(app: &Shared, search: Search, language: Language) -> Result<(Vec<OfficeJob>, Option<i64>), No> {
    let devices = app.storage.devices().await?;
    let page = app.storage.find_jobs(search).await?;
    Ok((page.jobs.iter().filter_map(|versions| job(versions, &devices, language)).collect(), page.below))
}

async fn noted(app: &Shared, by: &Seat) -> Result<(), No> {
    let deed = Deed { person: Some(by.person.id), ..Deed::default() };
    Ok(app.storage.note(Access::Search, deed, (app.clock.now_ms(), PAUSE_MS)).await?)
}

/// Jobs, newest first.
pub async fn list(
    State(app): State<Shared>,
    Technician(by): Technician,
    Wanted(looked): Wanted<Looked>,
) -> Result<Told<OfficeJobs>, No> {
    noted(&app, &by).await?;
    let language = looked.language.unwrap_or(Language::En);
    let most = looked.limit.unwrap_or(30).clamp(1, MOST);
    // The verdict's word may stand in a customer's name, too: it only says where to look.
    let search = Search { words: looked.words(), verdict: looked.verdict(), before: looked.below, most };
    let (jobs, below) = find(&app, search, language).await?;
    let words = jobs_found(looked.shown.saturating_add(jobs.len()), below.is_some(), language);
    Ok(Told(OfficeJobs { jobs, words, below: below.map(|below| below.to_string()) }))
}

/// Jobs opened on the day of `now` as the shop counts it. A line tells the day by its device's own clock, which may hang
/// elsewhere, and a customer may be called like a day: the instant decides.
async fn begun_on(app: &Shared, now: i64, language: Language) -> Result<Vec<OfficeJob>, No> {
    let mut jobs: Vec<OfficeJob> = Vec::new();
    for near in [now + DAY_MS, now, now - DAY_MS] {
        let search = Search { words: day(near), most: MOST, ..Search::default() };
        for job in find(app, search, language).await?.0 {
            let is_known = jobs.iter().any(|known| known.line.job == job.line.job);
            if !is_known && day_of(&job.line.opened).is_some_and(|opened| opened == day(now)) {
                jobs.push(job);
            }
        }
    }
    Ok(jobs)
}

/// The day by the clock on the wall of the shop.
fn day(at_ms: i64) -> String {
    let at = Timestamp::from_millisecond(at_ms).unwrap_or(Timestamp::UNIX_EPOCH);
    TimeZone::system().to_datetime(at).date().to_string()
}

/// The day of an instant that was written somewhere else.
fn day_of(stamp: &Stamp) -> Option<String> {
    stamp.as_str().parse::<Timestamp>().ok().map(|at| day(at.as_millisecond()))
}

/// The shop at one look.
pub async fn today(
    State(app): State<Shared>,
    Technician(by): Technician,
    Wanted(spoken): Wanted<Spoken>,
) -> Result<Told<OfficeToday>, No> {
    noted(&app, &by).await?;
    let (now, language) = (app.clock.now_ms(), spoken.language());
    let day = day(now);
    let mut devices = devices::all(&app).await?;
    devices.retain(|device| device.revoked.is_none());
    let search = Search { words: OPEN_MARK.to_owned(), most: MOST, ..Search::default() };
    let (open, more_open) = find(&app, search, language).await?;
    let jobs = begun_on(&app, now, language).await?;
    let pairings = u32::try_from(app.storage.pairings_waiting(now).await?.len()).unwrap_or(u32::MAX);
    let at = stamp(now).as_str().to_owned();
    let room_mb = fs4::available_space(app.certificates.folder()).ok().and_then(scarce);
    Ok(Told(OfficeToday { day, at, devices, pairings, jobs, open, more_open: more_open.is_some(), room_mb }))
}

/// Less than this is told: some weeks of a shop's days, so that somebody has time to make room.
const ROOM: u64 = 2_000_000_000;

/// What is left, in MB, where it is scarce.
fn scarce(bytes: u64) -> Option<u32> {
    (bytes < ROOM).then(|| u32::try_from(bytes / 1_000_000).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::storage::DeviceNumber;
    use evenwire_core::job::{Line, Stage};
    use evenwire_core::record::Hash;
    use uuid::Uuid;

    #[test]
    fn room_is_told_only_where_it_is_scarce() {
        assert_eq!((scarce(1_999_999_999), scarce(999_999), scarce(2_000_000_000)), (Some(1_999), Some(0), None));
    }

    fn row(device: i64, verdict: Option<SetVerdict>, open: &[OpenItem]) -> LineRow {
        let line = Line {
            job: Uuid::from_u128(7),
            opened_by: 1,
            order: "W-2041".into(),
            vehicle: String::new(),
            customer: String::new(),
            opened: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
            stage: Stage::Verdict,
            verdict,
            condemned_by: String::new(),
            taken: 16,
            wanted: 16,
            open: open.iter().copied().collect::<BTreeSet<_>>(),
            erased: false,
            search: String::new(),
        };
        let (newer, entries, entries_hash, counts) = (false, 3, Hash::ZERO, true);
        LineRow {
            number: device,
            device: DeviceNumber(device),
            line,
            newer,
            entries,
            entries_hash,
            counts,
            versions: 2,
        }
    }

    #[test]
    fn of_versions_that_end_in_different_verdicts_none_is_told_and_everything_open_is() {
        let rows = |first, second| {
            let (loads, lamp) = ([OpenItem::Loads], [OpenItem::Lamp, OpenItem::Loads]);
            job(&[row(1, first, &loads), row(2, second, &lamp)], &[], Language::En).unwrap()
        };
        let parted = rows(Some(SetVerdict::Pass), Some(SetVerdict::Fail));
        assert_eq!((parted.verdict, parted.line.verdict), (None, None));
        assert!(parted.line.words.contains("different verdicts"), "{}", parted.line.words);
        assert_eq!(parted.open, [OpenItem::Loads, OpenItem::Lamp]);
        let agreed = rows(Some(SetVerdict::Fail), Some(SetVerdict::Fail));
        assert_eq!(agreed.verdict, Some(SetVerdict::Fail));
        assert!(!agreed.line.words.contains("different"));
    }

    #[test]
    fn the_day_of_a_job_is_told_by_the_clock_of_the_shop() {
        let at = |text: &str| Stamp::parse(text).unwrap();
        // The same instant, as three devices write it.
        let day = day_of(&at("2026-03-02T00:30:00Z"));
        assert_eq!(day_of(&at("2026-03-01T16:30:00-08:00")), day);
        assert_eq!(day_of(&at("2026-03-02T09:30:00+09:00")), day);
        assert!(day.is_some_and(|day| day == "2026-03-02" || day == "2026-03-01"));
    }
}
