//! The stand-in as a program: what `bluez-stand-in --part` reads is what the link reports.

use anyhow::{Context, Result, ensure};
use evenwire_core::meter::link::{LinkCommand, LinkEvent};
use evenwire_tests::bluez::{Bluez, OHM_SERVICE, OHM_VALUE, address, own_process};
use evenwire_tests::link_bench::{LinkBench, short_patience};
use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};

#[test]
fn a_script_on_standard_input_is_measured_by_the_link() {
    own_process("a_script_on_standard_input_is_measured_by_the_link", |folder| async move {
        let mut stand_in = Command::new(env!("CARGO_BIN_EXE_bluez-stand-in"))
            .args(["--format", "0x0E", "--exponent", "-3", "--part", "--folder"])
            .arg(&folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()?;
        let mut first = String::new();
        BufReader::new(stand_in.stdout.take().context("no output")?).read_line(&mut first)?;
        assert_eq!(first.trim(), address(&folder));
        let mut script = stand_in.stdin.take().context("no input")?;
        writeln!(script, "# two values, then the link breaks\n5E 01\n5F01\ndrop\n6001")?;

        let mut bench = LinkBench::start(Bluez::nothing(&folder), short_patience());
        let id = bench.find("Bench ohm meter").await?.id;
        bench.tell(LinkCommand::Connect { id }).await?;
        let (first, offer) = bench.until_connected().await?;
        ensure!(
            offer.channels.iter().any(|each| each.presentation.as_deref().is_some_and(|raw| raw[..2] == [0x0E, 0xFD]))
        );
        bench.listen(first).await?;
        assert_eq!(bench.value().await?, (first, vec![0x5E, 0x01]));
        assert_eq!(bench.value().await?, (first, vec![0x5F, 0x01]));
        let (second, _) = bench.until_connected().await?;
        bench.tell(LinkCommand::Listen { generation: second, service: OHM_SERVICE, characteristic: OHM_VALUE }).await?;
        assert_eq!(bench.value().await?, (second, vec![0x60, 0x01]));
        drop(script);
        ensure!(stand_in.wait()?.success(), "it ends with its input");
        twice_connected(&bench)
    });
}

fn twice_connected(bench: &LinkBench) -> Result<()> {
    let connects = bench.told.iter().filter(|event| matches!(event, LinkEvent::Connected { .. })).count();
    ensure!(connects == 2, "{:#?}", bench.told);
    Ok(())
}
