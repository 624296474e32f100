//! The whole job on a demo scan.

use std::path::Path;

use engine::{DEMO_FOREARM, EngineError, Keep, MakeSettings, Marking, StartSettings};
use mechanics::Materials;
use mesh::Job;
use scan::{BodySite, CleanSettings, Side};

use crate::args::{Args, Output};
use crate::commands::show;
use crate::{bed, say};

/// Makes the guard of the demo scan; gives the exit code.
pub fn run(out: &Path, resolution_mm: Option<f32>, output: &Output, args: &Args, job: &Job) -> Result<u8, EngineError> {
    let bed_mm = bed::known(output.bed, args.home.as_deref())?;
    let scan = DEMO_FOREARM.find(out)?;
    let settings = StartSettings {
        site: BodySite::Forearm,
        side: Side::Left,
        squad_number: Some(7),
        title: String::new(),
        clean: CleanSettings::default(),
        marking: Marking::Pen { accept_proposal: false },
        grow_mm: 0.0,
        keep: Keep::Beside,
        ..StartSettings::default()
    };
    // The scan joins the other files only once they are made, so that a stopped run leaves nothing behind.
    let kept = tempfile::tempdir().map_err(|source| EngineError::File { path: std::env::temp_dir(), source })?;
    let started = engine::start(&scan, kept.path(), &settings, &job.part(0.0, 0.3))?;
    let team = Some("Tern Harbour".into());
    let (overwrite, without_strength) = (output.overwrite, output.no_strength);
    let make = MakeSettings { resolution_mm, team, made_on: None, bed_mm, overwrite, without_strength };
    let report = engine::make(&started.design, kept.path(), out, &make, &Materials::built_in(), &job.part(0.3, 1.0))?;
    show(args.json, &report, || format!("{}\n{}", say::started_from(&started, &scan), say::made(&report, out)))
}
