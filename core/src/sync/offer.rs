//! A job that is handed over goes to another device on the same network, without the hub and without a file that somebody
//! carries: what is shown to the other device, who may fetch, and how that ends. Who listens is not known here.
//!
//! The other device asks twice. First for the file, as often as it needs to; then, when it has all of it, whether it may
//! keep it. The code is good for one yes to the second question.

use super::drawn::drawn;
use super::pairing::{TextFault, addressed, certificate, read, shown};
use crate::unit::{Millis, Stamp};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64URL;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// The name in the certificate of every device that offers a job. `.internal` is reserved for private use, so that no name
/// server knows it; the addresses stand in the offer.
pub const OFFER_HOST: &str = "offer.evenwire.internal";
/// How long a job is offered.
pub const OFFER_LASTS: Millis = Millis(10 * 60 * 1_000);
/// How the text of an offer begins.
const BEGINS: &str = "evenwire:job/1/";
/// So many wrong codes end an offer: the right one is never typed, so that whoever shows another one guesses.
const MOST_WRONG: u8 = 5;

/// What one device shows the other, as a picture (QR) or as text.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Offer {
    /// Where it listens: address and port.
    pub addresses: Vec<String>,
    /// The certificate it shows (DER, base64url), made for this offer. The other device believes this one and no other.
    pub certificate: String,
    /// One time, for as long as is offered.
    pub code: String,
}

impl Offer {
    /// An offer; `certificate` as DER.
    pub fn new(addresses: Vec<String>, certificate: &[u8], code: String) -> Offer {
        Offer { addresses, certificate: BASE64URL.encode(certificate), code }
    }

    /// As text without blanks, to be copied or drawn.
    pub fn text(&self) -> String {
        shown(BEGINS, self)
    }

    /// What [`Offer::text`] gave; blanks and line ends that a letter put into it do no harm.
    ///
    /// # Errors
    /// [`TextFault`].
    pub fn read(text: &str) -> Result<Offer, TextFault> {
        read(BEGINS, text, |of: &Offer| addressed(&of.addresses) && of.certificate().is_some() && !of.code.is_empty())
    }

    /// The certificate, DER.
    pub fn certificate(&self) -> Option<Vec<u8>> {
        certificate(&self.certificate)
    }
}

impl std::fmt::Debug for Offer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Offer({:?})", self.addresses)
    }
}

/// Whether two secrets are the same. Every byte is looked at, so that the time taken tells nothing but their length.
pub fn same_secret(kept: &str, given: &str) -> bool {
    let differences = kept.bytes().zip(given.bytes()).filter(|(a, b)| a != b).count();
    kept.len() == given.len() && differences == 0
}

/// A job that this device offers, or offered last.
#[derive(Clone, PartialEq, Eq)]
pub struct Offering {
    /// The job.
    pub job: Uuid,
    /// What the other device needs.
    pub text: String,
    /// The same as a picture: fields along an edge, and its path.
    pub picture: (u32, String),
    /// The wall clock when its time is over, for the screen.
    pub until: Stamp,
    /// Fetches that go on.
    pub fetching: u32,
    /// How it ended.
    pub end: Option<OfferEnd>,
    code: String,
    ends: Millis,
    wrong: u8,
}

/// How an offer ended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OfferEnd {
    /// One device said that it has all of it, and was told that it may keep it.
    HandedOut {
        /// When.
        at: Stamp,
    },
    /// Its time is over.
    Time,
    /// Somebody showed wrong codes.
    WrongCodes,
}

/// Why somebody who asks is told no.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OfferRefused {
    /// The code is another one.
    Code,
    /// Nothing is offered any more.
    Over,
}

impl Offering {
    /// A job is offered from now on, for `lasts`; `until` is what the wall clock shows then. `None`: the offer is too long
    /// for a picture.
    pub fn begin(job: Uuid, offer: &Offer, (now, lasts): (Millis, Millis), until: Stamp) -> Option<Offering> {
        let text = offer.text();
        let (picture, code) = (drawn(&text)?, offer.code.clone());
        let ends = Millis(now.0.saturating_add(lasts.0));
        Some(Offering { job, text, picture, until, fetching: 0, end: None, code, ends, wrong: 0 })
    }

    /// It is the offer with this code.
    pub fn is(&self, code: &str) -> bool {
        same_secret(&self.code, code)
    }

    /// Whether somebody may have the file now.
    ///
    /// # Errors
    /// [`OfferRefused`]; a wrong code counts.
    pub fn opens(&mut self, code: &str, now: Millis) -> Result<(), OfferRefused> {
        if now >= self.ends {
            self.ends_by(OfferEnd::Time);
        }
        if self.end.is_some() {
            return Err(OfferRefused::Over);
        }
        if self.is(code) {
            return Ok(());
        }
        self.wrong += 1;
        if self.wrong >= MOST_WRONG {
            self.ends_by(OfferEnd::WrongCodes);
        }
        Err(OfferRefused::Code)
    }

