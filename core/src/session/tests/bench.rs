//! A bench that remembers everything that was sent and written, and checks every batch against it.

mod held;

use crate::caution::Caution;
use crate::job::{Command, Job, Line, MeterSpecEntry, Refusal, Stage};
use crate::meter::checksum::ChecksumKind;
use crate::meter::link::{Channel, FoundMeter, LinkEvent, LinkState, Offer, Source};
use crate::meter::{Profile, Shown, profile::BUILT_IN};
use crate::part::{AtEnd, Conductor, Connector, End, Part};
use crate::record::{
    Chunk, Clock, Conditions, Details, DeviceKey, Draft, Event, Hash, Head, KeptDetails, KeptHead, KeptPerson, Pin,
    PinHash, Sealed, SweepFact, TouchFact,
};
use crate::session::sweeping::input as sweep_input;
use crate::session::{Beginning, Erasing, Input, NewPhoto, Output, Session, Signal, readings_of};
use crate::settle::{Touch, TouchKind};
use crate::sweep::examine;
use crate::sweep::plan::Movement;
use crate::sweep::written::Finding;
use crate::unit::{BootId, Day, Millis, Now, Stamp};
use std::collections::BTreeMap;
use uuid::{Uuid, uuid};

pub(crate) const PERIOD: u64 = 200;
const SERVICE: Uuid = uuid!("8d2c0101-6b1f-4f0a-9a57-2f4e5d3b7c10");
pub(crate) const VALUE: Uuid = uuid!("8d2c0102-6b1f-4f0a-9a57-2f4e5d3b7c10");

/// What the meter shows: ohm in hundredths, over-range, or something that is not a reading in ohm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Face {
    Ohm(i32),
    Over,
    /// Over-range, the range locked by hand.
    OverLocked,
    LowBattery(i32),
    /// The meter's relative zero is on.
    Relative(i32),
    Volt(i32),
    Garbage,
}

/// A notification of the "status and integer" profile.
pub(crate) fn frame(face: Face) -> Vec<u8> {
    let (setting, status, number) = match face {
        Face::Ohm(n) => (2, 0x00, n),
        Face::Over => (2, 0x01, 0x7F_FFFF),
        Face::OverLocked => (2, 0x11, 0x7F_FFFF),
        Face::LowBattery(n) => (2, 0x08, n),
        Face::Relative(n) => (2, 0x04, n),
        Face::Volt(n) => (1, 0x00, n),
        Face::Garbage => return vec![0xA5, 0x5A, 1, 2, 3, 4, 5, 6, 7, 8],
    };
    let [_, high, middle, low] = number.to_be_bytes();
    let mut bytes = vec![0xA5, 0x5A, setting, 2, status, high, middle, low];
    let check = ChecksumKind::Crc16Modbus.of(&bytes[2..]);
    bytes.extend(check.to_le_bytes());
    bytes
}

/// A notification as it was sent, and what the bench was doing then.
#[derive(Clone, Debug)]
struct Sent {
    at: u64,
    face: Face,
    generation: u32,
    job: Option<Uuid>,
    raw: Vec<u8>,
}

pub(crate) struct Bench {
    pub(crate) session: Session,
    pub(crate) now: u64,
    pub(crate) entries: Vec<Sealed>,
    pub(crate) details: BTreeMap<Uuid, KeptDetails>,
    pub(crate) people: BTreeMap<Uuid, KeptPerson>,
    pub(crate) chunks: BTreeMap<Uuid, Chunk>,
    pub(crate) signals: Vec<Signal>,
    /// Lines of the job list as they were written last.
    pub(crate) lines: BTreeMap<Uuid, Line>,
    /// Whose details and photos the store was told to take out, each time.
    pub(crate) erased: Vec<Uuid>,
    pub(crate) heads: Vec<KeptHead>,
    pub(crate) pictures: BTreeMap<Hash, Vec<u8>>,
    key: Option<DeviceKey>,
    head: Head,
    /// By arrival.
    sent: BTreeMap<u64, Sent>,
    generation: u32,
    connected: Option<Source>,
    /// When something was announced, or a job laid on the bench, the last time.
    announced_at: u64,
    /// When a sweep was asked for the last time.
    sweep_asked_at: u64,
    rebuilt: u8,
}

