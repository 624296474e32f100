//! The steps from a scan file to a limb, in order, each with its line in the report.

mod components;
mod crop;
mod edges;
mod input;
mod manifold;
mod outliers;
mod picture;
mod surface;
mod upright;

use mesh::read::ScanFile;
use mesh::{Job, Mesh};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};

use crate::report::Step;
use crate::{BodySite, CleanSettings, CleaningReport, Limb, LimbSize, Placement, ScanError, ScanWarning, Side};

pub(crate) use input::unit_of_limb;

/// A cleaned limb and what was done to get it.
#[derive(Debug, Clone, PartialEq)]
pub struct Cleaned {
    /// The limb.
    pub limb: Limb,
    /// What was done.
    pub report: CleaningReport,
}

/// Cleans a scan: outliers, unit, crop, weld, repair, table, components, holes, noise, edge length, roughness, picture,
/// axes, mirror.
///
/// The placement of the limb is the unit and the rigid motion only; noise and holes move or add points besides.
///
/// # Errors
/// [`ScanError`] for a setting out of range, a scan without surface or of no limb's size, a crop that leaves nothing,
/// or on cancel.
pub fn clean(
    file: &ScanFile,
    site: BodySite,
    side: Side,
    settings: &CleanSettings,
    job: &Job,
) -> Result<Cleaned, ScanError> {
    settings.check()?;
    let mut cleaning = Cleaning::new(file, settings, job)?;
    cleaning.crop()?;
    cleaning.scale_to_millimetres()?;
    cleaning.weld()?;
    cleaning.repair()?;
    cleaning.remove_table()?;
    cleaning.drop_components()?;
    let measured = cleaning.mesh.points.len();
    let (axis, ends) = cleaning.fill_holes()?;
    // After the holes, so that their rims have neighbours all round and the patches settle with them.
    cleaning.smooth(measured)?;
    cleaning.refine()?;
    cleaning.even_out()?;
    cleaning.colour_from_picture(file)?;
    let placement = cleaning.stand(&axis, &ends, site)?;
    cleaning.report.size = LimbSize::of(&cleaning.mesh, &ends, job)?;
    cleaning.report.warnings.extend(cleaning.report.size.doubt(site).map(ScanWarning::Site));
    job.step("cleaned", 1.0)?;
    let side = if settings.mirror { side.mirrored() } else { side };
    Ok(Cleaned { limb: Limb { mesh: cleaning.mesh, placement, site, side }, report: cleaning.report })
}

/// A scan on its way through the steps.
struct Cleaning<'a> {
    settings: &'a CleanSettings,
    job: &'a Job,
    mesh: Mesh,
    report: CleaningReport,
    /// From the file's coordinates, scaled to millimetres, to those of `mesh`.
    shift: Vector3<f64>,
    /// Bad triangles that were dropped when the file was taken in: degenerate and duplicate ones.
    dropped: [usize; 2],
}

impl Cleaning<'_> {
    fn say(&mut self, name: &'static str, changed: bool, counts: &[(&'static str, usize)], sentence: String) {
        self.report.steps.push(Step::new(name, changed, counts, sentence));
    }

    /// The way from the file's coordinates to the mesh as it is now, followed by `pose` and mirror.
    fn placement(&self, pose: Isometry3<f64>, mirrored: bool) -> Placement {
        let shift = Isometry3::from_parts(Translation3::from(self.shift), UnitQuaternion::identity());
        Placement { unit_mm: self.report.unit.unit.mm(), pose: pose * shift, mirrored }
    }

    /// A point of the mesh as it is now, in the file's coordinates and unit.
    fn in_scan(&self, p: &Point3<f64>) -> Point3<f64> {
        self.placement(Isometry3::identity(), false).scan_from_limb(p)
    }
}
