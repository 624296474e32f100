//! `--screenshot`: the demo, a scan or a design led through all steps, with pictures of the window at each, for
//! documents and tests.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use nalgebra::Point3;
use session::marking::{self, Target};
use zone::Dab;

use crate::actions::Action;
use crate::commands::perform_one;
use crate::state::files::Origin;
use crate::state::shell::Item;
use crate::state::{Bench, Step, Tool, View};

/// Longest wait for the work of one step.
const LONGEST: Duration = Duration::from_secs(300);
/// Rest before a picture, so that what was just made is drawn.
const REST: Duration = Duration::from_millis(3500);
/// Least frames before a picture.
const FRAMES: u32 = 8;

/// Most things that are done at a step.
const MOST_DONE: u8 = 3;
/// Overlap of two successive pictures of a panel, in units of the window.
const OVERLAP: f32 = 60.0;

/// The tour.
#[derive(Resource)]
pub struct Tour {
    folder: PathBuf,
    /// Panels are opened out, with as many pictures as they need.
    opened_out: bool,
    step: Step,
    /// Number of the picture of this step, from 0.
    page: u16,
    /// When this picture was begun.
    since: Instant,
    /// When its work was first seen to be done, and frames since then.
    quiet: Option<(Instant, u32)>,
    taking: bool,
    /// How many things were done at the step so far.
    done: u8,
}

impl Tour {
    /// A tour that saves its pictures in `folder`.
    pub fn new(folder: PathBuf, opened_out: bool) -> Self {
        let (step, since) = (Step::Scan, Instant::now());
        Self { folder, opened_out, step, page: 0, since, quiet: None, taking: false, done: 0 }
    }

    /// Goes on to the next picture; whether there is one.
    fn go_on(&mut self, view: &mut View) -> bool {
        let [height, seen] = view.panel;
        let way = (seen - OVERLAP).max(OVERLAP);
        let down = way * f32::from(self.page);
        (self.since, self.quiet, self.taking) = (Instant::now(), None, false);
        if self.opened_out && down + seen < height - 1.0 {
            self.page += 1;
            view.scroll_to = Some(down + way);
            return true;
        }
        let Some(next) = self.step.next() else { return false };
        (self.step, self.page, self.done) = (next, 0, 0);
        true
    }

    /// The file of the current picture.
    fn path(&self) -> PathBuf {
        let number = Step::ALL.iter().position(|step| *step == self.step).unwrap_or(0) + 1;
        let page = if self.opened_out { format!("-{}", self.page + 1) } else { String::new() };
        self.folder.join(format!("{number}-{}{page}.png", self.step.name().to_lowercase()))
    }
}

/// Whether the picture was saved, or why not; none until known.
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
        Some(Ok(())) if !tour.go_on(&mut view) => return end(&mut bench, &mut exit, Ok(())),
        Some(Ok(())) | None => {}
    }
    if tour.taking {
        return;
    }
    (view.step, view.opened_out) = (tour.step, tour.opened_out);
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
        let path = tour.path();
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
    let (session, derived) = (&bench.session, bench.session.derived());
    let Some(design) = session.design() else { return false };
    if !session.progress().is_empty() || derived.pen.value().is_none() {
        return false;
    }
    matches!(step, Step::Scan | Step::Zone) || derived.shell_is_current(design)
}

/// Does what the user would do at a step, one thing at a time; whether all is done. What a design has already stays.
fn prepare(tour: &mut Tour, bench: &mut Bench, view: &mut View) -> bool {
    view.tool = if tour.step == Step::Zone { Tool::Paint } else { Tool::Turn };
    view.fit.cut = true;
    while tour.done < MOST_DONE {
        tour.done += 1;
        let did = match (tour.step, tour.done) {
            (Step::Zone, 1) => mark(bench),
            (Step::Shell, 1) => fill_demo(bench),
            (Step::Shell, 2) => add_straps(bench),
            _ => tour.opened_out && open_out(tour, bench, view),
        };
        // Waits for what follows from it.
        if did {
            return false;
        }
    }
    true
}

/// Marks the zone where nothing is marked: by the pen line, else by strokes along one side of the limb; whether it did.
fn mark(bench: &mut Bench) -> bool {
    let is_marked = bench.session.design().is_some_and(|design| !design.zone.sources.is_empty());
    !is_marked && (take_pen_line(bench) || paint(bench))
}

/// Completes the half-painted zone of the demo; whether it did.
fn fill_demo(bench: &mut Bench) -> bool {
    bench.files.origin == Origin::Demo && take_pen_line(bench)
}