    /// Somebody has all of it, and may keep it: nobody else may from now on.
    ///
    /// # Errors
    /// [`OfferRefused`]; a wrong code counts.
    pub fn hand_out(&mut self, code: &str, (now, at): (Millis, Stamp)) -> Result<(), OfferRefused> {
        self.opens(code, now)?;
        self.ends_by(OfferEnd::HandedOut { at });
        Ok(())
    }

    /// It ends; how it ended first stays.
    pub fn ends_by(&mut self, end: OfferEnd) {
        self.end.get_or_insert(end);
    }
}

impl std::fmt::Debug for Offering {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Offering({}, {} fetching, {:?})", self.job, self.fetching, self.end)
    }
}

/// What stands between two devices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OfferTrouble {
    /// This device can listen nowhere.
    NoListening,
    /// The text is no offer.
    NoOffer,
    /// The offer is not whole.
    NotWhole,
    /// It names an address that is not of a network near by.
    Far,
    /// Nobody answers, or the line was cut.
    Unreachable,
    /// Somebody answers who does not have the certificate of the offer.
    OtherCertificate,
    /// The job was fetched, or its time is over, or the code is another one.
    Over,
    /// Whoever answers does not answer as agreed.
    NotUnderstood,
}

impl From<TextFault> for OfferTrouble {
    fn from(fault: TextFault) -> OfferTrouble {
        match fault {
            TextFault::Other => OfferTrouble::NoOffer,
            TextFault::NotWhole => OfferTrouble::NotWhole,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CODE: &str = "7K2M9QXTB0";

    fn offer() -> Offer {
        Offer::new(vec!["192.168.7.20:40123".into()], b"certificate", CODE.into())
    }

    fn stamp(minute: u32) -> Stamp {
        Stamp::parse(&format!("2026-03-01T14:{minute:02}:00+01:00")).unwrap()
    }

    /// From 1 000 ms on the boot clock to 601 000 ms.
    fn offering() -> Offering {
        Offering::begin(Uuid::from_u128(7), &offer(), (Millis(1_000), OFFER_LASTS), stamp(10)).unwrap()
    }

    #[test]
    fn an_offer_is_read_as_it_was_shown_and_an_invitation_is_none() {
        let text = offer().text();
        assert_eq!(Offer::read(&format!(" {text}\n")), Ok(offer()));
        for end in BEGINS.len()..text.len() {
            assert_eq!(Offer::read(&text[..end]), Err(TextFault::NotWhole), "cut at {end}");
        }
        assert_eq!(Offer::read(&text.replacen("job", "hub", 1)), Err(TextFault::Other));
        for lacks in [
            Offer { addresses: Vec::new(), ..offer() },
            Offer { addresses: vec!["10.0.0.1:1".into(); 17], ..offer() },
            Offer { certificate: String::new(), ..offer() },
            Offer { code: String::new(), ..offer() },
        ] {
            assert_eq!(Offer::read(&lacks.text()), Err(TextFault::NotWhole), "{lacks:?}");
        }
        assert!(!format!("{:?} {:?}", offer(), offering()).contains(CODE), "the code is not told");
    }

    #[test]
    fn the_file_may_be_had_again_and_again_and_kept_once() {
        let mut offering = offering();
        assert_eq!([offering.opens(CODE, Millis(1_000)), offering.opens(CODE, Millis(2_000))], [Ok(()), Ok(())]);
        assert_eq!(offering.hand_out(CODE, (Millis(3_000), stamp(1))), Ok(()));
        let handed_out = Some(OfferEnd::HandedOut { at: stamp(1) });
        assert_eq!(offering.end, handed_out);
        assert_eq!(offering.hand_out(CODE, (Millis(3_000), stamp(2))), Err(OfferRefused::Over), "a second device");
        assert_eq!(offering.opens(CODE, Millis(3_000)), Err(OfferRefused::Over));
        assert_eq!(offering.opens(CODE, Millis(700_000)), Err(OfferRefused::Over));
        assert_eq!(offering.end, handed_out, "how it ended first stays");
    }

    #[test]
    fn it_ends_to_the_millisecond() {
        let mut offering = offering();
        assert_eq!(offering.opens(CODE, Millis(600_999)), Ok(()));
        assert_eq!(offering.clone().opens(CODE, Millis(601_000)), Err(OfferRefused::Over));
        assert_eq!(offering.hand_out(CODE, (Millis(601_000), stamp(10))), Err(OfferRefused::Over));
        assert_eq!(offering.end, Some(OfferEnd::Time));
    }

    #[test]
    fn five_wrong_codes_end_it_whichever_question_they_came_with() {
        let mut offering = offering();
        let wrong = ["", "7K2M9QXTB", "7K2M9QXTB1", "7k2m9qxtb0"];
        for code in wrong {
            assert_eq!(offering.hand_out(code, (Millis(1_000), stamp(1))), Err(OfferRefused::Code), "{code}");
        }
        assert_eq!(offering.opens(CODE, Millis(1_000)), Ok(()), "four are too few");
        assert_eq!(offering.opens("0000000000", Millis(1_000)), Err(OfferRefused::Code));
        assert_eq!(offering.end, Some(OfferEnd::WrongCodes));
        assert_eq!(offering.hand_out(CODE, (Millis(1_000), stamp(1))), Err(OfferRefused::Over), "the right one, too");
    }
}
