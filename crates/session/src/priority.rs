//! Lower priority for the threads that work behind the window.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::ThreadPoolBuilder;
use thread_priority::{ThreadPriority, ThreadPriorityValue};

/// Of 0 to 99, where 50 is usual. On Linux a niceness of 5: a third of the share of the window's thread where both want
/// the same core. Below normal on Windows.
const BELOW_NORMAL: u8 = 35;

static LOWERED: AtomicBool = AtomicBool::new(false);

/// Threads that start from now on to work in the background get a lower priority.
///
/// To be called once, before any work begins, by a program with a window that a graphics card draws. Where the processor
/// draws it, drawing would take what the work needs.
pub fn lower_worker_priority() {
    LOWERED.store(true, Ordering::Relaxed);
    // An error says that the threads are there already: then they stay as they are.
    let _ = ThreadPoolBuilder::new().start_handler(|_| lower()).build_global();
}

/// Lowers the priority of the current thread, where that is wanted.
pub(crate) fn lower() {
    if LOWERED.load(Ordering::Relaxed)
        && let Ok(priority) = ThreadPriorityValue::try_from(BELOW_NORMAL)
    {
        // Where the system refuses, the work is done all the same.
        let _ = ThreadPriority::Crossplatform(priority).set_for_current();
    }
}
