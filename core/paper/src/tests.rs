//! Reports on paper, read back with another program's eyes: the text of the PDF, its size, its bytes.

#[path = "../../src/report/tests/shop.rs"]
mod shop;

use crate::face::{Faces, Style, UNKNOWN};
use crate::flow::SIDE;
use crate::lines::Breaker;
use crate::sheet::Mark;
use crate::{PageSize, ShopHeader, lay, write};
use evenwire_core::record::{Event, Hash};
use evenwire_core::report::{Asked, Block, Column, Field, LedgerPlace, Report, Row, Section, Table};
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::words::Language;
use evenwire_core::view;
use shop::Bench;

fn names(count: usize) -> Vec<String> {
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
        earlier: &[],
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
    let (width, height) = if shade.is_multiple_of(2) { (640, 480) } else { (480, 640) };
    let picture = image::RgbImage::from_fn(width, height, |x, y| {
        image::Rgb([shade, u8::try_from(x * 255 / width).unwrap(), u8::try_from(y * 255 / height).unwrap()])
    });
    let mut jpeg = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 70).encode_image(&picture).unwrap();
    (jpeg, width, height)
}

/// Text of each page as another program reads it, blanks and line ends as single spaces.
fn pages(pdf: &[u8]) -> Vec<String> {
    let document = lopdf::Document::load_mem(pdf).unwrap();
    let numbers: Vec<u32> = document.get_pages().into_keys().collect();
    numbers.iter().map(|page| squeezed(&document.extract_text(&[*page]).unwrap())).collect()
}

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Every made-up job on both papers in both languages.
fn all() -> Vec<(Report, PageSize, Bench)> {
    let mut made = Vec::new();
    for language in [Language::En, Language::De] {
        for size in [PageSize::A4, PageSize::Letter] {
            let mut coil = shop::steering_coil();
            coil.photo(Some("wheel-off"), photo(3));
            coil.photo(None, photo(4));
            coil.photo(None, photo(9));
            let mut corrected = Bench::new();
            let personal = corrected.job().personal;
            corrected.say(Event::JobCorrected { order: "W-2042".into(), vehicle: "Orrin 3 estate".into(), personal });
            for bench in [coil, shop::measured(&names(8)), shop::measured(&names(64)), corrected] {
                made.push((report(&bench, language), size, bench));
            }
        }
    }
    made
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let once = paper(&shop::steering_coil(), Language::En, PageSize::A4);
    assert_eq!(once, paper(&shop::steering_coil(), Language::En, PageSize::A4));
    assert_ne!(once, paper(&shop::measured(&names(8)), Language::En, PageSize::A4));
}

#[test]
fn verdict_and_every_conductor_can_be_read_from_the_pdf_in_both_languages() {
    let bench = shop::measured(&names(8));
    for language in [Language::En, Language::De] {
        let pages = pages(&paper(&bench, language, PageSize::A4));
        let view = view::verdict_of(bench.job(), language).unwrap();
        assert!(pages[0].contains(&view.headline), "the first page says the verdict: {}", pages[0]);
        let all = pages.join(" ");
        for rung in view.ladders.iter().flat_map(|ladder| &ladder.rungs) {
            assert!(pages[0].contains(&rung.value), "{}: {}", rung.name, rung.value);
            assert!(all.contains(format!("{} {}", rung.value, rung.difference).trim()), "{}", rung.difference);
        }
        assert!(all.contains("BM-7-0042") && all.contains(&bench.entries.last().unwrap().hash().to_string()));
    }
}

