//! The session, and the last message to the user.

use std::time::Instant;

use bevy::prelude::*;
use session::{Changed, Session};

use super::files::Files;

/// Seconds that a note stays in sight.
const NOTE_SECONDS: f32 = 8.0;

/// The session, and the last message to the user.
#[derive(Resource)]
pub struct Bench {
    /// The sitting.
    pub session: Session,
    /// What changed in this frame.
    pub changed: Changed,
    /// The last message to the user, and when it was given.
    pub said: Option<(Said, Instant)>,
    /// What is going on with files.
    pub files: Files,
}

/// Something to tell the user.
#[derive(Debug, Clone)]
pub struct Said {
    /// In words.
    pub sentence: String,
    /// It is a problem.
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

    /// The last message, while it is fresh.
    pub fn fresh(&self) -> Option<&Said> {
        self.said.as_ref().filter(|(_, at)| at.elapsed().as_secs_f32() < NOTE_SECONDS).map(|(said, _)| said)
    }

    /// Title of the window: the design, and a mark while it is unsaved.
    pub fn title(&self) -> String {
        let Some(document) = self.session.document() else { return "Pauldron".to_owned() };
        let mark = if document.is_unsaved() { "• " } else { "" };
        format!("{mark}{} – Pauldron", document.design().title)
    }
}

#[cfg(test)]
impl Bench {
    /// With the wrist of the demo scans on it, for tests of all layers.
    pub fn with_wrist(folder: &std::path::Path) -> Self {
        let mut session = Session::begin(session::Places::inside(folder)).unwrap();
        let scan = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans/wrist-12.ply");
        session.open(&scan, scan::BodySite::Wrist, scan::Side::Left);
        while session.document().is_none() {
            assert!(session.is_opening(), "the scan does not open: {:?}", session.take_notes());
            session.poll();
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
        Self::new(session)
    }
}
