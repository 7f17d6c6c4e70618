//! `backup` and `restore`: a ledger as a copy that was checked, and back.

use crate::claim::note_end;
use evenwire_store::{Glance, StoreError, restore as put_back};
use std::path::Path;
use std::process::ExitCode;
use uuid::Builder;

/// Writes a checked copy of `ledger` to `out`; another program may have the ledger open. Exit code 0: done. 1: there is no
/// ledger, it is damaged, or something is at `out`.
pub fn back_up(ledger: &Path, out: &Path) -> ExitCode {
    match Glance::at(ledger).and_then(|glance| glance.back_up(out).map(|head| (glance, head))) {
        Ok((glance, head)) => {
            note_end(&glance);
            println!("{}: all {} entries, read back and checked.", out.display(), head.sequence);
            println!("The key of this device is not in it. Personal details are: keep it as you keep the ledger,");
            println!("and know that erasing them here does not reach it.");
            ExitCode::SUCCESS
        }
        Err(StoreError::Damaged { what }) => {
            failed(&format!("{} is damaged, and a copy would be, too: {what}", ledger.display()))
        }
        Err(error) => failed(&error.to_string()),
    }
}

/// Puts `backup` back as `ledger`, where nothing is. Exit code 0: done. 1: something is there, or the backup is not whole.
pub fn restore(backup: &Path, ledger: &Path) -> ExitCode {
    let mut random = [[0u8; 32]; 2];
    if let Err(error) = random.iter_mut().try_for_each(|half| getrandom::fill(half)) {
        return failed(&format!("the system gives no random numbers: {error}"));
    }
    let mut id = [0; 16];
    id.copy_from_slice(&random[0][..16]);
    match put_back(backup, ledger, (Builder::from_random_bytes(id).into_uuid(), random[1])) {
        Ok(head) => {
            println!("{}: all {} entries are back, read and checked.", ledger.display(), head.sequence);
            println!(
                "What was recorded after the backup is not in it. With the next start it goes on under a new device"
            );
            println!("number and a new key: tell the shop.");
            ExitCode::SUCCESS
        }
        Err(StoreError::InTheWay { path }) => failed(&format!(
            "{} is there, and nothing is written over. Move the ledger away, with all files that begin with its name, \
             and try again.",
            path.display()
        )),
        Err(StoreError::Damaged { what }) => failed(&format!("{} is not whole: {what}", backup.display())),
        Err(error) => failed(&error.to_string()),
    }
}

fn failed(words: &str) -> ExitCode {
    eprintln!("{words}");
    ExitCode::FAILURE
}
