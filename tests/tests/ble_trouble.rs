//! The Bluetooth link on bad days. Each story is one way a radio fails: the right words on the screen while
//! it lasts, and values again when the cause is gone.

use anyhow::{Result, ensure};
use evenwire_core::meter::link::{LinkCommand, LinkEvent, LinkState, RefusedWhy};
use evenwire_tests::bluez::{Answer, Bluez, OHM_SERVICE, OHM_VALUE, ohm_meter, own_process};
use evenwire_tests::link_bench::{LinkBench, short_patience};
use std::path::Path;
use std::time::Duration;

const METER: &str = "C0:00:00:00:00:01";

fn story(name: &str, tell: impl AsyncFnOnce(LinkBench) -> Result<()>) {
    own_process(name, |folder| async move { tell(bench(&folder).await?).await });
}

async fn bench(folder: &Path) -> Result<LinkBench> {
    Ok(LinkBench::start(Bluez::start(folder).await?, short_patience()))
}

fn count(bench: &LinkBench, what: &str) -> usize {
    bench.bluez.calls().iter().filter(|call| call.starts_with(what)).count()
}

#[test]
fn without_a_bus_there_is_no_bluetooth_until_it_starts() {
    own_process("without_a_bus_there_is_no_bluetooth_until_it_starts", |folder| async move {
        let mut bench = LinkBench::start(Bluez::nothing(&folder), short_patience());
        bench.tell(LinkCommand::Search).await?;
        bench.until_state(LinkState::NoBluetooth).await?;
        bench.bluez.revive_bus().await?;
        bench.until_state(LinkState::NoAdapter).await?;
        bench.bluez.plug_adapter(true).await?;
        bench.until_state(LinkState::Searching).await
    });
}

#[test]
fn without_the_daemon_there_is_no_bluetooth_until_it_starts() {
    own_process("without_the_daemon_there_is_no_bluetooth_until_it_starts", |folder| async move {
        let mut bench = LinkBench::start(Bluez::bus_only(&folder)?, short_patience());
        bench.tell(LinkCommand::Search).await?;
        bench.until_state(LinkState::NoBluetooth).await?;
        bench.bluez.start_daemon().await?;
        bench.bluez.plug_adapter(true).await?;
        bench.until_state(LinkState::Searching).await?;
        bench.tell(LinkCommand::StopSearch).await?;
        bench.until_state(LinkState::Idle).await?;
        bench.live(ohm_meter(METER, 0x0E, -2)).await.map(drop)
    });
}

#[test]
fn an_adapter_that_is_pulled_out_is_missed_and_found_again() {
    story("an_adapter_that_is_pulled_out_is_missed_and_found_again", async |mut bench| {
        let first = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.unplug_adapter().await?;
        bench.until_state(LinkState::NoAdapter).await?;
        bench.bluez.plug_adapter(true).await?;
        ensure!(bench.live_again(METER).await? > first);
        Ok(())
    });
}

#[test]
fn searching_never_switches_an_adapter_on() {
    story("searching_never_switches_an_adapter_on", async |mut bench| {
        bench.bluez.power(false).await?;
        bench.tell(LinkCommand::Search).await?;
        bench.until_state(LinkState::AdapterOff).await?;
        let looks = count(&bench, "GetManagedObjects");
        bench.bluez.until_called("GetManagedObjects", looks + 4).await?;
        ensure!(!bench.bluez.is_powered(), "switched on: {:#?}", bench.bluez.calls());
        assert_eq!(count(&bench, "Set hci0 Powered") + count(&bench, "StartDiscovery"), 0);

        bench.bluez.power(true).await?;
        bench.until_state(LinkState::Searching).await?;
        // Off in the middle of a search: it stays off, however long the link waits.
        bench.bluez.power(false).await?;
        bench.until_state(LinkState::AdapterOff).await?;
        let (looks, scans) = (count(&bench, "GetManagedObjects"), count(&bench, "StartDiscovery"));
        bench.bluez.until_called("GetManagedObjects", looks + 10).await?;
        ensure!(!bench.bluez.is_powered(), "switched on: {:#?}", bench.bluez.calls());
        assert_eq!(count(&bench, "StartDiscovery"), scans);

        // And on again: the search goes on by itself.
        bench.bluez.power(true).await?;
        bench.until_state(LinkState::Searching).await?;
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until(|event| matches!(event, LinkEvent::Found(_)).then_some(())).await
    });
}

