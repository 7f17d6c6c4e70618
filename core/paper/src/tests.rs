//! Reports on paper, read back with another program's eyes: the text of the PDF, its size, its bytes.

#[path = "../../src/report/tests/shop.rs"]
mod shop;

use crate::{PageSize, ShopHeader, write};
use evenwire_core::report::{Asked, LedgerPlace, Report};
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::words::Language;
use evenwire_core::view;
use shop::Bench;

pub fn names(count: usize) -> Vec<String> {
    (1..=count).map(|n| n.to_string()).collect()
}

fn report(bench: &Bench, language: Language) -> Report {
    let (people, details) = (shop::people(), shop::details());
    let newest = bench.entries.last().unwrap();
    let asked = Asked {
        language,
        zone: None,
        printed: Stamp::parse("2026-03-02T17:00:00+01:00").unwrap(),
        details: Some(&details),
        people: &people,
        samples: &bench.samples,
        place: Some(LedgerPlace {
            device: newest.entry().device,
            sequence: newest.entry().sequence,
            hash: newest.hash(),
        }),
    };
    Report::of(&bench.entries, &asked).unwrap()
}

fn garage() -> ShopHeader {
    let mut png = std::io::Cursor::new(Vec::new());
    let logo = image::RgbImage::from_fn(120, 60, |x, y| {
        let on = (x / 10 + y / 10) % 2 == 0;
        image::Rgb(if on { [20, 20, 20] } else { [235, 235, 235] })
    });
    logo.write_to(&mut png, image::ImageFormat::Png).unwrap();
    ShopHeader {
        name: "Workshop at the Ford".into(),
        address: vec!["Mill Lane 3, 00000 Anywhere".into(), "Phone 0000 445566".into()],
        logo: Some(png.into_inner()),
        footer: "Open Monday to Friday, 8 to 17".into(),
    }
}

fn paper(bench: &Bench, language: Language, size: PageSize) -> Vec<u8> {
    let photos = |hash| bench.photos.get(&hash).cloned();
    write(&report(bench, language), &garage(), size, &photos).unwrap()
}

fn photo(shade: u8) -> (Vec<u8>, u32, u32) {
    let (width, height) = if shade % 2 == 0 { (640, 480) } else { (480, 640) };
    let picture = image::RgbImage::from_fn(width, height, |x, y| {
        image::Rgb([shade, u8::try_from(x * 255 / width).unwrap(), u8::try_from(y * 255 / height).unwrap()])
    });
    let mut jpeg = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 70).encode_image(&picture).unwrap();
    (jpeg, width, height)
}

#[test]
fn dump() {
    let out = std::path::PathBuf::from(std::env::var("EVENWIRE_PAPER_OUT").unwrap());
    for (name, language, size) in [("en", Language::En, PageSize::A4), ("de", Language::De, PageSize::Letter)] {
        let mut coil = shop::steering_coil();
        coil.photo(Some("wheel-off"), photo(3));
        coil.photo(None, photo(4));
        coil.photo(None, photo(9));
        std::fs::write(out.join(format!("coil-{name}.pdf")), paper(&coil, language, size)).unwrap();
        let bench = shop::measured(&names(8));
        std::fs::write(out.join(format!("measured-{name}.pdf")), paper(&bench, language, size)).unwrap();
        let open = Bench::new();
        std::fs::write(out.join(format!("open-{name}.pdf")), paper(&open, language, size)).unwrap();
    }
    let _ = view::verdict_of;
}
