//! `verify`: is a claim file as it was signed. Needs nothing but the file.

use evenwire_core::claim::{self, Proved};
use std::fmt::Write;
use std::path::Path;
use std::process::ExitCode;

/// Most bytes of a file that is looked at: what a claim file can hold.
const MOST: u64 = claim::MAX_BYTES as u64;

/// Says that nothing was changed and whose key signed, or names the first thing that was. `fingerprint`: the one the
/// workshop named, of the hub or device that made the file or of a device that signed every entry of the job. Exit code
/// 0: unchanged, and signed by that key if one was named. 1: changed, no claim file, or another key. 2: the file cannot
/// be read.
pub fn run(path: &Path, fingerprint: Option<&str>) -> ExitCode {
    let name = path.display();
    let length = std::fs::metadata(path).map(|about| about.len());
    let bytes = match length.and_then(|length| if length > MOST { Ok(Vec::new()) } else { std::fs::read(path) }) {
        Ok(bytes) => bytes,
        Err(error) => {
            eprintln!("{name}: {error}");
            return ExitCode::from(2);
        }
    };
    let proved = match claim::verify(&bytes) {
        Ok(proved) => proved,
        Err(fault) => {
            eprintln!("{name}: NOT as it was signed: {fault}");
            return ExitCode::FAILURE;
        }
    };
    let compared = match fingerprint.map(|wanted| compared(&proved, wanted)) {
        None => {
            "Compare it with the one the workshop names (--key): whoever has another key can make a file, too.".into()
        }
        Some(Ok(words)) => words,
        Some(Err(words)) => {
            eprintln!("{name}: nothing was changed, but {words}");
            return ExitCode::FAILURE;
        }
    };
    println!("{name}: unchanged since it was signed");
    print!("{}", told(&proved, &compared));
    ExitCode::SUCCESS
}

/// A fingerprint read out loud and typed: case, blanks and dashes are no difference.
fn same(typed: &str, found: &str) -> bool {
    let digits = |text: &str| -> String {
        text.chars().filter(char::is_ascii_alphanumeric).map(|digit| digit.to_ascii_lowercase()).collect()
    };
    digits(typed) == digits(found)
}

/// What the key that was named signed; `Err` where that is not all that was done.
fn compared(proved: &Proved, wanted: &str) -> Result<String, String> {
    let found = proved.key.fingerprint();
    if same(wanted, &found) {
        return Ok("which is the one you named".into());
    }
    let of_device = proved.signers.iter().find(|(key, _)| same(wanted, &key.fingerprint()));
    match of_device {
        None => Err(format!("it was signed by another key: {found}, not {wanted}")),
        Some((_, covered)) if *covered == proved.entries => {
            Ok("The key you named signed every entry of the job; what is there to read, the report for one, only the key above.".into())
        }
        Some((_, covered)) => {
            Err(format!("the key you named signed {covered} of its {} entries; {found} signed the rest", proved.entries))
        }
    }
}

fn told(proved: &Proved, compared: &str) -> String {
    let mut text = String::new();
    let mut line = |words: String| writeln!(text, "  {words}").expect("a text takes every line");
    line(format!(
        "job {}: {} entries, {} to {}",
        proved.job,
        proved.entries,
        proved.span.0.as_str(),
        proved.span.1.as_str()
    ));
    let maker = if proved.made_by_device { "device" } else { "put together by the shop's hub" };
    line(format!("{maker} {}, file made {}", proved.device, proved.made.as_str()));
    let more = proved.entries - proved.sealed;
    match proved.heads {
        0 => line("the device gave no signature while the job was worked on, only over this file".into()),
        _ if more == 0 => line("the device signed all entries when it closed the job".into()),
        _ => line(format!("the device signed {} entries when it closed the job; {more} came later", proved.sealed)),
    }
    if !proved.details {
        line("customer and vehicle: not in this file (erased, or left out)".into());
    }
    for name in &proved.missing {
        line(format!("{name}: not in this file (erased, or lost); its entry names it by its hash"));
    }
    if proved.unknown > 0 {
        line(format!("{} entries of a newer program, unchanged, not understood here", proved.unknown));
    }
    for (key, covered) in proved.signers.iter().filter(|(key, _)| **key != proved.key) {
        line(format!("the first {covered} entries signed by key {} of the device", key.fingerprint()));
    }
    line(format!("file signed by key {}", proved.key.fingerprint()));
    line(compared.into());
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fingerprint_is_the_same_however_it_is_typed() {
        assert!(same("AB12 cd34", "ab12-cd34") && !same("ab12-cd35", "ab12-cd34") && !same("", "ab12"));
    }
}
