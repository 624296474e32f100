//! The zone's edge in the scan file's own coordinates.

use nalgebra::Point3;
use scan::Placement;
use zone::Region;

/// The closed edges of a region in the scan file's own coordinates and unit; the last point is joined to the first.
#[must_use]
pub fn edges_in_scan(region: &Region, placement: &Placement) -> Vec<Vec<[f64; 3]>> {
    region.edges.iter().map(|edge| line_in_scan(edge, placement)).collect()
}

/// A line of limb points in the scan file's own coordinates and unit.
pub(crate) fn line_in_scan(line: &[Point3<f32>], placement: &Placement) -> Vec<[f64; 3]> {
    line.iter().map(|p| placement.scan_from_limb(&p.cast()).into()).collect()
}

/// A limb point in the scan file's own coordinates and unit, in words.
pub(crate) fn in_scan(p: &Point3<f32>, placement: &Placement) -> String {
    let q = placement.scan_from_limb(&p.cast());
    // A tenth of a millimetre, in the file's unit.
    let decimals = (1.0 + placement.unit_mm.log10().ceil().max(0.0)) as usize;
    mesh::Place::new(&q, decimals).to_string()
}
