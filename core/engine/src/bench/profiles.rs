//! The meter profiles a bench knows: those built in, and a person's own, each a file in a folder beside the ledger.
//! A file that is not right is passed over and told once; it never keeps a bench from starting.

use evenwire_core::meter::{self, Profile};
use std::fs;
use std::path::{Path, PathBuf};

/// Files read at most; those after them by name are passed over.
const MOST: usize = 200;
/// A profile is a page of text; what is larger is something else.
const MOST_BYTES: u64 = 256 * 1024;

/// The built-in profiles and those in `folder`. An own one takes the place of a built-in one of the same name.
pub(super) fn known(folder: &Path) -> Vec<Profile> {
    let (own, complaints) = own(folder);
    for complaint in complaints {
        tracing::warn!("a meter profile is passed over: {complaint}");
    }
    let is_replaced = |built_in: &Profile| own.iter().any(|profile| profile.name == built_in.name);
    let mut profiles: Vec<Profile> = meter::built_in().into_iter().filter(|profile| !is_replaced(profile)).collect();
    profiles.extend(own);
    profiles
}

/// The right ones, by file name, and every mistake of the others as `file:line:column: code: what: what instead`.
fn own(folder: &Path) -> (Vec<Profile>, Vec<String>) {
    let (mut profiles, mut complaints) = (Vec::new(), Vec::new());
    let files = match files(folder) {
        Ok(files) => files,
        Err(error) => return (profiles, vec![format!("{}: {error}", folder.display())]),
    };
    for path in files.iter().take(MOST) {
        match read(path) {
            Ok(profile) => profiles.push(profile),
            Err(mistakes) => complaints.extend(mistakes),
        }
    }
    if let Some(first) = files.get(MOST) {
        complaints.push(format!("{}: no more than {MOST} files are read", first.display()));
    }
    (profiles, complaints)
}

/// Files ending in `.toml`, in the order of their names. No folder is no file.
fn files(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    let listed = match fs::read_dir(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        listed => listed?,
    };
    let mut files = Vec::new();
    for entry in listed {
        let path = entry?.path();
        if path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("toml")) {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

fn read(path: &Path) -> Result<Profile, Vec<String>> {
    let name = path.display();
    let unreadable = |what: &dyn std::fmt::Display| vec![format!("{name}: {what}")];
    let about = fs::metadata(path).map_err(|e| unreadable(&e))?;
    // Opening a pipe would wait for whoever writes to it.
    if !about.is_file() {
        return Err(unreadable(&"it is no file"));
    }
    if about.len() > MOST_BYTES {
        return Err(unreadable(&"it is too large for a profile"));
    }
    let text = fs::read_to_string(path).map_err(|e| unreadable(&e))?;
    Profile::parse(&text).map_err(|mistakes| mistakes.iter().map(|mistake| format!("{name}:{mistake}")).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT_LINE: &str = include_str!("../../../src/meter/profiles/text-line.toml");

    #[test]
    fn own_profiles_are_added_and_take_the_place_of_built_in_ones() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(known(&folder.path().join("none")), meter::built_in(), "no folder, no own ones");
        let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
        write("b-mine.toml", &TEXT_LINE.replace("Text line meter", "Stores cupboard meter"));
        write("a-corrected.TOML", &TEXT_LINE.replace("period_ms = 250", "period_ms = 400"));
        write("notes.txt", "not looked at");
        let names: Vec<String> = known(folder.path()).into_iter().map(|profile| profile.name).collect();
        let mut wanted: Vec<String> = meter::built_in().into_iter().map(|profile| profile.name).collect();
        assert_eq!(wanted.remove(0), "Text line meter");
        wanted.extend(["Text line meter".into(), "Stores cupboard meter".into()]);
        assert_eq!(names, wanted);
    }

    #[test]
    fn files_that_are_not_right_are_told_and_the_others_read() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
        write("bad.toml", &TEXT_LINE.replace("unit = \"ohm\"", "unit = \"mho\""));
        write("good.toml", TEXT_LINE);
        write("huge.toml", &"#".repeat(300_000));
        fs::write(folder.path().join("odd.toml"), [0xFF, 0xFE]).unwrap();
        fs::create_dir(folder.path().join("sub.toml")).unwrap();
        let (profiles, complaints) = own(folder.path());
        assert_eq!(profiles.len(), 1);
        let line = 1 + TEXT_LINE.lines().position(|line| line.starts_with("unit = ")).unwrap();
        let bad = format!("{}:{line}:", folder.path().join("bad.toml").display());
        assert!(complaints[0].starts_with(&bad), "{complaints:?}");
        let named =
            ["bad", "huge", "odd", "sub"].map(|name| complaints.iter().any(|c| c.contains(&format!("{name}.toml:"))));
        assert_eq!(named, [true; 4], "{complaints:?}");
    }

    #[test]
    fn a_folder_that_is_a_file_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("profiles");
        fs::write(&path, "a file where a folder should be").unwrap();
        let (profiles, complaints) = own(&path);
        assert_eq!((profiles.len(), complaints.len()), (0, 1), "{complaints:?}");
    }
}
