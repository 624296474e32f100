//! The brush: dabs along the way of the pointer while the button is held.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

use bevy::input::mouse::AccumulatedMouseScroll;
use bevy::prelude::*;
use bevy_egui::input::EguiWantsInput;
use mesh::geodesic::GeodesicDisc;
use mesh::{Hit, Surface};
use nalgebra::Point3;
use session::marking::{self, Target};
use zone::{Dab, RegionKind};

use crate::stage::limb::LimbOnStage;
use crate::stage::pointer::{Did, Pointer};
use crate::stage::skin::{BEYOND_MM, SkinOnStage};
use crate::state::zone::{Aim, BRUSH_MM};
use crate::state::{Bench, Step, Tool, View};

/// Vertices of a dab between two looks at the clock.
const SHARE: usize = 2000;

/// Time for showing dabs in a frame; larger brushes on fine scans go on in the frames after it.
const TIME: Duration = Duration::from_millis(5);

/// The same where frames are slow anyway, and the frame time from which they count as slow, s.
const SLOW: (Duration, f32) = (Duration::from_millis(20), 0.05);

/// The stroke that is being painted.
#[derive(Resource, Default)]
pub struct Stroke {
    /// Where the last dab stands; none while the button is up.
    last: Option<Point3<f32>>,
    /// What places dabs and shows them.
    pub brush: Brush,
}

/// Places dabs and shows them; reuses its buffers.
#[derive(Debug, Default)]
pub struct Brush {
    touch: GeodesicDisc,
    hits: Vec<Hit>,
    /// Dabs placed and not wholly shown, the oldest first.
    waiting: VecDeque<PendingDabs>,
    /// The oldest of them has been begun.
    begun: bool,
}

/// Dabs of one frame that are to be shown.
#[derive(Debug)]
struct PendingDabs {
    hits: Vec<Hit>,
    target: Target,
    kind: Option<RegionKind>,
    radius_mm: f32,
    remove: bool,
}

impl PendingDabs {
    /// Whether both look the same but for their places.
    fn is_like(&self, other: &Self) -> bool {
        (self.target, self.radius_mm, self.remove) == (other.target, other.radius_mm, other.remove)
    }
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

    /// Queues the dabs placed last to be shown.
    pub fn show(&mut self, target: Target, aim: Aim, radius_mm: f32, remove: bool) {
        let kind = if let Aim::New(kind) = aim { Some(kind) } else { None };
        let next = PendingDabs { hits: self.hits.clone(), target, kind, radius_mm, remove };
        // Dabs that wait anyway are shown together.
        let waits = if self.begun { self.waiting.len() > 1 } else { !self.waiting.is_empty() };
        match self.waiting.back_mut().filter(|last| waits && last.is_like(&next)) {
            Some(last) => last.hits.extend(next.hits),
            None => self.waiting.push_back(next),
        }
    }

    /// Shows what was placed, from the middle of each dab outward, for as long as there is time.
    pub fn go_on(&mut self, skin: &Surface, shown: &mut SkinOnStage, time: Duration) {
        let start = Instant::now();
        while let Some(next) = self.waiting.front() {
            if !self.begun {
                self.touch.begin(skin, &next.hits, next.radius_mm + BEYOND_MM);
                self.begun = true;
            }
            let near = self.touch.go_on(skin, SHARE);
            shown.dab(next.target, next.kind, near, next.radius_mm, next.remove);
            if self.touch.is_done() {
                self.waiting.pop_front();
                self.begun = false;
            }
            if start.elapsed() > time {
                return;
            }
        }
    }

    /// Whether something that was placed is still to be shown.
    pub fn is_waiting(&self) -> bool {
        !self.waiting.is_empty()
    }

    /// Drops what waits to be shown: the sketch shows it now, or its limb has gone.
    pub fn forget(&mut self) {
        self.waiting.clear();
        self.begun = false;
    }
}

/// Paints while the button is held.
pub fn paint(
    mut stroke: ResMut<Stroke>,
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
                stroke.go(hit, bench, view.bypass_change_detection());
            }
            Did::Pass(hit) => {
                if stroke.last.is_some() {
                    stroke.go(hit, bench, view.bypass_change_detection());
                }
            }
            Did::LetGo => stroke.end(bench),
        }
    }
    let zooms = keys.any_pressed([KeyCode::AltLeft, KeyCode::AltRight]);
    if !pointer.down && pointer.at.is_some() && scroll.delta.y != 0.0 && !zooms && !wants.wants_any_pointer_input() {
        view.brush_mm = (view.brush_mm * (0.08 * scroll.delta.y).exp()).clamp(BRUSH_MM.0, BRUSH_MM.1);
    }
}

/// Shows what was painted.
pub fn show(mut stroke: ResMut<Stroke>, mut shown: ResMut<LimbOnStage>, time: Res<Time>) {
    let time = if time.delta_secs() > SLOW.1 { SLOW.0 } else { TIME };
    match shown.bypass_change_detection().standing() {
        Some((limb, skin)) => stroke.brush.go_on(&limb.skin, skin, time),
        None => stroke.brush.forget(),
    }
}

impl Stroke {
    /// Places dabs up to a place on the skin, as part of one edit.
    fn go(&mut self, to: &Hit, bench: &mut Bench, view: &mut View) {
        let Some(limb) = bench.session.derived().limb.value().cloned() else { return };
        let (radius_mm, remove) = (view.brush_mm, view.tool == Tool::Erase);
        let aim = view.zone.aim;
        let dabs = self.brush.dabs(&limb.skin, self.last, to, radius_mm, remove);
        let Some(last) = dabs.last() else { return };
        self.last = Some(last.at_mm);
        // Nothing can be taken away from a region that is not there yet.
        if remove && matches!(aim, Aim::New(_)) {
            return;
        }
        let mut target = Target::Zone;
        bench.session.edit_live(if remove { "erase" } else { "paint" }, |design| {
            target = view.zone.begin(&mut design.zone);
            marking::add_dabs(&mut design.zone, target, &dabs);
        });
        self.brush.show(target, aim, radius_mm, remove);
    }

    fn end(&mut self, bench: &mut Bench) {
        if self.last.take().is_some() {
            bench.session.settle();
        }
    }
}
