//! The people of the shop, as ledger and rows beside it tell them.

use crate::record::{Event, FREE_TRIES, Hash, KeptPerson, PersonDetails, PinHash, Tries, same_name};
use crate::unit::{Millis, Now};
use std::collections::BTreeMap;
use uuid::Uuid;

/// Everybody who is or was on the roster.
#[derive(Clone, Debug, Default)]
pub struct Roster {
    members: BTreeMap<Uuid, Member>,
    /// Names that came with jobs from other devices, as kept beside the ledger. Nobody of them may sign here.
    elsewhere: BTreeMap<Uuid, KeptPerson>,
}

/// One of them.
#[derive(Clone, Debug)]
pub struct Member {
    /// Name and role; empty when they are not here, or are not those that were committed to.
    pub details: PersonDetails,
    /// May sign.
    pub active: bool,
    personal: Hash,
    kept: Option<KeptPerson>,
}

impl Roster {
    /// Those who may sign, in the order they came.
    pub fn active(&self) -> impl Iterator<Item = (Uuid, &Member)> {
        self.members.iter().filter(|(_, member)| member.active).map(|(id, member)| (*id, member))
    }

    /// Anybody who is or was on it.
    pub fn member(&self, person: Uuid) -> Option<&Member> {
        self.members.get(&person)
    }

    /// The name of somebody who is or was on it; `None` when it is not known.
    pub fn name(&self, person: Uuid) -> Option<&str> {
        self.members.get(&person).map(|member| member.details.name.as_str()).filter(|name| !name.is_empty())
    }

    /// Somebody of that name may sign; case and blanks make no difference.
    pub fn has_name(&self, name: &str) -> bool {
        self.active().any(|(_, member)| same_name(&member.details.name, name))
    }

    /// Takes in an event of the device.
    pub(super) fn follow(&mut self, event: &Event) {
        match event {
            Event::PersonAdded { person, personal } => {
                let details = PersonDetails::default();
                self.members.insert(*person, Member { details, active: true, personal: *personal, kept: None });
            }
            Event::PersonRemoved { person } => {
                if let Some(member) = self.members.get_mut(person) {
                    member.active = false;
                }
            }
            _ => {}
        }
    }

    /// People whom a job from another device names by these commitments: their names are known here, as far as they came
    /// along, and none of them may sign.
    pub(super) fn hear_of(&mut self, people: &BTreeMap<Uuid, Hash>) {
        for (person, personal) in people {
            let known = self.elsewhere.get(person).filter(|_| !self.members.contains_key(person));
            if let Some(details) = known.and_then(|kept| kept.opened(*personal)) {
                let personal = *personal;
                self.members.insert(*person, Member { details, active: false, personal, kept: None });
            }
        }
    }

    /// Somebody of that id is or was on the roster, or came with a job.
    pub(super) fn knows(&self, person: Uuid) -> bool {
        self.members.contains_key(&person) || self.elsewhere.contains_key(&person)
    }

    /// Was put on the roster of this device, whether or not they still may sign.
    pub(super) fn is_on_it(&self, person: Uuid) -> bool {
        self.members.get(&person).is_some_and(|member| member.active || member.kept.is_some())
    }

    /// What the ledger holds of somebody's name.
    pub(super) fn commitment(&self, person: Uuid) -> Option<Hash> {
        self.members.get(&person).map(|member| member.personal)
    }

    /// Takes in the row of somebody who was added. That of somebody nobody added is kept for jobs that name them. One that is not what was committed to is left out: who is not known
    /// signs nothing.
    pub(super) fn keep(&mut self, kept: KeptPerson) {
        let Some(member) = self.members.get_mut(&kept.person) else {
            self.elsewhere.insert(kept.person, kept);
            return;
        };
        if let Some(details) = kept.opened(member.personal) {
            member.details = details;
            member.kept = Some(kept);
        }
    }

    /// When what is left of a pause changes by a second.
    pub(super) fn next_second(&self, now: &Now) -> Option<Millis> {
        let pauses = self.active().filter_map(|(_, member)| member.pause_left(now));
        let soonest = pauses.map(|left| (left.0 - 1) % 1_000 + 1).min()?;
        Some(Millis(now.boot.0.saturating_add(soonest)))
    }
}

impl Member {
    /// What is left of the pause after wrong tries, above zero; `None`: a PIN may be tried.
    pub fn pause_left(&self, now: &Now) -> Option<Millis> {
        self.kept.as_ref()?.tries.pause_left(now)
    }

    /// Tries before the next pause.
    pub(super) fn tries_left(&self) -> u32 {
        self.kept.as_ref().map_or(0, |kept| FREE_TRIES.saturating_sub(kept.tries.wrong))
    }

    /// What the PIN is checked against, if there is one.
    pub(super) fn pin(&self) -> Option<&PinHash> {
        self.kept.as_ref().map(|kept| &kept.pin).filter(|pin| !pin.0.is_empty())
    }

    /// The row with one more wrong try.
    pub(super) fn tried(&self, now: &Now) -> Option<KeptPerson> {
        self.kept.as_ref().map(|kept| KeptPerson { tries: kept.tries.one_more(now), ..kept.clone() })
    }

    /// The row without wrong tries, and with this PIN if it is another.
    pub(super) fn untried(&self, pin: Option<PinHash>) -> Option<KeptPerson> {
        let kept = self.kept.as_ref()?;
        let pin = pin.unwrap_or_else(|| kept.pin.clone());
        Some(KeptPerson { tries: Tries::default(), pin, ..kept.clone() })
    }
}
