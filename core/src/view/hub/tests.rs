use super::*;
use crate::sync::{Note, Paired};
use crate::unit::Stamp;
use std::collections::BTreeSet;

const EN: Language = Language::En;

fn quayside() -> AtShop {
    let paired = Paired { shop: "Quayside Garage".into(), device: "Bench 2".into() };
    AtShop { paired: Some(paired), entries: (57, 57), beside: (40, 40), ..AtShop::default() }
}

#[test]
fn a_job_says_what_is_missing_and_safe_only_when_nothing_is() {
    let there = JobThere { looked: 57, stored_through: 40, photos: (12, 40), others: (1, 3), lost: 0 };
    let mark = shop_mark(&there, (57, 17), EN);
    assert!(!mark.safe);
    assert_eq!(
        mark.words,
        "Not safe at the shop yet: 17 entries to go, 12 of 40 photos there, 1 of 3 recordings and details there."
    );
    let there = JobThere { stored_through: 57, photos: (40, 40), others: (3, 3), ..there };
    assert_eq!(shop_mark(&there, (57, 0), EN), ShopMark { safe: true, words: "Safe at the shop.".into() });
    let mark = shop_mark(&there, (58, 0), Language::De);
    assert_eq!(mark, ShopMark { safe: false, words: "Noch nicht sicher im Betrieb.".into() }, "not looked at yet");
    let there = JobThere { photos: (39, 40), lost: 1, ..there };
    let words = "Not safe at the shop yet: 39 of 40 photos there, 1 no longer on this device.";
    assert_eq!(shop_mark(&there, (57, 0), EN).words, words);
}

#[test]
fn the_page_is_told_with_whom_how_far_and_what_is_in_the_way() {
    let none = hub_of(&AtShop::default(), EN);
    assert_eq!((none.state.as_str(), none.progress.as_str(), none.complete), ("none", "", false));
    let all = hub_of(&quayside(), EN);
    assert_eq!((all.state.as_str(), all.complete), ("paired", true));
    assert_eq!(all.words, "Paired with Quayside Garage as “Bench 2”.");
    let nameless = Paired { shop: String::new(), device: "Bench 2".into() };
    let nameless = hub_of(&AtShop { paired: Some(nameless), ..quayside() }, EN);
    assert_eq!(nameless.words, "Paired with the shop as “Bench 2”.");
    assert_eq!(all.progress, "Everything on this device is at the shop.");
    let some = hub_of(&AtShop { beside: (12, 40), doing: Doing::Sending, ..quayside() }, EN);
    assert!(some.progress.contains("12 of 40 photos") && some.sending && !some.complete, "{some:?}");
    let asked = AtShop { asked: Some(("Quayside Garage".into(), "042 917".into())), ..AtShop::default() };
    assert_eq!((hub_of(&asked, EN).state.as_str(), hub_of(&asked, EN).digits.as_str()), ("asked", "042 917"));
    let again = hub_of(&AtShop { again: true, entries: (3, 57), ..quayside() }, Language::De);
    assert!(again.progress.starts_with("Die Zentrale hat verloren"), "{}", again.progress);
    let last = Some(Stamp::parse("2026-03-01T06:47:10+01:00").unwrap());
    let away = AtShop { complete: last, trouble: Some(Trouble::Unreachable), ..quayside() };
    assert_eq!(hub_of(&away, EN).progress, "Everything on this device was at the shop (2026-03-01 06:47).");
    assert!(hub_of(&away, Language::De).progress.starts_with("Alles von diesem Gerät war im Betrieb (2026"));
    let in_the_way = hub_notice(Trouble::Unreachable, EN).words;
    assert!(in_the_way.contains("What is not there yet stays") && !in_the_way.contains("Everything"), "{in_the_way}");
    let never = hub_of(&AtShop { complete: None, ..away }, EN);
    assert_eq!(never.progress, "Everything on this device was at the shop, as far as the hub said.");
    let revoked = hub_of(&AtShop { trouble: Some(Trouble::Revoked), ..quayside() }, EN);
    assert!(revoked.pair_again && !revoked.complete, "what the shop says now is not known any more");
    let other = hub_of(&AtShop { trouble: Some(Trouble::OtherIdentity), ..quayside() }, EN);
    assert_eq!((other.progress.as_str(), other.pair_again, other.complete), ("", true, false));
    let note = Note { number: 7, job: None, text: "The loaner is back.".into() };
    assert_eq!(hub_of(&AtShop { notes: vec![note], ..quayside() }, EN).notes[0].number, 7);
}

#[test]
fn every_trouble_has_a_code_of_its_own_and_words_in_both_languages() {
    let all = [
        Trouble::Unreachable,
        Trouble::OtherCertificate,
        Trouble::Code,
        Trouble::Refused,
        Trouble::Over,
        Trouble::Revoked,
        Trouble::Fork { sequence: 12 },
        Trouble::Full,
        Trouble::NewerProtocol,
        Trouble::OtherIdentity,
        Trouble::KeyAway,
        Trouble::NotUnderstood,
        Trouble::Disk,
        Trouble::NoInvitation,
        Trouble::InvitationNotWhole,
        Trouble::Name,
        Trouble::PairedAlready,
        Trouble::NotPaired,
    ];
    let mut codes = BTreeSet::new();
    for trouble in all {
        let (en, de) = (hub_notice(trouble, EN), hub_notice(trouble, Language::De));
        assert!(codes.insert(en.code.clone()), "{trouble:?}");
        assert_eq!(en.code, de.code);
        assert!(en.words != de.words && en.remedy != de.remedy && !de.remedy.is_empty(), "{trouble:?}");
    }
    assert!(hub_notice(Trouble::Fork { sequence: 12 }, EN).words.contains("entry 12"));
}
