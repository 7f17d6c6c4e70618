//! Finding, connecting and describing meters; what can be said of the link at any moment.

use super::connection::Connection;
use super::instrument::{instrument, typed_instrument};
use super::{Output, Session, push_append};
use crate::job::{Command, MeterSpecEntry, Refusal};
use crate::meter::link::{FoundMeter, LinkCommand, LinkEvent, LinkState, Offer, RefusedWhy, Source};
use crate::meter::{FrameError, Profile, Reading, choose};
use crate::record::{Chunk, Event, Gathering, Instrument};
use crate::session::Batch;
use crate::unit::{Millis, Now};
use uuid::Uuid;

/// Meters listed at most; more are not added.
const MOST_FOUND: usize = 50;

/// Links and meters as far as the session knows them.
#[derive(Debug)]
pub(super) struct Meters {
    profiles: Vec<Profile>,
    found: Vec<FoundMeter>,
    searching: bool,
    /// State of the radio while nothing is connected through it.
    radio: LinkState,
    /// What a person asked to be connected to.
    pub(super) wanted: Option<FoundMeter>,
    /// State of that link.
    link: LinkState,
    pub(super) connection: Option<Connection>,
    /// The description of what is wanted, kept over reconnects.
    described: Option<Instrument>,
}

/// What can be said of the meter now.
pub struct MeterState<'a> {
    /// State of the link asked for; of the radio while none is.
    pub link: LinkState,
    /// A search is running.
    pub searching: bool,
    /// Meters found.
    pub found: &'a [FoundMeter],
    /// What is connected or being connected to.
    pub wanted: Option<&'a FoundMeter>,
    /// The newest reading, only while it is fresh.
    pub live: Option<Reading>,
    /// Values came, but the newest is older than three periods.
    pub stale: bool,
    /// Nothing can be read before the step of the display is known.
    pub waits_for_step: bool,
    /// What was wrong with the newest frame.
    pub trouble: Option<&'a FrameError>,
    /// Serial number it told.
    pub serial: Option<&'a str>,
    /// As described by a person or known from before.
    pub instrument: Option<&'a Instrument>,
    /// Fields of the description, as far as known.
    pub spec: MeterSpecEntry,
    /// Which of them are still missing.
    pub missing: Vec<&'static str>,
    /// Only the display step is missing, and the first number will tell it.
    pub first_number_tells: bool,
}

impl Meters {
    pub(super) fn new(profiles: Vec<Profile>) -> Meters {
        Meters {
            profiles,
            found: Vec::new(),
            searching: false,
            radio: LinkState::Idle,
            wanted: None,
            link: LinkState::Idle,
            connection: None,
            described: None,
        }
    }

    pub(super) fn state(&self, now: Millis) -> MeterState<'_> {
        let connection = self.connection.as_ref();
        let live = connection.filter(|c| c.is_live(now));
        let link = match &self.wanted {
            Some(_) => self.link,
            None => self.radio,
        };
        MeterState {
            link,
            searching: self.searching,
            found: &self.found,
            wanted: self.wanted.as_ref(),
            live: live.and_then(|c| c.latest),
            stale: connection.is_some_and(|c| c.latest.is_some()) && live.is_none(),
            waits_for_step: connection.is_some_and(Connection::waits_for_step),
            trouble: connection.and_then(|c| c.trouble.as_ref()),
            serial: connection.and_then(|c| c.serial.as_deref()),
            instrument: self.described.as_ref(),
            spec: connection.map(Connection::spec).unwrap_or_default(),
            missing: connection.map(Connection::missing).unwrap_or_default(),
            first_number_tells: connection.is_some_and(|c| c.missing() == ["step"] && !c.waits_for_step()),
        }
    }

    pub(super) fn announce(&mut self, at: Millis) {
        if let Some(connection) = &mut self.connection {
            connection.announce(at);
        }
    }

    pub(super) fn due_chunk(&mut self, at: Millis) -> Option<Chunk> {
        self.connection.as_mut().and_then(|c| c.due_chunk(at))
    }

    pub(super) fn wake_at(&self, now: Millis) -> Option<Millis> {
        let connection = self.connection.as_ref()?;
        let stale = connection.stale_at().map(|at| Millis(at.0 + 1)).filter(|at| *at > now);
        connection.chunk_due_at().into_iter().chain(stale).min()
    }

    fn add(&mut self, found: FoundMeter) {
        if let Some(known) = self.found.iter_mut().find(|f| f.id == found.id) {
            *known = found;
        } else if self.found.len() < MOST_FOUND {
            self.found.push(found);
        }
    }
}

