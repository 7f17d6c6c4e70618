//! The Bluetooth link on a good day: found, connected, described, listened to, every value once and in order.

use anyhow::{Result, ensure};
use evenwire_core::meter::link::{Channel, LinkCommand, LinkEvent, LinkState, Source};
use evenwire_tests::bluez::{Bluez, Characteristic, OHM_SERVICE, OHM_VALUE, SERIAL, ohm_meter, own_process};
use evenwire_tests::link_bench::{LinkBench, short_patience};
use std::time::Duration;

const METER: &str = "C0:00:00:00:00:01";

fn story(name: &str, tell: impl AsyncFnOnce(LinkBench) -> Result<()>) {
    own_process(
        name,
        |folder| async move { tell(LinkBench::start(Bluez::start(&folder).await?, short_patience())).await },
    );
}

fn numbered(count: u32) -> Vec<Vec<u8>> {
    (0..count).map(|number| number.to_le_bytes().to_vec()).collect()
}

#[test]
fn a_meter_is_found_and_tells_what_it_offers() {
    story("a_meter_is_found_and_tells_what_it_offers", async |mut bench| {
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        let meter = bench.find("Bench ohm meter").await?;
        assert_eq!((meter.signal, meter.source), (Some(-52), Source::Radio));
        bench.tell(LinkCommand::Connect { id: meter.id }).await?;
        let (generation, offer) = bench.until_connected().await?;
        assert_eq!(generation, 1);
        assert_eq!((offer.name.as_str(), offer.serial.as_deref()), ("Bench ohm meter", Some("OM-0042")));
        let ohms = Channel {
            service: OHM_SERVICE,
            characteristic: OHM_VALUE,
            notifies: true,
            presentation: Some(vec![0x0E, 0xFE, 0x2A, 0x27, 1, 0, 0]),
            valid_range: Some(vec![0, 0, 0x0F, 0x27]),
        };
        assert!(offer.channels.contains(&ohms), "{:#?}", offer.channels);
        assert!(offer.channels.iter().any(|each| each.characteristic == SERIAL && !each.notifies));
        let states: Vec<&LinkEvent> = bench.told.iter().filter(|event| !matches!(event, LinkEvent::Found(_))).collect();
        let expected = [LinkState::Searching, LinkState::Idle, LinkState::Connecting, LinkState::Discovering];
        assert_eq!(states[..4], expected.map(LinkEvent::State).each_ref());
        Ok(())
    });
}

#[test]
fn scanning_ends_before_connecting_and_the_measured_value_is_never_read() {
    story("scanning_ends_before_connecting_and_the_measured_value_is_never_read", async |mut bench| {
        let mut meter = ohm_meter(METER, 0x0E, -2);
        // Serial number and value under one service: only one of the two may be read.
        let serial = meter.services.remove(0).characteristics.remove(0);
        meter.services[0].characteristics.push(serial);
        bench.bluez.appear(meter).await?;
        bench.tell(LinkCommand::Search).await?;
        let id = bench
            .until(|event| match event {
                LinkEvent::Found(meter) => Some(meter.id.clone()),
                _ => None,
            })
            .await?;
        bench.tell(LinkCommand::Connect { id }).await?;
        bench.live_again(METER).await?;
        let calls = bench.bluez.calls();
        let place = |what: &str| calls.iter().position(|call| call.starts_with(what));
        ensure!(place("StopDiscovery") < place("Connect") && place("StopDiscovery").is_some(), "{calls:#?}");
        let reads: Vec<&String> = calls.iter().filter(|call| call.starts_with("ReadValue char")).collect();
        assert_eq!(reads, ["ReadValue char0005"], "the serial number and nothing else");
        Ok(())
    });
}

#[test]
fn a_thousand_values_a_second_for_five_seconds_arrive_once_and_in_order() {
    story("a_thousand_values_a_second_for_five_seconds_arrive_once_and_in_order", async |mut bench| {
        let generation = bench.live(ohm_meter(METER, 0x08, 0)).await?;
        let sending = take_while_sending(bench, generation, numbered(5_000)).await?;
        ensure!(sending > Duration::from_millis(4_900), "sent too fast to mean anything: {sending:?}");
        Ok(())
    });
}

/// Sends numbered values and takes them at the other end; asserts each came once, in order.
async fn take_while_sending(bench: LinkBench, generation: u32, sent: Vec<Vec<u8>>) -> Result<Duration> {
    let (bluez, mut ear) = bench.split();
    let start = std::time::Instant::now();
    let expected = sent.clone();
    let sender = async {
        bluez.notify_evenly(METER, 1_000, (OHM_VALUE, sent)).await?;
        anyhow::Ok(start.elapsed())
    };
    let taker = async {
        let mut last = 0;
        for (index, value) in expected.iter().enumerate() {
            match ear.next().await? {
                LinkEvent::Bytes { generation: through, bytes, characteristic, at } => {
                    ensure!(bytes == *value, "value {index} is {bytes:?}");
                    ensure!((through, characteristic) == (generation, OHM_VALUE));
                    ensure!(at.0 >= last, "time runs backwards");
                    last = at.0;
                }
                other => anyhow::bail!("{other:?} between values"),
            }
        }
        anyhow::Ok(())
    };
    let (sending, taken) = tokio::join!(sender, taker);
    taken?;
    sending
}

