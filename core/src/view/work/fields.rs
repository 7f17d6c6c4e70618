//! What is entered at a step, by its kind, with its figures as published.

use super::title_of;
use crate::dtc::{TroubleCode, failure_type_family, failure_type_meaning};
use crate::job::{self, Job, counts};
use crate::procedure::{Amount, Centre, Codes, CodesWhen, Compare, LiveValue, ProveDead, Step, StepKind, Torque, Wait};
use crate::record::{Alike, Lamp};
use crate::torque::{self, TorqueUnit};
use crate::unit::Now;
use crate::verdict::words::Language;
use crate::view::measure::{name, touch_text};
use crate::view::model::{AdapterView, CodeView, LampChoice, ReadingView, Reads, StepFields, WaitView};
use crate::view::words::{alike_words, isolation_words, lamp_words, pair_words, tongue, why_words};
use crate::view::{proving, verdict};
use crate::work::{Waiting, Work};
use uuid::Uuid;

/// Seconds to go at which the wait is said aloud.
const SAID_AT: [u64; 4] = [60, 30, 10, 0];

/// "(maker's book, page 12)" or "(shop's own)".
fn source(work: &Work, source: Option<&str>, language: Language) -> String {
    let text = work.procedure.source(source).map(|source| source.text.get(language).trim_end_matches('.').to_owned());
    let text = text.unwrap_or_else(|| tongue(language, "shop’s own", "Wert der Werkstatt").to_owned());
    format!("({text})")
}

pub(super) fn wait(work: &Work, wait: &Wait, now: &Now, language: Language) -> StepFields {
    let (state, left, required, words) = match work.waiting(wait, now) {
        Waiting::Stopped(why) => ("stopped", 0, 0, why_words(&why, &title_of(work, language), language)),
        Waiting::Counting { left, required } => {
            let seconds = left.0.div_ceil(1_000);
            let words = match language {
                Language::En => format!("{seconds} s more. Nothing is touched meanwhile."),
                Language::De => format!("Noch {seconds} s. Währenddessen wird nichts angefasst."),
            };
            ("counting", seconds, required.0 / 1_000, words)
        }
        Waiting::Over(over) => (
            "over",
            0,
            over.required.0 / 1_000,
            tongue(
                language,
                "The time is over. It proves nothing yet: prove the supply dead next.",
                "Die Zeit ist um. Bewiesen ist damit nichts: als Nächstes Spannungsfreiheit feststellen.",
            )
            .to_owned(),
        ),
    };
    let announce = match (state, language) {
        ("stopped", _) => String::new(),
        _ if !SAID_AT.contains(&left) => String::new(),
        ("over", _) => tongue(language, "The waiting time is over.", "Die Wartezeit ist um.").to_owned(),
        (_, Language::En) => format!("{left} seconds to wait."),
        (_, Language::De) => format!("Noch {left} Sekunden warten."),
    };
    let printed = format!("{} {}", wait.at_least, source(work, wait.source.as_deref(), language));
    let floor = tongue(language, "Never under two minutes.", "Nie unter zwei Minuten.");
    let small = |seconds: u64| u32::try_from(seconds).unwrap_or(u32::MAX);
    StepFields::Wait(WaitView {
        state: state.to_owned(),
        words,
        left_s: small(left),
        required_s: small(required),
        source: format!("{printed}. {floor}"),
        announce,
    })
}

pub(super) fn prove_dead(work: &Work, prove: &ProveDead, language: Language) -> StepFields {
    let limit = format!("{} {}", prove.limit, source(work, prove.source.as_deref(), language));
    StepFields::ProveDead {
        before: prove.known_before.get(language).to_owned(),
        points: prove.points.iter().map(|point| point.name.get(language).to_owned()).collect(),
        after: prove.known_after.get(language).to_owned(),
        limit: match language {
            Language::En => format!("Dead: at most {limit}."),
            Language::De => format!("Spannungsfrei: höchstens {limit}."),
        },
    }
}

