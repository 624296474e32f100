//! Lower priority for the threads that work behind the window.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::ThreadPoolBuilder;
use thread_priority::{ThreadPriority, ThreadPriorityValue};

/// From 0 to 99; 50 is normal. On Linux a niceness of 5: a third of the share of the window's thread where both want
/// the same core. Below normal on Windows.
const BELOW_NORMAL: u8 = 35;

static LOWERED: AtomicBool = AtomicBool::new(false);

/// Gives background threads that start from now on a lower priority.
///
/// Call it once, before any work begins, if a graphics card draws the window. Where the processor draws it, drawing
/// would starve the work.
pub fn lower_worker_priority() {
    LOWERED.store(true, Ordering::Relaxed);
    // An error means that the thread pool exists already; its priority then stays as it is.
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
