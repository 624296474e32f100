//! The covered skin as a thin plate, by which ways a blow comes to the rim and the straps.
//!
//! Marcus' form of the plate equation (Timoshenko and Woinowsky-Krieger, "Theory of Plates and Shells", 2nd ed. 1959,
//! §24): the moment sum M = (Mx + My)/(1 + ν) is that of a membrane, ΔM = −q, and the deflection that of a membrane
//! under M, Δw = −M/D. The shear forces are Qx = ∂M/∂x and Qy = ∂M/∂y (§21, with the sign of M), so the load runs down
//! the slope of M. With M = w = 0 on the border this is the simply supported plate where the border is straight, and
//! near to it where it bends little. Bending of the skin itself is left out.

use mesh::{Cancelled, Hit, Job, Poisson, Surface};
use nalgebra::{Point3, Vector2};

/// Within this of a fitting's own outline it takes load like the rim, but softly: flow dies out in it over this, mm.
const FITTING_SOFTNESS_MM: f64 = 8.0;

/// What is left of the stiffness where the wall is cut or ribs may not run: little, so that load runs round it.
const CUT: f64 = 0.02;

/// A fitting as a support.
#[derive(Debug, Clone, Copy)]
pub struct Support {
    /// Its middle, limb axes, mm.
    pub middle: Point3<f32>,
    /// How far it reaches, mm.
    pub reach_mm: f32,
}

/// The plate, held at its border and at fittings.
pub struct Plate<'a> {
    skin: &'a Surface,
    /// Where load may fall, by vertex: not where it is cut, or it would pile up there.
    loaded: Vec<bool>,
    membrane: Poisson,
}

