//! Each long step ends soon, with nothing half made, at whichever look at the cancel flag it is cancelled.

#[path = "../examples/cancel/scans.rs"]
mod scans;
#[path = "../examples/cancel/steps.rs"]
mod steps;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use engine::Fault;
use mesh::Job;
use steps::{Fineness, Steps};

/// Number of looks at which a step is cancelled, spread over all of its looks.
const CANCELLED_AT: usize = 4;
/// Looks that a step may still take once cancelled: each piece of parallel work looks once.
const MOST_MORE: usize = 64;

/// A job that counts its looks and is cancelled at one of them.
fn cancelled_at(look: usize) -> (Job, Arc<AtomicUsize>) {
    let (flag, looks) = (Job::silent(), Arc::new(AtomicUsize::new(0)));
    let (cancel, count) = (flag.clone(), looks.clone());
    let job = flag.watched(move || {
        if count.fetch_add(1, Ordering::Relaxed) == look {
            cancel.cancel();
        }
    });
    (job, looks)
}

#[test]
fn each_step_ends_at_whichever_look_it_is_cancelled() {
    let fineness = Fineness { rows: 40, edge_mm: 4.0, voxel_mm: 2.0, paper_mm: 40.0, sheet: 400, frames: 4 };
    let steps = Steps::new(fineness).unwrap();
    // On one thread, so that the looks come in the same order each time.
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    for (name, step) in steps.all() {
        let (job, looks) = cancelled_at(usize::MAX);
        pool.install(|| step(&job)).unwrap_or_else(|error| panic!("{name}: {error}"));
        let all = looks.load(Ordering::Relaxed);
        assert!(all >= 2, "{name} looked {all} times");
        for k in 0..CANCELLED_AT {
            let look = k * (all - 1) / (CANCELLED_AT - 1);
            let (job, looks) = cancelled_at(look);
            let ended = pool.install(|| step(&job));
            let taken = looks.load(Ordering::Relaxed);
            match ended {
                Err(error) => assert_eq!(error.fault(), Fault::Cancelled, "{name}, look {look} of {all}: {error}"),
                // Work on a thread of its own is polled by the clock, so the number of looks varies.
                Ok(()) => {
                    assert!(taken <= look, "{name} was cancelled at look {look} of {taken} and went on to its end")
                }
            }
            assert!(taken <= look + 1 + MOST_MORE, "{name}, cancelled at look {look} of {all}, looked {taken} times");
        }
    }
}