#[test]
fn words_do_not_merge_where_a_line_ends_and_hyphens_are_soft() {
    let faces = Faces::load().unwrap();
    let breaker = Breaker { faces: &faces, language: Language::De };
    let words = "Kurzschlussbrückenprüfung an der Lenkradspulenverbindung misst 0.34 Ω ".repeat(20);
    let words = words.trim();
    for width in [60.0, 90.0, 140.0, 300.0] {
        let lines = breaker.lines(words, Style::plain(9.0), width);
        assert!(lines.iter().all(|line| line.width <= width + 0.01), "{width}");
        assert!(lines.iter().any(|line| line.text.ends_with('\u{AD}')), "{width}: some word was broken");
        assert!(lines.iter().all(|line| !line.text.ends_with("0.34 ")), "{width}: a number stays with its unit");
        let read: String = lines.iter().map(|line| line.text.as_str()).collect();
        assert_eq!(read.replace('\u{AD}', ""), words, "{width}: nothing is lost, and nothing merges");
        for line in &lines {
            let told = line.glyphs.iter().flat_map(|glyph| line.text.get(glyph.text_range.clone())).collect::<String>();
            assert_eq!(told, line.text, "every glyph stands for its own piece of the text");
        }
    }
}

#[test]
fn papers_have_their_sizes() {
    for (size, wide, tall) in [(PageSize::A4, 595.276, 841.89), (PageSize::Letter, 612.0, 792.0)] {
        let pdf = paper(&shop::measured(&names(3)), Language::En, size);
        let document = lopdf::Document::load_mem(&pdf).unwrap();
        for page in document.get_pages().into_values() {
            let sides = document.get_dictionary(page).unwrap().get(b"MediaBox").unwrap().as_array().unwrap();
            let sides: Vec<f32> = sides.iter().map(|side| side.as_float().unwrap()).collect();
            assert!((sides[2] - wide).abs() < 0.01 && (sides[3] - tall).abs() < 0.01, "{sides:?}");
        }
    }
}

#[test]
fn it_calls_itself_accessible_and_names_language_and_title() {
    let pdf = paper(&shop::steering_coil(), Language::De, PageSize::A4);
    let document = lopdf::Document::load_mem(&pdf).unwrap();
    let catalog = document.catalog().unwrap();
    assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), b"de");
    assert!(catalog.get(b"StructTreeRoot").is_ok() && catalog.get(b"Outlines").is_ok());
    let metadata = document.get_object(catalog.get(b"Metadata").unwrap().as_reference().unwrap()).unwrap();
    let xmp = String::from_utf8_lossy(&metadata.as_stream().unwrap().content).into_owned();
    assert!(xmp.contains("pdfuaid:part") && xmp.contains("Auftragsbericht W-2041"), "{xmp}");
}

#[test]
fn what_has_no_glyph_is_replaced_visibly_and_breaks_nothing() {
    let strange = ["🔧 loose 👩‍🔧", "مرحبا", "a\u{0}b\u{7}c", "\u{202E}desrever", "plain"].map(str::to_owned);
    let bench = shop::measured(&strange);
    let pages = pages(&paper(&bench, Language::En, PageSize::A4));
    let all = pages.join(" ");
    assert!(all.contains(&format!("{UNKNOWN} loose {UNKNOWN}{UNKNOWN}")), "{all}");
    assert!(all.contains(&format!("a{UNKNOWN}b{UNKNOWN}c")), "{all}");
    assert!(all.contains("desrever") && !all.contains('\u{202E}'), "{all}");
}

#[test]
fn two_hundred_conductors_and_sixty_photos_run_over_pages() {
    let mut bench = shop::measured(&names(200));
    for n in 0..60 {
        bench.photo(None, photo(n));
    }
    let pdf = paper(&bench, Language::En, PageSize::A4);
    let pages = pages(&pdf);
    assert!(pages.len() > 20, "{}", pages.len());
    for (index, page) in pages.iter().enumerate() {
        assert!(page.contains(&format!("Page {} of {}", index + 1, pages.len())), "{page}");
        assert!(page.contains("W-2041"), "order at the foot of page {}", index + 1);
    }
    let all = pages.join(" ");
    for n in 1..=200 {
        let ends = format!("A{0} – B{0}", (n - 1) % 60 + 1);
        assert!(all.contains(&format!("{n} {ends}")), "conductor {n}");
    }
    let document = lopdf::Document::load_mem(&pdf).unwrap();
    let is_photo = |object: &&lopdf::Object| {
        let Ok(stream) = object.as_stream() else { return false };
        stream.dict.get(b"Filter").is_ok_and(|filter| filter.as_name().is_ok_and(|name| name == b"DCTDecode"))
    };
    assert_eq!(document.objects.values().filter(is_photo).count(), 60);
}

