//! A queue in which only the newest of a kind waits: whoever is slow sees what is, not what was.

use std::collections::VecDeque;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Holds what was put in until it is taken, in order.
#[derive(Debug)]
pub struct Newest<T> {
    inside: Mutex<Inside<T>>,
    changed: Condvar,
}

#[derive(Debug)]
struct Inside<T> {
    waiting: VecDeque<T>,
    passed_over: u64,
    closed: bool,
}

/// What waiting for a value came to.
#[derive(Debug, PartialEq, Eq)]
pub enum Waited<T> {
    /// The next value.
    Value(T),
    /// None in time.
    Nothing,
    /// None, and none will come.
    Closed,
}

impl<T> Default for Newest<T> {
    fn default() -> Self {
        let inside = Inside { waiting: VecDeque::new(), passed_over: 0, closed: false };
        Self { inside: Mutex::new(inside), changed: Condvar::new() }
    }
}

impl<T> Newest<T> {
    /// Puts a value in that must be taken. False if nobody takes any more.
    pub fn put(&self, value: T) -> bool {
        self.put_instead(value, |_| false)
    }

    /// Puts a value in; if the last that waits is of its kind, that one is passed over. False if nobody takes any more.
    pub fn put_instead(&self, value: T, of_its_kind: impl Fn(&T) -> bool) -> bool {
        let mut inside = self.lock();
        if inside.waiting.back().is_some_and(of_its_kind) {
            inside.waiting.pop_back();
            inside.passed_over += 1;
        }
        inside.waiting.push_back(value);
        self.changed.notify_all();
        !inside.closed
    }

    /// Takes the next value; waits for one up to `at_most`.
    pub fn take(&self, at_most: Duration) -> Waited<T> {
        let end = Instant::now() + at_most;
        let mut inside = self.lock();
        loop {
            if let Some(value) = inside.waiting.pop_front() {
                return Waited::Value(value);
            }
            if inside.closed {
                return Waited::Closed;
            }
            let left = end.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Waited::Nothing;
            }
            inside = self.changed.wait_timeout(inside, left).unwrap_or_else(PoisonError::into_inner).0;
        }
    }

    /// How many values were passed over.
    pub fn passed_over(&self) -> u64 {
        self.lock().passed_over
    }

    /// No value will come, or none be taken.
    pub fn close(&self) {
        self.lock().closed = true;
        self.changed.notify_all();
    }

    /// Whether it is closed.
    pub fn is_closed(&self) -> bool {
        self.lock().closed
    }

    fn lock(&self) -> MutexGuard<'_, Inside<T>> {
        self.inside.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Duration = Duration::ZERO;

    #[test]
    fn only_the_newest_of_a_kind_waits_and_the_order_stays() {
        let newest = Newest::default();
        assert_eq!(newest.take(NOW), Waited::Nothing);
        let is_small = |n: &i32| *n < 10;
        assert!(newest.put_instead(1, is_small) && newest.put_instead(2, is_small));
        assert!(newest.put(10) && newest.put(11));
        assert!(newest.put_instead(3, is_small) && newest.put_instead(4, is_small));
        let taken: Vec<_> = (0..5).map(|_| newest.take(NOW)).collect();
        let value = Waited::Value;
        assert_eq!(taken, [value(2), value(10), value(11), value(4), Waited::Nothing]);
        assert_eq!(newest.passed_over(), 2);
    }

    #[test]
    fn what_was_put_in_before_it_closed_is_still_taken() {
        let newest = Newest::default();
        newest.put(1);
        newest.close();
        assert_eq!((newest.take(NOW), newest.take(NOW)), (Waited::Value(1), Waited::Closed));
        assert!(!newest.put(2));
    }

    #[test]
    fn whoever_waits_is_woken() {
        let newest = Newest::default();
        std::thread::scope(|scope| {
            let taken = scope.spawn(|| newest.take(Duration::from_secs(60)));
            newest.put(7);
            assert_eq!(taken.join().expect("no panic"), Waited::Value(7));
        });
    }
}
