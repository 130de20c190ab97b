//! Many nights at once: a thread for each core, each with a runtime of its own, takes the next night that nobody has.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Plays nights 0 to `count`, on as many threads as there are cores; what became of each, in order.
pub(crate) fn play_all<T: Send>(count: usize, play: impl AsyncFn(usize) -> T + Sync) -> Vec<T> {
    let (next, done) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let work = || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        loop {
            let night = next.fetch_add(1, Ordering::Relaxed);
            if night >= count {
                break;
            }
            let result = runtime.block_on(play(night));
            done.lock().unwrap().push((night, result));
        }
    };
    std::thread::scope(|scope| (0..cores).for_each(|_| drop(scope.spawn(work))));
    let mut all = done.into_inner().unwrap();
    all.sort_by_key(|(night, _)| *night);
    all.into_iter().map(|(_, result)| result).collect()
}
