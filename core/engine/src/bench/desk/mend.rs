//! Beginning from the ledger: at the start, after a fault of the store, and after a fault of our own. What cannot be
//! built from the ledger is not worked with.

use super::super::{StartError, faults, identity};
use super::Desk;
use crate::practice::guide::Guide;
use evenwire_core::job::{Job, Line};
use evenwire_core::meter::Profile;
use evenwire_core::meter::link::LinkCommand;
use evenwire_core::record::{Clock, DeviceKey, Draft, Event, Head, Sealed};
use evenwire_core::session::{Batch, Beginning, Erasing, Input, Output, Session, Wanted};
use evenwire_core::unit::Now;
use evenwire_core::verdict::words::Language;
use evenwire_core::view::Notice;
use evenwire_store::{Store, StoreError};
use uuid::Uuid;

/// Falls in a row after which the bench ends: by then even an empty session did not help.
pub(super) const MOST_FALLS: u32 = 3;

/// Lines written in one go when they are made anew.
const LINES_AT_A_TIME: usize = 1_000;

impl Desk {
    /// Something panicked: from here on nothing in memory is believed.
    pub(super) fn fell(&mut self) {
        self.falls += 1;
        tracing::error!(falls = self.falls, "a fault of our own; work begins anew from the ledger");
    }

    /// Makes good a fall, with less each time it does not help: the job stays on the bench, then it is put aside,
    /// then nothing is done any more but saying so. A view that was told ends the row of falls.
    pub(super) fn mend(&mut self) {
        let language = self.session.language();
        match self.falls {
            0 => {}
            1 => self.begin_anew(faults::bug(language), self.session.job().map(|job| job.id)),
            2 => self.begin_anew(faults::put_aside(language), None),
            _ => self.stop(),
        }
    }

    /// The session is thrown away and built from the ledger, with `job` on the bench; the meter is let go.
    pub(super) fn begin_anew(&mut self, notice: Notice, job: Option<Uuid>) {
        self.send(None, &LinkCommand::Disconnect);
        self.fault = Some(notice);
        self.urgent = true;
        self.dirty = true;
        self.guide = Guide::default();
        if !self.clear() {
            return;
        }
        match job.map(|job| self.load(job, Wanted::Bench)) {
            Some(Ok(loaded)) => {
                let now = self.clock.now();
                let outputs = self.session.handle(loaded, &now);
                // Another job was worked on before this one, and that this is known was not recorded. It is recorded
                // when a person opens the job again; until then the job is not on the bench.
                if outputs.iter().any(|output| matches!(output, Output::Append(_))) {
                    self.clear();
                }
            }
            Some(Err(error)) => tracing::error!(%error, "the job cannot be taken up again"),
            None => {}
        }
    }

    /// A session from the ledger, with nothing on the bench. False: there is none, and nothing is done any more.
    fn clear(&mut self) -> bool {
        match self.fresh_session() {
            Ok(session) => {
                self.session = session;
                true
            }
            Err(error) => {
                tracing::error!(%error, "the session cannot be built from the ledger");
                self.stop();
                false
            }
        }
    }

    fn fresh_session(&self) -> Result<Session, StartError> {
        #[cfg(test)]
        super::tests::fault("rebuild")
            .map_err(|source| StartError::Store { path: self.store.path().into(), source })?;
        begin(&self.store, &self.profiles, self.key.there(), self.clock.now())
    }

    /// Nothing is done any more. What is shown is an empty bench: what memory holds may not be what is recorded.
    fn stop(&mut self) {
        let (language, now) = (self.session.language(), self.clock.now());
        self.fault = Some(faults::stopped(language));
        self.broken = true;
        self.urgent = true;
        self.dirty = true;
        self.session = empty_session(language, now);
    }

    /// Notes beside the ledger how far it has come.
    pub(super) fn witness(&mut self) {
        match identity::witness(&self.store, &self.key.kept) {
            Ok(seen) => self.key.kept = seen,
            Err(error) => tracing::warn!(%error, "how far the ledger has come cannot be read"),
        }
    }

    pub(super) fn load(&self, job: Uuid, wanted: Wanted) -> Result<Input, StoreError> {
        #[cfg(test)]
        super::tests::trip("load");
        let (entries, details) = (self.store.entries_of(job)?, self.store.details(job)?);
        Ok(Input::Loaded { wanted, entries, details, newest_job: self.store.newest_job()? })
    }
}