#[test]
fn an_adapter_switched_off_while_measuring_stays_off_and_the_meter_comes_back_with_it() {
    let name = "an_adapter_switched_off_while_measuring_stays_off_and_the_meter_comes_back_with_it";
    story(name, async |mut bench| {
        let first = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.power(false).await?;
        bench.until_state(LinkState::AdapterOff).await?;
        let looks = count(&bench, "GetManagedObjects");
        bench.bluez.until_called("GetManagedObjects", looks + 10).await?;
        ensure!(!bench.bluez.is_powered(), "switched on: {:#?}", bench.bluez.calls());
        bench.bluez.power(true).await?;
        ensure!(bench.live_again(METER).await? > first);
        Ok(())
    });
}

#[test]
fn a_broken_link_is_made_again_under_a_new_generation() {
    story("a_broken_link_is_made_again_under_a_new_generation", async |mut bench| {
        let mut last = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        for round in 1..=5u8 {
            // What was sent just before the break still belongs to the old connection and is not lost.
            bench.bluez.notify(METER, OHM_VALUE, [vec![round, 1], vec![round, 2]]).await?;
            bench.bluez.drop_link(METER).await?;
            assert_eq!(bench.value().await?, (last, vec![round, 1]));
            assert_eq!(bench.value().await?, (last, vec![round, 2]));
            bench.until_lost().await?;
            let next = bench.live_again(METER).await?;
            ensure!(next > last, "{next} after {last}");
            last = next;
        }
        Ok(())
    });
}

#[test]
fn a_late_word_about_an_earlier_loss_is_not_believed() {
    story("a_late_word_about_an_earlier_loss_is_not_believed", async |mut bench| {
        let generation = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.say_dropped(METER).await?;
        // The link asks the meter itself; when it has, values still come through the same connection.
        let asked = count(&bench, "GetAll dev");
        bench.bluez.until_called("GetAll dev", asked + 1).await?;
        bench.bluez.notify(METER, OHM_VALUE, [vec![3, 3]]).await?;
        match bench.next().await? {
            LinkEvent::Bytes { generation: through, bytes, .. } => {
                assert_eq!((through, bytes), (generation, vec![3, 3]))
            }
            other => anyhow::bail!("{other:?} instead of the value"),
        }
        Ok(())
    });
}

#[test]
fn a_meter_that_vanishes_without_a_word_is_missed_and_looked_for() {
    story("a_meter_that_vanishes_without_a_word_is_missed_and_looked_for", async |mut bench| {
        let first = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.vanish(METER).await?;
        bench.until_lost().await?;
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        ensure!(bench.live_again(METER).await? > first);
        Ok(())
    });
}

#[test]
fn a_meter_that_stays_away_is_given_up_and_can_be_asked_for_again() {
    story("a_meter_that_stays_away_is_given_up_and_can_be_asked_for_again", async |mut bench| {
        bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.vanish(METER).await?;
        bench.until_state(LinkState::GaveUp).await?;
        ensure!(bench.told.iter().any(|event| matches!(event, LinkEvent::State(LinkState::Lost { .. }))));
        bench.live(ohm_meter(METER, 0x0E, -2)).await.map(drop)
    });
}

#[test]
fn a_connect_that_hangs_ends_in_time_and_is_taken_back() {
    story("a_connect_that_hangs_ends_in_time_and_is_taken_back", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.bluez.appear(meter.clone()).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Hangs)?;
        bench.ask_for(meter).await?;
        bench.until_lost().await?;
        ensure!(count(&bench, "Disconnect") >= 1, "not taken back: {:#?}", bench.bluez.calls());
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Does)?;
        bench.live_again(METER).await.map(drop)
    });
}

