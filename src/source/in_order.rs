//! Work on many items at once, results in the items' order, memory that does not grow with their number.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;

/// How many results per worker may wait for an earlier one. Enough that one slow photo does not idle the others, few
/// enough that waiting results stay small beside the photos being decoded.
const WAITING_PER_JOB: usize = 4;

struct Shared<R> {
    next: usize,
    given: usize,
    ready: BTreeMap<usize, thread::Result<R>>,
    stop: bool,
}

/// Calls `work` for each of `items` on `jobs` threads and `each` for every result, on the calling thread, in the items'
/// order. When `each` breaks, work that has begun is finished and dropped, and nothing new is begun.
pub fn in_order<T: Sync, R: Send>(
    items: &[T],
    jobs: NonZeroUsize,
    work: impl Fn(&T) -> R + Sync,
    mut each: impl FnMut(R) -> ControlFlow<()>,
) {
    let jobs = jobs.get().min(items.len());
    let shared = Mutex::new(Shared { next: 0, given: 0, ready: BTreeMap::new(), stop: false });
    let (room, result) = (Condvar::new(), Condvar::new());
    thread::scope(|scope| {
        for _ in 0..jobs {
            scope.spawn(|| {
                loop {
                    let mut state = lock(&shared);
                    while !state.stop && state.next < items.len() && state.next >= state.given + jobs * WAITING_PER_JOB
                    {
                        state = room.wait(state).unwrap_or_else(PoisonError::into_inner);
                    }
                    if state.stop || state.next >= items.len() {
                        return;
                    }
                    let index = state.next;
                    state.next += 1;
                    drop(state);
                    let done = catch_unwind(AssertUnwindSafe(|| work(&items[index])));
                    lock(&shared).ready.insert(index, done);
                    result.notify_one();
                }
            });
        }
        for index in 0..items.len() {
            let mut state = lock(&shared);
            let done = loop {
                if let Some(done) = state.ready.remove(&index) {
                    break done;
                }
                state = result.wait(state).unwrap_or_else(PoisonError::into_inner);
            };
            state.given = index + 1;
            drop(state);
            room.notify_all();
            let flow = match done {
                Ok(value) => catch_unwind(AssertUnwindSafe(|| each(value))),
                Err(panic) => Err(panic),
            };
            if !matches!(flow, Ok(ControlFlow::Continue(()))) {
                lock(&shared).stop = true;
                room.notify_all();
                match flow {
                    Err(panic) => resume_unwind(panic),
                    Ok(_) => return,
                }
            }
        }
    });
}

fn lock<R>(shared: &Mutex<Shared<R>>) -> MutexGuard<'_, Shared<R>> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    use super::*;

    fn jobs(n: usize) -> NonZeroUsize {
        NonZeroUsize::new(n).unwrap()
    }

    #[test]
    fn order_is_kept_when_early_items_are_slow() {
        let items: Vec<u64> = (0..50).collect();
        let mut given = Vec::new();
        let work = |n: &u64| {
            thread::sleep(Duration::from_millis(if n.is_multiple_of(7) { 5 } else { 0 }));
            *n
        };
        in_order(&items, jobs(4), work, |n| {
            given.push(n);
            ControlFlow::Continue(())
        });
        assert_eq!(given, items);
    }

    #[test]
    fn workers_do_not_run_far_ahead() {
        let items: Vec<usize> = (0..200).collect();
        let begun = AtomicUsize::new(0);
        let mut given = 0;
        in_order(
            &items,
            jobs(2),
            |_| begun.fetch_add(1, Ordering::SeqCst),
            |_| {
                given += 1;
                thread::sleep(Duration::from_micros(200));
                assert!(begun.load(Ordering::SeqCst) <= given + 2 * WAITING_PER_JOB);
                ControlFlow::Continue(())
            },
        );
        assert_eq!(given, 200);
    }

    #[test]
    fn breaking_ends_it_and_nothing_is_nothing() {
        let items: Vec<usize> = (0..1000).collect();
        let begun = AtomicUsize::new(0);
        in_order(&items, jobs(3), |_| begun.fetch_add(1, Ordering::SeqCst), |_| ControlFlow::Break(()));
        assert!(begun.load(Ordering::SeqCst) <= 1 + 3 * WAITING_PER_JOB);
        in_order(&[] as &[usize], jobs(3), |n| *n, |_| ControlFlow::Continue(()));
    }

    #[test]
    #[should_panic(expected = "item 3")]
    fn a_panic_is_passed_on_and_nothing_hangs() {
        let items: Vec<usize> = (0..100).collect();
        in_order(&items, jobs(2), |n| assert!(*n != 3, "item 3"), |()| ControlFlow::Continue(()));
    }
}
