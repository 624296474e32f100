//! The invented scans that come with the program, and a first zone to go on with.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use mesh::Job;
use zone::{Dab, Source, ZoneSettings};

use crate::{EngineError, LimbOnAxes, pen_line, pen_source};

/// Largest dab of the half-painted zone, mm.
const DAB_MM: f32 = 12.0;
/// About the distance between dabs, mm.
const APART_MM: f32 = 7.0;

/// A scan that comes with the program.
#[derive(Debug, Clone, Copy)]
pub struct DemoScan {
    /// Name of each of its files and what is in it, the scan first.
    files: &'static [(&'static str, &'static [u8])],
}

/// A left forearm, number 7.
pub const DEMO_FOREARM: DemoScan =
    DemoScan { files: &[("forearm-07.ply", include_bytes!("../../../demo-scans/forearm-07.ply"))] };

/// A shin, number 23, with its picture.
pub const DEMO_SHIN: DemoScan = DemoScan {
    files: &[
        ("shin-23.obj", include_bytes!("../../../demo-scans/shin-23.obj")),
        ("shin-23.mtl", include_bytes!("../../../demo-scans/shin-23.mtl")),
        ("shin-23.png", include_bytes!("../../../demo-scans/shin-23.png")),
    ],
};

impl DemoScan {
    /// Path of the scan: in `demo-scans` where that is at hand, else written into `folder`.
    ///
    /// # Errors
    /// The scan cannot be written.
    pub fn find(&self, folder: &Path) -> Result<PathBuf, EngineError> {
        let Some((scan, _)) = self.files.first() else { return Ok(folder.to_owned()) };
        let beside_sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans").join(scan);
        let places = [Path::new("demo-scans").join(scan), beside_sources];
        if let Some(found) = places.into_iter().find(|path| path.is_file()) {
            return Ok(found.canonicalize().unwrap_or(found));
        }
        self.write_out(folder)
    }

    /// Writes the files into `folder`; returns the path of the scan.
    fn write_out(&self, folder: &Path) -> Result<PathBuf, EngineError> {
        std::fs::create_dir_all(folder).map_err(|source| EngineError::File { path: folder.into(), source })?;
        for (name, bytes) in self.files {
            mesh::write::save_atomic(&folder.join(name), |file| file.write_all(bytes))?;
        }
        Ok(self.files.first().map_or_else(|| folder.to_owned(), |(scan, _)| folder.join(scan)))
    }
}

/// Dabs over the lower half of what the pen line marks on a limb, none of them beyond the line.
///
/// # Errors
/// There is no closed pen line, or the work was stopped.
pub fn half_painted(limb: &LimbOnAxes, job: &Job) -> Result<Source, EngineError> {
    let finding = pen_line(limb, &job.part(0.0, 0.6))?;
    let (line, _) = pen_source(finding, false, &limb.placement)?;
    let marked = ZoneSettings { sources: vec![line], ..ZoneSettings::default() };
    let depth_mm = zone::make(&limb.skin, &marked, &job.part(0.6, 1.0))?.covered.distance_mm;
    let points = &limb.skin.mesh().points;
    let heights = points.iter().zip(&depth_mm).filter(|(_, d)| **d > 0.0).map(|(p, _)| p.z);
    let (low, high) = heights.fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), z| (l.min(z), h.max(z)));
    let half = 0.5 * (low + high) - DAB_MM;
    // The deepest point of each cell of a grid, in the order of the cells.
    let mut deepest: BTreeMap<[i32; 3], (usize, f32)> = BTreeMap::new();
    for (v, (p, depth)) in points.iter().zip(&depth_mm).enumerate() {
        if *depth < 2.0 || p.z > half {
            continue;
        }
        let cell = [p.z, p.y, p.x].map(|x| (x / APART_MM).floor() as i32);
        let best = deepest.entry(cell).or_insert((v, *depth));
        if *depth > best.1 {
            *best = (v, *depth);
        }
    }
    let dabs = deepest
        .into_values()
        .map(|(v, depth)| Dab { at_mm: points[v], radius_mm: depth.min(DAB_MM), remove: false })
        .collect();
    Ok(Source::Strokes { dabs })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{limb, read_scan};
    use scan::{BodySite, CleanSettings, Side};

    #[test]
    fn a_program_that_stands_alone_writes_a_whole_scan() {
        let folder = tempfile::tempdir().unwrap();
        let path = DEMO_SHIN.write_out(&folder.path().join("deep")).unwrap();
        let loaded = read_scan(&path, &Job::default()).unwrap();
        assert!(loaded.scan.mesh.triangles.len() > 10_000 && loaded.scan.texture.is_some());
        assert_eq!(loaded.bytes.companions.len(), 2);
        assert!(DEMO_FOREARM.find(folder.path()).unwrap().ends_with("demo-scans/forearm-07.ply"));
    }

    #[test]
    fn about_half_of_the_marked_skin_is_painted_and_nothing_beyond() {
        let folder = tempfile::tempdir().unwrap();
        let job = Job::default();
        let loaded = read_scan(&DEMO_SHIN.find(folder.path()).unwrap(), &job).unwrap();
        let clean = CleanSettings::default();
        let limb = limb(&loaded, BodySite::Shin, Side::Unknown, &clean, None, &job).unwrap();
        let (pen, _) = pen_source(pen_line(&limb, &job).unwrap(), false, &limb.placement).unwrap();
        let zone_of = |source| {
            let settings = ZoneSettings { sources: vec![source], ..ZoneSettings::default() };
            zone::make(&limb.skin, &settings, &job).unwrap().covered
        };
        let (marked, painted) = (zone_of(pen), zone_of(half_painted(&limb, &job).unwrap()));
        let share = painted.area_mm2(&limb.skin) / marked.area_mm2(&limb.skin);
        assert!((0.3..0.55).contains(&share), "{share}");
        // A disc may pass the line by about an edge of the mesh, and small pockets between discs are filled.
        let both = marked.distance_mm.iter().zip(&painted.distance_mm);
        let (inside, beyond) = both.filter(|(_, painted)| **painted > 0.0).fold((0, 0), |(inside, beyond), (m, _)| {
            if *m > -0.5 { (inside + 1, beyond) } else { (inside, beyond + 1) }
        });
        assert!(beyond * 100 < inside, "{beyond} of {inside}");
    }
}
