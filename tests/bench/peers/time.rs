//! Processor time, and medians of it.

use rustix::time::{ClockId, clock_gettime};

/// What `work` gives, and the milliseconds of processor time it took, on all threads.
pub fn cost_ms<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let before = now_ms();
    let result = work();
    (result, now_ms() - before)
}

/// The middle of `values`; not a number if there are none.
pub fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    match n {
        0 => f64::NAN,
        _ if n.is_multiple_of(2) => (values[n / 2 - 1] + values[n / 2]) / 2.0,
        _ => values[n / 2],
    }
}

fn now_ms() -> f64 {
    let time = clock_gettime(ClockId::ProcessCPUTime);
    time.tv_sec as f64 * 1e3 + time.tv_nsec as f64 / 1e6
}
