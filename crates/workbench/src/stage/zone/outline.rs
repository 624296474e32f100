//! The outline tool: corners by clicks, dragged afterwards.

use bevy::prelude::*;
use mesh::Hit;
use nalgebra::Point3;
use session::marking::{self, Corner};

use crate::commands::zone::close_outline;
use crate::stage::StageCamera;
use crate::stage::pointer::{Did, Pointer};
use crate::state::{Bench, Step, Tool, View};

/// A corner is caught this near to the pointer, in units of the window.
const CATCH: f32 = 13.0;

/// The corner that is being dragged.
#[derive(Resource, Default)]
pub struct Dragged(Option<Corner>);

/// Places, catches and drags corners.
pub fn outline(
    mut dragged: ResMut<Dragged>,
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    pointer: Res<Pointer>,
    camera: Single<(&Camera, &Transform), With<StageCamera>>,
) {
    let bench = bench.bypass_change_detection();
    let view = view.bypass_change_detection();
    let here = view.step == Step::Zone && view.tool == Tool::Outline;
    if view.step != Step::Zone && !view.zone.open.is_empty() {
        view.zone.open.clear();
    }
    if !here {
        let_go(&mut dragged, bench);
        return;
    }
    let (camera, transform) = camera.into_inner();
    let transform = GlobalTransform::from(*transform);
    for did in &pointer.did {
        match did {
            Did::Press(at, hit) => {
                let away = |p: &Point3<f32>| {
                    let seen = camera.world_to_viewport(&transform, Vec3::from_array(p.coords.into())).ok()?;
                    // What lies on the far side of the limb is not under the pointer.
                    ((p - hit.point).norm() < 3.0 * CATCH * pointer.unit_mm).then_some((seen - at).length())
                };
                match press(view, bench, &away) {
                    Press::Close => close_outline(bench, view),
                    Press::Catch(corner) => {
                        view.zone.selected = Some(corner);
                        dragged.0 = Some(corner);
                    }
                    Press::Add => add(view, hit),
                }
            }
            Did::Pass(hit) => {
                if let Some(corner) = dragged.0 {
                    let to = hit.point;
                    bench.session.edit_live("move a corner", |d| marking::move_corner(&mut d.zone, corner, to));
                }
            }
            Did::LetGo => let_go(&mut dragged, bench),
        }
    }
}

fn let_go(dragged: &mut Dragged, bench: &mut Bench) {
    if dragged.0.take().is_some() {
        bench.session.settle();
    }
}

/// What a press does.
enum Press {
    Close,
    Catch(Corner),
    Add,
}

fn press(view: &View, bench: &Bench, away: &dyn Fn(&Point3<f32>) -> Option<f32>) -> Press {
    let open = &view.zone.open;
    if let Some(first) = open.first() {
        let closes = open.len() >= 3 && away(first).is_some_and(|d| d < CATCH);
        return if closes { Press::Close } else { Press::Add };
    }
    let Some(design) = bench.session.design() else { return Press::Add };
    let corners = view.zone.target(&design.zone).map(|t| marking::corners(&design.zone, t)).unwrap_or_default();
    let near =
        corners.into_iter().filter_map(|(corner, p)| Some((corner, away(&p)?))).min_by(|a, b| a.1.total_cmp(&b.1));
    match near {
        Some((corner, d)) if d < CATCH => Press::Catch(corner),
        _ => Press::Add,
    }
}

fn add(view: &mut View, hit: &Hit) {
    view.zone.selected = None;
    if view.zone.open.last().is_none_or(|last| (last - hit.point).norm() > 0.5) {
        view.zone.open.push(hit.point);
    }
}
