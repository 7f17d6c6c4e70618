//! Why a job was not corrected, and what stood there before it was.

use super::file::of_photos;
use super::{Said, tongue};
use crate::job::Refusal;
use crate::verdict::words::Language;

/// What stood in a field before it was corrected.
pub(crate) fn before_words(text: &str, language: Language) -> &str {
    if text.is_empty() { tongue(language, "nothing", "nichts") } else { text }
}

/// Refusals about corrections; the rest is handed on.
pub(super) fn of_corrections(refusal: &Refusal) -> Said {
    match refusal {
        Refusal::Erased => (
            "The personal details of this job were erased; nothing personal is put in their place.",
            "Leave these fields empty. Order and vehicle can be put right.",
            "Die persönlichen Angaben dieses Auftrags sind gelöscht; an ihre Stelle kommt nichts Persönliches.",
            "Diese Felder leer lassen. Auftrag und Fahrzeug lassen sich berichtigen.",
        ),
        Refusal::CorrectedTooOften => (
            "This job was corrected fifty times already.",
            "Open a new job and name this one in its complaint.",
            "Dieser Auftrag wurde schon fünfzigmal berichtigt.",
            "Einen neuen Auftrag öffnen und diesen in der Beanstandung nennen.",
        ),
        other => of_photos(other),
    }
}
