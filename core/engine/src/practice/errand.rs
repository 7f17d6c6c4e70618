//! A whole procedure at the practice bench without a screen and without waiting for a clock: every step is begun, read,
//! photographed, entered and signed as a careful person would, through the same session as at a real bench.

use super::rehearsal::{NotFinished, Setting};
use super::stage::Stage;
use super::{MeterModel, PartModel, PracticeWish, made_up};
use evenwire_core::job::{Command, Job, Refusal};
use evenwire_core::procedure::{Amount, CodesWhen, Evidence, Origin, Step, StepKind};
use evenwire_core::record::{Details, Lamp, Outcome, Pin};
use evenwire_core::session::{Input, NewPhoto};
use evenwire_core::sweep::plan::SweepPlan;
use evenwire_core::view::{self, View};
use evenwire_core::work::{CentreEntry, StepAct, StepEntry, Waiting};
use std::collections::BTreeSet;
use uuid::Uuid;

/// Steps are begun so often at most: after a restart some are done again.
const MOST_STEPS: usize = 400;
/// The two people of the practice shop, with their PINs; both are made up.
const PEOPLE: [(&str, &str); 2] = [("Practice technician", "4711"), ("Practice second", "0815")];

/// What is to be done.
#[derive(Clone, Debug)]
pub struct Errand<'a> {
    /// The procedure's id.
    pub procedure: &'a str,
    /// A step before which the machine goes down, once.
    pub reboot_before: Option<&'a str>,
    /// What is taken for every photo: a JPEG with its width and height.
    pub photo: (Vec<u8>, u32, u32),
}

/// What came of it.
pub struct Worked {
    /// The job as it stands closed.
    pub job: Job,
    /// What a screen shows of it then.
    pub view: View,
    /// Times the machine went down.
    pub restarts: u32,
}

/// Works the procedure through to its last step and signs what waits for a second person.
///
/// # Errors
/// [`NotFinished`]; what was committed before stays.
pub fn work_through(
    errand: &Errand<'_>,
    meter: MeterModel,
    seed: u64,
    setting: Setting<'_>,
) -> Result<Worked, NotFinished> {
    let mut next_seed = setting.seed;
    next_seed[0] ^= 0xFF;
    let mut stage = Stage::new((PartModel::first_practice(), meter, seed), setting);
    for (name, pin) in PEOPLE {
        stage.wish(Command::AddPerson { name: name.into(), pin: Pin::typed(pin), role: String::new() })?;
    }
    stage.wish(Command::NewJob { order: "Practice".into(), vehicle: String::new(), details: Details::default() })?;
    let [technician, second] = people(&stage)?;
    let pin = Some(Pin::typed(PEOPLE[0].1));
    let procedure = errand.procedure.to_owned();
    stage.wish(Command::BeginProcedure { procedure, technician: Some(technician), pin })?;
    let mut reboot_before = errand.reboot_before;
    for _ in 0..MOST_STEPS {
        let Some(step) = step_now(&stage) else { break };
        if reboot_before.take_if(|before| *before == step.id).is_some() {
            stage.reboot(next_seed)?;
            continue;
        }
        take(&mut stage, &step, errand)?;
    }
    sign_what_waits(&mut stage, second)?;
    // Their PINs stand above for all to read: nobody signs with them once the errand is over.
    for person in [technician, second] {
        stage.wish(Command::RemovePerson { person })?;
    }
    let job = stage.session.job().filter(|job| job.finished.is_some()).cloned().ok_or(NotFinished::TooLong)?;
    Ok(Worked { job, view: view::of(&stage.session, &stage.now), restarts: stage.boots })
}

fn people(stage: &Stage<'_>) -> Result<[Uuid; 2], NotFinished> {
    let named = |name: &str| stage.session.roster().active().find(|(_, member)| member.details.name == name);
    let id = |name: &str| named(name).map(|(person, _)| person);
    let both = PEOPLE.map(|(name, _)| id(name));
    match both {
        [Some(technician), Some(second)] => Ok([technician, second]),
        _ => Err(NotFinished::Refused(Refusal::NoJob)),
    }
}

fn job<'a>(stage: &'a Stage<'_>) -> Result<&'a Job, NotFinished> {
    stage.session.job().ok_or(NotFinished::Refused(Refusal::NoJob))
}

/// The step to do now; none once the job is closed.
fn step_now(stage: &Stage<'_>) -> Option<Step> {
    let job = stage.session.job().filter(|job| job.finished.is_none())?;
    job.step_now(&stage.now).cloned()
}

