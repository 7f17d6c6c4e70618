//! The office's list: what is found in it, and how it goes on.

mod seat;
mod shop;

use evenwire_core::job::{Line, OPEN_MARK, Stage};
use evenwire_core::record::{Details, Event};
use evenwire_core::unit::Stamp;
use evenwire_core::verdict::SetVerdict;
use evenwire_hub::app::random_id;
use evenwire_hub::storage::{LineRow, Search, Stale};
use seat::begun;
use serde_json::json;
use shop::{Phone, Shop};
use std::collections::BTreeSet;
use uuid::Uuid;

/// More than are looked at before anything is looked up.
const MANY: usize = 430;

/// Jobs of a few customers, every seventh of them closed.
async fn many(phone: &mut Phone) {
    for number in 0..MANY {
        let customer = ["Anna Beispiel", "Berta Muster", "Käthe O'Neil 100%"][number % 3].to_owned();
        let details = Details { customer, plate: format!("XX-AB {number}"), ..Details::default() };
        let job = phone.open_job(&format!("W-{number}"), &details).job;
        if number % 7 == 0 {
            phone.write(Some(job), &Event::JobFinished {});
        }
        if number % 200 == 199 || number == MANY - 1 {
            let sent = phone.tail().await.unwrap().next_sequence as usize;
            phone.push_from(sent).await.unwrap();
        }
    }
}

/// Orders of the whole list, piece by piece.
async fn whole(shop: &Shop, words: &str, most: u32) -> Vec<String> {
    whole_of(shop, Search { words: words.to_owned(), most, ..Search::default() }).await
}

async fn whole_of(shop: &Shop, mut search: Search) -> Vec<String> {
    let (mut orders, most) = (Vec::new(), search.most);
    loop {
        let page = shop.hub().app.storage.find_jobs(search.clone()).await.unwrap();
        assert!(page.jobs.len() <= most as usize && (page.below.is_none() || page.jobs.len() == most as usize));
        orders.extend(page.jobs.iter().map(|versions| versions[0].line.order.clone()));
        search.before = page.below;
        if page.below.is_none() {
            return orders;
        }
    }
}

#[tokio::test]
async fn whatever_is_looked_for_is_found_once_and_the_list_goes_on_to_its_end() {
    let shop = Shop::open().await;
    let mut phone = shop.phone("Bench 1").await;
    many(&mut phone).await;
    shop.settle().await;
    let mut lines: Vec<LineRow> = shop.hub().app.storage.all_lines().await.unwrap();
    lines.reverse();
    assert_eq!(lines.len(), MANY);
    let marked = format!("w-1 {OPEN_MARK}");
    let long = "beispiel".repeat(20);
    let typed = [
        "",
        "test",
        "w-42",
        "W-429",
        "test van w-4",
        "42",
        "9",
        "-4",
        "\u{e000}",
        "w- 1",
        "nowhere",
        "test nowhere",
        "zq",
        "closed",
        "2026-03-07",
        "7.03",
        "100%",
        "_",
        "o'n",
        "\\",
        "\"",
        "w-0",
        // What nearly all have, between what few have.
        "w-42\nxx-ab",
        "ab 42",
        "berta w-41",
        "neil w-1 100%",
        "beispielx",
        "xbeispiel",
        &long,
        &marked,
    ];
    for words in typed {
        let lower = words.to_lowercase();
        let fits = |row: &&LineRow| lower.split_whitespace().all(|word| row.line.search.contains(word));
        let expected: Vec<String> = lines.iter().filter(fits).map(|row| row.line.order.clone()).collect();
        for most in [7, 200] {
            assert_eq!(whole(&shop, words, most).await, expected, "{words:?}, {most} at a time");
        }
    }
    assert_eq!(whole(&shop, "w-1\0", 7).await, [""; 0]);
}

#[tokio::test]
async fn the_office_is_shown_piece_after_piece_and_told_how_many_it_sees() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let mut phone = shop.phone("Bench 1").await;
    for number in 0..5 {
        phone.open_job(&format!("W-{number}"), &Details::default());
    }
    phone.push_from(1).await.unwrap();
    shop.settle().await;
    let orders = |answer: &serde_json::Value| -> Vec<String> {
        let jobs = answer["jobs"].as_array().unwrap().iter();
        jobs.map(|job| job["line"]["order"].as_str().unwrap().to_owned()).collect()
    };
    let first = owner.get("/v1/jobs?search=w&limit=3").await;
    assert_eq!(orders(&first), ["W-4", "W-3", "W-2"]);
    assert_eq!(first["words"], json!("The newest 3; there are more"));
    let below = first["below"].as_str().unwrap();
    let rest = owner.get(&format!("/v1/jobs?search=w&limit=3&below={below}&shown=3")).await;
    assert_eq!((orders(&rest), &rest["below"]), (vec!["W-1".to_owned(), "W-0".to_owned()], &json!(null)));
    assert_eq!(rest["words"], json!("5 jobs, newest first"));
    assert_eq!(owner.look("/v1/jobs?below=soon").await.code(), "unreadable");
}

