//! Work shared out over the machine's cores; the results do not depend on how many there are.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Calls `work` with 0 to `count - 1`, and gives the results in that order.
pub fn each<T: Send>(count: usize, work: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(count));
    let cores = std::thread::available_parallelism().map_or(1, |cores| cores.get());
    std::thread::scope(|scope| {
        for _ in 0..cores.min(count) {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    if at >= count {
                        return;
                    }
                    let result = work(at);
                    done.lock()
                        .expect("no thread has failed")
                        .push((at, result));
                }
            });
        }
    });
    let mut done = done.into_inner().expect("no thread has failed");
    done.sort_by_key(|&(at, _)| at);
    done.into_iter().map(|(_, result)| result).collect()
}
