//! Lets the practice hands follow what the session announces, as a person at the bench would.

use super::{Place, PracticeWish};
use evenwire_core::meter::link::Source;
use evenwire_core::part::Point;
use evenwire_core::session::Session;
use evenwire_core::settle::Phase;

/// What the hands are to do now; nothing when the practice meter is not in use.
pub fn wish(session: &Session) -> Option<PracticeWish> {
    if session.meter_wanted().is_none_or(|w| w.source != Source::Practice) {
        return None;
    }
    // Nobody has said yet that this meter is to be used: the leads are held together, as a person would to see
    // that the number on the screen follows the one on the meter.
    if !session.meter_is_of_job() {
        return Some(PracticeWish::LeadsTogether);
    }
    let Some((_, (from, to))) = session.announced() else { return Some(PracticeWish::Rest) };
    // Clips that were on before the announcement, or that will not stand still, come off first.
    let off_first = matches!(session.settler().map(|s| s.phase()), Some(Phase::Lift | Phase::WillNotStand));
    if off_first {
        Some(PracticeWish::Taken)
    } else {
        Some(PracticeWish::Announced { from: place(from), to: place(to) })
    }
}

fn place(point: Point) -> Place {
    Place { connector: point.connector(), cavity: point.cavity() }
}
