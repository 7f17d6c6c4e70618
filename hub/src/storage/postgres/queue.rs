//! What waits to be written, by shop. Whoever writes for a shop does so alone, or beside others that write for other devices
//! of it; shops take their turns.

use crate::storage::devices::DeviceNumber;
use crate::storage::error::StorageError;
use crate::storage::group::{Claim, Task, Which};
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// How many may write for one shop at once.
const BESIDE: usize = 3;

/// No turn has this number.
const NOBODY: u64 = 0;

/// What waits.
#[derive(Default)]
pub(super) struct Queue {
    state: Mutex<State>,
    some: Condvar,
}

#[derive(Default)]
struct State {
    /// Those for whom something waits or is being written.
    shops: BTreeMap<i64, Shop>,
    /// Those for whom a writer may begin, each once.
    ready: VecDeque<i64>,
    turns: u64,
    ended: bool,
}

#[derive(Default)]
struct Shop {
    waiting: VecDeque<Task>,
    /// It stands in `ready`.
    ready: bool,
    /// Turns that last.
    turns: Vec<u64>,
    /// One of them has the whole shop.
    whole: bool,
    /// Devices that are being written for, each in one turn.
    devices: Vec<(u64, DeviceNumber)>,
}

impl Shop {
    /// Whether what waits longest may be written beside what is being written now.
    fn may_begin(&self) -> bool {
        let claim = self.waiting.front().map(|task| task.claim);
        claim.is_some_and(|claim| match claim {
            Claim::Shop => self.turns.is_empty(),
            Claim::Device(device) => !self.whole && self.turns.len() < BESIDE && self.leaves(device, NOBODY),
        })
    }

    /// Whether that device is nobody's but (if any) that turn's.
    fn leaves(&self, device: DeviceNumber, to: u64) -> bool {
        self.devices.iter().all(|(turn, other)| *other != device || *turn == to)
    }

    /// What waits longest of what that turn may write now. A turn takes devices in the order of their numbers: two
    /// processes that write for the same ones never wait for each other.
    fn next(&mut self, turn: u64) -> Option<Task> {
        if self.whole {
            return self.waiting.pop_front();
        }
        let last = self.devices.iter().filter(|(of, _)| *of == turn).map(|(_, device)| *device).max();
        let fits = |device| self.leaves(device, turn) && last.is_none_or(|last| device >= last);
        let before_the_shop = self.waiting.iter().map_while(|task| match task.claim {
            Claim::Device(device) => Some(device),
            Claim::Shop => None,
        });
        let (at, device) = before_the_shop.enumerate().find(|(_, device)| fits(*device))?;
        self.devices.push((turn, device));
        self.waiting.remove(at)
    }
}

/// A shop that is one writer's until this goes: all of it, or some of its devices.
pub(super) struct Turn {
    queue: Arc<Queue>,
    number: u64,
    pub(super) shop: i64,
    /// Nobody else writes for it.
    pub(super) whole: bool,
}

impl State {
    /// A turn of that shop with what waits longest for it, and whether the whole shop is its; none when whoever writes for
    /// it has taken what waited.
    fn begin(&mut self, number: i64) -> Option<(u64, bool, Task)> {
        let shop = self.shops.get_mut(&number)?;
        shop.ready = false;
        if !shop.may_begin() {
            return None;
        }
        self.turns += 1;
        shop.turns.push(self.turns);
        shop.whole = shop.waiting.front()?.claim == Claim::Shop;
        Some((self.turns, shop.whole, shop.next(self.turns)?))
    }

    /// Lets a writer begin for that shop if there is something for one.
    fn offer(&mut self, number: i64, some: &Condvar) {
        let Some(shop) = self.shops.get_mut(&number) else { return };
        if !shop.ready && shop.may_begin() {
            shop.ready = true;
            self.ready.push_back(number);
            some.notify_one();
        }
    }
}

impl Queue {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Stands behind what waits for that shop.
    pub(super) fn push(&self, shop: i64, task: Task) -> Result<(), StorageError> {
        let mut state = self.state();
        if state.ended {
            return Err(StorageError::Closed);
        }
        state.shops.entry(shop).or_default().waiting.push_back(task);
        state.offer(shop, &self.some);
        Ok(())
    }

