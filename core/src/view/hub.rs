//! What is at the shop, worded.

#[cfg(test)]
mod tests;

use super::model::{HubNote, HubView, Notice, ShopMark};
use super::words::{hub_trouble, tongue};
use crate::sync::{AtShop, Doing, JobThere, Trouble};
use crate::verdict::words::Language;

/// How things stand with the shop's hub.
pub fn hub_of(at: &AtShop, language: Language) -> HubView {
    let state = match (&at.asked, &at.paired) {
        (Some(_), _) => "asked",
        (None, Some(_)) => "paired",
        (None, None) => "none",
    };
    HubView {
        state: state.to_owned(),
        words: whom(at, language),
        digits: at.asked.as_ref().map_or(String::new(), |(_, digits)| digits.clone()),
        progress: progress(at, language),
        sending: at.doing == Doing::Sending,
        complete: at.is_complete() && at.trouble.is_none_or(Trouble::passes),
        trouble: at.trouble.map(|trouble| hub_notice(trouble, language)),
        pair_again: matches!(
            at.trouble,
            Some(Trouble::Revoked | Trouble::OtherIdentity | Trouble::OtherCertificate | Trouble::Fork { .. })
        ),
        notes: at
            .notes
            .iter()
            .map(|note| HubNote {
                number: note.number,
                job: note.job.map(|job| job.to_string()),
                text: note.text.clone(),
            })
            .collect(),
    }
}

/// What stands between device and hub, with what to do.
pub fn hub_notice(trouble: Trouble, language: Language) -> Notice {
    hub_trouble(trouble, language)
}

/// Whether a job is at the shop, and what is missing. `newest`: number of its newest entry in the ledger; `left`: how many
/// of its entries come after the last one the hub has.
pub fn shop_mark(there: &JobThere, (newest, left): (u64, u64), language: Language) -> ShopMark {
    if there.is_safe(newest) {
        return ShopMark { safe: true, words: tongue(language, "Safe at the shop.", "Sicher im Betrieb.").to_owned() };
    }
    let mut missing = Vec::new();
    if left > 0 {
        missing.push(match (language, left) {
            (Language::En, 1) => "1 entry to go".to_owned(),
            (Language::En, left) => format!("{left} entries to go"),
            (Language::De, 1) => "1 Eintrag fehlt".to_owned(),
            (Language::De, left) => format!("{left} Einträge fehlen"),
        });
    }
    let (photos, all) = there.photos;
    if photos < all {
        missing.push(match language {
            Language::En => format!("{photos} of {all} photos there"),
            Language::De => format!("{photos} von {all} Fotos dort"),
        });
    }
    let (others, all) = there.others;
    if others < all {
        missing.push(match language {
            Language::En => format!("{others} of {all} recordings and details there"),
            Language::De => format!("{others} von {all} Aufzeichnungen und Angaben dort"),
        });
    }
    if there.lost > 0 {
        missing.push(lost(u64::from(there.lost), language));
    }
    let head = tongue(language, "Not safe at the shop yet", "Noch nicht sicher im Betrieb");
    let words = if missing.is_empty() { format!("{head}.") } else { format!("{head}: {}.", missing.join(", ")) };
    ShopMark { safe: false, words }
}

fn lost(count: u64, language: Language) -> String {
    match language {
        Language::En => format!("{count} no longer on this device"),
        Language::De => format!("{count} nicht mehr auf diesem Gerät"),
    }
}

fn whom(at: &AtShop, language: Language) -> String {
    // A hub that was set up just now has no name yet.
    let called = |shop: &str, (en, de)| {
        if shop.is_empty() { tongue(language, en, de).to_owned() } else { shop.to_owned() }
    };
    match (&at.asked, &at.paired) {
        (Some((shop, _)), _) => {
            let shop = called(shop, ("The shop", "Der Betrieb"));
            match language {
                Language::En => format!(
                    "{shop} is asked to take this device in. Compare these six digits with those on the office’s \
                     screen; only if they are the same, the office says yes."
                ),
                Language::De => format!(
                    "{shop} ist gefragt, dieses Gerät aufzunehmen. Vergleiche diese sechs Ziffern mit denen am Schirm \
                     im Büro; nur wenn es dieselben sind, sagt das Büro ja."
                ),
            }
        }
        (None, Some(paired)) => {
            let (shop, device) = (called(&paired.shop, ("the shop", "dem Betrieb")), &paired.device);
            match language {
                Language::En => format!("Paired with {shop} as “{device}”."),
                Language::De => format!("Verbunden mit {shop} als „{device}“."),
            }
        }
        (None, None) => tongue(
            language,
            "This device keeps its record to itself. Paired with the shop’s hub, it also sends every job there, so that \
             nothing is lost with the device.",
            "Dieses Gerät behält seine Aufzeichnungen für sich. Ist es mit der Zentrale im Betrieb verbunden, schickt es \
             jeden Auftrag auch dorthin, damit mit dem Gerät nichts verloren geht.",
        )
        .to_owned(),
    }
}

fn progress(at: &AtShop, language: Language) -> String {
    // What was said to another device number is not said of this record.
    if at.paired.is_none() || at.trouble == Some(Trouble::OtherIdentity) {
        return String::new();
    }
    let ((entries, of_entries), (beside, of_beside)) = (at.entries, at.beside);
    let mut said = Vec::new();
    if at.again {
        said.push(
            tongue(
                language,
                "The hub lost what it had; everything is sent again.",
                "Die Zentrale hat verloren, was sie hatte; alles wird noch einmal geschickt.",
            )
            .to_owned(),
        );
    }
    if at.is_complete() {
        said.push(all_there(at, language));
    } else {
        said.push(match language {
            Language::En => format!(
                "At the shop: {entries} of {of_entries} entries, {beside} of {of_beside} photos, recordings and details."
            ),
            Language::De => format!(
                "Im Betrieb: {entries} von {of_entries} Einträgen, {beside} von {of_beside} Fotos, Aufzeichnungen und \
                 Angaben."
            ),
        });
    }
    if at.lost > 0 {
        said.push(format!("{}.", lost(at.lost, language)));
    }
    said.join(" ")
}

/// With something in the way it is only known how it was.
fn all_there(at: &AtShop, language: Language) -> String {
    let is = at.trouble.is_none();
    let when = match &at.complete {
        Some(last) => format!(" ({})", last.to_minute()),
        None if is => String::new(),
        None => tongue(language, ", as far as the hub said", ", soweit die Zentrale es gesagt hat").to_owned(),
    };
    match language {
        Language::En => format!("Everything on this device {} at the shop{when}.", if is { "is" } else { "was" }),
        Language::De => format!("Alles von diesem Gerät {} im Betrieb{when}.", if is { "ist" } else { "war" }),
    }
}
