//! A bench whose clock, machine and ledger can have anything happen to them.

use super::acts::PEOPLE;
use super::truth::Truth;
use crate::job::{Command, Job, Refusal};
use crate::meter::link::{FoundMeter, LinkEvent, LinkState, Source};
use crate::record::{Clock, Draft, Event, Head, KeptPerson, PersonDetails, Pin, Sealed};
use crate::session::tests::bench::{Face, VALUE, frame, hashed, offer, profiles};
use crate::session::{Beginning, Input, NewPhoto, Output, Session};
use crate::unit::{BootId, Millis, Now, Stamp};
use std::collections::{BTreeMap, BTreeSet};
use uuid::Uuid;

/// A small generator of random numbers (splitmix64, public domain constants): the same seed gives the same run.
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    pub(super) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub(super) fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    /// True in so many of ten thousand throws.
    pub(super) fn in_10_000(&mut self, times: u64) -> bool {
        self.below(10_000) < times
    }

    pub(super) fn one_of<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[usize::try_from(self.below(of.len() as u64)).expect("an index")]
    }

    pub(super) fn word(&mut self, of: &[&str]) -> String {
        (*self.one_of(of)).to_owned()
    }
}

pub(crate) struct World {
    pub(crate) session: Session,
    pub(super) entries: Vec<Sealed>,
    people: BTreeMap<Uuid, KeptPerson>,
    pub(super) truth: Truth,
    /// Time that really went by, ms.
    pub(super) time: u64,
    booted_at: u64,
    boot: u32,
    pub(super) readable: bool,
    wall_off: i64,
    head: Head,
    begun: u8,
    generation: u32,
    /// Jobs that hold as many photos as are kept.
    pub(super) full: BTreeSet<Uuid>,
    pub(super) refused: u64,
    /// Whoever works leaves out what may be left out, now and then.
    pub(super) leaves_out: bool,
    /// How often the job is built anew to be compared: one time in so many.
    pub(super) compare: Dice,
}

impl World {
    pub(super) fn new(seed: u64) -> World {
        let mut head = Head::empty(Uuid::from_u128(1));
        let (time, booted_at, boot) = (1_000_000_000, 999_990_000, 1);
        let now = now((time - booted_at, boot, true), time as i64);
        let people: Vec<KeptPerson> = PEOPLE.iter().map(|person| kept(*person)).collect();
        let entries: Vec<Sealed> = people.iter().map(|kept| head.seal(Uuid::nil(), added(kept, &now))).collect();
        let beginning = Beginning {
            head: head.clone(),
            device_entries: entries.clone(),
            people: people.clone(),
            key: None,
            seed: [1; 32],
            profiles: profiles(),
            now,
        };
        World {
            session: Session::new(beginning),
            entries,
            people: people.into_iter().map(|kept| (kept.person, kept)).collect(),
            truth: Truth::default(),
            time,
            booted_at,
            boot,
            readable: true,
            wall_off: 0,
            head,
            begun: 1,
            generation: 0,
            full: BTreeSet::new(),
            refused: 0,
            leaves_out: true,
            compare: Dice::new(!seed),
        }
    }

    pub(crate) fn now(&self) -> Now {
        let wall = i64::try_from(self.time).expect("small") + self.wall_off;
        now((self.time - self.booted_at, self.boot, self.readable), wall)
    }

    pub(super) fn job(&self) -> Option<&Job> {
        self.session.job()
    }

    pub(super) fn of_job(&self, job: Uuid) -> Vec<Sealed> {
        self.entries.iter().filter(|sealed| sealed.entry().job == Some(job)).cloned().collect()
    }

    pub(crate) fn wish(&mut self, command: Command) -> Option<Refusal> {
        self.time += 40;
        let before = self.session.job().cloned();
        let written = self.entries.len();
        let refused = self.input(Input::Wish(command.clone()));
        if refused.is_some() {
            self.refused += 1;
            assert_eq!(self.entries.len(), written, "refused, and something was written: {command:?}");
            assert_eq!(self.session.job(), before.as_ref(), "refused, and the job changed: {command:?}");
        }
        if let Some(job) = self.session.job().filter(|job| job.work.is_some() && job.finished.is_none()) {
            let id = job.id;
            self.truth.others_left(id);
        }
        self.after_it(written);
        refused
    }

