//! One event of every kind, on an invented part.

use crate::caution::Caution;
use crate::dtc::TroubleCode;
use crate::meter::link::Source;
use crate::part::{AtEnd, Conductor, Connector, End, MAX_CAVITIES, MAX_CONDUCTORS, MAX_NAME, Part};
use crate::procedure::{Amount, Origin};
use crate::record::{
    Alike, BarState, CentredHow, Claimed, Conditions, Details, DeviceKey, Done, Event, Hash, Instrument, IsolationFact,
    KeptDetails, Lamp, NotSigned, OfficeSigned, OldConductor, OldLevel, OldPart, Outcome, PhotoFact, ProcedureFact,
    Release, Renewal, ResistorFact, Shop, SignedJob, StepDone, StepFact, SweepFact, TouchFact, ZeroFact,
};
use crate::settle::{MOST, Touch, TouchKind};
use crate::sweep::plan::{Movement, PlacedMark, SweepPlan};
use crate::sweep::written::{Finding, FoundEvent};
use crate::sweep::{EventKind, SweepCode, SweepVerdict};
use crate::unit::{BootId, Figure, Millis, Quantity, Stamp, Unit};
use crate::verdict::words::Language;
use crate::verdict::written::{JudgedConductor, JudgedGroup, JudgedLimit, Judgement};
use crate::verdict::{ActionCode, Basis, Code, ConductorState, GroupKind, Level, LimitResult, SetVerdict};
use uuid::Uuid;

pub(super) fn details() -> Details {
    Details {
        odometer: String::new(),
        customer: "Marlene Sturmvogel".into(),
        phone: "0000 112233".into(),
        plate: "ZZ-QX 404".into(),
        vin: "ZZZEVENW1RE000042".into(),
        technician: "Ottokar Klemm".into(),
        complaint: "Horn is dead when turning left".into(),
    }
}

fn figure(text: &str) -> Figure {
    Figure::try_from(text.to_owned()).expect("six places")
}

fn ohm(digits: i64, places: u8) -> Quantity {
    Quantity::new(digits, places, Unit::Ohm).expect("few places")
}

fn part() -> Part {
    let ends = [
        AtEnd::OpenPlug,
        AtEnd::BareTerminal,
        AtEnd::UnpoweredLoad,
        AtEnd::ControlUnit,
        AtEnd::Inflator,
        AtEnd::Tensioner,
        AtEnd::Unknown,
    ];
    let conductor = |(cavity, at): (u8, AtEnd)| Conductor {
        name: cavity.to_string(),
        group: (cavity < 4).then(|| "ribbon".to_owned()),
        from: End { connector: 0, cavity, at: AtEnd::OpenPlug },
        to: End { connector: 1, cavity, at },
        drawn_only: cavity >= 4,
        limit: None,
    };
    Part {
        name: "Steering coil".into(),
        connectors: vec![
            Connector { name: "A".into(), cavities: 8, rows: 2 },
            Connector { name: "wheel side".into(), cavities: 8, rows: 1 },
        ],
        conductors: (1u8..).zip(ends).map(conductor).collect(),
        touches_wanted: 2,
        ceiling: None,
        bars: Vec::new(),
    }
}

fn instrument() -> Instrument {
    Instrument {
        identity: "bench meter 2".into(),
        told: false,
        name: "Handheld".into(),
        source: Source::Radio,
        profile: "Text line meter".into(),
        step: ohm(1, 2),
        accuracy_milli_percent: 800,
        accuracy_counts: 3,
        top: ohm(2_000, 0),
        calibration_due: None,
    }
}

fn fact() -> TouchFact {
    TouchFact {
        touch: Uuid::from_u128(0x0191_0000_0000_7000_8000_0000_0000_0042),
        conductor: 1,
        taken: Touch {
            kind: TouchKind::Settled,
            digits: vec![35, 35, 36, 35, -1],
            places: 2,
            step: ohm(1, 2),
            from_ms: Millis(61_500),
            to_ms: Millis(62_500),
            relative: false,
            auto_range: None,
        },
        chunks: vec![Hash::of(b"first"), Hash::of(b"second")],
    }
}

fn judged(conductor: u32, state: ConductorState) -> JudgedConductor {
    JudgedConductor {
        conductor,
        state,
        provisional: None,
        basis: Some(Basis::Group),
        value: Some(figure("0.350000")),
        deviation: Some(figure("-0.003333")),
        u: Some(figure("0.024759")),
        expanded: Some(figure("0.049517")),
        probability: Some(figure("0.998267")),
        touches: 2,
        codes: [Code::MoreTouches].into(),
        limit: None,
        watch_percent: Some(51),
    }
}

