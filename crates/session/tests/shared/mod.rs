//! What the tests of a sitting share.
#![allow(dead_code)] // Each test program uses some of it.

use std::path::{Path, PathBuf};

use nalgebra::Point3;
use scan::{BodySite, Side};
use session::{Note, Places, Session};
use zone::{Dab, Source};

pub fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(name)
}

/// Polls until `done`, collecting notes, however long it takes.
pub fn until(session: &mut Session, what: &str, mut done: impl FnMut(&Session) -> bool) -> Vec<Note> {
    let mut notes = Vec::new();
    println!("waiting for {what}");
    loop {
        session.poll();
        notes.extend(session.take_notes());
        if done(session) {
            return notes;
        }
        std::thread::yield_now();
    }
}

pub fn with_shin(places: &Places) -> Session {
    let mut session = Session::begin(places.clone()).expect("a place for unsaved work");
    session.open(&demo("shin-23.obj"), BodySite::Shin, Side::Left);
    until(&mut session, "the limb", |s| s.document().is_some());
    session
}

/// A patch of dabs on the front of the limb.
pub fn paint(session: &mut Session, radius_mm: f32) {
    let limb = session.derived().limb.value().expect("a limb").clone();
    let middle = limb.skin.nearest(&Point3::new(0.0, -80.0, 0.0), None).expect("a limb").point;
    let dab = Dab { at_mm: middle, radius_mm, remove: false };
    session.edit("paint", |design| design.zone.sources.push(Source::Strokes { dabs: vec![dab] }));
}