    /// Hands an input in, and commits what is to be committed.
    pub(super) fn input(&mut self, input: Input) -> Option<Refusal> {
        let now = self.now();
        let outputs = self.session.handle(input, &now);
        self.perform(outputs)
    }

    fn perform(&mut self, outputs: Vec<Output>) -> Option<Refusal> {
        let mut refused = None;
        for output in outputs {
            match output {
                Output::Append(batch) => {
                    batch.people.into_iter().for_each(|kept| drop(self.people.insert(kept.person, kept)));
                    batch.entries.into_iter().for_each(|sealed| self.commit(sealed));
                }
                Output::CheckPin { pin, hash } => {
                    refused = self.input(Input::PinChecked { fits: hashed(&pin) == hash });
                }
                Output::HashPin { pin } => refused = self.input(Input::PinHashed(hashed(&pin))),
                Output::Load(job, wanted) => {
                    let newest_job = self.entries.iter().rev().find_map(|sealed| sealed.entry().job);
                    let loaded = Input::Loaded { wanted, entries: self.of_job(job), details: None, newest_job };
                    refused = self.input(loaded);
                }
                Output::Refused(refusal) => refused = Some(refusal),
                // Nothing is erased in this world.
                Output::Signal(_) | Output::Link(..) | Output::Collect(_) => {}
            }
        }
        assert_eq!(self.session.head(), &self.head);
        refused
    }

    fn commit(&mut self, sealed: Sealed) {
        self.head = self.head.after(&sealed).expect("the chain is whole");
        self.entries.push(sealed);
        let sealed = self.entries.last().expect("just written");
        self.truth.learn(sealed, self.time, self.readable);
    }

    /// A photo of a step, unlike any other.
    pub(super) fn photo(&mut self, step: &str) -> Option<Refusal> {
        self.time += 40;
        let written = self.entries.len();
        let job = self.session.job().map_or(Uuid::nil(), |job| job.id);
        let jpeg = format!("{step} {}", self.time).into_bytes();
        let refused = self.input(Input::Photo(NewPhoto { job, step: Some(step.into()), width: 4, height: 3, jpeg }));
        self.after_it(written);
        refused
    }

    /// Which doing of a step stands there; 0 for none.
    pub(super) fn doing_of(&self, step: &str) -> u32 {
        let state = self.job().and_then(|job| job.work.as_ref()).and_then(|work| work.state(step));
        state.map_or(0, |state| state.doing)
    }

    /// A second person signs, or tries to with a wrong PIN.
    pub(super) fn sign(&mut self, step: &str, person: Uuid, pin: Pin) {
        let job = self.job().map_or(Uuid::nil(), |job| job.id);
        let right = pin == pin_of(person);
        let seen = self.doing_of(step);
        let refused = self.wish(Command::SignStep { job, step: step.into(), seen, person, pin });
        assert!(right || refused.is_some(), "signed with a wrong PIN");
    }

    /// Invariants (g) and (h).
    fn after_it(&mut self, written: usize) {
        let Some(job) = self.session.job() else { return };
        let truth = self.truth.jobs.get(&job.id).expect("it was opened");
        if let Some(work) = &job.work {
            let waits: BTreeSet<&str> = work.waits_for_second().collect();
            let missing = truth.waits_for_second.iter().find(|step| !waits.contains(step.as_str()));
            assert_eq!(missing, None, "it waits for the signature of a second person");
        }
        assert_eq!(job.finished.is_some(), truth.finished);
        if self.entries.len() > written && self.compare.in_10_000(400) {
            self.same_as_rebuilt();
        }
    }

    pub(super) fn same_as_rebuilt(&self) {
        if let Some(job) = self.session.job() {
            let rebuilt = Job::from_entries(&self.of_job(job.id));
            assert!(rebuilt.as_ref() == Some(job), "built anew from its entries the job is another one");
        }
    }

    pub(super) fn pass(&mut self, millis: u64) {
        self.time += millis;
        self.input(Input::Tick);
    }

    /// The wall clock is set.
    pub(super) fn set_wall(&mut self, millis: i64) {
        self.wall_off = millis;
    }

