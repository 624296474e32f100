//! What a blow does, point by point, on the guard and on the skin.

use mechanics::ready::Maps;
use mesh::{Cancelled, Hit, Job, Mesh, Surface};
use nalgebra::{Point3, Vector3};
use serde::Serialize;
use zone::Zone;

use super::wall::GuardWall;

/// What is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum StrengthMap {
    /// The stress as a share of what the print bears there, per cent.
    Stress,
    /// How far the guard is pushed in, mm.
    Dent,
    /// The pressure on the skin, kPa.
    Pressure,
}

impl StrengthMap {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Stress, Self::Dent, Self::Pressure];

    /// Its unit.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::Stress => "%",
            Self::Dent => "mm",
            Self::Pressure => "kPa",
        }
    }
}

/// One map: values on the guard's own vertices and on those of the skin.
#[derive(Debug, Clone, PartialEq)]
pub struct MapValues {
    /// What it shows.
    pub map: StrengthMap,
    /// On each vertex of the guard; of the pressure on the skin, nothing.
    pub guard: Vec<f32>,
    /// On each vertex of the skin under the guard, the others NaN; only of the pressure.
    pub skin: Vec<f32>,
    /// The greatest value.
    pub most: f32,
    /// Where that is, mm.
    pub most_at: Point3<f32>,
}

/// Points of the skin further off are not under the guard, mm beside its own thickness and gap.
const BESIDE_MM: f32 = 6.0;

/// The middle of a guard's wall as a surface on which places are looked up.
#[derive(Debug)]
pub struct WallSurface {
    surface: Surface,
}

impl WallSurface {
    /// Of a wall.
    #[must_use]
    pub fn new(wall: &GuardWall) -> Self {
        let points = wall.middle.points.iter().map(|p| p.cast::<f32>()).collect();
        Self { surface: Surface::new(Mesh::new(points, wall.middle.triangles.clone())) }
    }

    /// Where a line of sight meets it.
    #[must_use]
    pub fn met(&self, from: &Point3<f32>, way: &Vector3<f32>, furthest_mm: f32) -> Option<Point3<f32>> {
        self.surface.ray(from, way, furthest_mm).map(|hit| hit.point)
    }

    /// What one map shows on the guard and on the skin.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn values(
        &self,
        map: StrengthMap,
        maps: &Maps,
        guard: &Mesh,
        (skin, zone, reach_mm): (&Surface, &Zone, f32),
        job: &Job,
    ) -> Result<MapValues, Cancelled> {
        let (mut on_guard, mut on_skin) = (Vec::new(), Vec::new());
        if map == StrengthMap::Pressure {
            let points = &skin.mesh().points;
            on_skin = job.each(points.len(), |v| {
                if zone.covered.distance_mm.get(v).is_none_or(|depth| *depth < -BESIDE_MM) {
                    return f32::NAN;
                }
                let near = |hit: &Hit| hit.distance2.sqrt() <= reach_mm + BESIDE_MM;
                let hit = self.surface.nearest(&points[v], None).filter(near);
                hit.map_or(f32::NAN, |hit| self.told(&hit, |node| 1e3 * maps.pressure_mpa[node]))
            })?;
        } else {
            on_guard = job.each(guard.points.len(), |v| {
                let Some(hit) = self.surface.nearest(&guard.points[v], None) else { return 0.0 };
                match map {
                    StrengthMap::Stress => self.stress(&hit, &guard.points[v], maps),
                    _ => self.told(&hit, |node| maps.dent_mm[node].max(0.0)),
                }
            })?;
        }
        let (values, places): (&[f32], &[Point3<f32>]) =
            if on_skin.is_empty() { (&on_guard, &guard.points) } else { (&on_skin, &skin.mesh().points) };
        let told = values.iter().enumerate().filter(|(_, value)| value.is_finite());
        let most = told.max_by(|a, b| a.1.total_cmp(b.1)).map(|(v, value)| (*value, places[v]));
        let (most, most_at) = most.unwrap_or((0.0, Point3::origin()));
        Ok(MapValues { map, guard: on_guard, skin: on_skin, most, most_at })
    }

    /// A value between the nodes.
    fn told(&self, hit: &Hit, of: impl Fn(usize) -> f64) -> f32 {
        let corners = self.surface.mesh().triangles[hit.triangle as usize];
        let shares = corners.iter().zip(&hit.weights);
        shares.map(|(node, share)| of(*node as usize) as f32 * share).sum()
    }

    /// The stress at the face of the wall that a point lies on, per cent of what it bears.
    fn stress(&self, hit: &Hit, point: &Point3<f32>, maps: &Maps) -> f32 {
        let out = self.surface.normal_at(hit);
        let face = usize::from((point - hit.point).dot(&out) < 0.0);
        let places = &maps.stresses[hit.triangle as usize];
        let shares = places.iter().zip(&hit.weights);
        shares.map(|(faces, share)| 100.0 * faces[face].share() as f32 * share).sum()
    }
}

/// The end of the scale for a greatest value: stress to what the print bears, others to the next round figure.
#[must_use]
pub fn scale_of(map: StrengthMap, most: f32) -> f32 {
    if map == StrengthMap::Stress {
        return 100.0;
    }
    let most = most.max(f32::MIN_POSITIVE);
    let power = 10.0_f32.powf(most.log10().floor());
    [1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0]
        .map(|step| step * power)
        .into_iter()
        .find(|end| *end >= most)
        .unwrap_or(10.0 * power)
}
