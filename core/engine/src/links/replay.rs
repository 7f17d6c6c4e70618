//! The replay link: a recorded stream comes again with its own times. For tests and support cases.
//!
//! A recording is a text of lines that end with LF:
//!
//! ```text
//! # evenwire-stream 1 SERVICE CHARACTERISTIC PRESENTATION RANGE
//! 0 2300ff01
//! 104 2300ff01
//! ```
//!
//! The first line names the channel: two UUIDs, then its 0x2904 and its 0x2906 descriptor as hexadecimal
//! digits, `-` for one it does not have. Each other line is one notification: milliseconds, never falling,
//! and its bytes. Empty lines and later lines that begin with `#` are passed over, so
//! `evenwire-cli decode` reads the same file.

use super::Generations;
use super::front::{Came, Front, Gone};
use evenwire_core::meter::lines::{LineError, parse_line};
use evenwire_core::meter::link::{Channel, FoundMeter, LinkCommand, LinkEvent, Offer, Source};
use evenwire_core::record::chunk::Sample;
use evenwire_core::unit::Millis;
use std::fmt::Write;
use std::time::Duration;
use tokio::sync::mpsc;
use uuid::Uuid;

/// Handle of the recording in [`LinkCommand::Connect`].
pub const ID: &str = "replay";
/// Most notifications of a recording: more than a day at 10 Hz.
pub const MOST: usize = 1_000_000;

const FIRST_WORDS: &str = "# evenwire-stream 1 ";
const SPEED_PERCENT: (u32, u32) = (10, 10_000);

/// A recorded stream of one channel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recording {
    /// What it is called when it is found.
    pub name: String,
    channel: Channel,
    notifications: Vec<(Millis, Vec<u8>)>,
}

/// Why a text is not a recording. Lines are counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RecordingError {
    /// The first line does not name a channel.
    #[error("1: the first line has to be `# evenwire-stream 1 SERVICE CHARACTERISTIC PRESENTATION RANGE`: {0}")]
    FirstLine(FirstLine),
    /// A line is not a moment with bytes.
    #[error("{line}: {why}")]
    Line {
        /// Which.
        line: usize,
        /// Why.
        why: LineError,
    },
    /// More than [`MOST`] notifications.
    #[error("{line}: more than {MOST} notifications")]
    TooLong {
        /// The first one too many.
        line: usize,
    },
}

/// What is wrong with the first line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FirstLine {
    /// It begins otherwise, or has more or fewer words.
    #[error("words are missing or too many")]
    Words,
    /// Service or characteristic is no UUID.
    #[error("a UUID is written like 8d2c0001-6b1f-4f0a-9a57-2f4e5d3b7c10")]
    Uuid,
    /// A descriptor is neither `-` nor whole bytes in hexadecimal digits.
    #[error("a descriptor is `-` or an even number of hexadecimal digits")]
    Descriptor,
}

impl Recording {
    /// Reads a recording called `name`.
    ///
    /// # Errors
    /// [`RecordingError`] with the first line that is wrong.
    pub fn parse(name: &str, text: &str) -> Result<Recording, RecordingError> {
        let mut lines = text.lines();
        let channel = first_line(lines.next().unwrap_or("")).map_err(RecordingError::FirstLine)?;
        let mut notifications: Vec<(Millis, Vec<u8>)> = Vec::new();
        for (index, text) in lines.enumerate() {
            let line = index + 2;
            let Some((at, bytes)) = parse_line(text).map_err(|why| RecordingError::Line { line, why })? else {
                continue;
            };
            if let Some((before, _)) = notifications.last().filter(|(before, _)| *before > at) {
                let why = LineError::TimeGoesBack { at: at.0, before: before.0 };
                return Err(RecordingError::Line { line, why });
            }
            if notifications.len() == MOST {
                return Err(RecordingError::TooLong { line });
            }
            notifications.push((at, bytes));
        }
        Ok(Recording { name: name.to_owned(), channel, notifications })
    }

    /// The channel it was recorded from.
    pub fn channel(&self) -> &Channel {
        &self.channel
    }

    /// The notifications in order, with their times as written.
    pub fn notifications(&self) -> &[(Millis, Vec<u8>)] {
        &self.notifications
    }

    fn offer(&self) -> Offer {
        // No serial number: a recording is not the instrument it came from.
        Offer { name: self.name.clone(), serial: None, channels: vec![self.channel.clone()] }
    }
}