#[test]
fn a_photo_that_is_gone_or_is_not_what_its_hash_says_is_told_in_words() {
    let mut bench = Bench::new();
    bench.photo(None, photo(3));
    let told = report(&bench, Language::En);
    let other = photo(4).0;
    for photos in [None, Some(other)] {
        let pdf = write(&told, &ShopHeader::default(), PageSize::A4, &|_: Hash| photos.clone()).unwrap();
        assert!(pages(&pdf).join(" ").contains("This photo was erased, or cannot be shown."));
    }
    let mut broken = Bench::new();
    broken.photo(None, (b"\xFF\xD8\xFF no picture".to_vec(), 640, 480));
    let pdf = paper(&broken, Language::En, PageSize::A4);
    assert!(pages(&pdf).join(" ").contains("This photo was erased, or cannot be shown."));
}

#[test]
fn a_logo_that_cannot_be_read_is_left_out() {
    let shop = ShopHeader { logo: Some(b"no picture".to_vec()), ..garage() };
    let pdf = write(&report(&Bench::new(), Language::En), &shop, PageSize::A4, &|_| None).unwrap();
    assert!(pages(&pdf)[0].contains("Workshop at the Ford"));
}

#[test]
fn a_row_higher_than_a_page_goes_on_on_the_next_one() {
    let long: Vec<String> = (0..3_000).map(|n| format!("word{n}")).collect();
    let mut told = report(&Bench::new(), Language::En);
    let column = |title: &str| Column { title: title.to_owned(), figures: false };
    told.details = vec![Section {
        title: "Long".into(),
        blocks: vec![Block::Table(Table {
            caption: "Long".into(),
            columns: vec![column("What"), column("Words")],
            rows: vec![Row { cells: vec!["remark".into(), long.join(" ")], struck: false }],
        })],
    }];
    let pages = pages(&write(&told, &ShopHeader::default(), PageSize::A4, &|_| None).unwrap());
    assert!(pages.len() >= 4, "{}", pages.len());
    assert!(pages[2..].iter().all(|page| page.contains("What Words")), "the head stands on every page");
    let all = pages.join(" ");
    assert!(long.iter().all(|word| all.contains(word.as_str())));
}

#[test]
fn a_value_without_blanks_is_broken_rather_than_cut() {
    let endless = "0123456789abcdef".repeat(40);
    let mut told = report(&Bench::new(), Language::En);
    let fields = vec![Field { label: "Hash".into(), value: endless.clone() }];
    told.details = vec![Section { title: "Endless".into(), blocks: vec![Block::Fields(fields)] }];
    let pages = pages(&write(&told, &ShopHeader::default(), PageSize::A4, &|_| None).unwrap());
    assert!(pages.join("").replace(' ', "").contains(&endless));
}

/// A text as a box: page, left, right, top, bottom, what it says.
type Boxed = (usize, f32, f32, f32, f32, String);

fn boxes(report: &Report, size: PageSize, bench: &Bench) -> Vec<Boxed> {
    let faces = Faces::load().unwrap();
    let photos = |hash| bench.photos.get(&hash).cloned();
    let flow = lay(&faces, report, (&garage(), size), &photos);
    let mut found = Vec::new();
    for (page, pieces) in flow.sheet.pages.iter().enumerate() {
        for mark in pieces.iter().flat_map(|piece| &piece.marks) {
            if let Mark::Text { x, y, line, style } = mark
                && line.width > 0.0
            {
                let (top, bottom) = (y - style.size * 0.7, y + style.size * 0.15);
                found.push((page, *x, x + line.width, top, bottom, line.text.clone()));
            }
        }
    }
    found
}