impl<'a> Plate<'a> {
    /// The plate where `inside_mm`, the distance to the trim line, is positive, cut at some vertices; `None` where there is
    /// none.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn new(
        skin: &'a Surface,
        inside_mm: &[f32],
        supports: &[Support],
        cut: &[bool],
        job: &Job,
    ) -> Result<Option<Self>, Cancelled> {
        let holds = |p: &Point3<f32>| supports.iter().any(|s| (p - s.middle).norm() < s.reach_mm);
        let softness = FITTING_SOFTNESS_MM.powi(-2);
        let held: Vec<f64> = skin.mesh().points.iter().map(|p| if holds(p) { softness } else { 0.0 }).collect();
        let conducts: Vec<f64> = cut.iter().map(|cut| if *cut { CUT } else { 1.0 }).collect();
        let membrane = Poisson::new(skin.mesh(), inside_mm, &conducts, &held, job)?;
        let loaded = inside_mm.iter().zip(cut).map(|(d, cut)| *d > 0.0 && !cut).collect();
        Ok(membrane.map(|membrane| Self { skin, loaded, membrane }))
    }

    /// Whether load may fall on a spot, and run through it.
    pub fn carries(&self, hit: &Hit) -> bool {
        self.skin.mesh().triangles[hit.triangle as usize].iter().any(|v| self.loaded[*v as usize])
    }

    /// The moment sum at each vertex under a load of one, all of it within `spread_mm` of `load` for the first, and
    /// spread evenly over the whole plate for the second.
    pub fn moment_sums(&self, load: &Point3<f32>, spread_mm: f32) -> Option<Vec<Vector2<f64>>> {
        let points = &self.skin.mesh().points;
        let nearest = (0..points.len())
            .filter(|v| self.loaded[*v])
            .min_by(|a, b| (points[*a] - load).norm().total_cmp(&(points[*b] - load).norm()))?;
        let struck = |v: usize| v == nearest || (points[v] - load).norm() < spread_mm;
        let place = |v: usize| {
            if self.loaded[v] { Vector2::new(f64::from(u8::from(struck(v))), 1.0) } else { Vector2::zeros() }
        };
        let mut q: Vec<Vector2<f64>> = (0..points.len()).map(place).collect();
        let whole: Vector2<f64> = q.iter().zip(self.membrane.mass_mm2()).map(|(q, mass)| q * *mass).sum();
        if whole.min() <= 0.0 {
            return None;
        }
        q.iter_mut().for_each(|q| q.component_div_assign(&whole));
        self.membrane.solve(&q)
    }

    /// The deflection times the rigidity D at each vertex, for moment sums.
    #[cfg(test)]
    fn deflections(&self, moment_sums: &[Vector2<f64>]) -> Option<Vec<Vector2<f64>>> {
        self.membrane.solve(moment_sums)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::flat;

    /// Moment sum and deflection in the middle of a square of 100 mm whose border runs between the vertices, for a load
    /// of one: under a blow spread over 3 mm, and evenly spread.
    fn square() -> (f64, [Vector2<f64>; 2]) {
        let side = 100.0_f32;
        let skin = flat(130.0, 130.0, 1.3);
        let inside: Vec<f32> = skin.mesh().points.iter().map(|p| 0.5 * side - p.x.abs().max(p.z.abs())).collect();
        let plate = Plate::new(&skin, &inside, &[], &vec![false; inside.len()], &Job::silent()).unwrap().unwrap();
        let sums = plate.moment_sums(&Point3::origin(), 3.0).unwrap();
        let bent = plate.deflections(&sums).unwrap();
        let middle = skin.nearest(&Point3::origin(), None).unwrap();
        let corners = skin.mesh().triangles[middle.triangle as usize];
        let at = |values: &[Vector2<f64>]| -> Vector2<f64> {
            corners.iter().zip(middle.weights).map(|(v, w)| values[*v as usize] * f64::from(w)).sum()
        };
        (f64::from(side), [at(&sums), at(&bent)])
    }

    /// Timoshenko and Woinowsky-Krieger, Table 8: Mx = My = 0.0479 q a² with ν = 0.3 and w = 0.00406 q a⁴ / D; the
    /// digits beyond by Navier's series.
    #[test]
    fn an_evenly_loaded_square_plate_has_the_published_moments_and_deflection() {
        let (a, [sums, bent]) = square();
        // A load of one: q = 1 / a².
        let moment = sums.y * (1.0 + 0.3) / 2.0;
        assert!((moment / 0.047_886 - 1.0).abs() < 0.01, "{moment}");
        let deflection = bent.y / a.powi(2);
        assert!((deflection / 0.004_062_35 - 1.0).abs() < 0.01, "{deflection}");
    }

    /// Table 23: w = 0.01160 P a² / D under a load in the middle; spread over 3 mm it is a little less.
    #[test]
    fn a_square_plate_struck_in_the_middle_has_the_published_deflection() {
        let (a, [_, bent]) = square();
        let deflection = bent.x / a.powi(2);
        assert!((deflection / 0.011_600_8 - 1.0).abs() < 0.015, "{deflection}");
    }

    /// ΔM = −q with M = 0 on a circle is q (a² − r²) / 4 by hand. It is not the simply supported round plate, whose
    /// curved edge keeps some moment along it.
    #[test]
    fn the_moment_sum_of_a_round_plate_is_a_paraboloid() {
        let a = 40.0_f32;
        let skin = flat(100.0, 100.0, 1.3);
        let inside: Vec<f32> = skin.mesh().points.iter().map(|p| a - p.x.hypot(p.z)).collect();
        let plate = Plate::new(&skin, &inside, &[], &vec![false; inside.len()], &Job::silent()).unwrap().unwrap();
        let sums = plate.moment_sums(&Point3::origin(), 5.0).unwrap();
        let q = 1.0 / (std::f64::consts::PI * f64::from(a).powi(2));
        let most = 0.25 * q * f64::from(a).powi(2);
        for (p, sum) in skin.mesh().points.iter().zip(&sums) {
            let exact = 0.25 * q * f64::from(a.powi(2) - p.x.powi(2) - p.z.powi(2)).max(0.0);
            assert!((sum.y - exact).abs() < 0.01 * most, "{p} {} {exact}", sum.y);
        }
    }

    #[test]
    fn a_fitting_takes_load_from_the_rim() {
        let skin = flat(100.0, 100.0, 2.0);
        let inside: Vec<f32> = skin.mesh().points.iter().map(|p| 45.0 - p.x.abs().max(p.z.abs())).collect();
        let middle = Point3::new(25.0, 0.0, 0.0);
        let held = Support { middle, reach_mm: 8.0 };
        let most = |supports: &[Support]| {
            let plate =
                Plate::new(&skin, &inside, supports, &vec![false; inside.len()], &Job::silent()).unwrap().unwrap();
            let sums = plate.moment_sums(&Point3::origin(), 5.0).unwrap();
            let hit = skin.nearest(&middle, None).unwrap();
            sums[skin.mesh().triangles[hit.triangle as usize][0] as usize].x
        };
        let (with, without) = (most(&[held]), most(&[]));
        assert!(with > 0.0 && with < 0.5 * without, "{with} {without}");
    }
}