#[test]
fn a_burst_of_a_hundred_and_forty_thousand_waits_for_a_slow_engine() {
    story("a_burst_of_a_hundred_and_forty_thousand_waits_for_a_slow_engine", async |mut bench| {
        let generation = bench.live(ohm_meter(METER, 0x08, 0)).await?;
        // The engine takes nothing until all of it is on the bus; that is more than the link has room for.
        let sent = numbered(140_000);
        bench.bluez.notify(METER, OHM_VALUE, sent.clone()).await?;
        for (index, value) in sent.into_iter().enumerate() {
            let (through, bytes) = bench.value().await?;
            ensure!(through == generation && bytes == value, "value {index} is {bytes:?} through {through}");
        }
        Ok(())
    });
}

#[test]
fn doubles_and_garbage_are_passed_on_as_they_are() {
    story("doubles_and_garbage_are_passed_on_as_they_are", async |mut bench| {
        bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        let mut odd = vec![vec![0x2C, 0x01]; 50];
        odd.extend([vec![], vec![0xFF; 512], vec![0x00], b"\xF0\x28\x8C\xBC".to_vec()]);
        bench.bluez.notify(METER, OHM_VALUE, odd.clone()).await?;
        for value in odd {
            assert_eq!(bench.value().await?.1, value);
        }
        Ok(())
    });
}

#[test]
fn values_of_another_characteristic_are_not_mixed_in() {
    story("values_of_another_characteristic_are_not_mixed_in", async |mut bench| {
        let other = evenwire_tests::bluez::assigned(0x2A19);
        let mut meter = ohm_meter(METER, 0x0E, -2);
        let battery = Characteristic { uuid: other, flags: vec!["notify".into()], value: vec![], descriptors: vec![] };
        meter.services[1].characteristics.push(battery);
        let generation = bench.live(meter).await?;
        bench.tell(LinkCommand::Listen { generation, service: OHM_SERVICE, characteristic: other }).await?;
        bench.bluez.until_called("StartNotify", 2).await?;
        bench.bluez.notify(METER, other, [vec![99]]).await?;
        assert_eq!(bench.value().await?.1, [99]);
        ensure!(bench.bluez.notify(METER, OHM_VALUE, [vec![1]]).await.is_err(), "the first one is switched off");

        // Another program switches the first one on again: it is not ours.
        bench.bluez.start_notifying(METER, OHM_VALUE)?;
        bench.bluez.notify(METER, OHM_VALUE, [vec![1], vec![2]]).await?;
        bench.bluez.notify(METER, other, [vec![98]]).await?;
        assert_eq!(bench.value().await?.1, [98]);
        Ok(())
    });
}

#[test]
fn a_listen_for_an_older_connection_is_not_obeyed() {
    story("a_listen_for_an_older_connection_is_not_obeyed", async |mut bench| {
        let first = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.drop_link(METER).await?;
        let (second, _) = bench.until_connected().await?;
        ensure!(second > first);
        bench.tell(LinkCommand::Listen { generation: first, service: OHM_SERVICE, characteristic: OHM_VALUE }).await?;
        // The link looks after the meter from time to time: by the second look it has seen the command.
        let looks = bench.bluez.calls().iter().filter(|call| call.starts_with("GetAll dev")).count();
        bench.bluez.until_called("GetAll dev", looks + 2).await?;
        let starts = bench.bluez.calls().iter().filter(|call| call.starts_with("StartNotify")).count();
        assert_eq!(starts, 1, "of the first connection");
        bench.listen(second).await
    });
}

#[test]
fn values_sent_the_moment_notifications_are_on_are_not_lost() {
    story("values_sent_the_moment_notifications_are_on_are_not_lost", async |mut bench| {
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.manners(METER, |manners| manners.at_once = numbered(300))?;
        let (generation, _) = bench.until_connected().await?;
        // Waits for "subscribed": no value is told before that.
        bench.listen(generation).await?;
        for value in numbered(300) {
            assert_eq!(bench.value().await?, (generation, value));
        }
        Ok(())
    });
}

#[test]
fn letting_go_disconnects_and_says_so() {
    story("letting_go_disconnects_and_says_so", async |mut bench| {
        bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.tell(LinkCommand::Disconnect).await?;
        bench.until_state(LinkState::Idle).await?;
        ensure!(!bench.bluez.is_connected(METER));
        Ok(())
    });
}
