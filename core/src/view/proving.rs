//! What supports the readings, as lists of proofs.

use super::bench::caution_views;
use super::ladder::rounded;
use super::measure::{name, touch_text};
use super::model::{BarRow, IsolationRow, OldPartView, ProofLine, ProvingView, SweepLine, SweepRow};
use super::words::{
    bar_hint, bar_words, calibration_words, fault_words, isolation_words, pair_words, resistor_words, retired_words,
    sweep_words, tongue,
};
use crate::caution::Caution;
use crate::job::Job;
use crate::part::Part;
use crate::record::{BarState, IsolationFact};
use crate::session::{DoneBeside, Session};
use crate::sweep::SweepVerdict;
use crate::unit::{Day, Figure, Now, Quantity, Unit};
use crate::verdict::words::Language;
use crate::verdict::{Isolation, ResistorReading, Rules, check_resistor};

/// The proofs of a job, once its part is described.
pub(super) fn of(session: &Session, job: &Job, now: &Now) -> Option<ProvingView> {
    let part = job.part.as_ref()?;
    let language = session.language();
    let due = job.instrument.as_ref().and_then(|i| i.calibration_due);
    let past = due.filter(|due| Day::of(&now.wall).is_some_and(|today| today > *due));
    let needs_c7 = !job.cautions.contains(&Caution::C7);
    Some(ProvingView {
        zero: zero(job, language),
        check: check(job, language),
        calibration: past.map(|due| calibration_words(due, language)),
        bar_cautions: if needs_c7 { caution_views(&[Caution::C7], language) } else { Vec::new() },
        bars: bars(job, part, language),
        isolation: isolation(job, part, language),
        sweeps: job.measured_conductors().into_iter().map(|c| sweeps(job, part, c, language)).collect(),
        plan: job.proofs.sweeps.last().map(|k| k.fact.plan).unwrap_or_default(),
        can_sweep: session.meter_is_of_job() && !job.is_typed() && job.may_prove().is_ok(),
        old: old(job, language),
        last: session.done_beside().map_or(String::new(), |done| last(job, part, done, language)),
    })
}

/// "Conductor 3 breaks while turning": a fault that a sweep saw and that was not taken back.
pub(super) fn sweep_fault(job: &Job, conductor: u32, language: Language) -> Option<String> {
    let verdict = job.proofs.swept(conductor).filter(|v| v.is_fault())?;
    let sweep = job.proofs.sweeps_of(conductor).find(|f| f.finding.verdict == verdict)?;
    let name = name(job.part.as_ref()?, conductor);
    Some(fault_words(&name, verdict, sweep.plan.movement, language))
}

/// What came of what was done beside the conductors last.
fn last(job: &Job, part: &Part, done: DoneBeside, language: Language) -> String {
    match done {
        DoneBeside::Zero => zero(job, language).words,
        DoneBeside::Resistor => check(job, language).words,
        DoneBeside::Isolation { a, other } => {
            let Some(fact) = job.proofs.isolation_of(a, other) else { return String::new() };
            let (_, means) = isolation_words(job.isolation_means(fact), language);
            format!("{}: {}. {means}", pair_words(part, a, other, language), isolation_value(fact, language))
        }
        DoneBeside::Sweep(sweep) => {
            let Some(fact) = job.proofs.sweeps.iter().map(|k| &k.fact).find(|f| f.sweep == sweep) else {
                return String::new();
            };
            super::trace::sentence(fact, &name(part, fact.conductor), language)
        }
        DoneBeside::Broken => tongue(
            language,
            "The sweep was broken off: the stream was cut or the meter changed. Nothing of it counts. Sweep again.",
            "Die Messung beim Bewegen brach ab: Verbindung weg oder Messgerät umgeschaltet. Nichts davon zählt. Wiederholen.",
        )
        .to_owned(),
    }
}