#[test]
fn a_hanging_connect_can_be_cancelled_and_is_taken_back() {
    story("a_hanging_connect_can_be_cancelled_and_is_taken_back", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.bluez.appear(meter.clone()).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Hangs)?;
        bench.ask_for(meter).await?;
        bench.bluez.until_called("Connect", 1).await?;
        bench.tell(LinkCommand::Disconnect).await?;
        bench.until_state(LinkState::Idle).await?;
        assert_eq!(count(&bench, "Disconnect"), 1);
        ensure!(!bench.told.iter().any(|event| matches!(event, LinkEvent::State(LinkState::Lost { .. }))));
        Ok(())
    });
}

#[test]
fn a_meter_that_refuses_to_connect_is_refused_after_three_tries() {
    story("a_meter_that_refuses_to_connect_is_refused_after_three_tries", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.bluez.appear(meter.clone()).await?;
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Refuses("org.bluez.Error.Failed"))?;
        bench.ask_for(meter.clone()).await?;
        bench.until_state(LinkState::Refused { why: RefusedWhy::Connection }).await?;
        assert_eq!(count(&bench, "Connect"), 3);
        bench.bluez.manners(METER, |manners| manners.connecting = Answer::Does)?;
        bench.live(meter).await.map(drop)
    });
}

#[test]
fn a_meter_without_services_is_refused_and_let_go() {
    story("a_meter_without_services_is_refused_and_let_go", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.bluez.appear(meter.clone()).await?;
        bench.bluez.manners(METER, |manners| manners.resolves = false)?;
        bench.ask_for(meter.clone()).await?;
        bench.until_state(LinkState::Refused { why: RefusedWhy::NoServices }).await?;
        ensure!(!bench.bluez.is_connected(METER), "left connected");
        bench.bluez.manners(METER, |manners| manners.resolves = true)?;
        bench.live(meter).await.map(drop)
    });
}

#[test]
fn a_meter_that_resolves_to_nothing_is_refused() {
    story("a_meter_that_resolves_to_nothing_is_refused", async |mut bench| {
        let mut meter = ohm_meter(METER, 0x0E, -2);
        meter.services.clear();
        bench.ask_for(meter).await?;
        bench.until_state(LinkState::Refused { why: RefusedWhy::NoServices }).await
    });
}

#[test]
fn a_subscription_that_hangs_is_a_loss_and_is_tried_again() {
    story("a_subscription_that_hangs_is_a_loss_and_is_tried_again", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.ask_for(meter).await?;
        let (generation, _) = bench.until_connected().await?;
        bench.bluez.manners(METER, |manners| manners.subscribing = Answer::Hangs)?;
        bench.tell(LinkCommand::Listen { generation, service: OHM_SERVICE, characteristic: OHM_VALUE }).await?;
        bench.until_lost().await?;
        bench.bluez.manners(METER, |manners| manners.subscribing = Answer::Does)?;
        ensure!(bench.live_again(METER).await? > generation);
        Ok(())
    });
}

#[test]
fn refused_notifications_are_said_after_three_tries() {
    story("refused_notifications_are_said_after_three_tries", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.ask_for(meter.clone()).await?;
        let no = Answer::Refuses("org.bluez.Error.Failed");
        bench.bluez.manners(METER, |manners| manners.subscribing = no)?;
        for _ in 0..3 {
            let (generation, _) = bench.until_connected().await?;
            bench.tell(LinkCommand::Listen { generation, service: OHM_SERVICE, characteristic: OHM_VALUE }).await?;
        }
        bench.until_state(LinkState::Refused { why: RefusedWhy::Notifications }).await?;
        ensure!(!bench.bluez.is_connected(METER), "left connected");
        bench.bluez.manners(METER, |manners| manners.subscribing = Answer::Does)?;
        bench.live(meter).await.map(drop)
    });
}

