//! What the person is told: short, calm, the fact first and the reason after it. Never a bare "OK", and what is not
//! known is never worded as a pass.
//!
//! Names of conductors ("Conductor 4", "squib 1 +") come from the caller. Texts are whole sentences.

use super::outcome::{ActionCode, Code, ConductorState, ConductorVerdict, NextAction, SetVerdict, Verdict};
use serde::{Deserialize, Serialize};

/// A language the product speaks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(ts_rs::TS), ts(export))]
#[serde(rename_all = "lowercase")]
pub enum Language {
    /// English.
    #[default]
    En,
    /// German.
    De,
}

impl Language {
    fn pick<T>(self, en: T, de: T) -> T {
        match self {
            Language::En => en,
            Language::De => de,
        }
    }
}

/// The headline of a part: "Conductor 4 is open. The part is condemned."
///
/// `name_of` gives the display name of the conductor with an index of the verdict.
pub fn headline(verdict: &Verdict, name_of: &dyn Fn(usize) -> String, language: Language) -> String {
    match verdict.set {
        SetVerdict::Fail => {
            let condemned = language.pick("The part is condemned.", "Das Teil ist verworfen.");
            match the_one_to_name(verdict) {
                Some(i) => {
                    let fact = conductor_sentence(&verdict.conductors[i], &name_of(i), language);
                    format!("{fact} {condemned}")
                }
                None => condemned.to_owned(),
            }
        }
        SetVerdict::Undecided => language.pick("Not decided yet.", "Noch nicht entschieden.").to_owned(),
        SetVerdict::Pass => {
            let (en, de) = words_of_a_pass(verdict.swept_steady, verdict.reasons.contains(&Code::DiffersFromGroup));
            language.pick(en, de).to_owned()
        }
    }
}

/// A pass says what was shown, no more. Conductors that keep their limits but differ from each other are not "alike".
fn words_of_a_pass(swept_steady: bool, differs: bool) -> (&'static str, &'static str) {
    match (swept_steady, differs) {
        (false, false) => {
            ("Alike at rest. Not yet proved turning.", "Gleich in Ruhe. Beim Drehen noch nicht nachgewiesen.")
        }
        (true, false) => ("Alike at rest and turning.", "Gleich in Ruhe und beim Drehen."),
        (false, true) => (
            "Within the limits at rest, but not alike. Not yet proved turning.",
            "In Ruhe innerhalb der Grenzwerte, aber nicht gleich. Beim Drehen noch nicht nachgewiesen.",
        ),
        (true, true) => (
            "Within the limits at rest and steady turning, but not alike.",
            "In Ruhe innerhalb der Grenzwerte und beim Drehen ruhig, aber nicht gleich.",
        ),
    }
}

/// The conductor a bad part is named by: the one of the next action, else the first that is bad.
fn the_one_to_name(verdict: &Verdict) -> Option<usize> {
    let named = verdict.action.conductor.filter(|i| *i < verdict.conductors.len());
    named.or_else(|| {
        verdict.conductors.iter().position(|c| {
            matches!(c.state, ConductorState::High | ConductorState::Low | ConductorState::Open)
                || c.codes.contains(&Code::SweepFault)
                || c.codes.contains(&Code::IsolationFault)
        })
    })
}

/// One sentence on a conductor.
pub fn conductor_sentence(conductor: &ConductorVerdict, name: &str, language: Language) -> String {
    let codes = &conductor.codes;
    let fact = match conductor.state {
        ConductorState::Consistent | ConductorState::Undecided if codes.contains(&Code::IsolationFault) => {
            language.pick("touches another conductor or metal", "berührt einen anderen Leiter oder Metall")
        }
        ConductorState::Open => language.pick("is open", "ist unterbrochen"),
        ConductorState::High => language.pick("reads too high", "misst zu hoch"),
        ConductorState::Low if codes.contains(&Code::BarClosed) => language
            .pick("reads low, as with a closed shorting bar", "misst niedrig, wie bei geschlossener Kurzschlussbrücke"),
        ConductorState::Low => language.pick("reads too low", "misst zu niedrig"),
        ConductorState::Unstable if codes.contains(&Code::SweepFault) => {
            language.pick("jumps or drops out while moving", "springt oder setzt beim Bewegen aus")
        }
        ConductorState::Unstable => language.pick("does not read the same twice", "misst nicht zweimal dasselbe"),
        ConductorState::Consistent => return consistent_sentence(conductor, name, language),
        ConductorState::Undecided => return undecided_sentence(conductor, name, language),
    };
    format!("{name} {fact}.")
}

