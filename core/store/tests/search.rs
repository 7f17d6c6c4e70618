//! The index against a plain look at every line, whatever stands in the lines and whatever becomes of them.

mod shop;

use evenwire_core::job::Line;
use evenwire_core::record::Head;
use evenwire_core::session::Batch;
use evenwire_store::Store;
use proptest::prelude::*;
use shop::*;

const JOBS: u32 = 12;
/// More jobs, opened later, than are looked at before anything is looked up.
const LATER: u32 = 250;
/// Lines asked for at once.
const PAGE: usize = 100;

/// What is done to the lines.
#[derive(Clone, Debug)]
enum Deed {
    Write(u32, String),
    Erase(u32),
    Lose(u32),
    IndexAnew,
    Reopen,
}

/// Lines in which every word of `search` occurs, newest first, by looking at all of them.
fn plainly(lines: &[Line], search: &str) -> Vec<Line> {
    let search = search.to_lowercase();
    let has_all = |line: &&Line| search.split_whitespace().all(|word| line.search.contains(word));
    let mut found: Vec<Line> = lines.iter().filter(has_all).cloned().collect();
    found.sort_by_key(|line| std::cmp::Reverse(line.opened_by));
    found
}

/// Texts of few characters, so that they share many pieces: umlauts, signs that mean something to SQL, signs that are
/// more than one character to some, and one outside the first plane.
fn text() -> impl Strategy<Value = String> {
    "([abÄäßéİ1%_'\"\\\\*()^:. \n😀-]|aab|1ä%){0,10}"
}

fn deeds() -> impl Strategy<Value = Vec<Deed>> {
    let deed = prop_oneof![
        6 => (1..=JOBS, text()).prop_map(|(job, text)| Deed::Write(job, text.to_lowercase())),
        1 => (1..=JOBS).prop_map(Deed::Erase),
        1 => (1..=JOBS).prop_map(Deed::Lose),
        1 => Just(Deed::IndexAnew),
        1 => Just(Deed::Reopen),
    ];
    proptest::collection::vec(deed, 1..30)
}

/// A ledger in which every job was opened; no job has a line yet.
fn opened(shop: &Shop) -> Store {
    let mut store = shop.open();
    let mut head: Head = store.head().unwrap();
    let entries = (1..=JOBS + LATER).map(|number| seal(&mut head, Some(job(number)), "opened")).collect();
    store.append(&Batch { entries, lines: later(), ..Batch::default() }).unwrap();
    store
}

/// Lines of the later jobs. What is looked for is mostly not in them, so that it is looked up; some pieces are so
/// frequent in them that words are parted there.
fn later() -> Vec<Line> {
    let text = |number: u32| match number {
        _ if number.is_multiple_of(40) => "ä%b (\" a1",
        _ if number.is_multiple_of(2) => "later aab 1ä%",
        _ => "later aab bß-",
    };
    (JOBS + 1..=JOBS + LATER).map(|number| line(job(number), u64::from(number), text(number))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, rng_seed: proptest::test_runner::RngSeed::Fixed(11), ..ProptestConfig::default() })]

    #[test]
    fn a_search_finds_what_a_look_at_every_line_finds(deeds in deeds(), searches in proptest::collection::vec(text(), 12)) {
        let shop = Shop::new();
        let mut store = opened(&shop);
        let mut lines: Vec<Line> = later();
        for deed in deeds {
            match deed {
                Deed::Write(number, text) => {
                    let written = line(job(number), u64::from(number), &text);
                    lines.retain(|line| line.job != written.job);
                    lines.push(written.clone());
                    store.append(&Batch { lines: vec![written], ..Batch::default() }).unwrap();
                }
                Deed::Erase(number) => {
                    let there = lines.iter_mut().filter(|line| line.job == job(number));
                    there.for_each(|line| *line = line.without_details());
                    store.erase_details(job(number)).unwrap();
                }
                Deed::Lose(number) => {
                    lines.retain(|line| line.job != job(number));
                    shop.raw().execute("DELETE FROM line WHERE opened_by = ?1", [number]).unwrap();
                }
                Deed::IndexAnew => store.index_anew().unwrap(),
                Deed::Reopen => {
                    drop(store);
                    store = shop.open();
                }
            }
        }
        prop_assert!(store.check().unwrap().is_whole());
        // Every text that stands somewhere is looked for too, and what it begins and ends with.
        let own = lines.iter().filter(|line| line.opened_by <= u64::from(JOBS) + 1).flat_map(|line| {
            let ends: String = line.search.chars().rev().take(2).collect::<Vec<_>>().into_iter().rev().collect();
            // Frequent pieces at the beginning, in the middle and at the end of a word.
            let among = [format!("{ends}aab"), format!("aab{ends}"), format!("{ends}aab{ends}")];
            [line.search.clone(), line.search.chars().take(4).collect(), ends].into_iter().chain(among)
        });
        let all: Vec<String> = searches.into_iter().chain(own).collect();
        let compare = |store: &Store| {
            for search in &all {
                let mut wanted = plainly(&lines, search);
                let more = wanted.len() > PAGE;
                wanted.truncate(PAGE);
                prop_assert_eq!(store.jobs(search, 0, PAGE as u32).unwrap(), (wanted, more), "{:?}", search);
            }
            Ok(())
        };
        compare(&store)?;
        store.index_anew().unwrap();
        compare(&store)?;
    }
}

#[test]
fn a_frequent_word_is_told_to_go_on_and_a_short_one_is_found_however_rare() {
    let shop = Shop::new();
    let mut store = shop.open();
    let mut head = store.head().unwrap();
    const MANY: u32 = 1_500;
    let entries: Vec<_> = (1..=MANY).map(|number| seal(&mut head, Some(job(number)), "opened")).collect();
    let text = |number: u32| match number {
        7 => format!("order {number} qx"),
        9 => format!("order {number} q"),
        11 => format!("qy order {number} ü"),
        _ => format!("order {number}"),
    };
    let lines: Vec<_> = (1..=MANY).map(|number| line(job(number), u64::from(number), &text(number))).collect();
    store.append(&Batch { entries, lines: lines.clone(), ..Batch::default() }).unwrap();
    for (search, skip) in [("order", 0), ("order", 900), ("o", 0), ("er", 400), ("", 0), ("r 1", 0)] {
        let wanted = plainly(&lines, search);
        let (found, more) = store.jobs(search, skip, 30).unwrap();
        assert_eq!(found, wanted[skip as usize..][..30], "{search:?}");
        assert!(more, "{search:?} is in more than that");
    }
    for search in ["q", "qx", "qy", "ü", "order q", "q order 11", "x", "q ü", "z", "149 9", "order zz"] {
        let wanted = plainly(&lines, search);
        assert_eq!(store.jobs(search, 0, PAGE as u32).unwrap(), (wanted, false), "{search:?}");
    }
}