    /// Waits for something that may be written; none once it has ended and nothing waits any more.
    pub(super) fn turn(self: &Arc<Queue>) -> Option<(Turn, Task)> {
        let mut state = self.state();
        loop {
            if let Some(begun) = self.begin(&mut state) {
                return Some(begun);
            }
            if state.ended {
                return None;
            }
            state = self.some.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// A turn of the next shop that is ready.
    fn begin(self: &Arc<Queue>, state: &mut State) -> Option<(Turn, Task)> {
        while let Some(shop) = state.ready.pop_front() {
            let begun = state.begin(shop);
            state.offer(shop, &self.some);
            if let Some((number, whole, task)) = begun {
                return Some((Turn { queue: self.clone(), number, shop, whole }, task));
            }
        }
        None
    }

    /// Nothing more is taken. What waits is done first.
    pub(super) fn end(&self) {
        self.state().ended = true;
        self.some.notify_all();
    }
}

impl Turn {
    /// What waits longest for the shop, of what this turn may write now or of all.
    pub(super) fn next(&self, which: Which) -> Option<Task> {
        let mut state = self.queue.state();
        let shop = state.shops.get_mut(&self.shop)?;
        let task = match which {
            Which::Fitting => shop.next(self.number),
            Which::Any => shop.waiting.pop_front(),
        };
        state.offer(self.shop, &self.queue.some);
        task
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut state = self.queue.state();
        if std::thread::panicking() {
            // A writer that is gone writes nothing any more: whoever waits is told, instead of waiting for it.
            state.ended = true;
            let told = (std::mem::take(&mut state.shops), std::mem::take(&mut state.ready));
            drop(state);
            drop(told);
            return self.queue.some.notify_all();
        }
        let Some(shop) = state.shops.get_mut(&self.shop) else { return };
        shop.turns.retain(|turn| *turn != self.number);
        shop.devices.retain(|(turn, _)| *turn != self.number);
        shop.whole = false;
        if shop.turns.is_empty() && shop.waiting.is_empty() {
            state.shops.remove(&self.shop);
        } else {
            state.offer(self.shop, &self.queue.some);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::storage::connection::Connection;
    use crate::storage::group::{Place, write_group};
    use proptest::prelude::*;

    fn of(claim: Claim) -> Task {
        Task { entries: 0, claim, work: Box::new(|_| (Box::new(|_| {}), true)) }
    }

    fn whole() -> Task {
        of(Claim::Shop)
    }

    fn device(number: i64) -> Task {
        of(Claim::Device(DeviceNumber(number)))
    }

    fn ready(queue: &Queue) -> Vec<i64> {
        queue.state().ready.iter().copied().collect()
    }

    #[test]
    fn a_shop_is_one_writers_and_goes_behind_the_others() {
        let queue = Arc::new(Queue::default());
        for shop in [7, 7, 7, 8] {
            queue.push(shop, whole()).unwrap();
        }
        let (first, _) = queue.turn().unwrap();
        let (second, _) = queue.turn().unwrap();
        assert_eq!((first.shop, second.shop), (7, 8));
        queue.push(7, device(1)).unwrap();
        assert!(ready(&queue).is_empty(), "7 is somebody's, whatever comes");
        assert!(first.next(Which::Fitting).is_some() && second.next(Which::Fitting).is_none());
        drop(second);
        queue.push(9, whole()).unwrap();
        drop(first);
        assert_eq!(ready(&queue), [9, 7]);
        assert_eq!(queue.state().shops.keys().copied().collect::<Vec<_>>(), [7, 9], "8 has nothing that waits");
    }

    #[test]
    fn some_write_for_devices_of_a_shop_and_none_for_one_of_another_of_them() {
        let queue = Arc::new(Queue::default());
        for number in [3, 2, 6, 4, 2, 1] {
            queue.push(7, device(number)).unwrap();
        }
        let next = |turn: &Turn| turn.next(Which::Fitting).map(|task| task.claim);
        let some = |number| Some(Claim::Device(DeviceNumber(number)));
        let [first, second, third] = [(); BESIDE].map(|()| queue.turn().unwrap().0);
        assert!(!first.whole && !second.whole && !third.whole);
        assert!(ready(&queue).is_empty(), "enough write, and 4 waits");
        assert_eq!((next(&first), next(&second)), (some(4), some(2)));
        assert_eq!([&first, &second, &third].map(next), [None; BESIDE], "1 comes before what they have");
        drop(first);
        assert_eq!(ready(&queue), [7], "for 1");
        let (fourth, _) = queue.turn().unwrap();
        queue.push(7, whole()).unwrap();
        queue.push(7, device(7)).unwrap();
        assert_eq!([&second, &third, &fourth].map(next), [None; BESIDE], "who wants the whole is passed by nobody");
        drop((third, fourth));
        assert!(ready(&queue).is_empty());
        drop(second);
        let (last, _) = queue.turn().unwrap();
        assert!(last.whole && ready(&queue).is_empty());
        assert!(last.next(Which::Fitting).is_some(), "who has the whole has its devices");
    }

    #[test]
    fn where_nothing_can_be_begun_all_that_wait_are_told_at_once() {
        let queue = Arc::new(Queue::default());
        let (tell, told) = std::sync::mpsc::channel();
        for claim in
            [3, 1, 0, 2].map(|number| if number == 0 { Claim::Shop } else { Claim::Device(DeviceNumber(number)) })
        {
            let tell = tell.clone();
            let refused = move |conn: Result<(&Connection, Place), StorageError>| {
                tell.send(conn.err()).unwrap();
                let tells: Box<dyn FnOnce(Result<(), StorageError>) + Send> = Box::new(|_| {});
                (tells, true)
            };
            queue.push(7, Task { entries: 0, claim, work: Box::new(refused) }).unwrap();
        }
        let (turn, first) = queue.turn().unwrap();
        let mut conn = Connection::Sqlite(rusqlite::Connection::open_in_memory().unwrap());
        write_group(&mut conn, |_| Err(StorageError::Closed), first, |which| turn.next(which));
        assert_eq!(told.try_iter().collect::<Vec<_>>(), [const { Some(StorageError::Closed) }; 4]);
    }

    /// A turn, and what it took.
    fn begun(queue: &Arc<Queue>) -> Option<(Turn, Vec<Claim>)> {
        queue.begin(&mut queue.state()).map(|(turn, task)| (turn, vec![task.claim]))
    }

    /// Whether none of these turns writes what it may not beside the others.
    fn apart(turns: &[(Turn, Vec<Claim>)]) -> bool {
        turns.iter().enumerate().all(|(at, (turn, claims))| {
            let beside = turns[..at].iter().filter(|(other, _)| other.shop == turn.shop);
            let apart = |(other, others): &(Turn, Vec<Claim>)| {
                !turn.whole && !other.whole && !others.iter().any(|claim| claims.contains(claim))
            };
            let rises = claims.iter().map(|claim| match claim {
                Claim::Device(device) => Some(*device),
                Claim::Shop => None,
            });
            let rises = || rises.clone().all(|device| device.is_some()) && rises.clone().is_sorted();
            beside.clone().count() < BESIDE && beside.clone().all(apart) && (turn.whole || rises())
        })
    }

    proptest! {
        #[test]
        fn whatever_comes_all_of_it_is_written_and_nothing_beside_what_it_may_not(
            steps in prop::collection::vec((0u8..5, 0i64..8, 1i64..3, any::<prop::sample::Index>()), 1..150),
        ) {
            let queue = Arc::new(Queue::default());
            let (mut turns, mut pushed, mut taken) = (Vec::new(), 0, 0);
            for (step, what, shop, at) in steps {
                match step {
                    0 | 1 => {
                        queue.push(shop, if what < 4 { device(what) } else { whole() }).unwrap();
                        pushed += 1;
                    }
                    2 => turns.extend(begun(&queue)),
                    _ if turns.is_empty() => {}
                    _ => {
                        let at = at.index(turns.len());
                        let (turn, claims): &mut (Turn, Vec<Claim>) = &mut turns[at];
                        match turn.next(Which::Fitting) {
                            Some(task) => claims.push(task.claim),
                            None => taken += turns.swap_remove(at).1.len(),
                        }
                    }
                }
                prop_assert!(apart(&turns));
            }
            while let Some((turn, claims)) = { turns.extend(begun(&queue)); turns.pop() } {
                taken += claims.len() + std::iter::from_fn(|| turn.next(Which::Fitting)).count();
            }
            prop_assert_eq!((taken, queue.state().shops.len()), (pushed, 0));
        }
    }

    #[test]
    fn what_waits_is_done_before_it_ends() {
        let queue = Arc::new(Queue::default());
        queue.push(7, whole()).unwrap();
        queue.end();
        assert_eq!(queue.push(7, whole()), Err(StorageError::Closed));
        assert!(queue.turn().is_some());
        assert!(queue.turn().is_none());
    }

    #[test]
    fn whoever_waits_for_a_writer_that_is_gone_is_told() {
        let queue = Arc::new(Queue::default());
        let (tell, told) = std::sync::mpsc::channel::<()>();
        queue.push(7, whole()).unwrap();
        queue
            .push(
                7,
                Task { entries: 0, claim: Claim::Shop, work: Box::new(move |_| (Box::new(move |_| drop(tell)), true)) },
            )
            .unwrap();
        let at = queue.clone();
        let writer = std::thread::spawn(move || {
            let _turn = at.turn();
            panic!("a fault of this program");
        });
        assert!(writer.join().is_err());
        assert!(told.recv().is_err(), "what was to be told is gone");
        assert_eq!(queue.push(8, whole()), Err(StorageError::Closed));
    }
}
