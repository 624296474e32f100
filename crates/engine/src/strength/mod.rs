//! What a blow does to the guard of a design, in each filament, and the lightest guard that holds.

mod chosen;
mod error;
mod lightest;
mod map;
mod ready_guard;
mod report;
mod strap_ends;
mod told;
mod wall;

pub use chosen::{Chosen, tissues_at, usual_liner_mm};
pub use error::StrengthError;
pub use lightest::{Lightest, Targets, Trial, lightest, lightest_on, with_wall};
pub use map::{MapValues, StrengthMap, WallSurface, scale_of};
pub use ready_guard::{ReadyGuard, StruckGuard};
pub use report::{STRENGTH_CAUTION, StrengthReport, StrengthRow, WHAT_STRENGTH_MEANS};
pub(crate) use told::blow_told;
pub use wall::GuardWall;

use std::path::Path;
use std::sync::Arc;

use locker::{DesignFile, StrengthSettings};
use mechanics::Materials;
use mechanics::mid_surface::Fineness;
use mechanics::ready::End;
use mesh::{Job, Surface};
use zone::Zone;

use crate::{EngineError, open, warnings};

/// Strikes the guard of a design that lies in `folder`, in each material; with `ranges` it is told how far the data leave the
/// figures open.
///
/// # Errors
/// As for making the guard, and [`StrengthError`].
pub fn strength(
    design: &DesignFile,
    folder: &Path,
    settings: &StrengthSettings,
    ranges: bool,
    materials: &Materials,
    job: &Job,
) -> Result<StrengthReport, EngineError> {
    let chosen = Chosen::new(design, settings)?;
    let opened = open(design, folder, &job.part(0.0, 0.2))?;
    strength_on(&opened.skin, &opened.zone, design, &chosen, ranges, materials, &job.part(0.2, 1.0))
}

/// The same for a design whose limb and zone are there.
///
/// # Errors
/// As for [`strength`].
pub fn strength_on(
    skin: &Surface,
    zone: &Zone,
    design: &DesignFile,
    chosen: &Chosen,
    ranges: bool,
    materials: &Materials,
    job: &Job,
) -> Result<StrengthReport, EngineError> {
    let wall = GuardWall::laid_out(skin, zone, &design.shell, &Fineness::default(), &job.part(0.0, 0.25))?;
    strength_of(&Arc::new(wall), skin, design, chosen, ranges, materials, &job.part(0.25, 1.0))
}

/// The same for a wall that is there.
///
/// # Errors
/// As for [`strength`].
pub fn strength_of(
    wall: &Arc<GuardWall>,
    skin: &Surface,
    design: &DesignFile,
    chosen: &Chosen,
    ranges: bool,
    materials: &Materials,
    job: &Job,
) -> Result<StrengthReport, EngineError> {
    let ends: &[End] = if ranges { &[End::Usual, End::Softest, End::Stiffest] } else { &[End::Usual] };
    let mut struck = Vec::with_capacity(ends.len());
    for (n, end) in ends.iter().enumerate() {
        let job = job.part(n as f32 / ends.len() as f32, (n + 1) as f32 / ends.len() as f32);
        let ready = ReadyGuard::new(wall, chosen, materials, *end, &job.part(0.0, 0.4))?;
        struck.push(ready.struck(skin, chosen, &job.part(0.4, 1.0))?);
    }
    let ends: Vec<&StruckGuard> = struck[1..].iter().collect();
    Ok(strength_report(design, chosen, wall, &struck[0], &ends, materials))
}

/// What it comes to, as a report.
#[must_use]
pub fn strength_report(
    design: &DesignFile,
    chosen: &Chosen,
    wall: &GuardWall,
    usual: &StruckGuard,
    ends: &[&StruckGuard],
    materials: &Materials,
) -> StrengthReport {
    let volume_mm3 = wall.middle.volume_mm3();
    let answers = usual.answers(&materials.materials, ends).into_iter().zip(&materials.materials);
    let at = chosen.place(wall);
    StrengthReport {
        title: design.title.clone(),
        means: WHAT_STRENGTH_MEANS,
        energy_j: chosen.blow.blow().striker.energy_j(),
        blow: chosen.blow.clone(),
        at_mm: [at.x, at.y, at.z],
        foam: chosen.foam.clone(),
        liner_mm: chosen.liner_mm,
        under: chosen.under.clone(),
        lies: chosen.lies,
        without: usual.without,
        rows: answers.map(|(answer, material)| StrengthRow::new(answer, material, volume_mm3)).collect(),
        notices: wall.middle.notices.clone(),
        warnings: warnings(design, materials),
        caution: STRENGTH_CAUTION,
    }
}
