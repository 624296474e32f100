//! Files in and out: choosing, saving, asking before something is lost, the demo.

use std::path::{Path, PathBuf};

use bevy::prelude::*;
use bevy::window::{FileDragAndDrop, WindowCloseRequested};
use scan::{BodySite, Side};
use session::UnsavedDesign;

use super::file_chooser;
use super::show::{picture, rendering};
use crate::state::files::{FileRequest, Next, Origin, Question};
use crate::state::{Bench, Step, View};

/// Goes on to something that closes the current design; asks before unsaved work is lost.
pub fn go_on_to(bench: &mut Bench, view: &mut View, next: Next) {
    if bench.session.is_saving() {
        bench.files.after_save = Some(next);
    } else if bench.session.document().is_some_and(session::Document::would_be_missed) {
        ask(bench, Question::Unsaved(next));
    } else {
        go_on(bench, view, next);
    }
}

/// Asks before something is lost.
pub fn ask(bench: &mut Bench, question: Question) {
    bench.files.question = Some(question);
    bench.files.unseen = true;
}

/// Goes on to what waited for the save; asks again if something changed meanwhile.
pub fn go_on_after_save(bench: &mut Bench, view: &mut View) {
    if !bench.session.is_saving()
        && let Some(next) = bench.files.after_save.take()
    {
        go_on_to(bench, view, next);
    }
}

/// Goes on to something that closes the current design, without asking.
pub fn go_on(bench: &mut Bench, view: &mut View, next: Next) {
    bench.files.next_origin = match next {
        Next::Open(_) => Origin::File,
        Next::Restore(_) => Origin::UnsavedWork,
        Next::Demo => Origin::Demo,
        Next::Close => bench.files.next_origin,
    };
    match next {
        Next::Open(path) => bench.session.open(&path, BodySite::Other, Side::Unknown),
        Next::Restore(unsaved) => bench.session.restore(&unsaved),
        Next::Demo => {
            bench.session.open_demo();
            // Half of the zone is painted there.
            view.step = Step::Zone;
        }
        Next::Close => bench.files.closing = true,
    }
}

/// Lets the user choose a file or folder.
pub fn choose(bench: &mut Bench, request: FileRequest) {
    if bench.files.chooser.is_none() {
        let name = proposed_name(bench, request);
        bench.files.chooser = Some(file_chooser::begin(request, first_folder(bench, request), name));
    }
}

/// The name proposed for a file or folder: number, site and side, so that the next guard does not overwrite it.
fn proposed_name(bench: &Bench, request: FileRequest) -> Option<String> {
    let name = bench.session.folder_name()?;
    Some(if request.is_save() { format!("{name}.{}", request.ending()) } else { name })
}

/// Saves where the design was saved before, or asks where.
pub fn save(bench: &mut Bench) {
    if bench.session.document().is_some() && !bench.session.save() {
        choose(bench, FileRequest::SaveAs);
    }
}

/// The folder that a chooser starts in: the one used last for this kind of file, else the design's, else home. To save
/// a design, its own folder comes first.
fn first_folder(bench: &Bench, request: FileRequest) -> PathBuf {
    let preferences = &bench.session.preferences;
    let last = preferences.folders.get(request.kind()).map(PathBuf::as_path);
    let of_design = bench.session.document().and_then(session::Document::path).and_then(Path::parent);
    let recent = preferences.recent.first().and_then(|path| path.parent());
    let order = if request == FileRequest::SaveAs { [of_design, last, recent] } else { [last, of_design, recent] };
    let there = order.into_iter().flatten().find(|folder| folder.is_dir()).map(Path::to_owned);
    there.or_else(std::env::home_dir).filter(|folder| folder.is_dir()).unwrap_or_default()
}

