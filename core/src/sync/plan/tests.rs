use super::*;
use crate::sync::MOST_BATCH_BYTES;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// What is tried may be cut on its way there, or on its way back: done, and nobody knows.
#[derive(Clone, Copy, Debug)]
enum Line {
    Whole,
    CutThere,
    CutBack,
    /// The hub puts back a copy that knows entries up to this share (of 256) of what it has.
    PutBack(u8),
}

/// A ledger as lengths of entries, and the things each names.
#[derive(Clone, Debug)]
struct Shop {
    ledger: Vec<(usize, Vec<u8>)>,
    hub: usize,
    hub_has: BTreeSet<u8>,
}

/// What the device keeps.
#[derive(Default)]
struct Book {
    looked: u64,
    stored_through: u64,
    tail: Option<u64>,
    heads: u64,
    named: BTreeMap<u8, (u64, Option<bool>)>,
    pace: Pace,
}

fn hash(thing: u8) -> Hash {
    Hash([thing; 32])
}

impl Book {
    fn known(&self, end: usize) -> Known {
        let named = self.named.iter().filter(|(_, (by, _))| self.tail.is_some_and(|tail| *by <= tail));
        Known {
            end: end as u64,
            looked: self.looked,
            tail: self.tail,
            heads: self.tail.is_some_and(|tail| self.heads < tail),
            unasked: named.clone().any(|(_, (_, there))| there.is_none()),
            missing: named.clone().find(|(_, (_, there))| *there == Some(false)).map(|(thing, _)| hash(*thing)),
            changes: false,
        }
    }

    fn there(&self, newest: u64) -> JobThere {
        let count = self.named.values().filter(|(_, there)| *there == Some(true)).count() as u32;
        let photos = (count, self.named.len() as u32);
        JobThere { looked: self.looked.min(newest), stored_through: self.stored_through, photos, ..JobThere::default() }
    }

    /// One step; `false`: there is nothing to do.
    fn go(&mut self, shop: &mut Shop, line: Line) -> bool {
        let step = next_step(&self.known(shop.ledger.len()), self.pace);
        if let Step::Look { after } = step {
            for thing in &shop.ledger[after as usize].1 {
                self.named.entry(*thing).or_insert((after + 1, None));
            }
            self.looked = after + 1;
            return true;
        }
        match line {
            Line::CutThere => {
                self.cut();
                return step != Step::Rest;
            }
            Line::PutBack(share) => {
                shop.hub = shop.hub * usize::from(share) / 256;
                let named: BTreeSet<u8> = shop.ledger[..shop.hub].iter().flat_map(|of| of.1.clone()).collect();
                shop.hub_has = shop.hub_has.intersection(&named).copied().collect();
                self.cut();
                return true;
            }
            Line::Whole | Line::CutBack => {}
        }
        self.perform(shop, step, matches!(line, Line::CutBack))
    }

    fn cut(&mut self) {
        self.tail = None;
        self.pace = self.pace.lost();
    }

    fn perform(&mut self, shop: &mut Shop, step: Step, cut: bool) -> bool {
        match step {
            Step::AskTail if !cut => {
                let tail = Tail { next_sequence: shop.hub as u64 + 1, hash: Hash::ZERO, missing: 0 };
                match look_at_tail(&tail, self.stored_through, Some(Hash::ZERO)) {
                    TailSays::GoesOn => {}
                    TailSays::FellBack => {
                        self.heads = self.heads.min(shop.hub as u64);
                        self.named.values_mut().for_each(|(_, there)| *there = None);
                    }
                    TailSays::Parted { .. } => panic!("nobody parted"),
                }
                (self.stored_through, self.tail) = (shop.hub as u64, Some(shop.hub as u64));
            }
            Step::Send { after, bytes } => {
                assert_eq!(after as usize, shop.hub, "what is sent goes on from what is there");
                let mut sent = 0;
                for (count, (length, _)) in shop.ledger[after as usize..].iter().enumerate() {
                    sent += length;
                    if count > 0 && sent > bytes {
                        break;
                    }
                    shop.hub += 1;
                }
                assert!(shop.hub as u64 > after, "one entry always goes");
                if !cut {
                    (self.stored_through, self.tail) = (shop.hub as u64, Some(shop.hub as u64));
                    self.pace = self.pace.came_through(Millis(sent as u64));
                }
            }
            Step::SendHeads if !cut => self.heads = self.tail.unwrap(),
            Step::AskMissing if !cut => {
                let tail = self.tail.unwrap();
                for (thing, (by, there)) in &mut self.named {
                    if *by <= tail && there.is_none() {
                        *there = Some(shop.hub_has.contains(thing));
                    }
                }
            }
            Step::Put(of) => {
                assert!(
                    shop.ledger[..shop.hub].iter().any(|(_, things)| things.contains(&of.0[0])),
                    "its entry is there"
                );
                shop.hub_has.insert(of.0[0]);
                if !cut {
                    self.named.get_mut(&of.0[0]).unwrap().1 = Some(true);
                }
            }
            Step::Rest => return false,
            _ => {}
        }
        if cut {
            self.cut();
        }
        true
    }
}

