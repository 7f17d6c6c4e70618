//! What waits to be written, by shop: each shop has one writer at a time, and takes its turn among the others.

use crate::storage::error::StorageError;
use crate::storage::group::Task;
use std::collections::{BTreeMap, VecDeque};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// What waits. A shop that stands in `waiting` is in `ready` once, or some writer's.
#[derive(Default)]
pub(super) struct Queue {
    state: Mutex<State>,
    some: Condvar,
}

#[derive(Default)]
struct State {
    waiting: BTreeMap<i64, VecDeque<Task>>,
    ready: VecDeque<i64>,
    ended: bool,
}

/// A shop that is one writer's until this goes.
pub(super) struct Turn {
    queue: Arc<Queue>,
    pub(super) shop: i64,
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
        if let Some(waiting) = state.waiting.get_mut(&shop) {
            waiting.push_back(task);
            return Ok(());
        }
        state.waiting.insert(shop, VecDeque::from([task]));
        state.ready.push_back(shop);
        self.some.notify_one();
        Ok(())
    }

    /// Waits for a shop that nobody writes for; none once it has ended and nothing waits any more.
    pub(super) fn turn(self: &Arc<Queue>) -> Option<Turn> {
        let mut state = self.state();
        loop {
            if let Some(shop) = state.ready.pop_front() {
                return Some(Turn { queue: self.clone(), shop });
            }
            if state.ended {
                return None;
            }
            state = self.some.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }

    /// Nothing more is taken. What waits is done first.
    pub(super) fn end(&self) {
        self.state().ended = true;
        self.some.notify_all();
    }
}

impl Turn {
    /// What waits longest for the shop.
    pub(super) fn next(&self) -> Option<Task> {
        self.queue.state().waiting.get_mut(&self.shop)?.pop_front()
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let mut state = self.queue.state();
        if std::thread::panicking() {
            // A writer that is gone writes nothing any more: whoever waits is told, instead of waiting for it.
            state.ended = true;
            let told = (std::mem::take(&mut state.waiting), std::mem::take(&mut state.ready));
            drop(state);
            drop(told);
            return self.queue.some.notify_all();
        }
        if state.waiting.get(&self.shop).is_some_and(VecDeque::is_empty) {
            state.waiting.remove(&self.shop);
        } else {
            state.ready.push_back(self.shop);
            self.queue.some.notify_one();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn nothing() -> Task {
        Task { entries: 0, work: Box::new(|_| (Box::new(|_| {}), true)) }
    }

    #[test]
    fn a_shop_has_one_writer_and_goes_behind_the_others() {
        let queue = Arc::new(Queue::default());
        for shop in [7, 7, 7, 8] {
            queue.push(shop, nothing()).unwrap();
        }
        let first = queue.turn().unwrap();
        let second = queue.turn().unwrap();
        assert_eq!((first.shop, second.shop), (7, 8));
        queue.push(7, nothing()).unwrap();
        assert!(queue.state().ready.is_empty(), "7 is somebody's, whatever comes");
        assert!(first.next().is_some() && second.next().is_some() && second.next().is_none());
        drop(second);
        queue.push(9, nothing()).unwrap();
        drop(first);
        assert_eq!(Vec::from(queue.state().ready.clone()), [9, 7]);
        assert_eq!(queue.state().waiting.keys().copied().collect::<Vec<_>>(), [7, 9], "8 has nothing that waits");
    }

    #[test]
    fn what_waits_is_done_before_it_ends() {
        let queue = Arc::new(Queue::default());
        queue.push(7, nothing()).unwrap();
        queue.end();
        assert_eq!(queue.push(7, nothing()), Err(StorageError::Closed));
        let turn = queue.turn().unwrap();
        assert!(turn.next().is_some());
        drop(turn);
        assert!(queue.turn().is_none());
    }

    #[test]
    fn whoever_waits_for_a_writer_that_is_gone_is_told() {
        let queue = Arc::new(Queue::default());
        let (tell, told) = std::sync::mpsc::channel::<()>();
        queue.push(7, nothing()).unwrap();
        queue.push(7, Task { entries: 0, work: Box::new(move |_| (Box::new(move |_| drop(tell)), true)) }).unwrap();
        let at = queue.clone();
        let writer = std::thread::spawn(move || {
            let _turn = at.turn();
            panic!("a fault of this program");
        });
        assert!(writer.join().is_err());
        assert!(told.recv().is_err(), "what was to be told is gone");
        assert_eq!(queue.push(8, nothing()), Err(StorageError::Closed));
    }
}
