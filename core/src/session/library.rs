//! The procedures of this device: those that come with the program, and those that were brought in.

use super::{Output, Session};
use crate::job::{FileMistake, Refusal, RosterRefusal};
use crate::meter::FileError;
use crate::procedure::{Procedure, Status, at_least_as_strict, built_in};
use crate::record::{Event, Hash, same_name};
use crate::unit::Now;
use crate::work::StepRefusal;
use uuid::Uuid;

/// The newest version of each procedure.
#[derive(Clone, Debug)]
pub struct Library {
    kept: Vec<KeptProcedure>,
}

/// A procedure of this device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptProcedure {
    /// What the file says.
    pub procedure: Procedure,
    /// The file.
    pub text: String,
    /// Hash of the file: what is approved is these bytes.
    pub hash: Hash,
    /// Who stands for it, beside its author.
    pub approved_by: Option<Uuid>,
    /// Not to be begun any more.
    pub withdrawn: bool,
}

impl KeptProcedure {
    fn of(text: &str) -> Option<KeptProcedure> {
        let procedure = Procedure::parse(text).ok()?;
        let withdrawn = procedure.head.status == Status::Withdrawn;
        Some(KeptProcedure {
            procedure,
            text: text.to_owned(),
            hash: Hash::of(text.as_bytes()),
            approved_by: None,
            withdrawn,
        })
    }
}

impl Library {
    /// Those that come with the program.
    pub(super) fn new() -> Library {
        Library { kept: built_in().iter().filter_map(|(_, text)| KeptProcedure::of(text)).collect() }
    }

    /// The newest version of each, withdrawn ones too.
    pub fn all(&self) -> &[KeptProcedure] {
        &self.kept
    }

    /// The newest version of the one with this id.
    pub fn get(&self, id: &str) -> Option<&KeptProcedure> {
        self.kept.iter().find(|kept| kept.procedure.head.id == id)
    }

    /// Takes in an event of the device.
    pub(super) fn follow(&mut self, event: &Event) {
        match event {
            Event::ProcedureKept { text } => {
                // A file of a newer program is left alone; what cannot be read is not followed.
                let Some(new) = KeptProcedure::of(text) else { return };
                self.kept.retain(|old| old.procedure.head.id != new.procedure.head.id);
                self.kept.push(new);
            }
            Event::ProcedureApproved { procedure, person } => {
                self.with(procedure, |kept| kept.approved_by = Some(*person));
            }
            Event::ProcedureWithdrawn { procedure } => self.with(procedure, |kept| kept.withdrawn = true),
            _ => {}
        }
    }

    fn with(&mut self, hash: &Hash, change: impl Fn(&mut KeptProcedure)) {
        self.kept.iter_mut().filter(|kept| kept.hash == *hash).for_each(change);
    }

    /// The event of a person who stands for a file.
    pub(super) fn approve(&self, file: &Hash, (person, name): (Uuid, &str)) -> Result<Vec<Event>, Refusal> {
        let kept = self.kept.iter().find(|kept| kept.hash == *file && !kept.withdrawn);
        let kept = kept.ok_or(StepRefusal::NoSuchProcedure)?;
        if kept.approved_by.is_some() {
            return Err(RosterRefusal::Approved.into());
        }
        if same_name(&kept.procedure.head.author, name) {
            return Err(RosterRefusal::AuthorApproves.into());
        }
        Ok(vec![Event::ProcedureApproved { procedure: *file, person }])
    }

    /// The event that brings a file in; none when it is there already.
    fn keep(&self, text: &str) -> Result<Option<Event>, Refusal> {
        let new = Procedure::parse(text)
            .map_err(|errors| Refusal::ProcedureWrong { mistakes: errors.iter().map(mistake).collect() })?;
        if let Some(known) = self.get(&new.head.id) {
            if known.text == text {
                return Ok(None);
            }
            let version = known.procedure.head.version;
            if new.head.version <= version {
                return Err(Refusal::ProcedureVersion { known: version });
            }
            at_least_as_strict(&known.procedure, &new)
                .map_err(|rule| Refusal::ProcedureLooser { looser: rule.to_string() })?;
        }
        Ok(Some(Event::ProcedureKept { text: text.to_owned() }))
    }
}

fn mistake(error: &FileError) -> FileMistake {
    let small = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
    FileMistake {
        line: small(error.line),
        column: small(error.column),
        what: error.what.clone(),
        instead: error.instead.clone(),
    }
}

impl Session {
    /// The procedures of this device.
    pub fn library(&self) -> &Library {
        &self.library
    }

    pub(super) fn keep_procedure(&mut self, text: &str, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let event = self.library.keep(text)?;
        self.record(event.into_iter().collect(), now, outputs);
        Ok(())
    }

    pub(super) fn withdraw_procedure(&mut self, id: &str, now: &Now, outputs: &mut Vec<Output>) -> Result<(), Refusal> {
        let kept = self.library.get(id).ok_or(StepRefusal::NoSuchProcedure)?;
        let event = (!kept.withdrawn).then_some(Event::ProcedureWithdrawn { procedure: kept.hash });
        self.record(event.into_iter().collect(), now, outputs);
        Ok(())
    }
}