    /// The program ends without a word and starts again.
    pub(super) fn kill(&mut self) {
        self.same_as_rebuilt();
        let job = self.session.job().map(|job| job.id);
        self.begun = self.begun.wrapping_add(1);
        let device_entries = self.entries.iter().filter(|sealed| sealed.entry().job.is_none()).cloned().collect();
        let mut seed = [self.begun; 32];
        seed[..8].copy_from_slice(&self.time.to_be_bytes());
        let (people, now) = (self.people.values().cloned().collect(), self.now());
        let beginning =
            Beginning { head: self.head.clone(), device_entries, people, key: None, seed, profiles: profiles(), now };
        self.session = Session::new(beginning);
        if let Some(job) = job {
            self.wish(Command::OpenJob { job });
        }
    }

    /// The machine starts anew: another boot id, and a clock that begins near zero.
    pub(super) fn reboot(&mut self, millis: u64) {
        self.time += millis;
        self.booted_at = self.time - 2_000;
        self.boot += 1;
        self.truth.started_anew();
        self.kill();
    }

    /// The same ledger on another device, whose clock shows the same.
    pub(super) fn carried_elsewhere(&mut self) {
        self.boot += 1;
        self.truth.started_anew();
        self.kill();
    }

    /// An older ledger is put back, and the machine started anew. That an older one is put back within the same run of
    /// the machine cannot be seen from the ledger itself.
    pub(super) fn restored(&mut self, keep: usize) {
        // The people were there before.
        self.entries.truncate(keep.max(PEOPLE.len()));
        let head = Head::empty(Uuid::from_u128(1));
        self.head = self.entries.iter().fold(head, |head, sealed| head.after(sealed).expect("whole"));
        self.truth = Truth::told_by(&self.entries, std::mem::take(&mut self.truth.seen));
        self.session.job = None;
        self.reboot(30_000);
    }

    /// A meter with radio is found, reached and described.
    pub(super) fn connect(&mut self) {
        let source = Source::Radio;
        let found = FoundMeter { id: "one".into(), name: "Bench meter".into(), signal: None, source };
        self.input(Input::Link(source, LinkEvent::Found(found)));
        self.wish(Command::ConnectMeter { id: "one".into() });
        self.generation += 1;
        let connected = LinkEvent::Connected { generation: self.generation, offer: offer(None) };
        self.input(Input::Link(source, connected));
        self.input(Input::Link(source, LinkEvent::State(LinkState::Subscribed)));
    }

    pub(crate) fn show(&mut self, face: Face, times: u64) {
        for _ in 0..times {
            self.time += 200;
            let (bytes, at) = (frame(face), Millis(self.time - self.booted_at));
            let event = LinkEvent::Bytes { generation: self.generation, characteristic: VALUE, bytes, at };
            self.input(Input::Link(Source::Radio, event));
        }
    }
}

/// Everybody's PIN is another one.
pub(super) fn pin_of(person: Uuid) -> Pin {
    Pin::typed(&format!("{:04}", person.as_u128()))
}

fn kept(person: Uuid) -> KeptPerson {
    let details = PersonDetails { name: format!("Person {}", person.as_u128()), role: String::new() };
    KeptPerson::new(person, [7; 32], &details, hashed(&pin_of(person)))
}

fn added(kept: &KeptPerson, now: &Now) -> Draft {
    let (kind, body) = Event::PersonAdded { person: kept.person, personal: kept.commitment() }.parts();
    let (id, wall) = (kept.person, now.wall.clone());
    Draft { id, job: None, kind, version: Event::VERSION, elapsed_ms: now.boot, wall, clock: Clock::Ok, body }
}

fn now((since_boot, boot, readable): (u64, u32, bool), wall: i64) -> Now {
    // 2026-03-01T00:00:00Z and a day of it for every 86 400 000; years as they come.
    let (days, ms) = (wall.div_euclid(86_400_000), wall.rem_euclid(86_400_000));
    let (year, day) = (2026 + days.div_euclid(360), days.rem_euclid(360));
    let (month, day) = (day / 30 + 1, day % 30 + 1);
    let day = if month == 2 { day.min(28) } else { day };
    let (hour, minute) = (ms / 3_600_000, ms / 60_000 % 60);
    let text = format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{:02}Z", ms / 1_000 % 60);
    let boot_id = if readable { format!("boot-{boot}") } else { String::new() };
    Now { boot: Millis(since_boot), boot_id: BootId(boot_id), wall: Stamp::parse(&text).expect("a moment") }
}