fn line((state, words): (&str, impl Into<String>)) -> ProofLine {
    ProofLine { state: state.to_owned(), words: words.into() }
}

pub(crate) fn zero(job: &Job, language: Language) -> ProofLine {
    if let Some(why) = job.proofs.retired {
        return line(("open", retired_words(why, language)));
    }
    let leads = job.leads();
    let at = job.proofs.zeros.first().and_then(|z| z.taken.middle());
    match (leads.zeroed, leads.zero, leads.zero_end) {
        (true, _, _) => {
            line(("good", tongue(language, "The meter subtracts the leads.", "Das Messgerät zieht die Leitungen ab.")))
        }
        (false, None, _) => line((
            "none",
            tongue(
                language,
                "Leads not zeroed: their 0.2 Ω, more or less, is guessed and widens every uncertainty.",
                "Leitungen nicht genullt: ihre etwa 0,2 Ω sind geschätzt und machen jede Aussage unsicherer.",
            ),
        )),
        (false, Some(_), again) => {
            let first = at.map(|q| q.to_string()).unwrap_or_default();
            let last = job.proofs.zeros.last().and_then(|z| z.taken.middle()).map(|q| q.to_string());
            let drift = leads
                .zero
                .zip(leads.zero_end)
                .map_or(String::new(), |(from, to)| drift(&Figure::write(to - from), language));
            let words = match (again.and(last), language) {
                (None, Language::En) => format!("Leads {first} Ω, taken off. Not checked again yet."),
                (None, Language::De) => format!("Leitungen {first} Ω, abgezogen. Noch nicht nachgeprüft."),
                (Some(last), Language::En) => {
                    format!("Leads {first} Ω, taken off; {last} Ω when checked again{drift}.")
                }
                (Some(last), Language::De) => {
                    format!("Leitungen {first} Ω, abgezogen; {last} Ω beim Nachprüfen{drift}.")
                }
            };
            line(("good", words))
        }
    }
}

/// How far the zero moved from the first to the last time.
fn drift(moved: &Figure, language: Language) -> String {
    let moved = rounded(moved, 3);
    let moved = (0..3).find_map(|places| moved.with_places(places)).unwrap_or(moved);
    match (moved.digits() == 0, language) {
        (true, Language::En) => ", the same".into(),
        (true, Language::De) => ", gleich geblieben".into(),
        (false, Language::En) => format!(", moved by {} Ω", signed(&moved)),
        (false, Language::De) => format!(", um {} Ω gewandert", signed(&moved)),
    }
}

pub(crate) fn check(job: &Job, language: Language) -> ProofLine {
    let newest = job.proofs.resistors.last().zip(job.instrument.as_ref());
    let Some((fact, instrument)) = newest else {
        return line((
            "none",
            tongue(language, "Not checked on a known resistor.", "Nicht an bekanntem Widerstand geprüft."),
        ));
    };
    let Some(shown) = fact.taken.middle() else {
        return line(("open", tongue(language, "No value was read.", "Kein Wert gelesen.")));
    };
    let milli = i64::from(fact.tolerance_milli_percent);
    let tolerance = Quantity::new(milli, 3, Unit::Ohm).expect("three places");
    let reading = ResistorReading {
        ohm: shown.to_f64(),
        resistor: fact.resistor.to_f64(),
        tolerance_pct: tolerance.to_f64(),
        leads: job.leads(),
    };
    let (result, difference, allowed) = check_resistor(&reading, &job.meter_spec(instrument), &Rules::default());
    let places = shown.places().max(2);
    let text = |value: &Figure| rounded(value, places).to_string();
    let leads = job.leads();
    let guessed = !leads.zeroed && leads.zero.is_none();
    // What is left when the difference is taken off: so the sum can be followed whatever was done about the leads.
    let off = shown.to_f64() - fact.resistor.to_f64() - difference;
    let figures = [
        &fact.resistor.to_string(),
        &shown.to_string(),
        &if leads.zeroed { String::new() } else { text(&Figure::write(off)) },
        &signed(&rounded(&Figure::write(difference), places)),
        &text(&Figure::write(allowed)),
    ];
    line(resistor_words(result, (figures.map(String::as_str), guessed), language))
}

