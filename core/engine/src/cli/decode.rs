//! `evenwire-cli decode`: a recorded stream of a meter as readings. The rules are in
//! [`evenwire_core::meter::lines`]; here are only files and streams.

use evenwire_core::meter::lines::{LineDecoder, MAX_LINE};
use evenwire_core::meter::{Decoder, Profile};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::ExitCode;

/// Exit code 2: there is nothing to read at that path.
const WRONG_USAGE: u8 = 2;

/// Reads the lines `milliseconds hex` of `frames` (`-` is standard input) by the profile in `profile`, and
/// writes one line of JSON for each reading to standard output:
/// `{"at_ms":…,"state":"value"|"over-range"|"blank","value":"0.352"|null,"unit":"ohm","flags":[…]}`.
///
/// Bad lines and frames are told on standard error with the line's number, and the rest is still decoded;
/// the tally comes last. Gives 0 when all of the input was read, 1 when some of it or the profile was bad, 2 when a
/// file cannot be opened.
pub fn run(profile: &Path, frames: &Path) -> ExitCode {
    let profile = match read_profile(profile) {
        Ok(profile) => profile,
        Err(code) => return code,
    };
    let name = frames.display();
    let input: Box<dyn Read> = if frames.as_os_str() == "-" {
        Box::new(io::stdin().lock())
    } else {
        match File::open(frames) {
            Ok(file) => Box::new(file),
            Err(error) => {
                eprintln!("{name}: {error}");
                return ExitCode::from(WRONG_USAGE);
            }
        }
    };
    let mut lines = LineDecoder::new(Decoder::for_profile(&profile));
    let mut out = io::BufWriter::new(io::stdout().lock());
    let copied = decode(&mut BufReader::new(input), &mut lines, &mut out, &name.to_string());
    let tally = lines.tally();
    eprintln!(
        "{} readings, {} frames without a reading, {} bad lines, {} bytes skipped",
        tally.readings, tally.frame_errors, tally.bad_lines, tally.skipped
    );
    match copied {
        Ok(()) if tally.is_clean() => ExitCode::SUCCESS,
        Ok(()) => ExitCode::FAILURE,
        // Whoever reads our output has seen enough; that is no fault.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{name}: {error}");
            ExitCode::FAILURE
        }
    }
}

fn read_profile(path: &Path) -> Result<Profile, ExitCode> {
    let name = path.display();
    let text = std::fs::read_to_string(path).map_err(|error| {
        eprintln!("{name}: {error}");
        ExitCode::from(WRONG_USAGE)
    })?;
    Profile::parse(&text).map_err(|errors| {
        errors.iter().for_each(|error| eprintln!("{name}:{error}"));
        ExitCode::FAILURE
    })
}

/// Takes `input` line by line. A reading is written as soon as its line was read.
fn decode(input: &mut impl BufRead, lines: &mut LineDecoder, out: &mut impl Write, name: &str) -> io::Result<()> {
    let mut line = Vec::new();
    for number in 1u64.. {
        line.clear();
        // One byte over the limit is enough for it to be refused; its rest is then passed over.
        let limit = u64::try_from(MAX_LINE + 1).unwrap_or(u64::MAX);
        if input.by_ref().take(limit).read_until(b'\n', &mut line)? == 0 {
            break;
        }
        if line.len() > MAX_LINE && !line.ends_with(b"\n") {
            input.skip_until(b'\n')?;
        }
        match lines.push(&String::from_utf8_lossy(&line)) {
            Ok(results) => {
                for result in results {
                    match result {
                        Ok(json) => writeln!(out, "{json}")?,
                        Err(error) => eprintln!("{name}:{number}: {error}"),
                    }
                }
                out.flush()?;
            }
            Err(error) => eprintln!("{name}:{number}: {error}"),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use evenwire_core::meter::profile::BUILT_IN;

    #[test]
    fn a_bad_line_does_not_stop_the_others() {
        let named = BUILT_IN.iter().find(|(name, _)| *name == "named-medfloat.toml").expect("it is built in");
        let profile = Profile::parse(named.1).expect("valid");
        let mut lines = LineDecoder::new(Decoder::for_profile(&profile));
        let mut out = Vec::new();
        let long = format!("9 {}B9 E0", " ".repeat(20_000));
        let input = [b"0 B9E0\nrubbish\n\xFF\xFE\n", long.as_bytes(), b"\n250 FE07"].concat();
        decode(&mut &input[..], &mut lines, &mut out, "stream").expect("memory cannot fail");
        let out = String::from_utf8(out).expect("JSON");
        let states: Vec<bool> = out.lines().map(|line| line.contains("\"over-range\"")).collect();
        assert_eq!(states, [false, true]);
        assert_eq!((lines.tally().readings, lines.tally().bad_lines), (2, 3));
    }
}
