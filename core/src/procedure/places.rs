//! Where things stand in the file, so that a mistake found late is still told at its place.

use crate::meter::fields::{Fields, Placed};
use std::collections::BTreeMap;

/// Where one table and what is in it begins, bytes.
#[derive(Clone, Debug, Default)]
pub(super) struct Places {
    /// The table itself.
    pub at: usize,
    keys: BTreeMap<&'static str, usize>,
    items: BTreeMap<(&'static str, String), usize>,
}

impl Places {
    pub(super) fn of(fields: &Fields<'_, '_>, keys: &[&'static str]) -> Places {
        let there = keys.iter().filter(|key| fields.has(key));
        Places { at: fields.at, keys: there.map(|key| (*key, fields.place(key))).collect(), items: BTreeMap::new() }
    }

    pub(super) fn keep(&mut self, key: &'static str, items: &[Placed<String>]) {
        for item in items {
            self.items.entry((key, item.value.clone())).or_insert(item.at);
        }
    }

    /// Where `key` stands, or the table if it is not there.
    pub(super) fn key(&self, key: &'static str) -> usize {
        self.keys.get(key).copied().unwrap_or(self.at)
    }

    /// Where `item` stands in the list at `key`, or the key, or the table.
    pub(super) fn item(&self, key: &'static str, item: &str) -> usize {
        self.items.get(&(key, item.to_owned())).copied().unwrap_or_else(|| self.key(key))
    }
}

/// Where the parts of a whole file stand.
pub(super) struct Map {
    pub head: Places,
    pub plugs: Vec<Places>,
    pub wires: Vec<Places>,
    pub bars: Vec<Places>,
    pub steps: Vec<Places>,
    /// The end of the file: where something is missing altogether.
    pub end: usize,
}
