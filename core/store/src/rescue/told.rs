//! The text beside a rescued ledger. Each line is a JSON object: a later entry as it stands in the damaged file, and at
//! the end the figures of the rescue.

use super::Rescue;
use crate::error::StoreError;
use crate::open::{beside, failed, sync_folder};
use evenwire_core::record::Hash;
use serde_json::json;
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// What it is called while it is written.
const WRITING: &str = ".rescuing-told";

/// Being written.
pub(super) struct Told {
    path: PathBuf,
    number: u64,
    out: BufWriter<File>,
}

impl Told {
    /// Begins the text for the ledger at `path`.
    pub(super) fn begin(path: &Path) -> Result<Told, StoreError> {
        let writing = beside(path, WRITING);
        let number = numbers(path)?.last().map_or(1, |newest| newest + 1);
        let file = File::create(&writing).map_err(|fault| sorted(fault, &writing))?;
        Ok(Told { path: path.to_owned(), number, out: BufWriter::new(file) })
    }

    /// An entry that can be read and hangs in the air. `whole`: its bytes are those its hash says.
    pub(super) fn loose(&mut self, sequence: i64, (hash, bytes): (Hash, &[u8]), whole: bool) -> Result<(), StoreError> {
        let hex = || bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
        let entry = std::str::from_utf8(bytes).map_or_else(|_| json!({ "hex": hex() }), |text| json!(text));
        self.line(&json!({ "sequence": sequence, "hash": hash, "whole": whole, "entry": entry }))
    }

    /// Ends it, and gives it its name.
    pub(super) fn end(mut self, mut rescue: Rescue) -> Result<(), StoreError> {
        let told = beside(&self.path, &format!(".rescued-{}", self.number));
        rescue.aside = Some(beside(&self.path, &format!(".aside-{}", self.number)));
        rescue.told = Some(told.clone());
        self.line(&json!(rescue))?;
        let writing = beside(&self.path, WRITING);
        let ended = self.out.flush().and_then(|()| self.out.get_ref().sync_all());
        ended.and_then(|()| fs::rename(&writing, &told)).map_err(|fault| sorted(fault, &writing))?;
        sync_folder(&self.path)
    }

    fn line(&mut self, value: &serde_json::Value) -> Result<(), StoreError> {
        writeln!(self.out, "{value}").map_err(|fault| sorted(fault, &beside(&self.path, WRITING)))
    }
}

/// The figures of the newest rescue of the ledger at `path`, as they were told.
pub(super) fn newest(path: &Path) -> Result<Rescue, StoreError> {
    let damaged = || StoreError::damaged("what tells of its rescue is missing");
    let number = *numbers(path)?.last().ok_or_else(damaged)?;
    let told = beside(path, &format!(".rescued-{number}"));
    let text = match fs::read_to_string(&told) {
        Err(fault) if fault.kind() == io::ErrorKind::NotFound => return Err(damaged()),
        text => text.map_err(failed(&told))?,
    };
    let last = text.lines().next_back().ok_or_else(damaged)?;
    serde_json::from_str(last).map_err(|_| damaged())
}

/// Numbers that files beside the ledger have already, in order.
fn numbers(path: &Path) -> Result<Vec<u64>, StoreError> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let mut numbers = Vec::new();
    for entry in fs::read_dir(folder).map_err(failed(folder))? {
        let other = entry.map_err(failed(folder))?.file_name().to_string_lossy().into_owned();
        let tail = other.strip_prefix(&name);
        let tail = tail.and_then(|tail| tail.strip_prefix(".aside-").or_else(|| tail.strip_prefix(".rescued-")));
        // The log of a file that was moved aside is called after it.
        let digits = tail.map(|tail| tail.split('-').next().unwrap_or_default());
        numbers.extend(digits.and_then(|digits| digits.parse::<u64>().ok()));
    }
    numbers.sort_unstable();
    Ok(numbers)
}

fn sorted(fault: io::Error, path: &Path) -> StoreError {
    let during = format!("writing {}", path.display());
    match fault.kind() {
        io::ErrorKind::StorageFull => StoreError::Full { during },
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => StoreError::ReadOnly { during },
        _ => failed(path)(fault),
    }
}
