//! How often the window is drawn: quickly while something goes on, seldom while nobody does anything, so that a laptop
//! rests between two looks.

use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::window::WindowEvent;
use bevy::winit::{UpdateMode, WinitSettings};
use bevy_egui::EguiInput;
use bevy_egui::egui::{Event, Modifiers};
use session::Changed;

use crate::bench::Bench;
use crate::pictures::Tour;
use crate::stage::{LimbOnStage, Stroke};
use crate::step::Step;
use crate::view::View;

/// Between two looks while something goes on; what the user does is seen at once anyway.
const LIVELY: Duration = Duration::from_millis(50);
/// Between two looks at rest while a scan may arrive.
const WATCHING: Duration = Duration::from_secs(2);
/// Between two looks at rest.
const RESTING: Duration = Duration::from_secs(5);
/// How long it stays lively: what was made in the background comes to the stage in parts.
const LINGER: Duration = Duration::from_secs(10);

/// When something last went on.
#[derive(Resource, Debug)]
pub struct Pace(Instant);

impl Default for Pace {
    fn default() -> Self {
        Self(Instant::now())
    }
}

/// How to go on: `moving` is what is seen to change with every frame.
fn mode(moving: bool, watching: bool, quiet_for: Duration) -> UpdateMode {
    let rest = if watching { WATCHING } else { RESTING };
    if moving {
        UpdateMode::Continuous
    } else {
        UpdateMode::reactive_low_power(if quiet_for < LINGER { LIVELY } else { rest })
    }
}

/// Sets the pace.
#[allow(clippy::too_many_arguments)]
pub fn keep(
    mut pace: ResMut<Pace>,
    mut winit: ResMut<WinitSettings>,
    mut events: MessageReader<WindowEvent>,
    bench: Res<Bench>,
    view: Res<View>,
    limb: Res<LimbOnStage>,
    stroke: Res<Stroke>,
    tour: Option<Res<Tour>>,
) {
    let busy = bench.changed != Changed::default()
        || !bench.session.progress().is_empty()
        || bench.files.drawing.progress().is_some();
    if events.read().count() > 0 || busy {
        pace.0 = Instant::now();
    }
    let watching = bench.session.preferences.watched_folder.is_some();
    let turns = view.step == Step::Show && view.show.turning;
    let moving = turns || limb.is_coming() || stroke.brush.is_waiting() || tour.is_some();
    let wanted = mode(moving, watching, pace.0.elapsed());
    if winit.focused_mode != wanted {
        winit.focused_mode = wanted;
        winit.unfocused_mode = wanted;
    }
}

/// Takes out of what egui is told which keys are held down besides, where nothing has changed: bevy_egui tells it in every
/// frame, and as egui draws once more after anything that it is told, the window would never rest.
pub fn tell_once(mut inputs: Query<&mut EguiInput>, mut last: Local<Modifiers>) {
    for mut input in &mut inputs {
        keep_news(&mut input.events, &mut last);
    }
}

fn keep_news(events: &mut Vec<Event>, last: &mut Modifiers) {
    events.retain(|event| match event {
        Event::ModifiersChanged(now) => std::mem::replace(last, *now) != *now,
        _ => true,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn held_keys_are_told_once() {
        let mut last = Modifiers::NONE;
        let told = |now: Modifiers, last: &mut Modifiers| {
            let mut events = vec![Event::ModifiersChanged(now), Event::Copy];
            keep_news(&mut events, last);
            events.len()
        };
        assert_eq!(told(Modifiers::NONE, &mut last), 1);
        assert_eq!(told(Modifiers::SHIFT, &mut last), 2);
        assert_eq!(told(Modifiers::SHIFT, &mut last), 1);
        assert_eq!(told(Modifiers::NONE, &mut last), 2);
    }

    #[test]
    fn it_rests_once_nothing_has_happened_for_a_while() {
        assert_eq!(mode(false, true, Duration::ZERO), UpdateMode::reactive_low_power(LIVELY));
        assert_eq!(mode(false, true, LINGER), UpdateMode::reactive_low_power(WATCHING));
        assert_eq!(mode(false, false, LINGER), UpdateMode::reactive_low_power(RESTING));
        assert_eq!(mode(true, false, 2 * LINGER), UpdateMode::Continuous);
    }
}
