//! The people of the shop, worded.

use super::model::PersonLine;
use super::words::{locked_words, tongue};
use crate::session::{Member, Roster, Session};
use crate::unit::Now;
use crate::verdict::words::Language;
use uuid::Uuid;

/// Those who may sign and whom `chosen` picks, in the order of their names.
pub(super) fn lines(session: &Session, now: &Now, chosen: impl Fn(Uuid) -> bool) -> Vec<PersonLine> {
    let language = session.language();
    let chosen = session.roster().active().filter(|(person, _)| chosen(*person));
    let mut lines: Vec<PersonLine> = chosen.map(|(person, member)| line((person, member), now, language)).collect();
    lines.sort_by(|a, b| (a.name.to_lowercase(), &a.person).cmp(&(b.name.to_lowercase(), &b.person)));
    lines
}

fn line((person, member): (Uuid, &Member), now: &Now, language: Language) -> PersonLine {
    let left = member.pause_left(now).map(|left| left.0.div_ceil(1_000));
    PersonLine {
        person: person.to_string(),
        name: shown(&member.details.name, language),
        role: member.details.role.clone(),
        locked: left.map_or(String::new(), |left_s| locked_words(left_s, language)),
    }
}

/// The name of somebody who is or was on the roster.
pub(super) fn name(roster: &Roster, person: Uuid, language: Language) -> String {
    shown(roster.name(person).unwrap_or_default(), language)
}

/// A name, or that it is not kept.
pub(crate) fn shown(name: &str, language: Language) -> String {
    let unknown = tongue(language, "somebody whose name is not kept here", "jemand, dessen Name hier nicht steht");
    if name.is_empty() { unknown.to_owned() } else { name.to_owned() }
}
