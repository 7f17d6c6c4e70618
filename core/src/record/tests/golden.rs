//! The frozen form of the record. A sample that was released is never edited: `UPDATE=1` adds the ones that are
//! missing and touches no other.

use super::{device, draft, samples};
use crate::caution::Caution;
use crate::meter::link::Source;
use crate::part::AtEnd;
use crate::procedure::Origin;
use crate::record::{Alike, Clock, Done, Event, Head, Lamp, NotSigned, Outcome, Renewal, Sealed};
use crate::settle::TouchKind;
use crate::sweep::{EventKind, SweepCode, SweepVerdict};
use crate::unit::Unit;
use crate::verdict::words::Language;
use crate::verdict::{ActionCode, Basis, Code, ConductorState, GroupKind, Level, LimitResult, SetVerdict};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use uuid::Uuid;

fn place(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/data/events").join(name)
}

/// The frozen bytes; with `UPDATE=1` made from `now` where there are none yet.
fn frozen(name: &str, now: &[u8]) -> Vec<u8> {
    let path = place(name);
    match std::fs::read(&path) {
        Ok(bytes) => bytes,
        Err(_) if std::env::var_os("UPDATE").is_some_and(|v| v == "1") => {
            std::fs::create_dir_all(path.parent().expect("a folder")).expect("the folder can be made");
            std::fs::write(&path, now).expect("the sample can be written");
            now.to_vec()
        }
        Err(error) => panic!("{}: {error}; UPDATE=1 adds what is missing", path.display()),
    }
}

/// Every kind there is: a new one does not compile before it stands here and in the samples.
fn kind(event: &Event) -> &'static str {
    match event {
        Event::JobOpened { .. } => "job-opened",
        Event::JobCorrected { .. } => "job-corrected",
        Event::CautionAccepted { .. } => "caution-accepted",
        Event::PartDescribed { .. } => "part-described",
        Event::MeterUsed { .. } => "meter-used",
        Event::ConditionsStated { .. } => "conditions-stated",
        Event::ConductorChosen { .. } => "conductor-chosen",
        Event::TouchTaken(_) => "touch-taken",
        Event::TouchUndone { .. } => "touch-undone",
        Event::Judged { .. } => "judged",
        Event::MeasuringResumed {} => "measuring-resumed",
        Event::JobFinished {} => "job-finished",
        Event::JobReleased(_) => "job-released",
        Event::JobTakenBack { .. } => "job-taken-back",
        Event::Carried { .. } => "carried",
        Event::JobClaimed(_) => "job-claimed",
        Event::DetailsErased {} => "details-erased",
        Event::TemplateSaved { .. } => "template-saved",
        Event::MeterDescribed { .. } => "meter-described",
        Event::LanguageChosen { .. } => "language-chosen",
        Event::ShopDescribed { .. } => "shop-described",
        Event::ZeroTaken(_) => "zero-taken",
        Event::ResistorRead(_) => "resistor-read",
        Event::BarStated { .. } => "bar-stated",
        Event::IsolationTaken(_) => "isolation-taken",
        Event::SweepTaken(_) => "sweep-taken",
        Event::ReadingWithdrawn { .. } => "reading-withdrawn",
        Event::OldPartTaken { .. } => "old-part-taken",
        Event::ProcedureBegun(_) => "procedure-begun",
        Event::StepBegun(_) => "step-begun",
        Event::StepDone(_) => "step-done",
        Event::StepSkipped(_) => "step-skipped",
        Event::StepsReopened(_) => "steps-reopened",
        Event::StepSigned(_) => "step-signed",
        Event::StepSignedAtOffice(_) => "step-signed-at-office",
        Event::SignatureNotTaken { .. } => "signature-not-taken",
        Event::TechnicianNamed { .. } => "technician-named",
        Event::PersonAdded { .. } => "person-added",
        Event::PinChanged { .. } => "pin-changed",
        Event::PersonRemoved { .. } => "person-removed",
        Event::SupplySeen { .. } => "supply-seen",
        Event::TakenUpAfterAnother { .. } => "taken-up-after-another",
        Event::NextPart {} => "next-part",
        Event::PhotoTaken(_) => "photo-taken",
        Event::ProcedureKept { .. } => "procedure-kept",
        Event::ProcedureApproved { .. } => "procedure-approved",
        Event::ProcedureWithdrawn { .. } => "procedure-withdrawn",
        Event::DeviceKeyed { .. } => "device-keyed",
        Event::IdentityRenewed { .. } => "identity-renewed",
    }
}
const KINDS: usize = 49;

