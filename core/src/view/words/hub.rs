//! What stands between a device and the shop’s hub, and what to do.

use super::{Said, tongue};
use crate::sync::Trouble;
use crate::verdict::words::Language;
use crate::view::Notice;

/// In words, with a stable code.
pub(in crate::view) fn hub_trouble(trouble: Trouble, language: Language) -> Notice {
    let (code, (en, en_do, de, de_do)) = said(trouble);
    let words = match (trouble, language) {
        (Trouble::Fork { sequence }, Language::En) if sequence > 0 => format!("{en} They part at entry {sequence}."),
        (Trouble::Fork { sequence }, Language::De) if sequence > 0 => {
            format!("{de} Ab Eintrag {sequence} sind es zwei.")
        }
        _ => tongue(language, en, de).to_owned(),
    };
    Notice { code: code.to_owned(), words, remedy: tongue(language, en_do, de_do).to_owned() }
}

fn said(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::Code | Trouble::Refused | Trouble::Over => of_the_office(trouble),
        Trouble::NoInvitation | Trouble::InvitationNotWhole | Trouble::Name => of_the_form(trouble),
        Trouble::PairedAlready | Trouble::NotPaired => of_the_pairing(trouble),
        Trouble::Revoked | Trouble::Fork { .. } | Trouble::OtherIdentity | Trouble::KeyAway => of_the_identity(trouble),
        Trouble::Unreachable | Trouble::OtherCertificate | Trouble::Full => of_the_hub(trouble),
        Trouble::NewerProtocol | Trouble::NotUnderstood | Trouble::Disk => of_the_program(trouble),
    }
}

fn of_the_hub(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::OtherCertificate => (
            "hub-certificate",
            (
                "Whoever answers there is not the hub of the invitation. Nothing was sent.",
                "Check the network you are in and the date of this device. If the hub was set up anew, ask the office \
                 for a new invitation.",
                "Wer dort antwortet, ist nicht die Zentrale aus der Einladung. Nichts wurde geschickt.",
                "Prüf das Netz, in dem du bist, und das Datum dieses Geräts. Wurde die Zentrale neu eingerichtet, lass dir \
                 im Büro eine neue Einladung geben.",
            ),
        ),
        Trouble::Full => (
            "hub-full",
            (
                "There is no room left at the hub. What is missing there stays on this device.",
                "Tell the office to make room; then it goes on by itself.",
                "In der Zentrale ist kein Platz mehr. Was dort fehlt, bleibt auf diesem Gerät.",
                "Sag dem Büro, dass es Platz schafft; dann geht es von selbst weiter.",
            ),
        ),
        _ => (
            "hub-unreachable",
            (
                "The shop’s hub cannot be reached now. What is not there yet stays on this device until it can.",
                "Nothing has to be done: it is tried again by itself. At the shop, check that you are in its network.",
                "Die Zentrale ist gerade nicht erreichbar. Was noch nicht dort ist, bleibt so lange auf diesem Gerät.",
                "Du musst nichts tun: Es wird von selbst wieder versucht. Im Betrieb prüf, ob du in dessen Netz bist.",
            ),
        ),
    }
}

fn of_the_office(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::Code => (
            "hub-code",
            (
                "The hub does not take this invitation: it was used before, or its time is over.",
                "Ask the office for a new one.",
                "Die Zentrale nimmt diese Einladung nicht: Sie wurde schon benutzt, oder ihre Zeit ist um.",
                "Lass dir im Büro eine neue geben.",
            ),
        ),
        Trouble::Refused => (
            "hub-refused",
            (
                "The office said no. This device is not paired.",
                "If that was not meant, ask the office for a new invitation.",
                "Das Büro hat nein gesagt. Dieses Gerät ist nicht verbunden.",
                "War das nicht so gemeint, lass dir im Büro eine neue Einladung geben.",
            ),
        ),
        _ => (
            "hub-over",
            (
                "Nobody at the office said yes in time. This device is not paired.",
                "Ask the office for a new invitation and somebody to look at its screen.",
                "Im Büro hat niemand rechtzeitig ja gesagt. Dieses Gerät ist nicht verbunden.",
                "Lass dir im Büro eine neue Einladung geben und jemanden dort auf den Schirm schauen.",
            ),
        ),
    }
}

fn of_the_form(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::NoInvitation => (
            "hub-no-invitation",
            (
                "This text is no invitation.",
                "Copy the whole text that the office’s screen shows; it begins with evenwire:hub/1/.",
                "Dieser Text ist keine Einladung.",
                "Kopier den ganzen Text vom Schirm im Büro; er beginnt mit evenwire:hub/1/.",
            ),
        ),
        Trouble::InvitationNotWhole => (
            "hub-invitation-not-whole",
            (
                "Something is missing from this invitation.",
                "Copy it again, to its very end.",
                "An dieser Einladung fehlt etwas.",
                "Kopier sie noch einmal, bis ganz ans Ende.",
            ),
        ),
        _ => (
            "hub-name",
            (
                "This device needs a name the shop knows it by, of at most 60 characters.",
                "Write one, for instance “Bench 2”.",
                "Dieses Gerät braucht einen Namen, unter dem der Betrieb es kennt, mit höchstens 60 Zeichen.",
                "Trag einen ein, zum Beispiel „Werkbank 2“.",
            ),
        ),
    }
}

