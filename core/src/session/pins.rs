//! What people of the roster do with their PINs. A try is written down as a wrong one before the PIN is looked at, and
//! taken back when it was right: ending the program in between wins no try.

use super::people::Member;
use super::{Batch, Output, Session, push_append};
use crate::job::{Command, Refusal, RosterRefusal};
use crate::record::{Event, Hash, KeptPerson, PersonDetails, Pin, PinHash, same_name};
use crate::unit::Now;
use crate::work::StepRefusal;
use uuid::Uuid;

/// Longest name or role, in characters.
const MAX_NAME: usize = 60;
/// Most people on the roster at a time.
const MOST_PEOPLE: usize = 200;

/// What waits for the answer of whoever checks or hashes a PIN.
#[derive(Clone, Debug)]
pub(super) enum Asked {
    /// This person's PIN is looked at, for this.
    Check(Uuid, Pinned),
    /// A PIN is hashed for somebody who comes onto the roster.
    Add(PersonDetails),
    /// A new PIN is hashed.
    Change(Uuid),
}

/// What a person does with a PIN.
#[derive(Clone, Debug)]
pub(super) enum Pinned {
    Sign { job: Uuid, step: String, seen: u32 },
    Technician { job: Uuid },
    Begin { procedure: String },
    Approve { procedure: Hash },
    NewPin { pin: Pin },
}

impl Session {
    pub(super) fn people_wish(
        &mut self,
        command: Command,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let (person, pin, act) = match command {
            Command::SignStep { job, step, seen, person, pin } => (person, pin, Pinned::Sign { job, step, seen }),
            Command::NameTechnician { job, person, pin } => (person, pin, Pinned::Technician { job }),
            Command::BeginProcedure { procedure, technician: Some(person), pin } => {
                (person, pin.unwrap_or_else(|| Pin::typed("")), Pinned::Begin { procedure })
            }
            Command::ApproveProcedure { id, version, person, pin } => {
                let kept = self.library.get(&id).filter(|kept| !kept.withdrawn);
                let kept = kept.ok_or(StepRefusal::NoSuchProcedure)?;
                let known = kept.procedure.head.version;
                if known != version {
                    return Err(RosterRefusal::OtherVersion { known }.into());
                }
                (person, pin, Pinned::Approve { procedure: kept.hash })
            }
            Command::ChangePin { person, old, new } => {
                shaped(&new)?;
                (person, old, Pinned::NewPin { pin: new })
            }
            Command::AddPerson { name, pin, role } => return self.add_person((&name, &role), pin, outputs),
            Command::RemovePerson { person } => return self.remove_person(person, now, outputs),
            _ => return Ok(()),
        };
        self.ask_pin((person, pin), act, now, outputs)
    }

    fn ask_pin(
        &mut self,
        (person, pin): (Uuid, Pin),
        act: Pinned,
        now: &Now,
        outputs: &mut Vec<Output>,
    ) -> Result<(), Refusal> {
        let member = self.signer(person)?;
        // What is refused whatever the PIN costs no try.
        self.pinned(person, &act, now)?;
        shaped(&pin)?;
        if let Some(left) = member.pause_left(now) {
            return Err(RosterRefusal::Locked { left_s: left.0.div_ceil(1_000) }.into());
        }
        let (hash, tried) = member.pin().cloned().zip(member.tried(now)).ok_or(RosterRefusal::NoSuchPerson)?;
        self.write_person(tried, outputs);
        self.asked = Some(Asked::Check(person, act));
        outputs.push(Output::CheckPin { pin, hash });
        Ok(())
    }

    /// The PIN was looked at.
    pub(super) fn pin_checked(&mut self, fits: bool, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let Some(Asked::Check(person, act)) = self.asked.take() else { return Ok(()) };
        let member = self.signer(person)?;
        if !fits {
            return Err(match member.pause_left(now) {
                Some(left) => RosterRefusal::Locked { left_s: left.0.div_ceil(1_000) },
                None => RosterRefusal::PinWrong { left: member.tries_left() },
            }
            .into());
        }
        let people: Vec<KeptPerson> = member.untried(None).into_iter().collect();
        let events = self.pinned(person, &act, now);
        people.iter().for_each(|kept| self.roster.keep(kept.clone()));
        let batch = Batch { people, ..Batch::default() };
        let events = match events {
            Ok(events) => events,
            Err(refusal) => {
                push_append(outputs, batch);
                return Err(refusal);
            }
        };
        if matches!(act, Pinned::Begin { .. }) {
            self.aside = None;
        }
        self.record_with(events, batch, now, outputs);
        if let Pinned::NewPin { pin } = act {
            self.asked = Some(Asked::Change(person));
            outputs.push(Output::HashPin { pin });
        }
        Ok(())
    }

