use super::{ID, Ports, PracticeSetting, run};
use crate::links::Generations;
use crate::practice::{MeterModel, PartModel, Place, PracticeWish};
use evenwire_core::meter::link::{LinkCommand, LinkEvent, LinkState, RefusedWhy, Source};
use evenwire_core::meter::{Shown, choose};
use evenwire_core::settle::{Contact, Settler};
use evenwire_core::unit::Millis;
use tokio::sync::mpsc;
use tokio::time::Instant;

struct Bench {
    commands: mpsc::Sender<LinkCommand>,
    wishes: mpsc::Sender<PracticeWish>,
    events: mpsc::Receiver<LinkEvent>,
    task: tokio::task::JoinHandle<()>,
}

impl Bench {
    /// The boot clock starts at one hour.
    fn start(speed_percent: u32, generations: Generations) -> Bench {
        let (commands, told) = mpsc::channel(8);
        let (wishes, wished) = mpsc::channel(8);
        let (report, events) = mpsc::channel(64);
        let part = PartModel::built_in("first-practice").unwrap();
        let setting = PracticeSetting { part, meter: MeterModel::default(), seed: 1, speed_percent };
        let born = Instant::now();
        let clock = move || Millis(3_600_000 + u64::try_from(born.elapsed().as_millis()).unwrap());
        let ports = Ports { commands: told, wishes: wished, events: report };
        let task = tokio::spawn(run(ports, setting, clock, generations));
        Bench { commands, wishes, events, task }
    }

    async fn tell(&self, command: LinkCommand) {
        self.commands.send(command).await.unwrap();
    }

    async fn next(&mut self) -> LinkEvent {
        self.events.recv().await.expect("the link runs")
    }

    async fn state(&mut self, wanted: LinkState) {
        assert_eq!(self.next().await, LinkEvent::State(wanted));
    }

    /// Connects and listens; the generation.
    async fn listen(&mut self) -> u32 {
        self.tell(LinkCommand::Connect { id: ID.to_owned() }).await;
        self.state(LinkState::Connecting).await;
        self.state(LinkState::Discovering).await;
        let LinkEvent::Connected { generation, offer } = self.next().await else { panic!("not connected") };
        assert_eq!(offer.serial.as_deref(), Some("PRACTICE-1"));
        let choice = choose(&offer, &[]).expect("it describes itself");
        let (service, characteristic) = (choice.service, choice.characteristic);
        self.tell(LinkCommand::Listen { generation, service, characteristic }).await;
        self.state(LinkState::Subscribed).await;
        generation
    }

    async fn bytes(&mut self) -> (u32, Vec<u8>, Millis) {
        match self.next().await {
            LinkEvent::Bytes { generation, bytes, at, .. } => (generation, bytes, at),
            other => panic!("{other:?} instead of bytes"),
        }
    }
}

fn ends(cavity: u8) -> (Place, Place) {
    (Place { connector: 0, cavity }, Place { connector: 1, cavity })
}

#[tokio::test(start_paused = true)]
async fn a_search_finds_it_at_once_and_values_come_in_order() {
    let generations = Generations::default();
    generations.next();
    let mut bench = Bench::start(100, generations.clone());
    bench.tell(LinkCommand::Search).await;
    bench.state(LinkState::Searching).await;
    let LinkEvent::Found(found) = bench.next().await else { panic!("nothing found") };
    assert_eq!((found.id.as_str(), found.source, found.name.as_str()), (ID, Source::Practice, "Practice meter"));
    assert_eq!(bench.listen().await, 2);
    let mut before = Millis(0);
    for _ in 0..50 {
        let (generation, bytes, at) = bench.bytes().await;
        assert_eq!((generation, bytes), (2, vec![0xFE, 0xFF, 0x7F, 0x00]));
        assert!(at > before && at.0 >= 3_600_000);
        assert!(before == Millis(0) || (95..=115).contains(&at.since(before).0));
        before = at;
    }
    bench.tell(LinkCommand::Disconnect).await;
    bench.state(LinkState::Idle).await;
    assert_eq!(bench.listen().await, 3);
    assert_eq!(generations.next(), 4);
    assert_eq!(bench.bytes().await.0, 3);
}

