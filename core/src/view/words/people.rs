//! Why somebody of the roster could not do something, and what to do.

use super::tongue;
use crate::job::RosterRefusal;
use crate::verdict::words::Language;

/// How long no PIN is looked at.
pub(in crate::view) fn locked_words(left_s: u64, language: Language) -> String {
    let (minutes, seconds) = (left_s / 60, left_s % 60);
    let long = match (minutes, seconds) {
        (0, _) => format!("{seconds} s"),
        (_, 0) => format!("{minutes} min"),
        _ => format!("{minutes} min {seconds} s"),
    };
    match language {
        Language::En => format!("Locked for {long}."),
        Language::De => format!("Gesperrt für {long}."),
    }
}

/// Why, and what to do.
pub(super) fn roster_refusal(refusal: &RosterRefusal, language: Language) -> (String, String) {
    let said = |en: &str, de: &str| tongue(language, en, de).to_owned();
    match refusal {
        RosterRefusal::NoSuchPerson => (
            said("This person is not on the roster.", "Diese Person steht nicht auf der Liste."),
            said(
                "Choose somebody who is, or add the person.",
                "Jemanden von der Liste wählen oder die Person eintragen.",
            ),
        ),
        RosterRefusal::Removed => (
            said("This person was taken off the roster.", "Diese Person wurde von der Liste genommen."),
            said("Somebody who is on it signs.", "Jemand von der Liste unterschreibt."),
        ),
        RosterRefusal::NameMissing => {
            (said("The person has no name.", "Die Person hat keinen Namen."), said("Write one.", "Einen eintragen."))
        }
        RosterRefusal::NameTaken => (
            said("Somebody of this name is on the roster.", "Jemand mit diesem Namen steht schon auf der Liste."),
            said("Add what tells the two apart.", "Etwas dazuschreiben, das die beiden unterscheidet."),
        ),
        RosterRefusal::Full => (
            said("The roster is full.", "Die Liste ist voll."),
            said("Take off somebody who is gone.", "Jemanden herausnehmen, der nicht mehr da ist."),
        ),
        RosterRefusal::PinShape => (
            said("A PIN has 4 to 12 digits.", "Eine PIN hat 4 bis 12 Ziffern."),
            said("Type it with digits only.", "Nur Ziffern eintippen."),
        ),
        RosterRefusal::PinWrong { left } => (
            said("This is not the PIN.", "Das ist nicht die PIN."),
            match language {
                Language::En => format!("Try again; wrong tries before a pause: {left}."),
                Language::De => format!("Noch einmal; falsche Versuche bis zur Sperre: {left}."),
            },
        ),
        RosterRefusal::Locked { left_s } => (
            format!("{} {}", said("Too many wrong PINs.", "Zu viele falsche PINs."), locked_words(*left_s, language)),
            said("Wait; the next wrong one locks for longer.", "Warten; die nächste falsche sperrt länger."),
        ),
        RosterRefusal::AuthorApproves => (
            said(
                "Whoever wrote a procedure does not approve it.",
                "Wer einen Ablauf geschrieben hat, gibt ihn nicht frei.",
            ),
            said("Somebody else reads it and approves it.", "Jemand anderes liest ihn und gibt ihn frei."),
        ),
        RosterRefusal::OtherVersion { known } => (
            match language {
                Language::En => format!("The procedure is here in version {known} now."),
                Language::De => format!("Der Ablauf ist hier inzwischen in Fassung {known}."),
            },
            said("Read that one first.", "Erst diese lesen."),
        ),
        RosterRefusal::Approved => (
            said("Somebody stands for this version already.", "Für diese Fassung steht schon jemand ein."),
            said("Nothing is to be done.", "Es ist nichts zu tun."),
        ),
    }
}
