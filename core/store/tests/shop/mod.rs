//! A shop's bench for the tests: a ledger that is written as the session writes it.
#![allow(dead_code, reason = "each test file uses its part of it")]

use evenwire_core::job::{Line, OpenItem, Stage};
use evenwire_core::meter::Shown;
use evenwire_core::record::{Body, Chunk, Clock, Details, Draft, Gathering, Head, KeptDetails, Sample, Sealed};
use evenwire_core::session::Batch;
use evenwire_core::unit::{Millis, Quantity, Stamp, Unit};
use evenwire_store::Store;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use uuid::Uuid;

pub const BENCH_ONE: Uuid = Uuid::from_u128(0xB1);
pub const BENCH_TWO: Uuid = Uuid::from_u128(0xB2);
pub const SESSION: Uuid = Uuid::from_u128(0x5E);

/// A folder with a ledger file in it.
pub struct Shop {
    pub folder: tempfile::TempDir,
}

impl Shop {
    pub fn new() -> Shop {
        Shop { folder: tempfile::tempdir().unwrap() }
    }

    pub fn path(&self) -> PathBuf {
        self.folder.path().join("ledger.db")
    }

    pub fn open(&self) -> Store {
        open(&self.path())
    }

    /// A connection that knows nothing of our rules.
    pub fn raw(&self) -> rusqlite::Connection {
        rusqlite::Connection::open(self.path()).unwrap()
    }
}

pub fn open(path: &Path) -> Store {
    Store::open(path, BENCH_ONE).unwrap()
}

pub fn job(number: u32) -> Uuid {
    // Spread over the whole range, as random ids are.
    Uuid::from_u128(u128::from(number).wrapping_mul(0x9E37_79B9_7F4A_7C15_F39C_C060_5CED_C835))
}

pub fn draft(job: Option<Uuid>, kind: &str, note: &str) -> Draft {
    Draft {
        id: Uuid::from_u128(7),
        job,
        kind: kind.into(),
        version: 1,
        elapsed_ms: Millis(90_000),
        wall: stamp(),
        clock: Clock::Ok,
        body: Body::from(&serde_json::json!({ "note": note })),
    }
}

pub fn seal(head: &mut Head, job: Option<Uuid>, note: &str) -> Sealed {
    head.seal(SESSION, draft(job, "caution-accepted", note))
}

pub fn stamp() -> Stamp {
    Stamp::parse("2031-03-04T08:15:00+01:00").unwrap()
}

pub fn line(job: Uuid, opened_by: u64, search: &str) -> Line {
    Line {
        job,
        opened_by,
        order: format!("Order {opened_by}"),
        vehicle: "Van, 004711".into(),
        customer: "Nobody in particular".into(),
        opened: stamp(),
        stage: Stage::Measure,
        verdict: Some(evenwire_core::verdict::SetVerdict::Undecided),
        condemned_by: String::new(),
        taken: 3,
        wanted: 12,
        open: BTreeSet::from([OpenItem::NotClosed]),
        erased: false,
        search: search.into(),
    }
}

pub fn details(job: Uuid, customer: &str) -> KeptDetails {
    KeptDetails::new(job, [0x5A; 32], &Details { customer: customer.into(), ..Details::default() })
}

/// A chunk of `count` readings that begin at `digits` thousandths of an ohm.
pub fn chunk(id: u128, job: Option<Uuid>, count: u32, closed: bool) -> Chunk {
    let mut gathering = Gathering::new(Uuid::from_u128(id), job, SESSION, 3);
    for n in 0..count {
        let digits = 350 + (id as i64 % 97) + i64::from(n % 3);
        let shown = Shown::Value(Quantity::new(digits, 3, Unit::Ohm).unwrap());
        let raw = digits.to_le_bytes().to_vec();
        gathering.push(Sample { at: Millis(1_000 + u64::from(n) * 200), raw, shown: vec![shown] });
    }
    gathering.chunk(Millis(1_000 + u64::from(count) * 200), closed)
}

/// A batch as one touch makes it: an entry, a closed chunk, a line and, with the first entry, details.
pub fn touch(head: &mut Head, job: Uuid, opened_by: u64, note: &str) -> Batch {
    let sealed = seal(head, Some(job), note);
    let sequence = sealed.entry().sequence;
    Batch {
        entries: vec![sealed],
        details: if sequence == opened_by { vec![details(job, note)] } else { Vec::new() },
        chunks: vec![chunk(u128::from(sequence) + 1_000, Some(job), 20, true)],
        lines: vec![line(job, opened_by, note)],
        ..Batch::default()
    }
}

/// A ledger of `jobs` jobs with five touches each. Returns its head.
pub fn fill(store: &mut Store, jobs: u32) -> Head {
    let mut head = store.head().unwrap();
    for number in 1..=jobs {
        let opened_by = head.sequence + 1;
        for _ in 0..5 {
            store.append(&touch(&mut head, job(number), opened_by, &format!("order {number}"))).unwrap();
        }
        let of_device = Batch { entries: vec![seal(&mut head, None, "template")], ..Batch::default() };
        store.append(&of_device).unwrap();
    }
    head
}

/// What a store says of one job.
pub type OfJob = (Vec<Sealed>, Option<KeptDetails>, Vec<Chunk>, Option<Line>);

/// Everything a store says it holds, or the first error.
#[derive(Clone, Debug, PartialEq)]
pub struct Contents {
    pub head: Head,
    pub entries: Vec<Sealed>,
    pub of_device: Vec<Sealed>,
    pub of_jobs: Vec<OfJob>,
    pub lines: (Vec<Line>, bool),
    pub without_line: Vec<Uuid>,
    pub counts: evenwire_store::Counts,
}

pub fn contents(store: &Store, jobs: u32) -> Result<Contents, evenwire_store::StoreError> {
    Ok(Contents {
        head: store.head()?,
        entries: store.entries_after(0, u32::MAX)?,
        of_device: store.entries_of_device()?,
        of_jobs: (1..=jobs)
            .map(|n| {
                let job = job(n);
                Ok((store.entries_of(job)?, store.details(job)?, store.chunks_of(job)?, store.line(job)?))
            })
            .collect::<Result<_, evenwire_store::StoreError>>()?,
        lines: store.jobs("", 0, u32::MAX)?,
        without_line: store.jobs_without_line()?,
        counts: store.counts()?,
    })
}

/// Does `sql` behind the back of all triggers, as a file editor would.
pub fn behind_the_back(shop: &Shop, sql: &str) {
    let raw = shop.raw();
    let guards: Vec<(String, String)> = raw
        .prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        .unwrap()
        .query_map([], |r| Ok((r.get(0)?, r.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    guards.iter().for_each(|(name, _)| raw.execute_batch(&format!("DROP TRIGGER {name}")).unwrap());
    assert!(raw.execute(sql, []).unwrap() > 0, "{sql}");
    guards.iter().for_each(|(_, sql)| raw.execute_batch(sql).unwrap());
}

/// Small numbers without a pattern (xorshift64*), the same for the same seed.
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, end: u64) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) % end
    }
}
