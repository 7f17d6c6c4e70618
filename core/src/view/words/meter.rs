//! The state of link and meter in words, with what to do.

use super::tongue;
use crate::meter::Flags;
use crate::meter::link::{LinkState, RefusedWhy, Source};
use crate::verdict::words::Language;

/// What stands beside the meter's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::view) enum MeterCode {
    /// Fresh values arrive.
    Live,
    /// Values came, none is fresh.
    Stale,
    /// It measures something else.
    WrongUnit,
    /// Its numbers do not tell how fine its display is.
    StepUnknown,
    /// Its bytes make no sense.
    Unreadable,
    /// The battery sign.
    LowBattery,
    /// The hold sign.
    Hold,
    /// It has no radio: a person reads it.
    ByEye,
    /// Nothing but the state of the link.
    Link(LinkState),
}

impl MeterCode {
    /// Stable code for the page.
    pub(in crate::view) fn code(self) -> &'static str {
        match self {
            MeterCode::Live => "live",
            MeterCode::Stale => "stale",
            MeterCode::WrongUnit => "wrong-unit",
            MeterCode::StepUnknown => "step-unknown",
            MeterCode::Unreadable => "unreadable",
            MeterCode::LowBattery => "low-battery",
            MeterCode::Hold => "hold",
            MeterCode::ByEye => "by-eye",
            MeterCode::Link(link) => match link {
                LinkState::Idle => "idle",
                LinkState::NoBluetooth => "no-bluetooth",
                LinkState::NoAdapter => "no-adapter",
                LinkState::AdapterOff => "adapter-off",
                LinkState::NoPermission => "no-permission",
                LinkState::Searching => "searching",
                LinkState::Connecting => "connecting",
                LinkState::Discovering => "discovering",
                LinkState::Subscribed => "subscribed",
                LinkState::Lost { .. } => "lost",
                LinkState::GaveUp => "gave-up",
                LinkState::Refused { .. } => "refused",
            },
        }
    }
}

/// The state, and what to do about it if anything.
pub(in crate::view) fn meter_words(code: MeterCode, language: Language) -> (String, Option<String>) {
    let (en, en_do, de, de_do) = match code {
        MeterCode::Live => ("Live.", "", "Live.", ""),
        MeterCode::Stale => (
            "No fresh value. The last one is not shown any more.",
            "Look at the meter: is it on and near?",
            "Kein frischer Wert. Der letzte wird nicht mehr angezeigt.",
            "Am Messgerät nachsehen: Ist es an und in der Nähe?",
        ),
        MeterCode::WrongUnit => (
            "The meter is not set to ohm.",
            "Turn its dial to Ω.",
            "Das Messgerät steht nicht auf Ohm.",
            "Den Drehschalter auf Ω stellen.",
        ),
        MeterCode::StepUnknown => (
            "Connected. This meter does not tell how fine its display is.",
            "Enter the step of its display; then its values can be read.",
            "Verbunden. Dieses Messgerät sagt nicht, wie fein seine Anzeige ist.",
            "Den Anzeigeschritt eintragen; dann lassen sich seine Werte lesen.",
        ),
        MeterCode::Unreadable => (
            "What the meter sends cannot be read. Nothing of it is used.",
            "If it stays, choose another meter.",
            "Was das Messgerät sendet, ist nicht lesbar. Nichts davon wird verwendet.",
            "Bleibt es so, ein anderes Messgerät wählen.",
        ),
        MeterCode::LowBattery => (
            "The meter's battery is low. Nothing is taken: readings could be wrong.",
            "Change its battery.",
            "Die Batterie des Messgeräts ist schwach. Nichts wird übernommen: Die Werte könnten falsch sein.",
            "Batterie wechseln.",
        ),
        MeterCode::Hold => (
            "The meter's display is frozen (hold). Nothing is taken.",
            "Press the hold key on the meter.",
            "Die Anzeige des Messgeräts ist eingefroren (Hold). Nichts wird übernommen.",
            "Am Messgerät die Hold-Taste drücken.",
        ),
        MeterCode::ByEye => ("Read by eye, typed by you.", "", "Von dir abgelesen und eingetippt.", ""),
        MeterCode::Link(link) => return link_words(link, language),
    };
    said((en, en_do), (de, de_do), language)
}

