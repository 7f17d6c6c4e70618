//! What proves a settled step, in one line.

use crate::dtc::TroubleCode;
use crate::procedure::{Amount, CodesWhen, Step};
use crate::record::{CentredHow, Done, Lamp};
use crate::torque::{Torque, WrenchRange};
use crate::verdict::words::Language;
use crate::view::words::{alike_words, clock_words, lamp_words, origin_words, outcome_words, tongue};
use crate::work::{How, StepState, Work};

/// Value, time and photos, or why it was left out.
pub(super) fn of(work: &Work, step: &Step, state: &StepState, language: Language) -> String {
    let at = clock_words(&state.at).to_owned();
    let said = match &state.how {
        How::Skipped(reason) => return left_out(language, ("Left out", "Ausgelassen"), reason),
        How::Done(said) if said.done == Done::NotTested => {
            return left_out(language, ("Not tested", "Nicht geprüft"), &said.words);
        }
        How::Done(said) => said,
    };
    let mut parts = vec![at];
    let value = value(work, step, &said.done, language);
    parts.extend((!value.is_empty()).then_some(value));
    parts.extend((!said.words.is_empty()).then(|| said.words.clone()));
    parts.extend(match work.photos_of(&step.id) {
        0 => None,
        1 => Some(tongue(language, "1 photo", "1 Foto").to_owned()),
        many => Some(format!("{many} {}", tongue(language, "photos", "Fotos"))),
    });
    parts.join(" · ")
}

/// The same of a comparison that comes out worse now.
pub(super) fn worse(work: &Work, step: &Step, state: &StepState, language: Language) -> String {
    let since = tongue(
        language,
        "by what was read since it comes out worse",
        "nach dem, was seither gemessen wurde, fällt er schlechter aus",
    );
    format!("{} · {since}", of(work, step, state, language))
}

/// Why a step is to be done again whose readings do not count any more.
pub(super) fn lapsed(language: Language) -> &'static str {
    tongue(
        language,
        "What it rests on was set aside: another meter, or a zero that moved.",
        "Worauf er beruht, ist verworfen: ein anderes Messgerät oder eine gewanderte Nullung.",
    )
}

fn left_out(language: Language, (en, de): (&str, &str), reason: &str) -> String {
    format!("{}: {reason}", tongue(language, en, de))
}

pub(crate) fn value(work: &Work, step: &Step, done: &Done, language: Language) -> String {
    match done {
        Done::Ticked | Done::NotTested => String::new(),
        Done::Waited { passed_ms, wall_apart_ms, .. } => {
            let waited = passed_ms.0 / 1_000;
            let words = match language {
                Language::En => format!("waited {waited} s"),
                Language::De => format!("{waited} s gewartet"),
            };
            match wall_apart_ms.map(|apart| apart / 1_000) {
                None => words,
                Some(apart) => match language {
                    Language::En => format!("{words}; the wall clock was set by {apart} s meanwhile"),
                    Language::De => format!("{words}; die Uhr wurde dabei um {apart} s verstellt"),
                },
            }
        }
        Done::ProvenDead { before, points, after } => {
            let read = std::iter::once(before).chain(points).chain(std::iter::once(after));
            read.map(|volt| format!("{volt} V")).collect::<Vec<_>>().join(" · ")
        }
        Done::Codes { codes, no_scanner, lamp } => scan(work, step, (codes, *no_scanner, *lamp), language),
        Done::Measured { readings } => match language {
            Language::En => format!("{} read", readings.len()),
            Language::De => format!("{} gemessen", readings.len()),
        },
        Done::Compared { alike } => alike_words(*alike, language).to_owned(),
        Done::Centred { how: CentredHow::Sealed } => {
            tongue(language, "lock or seal whole, not turned", "Sperre oder Siegel heil, nicht gedreht").to_owned()
        }
        Done::Centred { how: CentredHow::Counted { total, left, right } } => {
            let (total, left, right) = (total.value(), left.value(), right.value());
            match language {
                Language::En => format!("{total} turns, {left} free left, {right} free right"),
                Language::De => format!("{total} Umdrehungen, links {left} frei, rechts {right} frei"),
            }
        }
        Done::Tightened { value, wrench, set_to, wrench_most } => {
            let set = set_to.map_or(String::new(), |set| match language {
                Language::En => format!(" set to {set}"),
                Language::De => format!(" auf {set} gestellt"),
            });
            let range = wrench_most.map_or("", |most| wrench_words(set_to.unwrap_or(*value), most, language));
            format!("{value}, {wrench}{set}{range}")
        }
        Done::Read { values, within } => {
            let read = values.iter().map(ToString::to_string).collect::<Vec<_>>().join(" … ");
            let outside = tongue(language, "outside what is asked for", "außerhalb des Verlangten");
            if *within { read } else { format!("{read}, {outside}") }
        }
        Done::Signed { outcome } => {
            outcome.map_or(String::new(), |outcome| outcome_words(outcome, language).to_owned())
        }
        Done::PartChosen { number, origin, from } => format!("{number}, {}, {from}", origin_words(*origin, language)),
    }
}

/// What there is to say of a wrench whose largest setting is `most`; empty when it fits.
pub(super) fn wrench_words(set: Amount, most: Amount, language: Language) -> &'static str {
    let torque =
        |amount: Amount| amount.measure().torque_unit().and_then(|unit| Torque::new(amount.value(), unit).ok());
    match torque(set).zip(torque(most)).map(|(set, most)| set.suits(most)) {
        Some(WrenchRange::Within) | None => "",
        Some(WrenchRange::Below) => {
            tongue(language, " – too large a wrench to be exact", " – Schlüssel zu groß, um genau zu sein")
        }
        Some(WrenchRange::Above) => tongue(
            language,
            " – more than this wrench can be set to",
            " – mehr, als sich an diesem Schlüssel einstellen lässt",
        ),
    }
}

/// The codes of a scan; at the end, against those that were saved before.
fn scan(
    work: &Work,
    step: &Step,
    (codes, no_scanner, lamp): (&[TroubleCode], bool, Option<Lamp>),
    language: Language,
) -> String {
    let mut said = Vec::new();
    if no_scanner {
        said.push(tongue(language, "no scanner", "kein Diagnosegerät").to_owned());
    } else if codes.is_empty() {
        said.push(tongue(language, "no code stored", "kein Code gespeichert").to_owned());
    } else {
        said.push(listed(codes.iter()));
    }
    let is_after = matches!(&step.kind, crate::procedure::StepKind::Codes(codes) if codes.when == CodesWhen::After);
    if let Some((before, _)) = work.codes(CodesWhen::Before).filter(|_| is_after && !no_scanner) {
        let apart = [
            (("gone", "weg"), listed(before.iter().filter(|code| !codes.contains(code)))),
            (("still there", "noch da"), listed(codes.iter().filter(|code| before.contains(code)))),
            (("new", "neu"), listed(codes.iter().filter(|code| !before.contains(code)))),
        ];
        let told = apart.into_iter().filter(|(_, list)| !list.is_empty());
        said.extend(told.map(|((en, de), list)| format!("{}: {list}", tongue(language, en, de))));
    }
    said.extend(lamp.map(|lamp| {
        let lamp = lamp_words(lamp, language).trim_end_matches('.');
        format!("{}: {lamp}", tongue(language, "lamp", "Lampe"))
    }));
    said.join("; ")
}

fn listed<'a>(codes: impl Iterator<Item = &'a TroubleCode>) -> String {
    codes.map(ToString::to_string).collect::<Vec<_>>().join(", ")
}