#[test]
fn notifications_that_are_on_already_are_taken_if_they_flow() {
    story("notifications_that_are_on_already_are_taken_if_they_flow", async |mut bench| {
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        let (generation, _) = bench.until_connected().await?;
        bench.bluez.start_notifying(METER, OHM_VALUE)?;
        bench.listen(generation).await?;
        bench.bluez.notify(METER, OHM_VALUE, [vec![7, 0]]).await?;
        assert_eq!(bench.value().await?, (generation, vec![7, 0]));
        Ok(())
    });
}

#[test]
fn a_restarted_daemon_is_noticed_by_silence() {
    story("a_restarted_daemon_is_noticed_by_silence", async |mut bench| {
        let first = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.restart().await?;
        bench.until_lost().await?;
        ensure!(bench.live_again(METER).await? > first);
        Ok(())
    });
}

#[test]
fn a_restarted_daemon_ends_a_search_that_is_begun_again() {
    story("a_restarted_daemon_ends_a_search_that_is_begun_again", async |mut bench| {
        bench.tell(LinkCommand::Search).await?;
        bench.until_state(LinkState::Searching).await?;
        bench.bluez.restart().await?;
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until(|event| matches!(event, LinkEvent::Found(_)).then_some(())).await
    });
}

#[test]
fn a_bus_that_dies_is_noticed_and_a_new_one_is_used() {
    story("a_bus_that_dies_is_noticed_and_a_new_one_is_used", async |mut bench| {
        let first = bench.live(ohm_meter(METER, 0x0E, -2)).await?;
        bench.bluez.kill_bus();
        bench.until_state(LinkState::NoBluetooth).await?;
        bench.bluez.revive_bus().await?;
        ensure!(bench.live_again(METER).await? > first);
        Ok(())
    });
}

#[test]
fn a_scan_that_another_program_began_is_shared() {
    story("a_scan_that_another_program_began_is_shared", async |mut bench| {
        bench.bluez.scan_for_another_program()?;
        bench.tell(LinkCommand::Search).await?;
        bench.until_state(LinkState::Searching).await?;
        bench.bluez.appear(ohm_meter(METER, 0x0E, -2)).await?;
        bench.until(|event| matches!(event, LinkEvent::Found(_)).then_some(())).await
    });
}

#[test]
fn a_meter_that_says_nothing_is_connected_anew_until_it_speaks() {
    story("a_meter_that_says_nothing_is_connected_anew_until_it_speaks", async |mut bench| {
        bench.ask_for(ohm_meter(METER, 0x0E, -2)).await?;
        let (first, _) = bench.until_connected().await?;
        bench.listen(first).await?;
        bench.until_lost().await?;
        let second = bench.live_again(METER).await?;
        // It falls silent, still connected.
        bench.until_lost().await?;
        ensure!(bench.live_again(METER).await? > second && second > first);
        Ok(())
    });
}

#[test]
fn a_slow_meter_is_waited_for() {
    story("a_slow_meter_is_waited_for", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.bluez.appear(meter.clone()).await?;
        bench.bluez.manners(METER, |manners| manners.delay = Duration::from_millis(60))?;
        bench.live(meter).await?;
        ensure!(!bench.told.iter().any(|event| matches!(event, LinkEvent::State(LinkState::Lost { .. }))));
        Ok(())
    });
}

#[test]
fn a_meter_that_hides_its_descriptors_is_offered_without_them() {
    story("a_meter_that_hides_its_descriptors_is_offered_without_them", async |mut bench| {
        let meter = ohm_meter(METER, 0x0E, -2);
        bench.bluez.appear(meter.clone()).await?;
        let no = Answer::Refuses("org.bluez.Error.NotPermitted");
        bench.bluez.manners(METER, |manners| manners.reading = no)?;
        bench.ask_for(meter).await?;
        let (_, offer) = bench.until_connected().await?;
        assert_eq!((offer.serial, offer.channels.len()), (None, 2));
        ensure!(offer.channels.iter().all(|each| each.presentation.is_none() && each.valid_range.is_none()));
        Ok(())
    });
}
