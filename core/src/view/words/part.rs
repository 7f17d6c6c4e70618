//! What is wrong with a part description.

use super::tongue;
use crate::part::{EndRefused, PartProblem};
use crate::verdict::words::Language;

/// Why no clip may go to an end.
pub(crate) fn end_words(why: EndRefused, language: Language) -> &'static str {
    let (en, de) = match why {
        EndRefused::Inflator => (
            "This conductor leads to an airbag inflator. It is never measured.",
            "Dieser Leiter führt zu einem Gasgenerator. Er wird nie gemessen.",
        ),
        EndRefused::Tensioner => (
            "This conductor leads to a belt tensioner. It is never measured.",
            "Dieser Leiter führt zu einem Gurtstraffer. Er wird nie gemessen.",
        ),
        EndRefused::ControlUnit => (
            "A control unit is still connected here. Unplug it first.",
            "Hier hängt noch ein Steuergerät. Erst abstecken.",
        ),
        EndRefused::Unknown => (
            "It is not known what is at this end. Find out first: it could be an inflator.",
            "Was an diesem Ende hängt, ist nicht bekannt. Erst klären: Es könnte ein Gasgenerator sein.",
        ),
        EndRefused::SamePlug => (
            "Its plug leads to an airbag or belt tensioner by another cavity. No clip goes there. Unplug it first.",
            "Sein Stecker führt mit einer anderen Kammer zu Airbag oder Gurtstraffer. Dort kommt keine Klemme hin. Erst abstecken.",
        ),
        EndRefused::NoConductor => ("There is no such conductor.", "Diesen Leiter gibt es nicht."),
        EndRefused::DrawnOnly => ("In the picture only, never measured.", "Nur im Bild, wird nie gemessen."),
    };
    tongue(language, en, de)
}

/// A problem of a part description, for the person who types it.
pub(in crate::view) fn problem_words(problem: &PartProblem, language: Language) -> String {
    let (en, de) = match problem {
        PartProblem::Name { place, .. } => return name_words(place, language),
        PartProblem::NameTwice { .. } => ("This name stands twice.", "Dieser Name steht zweimal."),
        PartProblem::Count { place } if place == "connector" => {
            ("A part has 1 to 8 connectors.", "Ein Teil hat 1 bis 8 Stecker.")
        }
        PartProblem::Count { .. } => (
            "A part has 1 to 64 conductors, and at least one that is measured.",
            "Ein Teil hat 1 bis 64 Leiter, davon mindestens einen, der gemessen wird.",
        ),
        PartProblem::Face { .. } => {
            ("A connector has 1 to 64 cavities in 1 to 4 rows.", "Ein Stecker hat 1 bis 64 Kammern in 1 bis 4 Reihen.")
        }
        PartProblem::NoSuchCavity { .. } => ("There is no such cavity.", "Diese Kammer gibt es nicht."),
        PartProblem::SameCavity { .. } => ("Both ends are the same cavity.", "Beide Enden sind dieselbe Kammer."),
        PartProblem::EndsDisagree { .. } => (
            "Another conductor ends here and says otherwise about what hangs there. Find out which is right.",
            "Ein anderer Leiter endet hier und nennt etwas anderes, das dort hängt. Klären, was stimmt.",
        ),
        PartProblem::End { why, .. } => return end_problem(*why, language),
        PartProblem::Limit { .. } => (
            "A limit needs a lowest or a highest value in ohm, the lowest below the highest.",
            "Ein Grenzwert braucht einen kleinsten oder größten Wert in Ohm, den kleinsten unter dem größten.",
        ),
        PartProblem::Bar { .. } => (
            "A shorting bar bridges two different conductors of this part, each pair once.",
            "Eine Kurzschlussbrücke verbindet zwei verschiedene Leiter dieses Teils, jedes Paar einmal.",
        ),
        PartProblem::TouchesWanted => ("1 to 4 touches on each conductor.", "1 bis 4 Messungen an jedem Leiter."),
    };
    tongue(language, en, de).to_owned()
}

fn name_words(place: &str, language: Language) -> String {
    let (en, de) = match place {
        "part" => (
            "The part needs a name of at most 60 characters.",
            "Das Teil braucht einen Namen mit höchstens 60 Zeichen.",
        ),
        "connector" => (
            "The connector needs a name of at most 60 characters.",
            "Der Stecker braucht einen Namen mit höchstens 60 Zeichen.",
        ),
        "group" => (
            "The group needs a name of at most 60 characters, or leave it out.",
            "Die Gruppe braucht einen Namen mit höchstens 60 Zeichen, oder keine angeben.",
        ),
        _ => (
            "The conductor needs a name of at most 60 characters.",
            "Der Leiter braucht einen Namen mit höchstens 60 Zeichen.",
        ),
    };
    tongue(language, en, de).to_owned()
}

fn end_problem(why: EndRefused, language: Language) -> String {
    let rest = match why {
        EndRefused::Inflator | EndRefused::Tensioner => tongue(
            language,
            "It can be drawn: mark it “drawn only”.",
            "Er kann gezeichnet werden: „nur im Bild“ ankreuzen.",
        ),
        _ => "",
    };
    format!("{} {rest}", end_words(why, language)).trim_end().to_owned()
}