impl Session {
    pub(super) fn meter_wish(&mut self, command: Command, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        match command {
            Command::SearchMeters => {
                self.meters.searching = true;
                self.meters.found.clear();
                outputs.push(Output::Link(None, LinkCommand::Search));
            }
            Command::StopSearch => self.stop_search(outputs),
            Command::ConnectMeter { id } => {
                let found = self.meters.found.iter().find(|f| f.id == id).cloned().ok_or(Refusal::NoSuchMeter)?;
                self.let_meter_go(now, outputs);
                self.stop_search(outputs);
                self.meters.link = LinkState::Connecting;
                outputs.push(Output::Link(Some(found.source), LinkCommand::Connect { id }));
                self.meters.wanted = Some(found);
            }
            _ => self.let_meter_go(now, outputs),
        }
        Ok(())
    }

    fn stop_search(&mut self, outputs: &mut Vec<Output>) {
        if std::mem::take(&mut self.meters.searching) {
            outputs.push(Output::Link(None, LinkCommand::StopSearch));
        }
    }

    fn let_meter_go(&mut self, now: &Now, outputs: &mut Vec<Output>) {
        self.drop_connection(now, outputs);
        self.meters.described = None;
        self.meters.link = LinkState::Idle;
        if let Some(wanted) = self.meters.wanted.take() {
            outputs.push(Output::Link(Some(wanted.source), LinkCommand::Disconnect));
        }
    }

    /// Ends the connection: its samples are written, its settler forgotten.
    fn drop_connection(&mut self, now: &Now, outputs: &mut Vec<Output>) {
        self.break_sweep(outputs);
        let next = self.gathering(0, now);
        let chunk = self.meters.connection.take().and_then(|mut c| c.close_chunk(now.boot, next));
        push_append(outputs, Batch { chunks: chunk.into_iter().collect(), ..Batch::default() });
    }

    pub(super) fn link(&mut self, source: Source, event: LinkEvent, now: &Now, outputs: &mut Vec<Output>) {
        match event {
            LinkEvent::Found(found) => self.meters.add(found),
            LinkEvent::State(state) => self.link_state(source, state, now, outputs),
            LinkEvent::Connected { generation, offer } => self.connected((source, generation), &offer, now, outputs),
            LinkEvent::Bytes { generation, characteristic, bytes, at } => {
                if self.meters.connection.as_ref().is_some_and(|c| c.brings(source, generation, characteristic)) {
                    self.bytes(bytes, (at, now), outputs);
                }
            }
        }
    }

    fn link_state(&mut self, source: Source, state: LinkState, now: &Now, outputs: &mut Vec<Output>) {
        if source == Source::Radio {
            self.meters.radio = state;
        }
        if self.meters.wanted.as_ref().is_none_or(|w| w.source != source) || state == LinkState::Searching {
            return;
        }
        // Why it was let go is what the person has to know, not that it is gone.
        if state == LinkState::Idle && matches!(self.meters.link, LinkState::Refused { .. }) {
            return;
        }
        self.meters.link = state;
        let still_connected = matches!(state, LinkState::Subscribed | LinkState::Discovering);
        if !still_connected && self.meters.connection.is_some() {
            self.drop_connection(now, outputs);
            // Someone is measuring without looking: let them hear that nothing is taken any more.
            if self.announced().is_some() {
                outputs.push(Output::Signal(super::Signal::Stop));
            }
        }
    }