pub(super) fn codes(work: &Work, codes: &Codes, language: Language) -> StepFields {
    let lamps = match codes.when {
        CodesWhen::After => vec![Lamp::WentOff, Lamp::StayedOn, Lamp::NeverCame],
        CodesWhen::Before | CodesWhen::During => Vec::new(),
    };
    let before = work.codes(CodesWhen::Before).filter(|_| codes.when != CodesWhen::Before);
    let before = before.map(|(codes, _)| codes).unwrap_or_default();
    StepFields::Codes {
        lamps: lamps
            .into_iter()
            .map(|lamp| LampChoice { lamp, words: lamp_words(lamp, language).to_owned() })
            .collect(),
        erases: if codes.erases {
            tongue(
                language,
                "The codes are erased in this step. List what is read after that.",
                "In diesem Schritt werden die Codes gelöscht. Aufschreiben, was danach gelesen wird.",
            )
            .to_owned()
        } else {
            String::new()
        },
        before: before.iter().map(|code| code_view(code, language)).collect(),
    }
}

fn code_view(code: &TroubleCode, language: Language) -> CodeView {
    let byte = match code {
        TroubleCode::Standard(code) => code.failure_type(),
        TroubleCode::Own(_) => None,
    };
    let meaning = byte.and_then(|byte| failure_type_meaning(byte).or_else(|| failure_type_family(byte)));
    CodeView {
        code: code.to_string(),
        meaning: meaning.map_or("", |meaning| tongue(language, meaning.en, meaning.de)).to_owned(),
    }
}

pub(super) fn centre(work: &Work, centre: &Centre, language: Language) -> StepFields {
    let source = source(work, centre.source.as_deref(), language);
    let (total, back, free) = (centre.total.value(), centre.back.value(), centre.free_each_side.value());
    let plug = centre.plug_angle.map(|angle| match language {
        Language::En => format!("The plug stands at {angle} then."),
        Language::De => format!("Der Stecker steht dann bei {angle}."),
    });
    StepFields::Centre {
        published: match language {
            Language::En => format!("{total} turns from end to end, {back} of them back {source}."),
            Language::De => format!("{total} Umdrehungen von Ende zu Ende, {back} davon zurück {source}."),
        },
        free: match language {
            Language::En => format!("At least {free} turns free on each side, and alike."),
            Language::De => format!("Auf jeder Seite mindestens {free} Umdrehungen frei, und gleich viele."),
        },
        plug: plug.unwrap_or_default(),
    }
}

pub(super) fn torque(work: &Work, torque: &Torque, language: Language) -> StepFields {
    let published =
        torque.value.measure().torque_unit().and_then(|unit| torque::Torque::new(torque.value.value(), unit).ok());
    let others = TorqueUnit::ALL.into_iter().filter(|unit| {
        let already = |amount: Amount| amount.measure().torque_unit() == Some(*unit);
        !already(torque.value) && !torque.also.is_some_and(already)
    });
    let shown = published.map(|published| {
        let one = |unit: TorqueUnit| format!("{} {}", published.shown_in(unit, 1).shown(), unit.sign());
        others.map(|unit| format!("≈ {}", one(unit))).collect()
    });
    let adapter = torque.lengths.zip(torque.set_to()).map(|((wrench, adapter), set)| AdapterView {
        set: match language {
            Language::En => format!("Set the wrench to {set}"),
            Language::De => format!("Den Schlüssel auf {set} stellen"),
        },
        wrench: wrench.to_string(),
        adapter: adapter.to_string(),
        words: match language {
            Language::En => format!(
                "Set the wrench to {set}. It is {wrench} from the hand to the drive, and the adapter stands {adapter} straight on; another length or angle needs another setting."
            ),
            Language::De => format!(
                "Den Schlüssel auf {set} stellen. Von der Hand bis zum Antrieb sind es {wrench}, der Aufsatz steht {adapter} gerade daran; andere Länge oder anderer Winkel braucht eine andere Einstellung."
            ),
        },
    });
    let fits = torque.wrench_most().map(|(low, high)| match language {
        Language::En => format!("Wrench: its largest setting from {low} to {high}; outside of that it is not exact."),
        Language::De => {
            format!("Schlüssel: größte Einstellung von {low} bis {high}; außerhalb davon ist er nicht genau.")
        }
    });
    let range = torque.range.map(|(low, high)| match language {
        Language::En => format!("{low} to {high}"),
        Language::De => format!("{low} bis {high}"),
    });
    StepFields::Torque {
        value: format!("{} {}", torque.value, source(work, torque.source.as_deref(), language)),
        also: torque.also.map_or(String::new(), |also| also.to_string()),
        shown_in: shown.unwrap_or_default(),
        range: range.unwrap_or_default(),
        angle: torque.angle.map_or(String::new(), |angle| match language {
            Language::En => format!("then turned on by {angle}"),
            Language::De => format!("dann um {angle} weiter"),
        }),
        new_fastener: torque.new_fastener,
        adapter,
        wrench: fits.unwrap_or_default(),
        unit: torque.value.measure().sign().to_owned(),
    }
}