fn consistent_sentence(conductor: &ConductorVerdict, name: &str, language: Language) -> String {
    if let Some(percent) = conductor.watch_percent {
        return language.pick(
            format!("{name} is {percent} % above the others: within tolerance, watch it in the sweep."),
            format!("{name} liegt {percent} % über den anderen: in der Toleranz, beim Drehen beobachten."),
        );
    }
    if conductor.codes.contains(&Code::DiffersFromGroup) {
        return language.pick(
            format!("{name} keeps its limit, but differs from its group."),
            format!("{name} hält den Grenzwert ein, weicht aber von seiner Gruppe ab."),
        );
    }
    if conductor.codes.contains(&Code::OneTouchDisagreed) {
        return language.pick(
            format!("{name} reads like the others, except for one touch."),
            format!("{name} misst wie die anderen, bis auf eine Berührung."),
        );
    }
    if conductor.limit.is_some() {
        return language.pick(format!("{name} keeps its limit."), format!("{name} hält den Grenzwert ein."));
    }
    language.pick(format!("{name} reads like the others."), format!("{name} misst wie die anderen."))
}

fn undecided_sentence(conductor: &ConductorVerdict, name: &str, language: Language) -> String {
    if conductor.codes.contains(&Code::NotMeasured) {
        return language.pick(format!("{name} is not measured yet."), format!("{name} ist noch nicht gemessen."));
    }
    let seen = match conductor.provisional {
        Some(ConductorState::Open) => language.pick("read open", "war unterbrochen"),
        Some(ConductorState::High) => language.pick("read too high", "war zu hoch"),
        Some(ConductorState::Low) => language.pick("read too low", "war zu niedrig"),
        _ if conductor.codes.is_empty() => {
            return language.pick(
                format!("{name} is not decided: the measurement is less certain than the tolerance is wide."),
                format!("{name} ist nicht entschieden: die Messung ist unsicherer, als die Toleranz weit ist."),
            );
        }
        _ => return language.pick(format!("{name} is not decided."), format!("{name} ist nicht entschieden.")),
    };
    language.pick(
        format!("{name} {seen} once. A second touch confirms it or clears it."),
        format!("{name} {seen}, einmal. Eine zweite Berührung bestätigt oder entlastet."),
    )
}

/// One sentence on a code: what it means, and where it helps, why.
pub fn code_sentence(code: Code, language: Language) -> &'static str {
    let (en, de) = code_words(code);
    language.pick(en, de)
}

/// Codes of the part; the others are of one conductor.
fn code_words(code: Code) -> (&'static str, &'static str) {
    match code {
        Code::High => ("A conductor reads too high.", "Ein Leiter misst zu hoch."),
        Code::LeadsNotZeroed => (
            "The test leads were not zeroed; their share is only estimated.",
            "Die Messleitungen wurden nicht genullt; ihr Anteil ist nur geschätzt.",
        ),
        Code::LevelImplausible => (
            "The conductors agree, but on more than a ribbon should read. Agreement alone proves nothing here.",
            "Die Leiter sind gleich, aber höher, als ein Band messen sollte. Gleichheit allein beweist hier nichts.",
        ),
        Code::LevelUnverified => (
            "The conductors that read alike could all be worn alike; that is not excluded.",
            "Die gleich messenden Leiter könnten alle gleich verschlissen sein; das ist nicht ausgeschlossen.",
        ),
        Code::Low => ("A conductor reads too low.", "Ein Leiter misst zu niedrig."),
        Code::Open => ("A conductor is open.", "Ein Leiter ist unterbrochen."),
        Code::PairOnly => {
            ("The comparison rests on two conductors only.", "Der Vergleich stützt sich nur auf zwei Leiter.")
        }
        Code::TwoLevels => (
            "The group shows two levels; a closed bar or another width may be the reason.",
            "Die Gruppe zeigt zwei Niveaus; eine geschlossene Brücke oder eine andere Breite kann der Grund sein.",
        ),
        Code::ZeroSuspect => (
            "A reading lies clearly below zero: the zero of the leads is wrong.",
            "Ein Messwert liegt deutlich unter null: der Nullabgleich der Messleitungen stimmt nicht.",
        ),
        of_a_conductor => conductor_code_words(of_a_conductor),
    }
}

