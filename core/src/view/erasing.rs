//! Erasing what is personal: what it does, to how many, and that it was done.

use super::model::EraseView;
use super::words::tongue;
use crate::job::Job;
use crate::session;
use crate::unit::{Day, Now};
use crate::verdict::words::Language;

/// What can be erased of a closed job, or that it was; `None` while it is open.
pub(super) fn of(job: &Job, language: Language) -> Option<EraseView> {
    job.finished.as_ref()?;
    let done = job.erased.as_ref().map(|at| match language {
        Language::En => format!("Personal details and photos of this job were erased: {}.", at.to_minute()),
        Language::De => {
            format!("Persönliche Angaben und Fotos dieses Auftrags wurden gelöscht: {}.", at.to_minute())
        }
    });
    Some(EraseView { words: what_goes(language).to_owned(), done: done.unwrap_or_default() })
}

/// What goes and what stays, who may, and what is out of reach.
fn what_goes(language: Language) -> &'static str {
    tongue(
        language,
        "Customer, phone, plate, VIN, odometer, the technician's name as typed, the complaint and all photos go for ever. \
         Order, short name of the vehicle, readings, verdict and signatures stay, and the record says that this was \
         done. Anybody at this device may do it. A report or claim file that was handed out is a file of its own, \
         also in the folder Evenwire: delete it there yourself, and backups and files a rescue put aside as well.",
        "Kunde, Telefon, Kennzeichen, FIN, Kilometerstand, der eingetippte Name des Technikers, die Beanstandung und alle \
         Fotos gehen für immer. Auftrag, Kurzname des Fahrzeugs, Messwerte, Urteil und Unterschriften bleiben, und das \
         Protokoll sagt, dass gelöscht wurde. Das darf jeder an diesem Gerät. Ein Bericht oder Nachweis, der \
         herausgegeben wurde, ist eine eigene Datei, auch im Ordner Evenwire: Lösche sie dort selbst, ebenso \
         Sicherungen und was ein Retten beiseitelegte.",
    )
}

/// The day before which jobs are older than so many months; see [`session::older_than`].
pub fn older_than(months: u16, now: &Now) -> Option<Day> {
    session::older_than(months, now)
}

/// What erasing all details older than `day` would do, of so many jobs.
pub fn erase_older_words(day: Option<Day>, count: usize, language: Language) -> String {
    let Some(day) = day else {
        return tongue(language, "Whole months, 1 to 1200.", "Ganze Monate, 1 bis 1200.").to_owned();
    };
    match (language, count) {
        (Language::En, 0) => format!("No job opened before {day} has details or photos left."),
        (Language::De, 0) => format!("Kein Auftrag von vor dem {day} hat noch Angaben oder Fotos."),
        (Language::En, _) => format!("Jobs opened before {day}, closed or not: {count}. {}", what_goes(language)),
        (Language::De, _) => {
            format!("Aufträge von vor dem {day}, ob abgeschlossen oder nicht: {count}. {}", what_goes(language))
        }
    }
}

/// How many jobs are shown, and whether there are more.
pub fn jobs_found(shown: usize, more: bool, language: Language) -> String {
    match (language, shown) {
        (_, 0) => String::new(),
        (Language::En, _) if more => format!("The newest {shown}; there are more"),
        (Language::De, _) if more => format!("Die neuesten {shown}; es gibt mehr"),
        (Language::En, 1) => "1 job".into(),
        (Language::De, 1) => "1 Auftrag".into(),
        (Language::En, _) => format!("{shown} jobs, newest first"),
        (Language::De, _) => format!("{shown} Aufträge, neueste zuerst"),
    }
}
