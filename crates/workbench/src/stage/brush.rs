//! The brush: dabs along the way of the pointer while the button is held.

use bevy::input::mouse::AccumulatedMouseScroll;
use bevy::prelude::*;
use bevy_egui::input::EguiWantsInput;
use mesh::geodesic::Dab as Touch;
use mesh::{Hit, Surface};
use nalgebra::Point3;
use session::marking::{self, Target};
use zone::Dab;

use super::limb::LimbOnStage;
use super::pointer::{Did, Pointer};
use super::skin::{BEYOND_MM, SkinOnStage};
use crate::bench::Bench;
use crate::mark::Aim;
use crate::step::Step;
use crate::view::{Tool, View};

/// Least and greatest radius of the brush, mm.
pub const RADIUS_MM: (f32, f32) = (2.0, 80.0);

/// The stroke that is being painted.
#[derive(Resource, Default)]
pub struct Stroke {
    /// Where the last dab stands; none while the button is up.
    last: Option<Point3<f32>>,
    brush: Brush,
}

/// Places dabs and shows them; keeps its working space.
#[derive(Debug, Default)]
pub struct Brush {
    touch: Touch,
    hits: Vec<Hit>,
}

impl Brush {
    /// The dabs from `last` to the skin under the pointer, each on the skin.
    pub fn dabs(
        &mut self,
        skin: &Surface,
        last: Option<Point3<f32>>,
        to: &Hit,
        radius_mm: f32,
        remove: bool,
    ) -> Vec<Dab> {
        let places = marking::along(last, to.point, radius_mm);
        self.hits.clear();
        self.hits.extend(places.iter().filter_map(|p| skin.nearest(p, Some(to.triangle))));
        self.hits.iter().map(|hit| Dab { at_mm: hit.point, radius_mm, remove }).collect()
    }

    /// Shows the dabs that were placed last.
    pub fn show(
        &mut self,
        skin: &Surface,
        shown: &mut SkinOnStage,
        target: Target,
        aim: Aim,
        radius_mm: f32,
        remove: bool,
    ) {
        let near = self.touch.within(skin, &self.hits, radius_mm + BEYOND_MM);
        let kind = if let Aim::New(kind) = aim { Some(kind) } else { None };
        shown.dab(target, kind, near, radius_mm, remove);
    }
}

/// Paints while the button is held.
#[allow(clippy::too_many_arguments)]
pub fn paint(
    mut stroke: ResMut<Stroke>,
    mut shown: ResMut<LimbOnStage>,
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    pointer: Res<Pointer>,
    scroll: Res<AccumulatedMouseScroll>,
    keys: Res<ButtonInput<KeyCode>>,
    wants: Res<EguiWantsInput>,
) {
    let brush = view.step == Step::Zone && matches!(view.tool, Tool::Paint | Tool::Erase);
    let stroke = &mut *stroke;
    let bench = bench.bypass_change_detection();
    if !brush {
        stroke.end(bench);
        return;
    }
    for did in &pointer.did {
        match did {
            Did::Press(_, hit) => {
                stroke.end(bench);
                stroke.go(hit, bench, view.bypass_change_detection(), &mut shown.bypass_change_detection().skin);
            }
            Did::Pass(hit) => {
                if stroke.last.is_some() {
                    stroke.go(hit, bench, view.bypass_change_detection(), &mut shown.bypass_change_detection().skin);
                }
            }
            Did::LetGo => stroke.end(bench),
        }
    }
    let zooms = keys.any_pressed([KeyCode::AltLeft, KeyCode::AltRight]);
    if !pointer.down && pointer.at.is_some() && scroll.delta.y != 0.0 && !zooms && !wants.wants_any_pointer_input() {
        view.brush_mm = (view.brush_mm * (0.08 * scroll.delta.y).exp()).clamp(RADIUS_MM.0, RADIUS_MM.1);
    }
}

impl Stroke {
    /// Dabs on to a place, as part of one edit.
    fn go(&mut self, to: &Hit, bench: &mut Bench, view: &mut View, shown: &mut SkinOnStage) {
        let Some(limb) = bench.session.derived().limb.value().cloned() else { return };
        let (radius_mm, remove) = (view.brush_mm, view.tool == Tool::Erase);
        let aim = view.marking.aim;
        let dabs = self.brush.dabs(&limb.skin, self.last, to, radius_mm, remove);
        let Some(last) = dabs.last() else { return };
        self.last = Some(last.at_mm);
        // Nothing can be taken away from a region that is not there yet.
        if remove && matches!(aim, Aim::New(_)) {
            return;
        }
        let mut target = Target::Zone;
        bench.session.edit_live(if remove { "erase" } else { "paint" }, |design| {
            target = view.marking.begin(&mut design.zone);
            marking::add_dabs(&mut design.zone, target, &dabs);
        });
        self.brush.show(&limb.skin, shown, target, aim, radius_mm, remove);
    }

    fn end(&mut self, bench: &mut Bench) {
        if self.last.take().is_some() {
            bench.session.settle();
        }
    }
}