fn of_the_pairing(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::PairedAlready => (
            "hub-paired-already",
            (
                "This device is paired with a shop already.",
                "Unpair it first.",
                "Dieses Gerät ist schon mit einem Betrieb verbunden.",
                "Trenn es zuerst.",
            ),
        ),
        _ => (
            "hub-not-paired",
            (
                "This device is paired with no shop.",
                "Ask the office for an invitation.",
                "Dieses Gerät ist mit keinem Betrieb verbunden.",
                "Lass dir im Büro eine Einladung geben.",
            ),
        ),
    }
}

fn of_the_identity(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::Revoked => (
            "hub-revoked",
            (
                "The shop does not take anything from this device any more. Everything stays here.",
                "Ask the office. It can invite this device anew.",
                "Der Betrieb nimmt von diesem Gerät nichts mehr an. Alles bleibt hier.",
                "Frag im Büro nach. Es kann dieses Gerät neu einladen.",
            ),
        ),
        Trouble::OtherIdentity => (
            "hub-other-identity",
            (
                "This device goes on under a new device number since it was paired. Nothing more is sent until the shop \
                 takes it in anew.",
                "Ask the office for an invitation and pair it again.",
                "Dieses Gerät führt seit dem Verbinden eine neue Gerätenummer. Bis der Betrieb es neu aufnimmt, wird nichts \
                 mehr geschickt.",
                "Lass dir im Büro eine Einladung geben und verbinde es noch einmal.",
            ),
        ),
        Trouble::KeyAway => (
            "hub-key-away",
            (
                "The key of this device cannot be read from the system’s key store now, and without it the shop takes \
                 nothing. Everything stays here.",
                "Unlock the key store. Sending then goes on by itself; what was asked for now, ask for again.",
                "Der Schlüssel dieses Geräts lässt sich gerade nicht aus dem Schlüsselbund des Systems lesen, und ohne \
                 ihn nimmt der Betrieb nichts an. Alles bleibt hier.",
                "Schließ den Schlüsselbund auf. Das Senden geht dann von selbst weiter; was jetzt verlangt war, stoß noch einmal an.",
            ),
        ),
        _ => (
            "hub-fork",
            (
                "The shop has another record of this device: a copy of it may be in use elsewhere. Nothing more is sent, \
                 nothing is written over, and everything stays here.",
                "Tell the office and find the copy. For this device to go on, make a backup of it and restore that: it then \
                 has a device number of its own and can be paired again.",
                "Der Betrieb hat andere Aufzeichnungen dieses Geräts: Vielleicht ist anderswo eine Kopie davon im Einsatz. \
                 Nichts mehr wird geschickt, nichts überschrieben, und alles bleibt hier.",
                "Sag es dem Büro und such die Kopie. Damit dieses Gerät weitermachen kann, mach eine Sicherung davon und \
                 stell sie wieder her: Dann hat es eine eigene Gerätenummer und lässt sich wieder verbinden.",
            ),
        ),
    }
}

fn of_the_program(trouble: Trouble) -> (&'static str, Said) {
    match trouble {
        Trouble::NewerProtocol => (
            "hub-newer",
            (
                "The shop’s hub is newer than this program and cannot be understood by it. What it does not have \
                 yet stays here.",
                "Install the newer Evenwire on this device.",
                "Die Zentrale ist neuer als dieses Programm, das sie nicht mehr versteht. Was sie noch nicht hat, \
                 bleibt hier.",
                "Installier auf diesem Gerät das neuere Evenwire.",
            ),
        ),
        Trouble::Disk => (
            "hub-disk",
            (
                "What was sent already cannot be noted on this device. The record itself is whole.",
                "Make room. It is tried again by itself.",
                "Auf diesem Gerät lässt sich nicht festhalten, was schon geschickt ist. Die Aufzeichnungen selbst sind \
                 vollständig.",
                "Schaff Platz. Es wird von selbst wieder versucht.",
            ),
        ),
        _ => (
            "hub-not-understood",
            (
                "The shop’s hub answers, and not as it should. What it does not have yet stays here.",
                "It is tried again by itself. If it stays so, tell the office.",
                "Die Zentrale antwortet, aber nicht so, wie sie sollte. Was sie noch nicht hat, bleibt hier.",
                "Es wird von selbst wieder versucht. Bleibt es so, sag es dem Büro.",
            ),
        ),
    }
}