fn judgement() -> Judgement {
    let limit = JudgedLimit {
        value: figure("0.970000"),
        u: figure("0.030691"),
        expanded: figure("0.061382"),
        high: Some(figure("1.000000")),
        low: None,
        result: LimitResult::Undecided,
        probability: figure("0.835835"),
    };
    let none = JudgedConductor {
        provisional: Some(ConductorState::High),
        basis: None,
        value: None,
        deviation: None,
        u: None,
        expanded: None,
        probability: None,
        touches: 1,
        codes: [Code::OneTouch].into(),
        watch_percent: None,
        ..judged(2, ConductorState::Undecided)
    };
    Judgement {
        rules: 1,
        set: SetVerdict::Fail,
        reasons: [Code::High, Code::LevelUnverified].into(),
        action: ActionCode::Replace,
        action_conductor: Some(1),
        conductors: vec![
            JudgedConductor { limit: Some(limit), ..judged(0, ConductorState::Consistent) },
            judged(1, ConductorState::High),
            none,
        ],
        groups: vec![JudgedGroup {
            name: "ribbon".into(),
            kind: GroupKind::Cluster,
            reference: Some(figure("0.303333")),
            u_ref: Some(figure("0.017638")),
            tolerance: Some(figure("0.200000")),
            low_tolerance: None,
            members: vec![0, 2],
            lower: vec![],
            level: Level::Unverified,
        }],
        swept_steady: false,
        touch_u: figure("0.030000"),
    }
}

/// One of each kind, in the order of [`Event`].
pub(super) fn all() -> Vec<Event> {
    let personal = KeptDetails::new(Uuid::from_u128(7), [5; 32], &details()).commitment();
    let conditions =
        Conditions { leads_zeroed: true, temperature: Quantity::new(215, 1, Unit::Celsius), bars_open: Some(false) };
    let mut all = vec![
        Event::JobOpened { order: "4711".into(), vehicle: "Blue estate".into(), personal },
        Event::CautionAccepted { caution: Caution::C1 },
        Event::PartDescribed { part: part() },
        Event::MeterUsed { instrument: instrument() },
        Event::ConditionsStated { conditions },
        Event::ConductorChosen { conductor: 3 },
        Event::TouchTaken(fact()),
        Event::TouchUndone { touch: fact().touch },
        Event::Judged { judgement: judgement() },
        Event::MeasuringResumed {},
        Event::JobFinished {},
        Event::JobCorrected { order: "4712".into(), vehicle: "Blue estate".into(), personal },
        Event::DetailsErased {},
        Event::TemplateSaved { name: "Coil".into(), part: part() },
        Event::MeterDescribed { instrument: Instrument { told: true, ..instrument() } },
        Event::LanguageChosen { language: Language::De },
        Event::ZeroTaken(ZeroFact {
            zero: Uuid::from_u128(8),
            taken: Touch { relative: true, ..fact().taken },
            temperature: Quantity::new(215, 1, Unit::Celsius),
            chunks: vec![Hash::of(b"zero")],
        }),
        Event::ResistorRead(ResistorFact {
            reading: Uuid::from_u128(9),
            resistor: ohm(100, 1),
            tolerance_milli_percent: 1_000,
            taken: Touch { kind: TouchKind::Typed, digits: vec![1_003], ..fact().taken },
            chunks: Vec::new(),
        }),
        Event::BarStated {
            bar: BarState { a: 0, b: 1, present: Some(true), opened: "adapter".into(), restored: false },
        },
        Event::IsolationTaken(IsolationFact {
            reading: Uuid::from_u128(10),
            a: 1,
            other: None,
            taken: Touch { kind: TouchKind::OverRange, digits: Vec::new(), ..fact().taken },
            top: ohm(60_000_000, 0),
            bar_open: Some(true),
            chunks: vec![Hash::of(b"isolation")],
        }),
        Event::SweepTaken(sweep()),
        Event::ReadingWithdrawn { reading: Uuid::from_u128(10) },
        Event::OldPartTaken { old: old_part() },
    ];
    all.extend(of_a_procedure());
    all
}