pub(crate) fn conductor(index: u8, at: AtEnd) -> Conductor {
    Conductor {
        name: (index + 1).to_string(),
        group: Some("ribbon".into()),
        from: End { connector: 0, cavity: index + 1, at: AtEnd::OpenPlug },
        // What fires hangs on a plug of its own.
        to: End { connector: if at == AtEnd::Inflator { 2 } else { 1 }, cavity: index + 1, at },
        drawn_only: at == AtEnd::Inflator,
        limit: None,
    }
}

/// Three conductors to measure; the second of four leads to an inflator and is only drawn.
pub(crate) fn coil() -> Part {
    let connector = |name: &str| Connector { name: name.into(), cavities: 4, rows: 2 };
    Part {
        name: "Steering coil".into(),
        connectors: vec![connector("A"), connector("B"), connector("airbag")],
        conductors: vec![
            conductor(0, AtEnd::OpenPlug),
            conductor(1, AtEnd::Inflator),
            conductor(2, AtEnd::BareTerminal),
            conductor(3, AtEnd::UnpoweredLoad),
        ],
        touches_wanted: 2,
        ceiling: None,
        bars: Vec::new(),
    }
}

pub(crate) fn spec(label: &str) -> MeterSpecEntry {
    let text = str::to_owned;
    MeterSpecEntry {
        label: text(label),
        step: text("0,01"),
        accuracy_percent: text("0.8"),
        accuracy_counts: text("3"),
        top: text("2000"),
        calibration_due: String::new(),
    }
}

/// Stands for the slow hash of the engine.
pub(crate) fn hashed(pin: &Pin) -> PinHash {
    PinHash(format!("hash of {}", pin.digits().chars().rev().collect::<String>()))
}

pub(crate) fn new_job(order: &str) -> Command {
    Command::NewJob { order: order.into(), vehicle: "Blue estate".into(), details: Details::default() }
}

pub(crate) fn profiles() -> Vec<Profile> {
    let (_, text) = BUILT_IN.iter().find(|(name, _)| *name == "status-integer.toml").expect("built in");
    vec![Profile::parse(text).expect("valid")]
}

pub(crate) fn offer(serial: Option<&str>) -> Offer {
    let channel =
        Channel { service: SERVICE, characteristic: VALUE, notifies: true, presentation: None, valid_range: None };
    Offer { name: "Bench meter".into(), serial: serial.map(str::to_owned), channels: vec![channel] }
}

impl Bench {
    pub(crate) fn new() -> Bench {
        let head = Head::empty(Uuid::from_u128(1));
        let now = 10_000;
        Bench {
            session: Session::new(Bench::beginning(head.clone(), &[], 1, time(now))),
            now,
            entries: Vec::new(),
            details: BTreeMap::new(),
            people: BTreeMap::new(),
            chunks: BTreeMap::new(),
            signals: Vec::new(),
            lines: BTreeMap::new(),
            erased: Vec::new(),
            heads: Vec::new(),
            pictures: BTreeMap::new(),
            key: None,
            head,
            sent: BTreeMap::new(),
            generation: 0,
            connected: None,
            announced_at: 0,
            sweep_asked_at: 0,
            rebuilt: 1,
        }
    }

    /// A bench of another device, known by a key of its own.
    pub(crate) fn of_device(device: u8) -> Bench {
        let mut bench = Bench::new();
        let key = DeviceKey::from_seed([device; 32]);
        bench.head = Head::empty(Uuid::from_u128(u128::from(device)));
        bench.key = Some(key.clone());
        bench.rebuilt = device;
        let beginning = Bench::beginning(bench.head.clone(), &[], device, bench.time());
        bench.session = Session::new(Beginning { key: Some(key), ..beginning });
        let outputs = bench.session.introduce(
            (bench.head.device, DeviceKey::from_seed([device; 32]).public()),
            None,
            &bench.time(),
        );
        bench.perform(outputs);
        bench
    }

    /// The same in one batch, without checks: what a session wants written.
    fn perform(&mut self, outputs: Vec<Output>) {
        for output in outputs {
            let Output::Append(batch) = output else { panic!("{output:?}") };
            batch.entries.into_iter().for_each(|sealed| {
                self.head = self.head.after(&sealed).expect("chained");
                self.entries.push(sealed);
            });
        }
    }

