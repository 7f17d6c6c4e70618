//! The ladder: conductors of a group as rungs on a shared ohm axis.

use super::model::{Band, Ladder, Mark, Rung, Tick};
use super::proving::sweep_fault;
use super::words::{ladder_words, limit_words, state_word};
use crate::job::Job;
use crate::part::PartLimit;
use crate::record::{OldConductor, TouchFact};
use crate::unit::Figure;
use crate::unit::{Quantity, Unit};
use crate::verdict::axis::{self, Axis};
use crate::verdict::words::Language;
use crate::verdict::written::{JudgedConductor, JudgedGroup, Judgement};
use crate::verdict::{Code, ConductorState};

/// One ladder per group, in the order of the part.
pub(super) fn of(job: &Job, judgement: &Judgement, language: Language) -> Vec<Ladder> {
    let mut names: Vec<String> = Vec::new();
    for judged in &judgement.conductors {
        let name = group_of(job, judged.conductor);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names.into_iter().map(|name| ladder(job, judgement, name, language)).collect()
}

fn group_of(job: &Job, conductor: u32) -> String {
    let conductor = job.part.as_ref().and_then(|p| p.conductors.get(conductor as usize));
    conductor.and_then(|c| c.group.clone()).unwrap_or_default()
}

fn ladder(job: &Job, judgement: &Judgement, name: String, language: Language) -> Ladder {
    let group = judgement.groups.iter().find(|g| g.name == name);
    let members: Vec<&JudgedConductor> =
        judgement.conductors.iter().filter(|c| group_of(job, c.conductor) == name).collect();
    let band = group.and_then(band_of);
    let leads = job.leads().taken_off();
    let touches = |c: &JudgedConductor| -> Vec<Figure> {
        let shown = job.standing(c.conductor).filter_map(|t| t.taken.middle());
        shown.map(|q| Figure::write(q.to_f64() - leads)).collect()
    };
    let mut on_axis: Vec<_> = members.iter().flat_map(|c| touches(c)).map(|t| t.read()).collect();
    on_axis.extend(members.iter().filter_map(|c| c.value.as_ref()).map(Figure::read));
    on_axis
        .extend(members.iter().filter_map(|c| old_of(job, c)).filter_map(|old| old.value.as_ref()).map(Figure::read));
    on_axis.extend(members.iter().filter_map(|c| limit_of(job, c)).filter_map(|l| l.high).map(Quantity::to_f64));
    let axis = Axis::over(&on_axis, band.map(|(band, _)| band));
    let rung = |c: &JudgedConductor| rung(job, c, (&axis, &touches(c)), language);
    let rungs: Vec<Rung> = members.iter().map(|c| rung(c)).collect();
    let fault = |c: &&JudgedConductor| sweep_fault(job, c.conductor, language).map(|words| (c.conductor, words));
    let broken: Vec<(u32, String)> = members.iter().filter_map(fault).collect();
    Ladder {
        sentence: ladder_words(&rungs, band.is_some(), &broken, language),
        group: name,
        logarithmic: axis.is_logarithmic(),
        ticks: axis.ticks().into_iter().map(|(at, label)| Tick { at, label }).collect(),
        band: group.and_then(|g| band_of(g).map(|(band, reference)| band_view(g, &axis, (band, reference), language))),
        rungs,
    }
}

fn band_of(group: &JudgedGroup) -> Option<(axis::Band, &Figure)> {
    let (reference, up, down) = (group.reference.as_ref()?, group.tolerance.as_ref()?, group.low_tolerance.as_ref()?);
    let at = reference.read();
    Some((axis::Band { from: at - down.read(), to: at + up.read() }, reference))
}

fn band_view(group: &JudgedGroup, axis: &Axis, (band, reference): (axis::Band, &Figure), language: Language) -> Band {
    let text = |figure: &Figure| rounded(figure, 2).to_string();
    let up = group.tolerance.as_ref().map(text).unwrap_or_default();
    let down = group.low_tolerance.as_ref().map(text).unwrap_or_default();
    let words = match language {
        Language::En => format!("{} Ω, up to {up} Ω more or {down} Ω less", text(reference)),
        Language::De => format!("{} Ω, bis {up} Ω mehr oder {down} Ω weniger", text(reference)),
    };
    Band { from: axis.place(band.from), to: axis.place(band.to), reference: axis.place(reference.read()), words }
}

/// The conductor of the same name of the old part.
fn old_of<'a>(job: &'a Job, judged: &JudgedConductor) -> Option<&'a OldConductor> {
    let name = &job.part.as_ref()?.conductors.get(judged.conductor as usize)?.name;
    job.proofs.old.as_ref()?.conductors.iter().find(|old| old.name == *name)
}