fn conductor_code_words(code: Code) -> (&'static str, &'static str) {
    match code {
        Code::AtTheLimit => (
            "It lies at the edge of the tolerance; more touches will not move it off.",
            "Er liegt am Rand der Toleranz; weitere Berührungen ändern das nicht.",
        ),
        Code::BarClosed => (
            "It reads about half, as a pair does whose shorting bar is closed.",
            "Er misst etwa die Hälfte, wie ein Paar mit geschlossener Kurzschlussbrücke.",
        ),
        Code::DiffersFromGroup => (
            "The limit and the comparison with its group do not say the same.",
            "Grenzwert und Vergleich mit der Gruppe sagen nicht dasselbe.",
        ),
        Code::IsolationFault => (
            "Measured against its neighbours or metal, it is not isolated.",
            "Gegen Nachbarn oder Metall gemessen ist er nicht isoliert.",
        ),
        Code::LimitGuardBand => (
            "It is closer to the limit than the measurement can tell.",
            "Er liegt näher am Grenzwert, als die Messung unterscheiden kann.",
        ),
        Code::LowSuspect => (
            "It may be low: a closed shorting bar or a contact to a neighbour is not excluded.",
            "Er ist vielleicht zu niedrig: Kurzschlussbrücke oder Berührung mit einem Nachbarn ist nicht ausgeschlossen.",
        ),
        Code::MoreTouches => ("A few more touches can settle it.", "Einige weitere Berührungen können es klären."),
        Code::NothingToCompare => {
            ("There is no second conductor that agrees with it.", "Kein zweiter Leiter stimmt mit ihm überein.")
        }
        Code::NotMeasured => ("It has not been measured.", "Er ist nicht gemessen."),
        Code::OneTouch => (
            "One touch is not enough to condemn: a bad clip looks like a bad conductor.",
            "Eine Berührung reicht nicht zum Verwerfen: eine schlechte Klemme sieht aus wie ein schlechter Leiter.",
        ),
        Code::OneTouchDisagreed => (
            "One touch fell out of line; only a sweep can clear that.",
            "Eine Berührung fiel heraus; nur ein Messlauf beim Drehen kann das entlasten.",
        ),
        Code::Shorted => (
            "It is too low for a shorting bar or another width: it touches something.",
            "Er ist zu niedrig für Kurzschlussbrücke oder andere Breite: er berührt etwas.",
        ),
        Code::StepTooCoarse => (
            "The display step of this meter is too coarse to tell.",
            "Die Anzeigestufe dieses Messgeräts ist zu grob, um das zu unterscheiden.",
        ),
        Code::SweepFault => (
            "It jumped or dropped out while the part was moved.",
            "Er sprang oder setzte aus, während das Teil bewegt wurde.",
        ),
        Code::TouchesDisagree => ("Its touches do not agree.", "Seine Berührungen stimmen nicht überein."),
        Code::High
        | Code::LeadsNotZeroed
        | Code::LevelImplausible
        | Code::LevelUnverified
        | Code::Low
        | Code::Open
        | Code::PairOnly
        | Code::TwoLevels
        | Code::ZeroSuspect => {
            unreachable!("worded as a code of the part")
        }
    }
}