    pub(crate) fn key(&self) -> DeviceKey {
        self.key.clone().expect("a bench with a key")
    }

    /// Something that is written beside the session, which has to be begun anew after it.
    pub(crate) fn say(&mut self, job: Uuid, event: &Event) {
        let (kind, body) = event.parts();
        let Now { boot, wall, .. } = self.time();
        let (id, clock) = (Uuid::from_u128(u128::from(self.now)), Clock::Ok);
        let draft = Draft { id, job: Some(job), kind, version: Event::VERSION, elapsed_ms: boot, wall, clock, body };
        self.entries.push(self.head.seal(Uuid::nil(), draft));
    }

    /// A bench at which a job on [`coil`] waits for its first touch.
    pub(crate) fn measuring() -> Bench {
        let mut bench = Bench::new();
        bench.done(new_job("4711"));
        bench.done(Command::AcceptCautions { cautions: vec![Caution::C0] });
        bench.done(Command::DescribePart { part: coil() });
        bench.connect(Source::Radio, None);
        bench.done(Command::DescribeMeter { spec: spec("bench meter 2") });
        bench.done(Command::AcceptCautions { cautions: vec![Caution::C1] });
        bench
    }

    fn beginning(head: Head, entries: &[Sealed], seed: u8, now: Now) -> Beginning {
        let device_entries = entries.iter().filter(|e| e.entry().job.is_none()).cloned().collect();
        Beginning { head, device_entries, people: Vec::new(), key: None, seed: [seed; 32], profiles: profiles(), now }
    }

    pub(crate) fn time(&self) -> Now {
        time(self.now)
    }

    /// The entries of a job, in order.
    pub(crate) fn newest_job(&self) -> Option<Uuid> {
        let beside = |kind: &str| !["details-erased", "step-signed-at-office"].contains(&kind);
        let worked = |sealed: &&Sealed| sealed.entry().job.is_some() && beside(&sealed.entry().kind);
        self.entries.iter().rev().find(worked)?.entry().job
    }

    pub(crate) fn of_job(&self, job: Uuid) -> Vec<Sealed> {
        self.entries.iter().filter(|e| e.entry().job == Some(job)).cloned().collect()
    }

    pub(crate) fn touches(&self) -> Vec<TouchFact> {
        let fact = |e: &Sealed| match e.entry().event() {
            Some(Event::TouchTaken(fact)) => Some(fact),
            _ => None,
        };
        self.entries.iter().filter_map(fact).collect()
    }

    /// A wish that has to be granted.
    #[track_caller]
    pub(crate) fn done(&mut self, command: Command) {
        assert_eq!(self.wish(command.clone()), None, "{command:?}");
    }

    pub(crate) fn wish(&mut self, command: Command) -> Option<Refusal> {
        self.now += 1;
        self.input(Input::Wish(command))
    }

    /// A photo of a step, unlike any other.
    pub(crate) fn photo(&mut self, step: &str) -> Option<Refusal> {
        self.now += 1;
        let job = self.session.job().map_or(Uuid::nil(), |job| job.id);
        let jpeg = format!("{step} {}", self.now).into_bytes();
        self.input(Input::Photo(NewPhoto { job, step: Some(step.into()), width: 4, height: 3, jpeg }))
    }

    pub(crate) fn link(&mut self, source: Source, event: LinkEvent) {
        self.input(Input::Link(source, event));
    }

    /// Finds, chooses and reaches a meter.
    pub(crate) fn connect(&mut self, source: Source, serial: Option<&str>) {
        let id = format!("{source:?}");
        let found = FoundMeter { id: id.clone(), name: "Bench meter".into(), signal: None, source };
        self.link(source, LinkEvent::Found(found));
        self.done(Command::ConnectMeter { id });
        self.reach(source, serial);
    }

    /// The link reports a connection, wanted or not.
    pub(crate) fn reach(&mut self, source: Source, serial: Option<&str>) {
        self.generation += 1;
        self.link(source, LinkEvent::Connected { generation: self.generation, offer: offer(serial) });
        let wanted = self.session.meter(&self.time()).wanted.is_some_and(|w| w.source == source);
        if wanted {
            self.connected = Some(source);
        }
        self.link(source, LinkEvent::State(LinkState::Subscribed));
    }