#[tokio::test(start_paused = true)]
async fn hands_fill_a_table_by_themselves() {
    let mut bench = Bench::start(100, Generations::default());
    let generation = bench.listen().await;
    let channel = crate::practice::encoding::offer(&MeterModel::default());
    let mut decoder = choose(&channel, &[]).unwrap().decoder(generation, None).unwrap();
    let mut settler = Settler::new(None);
    let mut seen = Vec::new();
    let mut cavity = 1;
    let (from, to) = ends(cavity);
    bench.wishes.send(PracticeWish::Announced { from, to }).await.unwrap();
    while seen.len() < 8 {
        let (_, bytes, at) = bench.bytes().await;
        assert!(at.0 < 3_600_000 + 60_000, "taken so far: {seen:?}");
        for reading in decoder.push(&bytes, at) {
            let Some(Contact::Taken(touch)) = settler.push(reading.unwrap()) else { continue };
            seen.push(touch.middle().unwrap().to_f64());
            cavity += 1;
            bench.wishes.send(PracticeWish::Taken).await.unwrap();
            let (from, to) = ends(cavity.min(8));
            bench.wishes.send(PracticeWish::Announced { from, to }).await.unwrap();
        }
    }
    let worn: Vec<usize> = (0..8).filter(|i| seen[*i] > 1.0).collect();
    assert_eq!(worn, [3], "{seen:?}");
}

#[tokio::test(start_paused = true)]
async fn what_is_asked_wrongly_is_answered_and_not_obeyed() {
    let mut bench = Bench::start(100, Generations::default());
    bench.tell(LinkCommand::Connect { id: "another".into() }).await;
    bench.state(LinkState::Connecting).await;
    bench.state(LinkState::Refused { why: RefusedWhy::Connection }).await;
    let generation = bench.listen().await;
    let (service, characteristic) = MeterModel::default().encoding.channel_ids();
    // Late, of an older connection: passed over.
    bench.tell(LinkCommand::Listen { generation: generation + 7, service, characteristic }).await;
    bench.bytes().await;
    bench.tell(LinkCommand::Listen { generation, service, characteristic: service }).await;
    let refused = loop {
        match bench.next().await {
            LinkEvent::Bytes { .. } => {}
            other => break other,
        }
    };
    assert_eq!(refused, LinkEvent::State(LinkState::Refused { why: RefusedWhy::Notifications }));
    bench.tell(LinkCommand::StopSearch).await;
    bench.state(LinkState::Idle).await;
}

#[tokio::test(start_paused = true)]
async fn it_goes_on_without_wishes_and_ends_with_its_commands() {
    let mut bench = Bench::start(1_000, Generations::default());
    bench.listen().await;
    let (from, to) = ends(1);
    bench.wishes.send(PracticeWish::Clip { from, to }).await.unwrap();
    let (closed, _) = mpsc::channel(1);
    drop(std::mem::replace(&mut bench.wishes, closed));
    let first = bench.bytes().await.2;
    let mut last = (Vec::new(), first);
    for _ in 0..30 {
        let (_, bytes, at) = bench.bytes().await;
        last = (bytes, at);
    }
    assert!(last.1.since(first).0 < 400, "ten times as fast: {:?}", last.1.since(first));
    let offer = crate::practice::encoding::offer(&MeterModel::default());
    let reading = choose(&offer, &[]).unwrap().decoder(1, None).unwrap().push(&last.0, last.1).remove(0).unwrap();
    assert!(matches!(reading.shown, Shown::Value(_)), "the clips stay on");
    let Bench { commands, mut events, task, .. } = bench;
    drop(commands);
    while events.recv().await.is_some() {}
    task.await.expect("it ends by itself");
}

#[tokio::test(start_paused = true)]
async fn it_ends_when_nobody_takes_its_events() {
    let mut bench = Bench::start(100, Generations::default());
    bench.listen().await;
    let Bench { events, task, commands, wishes } = bench;
    drop(events);
    task.await.expect("it ends by itself");
    drop((commands, wishes));
}