/// A sample as the first entry of a ledger of its own. Names end in the version of their kind.
fn entry_of(event: &Event) -> Sealed {
    let mut whole = draft(event, 62_512);
    whole.id = Uuid::from_u128(0x0191_0000_0000_7000_8000_0000_0000_0001);
    whole.job = whole.job.filter(|_| !event.is_of_device());
    Head::empty(device()).seal(Uuid::from_u128(2), whole)
}

#[test]
fn every_kind_has_its_frozen_sample_and_reads_and_writes_it_as_it_is() {
    let samples = samples::all();
    let kinds: BTreeSet<&str> = samples.iter().map(kind).collect();
    assert_eq!((kinds.len(), samples.len()), (KINDS, KINDS));
    for event in samples {
        let now = entry_of(&event);
        assert_eq!(now.entry().kind, kind(&event), "kinds are never renamed");
        let bytes = frozen(&format!("{}.1.json", kind(&event)), now.bytes());
        let read = Sealed::read(bytes.clone()).expect("a frozen sample is an entry");
        let entry = read.entry();
        assert_eq!(entry.event(), Some(event), "{}", entry.kind);
        assert_eq!(String::from_utf8(now.bytes().to_vec()), String::from_utf8(bytes), "{}", entry.kind);
        assert_eq!(read, now);
    }
}

#[test]
fn no_frozen_sample_is_without_its_kind() {
    let known: BTreeSet<String> = samples::all().iter().map(|e| format!("{}.1.json", kind(e))).collect();
    let listed = std::fs::read_dir(place("")).expect("the samples are there");
    let names = listed.map(|file| file.expect("it can be listed").file_name().into_string().expect("plain names"));
    let strange: Vec<String> =
        names.filter(|name| !known.contains(name) && !["words.json", "done.json"].contains(&name.as_str())).collect();
    assert_eq!(strange, Vec::<String>::new());
}

#[test]
fn every_way_a_step_is_done_is_frozen_too() {
    let text = serde_json::to_string_pretty(&samples::done()).unwrap();
    let frozen = frozen("done.json", text.as_bytes());
    let read: Vec<Done> = serde_json::from_slice(&frozen).expect("the frozen ways are read");
    assert_eq!(read, samples::done());
    assert_eq!(String::from_utf8(frozen).unwrap(), text);
}

fn spelled<T: Serialize>(all: &[T]) -> Vec<String> {
    all.iter().map(|word| serde_json::to_value(word).unwrap().as_str().expect("a word").to_owned()).collect()
}

