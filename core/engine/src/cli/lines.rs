//! Case lines in, answer lines out, for the verbs `judge` and `sweep`.

use std::fmt::Display;
use std::fs::File;
use std::io::{self, BufRead, BufReader, BufWriter, Write};
use std::path::Path;
use std::process::ExitCode;

/// Exit code 1: it ran, but some line was bad or could not be written.
const SOME_BAD: u8 = 1;
/// Exit code 2: there is nothing to read at that path.
const WRONG_USAGE: u8 = 2;

/// Runs every line of a file (`-` is standard input) through `answer_to` and prints the answers on standard output.
///
/// `answer_to` gives `None` for a line that is not its business. Empty lines are skipped. A bad line is reported on
/// standard error as `FILE:LINE: what`, and the rest still answered. Gives exit code 0; 1 when a line was bad or the
/// output is closed; 2 when the file cannot be opened.
pub fn run<E: Display>(path: &Path, answer_to: impl Fn(&str) -> Result<Option<String>, E>) -> ExitCode {
    let input: Box<dyn BufRead> = if path == Path::new("-") {
        Box::new(io::stdin().lock())
    } else {
        match File::open(path) {
            Ok(file) => Box::new(BufReader::new(file)),
            Err(error) => {
                eprintln!("{}: {error}", path.display());
                return ExitCode::from(WRONG_USAGE);
            }
        }
    };
    let mut output = BufWriter::new(io::stdout().lock());
    match answer_lines(input, &mut output, &|number, what| eprintln!("{}:{number}: {what}", path.display()), answer_to)
    {
        Ok(0) => ExitCode::SUCCESS,
        Ok(_) => ExitCode::from(SOME_BAD),
        Err(error) => {
            eprintln!("{}: {error}", path.display());
            ExitCode::from(SOME_BAD)
        }
    }
}

/// Answers line by line and gives the number of bad ones. A line that is not UTF-8 is bad; the next is read all the same.
fn answer_lines<E: Display>(
    mut input: impl BufRead,
    output: &mut impl Write,
    report: &dyn Fn(usize, &dyn Display),
    answer_to: impl Fn(&str) -> Result<Option<String>, E>,
) -> io::Result<usize> {
    let mut bad = 0;
    let mut bytes = Vec::new();
    for number in 1.. {
        bytes.clear();
        if input.read_until(b'\n', &mut bytes)? == 0 {
            break;
        }
        let line = match std::str::from_utf8(&bytes) {
            // Some editors put a byte order mark in front of the first line.
            Ok(line) => line.trim_start_matches('\u{feff}').trim(),
            Err(error) => {
                report(number, &error);
                bad += 1;
                continue;
            }
        };
        if line.is_empty() {
            continue;
        }
        match answer_to(line) {
            Ok(Some(answer)) => writeln!(output, "{answer}")?,
            Ok(None) => {}
            Err(error) => {
                report(number, &error);
                bad += 1;
            }
        }
    }
    output.flush()?;
    Ok(bad)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::RefCell;

    #[test]
    fn a_bad_line_is_named_and_the_rest_is_still_answered() {
        let reported = RefCell::new(Vec::new());
        let report = |number: usize, what: &dyn Display| reported.borrow_mut().push(format!("{number}: {what}"));
        let mut output = Vec::new();
        let input = b"\xef\xbb\xbfone\n\nbad\r\n\xff\xfe\nother\ntwo".as_slice();
        let bad = answer_lines(input, &mut output, &report, |line| match line {
            "bad" => Err("it is bad"),
            "other" => Ok(None),
            line => Ok(Some(line.to_uppercase())),
        });
        assert_eq!(bad.unwrap(), 2);
        assert_eq!(String::from_utf8(output).unwrap(), "ONE\nTWO\n");
        let reported = reported.into_inner();
        assert_eq!(reported.len(), 2);
        assert_eq!(reported[0], "3: it is bad");
        assert!(reported[1].starts_with("4: "), "{reported:?}");
    }
}
