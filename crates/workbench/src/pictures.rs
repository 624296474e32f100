//! `--screenshot`: the demo led through all steps, with a picture of the window at each, for documents and tests.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use engine::PEN_SMOOTH_MM;

use crate::state::{Bench, Step, Tool, View};

/// Longest wait for the work of one step.
const LONGEST: Duration = Duration::from_secs(300);
/// Rest before a picture, so that what was just made is drawn.
const REST: Duration = Duration::from_millis(3500);
/// Least frames before a picture.
const FRAMES: u32 = 8;

/// The tour.
#[derive(Resource)]
pub struct Tour {
    folder: PathBuf,
    step: Step,
    /// When the step was come to.
    since: Instant,
    /// When its work was first seen done, and frames since then.
    quiet: Option<(Instant, u32)>,
    taking: bool,
    prepared: bool,
    fittings: bool,
}

impl Tour {
    /// A tour that saves its pictures in `folder`.
    pub fn new(folder: PathBuf) -> Self {
        Self {
            folder,
            step: Step::Scan,
            since: Instant::now(),
            quiet: None,
            taking: false,
            prepared: false,
            fittings: false,
        }
    }
}

/// A picture was saved, or not.
#[derive(Resource, Default)]
pub struct Taken(Option<Result<(), String>>);

/// Leads through the steps.
pub fn lead(
    mut commands: Commands,
    mut tour: ResMut<Tour>,
    mut taken: ResMut<Taken>,
    mut bench: ResMut<Bench>,
    mut view: ResMut<View>,
    mut exit: MessageWriter<AppExit>,
) {
    match taken.0.take() {
        Some(Err(sentence)) => return end(&mut bench, &mut exit, Err(sentence)),
        Some(Ok(())) => match tour.step.next() {
            Some(next) => {
                *tour = Tour { step: next, fittings: tour.fittings, ..Tour::new(tour.folder.clone()) };
            }
            None => return end(&mut bench, &mut exit, Ok(())),
        },
        None => {}
    }
    if tour.taking {
        return;
    }
    view.step = tour.step;
    if let Some(problem) = bench.session.derived().problem() {
        let sentence = problem.sentence.clone();
        return end(&mut bench, &mut exit, Err(sentence));
    }
    if tour.since.elapsed() > LONGEST {
        let sentence = format!("the step {} is not ready after {} s", tour.step.name(), LONGEST.as_secs());
        return end(&mut bench, &mut exit, Err(sentence));
    }
    if !is_ready(&bench, tour.step) || !prepare(&mut tour, &mut bench, &mut view) {
        tour.quiet = None;
        return;
    }
    let (at, frames) = tour.quiet.get_or_insert_with(|| (Instant::now(), 0));
    *frames += 1;
    if at.elapsed() > REST && *frames > FRAMES {
        tour.taking = true;
        let number = Step::ALL.iter().position(|step| *step == tour.step).unwrap_or(0) + 1;
        let path = tour.folder.join(format!("{number}-{}.png", tour.step.name().to_lowercase()));
        commands.spawn(Screenshot::primary_window()).observe(
            move |captured: On<ScreenshotCaptured>, mut taken: ResMut<Taken>| {
                let saved = captured.image.clone().try_into_dynamic().map_err(|e| e.to_string());
                let saved = saved.and_then(|image| image.to_rgb8().save(&path).map_err(|e| e.to_string()));
                taken.0 = Some(saved.map_err(|e| format!("{} cannot be saved: {e}", path.display())));
            },
        );
    }
}

/// Whether all work of a step is done.
fn is_ready(bench: &Bench, step: Step) -> bool {
    let session = &bench.session;
    let Some(design) = session.design() else { return false };
    if !session.progress().is_empty() || session.derived().zone.value().is_none() {
        return false;
    }
    matches!(step, Step::Scan | Step::Zone) || session.derived().shell_is_current(design)
}

/// Does what the user would do at a step; whether that is done.
fn prepare(tour: &mut Tour, bench: &mut Bench, view: &mut View) -> bool {
    if tour.step == Step::Zone {
        view.tool = Tool::Paint;
        return true;
    }
    view.tool = Tool::Turn;
    view.fit.cut = true;
    if tour.step != Step::Shell {
        return true;
    }
    let derived = bench.session.derived();
    let (Some(limb), Some(pen)) = (derived.limb.value().cloned(), derived.pen.value().cloned()) else { return false };
    if !tour.prepared {
        tour.prepared = true;
        // The rest of the zone, as by pressing the button that takes over the pen line.
        if let Ok((source, _)) = engine::pen_source((*pen).clone(), false, &limb.placement) {
            bench.session.edit("take over the pen line", |design| {
                design.zone.sources = vec![source];
                design.zone.smooth_mm = PEN_SMOOTH_MM;
            });
        }
        return false;
    }
    if !tour.fittings {
        tour.fittings = true;
        let Some(zone) = derived.zone.value().cloned() else { return false };
        bench.session.edit("straps and number", |design| {
            let (site, number) = (design.site, design.squad_number);
            drop(engine::add_fittings(&mut design.shell, &limb.skin, &zone, site, number, &mesh::Job::silent()));
        });
        return false;
    }
    true
}

#[allow(clippy::print_stderr)]
fn end(bench: &mut Bench, exit: &mut MessageWriter<AppExit>, how: Result<(), String>) {
    bench.session.end();
    exit.write(match how {
        Ok(()) => AppExit::Success,
        Err(sentence) => {
            eprintln!("The pictures could not all be made: {sentence}");
            AppExit::error()
        }
    });
}