/// With its sign, so that above and below are told apart.
fn signed(quantity: &Quantity) -> String {
    let sign = match quantity.digits().signum() {
        1 => "+",
        -1 => "−",
        _ => "",
    };
    format!("{sign}{}", quantity.to_string().trim_start_matches('-'))
}

pub(crate) fn bars(job: &Job, part: &Part, language: Language) -> Vec<BarRow> {
    let mut pairs = part.bars.clone();
    pairs.extend(job.proofs.bars.keys().filter(|pair| !part.bars.contains(pair)));
    // A reading that looks like a bar nobody spoke of.
    let standing = job.proofs.isolation.iter().filter(|k| !k.withdrawn).map(|k| &k.fact);
    let like_a_bar = standing.filter(|f| job.isolation_means(f) == Isolation::Bar);
    for pair in like_a_bar.filter_map(|f| f.other.map(|b| (f.a.min(b), f.a.max(b)))) {
        if !pairs.contains(&pair) {
            pairs.push(pair);
        }
    }
    let row = |(a, b): (u32, u32)| {
        let unknown = BarState { a, b, present: None, opened: String::new(), restored: false };
        let bar = job.proofs.bars.get(&(a, b)).cloned().unwrap_or(unknown);
        let read = job.proofs.isolation_of(a, Some(b)).filter(|f| job.isolation_means(f) == Isolation::Bar);
        BarRow {
            pair: pair_words(part, a, Some(b), language),
            line: line(bar_words(&bar, language)),
            hint: read.map_or(String::new(), |f| bar_hint(&touch_text(&f.taken), language)),
            bar,
        }
    };
    pairs.into_iter().map(row).collect()
}

/// Each conductor with the next one and with metal.
pub(crate) fn isolation(job: &Job, part: &Part, language: Language) -> Vec<IsolationRow> {
    let measured = job.measured_conductors();
    let neighbours = measured.windows(2).map(|pair| (pair[0], Some(pair[1])));
    let metal = measured.iter().map(|c| (*c, None));
    let mut pairs: Vec<(u32, Option<u32>)> = neighbours.chain(metal).collect();
    let read = job.proofs.isolation.iter().filter(|k| !k.withdrawn).map(|k| (k.fact.a, k.fact.other));
    for (a, other) in read {
        let known = pairs.iter().any(|pair| *pair == (a, other) || other.is_some_and(|b| *pair == (b, Some(a))));
        if !known {
            pairs.push((a, other));
        }
    }
    let row = |(a, other): (u32, Option<u32>)| {
        let fact = job.proofs.isolation_of(a, other);
        let means = fact.map(|f| isolation_words(job.isolation_means(f), language));
        IsolationRow {
            a,
            other,
            pair: pair_words(part, a, other, language),
            value: fact.map_or(String::new(), |f| isolation_value(f, language)),
            line: line(means.unwrap_or(("none", tongue(language, "Not measured.", "Nicht gemessen.")))),
            reading: fact.map(|f| f.reading.to_string()),
        }
    };
    pairs.into_iter().map(row).collect()
}

/// "> 20 MΩ (as entered for the meter)", "0.03 Ω".
pub(crate) fn isolation_value(fact: &IsolationFact, language: Language) -> String {
    if !fact.taken.kind.is_over_range() {
        return fact.taken.middle().map(large).unwrap_or_default();
    }
    format!(
        "> {} ({})",
        large(fact.top),
        tongue(language, "as entered for the meter", "wie für das Messgerät eingetragen")
    )
}

