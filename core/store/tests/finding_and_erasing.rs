//! Finding a job in the list, and taking what is personal out of the file.

mod shop;

use evenwire_core::record::{Details, Hash, KeptDetails};
use evenwire_core::session::Batch;
use evenwire_store::StoreError;
use shop::*;
use std::collections::BTreeMap;
use std::fs;

#[test]
fn every_word_of_a_search_must_occur() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    let texts = [
        "a-100 kombi grün müller 100% erledigt",
        "a_100 kombi blau o'brien \"express\"",
        "ab100 bus grün änderung ß",
        "c:\\temp bus blau ' or 1=1 --",
        "",
    ];
    for (number, text) in (1..).zip(texts) {
        store.append(&touch(&mut head, job(number), u64::from(number), text)).unwrap();
    }
    let find = |search: &str| {
        let (lines, more) = store.jobs(search, 0, 100).unwrap();
        assert!(!more, "{search:?}");
        lines.iter().map(|l| l.opened_by).collect::<Vec<_>>()
    };
    for (search, wanted) in [
        ("", vec![5, 4, 3, 2, 1]),
        ("  \t ", vec![5, 4, 3, 2, 1]),
        ("kombi", vec![2, 1]),
        ("grün kombi", vec![1]),
        ("GRÜN", vec![3, 1]),
        ("Änderung", vec![3]),
        ("Müller   erledigt", vec![1]),
        ("grun", vec![]),
        ("%", vec![1]),
        ("a%0", vec![]),
        ("a_100", vec![2]),
        ("_", vec![2]),
        ("o'brien", vec![2]),
        ("\"express\"", vec![2]),
        ("' or 1=1 --", vec![4]),
        ("\\", vec![4]),
        ("kombi bus", vec![]),
        ("\0", vec![]),
    ] {
        assert_eq!(find(search), wanted, "{search:?}");
    }
    assert_eq!(find(&"a ".repeat(5_000)).len(), 4, "any number of words");
}

#[test]
fn the_list_comes_in_pages_newest_first() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 5);
    let page = |skip, limit| {
        let (lines, more) = store.jobs("order", skip, limit).unwrap();
        (lines.iter().map(|l| l.opened_by).collect::<Vec<_>>(), more)
    };
    assert_eq!(page(0, 2), (vec![25, 19], true));
    assert_eq!(page(2, 2), (vec![13, 7], true));
    assert_eq!(page(4, 2), (vec![1], false));
    assert_eq!(page(3, 2), (vec![7, 1], false));
    assert_eq!(page(9, 2), (vec![], false));
    assert_eq!(page(0, 0), (vec![], true));
    assert_eq!(page(u32::MAX, u32::MAX), (vec![], false));
}

/// Texts that occur nowhere else, different for each job.
fn personal(number: u32) -> (KeptDetails, Vec<String>) {
    let word =
        |what: &str| format!("{what}-{:08x}-{}", number.wrapping_mul(0x9E37_79B1), "z".repeat(number as usize % 50));
    let texts: Vec<String> = ["customer", "phone", "plate", "vin", "tech", "complaint"].map(word).into();
    let details = Details {
        odometer: String::new(),
        customer: texts[0].clone(),
        phone: texts[1].clone(),
        plate: texts[2].clone(),
        vin: texts[3].clone(),
        technician: texts[4].clone(),
        complaint: format!("{}: {}", texts[5], "it lights up in bends. ".repeat(number as usize % 40)),
    };
    (KeptDetails::new(job(number), [number as u8; 32], &details), texts)
}

/// The jobs of which a personal text stands anywhere in `bytes`, with what stands there.
fn jobs_named_in(bytes: &[u8], jobs: u32) -> BTreeMap<u32, String> {
    let numbers: BTreeMap<String, u32> =
        (1..=jobs).map(|n| (format!("{:08x}", n.wrapping_mul(0x9E37_79B1)), n)).collect();
    let hyphens = bytes.iter().enumerate().filter(|(_, b)| **b == b'-').map(|(at, _)| at);
    hyphens
        .filter_map(|at| {
            let number = numbers.get(std::str::from_utf8(bytes.get(at + 1..at + 9)?).ok()?)?;
            Some((*number, String::from_utf8_lossy(&bytes[at.saturating_sub(9)..at + 9]).into_owned()))
        })
        .collect()
}