    pub(crate) fn newest_generation(&self) -> u32 {
        self.generation
    }

    pub(crate) fn lose(&mut self) {
        if let Some(source) = self.connected.take() {
            self.link(source, LinkEvent::State(LinkState::Lost { attempt: 1, retry_ms: 500 }));
        }
    }

    /// One reading after a period.
    pub(crate) fn show(&mut self, face: Face) {
        self.now += PERIOD;
        self.show_late(face, 0);
    }

    /// A reading that arrived now and is looked at only `late` ms later.
    pub(crate) fn show_late(&mut self, face: Face, late: u64) {
        let Some(source) = self.connected else { return };
        let (at, raw) = (self.now, frame(face));
        self.now += late;
        let job = self.session.job().map(|j| j.id);
        if self.session.settler().is_some() {
            let sent = Sent { at, face, generation: self.generation, job, raw: raw.clone() };
            assert!(self.sent.insert(at, sent).is_none(), "one at a time");
        }
        let bytes = LinkEvent::Bytes { generation: self.generation, characteristic: VALUE, bytes: raw, at: Millis(at) };
        self.link(source, bytes);
    }

    pub(crate) fn hold(&mut self, face: Face, ms: u64) {
        (0..ms.div_ceil(PERIOD)).for_each(|_| self.show(face));
    }

    /// Clips off, on, and still until it is taken.
    pub(crate) fn clip(&mut self, hundredths: i32) {
        self.hold(Face::Over, 800);
        self.hold(Face::Ohm(hundredths), 2_200);
    }

    /// The program ends without a word and starts again; the job that was on the bench is opened.
    pub(crate) fn start_again(&mut self) {
        let job = self.session.job().map(|j| j.id);
        self.rebuilt += 1;
        self.connected = None;
        let beginning = Bench::beginning(self.head.clone(), &self.entries, self.rebuilt, self.time());
        let people = self.people.values().cloned().collect();
        self.session = Session::new(Beginning { people, key: self.key.clone(), ..beginning });
        // Its open chunks stay as they were written last.
        self.sent.clear();
        if let Some(job) = job {
            self.done(Command::OpenJob { job });
        }
    }