    /// A PIN was hashed.
    pub(super) fn pin_hashed(&mut self, hash: PinHash, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let (event, kept) = match self.asked.take() {
            Some(Asked::Add(details)) => {
                let person = self.ids.id(now);
                let kept = KeptPerson::new(person, self.ids.salt(), &details, hash);
                (Event::PersonAdded { person, personal: kept.commitment() }, Some(kept))
            }
            Some(Asked::Change(person)) => (Event::PinChanged { person }, self.signer(person)?.untried(Some(hash))),
            Some(Asked::Check(..)) | None => return Ok(()),
        };
        self.record_person(event, kept, now, outputs);
        Ok(())
    }

    /// The events of what a person does with a PIN that is right.
    fn pinned(&self, person: Uuid, act: &Pinned, now: &Now) -> Result<Vec<Event>, Refusal> {
        match act {
            Pinned::Sign { job, step, seen } => {
                let events = self.meant(*job)?.sign_step((step, *seen), person, now)?;
                self.may_be_second(person)?;
                Ok(events)
            }
            Pinned::Technician { job } => {
                let events = self.meant(*job)?.name_technician(person)?;
                self.is_no_second(person)?;
                Ok(events)
            }
            Pinned::Begin { procedure } => self.procedure_events(procedure, Some(person)),
            Pinned::Approve { procedure } => {
                let name = self.roster.name(person).ok_or(RosterRefusal::NoSuchPerson)?;
                self.library.approve(procedure, (person, name))
            }
            Pinned::NewPin { .. } => Ok(Vec::new()),
        }
    }

    /// This person had no hand in the job on the bench, not under another id either: whoever leaves the roster and comes
    /// back is somebody new on it, and still the same person.
    ///
    /// # Errors
    /// [`StepRefusal`]: it is somebody who does it or did, nobody knows who does it or what somebody is called who did, or
    /// no procedure is followed.
    pub fn may_be_second(&self, person: Uuid) -> Result<(), StepRefusal> {
        let work = self.job.as_ref().and_then(|job| job.work.as_ref()).ok_or(StepRefusal::NoProcedure)?;
        let name = self.roster.name(person).unwrap_or_default();
        work.may_be_second((person, name), |doer| self.roster.name(doer))
    }

    /// Whoever signed second under another id, at the office or before leaving the roster, does not do the job: nobody is
    /// their own second, whatever came first.
    fn is_no_second(&self, person: Uuid) -> Result<(), StepRefusal> {
        let work = self.job.as_ref().and_then(|job| job.work.as_ref()).ok_or(StepRefusal::NoProcedure)?;
        let name = self.roster.name(person).unwrap_or_default();
        for second in work.seconds().filter(|second| *second != person) {
            // Without a name nobody can tell them apart.
            let called = self.roster.name(second).ok_or(StepRefusal::DoerNameless)?;
            if same_name(called, name) {
                return Err(StepRefusal::OwnSecond);
            }
        }
        Ok(())
    }

    /// Somebody who may sign.
    fn signer(&self, person: Uuid) -> Result<&Member, RosterRefusal> {
        let member = self.roster.member(person).ok_or(RosterRefusal::NoSuchPerson)?;
        if member.active { Ok(member) } else { Err(RosterRefusal::Removed) }
    }

    fn add_person(&mut self, (name, role): (&str, &str), pin: Pin, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let (name, role) = (name.trim().to_owned(), role.trim().to_owned());
        if name.is_empty() {
            return Err(RosterRefusal::NameMissing.into());
        }
        for (field, text) in [("name", &name), ("role", &role)] {
            if text.chars().count() > MAX_NAME {
                return Err(Refusal::TooLong { field: field.into() });
            }
        }
        if self.roster.has_name(&name) {
            return Err(RosterRefusal::NameTaken.into());
        }
        if self.roster.active().count() >= MOST_PEOPLE {
            return Err(RosterRefusal::Full.into());
        }
        shaped(&pin)?;
        self.asked = Some(Asked::Add(PersonDetails { name, role }));
        outputs.push(Output::HashPin { pin });
        Ok(())
    }

    fn remove_person(&mut self, person: Uuid, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        // Nothing is left that a PIN could be guessed from.
        let kept = self.signer(person)?.untried(Some(PinHash::default()));
        self.record_person(Event::PersonRemoved { person }, kept, now, outputs);
        Ok(())
    }

    fn record_person(&mut self, event: Event, kept: Option<KeptPerson>, now: &Now, outputs: &mut Vec<Output>) {
        let people: Vec<KeptPerson> = kept.into_iter().collect();
        self.record_with(vec![event], Batch { people: people.clone(), ..Batch::default() }, now, outputs);
        people.into_iter().for_each(|kept| self.roster.keep(kept));
    }

    fn write_person(&mut self, kept: KeptPerson, outputs: &mut Vec<Output>) {
        self.roster.keep(kept.clone());
        push_append(outputs, Batch { people: vec![kept], ..Batch::default() });
    }
}

fn shaped(pin: &Pin) -> Result<(), RosterRefusal> {
    if pin.is_shaped() { Ok(()) } else { Err(RosterRefusal::PinShape) }
}
