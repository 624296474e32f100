//! Files in and out: choosing, asking before work is lost, the watched folder, the first demo.

mod chooser;
mod drawing;
mod question;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bevy::prelude::*;
use bevy::window::{FileDragAndDrop, WindowCloseRequested};
use engine::MakeReport;
use scan::{BodySite, Side};
use session::Leftover;

use crate::bench::Bench;

pub use chooser::{Chooser, Purpose};
pub use drawing::{Drawing, Drawn};
pub use question::windows;

/// What is going on with files.
#[derive(Debug, Default)]
pub struct Files {
    /// Something is being chosen.
    pub(crate) chooser: Option<Chooser>,
    /// Waits for an answer, because work would be lost.
    pub(crate) question: Option<Next>,
    /// It has not been seen yet, so that the key that led to it is no answer.
    unseen: bool,
    /// Goes on when the design has been saved.
    after_save: Option<Next>,
    /// A new scan in the watched folder.
    pub arrived: Option<PathBuf>,
    /// The print files made last.
    pub exported: Option<(PathBuf, Arc<MakeReport>)>,
    /// A picture or turn that is being drawn.
    pub drawing: Drawing,
    /// It is drawn without the limb.
    pub alone: bool,
    /// A file is held over the window.
    hovering: bool,
    /// The window is to close.
    closing: bool,
    /// The side of the limb that is looked at, degrees about its axis: where a picture is thrown from.
    pub front_deg: f32,
    /// How far above the viewer stands, degrees.
    pub raise_deg: f32,
    /// The demo is what is open.
    pub demo: bool,
    /// The demo opens at the zone, which is half painted.
    to_zone: bool,
}

/// What comes when the work at hand is safe or given up.
#[derive(Debug, Clone, PartialEq)]
pub enum Next {
    /// Opens this scan or design.
    Open(PathBuf),
    /// Takes up unsaved work.
    Restore(Leftover),
    /// Opens the demo.
    Demo,
    /// Closes the window.
    Close,
}

impl Files {
    /// Whether something stands in front of the window.
    pub fn is_asking(&self) -> bool {
        self.question.is_some() || self.chooser.is_some()
    }

    /// Drops what waited for a save that failed.
    pub fn stay(&mut self) {
        self.after_save = None;
    }

    /// Whether a file is held over the window.
    pub fn is_hovering(&self) -> bool {
        self.hovering
    }
}

impl Bench {
    /// Goes on to something that drops the design at hand; asks before unsaved work is lost.
    pub fn go_on_to(&mut self, next: Next) {
        if self.session.is_saving() {
            self.files.after_save = Some(next);
        } else if self.session.document().is_some_and(session::Document::would_be_missed) {
            self.files.question = Some(next);
            self.files.unseen = true;
        } else {
            self.go_on(next);
        }
    }

    /// Goes on to what waited for the save; asks again where something changed meanwhile.
    pub fn go_on_after_save(&mut self) {
        if !self.session.is_saving()
            && let Some(next) = self.files.after_save.take()
        {
            self.go_on_to(next);
        }
    }

    fn go_on(&mut self, next: Next) {
        self.files.demo = next == Next::Demo;
        self.files.to_zone |= self.files.demo;
        match next {
            Next::Open(path) => self.session.open(&path, BodySite::Other, Side::Unknown),
            Next::Restore(leftover) => self.session.restore(&leftover),
            Next::Demo => self.session.open_demo(),
            Next::Close => self.files.closing = true,
        }
    }

    /// Lets the user choose a file or folder.
    pub fn choose(&mut self, purpose: Purpose) {
        if self.files.chooser.is_none() {
            let name = self.session.design().map(|d| file_name_for(&d.title, purpose.ending()));
            self.files.chooser = Some(Chooser::begin(purpose, self.usual_folder(), name));
        }
    }

    /// Saves where the design was saved before, or asks where.
    pub fn save(&mut self) {
        if self.session.document().is_some() && !self.session.save() {
            self.choose(Purpose::SaveAs);
        }
    }

    fn usual_folder(&self) -> PathBuf {
        let of_design = self.session.document().and_then(session::Document::path);
        let recent = self.session.preferences.recent.first().map(PathBuf::as_path);
        let folder = of_design.or(recent).and_then(Path::parent).filter(|folder| folder.is_dir());
        folder.map_or_else(|| std::env::current_dir().unwrap_or_default(), Path::to_owned)
    }

    fn chosen(&mut self, purpose: Purpose, path: &Path) {
        match purpose {
            Purpose::Open => self.go_on_to(Next::Open(path.to_owned())),
            Purpose::SaveAs => {
                let path = if path.extension().is_some() { path.to_owned() } else { path.with_extension("json") };
                self.session.save_as(&path);
            }
            Purpose::Export => {
                self.files.exported = None;
                // As the calendar on the wall says, for the page that goes with the guard.
                self.session.export(path, Some(jiff::Zoned::now().date().to_string()));
            }
            Purpose::Watch => {
                self.session.watch(Some(path));
                self.say(format!("New scans in {} are offered as they arrive.", path.display()), false);
            }
            Purpose::Draw(what) => self.draw(what, &path.with_extension(what.ending())),
            Purpose::Picture => crate::panel::show::take_picture(self, path, self.files.front_deg),
        }
    }
}

/// A file name made from a title.
fn file_name_for(title: &str, ending: &str) -> String {
    let plain: String = title.chars().map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let words: Vec<&str> = plain.split('-').filter(|w| !w.is_empty()).collect();
    let stem = if words.is_empty() { "guard".to_owned() } else { words.join("-") };
    format!("{stem}.{ending}")
}

