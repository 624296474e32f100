//! How often the window is drawn: quickly while something goes on, seldom while nobody does anything, so that a laptop
//! rests between two looks.

use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::window::WindowEvent;
use bevy::winit::{UpdateMode, WinitSettings};
use session::Changed;

use crate::bench::Bench;
use crate::step::Step;
use crate::view::View;

/// Between two looks while something goes on; what the user does is seen at once anyway.
const LIVELY: Duration = Duration::from_millis(100);
/// Between two looks at rest: often enough to put work by and to see a scan arrive.
const RESTING: Duration = Duration::from_millis(500);
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

/// How to go on.
fn mode(turning: bool, quiet_for: Duration) -> UpdateMode {
    if turning {
        UpdateMode::Continuous
    } else {
        UpdateMode::reactive_low_power(if quiet_for < LINGER { LIVELY } else { RESTING })
    }
}

/// Sets the pace.
pub fn keep(
    mut pace: ResMut<Pace>,
    mut winit: ResMut<WinitSettings>,
    mut events: MessageReader<WindowEvent>,
    bench: Res<Bench>,
    view: Res<View>,
) {
    let busy = bench.changed != Changed::default()
        || !bench.session.progress().is_empty()
        || bench.files.drawing.progress().is_some();
    if events.read().count() > 0 || busy {
        pace.0 = Instant::now();
    }
    let wanted = mode(view.step == Step::Show && view.show.turning, pace.0.elapsed());
    if winit.focused_mode != wanted {
        winit.focused_mode = wanted;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_rests_once_nothing_has_happened_for_a_while() {
        assert_eq!(mode(false, Duration::ZERO), UpdateMode::reactive_low_power(LIVELY));
        assert_eq!(mode(false, LINGER), UpdateMode::reactive_low_power(RESTING));
        assert_eq!(mode(true, 2 * LINGER), UpdateMode::Continuous);
    }
}
