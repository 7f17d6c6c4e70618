//! The `[frame]` section of a profile file.

use super::checksum::{Checksum, ChecksumKind};
use super::fields::{Fields, FileErrorCode};
use super::frame::{Cut, FrameRule, MAX_FRAME};
use super::integer::Order;
use super::profile_value::{LAST_PLACE_OF_FRAME, ORDERS};

fn markers(fields: &mut Fields<'_, '_>, key: &'static str) -> Vec<u8> {
    let bytes = fields.wholes(key, 0..=255).unwrap_or_default();
    if bytes.len() > 8 {
        let what = format!("`{key}` has {} bytes", bytes.len());
        fields.mistake(fields.place(key), FileErrorCode::OutOfRange, what, "at most 8");
    }
    bytes.into_iter().filter_map(|byte| u8::try_from(byte).ok()).collect()
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum CutWord {
    Whole,
    Fixed,
    Marked,
    Counted,
}

/// Reads `[frame]`. `None` only after a mistake was told.
pub(super) fn frame_rule(mut fields: Fields<'_, '_>) -> Option<FrameRule> {
    let words = [
        ("whole", CutWord::Whole),
        ("fixed", CutWord::Fixed),
        ("marked", CutWord::Marked),
        ("counted", CutWord::Counted),
    ];
    let word = fields.word("cut", &words);
    if !fields.has("cut") {
        fields.missing("cut", "cut = \"whole\", \"fixed\", \"marked\" or \"counted\"");
    }
    let (start, end) = (markers(&mut fields, "start"), markers(&mut fields, "end"));
    let given = fields.table("checksum").map(checksum);
    // A checksum with a mistake counts as given: one mistake is told once.
    let has_checksum = fields.has("checksum") && given != Some(Some(None));
    let checksum = given.flatten().flatten();
    let longest = i64::try_from(MAX_FRAME).unwrap_or(i64::MAX);
    let lengths = match word {
        Some(CutWord::Fixed) => Vec::new(),
        _ => fields.wholes("lengths", 1..=longest).unwrap_or_default(),
    };
    let lengths: Vec<usize> = lengths.into_iter().filter_map(|length| usize::try_from(length).ok()).collect();
    let cut = match word {
        Some(CutWord::Fixed) => {
            if !fields.has("length") {
                fields.missing("length", "length = the bytes of a whole frame");
            }
            fields.count("length", 1..=longest).map(|length| Cut::Fixed { length })
        }
        Some(CutWord::Counted) => {
            if !fields.has("length_at") {
                fields.missing("length_at", "length_at = the place of the length byte, counted from 0");
            }
            let adds = fields.count("length_adds", 0..=longest).unwrap_or(0);
            fields.count("length_at", 0..=LAST_PLACE_OF_FRAME).map(|at| Cut::Counted { at, adds })
        }
        Some(CutWord::Whole) => Some(Cut::Whole),
        Some(CutWord::Marked) => Some(Cut::Marked),
        None => {
            fields.let_pass(&["length", "length_at", "length_adds", "lengths"]);
            None
        }
    };
    let at = fields.at;
    let needs = |what: &str, instead: &str| fields.mistake(at, FileErrorCode::Conflict, what, instead);
    match word {
        Some(CutWord::Fixed | CutWord::Counted) if start.is_empty() => {
            needs("frames could not be found again after a lost byte", "start = [the first bytes of every frame]");
        }
        Some(CutWord::Fixed | CutWord::Counted) if end.is_empty() && !has_checksum => {
            needs("a frame glued from two halves would not be noticed", "a checksum, or end = [the last bytes]");
        }
        Some(CutWord::Marked) if end.is_empty() => {
            needs("nothing tells where a frame ends", "end = [the last bytes of every frame]");
        }
        Some(CutWord::Marked) if lengths.is_empty() && !has_checksum => {
            needs("a frame glued from two halves would not be noticed", "a checksum, or lengths = [all whole lengths]");
        }
        _ => {}
    }
    fields.finish();
    Some(FrameRule { cut: cut?, start, end, lengths, checksum })
}

/// `Some(None)` for kind "none"; `None` after a mistake.
fn checksum(mut fields: Fields<'_, '_>) -> Option<Option<Checksum>> {
    let mut words = vec![("none", None)];
    words.extend(ChecksumKind::WORDS.map(|(word, kind)| (word, Some(kind))));
    let kind = fields.word("kind", &words);
    if !fields.has("kind") {
        fields.missing("kind", "kind = \"crc16-modbus\" or another");
    }
    let from = fields.count("from", 0..=LAST_PLACE_OF_FRAME).unwrap_or(0);
    let order = fields.word("order", &ORDERS).unwrap_or(Order::Little);
    fields.finish();
    kind.map(|kind| kind.map(|kind| Checksum { kind, from, order }))
}
