//! What the window shows besides the document: the step at hand, tools, and how things are seen.

use bevy::prelude::*;

use crate::looking::Looking;
use crate::mark::Marking;
use crate::panel::ScanView;
use crate::panel::Weighing;
use crate::shaping::Shaping;
use crate::stage::{BedView, ShowView};
use crate::step::Step;

/// What the pointer does on the limb.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tool {
    /// Only turns the limb.
    #[default]
    Look,
    /// Paints what is to be covered.
    Paint,
    /// Takes away from it.
    Erase,
    /// Sets corners that are joined over the skin.
    Outline,
}

/// What the window shows; nothing of it is saved with the design.
#[derive(Resource, Debug)]
pub struct View {
    /// The step at hand.
    pub step: Step,
    /// What the pointer does.
    pub tool: Tool,
    /// Radius of the brush on the skin, mm.
    pub brush_mm: f32,
    /// The list of actions and keys is open.
    pub actions_open: bool,
    /// The settings of the program are open.
    pub settings_open: bool,
    /// How the guard is shown to the athlete.
    pub show: ShowView,
    /// How the shell lies on the printer's bed.
    pub bed: BedView,
    /// What is being marked.
    pub marking: Marking,
    /// What the scan panel keeps.
    pub scan: ScanView,
    /// The shell step.
    pub shaping: Shaping,
    /// The fit step.
    pub looking: Looking,
    /// The material step.
    pub weighing: Weighing,
}

impl Default for View {
    fn default() -> Self {
        Self {
            step: Step::default(),
            tool: Tool::default(),
            brush_mm: 12.0,
            actions_open: false,
            settings_open: false,
            show: ShowView::default(),
            bed: BedView::default(),
            marking: Marking::default(),
            scan: ScanView::default(),
            shaping: Shaping::default(),
            looking: Looking::default(),
            weighing: Weighing::default(),
        }
    }
}
