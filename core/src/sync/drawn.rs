//! A text as a picture that another device photographs.

use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write;

/// A text as a QR code (ISO/IEC 18004): fields along an edge, and its dark fields as the path of an SVG, a run of a row at
/// a time. `None` for one that is too long.
pub fn drawn(text: &str) -> Option<(u32, String)> {
    let code = QrCode::with_error_correction_level(text, EcLevel::L).ok()?;
    let width = code.width();
    let fields = code.into_colors();
    let mut path = String::new();
    for (y, row) in fields.chunks(width).enumerate() {
        let mut x = 0;
        while x < width {
            let run = row[x..].iter().take_while(|field| **field == Color::Dark).count();
            if run > 0 {
                write!(path, "M{x} {y}h{run}v1h-{run}z").ok()?;
            }
            x += run.max(1);
        }
    }
    Some((u32::try_from(width).ok()?, path))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_has_the_dark_fields_of_its_code() {
        let text = "evenwire:hub/1/eyJodWIiOiJ0aGlzIGlzIG5vIGh1YiJ9";
        let (fields, path) = drawn(text).unwrap();
        let code = QrCode::with_error_correction_level(text, EcLevel::L).unwrap();
        let dark = code.to_colors().into_iter().filter(|field| *field == Color::Dark).count();
        let runs =
            path.split('h').filter_map(|piece| piece.split_once("v1")).map(|(run, _)| run.parse::<usize>().unwrap());
        assert_eq!((fields as usize, runs.sum::<usize>()), (code.width(), dark));
        assert!(path.starts_with("M0 0h7v1h-7z"), "the corner is a square: {path}");
    }
}