/// Remembers the folder for the next file or folder of this kind.
fn remember_folder(bench: &mut Bench, request: FileRequest, path: &Path) {
    // A guard's print files get their own folder; the next guard's folder goes beside it.
    let own = request == FileRequest::Export && bench.session.folder_name().is_some_and(|name| path.ends_with(name));
    let folder = if request.is_folder() && !own { Some(path) } else { path.parent() };
    if let Some(folder) = folder {
        bench.session.preferences.folders.insert(request.kind().to_owned(), folder.to_owned());
        bench.session.keep_preferences();
    }
}

/// Does what the file or folder was chosen for.
fn chosen(bench: &mut Bench, view: &mut View, request: FileRequest, path: &Path) {
    remember_folder(bench, request, path);
    match request {
        FileRequest::Open => go_on_to(bench, view, Next::Open(path.to_owned())),
        FileRequest::SaveAs => {
            let path = if path.extension().is_some() { path.to_owned() } else { path.with_extension("json") };
            bench.session.save_as(&path);
        }
        FileRequest::Export => {
            bench.files.exported = None;
            bench.session.export(path, Some(today()));
        }
        FileRequest::Watch => {
            bench.session.watch(Some(path));
            bench.say(format!("New scans in {} will be offered when they arrive.", path.display()), false);
        }
        FileRequest::Render(what) => rendering::render(bench, view, what, &path.with_extension(what.ending())),
        FileRequest::Raise => super::shell::raise_picture(bench, view, path),
        FileRequest::Picture => picture::take_picture(bench, path, view.show.front_deg),
    }
}

/// Writes the print files into a folder that has those of another guard.
pub fn export_over(bench: &mut Bench, folder: &Path) {
    bench.session.export_over(folder, Some(today()));
}

/// Today's date in local time, for the summary page.
fn today() -> String {
    jiff::Zoned::now().date().to_string()
}

/// Throws unsaved work away when asked twice, so that no slip of the hand loses work.
pub fn throw_away(bench: &mut Bench, unsaved: &UnsavedDesign) {
    let ask = format!("This deletes the unsaved work “{}” for good. Press again to delete it.", unsaved.title);
    if bench.fresh().is_some_and(|said| said.sentence == ask) {
        bench.session.discard(unsaved);
        bench.say("The unsaved work was thrown away.", false);
    } else {
        bench.say(ask, true);
    }
}

/// Picks up what was chosen, dropped on the window, or asked of it by the system.
pub fn pick_up(
    mut bench: ResMut<Bench>,
    mut dropped: MessageReader<FileDragAndDrop>,
    mut close: MessageReader<WindowCloseRequested>,
    mut exit: MessageWriter<AppExit>,
    mut view: ResMut<View>,
) {
    let bench = bench.bypass_change_detection();
    let view = view.bypass_change_detection();
    rendering::pick_up(bench);
    for message in dropped.read() {
        bench.files.hovering = matches!(message, FileDragAndDrop::HoveredFile { .. });
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = message {
            let ending = path_buf.extension().map(|e| e.to_string_lossy().to_lowercase());
            let request = match ending.as_deref() {
                Some("png" | "jpg" | "jpeg") if view.step == Step::Shell => FileRequest::Raise,
                Some("png" | "jpg" | "jpeg") => FileRequest::Picture,
                // A drawing in vectors is only raised.
                Some("svg") => FileRequest::Raise,
                _ => FileRequest::Open,
            };
            chosen(bench, view, request, path_buf);
        }
    }
    if close.read().count() > 0 {
        go_on_to(bench, view, Next::Close);
    }
    if let Some(answer) = bench.files.chooser.as_mut().and_then(file_chooser::answer) {
        let request = bench.files.chooser.take().map(|chooser| chooser.request);
        match request.zip(answer) {
            Some((request, path)) => chosen(bench, view, request, &path),
            None => bench.files.after_save = None,
        }
    }
    if bench.files.closing {
        bench.session.end();
        exit.write(AppExit::Success);
    }
}

/// Opens the demo, for pictures of every step.
pub fn open_demo(mut bench: ResMut<Bench>, mut view: ResMut<View>) {
    go_on(&mut bench, &mut view, Next::Demo);
}

#[cfg(test)]
mod tests {
    use super::*;
    use session::{Places, Recovery, Session};

