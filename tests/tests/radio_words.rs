//! What the screen says on bad days, with the real Bluetooth library between a pretended radio and the bench.
//! In every story: the right words, what to do about it, never a number older than its time, and live values
//! when the cause is gone.

use anyhow::{Result, ensure};
use evenwire_core::job::Command;
use evenwire_core::meter::link::{LinkState, RefusedWhy};
use evenwire_core::meter::{Flags, Shown};
use evenwire_core::unit::{Quantity, Unit};
use evenwire_engine::practice::meter_model::Display;
use evenwire_engine::practice::{Encoding, MeterModel};
use evenwire_tests::bluez::{Answer, Bluez, OHM_VALUE, PRESENTATION, ohm_meter, own_process};
use evenwire_tests::radio_bench::{RadioBench, battery_meter, practice_device, value_of};
use uuid::Uuid;

const METER: &str = "C0:00:00:00:00:01";
const OTHER: &str = "C0:00:00:00:00:02";
const OHMS: (&str, Uuid) = (METER, OHM_VALUE);

/// 0.35 and 1.20 ohm of the ready-made meter.
const BEFORE: [u8; 2] = [35, 0];
const AFTER: [u8; 2] = [120, 0];

fn story(name: &str, tell: impl AsyncFnOnce(RadioBench) -> Result<()>) {
    own_process(name, |folder| async move {
        let bluez = Bluez::start(&folder).await?;
        tell(RadioBench::start(bluez, &folder).await?).await
    });
}

/// The ready-made meter is connected and shows 0.35.
async fn live(bench: &mut RadioBench) -> Result<()> {
    bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
    bench.shows(OHMS, &BEFORE, "0.35").await?;
    bench.says("live", "Live", "")
}

/// It shows 1.20 by itself after whatever it was.
async fn live_again(bench: &mut RadioBench) -> Result<()> {
    bench.shows(OHMS, &AFTER, "1.20").await?;
    bench.says("live", "Live", "")
}

const NO_BLUETOOTH: (&str, &str, &str) =
    ("no-bluetooth", "Bluetooth is not available on this computer", "practice meter works");
const NO_ADAPTER: (&str, &str, &str) = ("no-adapter", "no Bluetooth adapter", "Plug one in");
const LOST: (&str, &str, &str) = ("lost", "link is lost. Trying again", "Touches taken are safe");

async fn said(bench: &mut RadioBench, (code, words, remedy): (&str, &str, &str)) -> Result<()> {
    bench.until_said(code, words, remedy).await
}

#[test]
fn no_bus_then_no_adapter_then_a_search() {
    own_process("no_bus_then_no_adapter_then_a_search", |folder| async move {
        let mut bench = RadioBench::start(Bluez::nothing(&folder), &folder).await?;
        bench.says("idle", "No meter is connected", "Search")?;
        bench.wish(Command::SearchMeters).await?;
        said(&mut bench, NO_BLUETOOTH).await?;
        bench.bluez.revive_bus().await?;
        said(&mut bench, NO_ADAPTER).await?;
        bench.bluez.plug_adapter(true).await?;
        bench.until_said("searching", "Searching for meters", "radio on").await?;
        live(&mut bench).await
    });
}

#[test]
fn no_daemon_until_it_starts() {
    own_process("no_daemon_until_it_starts", |folder| async move {
        let mut bench = RadioBench::start(Bluez::bus_only(&folder)?, &folder).await?;
        bench.wish(Command::SearchMeters).await?;
        said(&mut bench, NO_BLUETOOTH).await?;
        bench.bluez.start_daemon().await?;
        bench.bluez.plug_adapter(true).await?;
        bench.until_said("searching", "Searching for meters", "radio on").await?;
        live(&mut bench).await
    });
}

