//! A photo as it is kept: upright, small enough, and without anything a camera wrote beside the picture.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use evenwire_core::session::NewPhoto;
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{FilterType, resize};
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, Rgb, RgbImage, RgbaImage};
use std::io::Cursor;
use uuid::Uuid;

/// Longer side of what is kept, pixels: a label can be read on it, and forty of them are a few megabytes.
const LONGEST: u32 = 1_600;
/// Quality of what is kept, of 100.
const QUALITY: u8 = 82;
/// Longer side of what is taken, pixels.
const MOST_SIDE: u32 = 20_000;
/// Pixels of what is taken: more than any phone's.
const MOST_PIXELS: u64 = 60_000_000;
/// Memory that decoding may take, bytes.
const MOST_MEMORY: u64 = 400 * 1024 * 1024;

/// Longest sides of a logo, pixels: twice what stands on paper at 200 dots an inch.
const LOGO: (u32, u32) = (720, 256);
/// Bytes of a logo as PNG beyond which it is kept as JPEG, on white.
const MOST_PNG: usize = 60_000;
/// Most bytes of a logo as a JPEG: with it an entry stays below half of what one may hold.
const MOST_JPEG: usize = 88_000;

/// Decodes what a page sent, base64 of a JPEG or PNG, and encodes the picture anew. `None` when it is no picture that
/// can be read. Takes about a tenth of a second for twelve megapixels: not on the bench's thread.
pub fn prepare((job, step): (Uuid, Option<String>), base64: &str) -> Option<NewPhoto> {
    let mut picture = upright(base64)?;
    if picture.width().max(picture.height()) > LONGEST {
        picture = picture.thumbnail(LONGEST, LONGEST);
    }
    let picture = picture.into_rgb8();
    let jpeg = encoded(&picture)?;
    Some(NewPhoto { job, step, width: picture.width(), height: picture.height(), jpeg })
}

/// A logo as it is kept, base64 of a PNG, or of a JPEG where that would be too large; from base64 of either. `None`
/// when it is no picture that can be read.
pub(crate) fn logo(base64: &str) -> Option<String> {
    let mut picture = upright(base64)?;
    if picture.width() > LOGO.0 || picture.height() > LOGO.1 {
        picture = picture.resize(LOGO.0, LOGO.1, FilterType::Triangle);
    }
    let picture = picture.into_rgba8();
    let mut png = Cursor::new(Vec::new());
    picture.write_to(&mut png, ImageFormat::Png).ok()?;
    let png = png.into_inner();
    if png.len() <= MOST_PNG {
        return Some(STANDARD.encode(png));
    }
    let mut picture = on_white(&picture);
    loop {
        let jpeg = encoded(&picture)?;
        if jpeg.len() <= MOST_JPEG {
            return Some(STANDARD.encode(jpeg));
        }
        // No logo has so much in it; a picture of noise has.
        picture = resize(&picture, picture.width().div_ceil(2), picture.height().div_ceil(2), FilterType::Triangle);
    }
}

fn on_white(picture: &RgbaImage) -> RgbImage {
    RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
        let [red, green, blue, seen] = picture.get_pixel(x, y).0;
        Rgb([red, green, blue].map(|of| {
            let mixed = u32::from(of) * u32::from(seen) + 255 * (255 - u32::from(seen));
            u8::try_from(mixed / 255).unwrap_or(u8::MAX)
        }))
    })
}

/// The picture as a person holds it, within what is taken.
pub(crate) fn upright(base64: &str) -> Option<DynamicImage> {
    let bytes = STANDARD.decode(base64.trim()).ok()?;
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format().ok()?;
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(MOST_SIDE), Some(MOST_SIDE));
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().ok()?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS || decoder.total_bytes() > MOST_MEMORY {
        return None;
    }
    let turned = decoder.orientation().ok()?;
    let mut picture = DynamicImage::from_decoder(decoder).ok()?;
    picture.apply_orientation(turned);
    Some(picture)
}

fn encoded(picture: &RgbImage) -> Option<Vec<u8>> {
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY).encode_image(picture).ok()?;
    Some(jpeg)
}

/// A picture of plain stripes as a photo of the practice bench, with its width and height. `None`: it cannot be encoded.
pub fn drawn((width, height): (u32, u32)) -> Option<(Vec<u8>, u32, u32)> {
    let stripe = |x: u32, _: u32| if (x / 40).is_multiple_of(2) { Rgb([69, 78, 87]) } else { Rgb([201, 205, 208]) };
    Some((encoded(&RgbImage::from_fn(width, height, stripe))?, width, height))
}

