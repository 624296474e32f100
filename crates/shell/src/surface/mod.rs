//! From a function of space to a closed triangle mesh of its zero set.

mod cells;
mod track;

pub use track::{Grid, TrackError, Tracked, track};