/// A session at the end of the ledger. Without a key nothing is signed.
pub(super) fn begin(
    store: &Store,
    profiles: &[Profile],
    key: Option<DeviceKey>,
    now: Now,
) -> Result<Session, StartError> {
    let seed = random()?;
    let beginning = || {
        let (head, device_entries, people) = (store.head()?, store.entries_of_device()?, store.people()?);
        Ok(Beginning { head, device_entries, people, key, seed, profiles: profiles.to_vec(), now })
    };
    let beginning = beginning().map_err(|source| StartError::Store { path: store.path().to_owned(), source })?;
    Ok(Session::new(beginning))
}

/// A session of no ledger. It is only looked at, never worked with; all it knows is the language.
fn empty_session(language: Language, now: Now) -> Session {
    let mut head = Head::empty(Uuid::nil());
    let spoken = speaking(language, &mut head, &now);
    let nothing = Head::empty(Uuid::nil());
    let (device_entries, people, profiles) = (vec![spoken], Vec::new(), Vec::new());
    Session::new(Beginning { head: nothing, device_entries, people, key: None, seed: [0; 32], profiles, now })
}

fn speaking(language: Language, head: &mut Head, now: &Now) -> Sealed {
    let (kind, body) = Event::LanguageChosen { language }.parts();
    let draft = Draft {
        id: Uuid::nil(),
        job: None,
        kind,
        version: Event::VERSION,
        elapsed_ms: now.boot,
        wall: now.wall.clone(),
        clock: Clock::Ok,
        body,
    };
    head.seal(Uuid::nil(), draft)
}

/// Lines of the job list that are missing are made again from the entries. Where none is, nobody looks. A job that is
/// damaged stays without one: the look at everything after the start tells of it, and the others are worked on.
pub(super) fn restore_lines(store: &mut Store) -> Result<(), StoreError> {
    if store.lines_are_whole()? {
        return Ok(());
    }
    let missing = store.jobs_without_line()?;
    // Only those that are missing are written; the others stay. Some at a time: they may be all there are.
    for some in missing.chunks(LINES_AT_A_TIME) {
        let line = |id: &Uuid| match line_anew(store, *id) {
            Err(StoreError::Damaged { what }) => {
                tracing::warn!(job = %id, %what, "a job has no line in the list");
                Ok(None)
            }
            line => line,
        };
        let lines: Result<Vec<_>, _> = some.iter().map(line).collect();
        store.append(&Batch { lines: lines?.into_iter().flatten().collect(), ..Batch::default() })?;
    }
    store.note_whole_lines()
}

/// Jobs by words. Index and lines are derived: where they are damaged they are made anew, once.
pub(super) fn jobs(store: &Store, search: &str, (skip, limit): (u32, u32)) -> Result<(Vec<Line>, bool), StoreError> {
    match store.jobs(search, skip, limit) {
        Err(StoreError::Damaged { .. }) => {
            store.index_anew()?;
            store.jobs(search, skip, limit)
        }
        found => found,
    }
}

/// The line of a job, made from its entries; `None` for entries that open no job.
fn line_anew(store: &Store, id: Uuid) -> Result<Option<Line>, StoreError> {
    let Some(job) = Job::from_entries(&store.entries_of(id)?) else { return Ok(None) };
    // Details that cannot be read are as good as none: the line says what the entries say.
    let kept = match store.details(id) {
        Err(StoreError::Damaged { .. }) => None,
        kept => kept?,
    };
    let details = kept.and_then(|kept| kept.opened(job.personal)).unwrap_or_default();
    Ok(Some(job.line(&details)))
}

/// The lines of the jobs whose details are to be erased. One that is damaged is made anew: it is derived, and must not
/// stand in the way.
pub(super) fn collect(store: &Store, erasing: Erasing) -> Result<Vec<Line>, StoreError> {
    match erasing {
        Erasing::OpenedBefore(day) => store.lines_before(day),
        Erasing::Job(id) => match store.line(id) {
            Ok(None) | Err(StoreError::Damaged { .. }) => Ok(line_anew(store, id)?.into_iter().collect()),
            line => Ok(line?.into_iter().collect()),
        },
    }
}

pub(super) fn random<const N: usize>() -> Result<[u8; N], StartError> {
    let mut bytes = [0u8; N];
    getrandom::fill(&mut bytes).map_err(|e| StartError::System(e.to_string()))?;
    Ok(bytes)
}
