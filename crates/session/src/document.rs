//! The design that is being worked on, and where it came from.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use engine::LoadedScan;
use locker::DesignFile;
use scan::Placement;

use crate::{History, OpenedFrom};

/// A design with its scan and history.
#[derive(Debug)]
pub struct Document {
    pub(crate) history: History<DesignFile>,
    pub(crate) loaded: Arc<LoadedScan>,
    from: OpenedFrom,
    /// Where the design was opened from or saved to.
    pub(crate) path: Option<PathBuf>,
    pub(crate) saved: Option<Arc<DesignFile>>,
    /// The design as made from a scan, before the first edit.
    pub(crate) untouched: Option<Arc<DesignFile>>,
    /// Axes that the limb must keep; none after a change that gives it new ones, until they are known.
    pub(crate) kept_axes: Option<Placement>,
    /// States in the history that were left before the limb was aligned as their cleaning asks: their points are still
    /// on the old axes.
    pub(crate) unaligned: Vec<Arc<DesignFile>>,
}

impl Document {
    pub(crate) fn new(design: DesignFile, loaded: Arc<LoadedScan>, path: Option<PathBuf>, from: OpenedFrom) -> Self {
        let kept_axes = Some(design.placement);
        let history = History::new(design);
        let saved = path.is_some().then(|| Arc::clone(history.now()));
        Self { history, loaded, from, path, saved, untouched: None, kept_axes, unaligned: Vec::new() }
    }

    /// After a change of unit or a swap of left and right: converts the axes and all points of the design, so that
    /// settings, axes and points agree at once.
    pub(crate) fn carry_over(&mut self) {
        let axes = axes_for(self.design());
        if axes == self.design().placement {
            return;
        }
        self.history.amend(|design| on_axes(design, &axes));
        if self.kept_axes.is_some() {
            self.kept_axes = Some(axes);
        }
    }

    /// The current design.
    #[must_use]
    pub fn design(&self) -> &DesignFile {
        self.history.now()
    }

    /// The scan as read from its file.
    #[must_use]
    pub fn scan(&self) -> &Arc<LoadedScan> {
        &self.loaded
    }

    /// What it was opened from: work on a scan begins with site and side, work on a design goes on where it was left.
    #[must_use]
    pub fn opened_from(&self) -> OpenedFrom {
        self.from
    }

    /// The file it was opened from or saved to.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Whether there are changes that the file does not have.
    #[must_use]
    pub fn is_unsaved(&self) -> bool {
        self.saved.as_ref().is_none_or(|saved| **saved != **self.history.now())
    }

    /// Whether dropping this would lose work: it is unsaved and more than a scan just opened.
    #[must_use]
    pub fn would_be_missed(&self) -> bool {
        self.is_unsaved() && self.untouched.as_ref().is_none_or(|first| **first != **self.history.now())
    }

    /// The undo history.
    #[must_use]
    pub fn history(&self) -> &History<DesignFile> {
        &self.history
    }
}

/// The axes of a design, in the unit and with the mirroring that its cleaning asks for.
fn axes_for(design: &DesignFile) -> Placement {
    let mut axes = design.placement;
    if let Some(unit) = design.clean.unit {
        axes.pose.translation.vector *= unit.mm() / axes.unit_mm;
        axes.unit_mm = unit.mm();
    }
    axes.mirrored = design.clean.mirror;
    axes
}

/// Moves all points of a design from its axes to other axes on the same scan.
pub(crate) fn on_axes(design: &mut DesignFile, axes: &Placement) {
    let from = design.placement;
    let carry = |p: &mut nalgebra::Point3<f32>| *p = axes.limb_from_scan(&from.scan_from_limb(&p.cast())).cast();
    let zone = &mut design.zone;
    for source in zone.sources.iter_mut().chain(zone.regions.iter_mut().flat_map(|r| &mut r.sources)) {
        match source {
            zone::Source::Strokes { dabs } => dabs.iter_mut().for_each(|dab| carry(&mut dab.at_mm)),
            zone::Source::Outline { corners_mm: line, inside_mm }
            | zone::Source::Line { points_mm: line, inside_mm } => {
                line.iter_mut().chain(inside_mm.as_mut()).for_each(carry);
            }
            _ => {}
        }
    }
    zone.pulls.iter_mut().for_each(|pull| carry(&mut pull.at_mm));
    design.shell.fittings.iter_mut().for_each(|f| carry(&mut f.at_mm));
    design.shell.marks.iter_mut().for_each(|m| carry(&mut m.at_mm));
    design.shell.pictures.iter_mut().for_each(|p| carry(&mut p.at_mm));
    design.strength.at_mm.iter_mut().for_each(carry);
    design.placement = *axes;
}
