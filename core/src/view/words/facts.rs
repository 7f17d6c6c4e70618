//! Facts of a procedure in words: that they stand, that they have to, and why they do not.

use super::tongue;
use crate::procedure::Fact;
use crate::unit::Stamp;
use crate::verdict::words::Language;
use crate::work::Why;

/// Hours and minutes of a moment, where it was written: "10:14".
pub(in crate::view) fn clock_words(at: &Stamp) -> &str {
    at.as_str().get(11..16).unwrap_or(at.as_str())
}

/// What is so when the fact stands: "The cable is off."
pub(in crate::view) fn fact_words(fact: &Fact, language: Language) -> String {
    if let Some(about) = fact.about() {
        return match (fact, language) {
            (Fact::InflatorAway(_), Language::En) => format!("Airbag “{about}” is off and safely away."),
            (Fact::InflatorAway(_), Language::De) => format!("Airbag „{about}“ ist ab und sicher weggelegt."),
            (Fact::BarOpen(_), Language::En) => format!("Shorting bar “{about}” is held open."),
            (Fact::BarOpen(_), Language::De) => format!("Kurzschlussbrücke „{about}“ ist offen gehalten."),
            (_, Language::En) => format!("Shorting bar “{about}” has sprung back."),
            (_, Language::De) => format!("Kurzschlussbrücke „{about}“ ist zurückgefedert."),
        };
    }
    let (en, de) = match fact {
        Fact::BeforeScanSaved => ("The codes are saved.", "Die Fehlercodes sind gesichert."),
        Fact::WheelsStraight => ("The road wheels stand straight.", "Die Räder stehen gerade."),
        Fact::CableOff => ("The cable is off.", "Das Kabel ist ab."),
        Fact::WaitDone => ("The whole wait is over.", "Die ganze Wartezeit ist um."),
        Fact::DeadProven => ("The supply is proven dead.", "Die Spannungsfreiheit ist festgestellt."),
        Fact::ZeroValid => ("The leads are zeroed.", "Die Messleitungen sind genullt."),
        Fact::LockIn => ("The coil is locked.", "Die Spule ist gesperrt."),
        Fact::Centred => ("The coil stands in its centre.", "Die Spule steht in der Mitte."),
        Fact::LoadsHome => ("Every substitute load is back.", "Jede Ersatzlast ist zurück."),
        Fact::LocksHome => ("Every lock pin is back.", "Jeder Sperrstift ist zurück."),
        Fact::AfterScanSaved => ("The codes were read at the end.", "Die Fehlercodes sind am Ende gelesen."),
        Fact::LampOff => ("The lamp came on and went off.", "Die Lampe ging an und wieder aus."),
        Fact::InflatorAway(_) | Fact::BarOpen(_) | Fact::BarRestored(_) => ("", ""),
    };
    tongue(language, en, de).to_owned()
}

/// A fact in a list of what ends: "cable off".
pub(crate) fn fact_name(fact: &Fact, language: Language) -> String {
    let (en, de) = match fact {
        Fact::CableOff => ("cable off", "Kabel ab"),
        Fact::WaitDone => ("the wait", "die Wartezeit"),
        Fact::DeadProven => ("the proof", "die Feststellung"),
        Fact::WheelsStraight => ("wheels straight", "Räder gerade"),
        Fact::ZeroValid => ("the zero", "die Nullung"),
        Fact::LockIn => ("the lock", "die Sperre"),
        Fact::Centred => ("the centre", "die Mitte"),
        Fact::LoadsHome => ("the count of loads", "die Zählung der Lasten"),
        Fact::LocksHome => ("the count of pins", "die Zählung der Stifte"),
        Fact::BeforeScanSaved => ("the saved codes", "die gesicherten Codes"),
        Fact::AfterScanSaved => ("the last scan", "das letzte Auslesen"),
        Fact::LampOff => ("the lamp check", "die Lampenprüfung"),
        Fact::InflatorAway(about) => return named(language, ("airbag away", "Airbag weggelegt"), about),
        Fact::BarOpen(about) => return named(language, ("bar open", "Brücke offen"), about),
        Fact::BarRestored(about) => return named(language, ("bar back", "Brücke zurück"), about),
    };
    tongue(language, en, de).to_owned()
}

fn named(language: Language, (en, de): (&str, &str), about: &str) -> String {
    format!("{} ({about})", tongue(language, en, de))
}

/// Why a fact does not stand. `title_of`: the title of a step by its id.
pub(in crate::view) fn why_words(why: &Why, title_of: &dyn Fn(&str) -> String, language: Language) -> String {
    let en = matches!(language, Language::En);
    match why {
        Why::NotYet => tongue(language, "Not yet.", "Noch nicht.").to_owned(),
        Why::SupplySeen(at) if en => format!("The cable was on again, or may have been, at {}.", clock_words(at)),
        Why::SupplySeen(at) => format!("Um {} war das Kabel wieder dran oder könnte es gewesen sein.", clock_words(at)),
        Why::StepBegun(step, at) if en => format!("Ended at {} by “{}”.", clock_words(at), title_of(step)),
        Why::StepBegun(step, at) => format!("Um {} beendet durch „{}“.", clock_words(at), title_of(step)),
        Why::Reopened(at) if en => format!("Taken back at {}; it is done again.", clock_words(at)),
        Why::Reopened(at) => format!("Um {} zurückgenommen; es wird noch einmal gemacht.", clock_words(at)),
        Why::OtherJob(at) if en => {
            format!("Another job was worked on until {}; nobody can tell what happened here.", clock_words(at))
        }
        Why::OtherJob(at) => {
            format!("Bis {} lag ein anderer Auftrag auf; niemand weiß, was hier geschah.", clock_words(at))
        }
        Why::HandedOver(at) if en => {
            format!("The job was at another device until {}; it is made anew here.", clock_words(at))
        }
        Why::HandedOver(at) => {
            format!("Bis {} war der Auftrag an einem anderen Gerät; hier wird es neu gemacht.", clock_words(at))
        }
        Why::OtherBoot => tongue(
            language,
            "This device was started again; the time before does not count.",
            "Dieses Gerät wurde neu gestartet; die Zeit davor zählt nicht.",
        )
        .to_owned(),
        Why::ClockWentBack => tongue(
            language,
            "The clock of this device went back; the time before does not count.",
            "Die Uhr dieses Geräts ging zurück; die Zeit davor zählt nicht.",
        )
        .to_owned(),
        Why::TooOld => tongue(language, "It is too long ago.", "Es ist zu lange her.").to_owned(),
        Why::RestsOn(fact) if en => format!("It rests on {}, which ended.", fact_name(fact, language)),
        Why::RestsOn(fact) => format!("Das beruht auf: {}. Das gilt nicht mehr.", fact_name(fact, language)),
        Why::ReadingsGone(at) if en => format!("Its reading was set aside at {}.", clock_words(at)),
        Why::ReadingsGone(at) => format!("Seine Messung wurde um {} verworfen.", clock_words(at)),
    }
}
