//! Work in the background steps back for the thread that draws the window.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::ThreadPoolBuilder;
use thread_priority::{ThreadPriority, ThreadPriorityValue};

/// Of 0 to 99, where 50 is usual. On Linux a niceness of 5: a third of the share of the window's thread where both want
/// the same core. Below normal on Windows.
const BEHIND: u8 = 35;

static STEPS_BACK: AtomicBool = AtomicBool::new(false);

/// From now on threads that work in the background leave the processor to others first.
///
/// To be called once, before any work begins, by a program with a window that a graphics card draws. Where the processor
/// draws it, drawing would take what the work needs.
pub fn window_first() {
    STEPS_BACK.store(true, Ordering::Relaxed);
    // An error says that the threads are there already: then they stay as they are.
    let _ = ThreadPoolBuilder::new().start_handler(|_| step_back()).build_global();
}

/// Lets the thread at hand step back, where that is wanted.
pub(crate) fn step_back() {
    if STEPS_BACK.load(Ordering::Relaxed)
        && let Ok(behind) = ThreadPriorityValue::try_from(BEHIND)
    {
        // Where the system refuses, the work is done all the same.
        let _ = ThreadPriority::Crossplatform(behind).set_for_current();
    }
}
