//! The long steps of the job, on one invented limb.

use std::path::PathBuf;

use engine::{
    EngineError, Keep, LimbOnAxes, LoadedScan, MakeSettings, MarkedRegion, Marking, StartSettings, read_scan,
};
use locker::DesignFile;
use mechanics::Materials;
use mesh::{Job, Mesh};
use print::picture::{Sheet, Turntable, contact_sheet};
use scan::{BodySite, CleanSettings, Side, Unit};
use shell::{Quality, Shell};
use tempfile::TempDir;
use zone::Zone;

pub type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// A step that can be run again and again.
pub type Step<'a> = dyn Fn(&Job) -> std::result::Result<(), EngineError> + 'a;

/// Radius of the ring that is drawn on the skin, mm.
const RING_MM: f32 = 40.0;

/// What the steps start from.
pub struct Steps {
    folder: TempDir,
    scans: Vec<(&'static str, PathBuf)>,
    loaded: LoadedScan,
    limb: LimbOnAxes,
    zone: Zone,
    design: DesignFile,
    shell: Shell,
}

impl Steps {
    pub fn new(rows: u32) -> Result<Self> {
        let folder = tempfile::tempdir()?;
        let mesh = with_a_ring(test_shapes::limb(rows).build());
        let mut scans = Vec::new();
        for (name, ending, bytes) in files(&mesh)? {
            let path = folder.path().join(format!("limb-{}.{ending}", scans.len()));
            std::fs::write(&path, bytes)?;
            scans.push((name, path));
        }
        let silent = Job::silent();
        let ply = &scans[0].1;
        let loaded = read_scan(ply, &silent)?;
        let started = engine::start(ply, folder.path(), &settings(), &silent)?;
        let limb = engine::limb(&loaded, BodySite::Shin, Side::Left, &clean(), None, &silent)?;
        let zone = zone::make(&limb.skin, &started.design.zone, &silent)?;
        let shell = shell::build(&limb.skin, &zone, &started.design.shell, &quality(), &silent)?;
        Ok(Self { folder, scans, loaded, limb, zone, design: started.design, shell })
    }

