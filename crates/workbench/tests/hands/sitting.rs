//! A sitting with one of the demo scans.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bevy::prelude::KeyCode;
use locker::DesignFile;
use nalgebra::{Point3, Vector3};
use scan::{BodySite, Side};
use session::{Places, Session};
use tempfile::TempDir;
use workbench::{DrawTo, Trial};

/// Longest wait for one thing.
const LONGEST: Duration = Duration::from_secs(120);

pub struct Sitting {
    pub trial: Trial,
    pub folder: TempDir,
}

/// A scan that comes with the project.
pub fn demo_scan(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(name)
}

impl Sitting {
    /// With nothing open.
    pub fn begin() -> Self {
        Self::begin_in([1280, 800])
    }

    /// The same in a window of another size.
    fn begin_in(size: [u32; 2]) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let session = Session::begin(Places::inside(folder.path())).expect("a sitting");
        Self { trial: Trial::begin(session, size, DrawTo::Nothing), folder }
    }

    /// With a scan on the stage and all that is known of it.
    pub fn with(scan: &Path, site: BodySite) -> Self {
        Self::begin().and(scan, site)
    }

    /// The same in a window of another size.
    pub fn with_in(scan: &Path, site: BodySite, size: [u32; 2]) -> Self {
        Self::begin_in(size).and(scan, site)
    }

    fn and(self, scan: &Path, site: BodySite) -> Self {
        let mut sitting = self;
        sitting.trial.session().open(scan, site, Side::Left);
        sitting.until("the limb", |trial| trial.shows_limb());
        sitting.rests();
        sitting
    }

    /// With the demo's shin, its pen line as the zone, at the shell step.
    pub fn with_shell() -> Self {
        Self::with_shell_in([1280, 800])
    }

    /// The same in a window of another size.
    pub fn with_shell_in(size: [u32; 2]) -> Self {
        let mut sitting = Self::begin_in(size).and(&demo_scan("shin-23.obj"), BodySite::Shin);
        sitting.trial.press(&[], KeyCode::Digit2);
        sitting.trial.press(&[], KeyCode::KeyP);
        sitting.trial.press(&[], KeyCode::Digit3);
        sitting.until("the shell", |trial| trial.shows_shell());
        sitting.rests();
        sitting
    }

    /// Frames until `done`.
    pub fn until(&mut self, what: &str, mut done: impl FnMut(&mut Trial) -> bool) {
        let start = Instant::now();
        while !done(&mut self.trial) {
            self.trial.frame();
            assert!(start.elapsed() < LONGEST, "waited {} s for {what}", LONGEST.as_secs());
            std::thread::sleep(Duration::from_millis(2));
        }
        self.trial.frame();
    }

    /// Frames until nothing runs in the background.
    pub fn rests(&mut self) {
        // What was asked for begins in the frames that follow.
        self.trial.frame();
        self.trial.frame();
        self.until("rest", |trial| trial.session().progress().is_empty());
    }

    /// Frames until switches have slid and panels have scrolled.
    pub fn steady(&mut self) {
        let mut before = Vec::new();
        self.until("panels that stand still", |trial| {
            let now = trial.texts().to_vec();
            let still = now == before && !trial.wants_another_frame();
            before = now;
            still
        });
    }

    /// The current design.
    pub fn design(&mut self) -> DesignFile {
        self.trial.session().design().expect("a design").clone()
    }

    /// A place on the skin that faces the camera: the nearest to a point of the stage, given as shares of its width and
    /// height.
    pub fn skin_at(&mut self, across: f32, down: f32) -> Point3<f32> {
        let [left, top, width, height] = self.trial.stage();
        let wanted = [left + across * width, top + down * height];
        let eye = self.trial.eye().expect("a camera");
        let limb = self.trial.session().derived().limb.value().expect("a limb").clone();
        let (points, normals) = (&limb.skin.mesh().points, limb.skin.vertex_normals());
        let faces = |v: &usize| normals[*v].dot(&(eye - points[*v]).normalize()) > 0.5;
        let mut away = |v: usize| {
            let seen = self.trial.seen(&points[v]).expect("before the camera");
            (seen[0] - wanted[0]).hypot(seen[1] - wanted[1])
        };
        let all: Vec<(usize, f32)> = (0..points.len()).filter(faces).map(|v| (v, away(v))).collect();
        points[all.iter().min_by(|a, b| a.1.total_cmp(&b.1)).expect("skin").0]
    }

    /// The place on the skin nearest to a place, and the normal there.
    pub fn skin_under(&mut self, place: &Point3<f32>) -> (Point3<f32>, Vector3<f32>) {
        let limb = self.trial.session().derived().limb.value().expect("a limb").clone();
        let hit = limb.skin.nearest(place, None).expect("skin");
        (hit.point, limb.skin.normal_at(&hit))
    }

    /// Where the outer face of the shell stands over a place on the skin, and the normal there.
    pub fn outer_face(&mut self, place: &Point3<f32>) -> (Point3<f32>, Vector3<f32>) {
        let (at, normal) = self.skin_under(place);
        let shell = self.design().shell;
        (at + normal * (shell.gap_mm + shell.thickness_mm), normal)
    }

    /// Where a place on the limb is seen in the window.
    pub fn seen(&mut self, place: &Point3<f32>) -> [f32; 2] {
        self.trial.seen(place).expect("before the camera")
    }
}