fn lines() -> impl Strategy<Value = Vec<Line>> {
    let line = prop_oneof![
        4 => Just(Line::Whole),
        2 => Just(Line::CutThere),
        2 => Just(Line::CutBack),
        1 => any::<u8>().prop_map(Line::PutBack),
    ];
    prop::collection::vec(line, 0..60)
}

fn ledger() -> impl Strategy<Value = Vec<(usize, Vec<u8>)>> {
    let entry = (100usize..90_000, prop::collection::vec(any::<u8>(), 0..3));
    prop::collection::vec(entry, 1..20)
}

proptest! {
    /// However the line fails: safe is never said of what is not there, and once it holds, everything comes there.
    #[test]
    fn nothing_is_safe_early_and_everything_is_in_the_end(ledger in ledger(), lines in lines(), later in 0usize..5) {
        let mut shop = Shop { ledger, hub: 0, hub_has: BTreeSet::new() };
        let mut book = Book::default();
        let mut put_back = false;
        let safe = |book: &Book, shop: &Shop| book.there(shop.ledger.len() as u64).is_safe(shop.ledger.len() as u64);
        let truly = |shop: &Shop| {
            shop.hub == shop.ledger.len() && shop.ledger.iter().flat_map(|of| &of.1).all(|t| shop.hub_has.contains(t))
        };
        for line in &lines {
            put_back |= matches!(line, Line::PutBack(_));
            book.go(&mut shop, *line);
            // A hub that forgets without a word is found out when it is asked again, not before.
            prop_assert!(put_back || !safe(&book, &shop) || truly(&shop), "{line:?}");
        }
        shop.ledger.extend((0..later).map(|number| (500, vec![number as u8])));
        prop_assert!(later == 0 || !safe(&book, &shop), "an entry nobody sent");
        book.tail = None;
        for _ in 0..2_000 {
            if !book.go(&mut shop, Line::Whole) {
                break;
            }
        }
        prop_assert!(truly(&shop));
        prop_assert!(safe(&book, &shop));
    }

    #[test]
    fn a_pause_grows_to_its_end_and_is_never_shorter_than_half_of_it(failures in 1u32..100, random: u64) {
        let most = 600_000.min(2_000u64.saturating_mul(1 << (failures - 1).min(40)));
        let drawn = pause(failures, random).0;
        prop_assert!(drawn >= most / 2 && drawn <= most, "{drawn} of {most}");
    }
}

#[test]
fn a_batch_grows_on_a_quick_line_and_shrinks_on_a_slow_one_within_its_ends() {
    let grown = (0..20).fold(Pace::default(), |pace, _| pace.came_through(Millis(50)));
    assert_eq!(grown.bytes(), MOST_BATCH_BYTES);
    let shrunk = (0..20).fold(grown, |pace, _| pace.came_through(Millis(8_001)));
    assert_eq!(shrunk.bytes(), 4 * 1024);
    assert_eq!(shrunk.came_through(Millis(4_000)), shrunk, "neither quick nor slow");
    assert_eq!(Pace::default().lost().bytes(), 32 * 1024);
    assert!(patience(500 * 1024).0 > 500_000, "half a megabyte through 8 kbit/s");
}

#[test]
fn a_tail_that_fell_back_is_told_from_one_that_parted() {
    let tail = |next_sequence, hash| Tail { next_sequence, hash, missing: 0 };
    let (ours, theirs) = (Hash([1; 32]), Hash([2; 32]));
    assert_eq!(look_at_tail(&tail(8, ours), 7, Some(ours)), TailSays::GoesOn);
    assert_eq!(look_at_tail(&tail(9, ours), 7, Some(ours)), TailSays::GoesOn, "the answer was lost, the batch was not");
    assert_eq!(look_at_tail(&tail(7, ours), 7, Some(ours)), TailSays::FellBack);
    assert_eq!(look_at_tail(&tail(1, Hash::ZERO), 7, Some(Hash::ZERO)), TailSays::FellBack);
    assert_eq!(look_at_tail(&tail(8, theirs), 7, Some(ours)), TailSays::Parted { sequence: 7 });
    assert_eq!(look_at_tail(&tail(99, theirs), 7, None), TailSays::Parted { sequence: 98 }, "more than we ever wrote");
    assert_eq!(look_at_tail(&tail(0, Hash::ZERO), 7, None), TailSays::Parted { sequence: 0 });
}

#[test]
fn a_job_is_safe_only_with_its_newest_entry_and_everything_it_names() {
    let there = JobThere { looked: 40, stored_through: 57, photos: (12, 12), others: (3, 3), lost: 0 };
    assert!(there.is_safe(40));
    assert!(!there.is_safe(41), "an entry that nobody looked at");
    assert!(!JobThere { stored_through: 39, ..there }.is_safe(40));
    assert!(!JobThere { photos: (11, 12), ..there }.is_safe(40));
    assert!(!JobThere { others: (2, 3), ..there }.is_safe(40));
    assert!(!JobThere::default().is_safe(0), "a job without entries");
}
