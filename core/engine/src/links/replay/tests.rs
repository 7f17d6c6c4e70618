use super::{FirstLine, ID, Ports, Recording, RecordingError, ReplaySetting, record, run};
use crate::links::Generations;
use crate::practice::{MeterModel, PartModel, PracticeBench, encoding};
use evenwire_core::meter::lines::LineError;
use evenwire_core::meter::link::{LinkCommand, LinkEvent, LinkState, Source};
use evenwire_core::record::chunk::{Gathering, Sample};
use evenwire_core::unit::Millis;
use tokio::sync::mpsc;
use tokio::time::Instant;
use uuid::Uuid;

const FIRST: &str = "# evenwire-stream 1 8d2c0001-6b1f-4f0a-9a57-2f4e5d3b7c10 \
                     8d2c0002-6b1f-4f0a-9a57-2f4e5d3b7c10 17002a27010601 -\n";

#[test]
fn kept_samples_become_a_recording_and_come_back() {
    let mut bench = PracticeBench::new(PartModel::random(3), MeterModel::default(), 3);
    let mut gathering = Gathering::new(Uuid::nil(), None, Uuid::nil(), 1);
    for frame in bench.step(Millis(20_000)) {
        gathering.push(Sample { at: Millis(frame.at.0 + 777_000), raw: frame.bytes, shown: Vec::new() });
    }
    let samples = gathering.chunk(Millis(800_000), true).samples().unwrap();
    assert!(samples.len() > 150);
    let channel = encoding::offer(&MeterModel::default()).channels.remove(0);
    let text = record(&channel, &samples);
    let recording = Recording::parse("yesterday", &text).unwrap();
    assert_eq!(recording.channel(), &channel);
    assert_eq!(recording.notifications().len(), samples.len());
    let start = samples[0].at;
    for (sample, (at, bytes)) in samples.iter().zip(recording.notifications()) {
        assert_eq!((sample.at.since(start), &sample.raw), (*at, bytes));
    }
}

#[test]
fn mistakes_are_told_with_their_line() {
    let told = |text: &str| Recording::parse("x", text).expect_err("a mistake");
    assert_eq!(told(""), RecordingError::FirstLine(FirstLine::Words));
    assert_eq!(told("0 17\n"), RecordingError::FirstLine(FirstLine::Words));
    assert_eq!(told(&FIRST.replace(" -", "")), RecordingError::FirstLine(FirstLine::Words));
    assert_eq!(told(&FIRST.replace("8d2c0001-", "8d2c001-")), RecordingError::FirstLine(FirstLine::Uuid));
    assert_eq!(told(&FIRST.replace("17002a", "1702a")), RecordingError::FirstLine(FirstLine::Descriptor));
    let line = |lines: &str| told(&format!("{FIRST}{lines}"));
    assert_eq!(line("0 17\n\nx 17\n"), RecordingError::Line { line: 4, why: LineError::Time });
    assert_eq!(line("0 1\n"), RecordingError::Line { line: 2, why: LineError::HalfByte });
    assert_eq!(line("5 17\n4 17\n").to_string(), "3: the time goes back: 4 ms after 5 ms");
    let fine = Recording::parse("x", &format!("{FIRST}# a remark\n\n5 17\n5 18 19\n")).unwrap();
    assert_eq!(fine.notifications(), [(Millis(5), vec![0x17]), (Millis(5), vec![0x18, 0x19])]);
    assert_eq!(fine.channel().valid_range, None);
}

struct Player {
    commands: mpsc::Sender<LinkCommand>,
    events: mpsc::Receiver<LinkEvent>,
}

impl Player {
    fn start(lines: &str, speed_percent: u32) -> Player {
        let recording = Recording::parse("Case 12", &format!("{FIRST}{lines}")).unwrap();
        let (commands, told) = mpsc::channel(8);
        let (report, events) = mpsc::channel(64);
        let born = Instant::now();
        let clock = move || Millis(5_000 + u64::try_from(born.elapsed().as_millis()).unwrap());
        let ports = Ports { commands: told, events: report };
        tokio::spawn(run(ports, ReplaySetting { recording, speed_percent }, clock, Generations::default()));
        Player { commands, events }
    }

    async fn next(&mut self) -> LinkEvent {
        self.events.recv().await.expect("the link runs")
    }

    /// Connects, listens and gives everything until the recording is over: generation, bytes, time.
    async fn play(&mut self) -> Vec<(u32, Vec<u8>, u64)> {
        self.commands.send(LinkCommand::Connect { id: ID.to_owned() }).await.unwrap();
        assert_eq!(self.next().await, LinkEvent::State(LinkState::Connecting));
        assert_eq!(self.next().await, LinkEvent::State(LinkState::Discovering));
        let LinkEvent::Connected { generation, offer } = self.next().await else { panic!("not connected") };
        assert_eq!((offer.serial, offer.name.as_str()), (None, "Case 12"));
        let (service, characteristic) = (offer.channels[0].service, offer.channels[0].characteristic);
        self.commands.send(LinkCommand::Listen { generation, service, characteristic }).await.unwrap();
        assert_eq!(self.next().await, LinkEvent::State(LinkState::Subscribed));
        let mut heard = Vec::new();
        loop {
            match self.next().await {
                LinkEvent::Bytes { generation, bytes, at, .. } => heard.push((generation, bytes, at.0)),
                LinkEvent::State(LinkState::Lost { .. }) => break,
                other => panic!("{other:?}"),
            }
        }
        assert_eq!(self.next().await, LinkEvent::State(LinkState::GaveUp));
        heard
    }
}

#[tokio::test(start_paused = true)]
async fn a_recording_plays_with_its_own_times_and_then_the_meter_is_lost() {
    let mut player = Player::start("100 01\n200 02\n200 03\n1300 04\n", 100);
    player.commands.send(LinkCommand::Search).await.unwrap();
    assert_eq!(player.next().await, LinkEvent::State(LinkState::Searching));
    let LinkEvent::Found(found) = player.next().await else { panic!("nothing found") };
    assert_eq!((found.source, found.id.as_str()), (Source::Replay, ID));
    let began = Instant::now();
    let times = |heard: &[(u32, Vec<u8>, u64)]| heard.iter().map(|h| (h.0, h.1[0], h.2)).collect::<Vec<_>>();
    let heard = player.play().await;
    assert_eq!(times(&heard), [(1, 1, 5_000), (1, 2, 5_100), (1, 3, 5_100), (1, 4, 6_200)]);
    assert!(began.elapsed().as_millis() >= 1_200);
    // Once more, as another connection.
    let again = player.play().await;
    assert_eq!(again.iter().map(|h| (h.0, h.1[0])).collect::<Vec<_>>(), [(2, 1), (2, 2), (2, 3), (2, 4)]);
}

#[tokio::test(start_paused = true)]
async fn a_recording_can_play_faster_and_an_empty_one_ends() {
    let mut player = Player::start("0 01\n1000 02\n", 400);
    let heard = player.play().await;
    assert_eq!(heard.iter().map(|h| h.2).collect::<Vec<_>>(), [5_000, 5_250]);
    assert_eq!(Player::start("", 100).play().await, []);
}