    /// The system that picks files up, on an app without a window.
    fn without_window(home: &Path) -> App {
        let session = session::Session::begin(session::Places::inside(home)).unwrap();
        let mut app = App::new();
        app.add_message::<FileDragAndDrop>()
            .add_message::<WindowCloseRequested>()
            .add_message::<AppExit>()
            .insert_resource(Bench::new(session))
            .init_resource::<View>()
            .add_systems(Update, pick_up);
        app
    }

    fn bench(app: &mut App) -> Mut<'_, Bench> {
        app.world_mut().resource_mut::<Bench>()
    }

    fn opened(app: &mut App, file: &Path) {
        let window = Entity::PLACEHOLDER;
        app.world_mut().write_message(FileDragAndDrop::HoveredFile { window, path_buf: file.to_owned() });
        app.update();
        assert!(bench(app).files.hovering);
        app.world_mut().write_message(FileDragAndDrop::DroppedFile { window, path_buf: file.to_owned() });
        app.update();
        assert!(!bench(app).files.hovering);
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
        assert_eq!(bench(&mut app).files.question, Some(Question::Unsaved(Next::Open(other))));
        assert_eq!(bench(&mut app).session.opened(), first, "nothing is dropped before the answer");
        // A file that is no scan is refused in words and changes nothing.
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

    /// Kept for the next sitting; a folder that is gone is skipped.
    #[test]
    fn each_kind_of_file_is_asked_for_where_the_last_one_was() {
        let home = tempfile::tempdir().unwrap();
        let [scans, prints] = ["scans", "prints"].map(|name| home.path().join(name));
        [&scans, &prints].into_iter().for_each(|folder| std::fs::create_dir(folder).unwrap());
        let begin = || Bench::new(Session::begin(Places::inside(home.path())).unwrap());
        let mut bench = begin();
        remember_folder(&mut bench, FileRequest::Open, &scans.join("a.ply"));
        remember_folder(&mut bench, FileRequest::Export, &prints);
        drop(bench);
        let bench = begin();
        assert_eq!(
            [FileRequest::Open, FileRequest::Export].map(|of| first_folder(&bench, of)),
            [scans.clone(), prints]
        );
        std::fs::remove_dir(&scans).unwrap();
        let other = first_folder(&bench, FileRequest::Open);
        assert!(other != scans && other.is_dir(), "{}", other.display());
    }

    /// A title may be the same for two guards; number, site and side are not.
    #[test]
    fn a_design_is_saved_under_number_and_site() {
        let home = tempfile::tempdir().unwrap();
        let mut bench = Bench::with_wrist(home.path());
        bench.session.edit("about", |design| {
            design.title = "A guard of mine".to_owned();
            session::about::set_number(design, Some(12));
        });
        for (request, wanted) in [
            (FileRequest::SaveAs, "12-wrist-left.json"),
            (FileRequest::Export, "12-wrist-left"),
            (FileRequest::Render(crate::state::files::Rendering::Turntable), "12-wrist-left.gif"),
        ] {
            assert_eq!(proposed_name(&bench, request).as_deref(), Some(wanted), "{request:?}");
        }
    }

    #[test]
    fn unsaved_work_is_thrown_away_only_when_asked_twice() {
        let home = tempfile::tempdir().unwrap();
        let places = Places::inside(home.path());
        let left = home.path().join("unsaved/0");
        std::fs::create_dir_all(&left).unwrap();
        std::fs::write(left.join("design.json"), "{}").unwrap();
        assert_eq!(Recovery::begin(&places.recovery).unwrap().1.len(), 1);
        let mut bench = Bench::new(Session::begin(places).unwrap());
        let unsaved = bench.session.unsaved_designs()[0].clone();
        throw_away(&mut bench, &unsaved);
        assert!(left.join("design.json").exists() && bench.session.unsaved_designs().len() == 1);
        throw_away(&mut bench, &unsaved);
        assert!(!left.exists() && bench.session.unsaved_designs().is_empty());
    }
}