fn limit_of<'a>(job: &'a Job, judged: &JudgedConductor) -> Option<&'a PartLimit> {
    let part = job.part.as_ref()?;
    part.conductors.get(judged.conductor as usize)?.limit.as_ref().or(part.ceiling.as_ref())
}

fn rung(job: &Job, judged: &JudgedConductor, (axis, touches): (&Axis, &[Figure]), language: Language) -> Rung {
    let part = job.part.as_ref();
    let name = part.and_then(|p| p.conductors.get(judged.conductor as usize)).map_or(String::new(), |c| c.name.clone());
    let mark = mark_of(judged);
    let at = judged.value.as_ref().map(|v| axis.place(v.read()));
    let (value, difference) = rung_words(job, judged, language);
    let bar = judged
        .value
        .as_ref()
        .zip(judged.expanded.as_ref())
        .map(|(value, u)| (axis.place(value.read() - u.read()), axis.place(value.read() + u.read())));
    Rung {
        conductor: judged.conductor,
        name,
        mark,
        word: state_word(mark, language).to_owned(),
        at,
        bar,
        touches: touches.iter().map(|t| axis.place(t.read())).collect(),
        value,
        difference,
        old_at: old_of(job, judged).and_then(|old| old.value.as_ref()).map(|v| axis.place(v.read())),
        old_value: old_of(job, judged).map_or(String::new(), |old| old_words(old, language)),
        limit_at: limit_of(job, judged).and_then(|l| l.high).map(|high| axis.place(high.to_f64())),
        limit_words: limit_of(job, judged).map_or(String::new(), |limit| limit_words(limit, language)),
    }
}

/// The shape for a finding. A finding that waits for a second touch is undecided, not condemned.
pub(crate) fn mark_of(judged: &JudgedConductor) -> Mark {
    match judged.state {
        ConductorState::Consistent => Mark::Consistent,
        ConductorState::High => Mark::High,
        ConductorState::Low => Mark::Low,
        ConductorState::Open => Mark::Open,
        ConductorState::Unstable => Mark::Unstable,
        ConductorState::Undecided if judged.codes.contains(&Code::NotMeasured) => Mark::NotMeasured,
        ConductorState::Undecided => Mark::Undecided,
    }
}

/// Value and difference of a conductor as they stand beside its rung.
pub(crate) fn rung_words(job: &Job, judged: &JudgedConductor, language: Language) -> (String, String) {
    (value_words(judged, job.standing(judged.conductor), language), difference_words(judged))
}

/// The value with as many places as the meter showed.
fn value_words<'a>(
    judged: &JudgedConductor,
    touches: impl Iterator<Item = &'a TouchFact>,
    language: Language,
) -> String {
    let touches: Vec<&TouchFact> = touches.collect();
    match &judged.value {
        Some(value) => {
            let places = touches.iter().map(|t| t.taken.places).max().unwrap_or(2);
            format!("{} {}", rounded(value, places.min(6)), Unit::Ohm.sign())
        }
        None if touches.is_empty() => "–".into(),
        None if touches.iter().all(|t| t.taken.kind.is_over_range()) => state_word(Mark::Open, language).into(),
        None => state_word(Mark::Unstable, language).into(),
    }
}

fn old_words(old: &OldConductor, language: Language) -> String {
    match &old.value {
        Some(value) => format!("{} {}", rounded(value, 2), Unit::Ohm.sign()),
        None if old.state == ConductorState::Open => state_word(Mark::Open, language).to_owned(),
        None => "–".into(),
    }
}

/// "+11.67 ± 0.15 Ω": U with two significant digits, the difference with as many places.
fn difference_words(judged: &JudgedConductor) -> String {
    let (Some(deviation), Some(expanded)) = (&judged.deviation, &judged.expanded) else { return String::new() };
    let u = expanded.millionths().max(1);
    let digits = u.ilog10();
    let places = u8::try_from(7u32.saturating_sub(digits).min(6)).unwrap_or(6);
    let size = rounded(deviation, places);
    let plus = match size.digits().signum() {
        1 => "+",
        -1 => "−",
        _ => "",
    };
    let size = size.to_string();
    format!("{plus}{} ± {} {}", size.trim_start_matches('-'), rounded(expanded, places), Unit::Ohm.sign())
}

/// A figure rounded to `places`, half away from zero, in exact decimals.
pub(crate) fn rounded(figure: &Figure, places: u8) -> Quantity {
    let factor = 10i64.pow(u32::from(6 - places.min(6)));
    let millionths = figure.millionths();
    let half = factor / 2;
    let digits = if millionths >= 0 {
        millionths.saturating_add(half) / factor
    } else {
        millionths.saturating_sub(half) / factor
    };
    Quantity::new(digits, places.min(6), Unit::Ohm).expect("at most six places")
}