fn line(job: Uuid, order: &str, verdict: SetVerdict) -> Line {
    let word = if verdict == SetVerdict::Pass { "alike" } else { "condemned" };
    Line {
        job,
        opened_by: 1,
        order: order.to_owned(),
        vehicle: String::new(),
        customer: String::new(),
        opened: Stamp::parse("2026-03-01T10:42:00+01:00").unwrap(),
        stage: Stage::Verdict,
        verdict: Some(verdict),
        condemned_by: String::new(),
        taken: 16,
        wanted: 16,
        open: BTreeSet::new(),
        erased: false,
        search: format!("{}\n{word}", order.to_lowercase()),
    }
}

#[tokio::test]
async fn a_job_whose_versions_disagree_is_one_job_on_one_page_and_passes_nowhere() {
    let shop = Shop::open().await;
    let owner = begun(&shop).await;
    let storage = &shop.hub().app.storage;
    let (bench, tablet) = (shop.phone("Bench 2").await, shop.phone("Tablet").await);
    let number = async |phone: &Phone| storage.device(phone.id).await.unwrap().unwrap().number;
    let (bench, tablet) = (number(&bench).await, number(&tablet).await);
    let (parted, agreed) = (random_id(), random_id());
    let made = [
        (bench, line(parted, "W-1", SetVerdict::Pass)),
        (tablet, line(parted, "W-1", SetVerdict::Fail)),
        (bench, line(agreed, "W-2", SetVerdict::Pass)),
        (tablet, line(agreed, "W-2", SetVerdict::Pass)),
    ];
    let made = made.map(|(device, line)| (Stale::unmarked(device, line.job, Vec::new()), Some((line, false))));
    storage.put_lines(made.into()).await.unwrap();
    let mut all = whole(&shop, "w-", 1).await;
    all.sort();
    assert_eq!(all, ["W-1", "W-2"], "each once");
    assert_eq!(whole(&shop, "w-1 alike", 5).await, ["W-1"], "one of its versions says so");
    let page = storage.find_jobs(Search { words: "w-1 alike".into(), most: 5, ..Search::default() }).await.unwrap();
    assert_eq!(page.jobs[0].len(), 2, "both are told");
    let passed = owner.get("/v1/jobs?verdict=pass").await["jobs"].clone();
    assert_eq!((passed.as_array().unwrap().len(), &passed[0]["line"]["order"]), (1, &json!("W-2")));
    assert_eq!(owner.get("/v1/jobs?verdict=fail").await["jobs"], json!([]));
    let shown = owner.get("/v1/jobs?search=w-1").await["jobs"][0].clone();
    assert_eq!((&shown["verdict"], &shown["versions"]), (&json!(null), &json!(2)));
}

#[tokio::test]
async fn what_the_newest_have_several_of_is_found_far_behind_them_as_well() {
    let shop = Shop::open().await;
    let phone = shop.phone("Bench 1").await;
    let storage = &shop.hub().app.storage;
    let device = storage.device(phone.id).await.unwrap().unwrap().number;
    // Two hundred are looked at one by one, and then ten times as many before an index is asked.
    const COUNT: usize = 2_300;
    let scarce = [0, 1, 60, 99, 100, 101, 700, 800, 900, 1_000, 1_100, 1_200, 2_099, 2_100, 2_150, 2_250, 2_299];
    let failed = [0, 99, 700, 2_150, 2_250, 2_299];
    let word = |number: usize| if scarce.contains(&number) { "scarce" } else { "plenty" };
    let verdict = |number: &usize| if failed.contains(number) { SetVerdict::Fail } else { SetVerdict::Pass };
    let numbers: Vec<usize> = (0..COUNT).collect();
    for some in numbers.chunks(500) {
        let made = some.iter().map(|number| {
            let mut line = line(random_id(), &format!("W-{number} {}", word(*number)), verdict(number));
            let (minute, second) = (number / 60, number % 60);
            line.opened = Stamp::parse(&format!("2026-03-01T10:{minute:02}:{second:02}+01:00")).unwrap();
            (Stale::unmarked(device, line.job, Vec::new()), Some((line, false)))
        });
        storage.put_lines(made.collect()).await.unwrap();
    }
    let orders = |of: &[usize]| of.iter().rev().map(|number| format!("W-{number} scarce")).collect::<Vec<_>>();
    for most in [3, 5, 200] {
        assert_eq!(whole(&shop, "scarce w-", most).await, orders(&scarce), "{most} at a time");
        let search = Search { words: "scarce".to_owned(), most, verdict: Some(SetVerdict::Fail), ..Search::default() };
        assert_eq!(whole_of(&shop, search).await, orders(&failed), "failed, {most} at a time");
    }
}
