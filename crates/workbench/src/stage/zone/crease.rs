//! The crease tool: two clicks at the ends of a line across which a joint folds, or one stroke along it.

use bevy::prelude::*;

use crate::commands::zone::finish_crease;
use crate::stage::pointer::{Did, Pointer};
use crate::state::{Bench, Step, Tool, View};

/// Points of a stroke are this far apart, mm: the shortest way between them is straight enough.
const APART_MM: f32 = 4.0;

/// Takes the points of a crease, and finishes it at its second click or at the end of a stroke.
pub fn crease(mut bench: ResMut<Bench>, mut view: ResMut<View>, pointer: Res<Pointer>, mut stroke: Local<bool>) {
    let bench = bench.bypass_change_detection();
    let view = view.bypass_change_detection();
    if view.step != Step::Zone || view.tool != Tool::Crease {
        *stroke = false;
        return;
    }
    for did in &pointer.did {
        let open = &mut view.zone.open;
        match did {
            Did::Press(_, hit) => {
                *stroke = false;
                if open.last().is_none_or(|last| (last - hit.point).norm() > 0.5) {
                    open.push(hit.point);
                }
            }
            Did::Pass(hit) => {
                if open.last().is_some_and(|last| (last - hit.point).norm() > APART_MM) {
                    *stroke = true;
                    open.push(hit.point);
                }
            }
            Did::LetGo => {
                if *stroke || open.len() >= 2 {
                    *stroke = false;
                    finish_crease(bench, view);
                }
            }
        }
    }
}
