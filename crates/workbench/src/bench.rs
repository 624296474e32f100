//! The session as the window's one document, picked up once a frame.

use std::time::Instant;

use bevy::prelude::*;
use session::{Changed, Leftover, Note, Session};

use crate::files::Files;

/// Seconds that a note stays in sight.
const NOTE_SECONDS: f32 = 8.0;

/// The one document of the window and what was last said about it.
#[derive(Resource)]
pub struct Bench {
    /// The sitting.
    pub session: Session,
    /// What changed in this frame.
    pub changed: Changed,
    /// The last thing to tell, and when it was told.
    pub said: Option<(Said, Instant)>,
    /// What is going on with files.
    pub files: Files,
}

/// Something to tell the user.
#[derive(Debug, Clone)]
pub struct Said {
    /// In words.
    pub sentence: String,
    /// It stands in the way.
    pub bad: bool,
}

impl Bench {
    /// A bench with nothing on it.
    pub fn new(session: Session) -> Self {
        Self { session, changed: Changed::default(), said: None, files: Files::default() }
    }

    /// Tells the user something.
    pub fn say(&mut self, sentence: impl Into<String>, bad: bool) {
        self.said = Some((Said { sentence: sentence.into(), bad }, Instant::now()));
    }

    /// What was last said, while it is fresh.
    pub fn fresh(&self) -> Option<&Said> {
        self.said.as_ref().filter(|(_, at)| at.elapsed().as_secs_f32() < NOTE_SECONDS).map(|(said, _)| said)
    }

    /// Throws unsaved work away when asked twice, so that nobody's work goes by one slip of the hand.
    pub fn throw_away(&mut self, leftover: &Leftover) {
        let ask = format!("Unsaved work would be gone for good: {}. Once more throws it away.", leftover.title);
        if self.fresh().is_some_and(|said| said.sentence == ask) {
            self.session.discard(leftover);
            self.say("The unsaved work was thrown away.", false);
        } else {
            self.say(ask, true);
        }
    }

    /// Title of the window: the design, and a mark while it is unsaved.
    pub fn title(&self) -> String {
        let Some(document) = self.session.document() else { return "Pauldron".to_owned() };
        let mark = if document.is_unsaved() { "• " } else { "" };
        format!("{mark}{} – Pauldron", document.design().title)
    }
}

/// Picks up finished work and tells what there is to tell.
pub fn poll(mut bench: ResMut<Bench>, mut window: Single<&mut Window, With<bevy::window::PrimaryWindow>>) {
    // The bench is written every frame; what really changed is in `changed`.
    let bench = bench.bypass_change_detection();
    bench.changed = bench.session.poll();
    for note in bench.session.take_notes() {
        match note {
            Note::Opened(title) => bench.say(format!("{title} is open."), false),
            Note::Problem(problem) => bench.say(problem.sentence, true),
            Note::ScanArrived(path) => bench.files.arrived = Some(path),
            Note::Saved(path) => {
                bench.say(format!("Saved as {}", path.display()), false);
                bench.go_on_after_save();
            }
            Note::NotSaved(problem) => {
                bench.say(problem.sentence, true);
                bench.files.stay();
            }
            Note::Exported { folder, report } => {
                bench.say(format!("The print files are in {}", folder.display()), false);
                // Where the system shows no folders, the sentence says where they are.
                drop(open::that_detached(&folder));
                bench.files.exported = Some((folder, report));
            }
        }
    }
    let title = bench.title();
    if window.title != title {
        window.title = title;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use session::{Places, Recovery};

    #[test]
    fn unsaved_work_is_thrown_away_only_when_asked_twice() {
        let home = tempfile::tempdir().unwrap();
        let places = Places::inside(home.path());
        let left = home.path().join("unsaved/0");
        std::fs::create_dir_all(&left).unwrap();
        std::fs::write(left.join("design.json"), "{}").unwrap();
        assert_eq!(Recovery::begin(&places.recovery).unwrap().1.len(), 1);
        let mut bench = Bench::new(Session::begin(places).unwrap());
        let leftover = bench.session.leftovers()[0].clone();
        bench.throw_away(&leftover);
        assert!(left.join("design.json").exists() && bench.session.leftovers().len() == 1);
        bench.throw_away(&leftover);
        assert!(!left.exists() && bench.session.leftovers().is_empty());
    }
}
