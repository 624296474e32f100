//! Where the pointer meets the limb, and what it passed since the last frame: a slow frame may hold a whole stroke.

use bevy::ecs::system::SystemParam;
use bevy::input::ButtonState;
use bevy::prelude::*;
use bevy::window::WindowEvent;
use bevy_egui::input::EguiWantsInput;
use mesh::Hit;
use nalgebra::{Point3, Vector3};

use super::StageCamera;
use crate::state::{Bench, SIGHT_MM, StageRect, Step, Tool, View};

/// Most pointer positions used of one frame.
const MOST: usize = 64;
/// A stroke of the brush may begin this far beside the limb, in units of the window; farther out the button turns it.
const BESIDE: f32 = 40.0;
/// Directions in which the limb is searched for round such a beginning, and steps in each.
const ROUND: (u8, u8) = (16, 4);
/// Bisection steps to where the pointer crossed the edge of the limb.
const HALVINGS: usize = 7;

/// One thing that the pressed pointer did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Did {
    /// Went down on the limb, here in the window.
    Press(Vec2, Hit),
    /// Passed this place of the limb while it was down.
    Pass(Hit),
    /// Was let go.
    LetGo,
}

/// The pointer on the stage.
#[derive(Resource, Default)]
pub struct Pointer {
    /// The skin under it.
    pub hit: Option<Hit>,
    /// Where it is in the window; none over a panel.
    pub at: Option<Vec2>,
    /// The left button went down beside the limb: it turns the limb until it is let go.
    pub turning: bool,
    /// What it did on the limb with the left button or the space bar since the last frame, in order.
    pub did: Vec<Did>,
    /// It is down on the limb.
    pub down: bool,
    /// The space bar works in the middle of the stage until the mouse is moved.
    pub by_keys: bool,
    /// Millimetres in one unit of the window at the distance of the limb.
    pub unit_mm: f32,
    /// How far it was dragged since the last frame with a button that turns the view. Taken from positions in the
    /// window, as pen tablets and remote desktops send no motion, and only while the button was down: one slow frame
    /// may hold the way to a place, the press there and more.
    pub turned: Vec2,
    /// The same with the button that shifts the view.
    pub shifted: Vec2,
    last: Option<Vec2>,
    /// Which buttons went down on the stage and are still down.
    held: Held,
    /// A stroke has begun beside the limb and waits to reach it.
    waiting: bool,
}

/// Buttons of the mouse.
#[derive(Debug, Clone, Copy, Default)]
struct Held {
    left: bool,
    right: bool,
    middle: bool,
}

impl Held {
    fn set(&mut self, button: MouseButton, down: bool) {
        match button {
            MouseButton::Left => self.left = down,
            MouseButton::Right => self.right = down,
            MouseButton::Middle => self.middle = down,
            _ => {}
        }
    }
}

/// What the pointer moves over.
#[derive(SystemParam)]
pub struct Scene<'w> {
    bench: Res<'w, Bench>,
    view: Res<'w, View>,
    stage: Res<'w, StageRect>,
}