    fn connected(&mut self, link: (Source, u32), offer: &Offer, now: &Now, outputs: &mut Vec<Output>) {
        let (source, generation) = link;
        if self.meters.wanted.as_ref().is_none_or(|w| w.source != source) {
            outputs.push(Output::Link(Some(source), LinkCommand::Disconnect));
            return;
        }
        self.drop_connection(now, outputs);
        let Ok(choice) = choose(offer, &self.meters.profiles) else {
            self.meters.link = LinkState::Refused { why: RefusedWhy::NoReadableValue };
            outputs.push(Output::Link(Some(source), LinkCommand::Disconnect));
            return;
        };
        let gathering = self.gathering(generation, now);
        let mut connection = Connection::new((source, generation), offer, &choice, gathering);
        let known = connection.serial.as_ref().and_then(|s| self.instruments.get(s));
        let mut candidates = self.meters.described.iter().chain(known);
        if let Some(instrument) = candidates.find(|i| connection.is(i)) {
            connection.describe(instrument.clone());
        }
        self.meters.described.clone_from(&connection.described);
        self.meters.connection = Some(connection);
        outputs.push(Output::Link(
            Some(source),
            LinkCommand::Listen { generation, service: choice.service, characteristic: choice.characteristic },
        ));
    }

    /// An empty chunk for samples that arrive from now on.
    pub(super) fn gathering(&mut self, generation: u32, now: &Now) -> Gathering {
        let job = self.job.as_ref().map(|j| j.id);
        Gathering::new(self.ids.id(now), job, self.id, generation)
    }

    /// The job on the bench changed: samples from now on belong to the new one.
    pub(super) fn rehouse_samples(&mut self, now: &Now) -> Vec<Chunk> {
        let job: Option<Uuid> = self.job.as_ref().map(|j| j.id);
        let Some(generation) = self.meters.connection.as_ref().filter(|c| c.gathers_for() != job).map(|c| c.generation)
        else {
            return Vec::new();
        };
        self.close_chunk(generation, now).into_iter().collect()
    }

    pub(super) fn close_chunk(&mut self, generation: u32, now: &Now) -> Option<Chunk> {
        let next = self.gathering(generation, now);
        self.meters.connection.as_mut().and_then(|c| c.close_chunk(now.boot, next))
    }

    /// The person says: use this meter, and this is what I know of it.
    pub(super) fn use_meter(
        &mut self,
        spec: &MeterSpecEntry,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let connection = self.meters.connection.as_mut().ok_or(Refusal::MeterFirst)?;
        let instrument = instrument(connection, spec)?;
        connection.describe(instrument.clone());
        let mut events = Vec::new();
        if self.instruments.get(&instrument.identity) != Some(&instrument) {
            events.push(Event::MeterDescribed { instrument: instrument.clone() });
        }
        self.meters.described = Some(instrument.clone());
        let open = self.job.as_ref().filter(|j| j.part.is_some() && j.is_open().is_ok());
        if open.is_some_and(|j| j.hands.meter_anew || j.instrument.as_ref() != Some(&instrument)) {
            events.push(Event::MeterUsed { instrument });
        }
        self.record(events, now, outputs);
        self.meters.announce(now.boot);
        Ok(())
    }

    /// The person reads the meter and types: no radio, the same description.
    pub(super) fn use_typed_meter(
        &mut self,
        spec: &MeterSpecEntry,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let job = self.job.as_ref().ok_or(Refusal::NoJob)?;
        if job.part.is_none() {
            return Err(Refusal::PartFirst);
        }
        job.is_open()?;
        let instrument = typed_instrument(spec)?;
        let mut events = Vec::new();
        if self.instruments.get(&instrument.identity) != Some(&instrument) {
            events.push(Event::MeterDescribed { instrument: instrument.clone() });
        }
        if job.hands.meter_anew || job.instrument.as_ref() != Some(&instrument) {
            events.push(Event::MeterUsed { instrument });
        }
        self.aside = None;
        self.let_meter_go(now, outputs);
        self.record(events, now, outputs);
        Ok(())
    }
}