fn sweep() -> SweepFact {
    let event = FoundEvent {
        kind: EventKind::Jump,
        start: figure("6.400000"),
        duration: figure("0.600000"),
        samples: 3,
        peak: Some(figure("0.412500")),
        angle: Some(figure("468.000000")),
    };
    let finding = Finding {
        rules: 1,
        verdict: SweepVerdict::Jump,
        codes: [SweepCode::SameAngle].into(),
        events: vec![event.clone(), FoundEvent { kind: EventKind::Dropout, peak: None, angle: None, ..event }],
        events_in_all: 2,
        baseline: Some(figure("0.350000")),
        slope: Some(figure("-0.000012")),
        noise: Some(figure("0.001483")),
        threshold: Some(figure("0.050000")),
        gaps: vec![(figure("3.000000"), figure("1.200000"))],
        rate: None,
    };
    SweepFact {
        sweep: Uuid::from_u128(11),
        conductor: 1,
        plan: SweepPlan { movement: Movement::Turns { each_side: 2 }, pace_s: 4 },
        from_ms: Millis(70_000),
        to_ms: Millis(102_000),
        step: ohm(1, 2),
        marks: vec![
            PlacedMark { at_ms: Millis(70_000), milli: 0 },
            PlacedMark { at_ms: Millis(74_000), milli: -1_000 },
        ],
        finding,
        chunks: vec![Hash::of(b"sweep")],
    }
}

fn old_part() -> OldPart {
    let level = OldLevel { value: figure("0.346667"), u: figure("0.017638"), temperature: Some(figure("21.500000")) };
    let conductor =
        |name: &str, value: Option<&str>, state| OldConductor { name: name.into(), value: value.map(figure), state };
    OldPart {
        job: Uuid::from_u128(12),
        name: "4710, steering coil".into(),
        at: Stamp::parse("2026-03-01T10:42:00+01:00").expect("a stamp"),
        instrument: "bench meter 2".into(),
        levels: [("ribbon".to_owned(), level)].into(),
        conductors: vec![
            conductor("1", Some("0.350000"), ConductorState::Consistent),
            conductor("2", None, ConductorState::Open),
        ],
    }
}

/// Every way a step can be done.
pub(super) fn done() -> Vec<Done> {
    let amount = |text: &str| Amount::parse(text).expect("a figure");
    let volt = |digits| Quantity::new(digits, 2, Unit::Volt).expect("few places");
    let code = |text: &str| TroubleCode::parse(text).expect("a code");
    vec![
        Done::Ticked,
        Done::NotTested,
        Done::Waited {
            from_ms: Millis(61_000),
            required_ms: Millis(181_000),
            passed_ms: Millis(183_500),
            wall_apart_ms: Some(-3_600_000),
        },
        Done::ProvenDead { before: volt(1_262), points: vec![volt(2), volt(-1)], after: volt(1_261) },
        Done::Codes { codes: vec![code("B0001-13"), code("own 47 11")], no_scanner: false, lamp: Some(Lamp::StayedOn) },
        Done::Measured { readings: vec![Uuid::from_u128(21)] },
        Done::Compared { alike: Alike::NotAll },
        Done::Centred { how: CentredHow::Sealed },
        Done::Centred {
            how: CentredHow::Counted {
                total: amount("5.0 turns"),
                left: amount("2.5 turns"),
                right: amount("2.5 turns"),
            },
        },
        Done::Tightened {
            value: amount("44 N·m"),
            wrench: "bench wrench 2".into(),
            set_to: Some(amount("40.0 N·m")),
            wrench_most: None,
        },
        Done::Tightened {
            value: amount("44 N·m"),
            wrench: "bench wrench 3".into(),
            set_to: None,
            wrench_most: Some(amount("120 N·m")),
        },
        Done::Read { values: vec![amount("-0.5 °")], within: true },
        Done::Signed { outcome: Some(Outcome::NotRepaired) },
        Done::PartChosen { number: "OR3-1187-B".into(), origin: Origin::Used, from: "breaker's yard".into() },
    ]
}

fn at_step<T>(step: &str, said: T) -> StepFact<T> {
    StepFact { step: step.into(), boot: BootId("6f1c0d3e-0000-4000-8000-000000000001".into()), said }
}