/// Bytes for the page.
pub(crate) fn for_page(jpeg: &[u8]) -> String {
    STANDARD.encode(jpeg)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn encoded(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    }

    /// Left half dark, right half light.
    fn halves(width: u32, height: u32) -> RgbImage {
        RgbImage::from_fn(width, height, |x, _| if x < width / 2 { Rgb([10; 3]) } else { Rgb([240; 3]) })
    }

    /// A JPEG with an Exif block as a camera writes it: turned by 90 degrees, and words beside the picture.
    fn from_camera(picture: &RgbImage) -> Vec<u8> {
        let jpeg = encoded(picture, ImageFormat::Jpeg);
        let mut exif = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0".to_vec();
        exif.extend(b"GPS 52.5200 13.4050 somebody");
        let length = u16::try_from(exif.len() + 2).unwrap().to_be_bytes();
        [&jpeg[..2], &[0xFF, 0xE1], &length, &exif, &jpeg[2..]].concat()
    }

    #[test]
    fn a_photo_is_kept_upright_and_small_and_tells_nothing_of_place_or_camera() {
        let sent = from_camera(&halves(3_200, 1_200));
        assert!(sent.windows(3).any(|w| w == b"GPS"));
        let kept = prepare((Uuid::from_u128(3), Some("cable-off".into())), &for_page(&sent)).expect("a picture");
        assert_eq!((kept.width, kept.height), (600, 1_600), "it was turned, then made smaller");
        assert!(!kept.jpeg.windows(4).any(|w| w == b"Exif") && !kept.jpeg.windows(3).any(|w| w == b"GPS"));
        let seen = image::load_from_memory(&kept.jpeg).unwrap().into_rgb8();
        assert!(seen.get_pixel(300, 100)[0] < 60 && seen.get_pixel(300, 1_500)[0] > 200, "left became top");
    }

    #[test]
    fn a_small_picture_keeps_its_size_and_png_is_taken() {
        let png = encoded(&halves(40, 30), ImageFormat::Png);
        let kept = prepare((Uuid::nil(), None), &for_page(&png)).expect("a picture");
        assert_eq!((kept.width, kept.height, &kept.jpeg[..2]), (40, 30, [0xFF, 0xD8].as_slice()));
    }

    #[test]
    fn what_is_no_picture_is_none_whatever_it_looks_like() {
        let jpeg = from_camera(&halves(64, 64));
        let half = for_page(&jpeg[..60]);
        let huge = encoded(&RgbImage::new(7_800, 7_800), ImageFormat::Png);
        for wrong in ["", "!!!", "aGVsbG8=", &half, &for_page(&huge)] {
            assert_eq!(prepare((Uuid::nil(), None), wrong), None, "{wrong:.20}");
        }
    }

    #[test]
    fn a_logo_is_kept_small_and_without_what_stood_beside_it() {
        let sent = from_camera(&halves(3_000, 3_000));
        let kept = STANDARD.decode(logo(&for_page(&sent)).expect("a picture")).unwrap();
        assert!(kept.starts_with(b"\x89PNG") && !kept.windows(3).any(|w| w == b"GPS"));
        let seen = image::load_from_memory(&kept).unwrap();
        assert_eq!((seen.width(), seen.height()), (256, 256));
        // Noise does not become small as a PNG; what is clear becomes white.
        let noise = RgbaImage::from_fn(700, 250, |x, y| {
            let any = (x.wrapping_mul(2_654_435_761) ^ y.wrapping_mul(40_503)).wrapping_mul(x | 1) >> 7;
            image::Rgba([any as u8, (any >> 8) as u8, (any >> 16) as u8, if x < 200 { 0 } else { 255 }])
        });
        let mut png = Cursor::new(Vec::new());
        noise.write_to(&mut png, ImageFormat::Png).unwrap();
        let kept = logo(&for_page(&png.into_inner())).expect("a picture");
        assert!(kept.len() < 120_000, "{}", kept.len());
        let seen = image::load_from_memory(&STANDARD.decode(kept).unwrap()).unwrap().into_rgb8();
        assert!(seen.get_pixel(50, 100)[0] > 250, "white");
        assert_eq!(logo("aGVsbG8="), None);
    }
}
