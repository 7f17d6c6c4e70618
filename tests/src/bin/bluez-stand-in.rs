//! The Bluetooth stand-in from the command line, with one ohm meter that describes itself.

use anyhow::{Context, Result, bail};
use evenwire_tests::bluez::{Bluez, OHM_VALUE, ohm_meter};
use std::path::PathBuf;
use std::time::Duration;
use tokio::sync::mpsc;

const METER: &str = "C0:00:00:00:00:01";

const HELP: &str = "\
bluez-stand-in: a pretended Bluetooth with one ohm meter, for trying the program without a radio.

It prints the address of its bus on the first line of standard output and runs until standard input ends
(with --part) or it is interrupted. Start the program with DBUS_SYSTEM_BUS_ADDRESS set to that address.

  --folder DIR     where the bus has its socket (a new folder if not given)
  --format CODE    format code of descriptor 0x2904, as 14 or 0x0E (sint16, the default)
  --exponent N     decimal exponent of the descriptor (-2)
  --part           standard input says what happens, one thing a line:
                     a hexadecimal value to notify, lowest byte first, as 2C01; blanks are ignored
                     wait MS   drop   vanish   appear   off   on   restart
                   # begins a remark. A value waits until someone listens.
Without --part the meter shows a value that moves a little, four times a second.
";

struct Wishes {
    folder: Option<PathBuf>,
    format: u8,
    exponent: i8,
    part: bool,
}

fn main() -> Result<()> {
    let Some(wishes) = wishes(std::env::args().skip(1))? else {
        print!("{HELP}");
        return Ok(());
    };
    tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(run(wishes))
}

/// `None` asks for help.
fn wishes(mut words: impl Iterator<Item = String>) -> Result<Option<Wishes>> {
    let mut wishes = Wishes { folder: None, format: 0x0E, exponent: -2, part: false };
    while let Some(word) = words.next() {
        let mut value = || words.next().with_context(|| format!("{word} wants a value"));
        match word.as_str() {
            "--folder" => wishes.folder = Some(value()?.into()),
            "--format" => {
                let text = value()?;
                wishes.format = match text.strip_prefix("0x") {
                    Some(hex) => u8::from_str_radix(hex, 16),
                    None => text.parse(),
                }
                .with_context(|| format!("--format {text}: a number from 0 to 255"))?;
            }
            "--exponent" => wishes.exponent = value()?.parse().context("--exponent: a number from -128 to 127")?,
            "--part" => wishes.part = true,
            "--help" | "-h" => return Ok(None),
            other => bail!("{other} is not known; --help lists what is"),
        }
    }
    Ok(Some(wishes))
}

async fn run(wishes: Wishes) -> Result<()> {
    let made = tempfile::tempdir()?;
    let folder = wishes.folder.unwrap_or_else(|| made.path().to_owned());
    let mut bluez = Bluez::start(&folder).await?;
    bluez.appear(ohm_meter(METER, wishes.format, wishes.exponent)).await?;
    println!("{}", bluez.address());
    if wishes.part {
        return play(&mut bluez, wishes.format, wishes.exponent).await;
    }
    tokio::select! {
        done = show(&bluez) => done,
        interrupted = tokio::signal::ctrl_c() => Ok(interrupted?),
    }
}

/// 0.35 with a last digit that moves, as sint16 in hundredths: useful with the default format.
async fn show(bluez: &Bluez) -> Result<()> {
    let mut ticks = tokio::time::interval(Duration::from_millis(250));
    for shown in [35i16, 35, 36, 35, 34, 35].into_iter().cycle() {
        ticks.tick().await;
        bluez.until_listened(METER, OHM_VALUE).await?;
        // The program may have let go between the two; then the value is for nobody.
        let _ = bluez.notify(METER, OHM_VALUE, [shown.to_le_bytes().to_vec()]).await;
    }
    Ok(())
}

async fn play(bluez: &mut Bluez, format: u8, exponent: i8) -> Result<()> {
    let (sender, mut lines) = mpsc::channel(16);
    std::thread::spawn(move || {
        for line in std::io::stdin().lines().map_while(std::io::Result::ok) {
            if sender.blocking_send(line).is_err() {
                return;
            }
        }
    });
    let mut number = 0;
    while let Some(line) = lines.recv().await {
        number += 1;
        let line = line.split('#').next().unwrap_or_default().trim();
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            [] => {}
            ["drop"] => bluez.drop_link(METER).await?,
            ["vanish"] => bluez.vanish(METER).await?,
            ["appear"] => bluez.appear(ohm_meter(METER, format, exponent)).await?,
            ["off"] => bluez.power(false).await?,
            ["on"] => bluez.power(true).await?,
            ["restart"] => bluez.restart().await?,
            ["wait", time] => {
                let time = time.parse().with_context(|| format!("line {number}: wait how many milliseconds?"))?;
                tokio::time::sleep(Duration::from_millis(time)).await;
            }
            digits => {
                let value = bytes(&digits.concat()).with_context(|| format!("line {number}: {line}"))?;
                bluez.until_listened(METER, OHM_VALUE).await?;
                bluez.notify(METER, OHM_VALUE, [value]).await?;
            }
        }
    }
    Ok(())
}

fn bytes(hex: &str) -> Result<Vec<u8>> {
    if !hex.len().is_multiple_of(2) || !hex.bytes().all(|digit| digit.is_ascii_hexdigit()) {
        bail!("neither a word of the list nor pairs of hexadecimal digits");
    }
    (0..hex.len()).step_by(2).map(|at| Ok(u8::from_str_radix(&hex[at..at + 2], 16)?)).collect()
}
