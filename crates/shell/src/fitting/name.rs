//! What fittings and marks are called in sentences: their kind with its size, and their number in the design from 1.

use crate::{Design, DesignItem, FittingKind};

/// Fitting `number` of a design.
pub(super) fn of_fitting(number: usize, kind: &FittingKind) -> String {
    let what = match kind {
        FittingKind::StrapSlot { strap_mm, .. } => format!("the slot for a {} mm strap", short(*strap_mm)),
        FittingKind::LaceHoles { .. } => "the row of lace holes".to_owned(),
        FittingKind::TieSlot { .. } => "the tie slot".to_owned(),
        FittingKind::StitchHoles { .. } => "the stitch holes".to_owned(),
        FittingKind::HookAndLoopSeat { .. } => "the hook-and-loop seat".to_owned(),
    };
    format!("{what} (fitting {})", number + 1)
}

/// Anything that lies on the shell.
pub(super) fn of_item(item: DesignItem, design: &Design) -> String {
    match item {
        DesignItem::Vent => "a vent".to_owned(),
        DesignItem::Fitting(n) => {
            design.fittings.get(n).map_or_else(|| format!("fitting {}", n + 1), |fitting| of_fitting(n, &fitting.kind))
        }
        DesignItem::Mark(n) => {
            design.marks.get(n).map_or_else(|| format!("mark {}", n + 1), |mark| format!("the mark “{}”", mark.text))
        }
        DesignItem::Picture(n) => {
            let name = |picture: &crate::Picture| format!("the picture “{}”", picture.name);
            design.pictures.get(n).map_or_else(|| format!("picture {}", n + 1), name)
        }
    }
}

/// With one decimal at most.
fn short(mm: f32) -> f64 {
    (f64::from(mm) * 10.0).round() / 10.0
}
