//! The ladder: conductors of a group as rungs on a shared ohm axis.

use super::model::{Band, Ladder, Mark, Rung, Tick};
use super::words::{ladder_words, state_word};
use crate::job::Job;
use crate::record::TouchFact;
use crate::unit::{Quantity, Unit};
use crate::verdict::axis::{self, Axis};
use crate::verdict::words::Language;
use crate::verdict::written::{Figure, JudgedConductor, JudgedGroup, Judgement};
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
    let touches = |c: &JudgedConductor| job.standing(c.conductor).filter_map(|t| t.taken.middle()).collect::<Vec<_>>();
    let mut on_axis: Vec<_> = members.iter().flat_map(|c| touches(c)).map(Quantity::to_f64).collect();
    on_axis.extend(members.iter().filter_map(|c| c.value.as_ref()).map(Figure::read));
    let axis = Axis::over(&on_axis, band.map(|(band, _)| band));
    let rung = |c: &JudgedConductor| rung(job, c, (&axis, &touches(c)), language);
    let rungs: Vec<Rung> = members.iter().map(|c| rung(c)).collect();
    Ladder {
        sentence: ladder_words(&rungs, band.is_some(), language),
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

fn rung(job: &Job, judged: &JudgedConductor, (axis, touches): (&Axis, &[Quantity]), language: Language) -> Rung {
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
        touches: touches.iter().map(|t| axis.place(t.to_f64())).collect(),
        value,
        difference,
    }
}

/// The shape for a finding. A finding that waits for a second touch is undecided, not condemned.
pub(super) fn mark_of(judged: &JudgedConductor) -> Mark {
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
pub(super) fn rung_words(job: &Job, judged: &JudgedConductor, language: Language) -> (String, String) {
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
        None if touches.iter().all(|t| t.taken.digits.is_empty()) => state_word(Mark::Open, language).into(),
        None => state_word(Mark::Unstable, language).into(),
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
pub(super) fn rounded(figure: &Figure, places: u8) -> Quantity {
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
