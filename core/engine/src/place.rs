//! Where the ledger is kept, and what else the environment may set: the same for the window and for `serve`.

use crate::key_store::KeyPlace;
use std::ffi::OsString;
use std::io;
use std::path::PathBuf;

/// The environment variable that names another ledger file.
pub const OVERRIDE: &str = "EVENWIRE_DB";

/// The app's folder among those where the platform keeps what programs store for a person. It is the window's
/// identifier, from which the window's own folder gets its name.
pub const FOLDER: &str = "works.evenwire.bench";

/// The app's folder on a desktop: `$XDG_DATA_HOME` or `~/.local/share` on Linux, `~/Library/Application Support` on
/// macOS, `%APPDATA%` on Windows, and [`FOLDER`] in it. None where a person has no such folder.
pub fn folder() -> Option<PathBuf> {
    Some(dirs::data_dir()?.join(FOLDER))
}

/// The environment variable that names how fast the practice bench runs, per cent of life (10 to 10000).
pub const PRACTICE_SPEED: &str = "EVENWIRE_PRACTICE_SPEED";

/// The speed `named` by [`PRACTICE_SPEED`], per cent of life; none if it is no whole number from 10 to 10000.
pub fn practice_speed(named: Option<OsString>) -> Option<u32> {
    named?.to_str()?.parse().ok().filter(|percent| (10..=10_000).contains(percent))
}

/// The environment variable that says where the secret of the device's key is kept: `file` for the file beside the
/// ledger, anything else for the key store of the system.
pub const KEY: &str = "EVENWIRE_KEY";

/// The place `named` by [`KEY`]: the key store of the system, unless it is a file that is wanted.
pub fn key_place(named: Option<OsString>) -> KeyPlace {
    if named.is_some_and(|named| named.eq_ignore_ascii_case("file")) { KeyPlace::InFile } else { KeyPlace::InStore }
}

/// The ledger file: the one `named` by [`OVERRIDE`], else `evenwire.db` in the platform's `folder`
/// for this app. The folder it lies in exists when this returns.
///
/// # Errors
/// Whatever the disk says when that folder cannot be made.
pub fn database(folder: PathBuf, named: Option<OsString>) -> io::Result<PathBuf> {
    // An empty variable is a variable left over, not a wish for a file without a name.
    let file = named.filter(|name| !name.is_empty()).map_or_else(|| folder.join("evenwire.db"), PathBuf::from);
    if let Some(parent) = file.parent() {
        std::fs::create_dir_all(parent)?;
    }
    Ok(file)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fresh(name: &str) -> PathBuf {
        std::env::temp_dir().join(format!("evenwire-place-{name}-{}", std::process::id()))
    }

    #[test]
    fn a_first_start_makes_the_folder() {
        let folder = fresh("first");
        let file = database(folder.clone(), None).expect("temporary folder is writable");
        assert_eq!(file, folder.join("evenwire.db"));
        assert!(folder.is_dir());
        std::fs::remove_dir_all(folder).expect("just made");
    }

    #[test]
    fn a_named_ledger_wins_and_an_empty_name_does_not() {
        let folder = fresh("named");
        let named = folder.join("other").join("van.db");
        assert_eq!(database(folder.clone(), Some(named.clone().into())).expect("writable"), named);
        assert!(named.parent().is_some_and(|parent| parent.is_dir()));
        assert_eq!(database(folder.clone(), Some("".into())).expect("writable"), folder.join("evenwire.db"));
        std::fs::remove_dir_all(folder).expect("just made");
    }

    #[test]
    fn a_practice_speed_is_a_whole_number_of_per_cent() {
        let speed = |named: &str| practice_speed(Some(named.into()));
        assert_eq!(speed("300"), Some(300));
        assert_eq!((speed("10"), speed("10000")), (Some(10), Some(10_000)));
        for senseless in ["", "9", "10001", "-100", "fast", "99.5"] {
            assert_eq!(speed(senseless), None, "{senseless}");
        }
        assert_eq!(practice_speed(None), None);
    }

    #[test]
    fn a_key_is_kept_in_a_file_only_where_that_is_wanted() {
        for (named, place) in [("file", KeyPlace::InFile), ("FILE", KeyPlace::InFile), ("", KeyPlace::InStore)] {
            assert_eq!(key_place(Some(named.into())), place, "{named}");
        }
        assert_eq!(key_place(None), KeyPlace::InStore);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_said() {
        let blocked = fresh("blocked");
        std::fs::write(&blocked, "a file where a folder should be").expect("writable");
        assert!(database(blocked.join("in"), None).is_err());
        std::fs::remove_file(blocked).expect("just made");
    }
}
