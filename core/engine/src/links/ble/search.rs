//! Looking for meters, until told otherwise.

use super::eyes::Sign;
use super::station::Station;
use super::{Closed, Patience, Voice, Work};
use evenwire_core::meter::link::{LinkCommand, LinkState};
use std::convert::Infallible;
use tokio::sync::broadcast;
use tokio::time::Instant;

impl Work {
    /// Searches until a command ends it, and gives back that command.
    pub(super) async fn search(&mut self) -> Result<Option<LinkCommand>, Closed> {
        self.station.report_found();
        let next = {
            let Work { commands, voice, station, patience, .. } = self;
            let looking = look(voice, station, patience);
            tokio::pin!(looking);
            loop {
                tokio::select! {
                    never = &mut looking => match never { Err(closed) => break Err(closed), Ok(never) => match never {} },
                    command = commands.recv() => match command {
                        Some(LinkCommand::Search | LinkCommand::Listen { .. }) => {}
                        Some(other) => break Ok(Some(other)),
                        None => break Err(Closed),
                    },
                }
            }
        };
        self.station.report_none();
        self.station.stop_scan().await;
        next
    }
}

async fn look(voice: &mut Voice, station: &mut Station, patience: &Patience) -> Result<Infallible, Closed> {
    let mut signs = station.signs();
    let mut heard = Instant::now();
    loop {
        // A system forgets a scan when its adapter goes off or its daemon is started anew, and tells
        // nobody. Starting again is harmless, but asks for power, so it is done only after long quiet.
        let scans = station.is_scanning() && heard.elapsed() < patience.rescan;
        let state = match station.ready().await {
            Ok(_) if scans => Ok(()),
            Ok(adapter) => {
                heard = Instant::now();
                station.start_scan(&adapter).await
            }
            Err(trouble) => Err(trouble),
        };
        match state {
            Ok(()) => voice.state(LinkState::Searching).await?,
            Err(trouble) => {
                tracing::debug!(%trouble, "cannot search now");
                station.scan_is_over();
                if let Some(state) = trouble.surroundings() {
                    voice.state(state).await?;
                }
            }
        }
        let end = Instant::now() + patience.poll;
        if pause(&mut signs, end, voice).await? {
            heard = Instant::now();
        }
    }
}

/// Waits until `end`, or until the adapter's power changes. Tells whether any device was heard.
async fn pause(signs: &mut broadcast::Receiver<Sign>, end: Instant, voice: &Voice) -> Result<bool, Closed> {
    let mut heard = false;
    loop {
        tokio::select! {
            () = tokio::time::sleep_until(end) => return Ok(heard),
            () = voice.outbox.closed() => return Err(Closed),
            sign = signs.recv() => match sign {
                Ok(Sign::Power) | Err(broadcast::error::RecvError::Closed) => return Ok(heard),
                Ok(Sign::Heard) | Err(broadcast::error::RecvError::Lagged(_)) => heard = true,
                Ok(Sign::Left(_)) => {}
            },
        }
    }
}