pub(super) fn live_value(work: &Work, live: &LiveValue, language: Language) -> StepFields {
    let source = source(work, live.source.as_deref(), language);
    let unit = live.target.map(|(target, _)| target).or(live.steady_within);
    let mut wanted = Vec::new();
    wanted.extend(live.target.map(|(target, tolerance)| match language {
        Language::En => format!("{target}, within {tolerance}"),
        Language::De => format!("{target}, höchstens {tolerance} daneben"),
    }));
    wanted.extend(live.steady_within.map(|most| match language {
        Language::En => format!("steady within {most}"),
        Language::De => format!("ruhig innerhalb von {most}"),
    }));
    let labels = match (live.steady_within.is_some(), language) {
        (true, Language::En) => vec!["Lowest seen", "Highest seen"],
        (true, Language::De) => vec!["Kleinster Wert", "Größter Wert"],
        (false, Language::En) => vec!["Shown"],
        (false, Language::De) => vec!["Angezeigt"],
    };
    StepFields::Value {
        name: live.name.get(language).to_owned(),
        unit: unit.map_or(String::new(), |amount| amount.measure().sign().to_owned()),
        wanted: format!("{} {source}", wanted.join(", ")),
        fields: labels.into_iter().map(str::to_owned).collect(),
    }
}

pub(super) fn compare(job: &Job, work: &Work, compare: &Compare, language: Language) -> StepFields {
    let wires = work.procedure.circuits.group(&compare.group);
    let judgement = job.judged();
    let alike = judgement.as_ref().map(|judgement| crate::job::alike(judgement, &wires));
    let far: Vec<String> = judgement.iter().flat_map(|j| verdict::of_group(job, j, &wires, language)).collect();
    let words = match (&alike, far.is_empty()) {
        (Some(Alike::NotAll), false) => far.join(" "),
        (Some(alike), _) => alike_words(*alike, language).to_owned(),
        (None, _) => tongue(language, "Nothing is measured yet.", "Noch ist nichts gemessen.").to_owned(),
    };
    StepFields::Compare { alike, words }
}

pub(super) fn reading((job, work): (&Job, &Work), step: &Step, language: Language) -> StepFields {
    let parts = parts(job, step, language);
    let done = parts.iter().filter(|part| part.done).count();
    let small = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    let reads = match &step.kind {
        StepKind::Zero(_) => Reads::Zero,
        StepKind::Sweep(_) => Reads::Sweep,
        StepKind::Isolation(_) => Reads::Isolation,
        _ => Reads::Conductors,
    };
    let (count, touches) = (parts.len(), if let StepKind::Measure(m) = &step.kind { m.touches } else { 0 });
    let what = match (&step.kind, language) {
        (StepKind::Zero(zero), _) => zero.leads.get(language).to_owned(),
        (StepKind::Measure(_), Language::En) => format!("{count} conductors, {touches} touches each"),
        (StepKind::Measure(_), Language::De) => format!("{count} Leiter, je {touches} Berührungen"),
        (StepKind::Sweep(_), Language::En) => format!("{count} conductors, one after the other"),
        (StepKind::Sweep(_), Language::De) => format!("{count} Leiter, einer nach dem anderen"),
        (_, Language::En) => format!("{count} pairs"),
        (_, Language::De) => format!("{count} Paare"),
    };
    StepFields::Reading { reads, what, done: small(done), of: small(count), parts, limit: limit(work, step, language) }
}