/// Finds where the pointer meets the limb.
pub fn find(
    mut pointer: ResMut<Pointer>,
    mut events: MessageReader<WindowEvent>,
    Scene { bench, view, stage }: Scene,
    wants: Res<EguiWantsInput>,
    keys: Res<ButtonInput<KeyCode>>,
    camera: Single<(&Camera, &Transform, &StageCamera)>,
) {
    let (camera, transform, place) = camera.into_inner();
    let transform = GlobalTransform::from(*transform);
    let skin = bench.session.derived().limb.value();
    let meet = |at: Vec2| {
        let ray = camera.viewport_to_world(&transform, at).ok()?;
        let way = Vector3::from(ray.direction.to_array());
        skin?.skin.ray(&Point3::from(ray.origin.to_array()), &way, SIGHT_MM)
    };
    let pointer = &mut *pointer;
    pointer.unit_mm = 2.0 * 0.25_f32.tan() * place.distance / stage.0.height().max(1.0);
    pointer.did.clear();
    (pointer.turned, pointer.shifted) = (Vec2::ZERO, Vec2::ZERO);
    let brush = view.step == Step::Zone && matches!(view.tool, Tool::Paint | Tool::Erase);
    let free = |at: &Vec2| stage.0.contains(*at) && !wants.wants_any_pointer_input();
    let mut moved = false;
    for event in events.read() {
        match event {
            WindowEvent::CursorMoved(to) => {
                let from = pointer.last.replace(to.position).unwrap_or(to.position);
                pointer.drag(to.position - from, view.step != Step::Zone || view.tool == Tool::Turn);
                moved |= to.delta.is_some_and(|d| d != Vec2::ZERO);
                let works = (pointer.down || pointer.waiting) && !pointer.by_keys;
                if !works || pointer.did.len() >= MOST {
                    continue;
                }
                let hit = meet(to.position);
                if pointer.waiting && hit.is_some() {
                    let edge = edge(from, to.position, &meet);
                    pointer.press(edge, meet(edge));
                }
                if pointer.down {
                    pointer.did.extend(hit.map(Did::Pass));
                }
            }
            WindowEvent::CursorLeft(_) => pointer.last = None,
            WindowEvent::WindowFocused(focus) if !focus.focused => pointer.held = Held::default(),
            WindowEvent::MouseButtonInput(input) => {
                let (down, at) = (input.state == ButtonState::Pressed, pointer.last.filter(free));
                pointer.held.set(input.button, down && at.is_some());
                if input.button == MouseButton::Left {
                    pointer.left_button(down, at, brush, &meet);
                }
            }
            _ => {}
        }
    }
    let turned = [KeyCode::ArrowLeft, KeyCode::ArrowRight, KeyCode::ArrowUp, KeyCode::ArrowDown];
    // Down and up again within one frame counts too.
    let (space, now) = (keys.pressed(KeyCode::Space), keys.just_pressed(KeyCode::Space));
    if !wants.wants_any_keyboard_input() && (space || now || keys.any_pressed(turned)) {
        pointer.by_keys = true;
    } else if moved && !(pointer.by_keys && pointer.down) {
        pointer.by_keys = false;
    }
    pointer.at = if pointer.by_keys {
        Some(stage.0.center())
    } else {
        pointer.last.filter(|at| stage.0.contains(*at) && (pointer.down || !wants.wants_any_pointer_input()))
    };
    pointer.hit = pointer.at.and_then(meet);
    if pointer.by_keys {
        pointer.follow_space_bar(space, now);
    }
}

impl Pointer {
    /// Adds a move to what was dragged; where the left button marks the limb, it turns it only from beside it.
    fn drag(&mut self, way: Vec2, left_turns: bool) {
        if self.held.right || (self.held.left && (left_turns || self.turning)) {
            self.turned += way;
        }
        if self.held.middle {
            self.shifted += way;
        }
    }

    /// Takes the space bar as the button while keys lead the pointer; `now` if it went down in this frame.
    fn follow_space_bar(&mut self, is_down: bool, now: bool) {
        if now
            && !self.down
            && let Some(at) = self.at
        {
            self.press(at, self.hit);
            self.turning = false;
        } else if is_down && self.down {
            self.did.extend(self.hit.map(Did::Pass));
        }
        if !is_down && self.down {
            self.let_go();
        }
    }

    /// The left button went down, over the stage at `at`, or was let go.
    fn left_button(&mut self, down: bool, at: Option<Vec2>, brush: bool, meet: &impl Fn(Vec2) -> Option<Hit>) {
        if !down {
            self.let_go();
        } else if let Some(at) = at {
            self.by_keys = false;
            let hit = meet(at);
            self.press(at, hit);
            if brush && hit.is_none() && beside(at, meet) {
                (self.waiting, self.turning) = (true, false);
            }
        }
    }

    fn press(&mut self, at: Vec2, hit: Option<Hit>) {
        self.down = hit.is_some();
        self.turning = hit.is_none();
        self.waiting = false;
        self.did.extend(hit.map(|hit| Did::Press(at, hit)));
    }

    fn let_go(&mut self) {
        if self.down {
            self.did.push(Did::LetGo);
        }
        self.down = false;
        self.turning = false;
        self.waiting = false;
    }
}

/// Whether the limb is near a place in the window.
fn beside(at: Vec2, meet: &impl Fn(Vec2) -> Option<Hit>) -> bool {
    let (directions, steps) = ROUND;
    (1..=steps).any(|step| {
        let reach = BESIDE * f32::from(step) / f32::from(steps);
        (0..directions).any(|i| {
            let angle = std::f32::consts::TAU * f32::from(i) / f32::from(directions);
            meet(at + reach * Vec2::from_angle(angle)).is_some()
        })
    })
}

/// The place where the way from `off` the limb to `on` it crosses the limb's edge.
fn edge(mut off: Vec2, mut on: Vec2, meet: &impl Fn(Vec2) -> Option<Hit>) -> Vec2 {
    for _ in 0..HALVINGS {
        let middle = off.midpoint(on);
        if meet(middle).is_some() { on = middle } else { off = middle }
    }
    on
}
