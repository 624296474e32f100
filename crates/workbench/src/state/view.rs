//! What the window shows besides the document: the current step, tools, and what each step keeps.

use bevy::prelude::*;

use super::Step;
use super::fit::FitView;
use super::material::MaterialView;
use super::print::PrintView;
use super::scan::ScanView;
use super::shell::ShellView;
use super::show::ShowView;
use super::zone::ZoneView;

/// What the pointer does on the limb.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Tool {
    /// Turns the limb.
    #[default]
    Turn,
    /// Paints what is to be covered.
    Paint,
    /// Takes away from it.
    Erase,
    /// Sets corners that are joined over the skin.
    Outline,
    /// Marks a line across which a joint folds.
    Crease,
}

/// A small window before the panels; one at a time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Floating {
    /// The list of actions with their keys.
    Keys,
    /// The settings of the program.
    Settings,
}

/// What the window shows; nothing of it is saved with the design.
#[derive(Resource, Debug)]
pub struct View {
    /// The current step.
    pub step: Step,
    /// What the pointer does.
    pub tool: Tool,
    /// Radius of the brush on the skin, mm.
    pub brush_mm: f32,
    /// The small window that is open before the panels.
    pub floating: Option<Floating>,
    /// Bring everything into sight in the next frame.
    pub see_all: bool,
    /// All that can be folded out in a panel is open, for pictures.
    pub opened_out: bool,
    /// How far the panel is to be scrolled down, once.
    pub scroll_to: Option<f32>,
    /// How high the panel of the step is, and how much of that is in sight.
    pub panel: [f32; 2],
    /// The scan step.
    pub scan: ScanView,
    /// The zone step.
    pub zone: ZoneView,
    /// The shell step.
    pub shell: ShellView,
    /// The fit step.
    pub fit: FitView,
    /// The material step.
    pub material: MaterialView,
    /// The print step.
    pub print: PrintView,
    /// The show step.
    pub show: ShowView,
}

impl Default for View {
    fn default() -> Self {
        Self {
            step: Step::default(),
            tool: Tool::default(),
            brush_mm: 12.0,
            floating: None,
            see_all: false,
            opened_out: false,
            scroll_to: None,
            panel: [0.0; 2],
            scan: ScanView::default(),
            zone: ZoneView::default(),
            shell: ShellView::default(),
            fit: FitView::default(),
            material: MaterialView::default(),
            print: PrintView::default(),
            show: ShowView::default(),
        }
    }
}