/// In mega-ohm or kilo-ohm where that loses no digit and reads better.
pub(crate) fn large(quantity: Quantity) -> String {
    let shifted = |by: u8| Quantity::new(quantity.digits(), quantity.places().checked_add(by)?, Unit::Ohm);
    let shortest = |q: Quantity| (0..q.places()).find_map(|places| q.with_places(places)).unwrap_or(q);
    let at_least = |ohm: i64| {
        let edge = Quantity::new(ohm, 0, Unit::Ohm).expect("no places");
        quantity.compare(edge).is_some_and(|order| order.is_ge())
    };
    match (shifted(6), shifted(3)) {
        (Some(q), _) if at_least(1_000_000) => format!("{} MΩ", shortest(q)),
        (_, Some(q)) if at_least(1_000) => format!("{} kΩ", shortest(q)),
        _ => format!("{quantity} Ω"),
    }
}

/// What sweeps say together: (state of the proof, words).
pub(crate) fn swept(verdict: Option<SweepVerdict>, language: Language) -> (&'static str, &'static str) {
    match verdict {
        None => ("none", tongue(language, "not swept", "nicht beim Bewegen gemessen")),
        Some(verdict @ SweepVerdict::Steady) => ("good", sweep_words(verdict, language)),
        Some(verdict) if verdict.is_fault() => ("bad", sweep_words(verdict, language)),
        Some(verdict) => ("open", sweep_words(verdict, language)),
    }
}

pub(crate) fn sweeps(job: &Job, part: &Part, conductor: u32, language: Language) -> SweepRow {
    let all = job.proofs.sweeps.iter().filter(|k| k.fact.conductor == conductor);
    let state = swept(job.proofs.swept(conductor), language);
    SweepRow {
        conductor,
        name: name(part, conductor),
        line: line(state),
        sweeps: all
            .map(|kept| SweepLine {
                sweep: kept.fact.sweep.to_string(),
                words: sweep_words(kept.fact.finding.verdict, language).to_owned(),
                withdrawn: kept.withdrawn,
            })
            .collect(),
    }
}

pub(crate) fn old(job: &Job, language: Language) -> Option<OldPartView> {
    let old = job.proofs.old.as_ref()?;
    let level = |(group, level): (&String, &crate::record::OldLevel)| {
        let value = rounded(&level.value, 2);
        let at = level.temperature.as_ref().map(|t| rounded(t, 0).to_string());
        let at = match (at, language) {
            (Some(t), Language::En) => format!(" at {t} °C"),
            (Some(t), Language::De) => format!(" bei {t} °C"),
            (None, Language::En) => " at an unknown temperature".into(),
            (None, Language::De) => " bei unbekannter Temperatur".into(),
        };
        let group = if group.is_empty() { String::new() } else { format!("{group}: ") };
        format!("{group}{value} Ω{at}")
    };
    let levels: Vec<String> = old.levels.iter().map(level).collect();
    let (levels, with, on) = (levels.join("; "), &old.instrument, old.at.to_minute());
    Some(OldPartView {
        name: old.name.clone(),
        words: match language {
            Language::En => format!("Good conductors of the old part: {levels}. Read with {with}, {on}."),
            Language::De => format!("Gute Leiter des alten Teils: {levels}. Gemessen mit {with}, {on}."),
        },
        alike: alike(job, language),
    })
}

/// "Alike with the old part within 0.12 Ω", while a verdict holds.
fn alike(job: &Job, language: Language) -> String {
    let Some(given) = job.verdict.as_ref().filter(|v| !v.outdated) else { return String::new() };
    match given.judgement.alike_within() {
        Some(within) => {
            let within = rounded(&within, 2);
            match language {
                Language::En => format!("Alike with the old part's good conductors within {within} Ω."),
                Language::De => format!("Gleich mit den guten Leitern des alten Teils auf {within} Ω."),
            }
        }
        None => tongue(
            language,
            "Not shown to be alike with the old part.",
            "Gleichheit mit dem alten Teil ist nicht gezeigt.",
        )
        .to_owned(),
    }
}
