//! The signs of the workbench, drawn for it: strokes on a field of 24 by 24, one function each.

mod file;
mod guard;
mod mark;
mod move_on;
mod pen;

use bevy_egui::egui::{Color32, Painter, Rect};

use pen::Pen;

/// A sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Icon {
    /// Open a scan or design.
    Open,
    /// Save.
    Save,
    /// Undo.
    Undo,
    /// Redo.
    Redo,
    /// Stop what is running.
    Stop,
    /// List of keys.
    Keys,
    /// Settings of the program.
    Settings,
    /// Add one more.
    Add,
    /// Take away.
    Remove,
    /// Done.
    Done,
    /// Something is wrong here.
    Wrong,
    /// Paint the zone.
    Paint,
    /// Erase.
    Erase,
    /// Click round an outline.
    Outline,
    /// The line across which a joint folds.
    Crease,
    /// Turn the limb.
    Turn,
    /// The line drawn on the skin.
    PenLine,
    /// Room over a tender spot.
    Relief,
    /// A thicker wall.
    Reinforcement,
    /// No vents here.
    KeepClear,
    /// A slot for a strap.
    Strap,
    /// Lace holes.
    Lace,
    /// A pair of slots for a tie.
    Tie,
    /// Holes along the edge.
    Stitch,
    /// A seat for hook-and-loop.
    Seat,
    /// Vents.
    Vent,
    /// Ribs.
    Rib,
    /// The rim.
    Rim,
    /// A number or word.
    Number,
    /// Smooth the edge.
    Smooth,
    /// Crop the scan.
    Crop,
    /// Watch a folder.
    Watch,
    /// Cut across the limb.
    Cut,
    /// A picture.
    Picture,
    /// A slow turn.
    Turntable,
    /// The folder with the print files.
    Folder,
    /// Another arrangement.
    Shuffle,
    /// Bring everything into sight.
    SeeAll,
}

impl Icon {
    /// Draws it into the largest square in the middle of `field`.
    pub fn paint(self, painter: &Painter, field: Rect, ink: Color32) {
        let pen = Pen::new(painter, field, ink);
        match self {
            Self::Open => file::open(&pen),
            Self::Save => file::save(&pen),
            Self::Folder => file::folder(&pen),
            Self::Watch => file::watch(&pen),
            Self::Picture => file::picture(&pen),
            Self::Keys => file::keys(&pen),
            Self::Settings => file::settings(&pen),
            Self::Undo => move_on::undo(&pen),
            Self::Redo => move_on::redo(&pen),
            Self::Stop => move_on::stop(&pen),
            Self::Add => move_on::add(&pen),
            Self::Remove => move_on::remove(&pen),
            Self::Done => move_on::done(&pen),
            Self::Wrong => move_on::wrong(&pen),
            Self::Turn => move_on::turn(&pen),
            Self::Turntable => move_on::turntable(&pen),
            Self::Shuffle => move_on::shuffle(&pen),
            Self::SeeAll => move_on::see_all(&pen),
            Self::Paint => mark::paint(&pen),
            Self::Erase => mark::erase(&pen),
            Self::Outline => mark::outline(&pen),
            Self::Crease => mark::crease(&pen),
            Self::PenLine => mark::pen_line(&pen),
            Self::Relief => mark::relief(&pen),
            Self::Reinforcement => mark::reinforcement(&pen),
            Self::KeepClear => mark::keep_clear(&pen),
            Self::Smooth => mark::smooth(&pen),
            Self::Crop => mark::crop(&pen),
            Self::Strap => guard::strap(&pen),
            Self::Lace => guard::lace(&pen),
            Self::Tie => guard::tie(&pen),
            Self::Stitch => guard::stitch(&pen),
            Self::Seat => guard::seat(&pen),
            Self::Vent => guard::vent(&pen),
            Self::Rib => guard::rib(&pen),
            Self::Rim => guard::rim(&pen),
            Self::Number => guard::number(&pen),
            Self::Cut => guard::cut(&pen),
        }
    }
}