    /// Hands an input in, commits what is to be committed, and checks all of it.
    pub(crate) fn input(&mut self, input: Input) -> Option<Refusal> {
        let before = self.session.job().cloned();
        let of_job = self.session.meter_is_of_job();
        let announced = self.session.announced().map(|(conductor, _)| conductor);
        let outputs = self.session.handle(input.clone(), &time(self.now));
        let mut refused = None;
        let mut written = Vec::new();
        // What follows an answer about a PIN is checked with the answer.
        let answered =
            outputs.iter().any(|o| matches!(o, Output::CheckPin { .. } | Output::HashPin { .. } | Output::Collect(_)));
        for output in outputs {
            match output {
                Output::Append(batch) => {
                    batch.chunks.into_iter().for_each(|chunk| self.keep(chunk));
                    batch.people.into_iter().for_each(|kept| drop(self.people.insert(kept.person, kept)));
                    batch.details.into_iter().for_each(|kept| drop(self.details.insert(kept.job, kept)));
                    batch.lines.into_iter().for_each(|line| drop(self.lines.insert(line.job, line)));
                    batch.erased.iter().for_each(|job| drop(self.details.remove(job)));
                    self.erased.extend(batch.erased);
                    self.heads.extend(batch.heads);
                    self.pictures.extend(batch.pictures);
                    for sealed in batch.entries {
                        self.head = self.head.after(&sealed).expect("the chain is whole");
                        let read = Sealed::read(sealed.bytes().to_vec()).expect("what is written can be read");
                        assert_eq!(read, sealed);
                        self.entries.push(sealed.clone());
                        written.push(sealed);
                    }
                }
                Output::Load(job, wanted) => {
                    let loaded = Input::Loaded {
                        wanted,
                        entries: self.of_job(job),
                        details: self.details.get(&job).cloned(),
                        newest_job: self.newest_job(),
                    };
                    refused = self.input(loaded);
                }
                Output::Collect(erasing) => {
                    let of = |line: &&Line| match erasing {
                        Erasing::Job(job) => line.job == job,
                        Erasing::OpenedBefore(day) => Day::of(&line.opened) < Some(day) && !line.erased,
                    };
                    let job = match erasing {
                        Erasing::Job(job) => Job::from_entries(&self.of_job(job)),
                        Erasing::OpenedBefore(_) => None,
                    };
                    // As the desk does it: a line is made anew where it is missing or may be old.
                    let anew = job.map(|job| vec![job.line(&Details::default())]);
                    let lines = anew.unwrap_or_else(|| self.lines.values().filter(of).cloned().collect());
                    refused = self.input(Input::Collected(erasing, lines));
                }
                Output::CheckPin { pin, hash } => {
                    refused = self.input(Input::PinChecked { fits: hashed(&pin) == hash });
                }
                Output::HashPin { pin } => refused = self.input(Input::PinHashed(hashed(&pin))),
                Output::Refused(refusal) => refused = Some(refusal),
                Output::Signal(signal) => self.signals.push(signal),
                Output::Link(..) => {}
            }
        }
        assert_eq!(self.session.head(), &self.head);
        if refused.is_some() {
            assert!(written.is_empty(), "a refusal writes nothing");
            assert_eq!(self.session.job(), before.as_ref(), "a refusal changes nothing");
        }
        for sealed in written.iter().filter(|sealed| sealed.entry().kind != "carried") {
            self.check(sealed, (&input, before.as_ref()), (of_job, announced));
        }
        let moved = matches!(
            input,
            Input::Loaded { .. }
                | Input::TakenOver(_)
                | Input::Wish(Command::LeaveJob | Command::OpenJob { .. } | Command::MeasureCandidate { .. })
        );
        if written.is_empty() && !moved && !answered {
            assert_eq!(self.session.job(), before.as_ref(), "nothing changes without an entry");
        } else {
            self.replay_is_live();
        }
        if matches!(&input, Input::Wish(Command::Sweep { .. })) && refused.is_none() {
            self.sweep_asked_at = self.now;
        }
        // Words on the order change nothing of what the clips are asked for.
        let of_words = matches!(&input, Input::Wish(Command::CorrectJob { .. }));
        let announces = matches!(&input, Input::Wish(_) | Input::Loaded { .. }) && !of_words && refused.is_none();
        if announces && (!written.is_empty() || matches!(input, Input::Loaded { .. })) && !touched(&written) {
            self.announced_at = self.now;
        }
        refused
    }

    fn keep(&mut self, chunk: Chunk) {
        if let Some(before) = self.chunks.get(&chunk.id) {
            assert!(!before.closed, "a closed chunk never changes");
            assert_eq!((before.job, before.generation), (chunk.job, chunk.generation));
            assert!(before.count <= chunk.count);
        }
        assert!(chunk.count > 0);
        let samples = chunk.samples().expect("whole");
        assert_eq!(samples.len(), chunk.count as usize);
        // One that came with a job from another device holds what was sent there.
        if chunk.session.is_nil() {
            self.chunks.insert(chunk.id, chunk);
            return;
        }
        for sample in samples {
            let sent = self.sent.get(&sample.at.0).expect("nothing is made up");
            assert_eq!((&sent.raw, sent.generation, sent.job), (&sample.raw, chunk.generation, chunk.job));
        }
        self.chunks.insert(chunk.id, chunk);
    }
}

fn touched(written: &[Sealed]) -> bool {
    written.iter().any(|e| e.entry().kind == "touch-taken")
}

fn time(now: u64) -> Now {
    let seconds = now / 1_000;
    let wall = format!("2026-03-01T{:02}:{:02}:{:02}Z", 8 + seconds / 3_600, seconds / 60 % 60, seconds % 60);
    Now { boot: Millis(now), boot_id: BootId("one".into()), wall: Stamp::parse(&wall).expect("a moment") }
}

pub(crate) fn conditions(zeroed: bool, celsius: Option<i64>) -> Conditions {
    let temperature = celsius.and_then(|c| crate::unit::Quantity::new(c, 0, crate::unit::Unit::Celsius));
    Conditions { leads_zeroed: zeroed, temperature, bars_open: None }
}