#[test]
fn the_adapter_is_pulled_out_while_measuring() {
    story("the_adapter_is_pulled_out_while_measuring", async |mut bench| {
        live(&mut bench).await?;
        bench.bluez.unplug_adapter().await?;
        bench.until_blank().await?;
        said(&mut bench, NO_ADAPTER).await?;
        bench.bluez.plug_adapter(true).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn a_person_switches_bluetooth_off_and_on() {
    story("a_person_switches_bluetooth_off_and_on", async |mut bench| {
        live(&mut bench).await?;
        bench.bluez.power(false).await?;
        bench.until_blank().await?;
        bench.until_said("adapter-off", "Bluetooth is switched off", "Switch it on").await?;
        ensure!(!bench.bluez.is_powered(), "the program switched it on: {:#?}", bench.bluez.calls());
        bench.bluez.power(true).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_link_breaks() {
    story("the_link_breaks", async |mut bench| {
        live(&mut bench).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Refuses("org.bluez.Error.Failed"))?;
        bench.bluez.drop_link(METER).await?;
        bench.until_blank().await?;
        said(&mut bench, LOST).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Does)?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_meter_vanishes_and_stays_away() {
    story("the_meter_vanishes_and_stays_away", async |mut bench| {
        live(&mut bench).await?;
        bench.bluez.vanish(METER).await?;
        bench.until_blank().await?;
        said(&mut bench, LOST).await?;
        bench.until_said("gave-up", "cannot be reached", "Check that it is on").await?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_meter_refuses_to_connect() {
    story("the_meter_refuses_to_connect", async |mut bench| {
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Refuses("org.bluez.Error.Failed"))?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until_said("refused", "refuses the connection", "another phone").await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Does)?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn a_connect_that_hangs_is_tried_again() {
    story("a_connect_that_hangs_is_tried_again", async |mut bench| {
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Hangs)?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until_said("connecting", "Connecting", "").await?;
        said(&mut bench, LOST).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Does)?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_meter_never_says_what_it_can_send() {
    story("the_meter_never_says_what_it_can_send", async |mut bench| {
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.manners(METER, |manners| manners.resolves = false)?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until_said("refused", "does not say what it can send", "off and on").await?;
        bench.bluez.manners(METER, |manners| manners.resolves = true)?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_meter_refuses_to_send() {
    story("the_meter_refuses_to_send", async |mut bench| {
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.manners(METER, |manners| manners.subscribing = Answer::Refuses("org.bluez.Error.Failed"))?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until_said("refused", "does not start sending", "off and on").await?;
        bench.bluez.manners(METER, |manners| manners.subscribing = Answer::Does)?;
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_daemon_restarts() {
    story("the_daemon_restarts", async |mut bench| {
        live(&mut bench).await?;
        bench.bluez.restart().await?;
        bench.until_blank().await?;
        said(&mut bench, LOST).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn the_bus_dies() {
    story("the_bus_dies", async |mut bench| {
        live(&mut bench).await?;
        bench.bluez.kill_bus();
        bench.until_blank().await?;
        said(&mut bench, NO_BLUETOOTH).await?;
        bench.bluez.revive_bus().await?;
        live_again(&mut bench).await
    });
}

#[test]
fn a_meter_is_silent_from_the_start() {
    story("a_meter_is_silent_from_the_start", async |mut bench| {
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until_said("subscribed", "No value yet", "switch the meter to sending").await?;
        said(&mut bench, LOST).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn a_meter_falls_silent() {
    story("a_meter_falls_silent", async |mut bench| {
        live(&mut bench).await?;
        bench.until_blank().await?;
        bench.says("stale", "last one is not shown any more", "is it on and near")?;
        said(&mut bench, LOST).await?;
        live_again(&mut bench).await
    });
}

#[test]
fn a_meter_that_is_no_ohmmeter_is_refused_and_another_is_chosen() {
    story("a_meter_that_is_no_ohmmeter_is_refused_and_another_is_chosen", async |mut bench| {
        let mut volts = ohm_meter(OTHER, 0x0E, -2);
        volts.name = "Bench volt meter".into();
        let descriptors = &mut volts.services[1].characteristics[0].descriptors;
        let described = descriptors.iter_mut().find(|(uuid, _)| *uuid == PRESENTATION).map(|(_, bytes)| bytes);
        described.expect("it describes itself")[2] = 0x28;
        for device in [volts, battery_meter("C0:00:00:00:00:03")] {
            let address = device.address.clone();
            bench.ask_for(device).await?;
            bench.until_said("refused", "sends no value that can be read here", "Choose another meter").await?;
            // The meter is let go, and the reason stays on the screen.
            bench.bluez.until_called(&format!("Disconnect dev_{}", address.replace(':', "_")), 1).await?;
            bench.search_for(&address).await?;
            ensure!(!bench.bluez.is_connected(&address), "left connected");
            assert_eq!(bench.view.meter.link, LinkState::Refused { why: RefusedWhy::NoReadableValue });
        }
        live(&mut bench).await
    });
}

/// The frames of the meter whose profile has signs.
fn frame(hundredths: i64, unit: Unit, flags: Flags) -> Vec<u8> {
    let shown = Shown::Value(Quantity::new(hundredths, 2, unit).expect("two places"));
    Encoding::StatusInteger.bytes(&Display { shown, places: 2, flags })
}

#[test]
fn a_dial_turned_away_from_ohm() {
    story("a_dial_turned_away_from_ohm", async |mut bench| {
        let (meter, signs) =
            (MeterModel { encoding: Encoding::StatusInteger, ..MeterModel::default() }, Flags::default());
        let sends = (METER, value_of(meter.encoding));
        bench.ask_for(practice_device(METER, &meter)).await?;
        bench.shows(sends, &frame(35, Unit::Ohm, signs), "0.35").await?;
        let wrong = |view: &evenwire_core::view::View| (view.meter.code == "wrong-unit").then_some(());
        bench.feed(sends, &frame(1_198, Unit::Volt, signs), wrong).await?;
        bench.until_said("wrong-unit", "not set to ohm", "dial").await?;
        bench.shows(sends, &frame(120, Unit::Ohm, signs), "1.20").await?;
        bench.says("live", "Live", "")
    });
}

#[test]
fn a_low_battery_and_a_held_display_are_said_beside_the_number() {
    story("a_low_battery_and_a_held_display_are_said_beside_the_number", async |mut bench| {
        let (meter, signs) =
            (MeterModel { encoding: Encoding::StatusInteger, ..MeterModel::default() }, Flags::default());
        let sends = (METER, value_of(meter.encoding));
        bench.ask_for(practice_device(METER, &meter)).await?;
        bench.shows(sends, &frame(35, Unit::Ohm, signs), "0.35").await?;
        bench.shows(sends, &frame(36, Unit::Ohm, Flags { low_battery: true, ..signs }), "0.36").await?;
        bench.says("low-battery", "Nothing is taken", "Change its battery")?;
        bench.shows(sends, &frame(37, Unit::Ohm, Flags { hold: true, ..signs }), "0.37").await?;
        bench.says("hold", "frozen", "hold key")?;
        bench.shows(sends, &frame(120, Unit::Ohm, signs), "1.20").await?;
        bench.says("live", "Live", "")?;
        // And the newest number goes as any other does.
        bench.until_blank().await?;
        bench.says("stale", "not shown any more", "on and near")
    });
}

#[test]
fn over_range_is_a_state_and_no_number() {
    story("over_range_is_a_state_and_no_number", async |mut bench| {
        let (meter, signs) =
            (MeterModel { encoding: Encoding::StatusInteger, ..MeterModel::default() }, Flags::default());
        let sends = (METER, value_of(meter.encoding));
        bench.ask_for(practice_device(METER, &meter)).await?;
        bench.shows(sends, &frame(35, Unit::Ohm, signs), "0.35").await?;
        let over = Encoding::StatusInteger.bytes(&Display { shown: Shown::OverRange, places: 2, flags: signs });
        bench.shows(sends, &over, "OL").await?;
        let shown = bench.view.meter.display.clone().expect("just shown");
        assert_eq!((shown.state.as_str(), shown.unit.as_str()), ("over-range", ""));
        bench.shows(sends, &frame(120, Unit::Ohm, signs), "1.20").await?;
        let shown = bench.view.meter.display.clone().expect("just shown");
        assert_eq!((shown.state.as_str(), shown.unit.as_str()), ("value", "Ω"));
        Ok(())
    });
}

#[test]
fn bytes_without_sense_are_never_a_number() {
    story("bytes_without_sense_are_never_a_number", async |mut bench| {
        live(&mut bench).await?;
        for nonsense in [vec![], vec![0], vec![1, 2, 3], vec![0xFF; 512]] {
            let unreadable = |view: &evenwire_core::view::View| (view.meter.code == "unreadable").then_some(());
            bench.feed(OHMS, &nonsense, unreadable).await?;
            bench.until_said("unreadable", "cannot be read", "choose another meter").await?;
            live_again(&mut bench).await?;
        }
        // Between two values: the number before it does not stay.
        bench.bluez.notify(METER, OHM_VALUE, [BEFORE.to_vec(), vec![9; 7]]).await?;
        bench.until_said("unreadable", "cannot be read", "choose another meter").await
    });
}
