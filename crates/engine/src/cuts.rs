//! Cuts across limb and shell at one height.

use fit::Section;
use mesh::{Mesh, Surface};
use nalgebra::{Point3, Vector3};

use crate::EngineError;

/// A cut across the limb at one height, through limb and shell.
#[derive(Debug, Clone, PartialEq)]
pub struct Cuts {
    /// Height of the cut along the limb, mm.
    pub height_mm: f32,
    /// The limb's outline.
    pub limb: Section,
    /// The shell's.
    pub shell: Section,
    /// Least and middle gap between them in this cut, mm; see [`fit::gap`].
    pub gap_mm: Option<[f32; 2]>,
}

/// Cuts limb and shell across at a height along the limb.
///
/// # Errors
/// As for [`fit::section`].
pub fn cuts(skin: &Surface, shell: &Mesh, height_mm: f32) -> Result<Cuts, EngineError> {
    let (at, up) = (Point3::new(0.0, 0.0, height_mm), Vector3::z());
    let (limb, shell) = (fit::section(skin.mesh(), &at, &up)?, fit::section(shell, &at, &up)?);
    let gap_mm = fit::gap(&limb, &shell);
    Ok(Cuts { height_mm, limb, shell, gap_mm })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tube of 40 mm radius in a shell from 43 to 46 mm is cut in three circles. A regular polygon of n = 120 sides
    /// is shorter than its circle by the factor 1 − π²/6n².
    #[test]
    fn a_cut_across_tubes_is_circles() {
        let tube = |radius: f32, inward: bool| {
            let n = 120_u32;
            let points = (0..2 * n)
                .map(|i| {
                    let (s, c) = (std::f32::consts::TAU * (i % n) as f32 / n as f32).sin_cos();
                    Point3::new(radius * c, radius * s, if i < n { -50.0 } else { 50.0 })
                })
                .collect();
            let triangles = (0..n).flat_map(|i| {
                let j = (i + 1) % n;
                let [a, b] = [[i, j, n + j], [i, n + j, n + i]];
                if inward { [[a[0], a[2], a[1]], [b[0], b[2], b[1]]] } else { [a, b] }
            });
            Mesh::new(points, triangles.collect())
        };
        let mut shell = tube(46.0, false);
        let inner = tube(43.0, true);
        let first = shell.points.len() as u32;
        shell.points.extend(inner.points);
        shell.triangles.extend(inner.triangles.iter().map(|t| t.map(|v| v + first)));
        let cut = cuts(&Surface::new(tube(40.0, false)), &shell, 5.0).unwrap();
        let mut lengths: Vec<f64> = cut.limb.lines.iter().chain(&cut.shell.lines).map(|l| l.length_mm()).collect();
        lengths.sort_by(f64::total_cmp);
        assert_eq!(lengths.len(), 3);
        for (length, radius) in lengths.iter().zip([40.0, 43.0, 46.0]) {
            let circle = std::f64::consts::TAU * radius;
            assert!((length / circle - 1.0).abs() < 2e-4, "{length} {circle}");
        }
        assert!(cuts(&Surface::new(tube(40.0, false)), &shell, 80.0).unwrap().limb.lines.is_empty());
    }
}