fn link_words(link: LinkState, language: Language) -> (String, Option<String>) {
    let (en, de) = match link {
        LinkState::Idle => (
            ("No meter is connected.", "Search and choose one."),
            ("Kein Messgerät ist verbunden.", "Suchen und eines wählen."),
        ),
        LinkState::NoBluetooth => (
            ("Bluetooth is not available on this computer.", "The practice meter works without it."),
            ("Auf diesem Rechner gibt es kein Bluetooth.", "Das Übungsgerät geht auch ohne."),
        ),
        LinkState::NoAdapter => (
            ("There is no Bluetooth adapter.", "Plug one in; it is found by itself."),
            ("Es gibt keinen Bluetooth-Adapter.", "Einen einstecken; er wird von selbst gefunden."),
        ),
        LinkState::AdapterOff => (
            ("Bluetooth is switched off.", "Switch it on in the system's settings."),
            ("Bluetooth ist ausgeschaltet.", "In den Systemeinstellungen einschalten."),
        ),
        LinkState::NoPermission => (
            ("This app may not use Bluetooth.", "Allow it in the system's settings."),
            ("Diese App darf Bluetooth nicht benutzen.", "In den Systemeinstellungen erlauben."),
        ),
        LinkState::Searching => (
            ("Searching for meters.", "Switch the meter's radio on."),
            ("Suche nach Messgeräten.", "Funk am Messgerät einschalten."),
        ),
        LinkState::Connecting => (("Connecting.", ""), ("Verbinden.", "")),
        LinkState::Discovering => {
            (("Asking the meter what it can send.", ""), ("Frage das Messgerät, was es senden kann.", ""))
        }
        LinkState::Subscribed => (
            ("Connected. No value yet.", "If none comes, switch the meter to sending."),
            ("Verbunden. Noch kein Wert.", "Kommt keiner, das Messgerät auf Senden stellen."),
        ),
        LinkState::Lost { .. } => (
            ("The link is lost. Trying again.", "Bring the meter nearer. Touches taken are safe."),
            ("Die Verbindung ist weg. Neuer Versuch läuft.", "Messgerät näher holen. Übernommenes ist sicher."),
        ),
        LinkState::GaveUp => (
            ("The meter cannot be reached.", "Check that it is on, then connect again."),
            ("Das Messgerät ist nicht zu erreichen.", "Prüfen, ob es an ist, dann neu verbinden."),
        ),
        LinkState::Refused { why } => refused_words(why),
    };
    said(en, de, language)
}

type Said = (&'static str, &'static str);

fn refused_words(why: RefusedWhy) -> (Said, Said) {
    match why {
        RefusedWhy::Connection => (
            ("The meter refuses the connection.", "Is another phone connected to it?"),
            ("Das Messgerät lehnt die Verbindung ab.", "Ist ein anderes Telefon damit verbunden?"),
        ),
        RefusedWhy::NoServices => (
            ("The meter does not say what it can send.", "Switch it off and on, then connect again."),
            ("Das Messgerät sagt nicht, was es senden kann.", "Aus- und einschalten, dann neu verbinden."),
        ),
        RefusedWhy::NoReadableValue => (
            ("This meter sends no value that can be read here.", "Choose another meter, or add a profile for it."),
            ("Dieses Messgerät sendet keinen hier lesbaren Wert.", "Ein anderes wählen oder ein Profil dafür anlegen."),
        ),
        RefusedWhy::Notifications => (
            ("The meter does not start sending.", "Switch it off and on, then connect again."),
            ("Das Messgerät beginnt nicht zu senden.", "Aus- und einschalten, dann neu verbinden."),
        ),
    }
}

fn said(en: Said, de: Said, language: Language) -> (String, Option<String>) {
    let words = tongue(language, en.0, de.0).to_owned();
    let remedy = tongue(language, en.1, de.1);
    (words, (!remedy.is_empty()).then(|| remedy.to_owned()))
}

/// Signs beside the number, in words.
pub(in crate::view) fn sign_words(flags: Flags, language: Language) -> Vec<String> {
    let signs = [
        (flags.hold, "hold", "Hold"),
        (flags.relative, "relative zero", "Relativ-Null"),
        (flags.low_battery, "battery low", "Batterie schwach"),
        (flags.auto_range == Some(true), "automatic range", "automatischer Bereich"),
        (flags.auto_range == Some(false), "range locked", "Bereich fest"),
    ];
    signs.into_iter().filter(|(on, ..)| *on).map(|(_, en, de)| tongue(language, en, de).to_owned()).collect()
}

/// What to do until the first number tells how fine the display is.
pub(in crate::view) fn first_number_words(language: Language) -> &'static str {
    tongue(language, "Waiting for its first number …", "Es fehlt noch seine erste Zahl …")
}

/// The name of a meter. The practice meter is ours, and is called in the language of the screen.
pub(in crate::view) fn practice_name(name: &str, source: Source, language: Language) -> String {
    match (source, name) {
        (Source::Practice, "Practice meter") => tongue(language, name, "Übungsmessgerät").to_owned(),
        _ => name.to_owned(),
    }
}
