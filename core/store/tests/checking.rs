//! A look at everything in steps, while another goes on writing.

mod shop;

use evenwire_core::record::Hash;
use evenwire_core::session::Batch;
use evenwire_store::{CheckReport, Glance, Walk};
use shop::*;

fn walked(shop: &Shop, rows: u32) -> CheckReport {
    let (glance, mut walk, mut steps) = (Glance::at(&shop.path()).unwrap(), Walk::begin(), 0);
    while glance.step(&mut walk, rows).unwrap() {
        steps += 1;
        assert!(steps < 2_000, "it does not end");
    }
    walk.report().clone()
}

/// A shop with three jobs and a photo.
fn worked() -> Shop {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = fill(&mut store, 3);
    let photo = b"a picture of a plug".to_vec();
    let mut batch = touch(&mut head, job(1), 1, "order 1");
    batch.pictures.push((Hash::of(&photo), photo));
    store.append(&batch).unwrap();
    shop
}

#[test]
fn steps_of_any_length_find_what_the_whole_look_finds() {
    let shop = worked();
    let whole = shop.open().check().unwrap();
    assert!(whole.is_whole() && whole.entries == 19 && whole.chunks == 16, "{whole:?}");
    for rows in [1, 2, 7, 1_000] {
        assert_eq!(walked(&shop, rows), whole, "steps of {rows}");
    }
}

#[test]
fn everything_that_is_not_whole_is_found_in_steps_as_well() {
    for (sql, what) in [
        ("UPDATE entry SET bytes = CAST(replace(bytes, '90000', '80000') AS BLOB) WHERE sequence = 9", "entry 9"),
        ("DELETE FROM entry WHERE sequence = 19", "missing"),
        ("UPDATE chunk SET samples = samples + 1 WHERE number = 3", "chunk"),
        ("UPDATE details SET text = text || ' '", "details"),
        ("UPDATE line SET customer = 'x'", "line"),
        ("UPDATE picture SET bytes = zeroblob(19)", "photo"),
        ("UPDATE head SET hash = zeroblob(32)", "head"),
    ] {
        let shop = worked();
        behind_the_back(&shop, sql);
        for rows in [1, 3, 1_000] {
            let report = walked(&shop, rows);
            assert!(!report.is_whole(), "{sql} in steps of {rows}");
            assert!(format!("{report:?}").contains(what), "{what}: {report:?}");
        }
    }
}

#[test]
fn what_is_written_during_the_walk_is_no_finding() {
    let shop = worked();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    let (glance, mut walk) = (Glance::at(&shop.path()).unwrap(), Walk::begin());
    let mut steps = 0;
    while glance.step(&mut walk, 2).unwrap() {
        steps += 1;
        if steps <= 30 {
            store.append(&touch(&mut head, job(2), 7, "meanwhile")).unwrap();
            store.append(&Batch { entries: vec![seal(&mut head, None, "too")], ..Batch::default() }).unwrap();
        }
        if steps == 40 {
            // Nothing is held between two steps: what empties the log waits for nobody.
            store.erase_details(job(1)).unwrap();
        }
    }
    assert!(walk.report().is_whole() && walk.report().entries > 60, "{:?}", walk.report());
}
