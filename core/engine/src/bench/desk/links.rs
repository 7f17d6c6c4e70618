//! What comes from the links to meters, and what they are told.

use super::{Desk, GO, Inlets};
use evenwire_core::job::Command;
use evenwire_core::meter::link::{LinkCommand, LinkEvent, Source};
use evenwire_core::session::Input;
use tokio::sync::mpsc;

impl Desk {
    /// What a meter sent and what was gathered of it is written before the bench ends.
    pub(super) fn finish(&mut self, inlets: &mut Inlets) {
        let waiting = [
            (Source::Radio, &mut inlets.radio),
            (Source::Practice, &mut inlets.practice),
            (Source::Replay, &mut inlets.replay),
        ];
        for (source, inlet) in waiting {
            // No more than was waiting: a meter may go on sending.
            for _ in 0..inlet.len() {
                let Ok(event) = inlet.try_recv() else { break };
                self.input(Input::Link(source, event));
            }
        }
        self.input(Input::Wish(Command::DisconnectMeter));
        self.witness();
    }

    pub(super) fn drain(&mut self, source: Source, first: LinkEvent, more: &mut mpsc::Receiver<LinkEvent>) {
        let mut next = Some(first);
        for _ in 0..GO {
            let Some(event) = next else { break };
            self.urgent |= !matches!(event, LinkEvent::Bytes { .. });
            self.dirty = true;
            self.input(Input::Link(source, event));
            next = more.try_recv().ok();
        }
        if let Some(event) = next {
            self.input(Input::Link(source, event));
        }
    }

    pub(super) fn send(&mut self, source: Option<Source>, command: &LinkCommand) {
        let to = |wanted: Source| source.is_none_or(|s| s == wanted);
        let outlets = [
            (to(Source::Radio), self.outlets.radio.as_ref()),
            (to(Source::Practice), Some(&self.outlets.practice)),
            (to(Source::Replay), self.outlets.replay.as_ref()),
        ];
        for outlet in outlets.into_iter().filter_map(|(meant, outlet)| outlet.filter(|_| meant)) {
            // A link takes its commands at once; one that has ended takes none, and its state says so.
            if outlet.try_send(command.clone()).is_err() {
                tracing::warn!(?command, "a link does not take commands");
            }
        }
    }

    pub(super) fn guide_hands(&mut self) {
        #[cfg(test)]
        super::tests::trip("guide");
        for wish in self.guide.says(&self.session) {
            // Full only when the practice link has ended.
            let _ended = self.outlets.wishes.try_send(wish);
        }
    }
}
