//! What a code (QR, ISO/IEC 18004) in a picture says.

use crate::photo;
use image::DynamicImage;
use image::imageops::FilterType;
use rqrr::PreparedImage;

/// Longer sides a picture is looked at with, pixels, one after the other: in a sharp photo a smaller one has less noise, and
/// the larger has the fields of a dense code.
const SIDES: [u32; 3] = [1_200, 2_000, 700];
/// Longest text that is taken: an invitation has less.
const MOST: usize = 4_096;

/// The text of the first code that can be read in a base64 of a JPEG or PNG. `None`: there is none, or it is no text.
/// Takes up to half a second for twelve megapixels: not on the bench's thread.
pub(crate) fn read(base64: &str) -> Option<String> {
    let picture = DynamicImage::ImageLuma8(photo::upright(base64)?.into_luma8());
    let looked = |side: u32| {
        let larger = picture.width().max(picture.height()) > side;
        let smaller = if larger { picture.resize(side, side, FilterType::Triangle) } else { picture.clone() };
        let smaller = smaller.into_luma8();
        let (width, height) = (smaller.width() as usize, smaller.height() as usize);
        let mut prepared = PreparedImage::prepare_from_greyscale(width, height, |x, y| smaller.as_raw()[y * width + x]);
        let codes = prepared.detect_grids();
        codes.iter().find_map(|code| code.decode().ok()).map(|(_, text)| text).filter(|text| text.len() <= MOST)
    };
    SIDES.into_iter().find_map(looked)
}

#[cfg(test)]
mod tests {
    use super::*;
    use base64::Engine;
    use base64::engine::general_purpose::STANDARD;
    use image::{GrayImage, ImageFormat, Luma};
    use qrcode::{Color, EcLevel, QrCode};
    use std::io::Cursor;

    /// An invitation is about as long: an address, a name and a certificate.
    fn invitation() -> String {
        let certificate: String = (0..620u32).map(|at| char::from(b'A' + ((at * 7 + at / 11) % 26) as u8)).collect();
        format!("evenwire:hub/1/{certificate}")
    }

    /// A photo of the code on a screen: so wide, turned, darker on one side, grainy, as a JPEG.
    fn photographed(text: &str, (side, degrees, seed): (u32, f64, u64)) -> String {
        let code = QrCode::with_error_correction_level(text, EcLevel::L).unwrap();
        let (width, fields) = (code.width() as f64, code.to_colors());
        let (cos, sin) = (degrees.to_radians().cos(), degrees.to_radians().sin());
        let (field, middle) = (f64::from(side) * 0.6 / width, f64::from(side) / 2.0);
        let mut noise = seed;
        let picture = GrayImage::from_fn(side, side * 3 / 4, |x, y| {
            let (x, y) = (f64::from(x) - middle, f64::from(y) - middle * 0.75);
            let place = |along: f64| along / field + width / 2.0;
            let (column, row) = (place(x * cos + y * sin), place(y * cos - x * sin));
            let inside = |at: f64| (0.0..width).contains(&at);
            let dark = inside(column)
                && inside(row)
                && fields[(row as usize) * (width as usize) + column as usize] == Color::Dark;
            noise = noise.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let grain = (noise >> 60) as f64 - 8.0;
            let light = 170.0 + 50.0 * x / middle;
            Luma([(if dark { light * 0.2 } else { light } + grain).clamp(0.0, 255.0) as u8])
        });
        let mut jpeg = Cursor::new(Vec::new());
        picture.write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
        STANDARD.encode(jpeg.into_inner())
    }

    #[test]
    fn an_invitation_on_a_screen_is_read_from_photos_of_many_sizes_and_angles() {
        let wanted = invitation();
        for (side, degrees) in [(1_000, 0.0), (1_600, -9.0), (2_048, 17.0), (1_000, 93.0)] {
            let read = read(&photographed(&wanted, (side, degrees, 7)));
            assert_eq!(read.as_deref(), Some(wanted.as_str()), "{side} pixels wide, turned by {degrees} degrees");
        }
    }

    #[test]
    fn what_is_no_code_says_nothing() {
        let stripes = photo::drawn((640, 480)).unwrap().0;
        assert_eq!(read(&STANDARD.encode(stripes)), None);
        assert_eq!(read("no picture"), None);
        let mut cut = photographed(&invitation(), (1_000, 0.0, 7));
        cut.truncate(cut.len() / 3 / 4 * 4);
        assert_eq!(read(&cut), None, "half of a code");
    }
}
