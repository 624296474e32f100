//! How often the window is drawn: often while something goes on, seldom while nobody does anything, so that a laptop
//! can idle.

use std::time::{Duration, Instant};

use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy::window::WindowEvent;
use bevy::winit::{UpdateMode, WinitSettings};
use session::Changed;

use crate::pictures::Tour;
use crate::stage::{LimbOnStage, Stroke};
use crate::state::{Bench, Step, View};

/// Between two frames while something goes on; what the user does is drawn at once anyway.
const LIVELY: Duration = Duration::from_millis(50);
/// Between two frames at rest while a scan may arrive.
const WATCHING: Duration = Duration::from_secs(2);
/// Between two frames at rest.
const RESTING: Duration = Duration::from_secs(5);
/// How long it stays lively after the last event, as results come to the stage in parts.
const LINGER: Duration = Duration::from_secs(10);

/// When something last went on.
#[derive(Resource, Debug)]
pub struct Pace(Instant);

impl Default for Pace {
    fn default() -> Self {
        Self(Instant::now())
    }
}

/// The update mode; `moving` if something visibly changes with every frame.
fn mode(moving: bool, watching: bool, quiet_for: Duration) -> UpdateMode {
    let rest = if watching { WATCHING } else { RESTING };
    if moving {
        UpdateMode::Continuous
    } else {
        UpdateMode::reactive_low_power(if quiet_for < LINGER { LIVELY } else { rest })
    }
}

/// Everything in which something may go on.
#[derive(SystemParam)]
pub struct Goings<'w> {
    bench: Res<'w, Bench>,
    view: Res<'w, View>,
    limb: Res<'w, LimbOnStage>,
    stroke: Res<'w, Stroke>,
    tour: Option<Res<'w, Tour>>,
}

impl Goings<'_> {
    /// Whether something is worked on.
    fn is_busy(&self) -> bool {
        self.bench.changed != Changed::default()
            || !self.bench.session.progress().is_empty()
            || self.bench.files.rendering.progress().is_some()
    }

    /// Whether anything goes on.
    pub fn go_on(&self) -> bool {
        self.is_busy() || self.is_moving()
    }

    /// Whether something visibly changes with every frame.
    fn is_moving(&self) -> bool {
        let turns = self.view.step == Step::Show && self.view.show.turning;
        turns || self.limb.is_coming() || self.stroke.brush.is_waiting() || self.tour.is_some()
    }
}

/// Sets the pace.
pub fn keep(
    mut pace: ResMut<Pace>,
    mut winit: ResMut<WinitSettings>,
    mut events: MessageReader<WindowEvent>,
    goings: Goings,
) {
    if events.read().count() > 0 || goings.is_busy() {
        pace.0 = Instant::now();
    }
    let watching = goings.bench.session.preferences.watched_folder.is_some();
    let wanted = mode(goings.is_moving(), watching, pace.0.elapsed());
    if winit.focused_mode != wanted {
        winit.focused_mode = wanted;
        winit.unfocused_mode = wanted;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_rests_once_nothing_has_happened_for_a_while() {
        assert_eq!(mode(false, true, Duration::ZERO), UpdateMode::reactive_low_power(LIVELY));
        assert_eq!(mode(false, true, LINGER), UpdateMode::reactive_low_power(WATCHING));
        assert_eq!(mode(false, false, LINGER), UpdateMode::reactive_low_power(RESTING));
        assert_eq!(mode(true, false, 2 * LINGER), UpdateMode::Continuous);
    }
}
