//! Any sequence of batches, good and bad, against a ledger that is nothing but lists in memory.

mod shop;

use evenwire_core::job::Line;
use evenwire_core::record::{Chunk, Hash, Head, KeptDetails, Sealed};
use evenwire_core::session::Batch;
use proptest::prelude::*;
use shop::*;
use std::collections::BTreeMap;
use uuid::Uuid;

const JOBS: u32 = 3;

/// What is done to the store.
#[derive(Clone, Debug)]
enum Deed {
    Append { entries: Vec<Link>, details: Vec<u32>, chunks: Vec<(u8, u32, bool)>, lines: Vec<(u32, Opened)> },
    Reopen,
    Erase(u32),
}

/// An entry of the batch: of which job (0: none), and what is wrong with it.
#[derive(Clone, Debug)]
struct Link {
    job: u32,
    fault: Fault,
}

#[derive(Clone, Copy, Debug)]
enum Fault {
    None,
    Gap,
    Again,
    OtherDevice,
    Broken,
}

/// Which entry a line says opened its job.
#[derive(Clone, Copy, Debug)]
enum Opened {
    Rightly,
    By(u64),
}

/// The ledger as lists. `None` from [`Model::append`] is a refusal.
#[derive(Clone, Default)]
struct Model {
    entries: Vec<Sealed>,
    details: BTreeMap<Uuid, KeptDetails>,
    chunks: Vec<Chunk>,
    lines: BTreeMap<u64, Line>,
}

impl Model {
    fn head(&self) -> Head {
        self.entries.last().map_or(Head::empty(BENCH_ONE), |e| Head {
            device: BENCH_ONE,
            sequence: e.entry().sequence,
            hash: e.hash(),
        })
    }

    fn append(&self, batch: &Batch) -> Option<Model> {
        let mut next = self.clone();
        for sealed in &batch.entries {
            let (entry, head) = (sealed.entry(), next.head());
            let follows = entry.sequence == head.sequence + 1 && entry.previous == head.hash;
            (follows && entry.device == BENCH_ONE).then(|| next.entries.push(sealed.clone()))?;
        }
        next.details.extend(batch.details.iter().map(|d| (d.job, d.clone())));
        for chunk in &batch.chunks {
            match next.chunks.iter_mut().find(|c| c.id == chunk.id) {
                None => next.chunks.push(chunk.clone()),
                Some(stored) if stored == chunk => {}
                Some(stored) if !stored.closed && chunk.count >= stored.count => *stored = chunk.clone(),
                Some(_) => return None,
            }
        }
        batch.lines.iter().try_for_each(|l| next.put(l))?;
        Some(next)
    }

    fn put(&mut self, line: &Line) -> Option<()> {
        let opened_by = self.entries.iter().find(|e| e.entry().sequence == line.opened_by)?;
        (opened_by.entry().job == Some(line.job)).then_some(())?;
        self.lines.retain(|_, l| l.job != line.job);
        self.lines.insert(line.opened_by, line.clone());
        Some(())
    }

    fn erase(&mut self, job: Uuid) {
        self.details.remove(&job);
        for line in self.lines.values_mut().filter(|l| l.job == job) {
            *line = line.without_details();
        }
    }

    fn contents(&self) -> Contents {
        let of = |job: Option<Uuid>| self.entries.iter().filter(|e| e.entry().job == job).cloned().collect::<Vec<_>>();
        let mut without_line: Vec<Uuid> = Vec::new();
        for job in self.entries.iter().filter_map(|e| e.entry().job) {
            if !without_line.contains(&job) && self.lines.values().all(|l| l.job != job) {
                without_line.push(job);
            }
        }
        Contents {
            head: self.head(),
            entries: self.entries.clone(),
            of_device: of(None),
            of_jobs: (1..=JOBS)
                .map(|n| {
                    let job = job(n);
                    let chunks = self.chunks.iter().filter(|c| c.job == Some(job)).cloned().collect();
                    let line = self.lines.values().find(|l| l.job == job).cloned();
                    (of(Some(job)), self.details.get(&job).cloned(), chunks, line)
                })
                .collect(),
            lines: (self.lines.values().rev().cloned().collect(), false),
            without_line,
            counts: evenwire_store::Counts {
                entries: self.entries.len() as u64,
                chunks: self.chunks.len() as u64,
                samples: self.chunks.iter().map(|c| u64::from(c.count)).sum(),
                payload_bytes: self.chunks.iter().map(|c| c.payload.len() as u64).sum(),
            },
        }
    }

