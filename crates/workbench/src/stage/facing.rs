//! Turns the camera to the side that matters when something is opened: the zone, or else the pen line.

use bevy::prelude::*;
use nalgebra::Point3;
use scan::pen::PenFinding;

use super::StageCamera;
use crate::state::{Bench, View};

/// Angle off the middle of that side at which the limb is seen, so that its roundness shows, radians.
const BESIDE: f32 = 0.35;

/// What has been opened, and whether the camera is still to be turned for it.
#[derive(Default)]
pub struct Facing {
    opened: u64,
    waits: bool,
    /// Azimuth of the camera when it was opened: once the user has turned it, it stays.
    around: f32,
}

/// Turns the camera once for each scan or design that is opened, unless the user has turned it meanwhile.
pub fn turn_to_zone(
    bench: Res<Bench>,
    view: Res<View>,
    mut camera: Single<&mut StageCamera>,
    mut facing: Local<Facing>,
) {
    let session = &bench.session;
    if facing.opened != session.opened() {
        // A design with a remembered view comes back with it.
        let path = session.document().and_then(|document| document.path());
        let waits = path.is_none_or(|path| session.preferences.last_look(path).is_none());
        *facing = Facing { opened: session.opened(), waits, around: camera.around };
    }
    if !facing.waits {
        return;
    }
    if camera.around != facing.around || view.show.turning {
        facing.waits = false;
        return;
    }
    let (Some(design), Some(limb)) = (session.design(), session.derived().limb.value()) else { return };
    let out = if design.zone.sources.is_empty() {
        let Some(found) = session.derived().pen.value() else { return };
        facing.waits = false;
        let line: &[Point3<f32>] = match &**found {
            PenFinding::Closed(line) => &line.centre,
            PenFinding::Open { line, .. } => line,
            _ => return,
        };
        // The direction that the skin faces along the line.
        line.iter()
            .filter_map(|p| limb.skin.nearest(p, None).map(|hit| limb.skin.normal_at(&hit)))
            .fold([0.0, 0.0], |[x, y], n| [x + n.x, y + n.y])
    } else {
        let Some(zone) = session.derived().zone.value() else { return };
        facing.waits = false;
        outward(limb.skin.vertex_normals(), &zone.covered.distance_mm)
    };
    if out != [0.0, 0.0] {
        camera.around = out[1].atan2(out[0]) - BESIDE;
    }
}

/// Sum of the normals of covered skin, x and y.
pub fn outward(normals: &[nalgebra::Vector3<f32>], covered_mm: &[f32]) -> [f32; 2] {
    let covered = normals.iter().zip(covered_mm).filter(|(_, depth)| **depth > 0.0);
    covered.fold([0.0, 0.0], |[x, y], (n, _)| [x + n.x, y + n.y])
}
