//! The shell step: what is chosen on the shell, what is being placed, and the grips of the trim line.

use std::sync::Arc;

use nalgebra::Point3;
use shell::FittingKind;
use zone::EdgePull;
use zone::trim::{Grip, Pulled};

/// A thing on the shell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// A fitting, by its number.
    Fitting(usize),
    /// A number or word, by its number.
    Mark(usize),
    /// A picture, by its number.
    Picture(usize),
}

/// What a click on the limb puts there.
#[derive(Debug, Clone, PartialEq)]
pub enum Placing {
    /// A new fitting.
    Fitting(FittingKind),
    /// A new number or word.
    Mark(String),
}

/// State of the shell step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ShellView {
    /// The thing whose settings are open.
    pub chosen: Option<Item>,
    /// What the next click places.
    pub placing: Option<Placing>,
    /// Place it in the middle of the stage now.
    pub place_here: bool,
    /// What a new number or word says, once something was typed; the squad number until then.
    pub text: Option<String>,
    /// The grips of the trim line.
    pub trim: Trimming,
}

/// What the window knows about the grips.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trimming {
    /// The grips, and the serial of the zone whose edges they stand on.
    pub known: (u64, Arc<Vec<Grip>>),
    /// The one that is being dragged.
    pub held: Option<Held>,
}

/// A grip that is being dragged.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// Its number among the grips.
    pub number: usize,
    /// All grips as they stood when the drag began.
    pub grips: Arc<Vec<Grip>>,
    /// The edges of the zone then.
    pub edges: Vec<Vec<Point3<f32>>>,
    /// The pulls of the zone then.
    pub before: Vec<EdgePull>,
    /// How far it is pulled.
    pub pulled: Option<Pulled>,
}