/// Begins a step, does what it asks for, and says that it is done.
fn take(stage: &mut Stage<'_>, step: &Step, errand: &Errand<'_>) -> Result<(), NotFinished> {
    act(stage, step, StepAct::Begin)?;
    if step.kind.uses_ohms() {
        read(stage, &step.kind)?;
    }
    if let StepKind::Wait(wait) = &step.kind {
        let waiting = job(stage)?.work.as_ref().map(|work| work.waiting(wait, &stage.now));
        if let Some(Waiting::Counting { left, .. }) = waiting {
            stage.pass(left.0)?;
        }
    }
    if step.evidence.contains(&Evidence::Photo) {
        let (jpeg, width, height) = errand.photo.clone();
        let photo = NewPhoto { job: job(stage)?.id, step: Some(step.id.clone()), width, height, jpeg };
        stage.input(Input::Photo(photo))?;
    }
    let words = if step.evidence.contains(&Evidence::Words) { "as it should be" } else { "" };
    act(stage, step, StepAct::Done { words: words.into(), entry: entry(&step.kind) })
}

fn act(stage: &mut Stage<'_>, step: &Step, act: StepAct) -> Result<(), NotFinished> {
    let job = job(stage)?.id;
    stage.wish(Command::AtStep { job, step: step.id.clone(), act })
}

/// Everything that a step wants to be read, with the part of the job on the bench.
fn read(stage: &mut Stage<'_>, kind: &StepKind) -> Result<(), NotFinished> {
    if let Some(part) = made_up::of_job(job(stage)?) {
        // Never refused: nothing is clipped by it.
        let _laid = stage.bench.wish(PracticeWish::Lay { part: Box::new(part) });
    }
    if !stage.session.meter_is_of_job() || stage.session.meter(&stage.now).live.is_none() {
        stage.meter_at_hand()?;
    }
    let small = |index: usize| u32::try_from(index).unwrap_or(u32::MAX);
    match kind {
        StepKind::Zero(_) => stage.beside(Command::ZeroLeads),
        StepKind::Measure(_) => stage.measure(),
        StepKind::Sweep(sweep) => sweep
            .wires
            .iter()
            .try_for_each(|wire| stage.beside(Command::Sweep { conductor: small(*wire), plan: SweepPlan::default() })),
        StepKind::Isolation(isolation) => isolation.pairs.iter().try_for_each(|(a, other)| {
            stage.beside(Command::MeasureIsolation { a: small(*a), other: other.map(small) })
        }),
        _ => Ok(()),
    }
}

/// What a careful person enters, where everything is as it should be.
fn entry(kind: &StepKind) -> StepEntry {
    let number = |amount: Amount| amount.value().to_string();
    match kind {
        StepKind::ProveDead(prove) => StepEntry::ProveDead {
            before: "12.62".into(),
            points: prove.points.iter().map(|_| "0.01".into()).collect(),
            after: "12.61".into(),
        },
        StepKind::Codes(codes) => {
            let found = codes.when == CodesWhen::Before;
            StepEntry::Codes {
                list: if found { "B0001-13".into() } else { String::new() },
                none_stored: !found,
                no_scanner: false,
                lamp: (codes.when == CodesWhen::After).then_some(Lamp::WentOff),
            }
        }
        StepKind::Centre(centre) => {
            let (total, back) = (number(centre.total), number(centre.back));
            StepEntry::Centre(CentreEntry { sealed: false, total, left: back.clone(), right: back })
        }
        StepKind::Torque(_) => StepEntry::Torque {
            wrench: "practice wrench".into(),
            most: String::new(),
            new_fastener: true,
            angle_turned: true,
        },
        StepKind::LiveValue(live) => {
            let value = live.target.map_or_else(|| "2.2".into(), |(target, _)| number(target));
            StepEntry::Value { values: vec![value; if live.steady_within.is_some() { 2 } else { 1 }] }
        }
        StepKind::Sign(sign) => StepEntry::Sign { outcome: sign.closes.then_some(Outcome::Repaired) },
        StepKind::Part(part) => {
            StepEntry::Part { number: "P-2207".into(), origin: chosen(&part.may_be), from: "practice shelf".into() }
        }
        _ => StepEntry::Tick,
    }
}

/// A used part where one may come in: it is the one that a second person signs.
fn chosen(may_be: &BTreeSet<Origin>) -> Origin {
    if may_be.contains(&Origin::Used) { Origin::Used } else { may_be.first().copied().unwrap_or(Origin::New) }
}

/// A second person signs every step that waits for it.
fn sign_what_waits(stage: &mut Stage<'_>, person: Uuid) -> Result<(), NotFinished> {
    let job = job(stage)?;
    let Some(work) = &job.work else { return Ok(()) };
    let seen = |step: &str| Some((step.to_owned(), work.state(step)?.doing));
    let waiting: Vec<(String, u32)> = work.waits_for_second().filter_map(seen).collect();
    let id = job.id;
    for (step, seen) in waiting {
        stage.wish(Command::SignStep { job: id, step, seen, person, pin: Pin::typed(PEOPLE[1].1) })?;
    }
    Ok(())
}