/// Each thing that is to be read at a measuring step.
fn parts(job: &Job, step: &Step, language: Language) -> Vec<ReadingView> {
    let small = |index: usize| u32::try_from(index).unwrap_or(u32::MAX);
    let Some(part) = job.part.as_ref() else { return Vec::new() };
    let one = |a: u32, words: String, (done, state): (bool, &str)| ReadingView {
        name: name(part, a),
        words,
        done,
        state: state.to_owned(),
        a,
        b: None,
        pair: false,
    };
    // As the step itself counts: what was read at another one says nothing of now.
    let here = |reading: Uuid| job.work.as_ref().is_some_and(|work| work.was_read_at(&step.id, reading));
    match &step.kind {
        StepKind::Zero(_) => {
            let zero = job.proofs.zeros.last().filter(|zero| here(zero.zero));
            let words = zero.map_or(String::new(), |zero| touch_text(&zero.taken));
            let state = if zero.is_some() { proving::zero(job, language).state } else { "none".to_owned() };
            let name = tongue(language, "Leads", "Messleitungen").to_owned();
            vec![ReadingView { name, ..one(0, words, (zero.is_some(), &state)) }]
        }
        StepKind::Measure(measuring) => {
            let touches = |wire: &usize| {
                let a = small(*wire);
                let standing = job.standing(a).filter(|touch| here(touch.touch));
                let touches: Vec<String> = standing.map(|touch| touch_text(&touch.taken)).collect();
                let done = touches.len() >= usize::from(measuring.touches);
                one(a, touches.join(" · "), (done, if done { "taken" } else { "none" }))
            };
            measuring.wires.iter().map(touches).collect()
        }
        StepKind::Sweep(sweeping) => {
            let swept = |wire: &usize| {
                let a = small(*wire);
                let sweeps = || job.proofs.sweeps_of(a).filter(|sweep| here(sweep.sweep));
                let done = sweeps().any(|sweep| counts(sweeping, sweep));
                let (state, words) = proving::swept(job::seen(sweeps()), language);
                let words = if state == "none" { String::new() } else { words.to_owned() };
                one(a, words, (done, state))
            };
            sweeping.wires.iter().map(swept).collect()
        }
        StepKind::Isolation(isolation) => {
            let read = |(a, b): &(usize, Option<usize>)| {
                let (a, b) = (small(*a), b.map(small));
                let fact = job.proofs.isolation_of(a, b).filter(|fact| here(fact.reading));
                let (state, words) = fact.map_or(("none", String::new()), |fact| {
                    let (state, means) = isolation_words(job.isolation_means(fact), language);
                    (state, format!("{}. {means}", proving::isolation_value(fact, language)))
                });
                let name = pair_words(part, a, b, language);
                ReadingView { name, b, pair: true, ..one(a, words, (fact.is_some(), state)) }
            };
            isolation.pairs.iter().map(read).collect()
        }
        _ => Vec::new(),
    }
}

fn limit(work: &Work, step: &Step, language: Language) -> String {
    match &step.kind {
        StepKind::Zero(zero) => {
            let source = source(work, zero.source.as_deref(), language);
            match language {
                Language::En => format!("May move by {} or {} display steps {source}.", zero.drift, zero.drift_steps),
                Language::De => {
                    format!("Darf um {} oder {} Anzeigeschritte wandern {source}.", zero.drift, zero.drift_steps)
                }
            }
        }
        StepKind::Measure(measuring) => measuring.limit.as_ref().map_or(String::new(), |limit| {
            let source = source(work, limit.source.as_deref(), language);
            match (limit.low, limit.high, language) {
                (Some(low), Some(high), Language::En) => format!("{low} to {high} {source}."),
                (Some(low), Some(high), Language::De) => format!("{low} bis {high} {source}."),
                (None, Some(high), Language::En) => format!("At most {high} {source}."),
                (None, Some(high), Language::De) => format!("Höchstens {high} {source}."),
                (Some(low), None, Language::En) => format!("At least {low} {source}."),
                (Some(low), None, Language::De) => format!("Mindestens {low} {source}."),
                (None, None, _) => String::new(),
            }
        }),
        StepKind::Sweep(sweeping) => {
            let source = source(work, sweeping.source.as_deref(), language);
            let (jump, steps, least) = (sweeping.jump, sweeping.jump_steps, sweeping.at_least);
            match language {
                Language::En => {
                    format!("A jump of {jump} or {steps} display steps is a fault; at least {least} each {source}.")
                }
                Language::De => format!(
                    "Ein Sprung von {jump} oder {steps} Anzeigeschritten ist ein Fehler; je mindestens {least} {source}."
                ),
            }
        }
        StepKind::Isolation(isolation) => {
            let source = source(work, isolation.source.as_deref(), language);
            match language {
                Language::En => format!("Sound above {} {source}.", isolation.above),
                Language::De => format!("In Ordnung über {} {source}.", isolation.above),
            }
        }
        _ => String::new(),
    }
}