/// What to do next, in one or two sentences. `name` is the display name of the conductor the action is about, if it
/// is about one.
pub fn action_sentence(action: &NextAction, name: Option<&str>, language: Language) -> String {
    let (en, de) = action_words(action.code, name.is_some());
    let sentence = language.pick(en, de);
    match name {
        Some(name) => sentence.replace("{}", name),
        None => sentence.to_owned(),
    }
}

/// Sentences with `{}` for the name if one is known.
fn action_words(code: ActionCode, named: bool) -> (&'static str, &'static str) {
    match (code, named) {
        (ActionCode::Measure, true) => ("Measure {}.", "{} messen."),
        (ActionCode::Measure, false) => ("Measure the conductors.", "Die Leiter messen."),
        (ActionCode::ZeroLeads, _) => (
            "Zero the leads with the clips shorted, then measure again.",
            "Messleitungen mit kurzgeschlossenen Klemmen nullen, dann neu messen.",
        ),
        (ActionCode::Replace, true) => {
            ("Replace the part: {} condemns it.", "Das Teil ersetzen; es ist verworfen: {}.")
        }
        (ActionCode::Replace, false) => ("Replace the part.", "Das Teil ersetzen."),
        (ActionCode::CheckIsolation, true) => (
            "Do not refit the part. Find what {} touches: measure it against its neighbours.",
            "Das Teil nicht wieder einbauen. Suchen, was {} berührt: gegen die Nachbarn messen.",
        ),
        (ActionCode::CheckIsolation, false) => (
            "Do not refit the part. Measure the conductors against each other.",
            "Das Teil nicht wieder einbauen. Die Leiter gegeneinander messen.",
        ),
        (ActionCode::TouchAgain, true) => {
            ("Unclip {}, clip on again and measure.", "{} abklemmen, neu anklemmen und messen.")
        }
        (ActionCode::TouchAgain, false) => {
            ("Unclip, clip on again and measure.", "Abklemmen, neu anklemmen und messen.")
        }
        (ActionCode::Sweep, true) => ("Sweep {} while turning slowly.", "{} beim langsamen Drehen messen."),
        (ActionCode::Sweep, false) => (
            "Sweep every conductor while turning slowly. At rest nothing more can be shown.",
            "Jeden Leiter beim langsamen Drehen messen. In Ruhe lässt sich nicht mehr zeigen.",
        ),
        (ActionCode::OpenBars, true) => (
            "Hold the shorting bars open, then measure {} again.",
            "Die Kurzschlussbrücken offen halten, dann {} neu messen.",
        ),
        (ActionCode::OpenBars, false) => (
            "Hold the shorting bars open, then measure again.",
            "Die Kurzschlussbrücken offen halten, dann neu messen.",
        ),
        (ActionCode::SetGroups, _) => {
            ("Say which conductors should read alike.", "Angeben, welche Leiter gleich messen sollen.")
        }
        (ActionCode::BetterMeter, _) => (
            "Measure against the limit with a more accurate multimeter; test current a few milliamps at most.",
            "Den Grenzwert mit einem genaueren Multimeter prüfen; Messstrom höchstens einige Milliampere.",
        ),
        (ActionCode::FinerMeter, _) => (
            "Use a multimeter with a smaller step; test current a few milliamps at most.",
            "Ein Multimeter mit feinerer Anzeigestufe verwenden; Messstrom höchstens einige Milliampere.",
        ),
        (ActionCode::EnterLimit, true) => (
            "Enter the maker's limit for {}, or readings of a part known to be good.",
            "Den Grenzwert des Herstellers für {} eingeben, oder Werte eines als gut bekannten Teils.",
        ),
        (ActionCode::EnterLimit, false) => (
            "Enter the maker's limit, or readings of a part known to be good.",
            "Den Grenzwert des Herstellers eingeben, oder Werte eines als gut bekannten Teils.",
        ),
        (ActionCode::Done, _) => (
            "Nothing is left to measure. Write down what was found.",
            "Es ist nichts mehr zu messen. Das Ergebnis festhalten.",
        ),
    }
}