/// Writes kept samples as a recording of `channel`, times counted from the first one. Samples without
/// bytes are left out.
pub fn record<'s>(channel: &Channel, samples: impl IntoIterator<Item = &'s Sample>) -> String {
    let descriptor = |bytes: &Option<Vec<u8>>| bytes.as_deref().map_or("-".to_owned(), hex);
    let (service, characteristic) = (channel.service, channel.characteristic);
    let (presentation, range) = (descriptor(&channel.presentation), descriptor(&channel.valid_range));
    let mut text = format!("{FIRST_WORDS}{service} {characteristic} {presentation} {range}\n");
    let mut first = None;
    for sample in samples.into_iter().filter(|sample| !sample.raw.is_empty()) {
        let start = *first.get_or_insert(sample.at);
        writeln!(text, "{} {}", sample.at.since(start).0, hex(&sample.raw)).expect("a text takes any line");
    }
    text
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn first_line(line: &str) -> Result<Channel, FirstLine> {
    let words: Vec<&str> = line.strip_prefix(FIRST_WORDS).ok_or(FirstLine::Words)?.split_whitespace().collect();
    let [service, characteristic, presentation, range] = words[..] else { return Err(FirstLine::Words) };
    let uuid = |word: &str| word.parse::<Uuid>().map_err(|_| FirstLine::Uuid);
    Ok(Channel {
        service: uuid(service)?,
        characteristic: uuid(characteristic)?,
        notifies: true,
        presentation: descriptor(presentation)?,
        valid_range: descriptor(range)?,
    })
}

fn descriptor(word: &str) -> Result<Option<Vec<u8>>, FirstLine> {
    if word == "-" {
        return Ok(None);
    }
    // The same digits as on any other line.
    match parse_line(&format!("0 {word}")) {
        Ok(Some((_, bytes))) => Ok(Some(bytes)),
        _ => Err(FirstLine::Descriptor),
    }
}

/// What is played.
#[derive(Clone, Debug)]
pub struct ReplaySetting {
    /// The recording.
    pub recording: Recording,
    /// 100 is as recorded; 10 to 10000.
    pub speed_percent: u32,
}

/// The ends of the channels a replay link holds.
#[derive(Debug)]
pub struct Ports {
    /// What the link is told.
    pub commands: mpsc::Receiver<LinkCommand>,
    /// What the link reports.
    pub events: mpsc::Sender<LinkEvent>,
}

/// Runs the link until `commands` or `events` is dropped at its other end. A recording begins when it is
/// listened to, each notification is stamped with the time it was due, and at its end the meter is lost
/// for good; connecting again plays it anew.
pub async fn run(
    ports: Ports,
    setting: ReplaySetting,
    clock: impl Fn() -> Millis + Send + Sync + 'static,
    generations: Generations,
) {
    let name = setting.recording.name.clone();
    let found = FoundMeter { id: ID.to_owned(), name, signal: None, source: Source::Replay };
    let (slowest, fastest) = SPEED_PERCENT;
    let work = Work {
        commands: ports.commands,
        front: Front::new(ports.events, generations, found),
        recording: setting.recording,
        speed_percent: u64::from(setting.speed_percent.clamp(slowest, fastest)),
        playing: None,
        clock,
    };
    let Gone = work.run().await;
}

/// How far a recording has been played.
struct Playing {
    start: Millis,
    next: usize,
}

struct Work<C> {
    commands: mpsc::Receiver<LinkCommand>,
    front: Front,
    recording: Recording,
    speed_percent: u64,
    playing: Option<Playing>,
    clock: C,
}

impl<C: Fn() -> Millis> Work<C> {
    async fn run(mut self) -> Gone {
        loop {
            let due = self.playing.as_ref().map(|playing| self.due(playing));
            let wait = due.unwrap_or_default().since((self.clock)());
            let done = tokio::select! {
                biased;
                command = self.commands.recv() => match command {
                    Some(command) => self.command(command).await,
                    None => Err(Gone),
                },
                () = tokio::time::sleep(Duration::from_millis(wait.0)), if due.is_some() => self.play().await,
            };
            if let Err(gone) = done {
                return gone;
            }
        }
    }

    async fn command(&mut self, command: LinkCommand) -> Result<(), Gone> {
        match self.front.obey(command, self.recording.offer()).await? {
            Came::Listening => self.playing = Some(Playing { start: (self.clock)(), next: 0 }),
            Came::Quiet => self.playing = None,
            Came::Same => {}
        }
        Ok(())
    }

    /// When the next notification is due; the end of the recording comes with its last one.
    fn due(&self, playing: &Playing) -> Millis {
        let list = &self.recording.notifications;
        let first = list.first().map_or(Millis(0), |(at, _)| *at);
        let next = list.get(playing.next).or(list.last()).map_or(first, |(at, _)| *at);
        Millis(playing.start.0.saturating_add(next.since(first).0.saturating_mul(100) / self.speed_percent))
    }

    async fn play(&mut self) -> Result<(), Gone> {
        let Some(playing) = &self.playing else { return Ok(()) };
        let due = self.due(playing);
        let Some((_, bytes)) = self.recording.notifications.get(playing.next) else {
            self.playing = None;
            return self.front.end().await;
        };
        let bytes = bytes.clone();
        self.front.notify(bytes, due).await?;
        if let Some(playing) = &mut self.playing {
            playing.next += 1;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
