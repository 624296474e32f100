//! One sitting at the workbench, without the window: the document, its edits, and everything that follows from it.
//!
//! The document is a [`locker::DesignFile`]; every change goes through [`Session::edit`] and can be undone. What
//! follows from it (limb, zone, shell, …) is worked out on other threads, newest request first, and picked up by
//! [`Session::poll`], which a window calls once a frame and a test in a loop. Every change is autosaved, so that a
//! crash loses no more than the last second.
//!
//! What is not promised: that a value shown belongs to the newest edit; [`Derived`] says which are still to come.

pub mod about;
mod autosave;
pub mod crop;
mod derived;
mod derived_value;
mod document;
mod editing;
mod exporting;
mod history;
pub mod marking;
mod opening;
mod own_materials;
mod places;
mod preferences;
mod priority;
mod problem;
mod recovery;
mod saving;
mod seeking;
mod session;
mod strength;
mod task;
mod watch;

pub use derived::{Changed, Derived, IfRunning, ShellMeasures};
pub use derived_value::DerivedValue;
pub use document::Document;
pub use history::History;
pub use opening::{OpenedFrom, RawScan};
pub use places::Places;
pub use preferences::{BED_MM, LastLook, Preferences};
pub use priority::lower_worker_priority;
pub use problem::{Problem, ProblemKind, capitalised};
pub use recovery::{Recovery, UnsavedDesign};
pub use seeking::Seeking;
pub use session::{Note, Session};
pub use strength::{DrawnMap, GuardStruck, Strength};
pub use task::{Outcome, Progress, Task};
pub use watch::Watch;