#[test]
fn after_erasing_no_byte_of_the_personal_texts_is_left_and_the_chain_is_whole() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    const JOBS: u32 = 240;
    for number in 1..=JOBS {
        let mut batch = touch(&mut head, job(number), u64::from(number), "x");
        let (details, texts) = personal(number);
        batch.details = vec![details];
        batch.lines[0].customer = texts[0].clone();
        batch.lines[0].vehicle = format!("Van, {}", texts[3]);
        batch.lines[0].search = texts.join(" ");
        store.append(&batch).unwrap();
        // Lines and details are written again and again as a job goes on, growing and shrinking.
        let earlier = number / 2 + 1;
        let (mut details, texts) = personal(earlier);
        let mut line = batch.lines.remove(0);
        (line.job, line.opened_by) = (job(earlier), u64::from(earlier));
        (line.customer, line.search) = (texts[0].clone(), texts.join(" ").repeat(1 + number as usize % 7));
        line.vehicle = format!("Van, {}", texts[3]);
        if number % 3 == 0 {
            details.text.push_str(&" ".repeat(number as usize * 7));
        }
        store.append(&Batch { details: vec![details], lines: vec![line], ..Batch::default() }).unwrap();
    }
    let chain = store.entries_after(0, u32::MAX).unwrap();
    let everywhere = || {
        ["ledger.db", "ledger.db-wal"].map(|name| fs::read(shop.folder.path().join(name)).unwrap_or_default()).concat()
    };
    let erased: Vec<u32> = (1..=JOBS).filter(|n| n % 5 < 2).collect();
    assert_eq!(jobs_named_in(&everywhere(), JOBS).len(), JOBS as usize);
    for (step, number) in erased.iter().enumerate() {
        store.erase_details(job(*number)).unwrap();
        let named = jobs_named_in(&everywhere(), JOBS);
        let left: Vec<_> = erased[..=step].iter().filter_map(|n| named.get_key_value(n)).collect();
        assert!(left.is_empty(), "after erasing {number} this is left: {left:?}");
    }
    assert_eq!(store.entries_after(0, u32::MAX).unwrap(), chain);
    assert!(store.check().unwrap().is_whole());
    for number in 1..=JOBS {
        let gone = erased.contains(&number);
        assert_eq!(store.details(job(number)).unwrap().is_none(), gone);
        let line = store.line(job(number)).unwrap().unwrap();
        assert_eq!((line.customer.is_empty(), line.vehicle.is_empty()), (gone, gone));
    }
    let (found, _) = store.jobs("order", 0, 1_000).unwrap();
    assert_eq!(found.len(), erased.len(), "an erased job is still found by its order");
}

#[test]
fn erasing_twice_or_what_is_not_there_does_nothing() {
    let shop = Shop::new();
    let mut store = shop.open();
    fill(&mut store, 2);
    store.erase_details(job(1)).unwrap();
    let once = contents(&store, 2).unwrap();
    store.erase_details(job(1)).unwrap();
    store.erase_details(job(77)).unwrap();
    assert_eq!(contents(&store, 2).unwrap(), once);
    assert!(once.of_jobs[1].1.is_some(), "the other job keeps its details");
    assert!(!once.of_jobs[0].2.is_empty(), "the samples stay");
}

/// Bytes that look like no others, as long as a photo.
fn picture(number: u32) -> (Hash, Vec<u8>) {
    let bytes = format!("photo-{number:05}-").repeat(20_000).into_bytes();
    (Hash::of(&bytes), bytes)
}

#[test]
fn photos_are_kept_with_their_entry_and_erased_with_the_details_down_to_the_bytes() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    for number in 1..=12 {
        let mut batch = touch(&mut head, job(number), u64::from(number), "x");
        batch.details = vec![personal(number).0];
        batch.pictures = vec![picture(number), picture(100 + number)];
        store.append(&batch).unwrap();
    }
    let chain = store.entries_after(0, u32::MAX).unwrap();
    let (hash, bytes) = picture(3);
    assert_eq!(store.picture(job(3), hash).unwrap(), Some(bytes.clone()));
    assert_eq!(store.picture(job(4), hash).unwrap(), None, "a photo is shown in its own job only");
    let mut wrong = touch(&mut head.clone(), job(3), 3, "x");
    wrong.pictures = vec![(hash, b"another".to_vec())];
    assert!(matches!(store.append(&wrong), Err(StoreError::Picture { .. })));
    assert_eq!(store.entries_after(0, u32::MAX).unwrap(), chain, "nothing of the batch was written");
    for number in [3, 7] {
        store.erase_details(job(number)).unwrap();
    }
    let everywhere =
        ["ledger.db", "ledger.db-wal"].map(|name| fs::read(shop.folder.path().join(name)).unwrap_or_default());
    let holds = |number: u32| {
        let mark = format!("photo-{number:05}-");
        everywhere.iter().any(|file| file.windows(mark.len()).any(|window| window == mark.as_bytes()))
    };
    for number in (1..=12).flat_map(|n| [n, 100 + n]) {
        assert_eq!(holds(number), ![3, 7, 103, 107].contains(&number), "photo {number}");
    }
    assert_eq!(store.picture(job(3), hash).unwrap(), None);
    assert_eq!(store.entries_after(0, u32::MAX).unwrap(), chain);
    assert!(store.check().unwrap().is_whole());
}

#[test]
fn a_photo_that_decayed_is_told_and_not_shown() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut batch = touch(&mut store.head().unwrap(), job(1), 1, "x");
    let (hash, _) = picture(1);
    batch.pictures = vec![picture(1)];
    store.append(&batch).unwrap();
    drop(store);
    shop.raw().execute("UPDATE picture SET bytes = zeroblob(10)", []).unwrap();
    assert!(matches!(shop.open().picture(job(1), hash), Err(StoreError::Damaged { .. })));
}