    /// Each step with its name, in the order of the work.
    pub fn all(&self) -> Vec<(&'static str, Box<Step<'_>>)> {
        let mut steps: Vec<(&'static str, Box<Step<'_>>)> = Vec::new();
        for (name, path) in &self.scans {
            steps.push((name, Box::new(move |job| read_scan(path, job).map(drop))));
        }
        let (skin, shell, zone, design) = (&self.limb.skin, &self.shell.mesh, &self.zone, &self.design);
        let (file, folder) = (&self.scans[0].1, self.folder.path());
        let materials = Materials::built_in();
        let more: [(&'static str, Box<Step<'_>>); 15] = [
            (
                "clean",
                Box::new(|job| engine::limb(&self.loaded, BodySite::Shin, Side::Left, &clean(), None, job).map(drop)),
            ),
            ("pen line", Box::new(|job| engine::pen_line(&self.limb, job).map(drop))),
            ("zone", Box::new(move |job| Ok(zone::make(skin, &design.zone, job).map(drop)?))),
            ("zone, sketch", Box::new(move |job| Ok(zone::sketch(skin, &design.zone, job).map(drop)?))),
            ("layout", Box::new(move |job| Ok(shell::arrange(skin, zone, &design.shell, job).map(drop)?))),
            ("shell", Box::new(move |job| Ok(shell::build(skin, zone, &design.shell, &quality(), job).map(drop)?))),
            ("prove", Box::new(move |job| Ok(mesh::solid::check(shell, job).map(drop)?))),
            ("clearance", Box::new(move |job| engine::clearance(skin, shell, job).map(drop))),
            ("picture", Box::new(move |job| Ok(contact_sheet(skin.mesh(), shell, &Sheet::default(), job).map(drop)?))),
            (
                "turntable",
                Box::new(move |job| engine::turntable(skin.mesh(), shell, &Turntable::default(), job).map(drop)),
            ),
            ("inspect", Box::new(move |job| engine::inspect(file, &clean(), job).map(drop))),
            ("start", Box::new(move |job| engine::start(file, folder, &settings(), job).map(drop))),
            ("check", Box::new(move |job| engine::check(file, job).map(drop))),
            (
                "make, with all files",
                Box::new(move |job| {
                    let out = folder.join("out");
                    let done = engine::make(design, folder, &out, &MakeSettings::default(), &materials, job);
                    let left = std::fs::read_dir(&out).map_or(0, Iterator::count);
                    if done.is_err() && left > 0 {
                        let source = std::io::Error::other(format!("{left} files were left"));
                        return Err(EngineError::File { path: out, source });
                    }
                    let _ = std::fs::remove_dir_all(&out);
                    done.map(drop)
                }),
            ),
            ("compare", Box::new(move |job| engine::compare(design, folder, &Materials::built_in(), job).map(drop))),
        ];
        steps.extend(more);
        steps
    }
}

fn quality() -> Quality {
    Quality::default()
}

fn clean() -> CleanSettings {
    CleanSettings { unit: Some(Unit::Mm), ..CleanSettings::default() }
}

fn settings() -> StartSettings {
    StartSettings {
        site: BodySite::Shin,
        side: Side::Left,
        squad_number: Some(16),
        title: String::new(),
        clean: clean(),
        marking: Marking::Given(MarkedRegion::Strokes(vec![([50.0, 0.0, 175.0], 2.0 * RING_MM, false)])),
        grow_mm: 0.0,
        keep: Keep::Beside,
    }
}

/// Skin colour, and a ring of ink on its front.
fn with_a_ring(mut mesh: Mesh) -> Mesh {
    let colour = |p: &nalgebra::Point3<f32>| {
        let off = (p.y.hypot(p.z - 175.0) - RING_MM).abs();
        if p.x > 0.0 && off < 1.2 { [36, 34, 60] } else { [206, 160, 136] }
    };
    mesh.colours = Some(mesh.points.iter().map(colour).collect());
    mesh
}

/// Name, ending and bytes in each format.
fn files(mesh: &Mesh) -> Result<Vec<(&'static str, &'static str, Vec<u8>)>> {
    use std::fmt::Write as _;
    let mut ply = Vec::new();
    mesh::write::ply(mesh, &[], &mut ply)?;
    let mut stl = Vec::new();
    mesh::write::stl_binary(mesh, "limb", &mut stl)?;
    let (mut obj, mut text) = (String::new(), "solid limb\n".to_owned());
    for p in &mesh.points {
        writeln!(obj, "v {} {} {}", p.x, p.y, p.z)?;
    }
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.triangles[t].map(|v| v + 1);
        writeln!(obj, "f {a} {b} {c}")?;
        text += "facet normal 0 0 0\nouter loop\n";
        for p in mesh.corners(t) {
            writeln!(text, "vertex {} {} {}", p.x, p.y, p.z)?;
        }
        text += "endloop\nendfacet\n";
    }
    let mut words = format!(
        "ply\nformat ascii 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n\
         element face {}\nproperty list uchar int vertex_indices\nend_header\n",
        mesh.points.len(),
        mesh.triangles.len()
    );
    for p in &mesh.points {
        writeln!(words, "{} {} {}", p.x, p.y, p.z)?;
    }
    for [a, b, c] in &mesh.triangles {
        writeln!(words, "3 {a} {b} {c}")?;
    }
    Ok(vec![
        ("read a binary PLY", "ply", ply),
        ("read a text PLY", "ply", words.into_bytes()),
        ("read a binary STL", "stl", stl),
        ("read a text STL", "stl", (text + "endsolid\n").into_bytes()),
        ("read an OBJ", "obj", obj.into_bytes()),
    ])
}