/// Makes the pen line the edge of the zone, as its button does; whether there is one.
fn take_pen_line(bench: &mut Bench) -> bool {
    let derived = bench.session.derived();
    let (Some(limb), Some(pen)) = (derived.limb.value(), derived.pen.value()) else { return false };
    let Ok((source, _)) = engine::pen_source((**pen).clone(), false, &limb.placement) else { return false };
    bench.session.edit("take the pen line", |design| design.zone.sources = vec![source]);
    true
}

/// Paints along the middle of one side of the limb.
fn paint(bench: &mut Bench) -> bool {
    let Some(limb) = bench.session.derived().limb.value().cloned() else { return false };
    let Some((low, high)) = limb.skin.bounds() else { return false };
    let (size, middle) = (high - low, nalgebra::center(&low, &high));
    let dabs = (-4..=4_i8).filter_map(|i| {
        let beside = Point3::new(middle.x, low.y - size.y, middle.z + 0.05 * size.z * f32::from(i));
        let at_mm = limb.skin.nearest(&beside, None)?.point;
        Some(Dab { at_mm, radius_mm: (0.12 * size.z).clamp(12.0, 40.0), remove: false })
    });
    let dabs: Vec<Dab> = dabs.collect();
    let mut used = 0;
    bench.session.edit("paint", |design| used = marking::add_dabs(&mut design.zone, Target::Zone, &dabs));
    used > 0
}

/// Adds straps and the squad number where the design has none; whether it did.
fn add_straps(bench: &mut Bench) -> bool {
    let derived = bench.session.derived();
    let (Some(limb), Some(zone)) = (derived.limb.value().cloned(), derived.zone.value().cloned()) else { return false };
    let is_bare = |shell: &shell::Design| shell.fittings.is_empty() && shell.marks.is_empty();
    if !bench.session.design().is_some_and(|design| is_bare(&design.shell)) {
        return false;
    }
    bench.session.edit("straps and number", |design| {
        let (site, number) = (design.site, design.squad_number);
        drop(engine::add_fittings(&mut design.shell, &limb.skin, &zone, site, number, &mesh::Job::silent()));
    });
    true
}

/// Opens out what a button opens; whether there was anything.
fn open_out(tour: &Tour, bench: &mut Bench, view: &mut View) -> bool {
    match (tour.step, tour.done) {
        (Step::Shell, 3) => view.shell.chosen = Some(Item::Fitting(0)),
        (Step::Material, 1) => perform_one(Action::OwnFilament, bench, view),
        (Step::Print, 1) => perform_one(Action::AskBed, bench, view),
        (Step::Show, 1) => {
            let look = bench.session.design().and_then(|design| design.look.as_ref());
            if look.is_none_or(|look| look.artwork.is_none()) {
                perform_one(Action::NextArtwork, bench, view);
            }
        }
        _ => return false,
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The work of all steps of a tour, without a window.
    fn tour(bench: &mut Bench, opened_out: bool) {
        let mut view = View::default();
        for step in Step::ALL {
            let mut tour = Tour { step, ..Tour::new(PathBuf::new(), opened_out) };
            while !is_ready(bench, step) || !prepare(&mut tour, bench, &mut view) {
                bench.session.poll();
                assert_eq!(bench.session.derived().problem(), None, "{step:?}");
                assert!(tour.since.elapsed() < LONGEST, "{step:?} is never ready");
                std::thread::sleep(Duration::from_millis(5));
            }
        }
    }

    #[test]
    fn a_scan_is_made_a_guard_and_a_guard_stays_as_it_is() {
        let folder = tempfile::tempdir().unwrap();
        let mut bench = Bench::with_wrist(folder.path());
        tour(&mut bench, false);
        let made = bench.session.design().cloned().unwrap();
        assert!(!made.zone.sources.is_empty() && made.shell.fittings.len() > 1, "{made:?}");
        tour(&mut bench, false);
        assert_eq!(bench.session.design(), Some(&made));
    }

    #[test]
    fn a_panel_longer_than_the_window_takes_several_pictures() {
        let mut tour = Tour::new(PathBuf::new(), true);
        let mut view = View { panel: [1500.0, 660.0], ..View::default() };
        assert_eq!(tour.path(), PathBuf::from("1-scan-1.png"));
        let mut seen = 660.0;
        while tour.go_on(&mut view) && tour.step == Step::Scan {
            let down = view.scroll_to.take().unwrap();
            assert!(down < seen, "nothing is left out");
            seen = down + 660.0;
        }
        assert!(seen >= 1500.0, "{seen}");
        assert_eq!((tour.step, tour.path()), (Step::Zone, PathBuf::from("2-zone-1.png")));
        assert_eq!(Tour::new(PathBuf::new(), false).path(), PathBuf::from("1-scan.png"));
    }
}