#[test]
fn no_text_leaves_the_page_and_none_lies_on_another() {
    for (told, size, bench) in all() {
        let (width, height) = size.points();
        let all = boxes(&told, size, &bench);
        assert!(all.len() > 20);
        for (page, left, right, top, bottom, text) in &all {
            let inside = *left >= SIDE - 0.1 && *right <= width - SIDE + 0.6 && *top > 20.0 && *bottom < height - 20.0;
            assert!(inside, "page {}: {text:?} at {left} to {right}", page + 1);
        }
        for page in 0..=all.iter().map(|one| one.0).max().unwrap() {
            let mut on_it: Vec<&Boxed> = all.iter().filter(|one| one.0 == page).collect();
            on_it.sort_by(|a, b| a.3.total_cmp(&b.3));
            for (at, one) in on_it.iter().enumerate() {
                let below = on_it[at + 1..].iter().take_while(|other| other.3 < one.4 - 0.3);
                for other in below {
                    let apart = other.1 >= one.2 - 0.3 || other.2 <= one.1 + 0.3;
                    assert!(apart, "page {}: {:?} and {:?}", page + 1, one.5, other.5);
                }
            }
        }
    }
}

#[test]
fn no_title_is_the_last_thing_on_its_page() {
    for (told, size, bench) in all() {
        let faces = Faces::load().unwrap();
        let photos = |hash| bench.photos.get(&hash).cloned();
        let titles = lay(&faces, &told, (&garage(), size), &photos).sheet.titles;
        let boxes = boxes(&told, size, &bench);
        let foot = size.points().1 - 50.0;
        assert!(titles.len() > 3);
        for (_, title, page, y) in titles {
            let others = boxes.iter().filter(|one| one.0 == page && one.3 > y + 1.0 && one.4 < foot);
            let below = others.filter(|one| !title.contains(one.5.trim())).count();
            assert!(below > 0 || title == "Photos" || title == "Fotos", "page {}: {title}", page + 1);
        }
    }
}

#[test]
fn the_summary_of_a_plain_job_fits_the_first_page() {
    for language in [Language::En, Language::De] {
        for size in [PageSize::A4, PageSize::Letter] {
            let told = report(&shop::measured(&names(8)), language);
            let pages = pages(&paper(&shop::measured(&names(8)), language, size));
            let last = &told.summary.last().unwrap().title;
            assert!(pages[0].contains(last.as_str()), "{last}");
            assert!(pages[1].contains(&told.page_words.details), "{}", pages[1]);
        }
    }
}

#[test]
fn an_erased_customer_is_on_no_page() {
    let bench = shop::measured(&names(4));
    let people = Default::default();
    let asked = Asked {
        language: Language::En,
        zone: None,
        printed: Stamp::parse("2026-03-02T17:00:00Z").unwrap(),
        details: None,
        earlier: &[],
        people: &people,
        samples: &bench.samples,
        place: None,
    };
    let told = Report::of(&bench.entries, &asked).unwrap();
    let all = pages(&write(&told, &garage(), PageSize::A4, &|_| None).unwrap()).join(" ");
    assert!(all.contains("erased, or not here"));
    assert!(!all.contains("Sturmvogel") && !all.contains("000042"));
}

/// Writes the made-up reports to a folder, to be looked at.
#[test]
fn to_be_looked_at() {
    let Some(out) = std::env::var_os("EVENWIRE_PAPER_OUT").map(std::path::PathBuf::from) else { return };
    for (index, (told, size, bench)) in all().into_iter().enumerate() {
        let photos = |hash| bench.photos.get(&hash).cloned();
        let pdf = write(&told, &garage(), size, &photos).unwrap();
        std::fs::write(out.join(format!("{index:02}-{:?}-{size:?}.pdf", told.language)), pdf).unwrap();
    }
}