/// Picks up what was chosen, dropped on the window, or asked of it by the system.
pub fn poll(
    mut bench: ResMut<Bench>,
    mut dropped: MessageReader<FileDragAndDrop>,
    mut close: MessageReader<WindowCloseRequested>,
    mut exit: MessageWriter<AppExit>,
    mut view: ResMut<crate::view::View>,
) {
    let bench = bench.bypass_change_detection();
    let show = &view.show;
    (bench.files.front_deg, bench.files.raise_deg, bench.files.alone) = (show.front_deg, show.raise_deg, show.alone);
    bench.pick_up_drawing();
    if std::mem::take(&mut bench.files.to_zone) {
        view.step = crate::step::Step::Zone;
    }
    for message in dropped.read() {
        bench.files.hovering = matches!(message, FileDragAndDrop::HoveredFile { .. });
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = message {
            let picture = path_buf
                .extension()
                .is_some_and(|e| ["png", "jpg", "jpeg"].contains(&e.to_string_lossy().to_lowercase().as_str()));
            let purpose = if picture { Purpose::Picture } else { Purpose::Open };
            bench.chosen(purpose, path_buf);
        }
    }
    if close.read().count() > 0 {
        bench.go_on_to(Next::Close);
    }
    if let Some(answer) = bench.files.chooser.as_mut().and_then(Chooser::take) {
        let purpose = bench.files.chooser.take().map(|chooser| chooser.purpose);
        match purpose.zip(answer) {
            Some((purpose, path)) => bench.chosen(purpose, &path),
            None => bench.files.after_save = None,
        }
    }
    if bench.files.closing {
        bench.session.end();
        exit.write(AppExit::Success);
    }
}

/// Opens the demo the first time that the program is started without anything else to do.
pub fn first_run(mut bench: ResMut<Bench>) {
    let session = &bench.session;
    if !session.preferences.demo_seen && !session.is_opening() && session.leftovers().is_empty() {
        bench.go_on(Next::Demo);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The system that picks files up, on an app without a window.
    fn without_window(home: &Path) -> App {
        let session = session::Session::begin(session::Places::inside(home)).unwrap();
        let mut app = App::new();
        app.add_message::<FileDragAndDrop>()
            .add_message::<WindowCloseRequested>()
            .add_message::<AppExit>()
            .insert_resource(Bench::new(session))
            .init_resource::<crate::view::View>()
            .add_systems(Update, poll);
        app
    }

    fn bench(app: &mut App) -> Mut<'_, Bench> {
        app.world_mut().resource_mut::<Bench>()
    }

    fn opened(app: &mut App, file: &Path) {
        let window = Entity::PLACEHOLDER;
        app.world_mut().write_message(FileDragAndDrop::HoveredFile { window, path_buf: file.to_owned() });
        app.update();
        assert!(bench(app).files.is_hovering());
        app.world_mut().write_message(FileDragAndDrop::DroppedFile { window, path_buf: file.to_owned() });
        app.update();
        assert!(!bench(app).files.is_hovering());
        let start = std::time::Instant::now();
        while bench(app).session.is_opening() {
            assert!(start.elapsed().as_secs() < 120, "{} never opens", file.display());
            bench(app).session.poll();
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
    }

    #[test]
    fn a_scan_dropped_on_the_window_opens_a_picture_is_laid_on_and_unsaved_work_is_asked_about() {
        let folder = tempfile::tempdir().unwrap();
        let mut app = without_window(&folder.path().join("home"));
        let scans = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans");
        opened(&mut app, &scans.join("wrist-12.ply"));
        let first = bench(&mut app).session.opened();
        assert!(bench(&mut app).session.document().is_some());
        // A picture is not opened but laid on the guard, which is work that would be missed.
        let picture = folder.path().join("badge.PNG");
        image::RgbImage::from_pixel(8, 8, image::Rgb([9, 90, 200])).save(&picture).unwrap();
        app.world_mut().write_message(FileDragAndDrop::DroppedFile { window: Entity::PLACEHOLDER, path_buf: picture });
        app.update();
        let look = bench(&mut app).session.design().unwrap().look.clone();
        assert!(look.is_some_and(|look| look.artwork.is_some()));
        let other = scans.join("wrist-12.ply");
        let dropped = FileDragAndDrop::DroppedFile { window: Entity::PLACEHOLDER, path_buf: other.clone() };
        app.world_mut().write_message(dropped);
        app.update();
        assert_eq!(bench(&mut app).files.question, Some(Next::Open(other)));
        assert_eq!(bench(&mut app).session.opened(), first, "nothing is dropped before the answer");
        // What is no scan is refused in words and leaves everything as it was.
        bench(&mut app).files.question = None;
        let saved = folder.path().join("guard.json");
        bench(&mut app).session.save_as(&saved);
        while bench(&mut app).session.is_saving() {
            bench(&mut app).session.poll();
        }
        let notes = folder.path().join("notes.stl");
        std::fs::write(&notes, "no scan at all").unwrap();
        opened(&mut app, &notes);
        assert_eq!(bench(&mut app).session.opened(), first);
        let told = bench(&mut app).session.take_notes();
        assert!(told.iter().any(|note| matches!(note, session::Note::Problem(_))), "{told:?}");
    }

    #[test]
    fn titles_become_file_names_that_every_system_takes() {
        assert_eq!(
            file_name_for("Guard for the left shin, number 23", "json"),
            "guard-for-the-left-shin-number-23.json"
        );
        assert_eq!(file_name_for(" / : * ", "gif"), "guard.gif");
    }
}
