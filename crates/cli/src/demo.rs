//! The whole job on a demo scan.

use std::path::{Path, PathBuf};

use engine::{EngineError, Keep, MakeSettings, Marking, StartSettings};
use mechanics::Materials;
use mesh::Job;
use scan::{BodySite, CleanSettings, Side};

use crate::commands::show;
use crate::say;

/// The scan that the demo takes.
const SCAN: &str = "forearm-07.ply";
/// The same, for a program that stands alone.
const BUILT_IN: &[u8] = include_bytes!("../../../demo-scans/forearm-07.ply");

/// Makes the guard of the demo scan; gives the exit code.
pub fn run(out: &Path, resolution_mm: Option<f32>, json: bool, job: &Job) -> Result<u8, EngineError> {
    std::fs::create_dir_all(out).map_err(|source| EngineError::File { path: out.into(), source })?;
    let scan = demo_scan(out)?;
    let settings = StartSettings {
        site: BodySite::Forearm,
        side: Side::Left,
        squad_number: Some(7),
        title: String::new(),
        clean: CleanSettings::default(),
        marking: Marking::Pen { accept_proposal: false },
        grow_mm: 0.0,
        keep: Keep::Beside,
    };
    let started = engine::start(&scan, out, &settings, &job.part(0.0, 0.3))?;
    let make = MakeSettings { resolution_mm, team: Some("Tern Harbour".into()), made_on: None };
    let report = engine::make(&started.design, out, out, &make, &Materials::built_in(), &job.part(0.3, 1.0))?;
    show(json, &report, || format!("{}\n{}", say::started_from(&started, &scan), say::made(&report, out)))
}

/// The demo scan in the folder it came in, or else written out from the program.
fn demo_scan(out: &Path) -> Result<PathBuf, EngineError> {
    let beside_sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(SCAN);
    let places = [Path::new("demo-scans").join(SCAN), beside_sources];
    if let Some(found) = places.into_iter().find(|path| path.is_file()) {
        return Ok(found.canonicalize().unwrap_or(found));
    }
    let path = out.join(SCAN);
    mesh::write::save_atomic(&path, |file| file.write_all(BUILT_IN))?;
    Ok(path)
}
