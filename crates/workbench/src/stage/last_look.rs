//! A saved design comes back as it was left: the step, the view, what was switched on. Kept with the preferences.

use std::path::Path;
use std::time::{Duration, Instant};

use bevy::prelude::*;
use session::LastLook;

use super::camera::StageCamera;
use super::limb::LimbOnStage;
use crate::state::{Bench, Step, View};

/// The view is kept once it has not changed for this long.
const REST: Duration = Duration::from_secs(1);

/// Switches that come back, by name.
type Switch = (&'static str, fn(&mut View) -> &mut bool);
const SWITCHES: [Switch; 3] = [
    ("gap in colours", |view| &mut view.fit.heat),
    ("cut open", |view| &mut view.fit.cut),
    ("guard alone", |view| &mut view.show.alone),
];

/// What is being kept and brought back.
#[derive(Default)]
pub struct Keeping {
    opened: u64,
    /// To be brought back once the limb stands.
    coming: Option<LastLook>,
    /// As it is now, and since when.
    now: Option<(LastLook, Instant)>,
}

/// Restores the view of a design that was opened, and keeps the view of the current one.
pub fn keep(
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    limb: Res<LimbOnStage>,
    mut camera: Single<&mut StageCamera>,
    mut keeping: Local<Keeping>,
) {
    let (bench, view) = (bench.bypass_change_detection(), view.bypass_change_detection());
    let session = &mut bench.session;
    let path = session.document().and_then(|document| document.path()).map(Path::to_owned);
    if keeping.opened != session.opened() {
        let coming = path.as_deref().and_then(|path| session.preferences.last_look(path)).cloned();
        *keeping = Keeping { opened: session.opened(), coming, now: None };
        if let Some(look) = &keeping.coming {
            view.step = Step::ALL.into_iter().find(|step| step.name() == look.step).unwrap_or(view.step);
            for (name, switch) in SWITCHES {
                *switch(view) = look.switched_on.iter().any(|on| on == name);
            }
        }
    }
    if limb.came
        && let Some(look) = keeping.coming.take()
    {
        let [around, up] = look.turn;
        **camera = StageCamera { middle: look.middle_mm.into(), around, up, distance: look.distance_mm };
    }
    // While the guard turns by itself, or a scan that is being opened is shown, there is no view to keep.
    let passing = view.show.turning || session.is_opening();
    let Some(path) = path.filter(|_| limb.is_whole() && keeping.coming.is_none() && !passing) else { return };
    let look = LastLook {
        design: path,
        step: view.step.name().to_owned(),
        middle_mm: camera.middle.into(),
        turn: [camera.around, camera.up],
        distance_mm: camera.distance,
        switched_on: SWITCHES.iter().filter(|(_, switch)| *switch(view)).map(|(name, _)| (*name).to_owned()).collect(),
    };
    match &keeping.now {
        Some((known, since)) if *known == look => {
            if since.elapsed() > REST && session.preferences.last_look(&look.design) != Some(&look) {
                session.preferences.remember_look(look);
                session.keep_preferences();
            }
        }
        _ => keeping.now = Some((look, Instant::now())),
    }
}