/// Every word that stands in an entry for one of several.
fn words() -> BTreeMap<&'static str, Vec<String>> {
    use Code::*;
    use ConductorState as S;
    BTreeMap::from([
        ("unit", spelled(&[Unit::Ohm, Unit::Volt, Unit::Celsius])),
        ("clock", spelled(&[Clock::Ok, Clock::Jumped, Clock::Unset])),
        (
            "not-signed",
            spelled(&[
                NotSigned::NotHere,
                NotSigned::HandedOver,
                NotSigned::NewerProgram,
                NotSigned::OtherVersion,
                NotSigned::DoneAgain,
                NotSigned::NothingToSign,
                NotSigned::CompareFirst,
                NotSigned::OwnSecond,
                NotSigned::DoerUnknown,
            ]),
        ),
        ("caution", spelled(&Caution::ALL)),
        ("source", spelled(&[Source::Radio, Source::Practice, Source::Replay, Source::Typed])),
        (
            "touch",
            spelled(&[
                TouchKind::Settled,
                TouchKind::AsItWas,
                TouchKind::OverRange,
                TouchKind::Typed,
                TouchKind::TypedOverRange,
            ]),
        ),
        (
            "swept",
            spelled(&[
                SweepVerdict::Steady,
                SweepVerdict::Jump,
                SweepVerdict::Dropout,
                SweepVerdict::GapInStream,
                SweepVerdict::TooShort,
                SweepVerdict::TooFewSamples,
                SweepVerdict::Noisy,
            ]),
        ),
        (
            "sweep-code",
            spelled(&[
                SweepCode::BadSamples,
                SweepCode::EndsTrimmed,
                SweepCode::OpenThroughout,
                SweepCode::Drift,
                SweepCode::SameAngle,
                SweepCode::DisplayNeverMoved,
                SweepCode::SpikeSeen,
            ]),
        ),
        ("sweep-event", spelled(&[EventKind::Dropout, EventKind::Jump, EventKind::Spike])),
        (
            "renewal",
            spelled(&[Renewal::KeyMissing, Renewal::OtherKey, Renewal::Behind, Renewal::Differs, Renewal::Restored]),
        ),
        ("lamp", spelled(&[Lamp::WentOff, Lamp::StayedOn, Lamp::NeverCame])),
        ("alike", spelled(&[Alike::All, Alike::NotAll, Alike::CannotTell])),
        ("outcome", spelled(&[Outcome::Repaired, Outcome::NotRepaired, Outcome::Refused])),
        ("origin", spelled(&[Origin::New, Origin::Used, Origin::Rebuilt])),
        ("language", spelled(&[Language::En, Language::De])),
        ("set", spelled(&[SetVerdict::Pass, SetVerdict::Fail, SetVerdict::Undecided])),
        ("conductor", spelled(&[S::Consistent, S::High, S::Low, S::Open, S::Unstable, S::Undecided])),
        ("basis", spelled(&[Basis::Group, Basis::KnownGood, Basis::Limit])),
        ("level", spelled(&[Level::Verified, Level::Unverified, Level::Implausible])),
        ("limit", spelled(&[LimitResult::Conform, LimitResult::NotConform, LimitResult::Undecided])),
        (
            "group",
            spelled(&[
                GroupKind::Cluster,
                GroupKind::Lone,
                GroupKind::Ambiguous,
                GroupKind::KnownGood,
                GroupKind::None,
            ]),
        ),
        (
            "at-end",
            spelled(&[
                AtEnd::OpenPlug,
                AtEnd::BareTerminal,
                AtEnd::UnpoweredLoad,
                AtEnd::ControlUnit,
                AtEnd::Inflator,
                AtEnd::Tensioner,
                AtEnd::Unknown,
            ]),
        ),
        (
            "action",
            spelled(&[
                ActionCode::Measure,
                ActionCode::ZeroLeads,
                ActionCode::Replace,
                ActionCode::CheckIsolation,
                ActionCode::TouchAgain,
                ActionCode::Sweep,
                ActionCode::OpenBars,
                ActionCode::SetGroups,
                ActionCode::BetterMeter,
                ActionCode::FinerMeter,
                ActionCode::EnterLimit,
                ActionCode::Done,
            ]),
        ),
        (
            "code",
            spelled(&[
                AtTheLimit,
                BarClosed,
                DiffersFromGroup,
                High,
                IsolationFault,
                LeadsNotZeroed,
                LevelImplausible,
                LevelUnverified,
                LimitGuardBand,
                Low,
                LowSuspect,
                MoreTouches,
                NothingToCompare,
                NotMeasured,
                OneTouch,
                OneTouchDisagreed,
                Open,
                PairOnly,
                Shorted,
                StepTooCoarse,
                SweepFault,
                TouchesDisagree,
                TwoLevels,
                ZeroSuspect,
            ]),
        ),
    ])
}

#[test]
fn words_that_stand_in_entries_are_only_ever_added_to() {
    let now = words();
    let text = serde_json::to_string_pretty(&now).unwrap();
    let frozen: BTreeMap<String, Vec<String>> = serde_json::from_slice(&frozen("words.json", text.as_bytes())).unwrap();
    for (list, words) in frozen {
        let now = now.get(list.as_str()).unwrap_or_else(|| panic!("{list} is gone"));
        let lost: Vec<&String> = words.iter().filter(|word| !now.contains(word)).collect();
        assert!(lost.is_empty(), "{list}: {lost:?}");
    }
}