    fn batch(&self, deed: &Deed) -> Batch {
        let mut batch = Batch::default();
        let Deed::Append { entries, details: about, chunks, lines } = deed else { return batch };
        let mut head = self.head();
        for Link { job: of, fault } in entries {
            let mut from = head.clone();
            match fault {
                Fault::None => {}
                Fault::Gap => from.sequence += 1,
                Fault::Again => from.sequence = from.sequence.saturating_sub(1),
                Fault::OtherDevice => from.device = BENCH_TWO,
                Fault::Broken => from.hash = Hash::of(b"another past"),
            }
            batch.entries.push(seal(&mut from, (*of > 0).then(|| job(*of)), "note"));
            head = from;
        }
        batch.details = about.iter().map(|n| details(job(*n), &format!("customer {}", head.sequence))).collect();
        batch.chunks = chunks
            .iter()
            .map(|(id, count, closed)| chunk(u128::from(*id), Some(job(u32::from(*id) % JOBS + 1)), *count, *closed))
            .collect();
        batch.lines = self.lines_of(lines, &batch.entries);
        batch
    }

    fn lines_of(&self, lines: &[(u32, Opened)], new: &[Sealed]) -> Vec<Line> {
        let opened = |n: u32, opened| match opened {
            Opened::By(sequence) => sequence,
            Opened::Rightly => {
                let first = self.entries.iter().chain(new).find(|e| e.entry().job == Some(job(n)));
                first.map_or(1, |e| e.entry().sequence)
            }
        };
        lines.iter().map(|(n, by)| line(job(*n), opened(*n, *by), &format!("{} grün", new.len()))).collect()
    }
}

fn deeds() -> impl Strategy<Value = Vec<Deed>> {
    let fault = prop_oneof![
        20 => Just(Fault::None),
        1 => Just(Fault::Gap),
        1 => Just(Fault::Again),
        1 => Just(Fault::OtherDevice),
        1 => Just(Fault::Broken),
    ];
    let link = (0..=JOBS, fault).prop_map(|(job, fault)| Link { job, fault });
    let opened = prop_oneof![8 => Just(Opened::Rightly), 1 => (0..20u64).prop_map(Opened::By)];
    let lines = prop::collection::vec((1..=JOBS, opened), 0..3);
    let chunk = (0..6u8, 0..5u32, any::<bool>());
    let append = (
        prop::collection::vec(link, 0..4),
        prop::collection::vec(1..=JOBS, 0..2),
        prop::collection::vec(chunk, 0..3),
        lines,
    )
        .prop_map(|(entries, details, chunks, lines)| Deed::Append { entries, details, chunks, lines });
    let deed = prop_oneof![
        12 => append,
        1 => Just(Deed::Reopen),
        1 => (1..=JOBS).prop_map(Deed::Erase),
    ];
    prop::collection::vec(deed, 1..25)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_file_holds_what_lists_in_memory_hold(deeds in deeds()) {
        let shop = Shop::new();
        let mut store = shop.open();
        let mut model = Model::default();
        for deed in &deeds {
            let (told, next) = match deed {
                Deed::Append { .. } => {
                    let batch = model.batch(deed);
                    (store.append(&batch).is_ok(), model.append(&batch))
                }
                Deed::Reopen => {
                    drop(store);
                    store = shop.open();
                    (true, Some(model.clone()))
                }
                Deed::Erase(number) => {
                    let mut next = model.clone();
                    next.erase(job(*number));
                    (store.erase_details(job(*number)).is_ok(), Some(next))
                }
            };
            prop_assert_eq!(told, next.is_some(), "{:?}", deed);
            model = next.unwrap_or(model);
            prop_assert_eq!(contents(&store, JOBS).unwrap(), model.contents(), "{:?}", deed);
        }
        prop_assert!(store.check().unwrap().is_whole());
    }
}