/// What is said of a procedure.
fn of_a_procedure() -> Vec<Event> {
    let boot = BootId("6f1c0d3e-0000-4000-8000-000000000001".into());
    let volt = Quantity::new(1_198, 2, Unit::Volt);
    let waited = done().remove(2);
    vec![
        Event::ProcedureBegun(ProcedureFact {
            text: "format = 1\nid = \"orrin-3-steering-coil\"\n".into(),
            technician: Some(Uuid::from_u128(31)),
            approved_by: None,
        }),
        Event::StepBegun(at_step("cable-off", ())),
        Event::StepDone(at_step("wait", StepDone { words: "with the customer".into(), done: waited })),
        Event::StepSkipped(at_step("centre-old", "the maker forbids it".into())),
        Event::StepsReopened(at_step("cable-off", "the lamp is on".into())),
        Event::StepSigned(at_step("candidate", Uuid::from_u128(32))),
        Event::StepSignedAtOffice(OfficeSigned {
            signature: Uuid::from_u128(71),
            step: "candidate".into(),
            doing: 14,
            seen: SignedJob { id: Uuid::from_u128(7), entries: 97, hash: Hash::of(b"entries") },
            person: Uuid::from_u128(72),
            personal: Hash::of(b"a name"),
            at: Stamp::parse("2026-03-02T08:15:00+01:00").expect("a stamp"),
        }),
        Event::SignatureNotTaken {
            signature: Uuid::from_u128(71),
            of_job: Uuid::from_u128(7),
            why: NotSigned::DoneAgain,
        },
        Event::TechnicianNamed { person: Uuid::from_u128(31) },
        Event::ShopDescribed {
            shop: Shop {
                name: "Lötauge & Sohn".into(),
                address: "Kabelgasse 4\n00000 Orrin".into(),
                phone: "0000 445566".into(),
                logo: "iVBORw0KGgo=".into(),
            },
        },
        Event::PersonAdded { person: Uuid::from_u128(32), personal: Hash::of(b"a name") },
        Event::JobReleased(Release {
            to: "the late shift".into(),
            key: DeviceKey::from_seed([7; 32]).public(),
            people: [(Uuid::from_u128(31), Hash::of(b"a name"))].into(),
        }),
        Event::JobTakenBack { boot: boot.clone() },
        Event::Carried { entry: "{\"id\":\"00000000-0000-0000-0000-000000000001\"}".into() },
        Event::JobClaimed(Claimed {
            boot: boot.clone(),
            from_device: Uuid::from_u128(9),
            from_sequence: 612,
            from_hash: Hash::of(b"an entry"),
            signed: "eyJh.eyJk.c2ln".into(),
        }),
        Event::PinChanged { person: Uuid::from_u128(32) },
        Event::PersonRemoved { person: Uuid::from_u128(32) },
        Event::SupplySeen { boot: boot.clone(), volt },
        Event::TakenUpAfterAnother { boot },
        Event::NextPart {},
        Event::PhotoTaken(PhotoFact {
            photo: Hash::of(b"a picture"),
            step: Some("cable-off".into()),
            width: 1_600,
            height: 1_200,
            bytes: 312_004,
        }),
        Event::ProcedureKept { text: "format = 1\nid = \"shop-own\"\n".into() },
        Event::ProcedureApproved { procedure: Hash::of(b"a file"), person: Uuid::from_u128(32) },
        Event::ProcedureWithdrawn { procedure: Hash::of(b"a file") },
        Event::DeviceKeyed { key: DeviceKey::from_seed([7; 32]).public() },
        Event::IdentityRenewed {
            from_device: Uuid::from_u128(9),
            from_sequence: 612,
            from_hash: Hash::of(b"an entry"),
            reason: Renewal::Behind,
        },
    ]
}

/// The largest events that job and session let through, with the characters JSON needs most bytes for.
pub(super) fn largest() -> Vec<Event> {
    let name = |index: usize| format!("{:\u{1}<width$}", index, width = MAX_NAME);
    let conductor = |index: usize| Conductor {
        name: name(index),
        group: Some(name(index)),
        from: End { connector: 0, cavity: MAX_CAVITIES, at: AtEnd::BareTerminal },
        to: End { connector: 1, cavity: MAX_CAVITIES - 1, at: AtEnd::BareTerminal },
        drawn_only: false,
        limit: None,
    };
    let connector = |index: usize| Connector { name: name(index), cavities: MAX_CAVITIES, rows: 4 };
    let part = Part {
        name: name(0),
        connectors: (0..crate::part::MAX_CONNECTORS).map(connector).collect(),
        conductors: (0..MAX_CONDUCTORS).map(conductor).collect(),
        touches_wanted: 4,
        ceiling: None,
        bars: Vec::new(),
    };
    assert_eq!(part.problems(), []);
    let many = u32::try_from(MAX_CONDUCTORS).expect("few");
    let mut whole = judgement();
    whole.conductors = (0..many).map(|i| judged(i, ConductorState::Undecided)).collect();
    let group = whole.groups.remove(0);
    whole.groups = (0..MAX_CONDUCTORS)
        .map(|i| JudgedGroup { name: name(i), members: (0..many).collect(), ..group.clone() })
        .collect();
    let touch = Touch { digits: vec![i64::MIN; MOST], ..fact().taken };
    vec![
        Event::TemplateSaved { name: name(1), part },
        Event::Judged { judgement: whole },
        Event::TouchTaken(TouchFact { taken: touch, chunks: vec![Hash::ZERO; 17], ..fact() }),
    ]
}
