//! One map of the zone: the covered skin and a margin round it laid flat with little distortion, so that a guard can be
//! composed on it as on paper.
//!
//! The limb's axis is up. The vertical axis of the map is the middle line of the covered part: its axis of symmetry as
//! far as it has one. Lengths on the map are near to those on the skin; [`ZoneMap::stretch`] says how near at each
//! place.

mod cells;
mod sheet;
mod upright;

use mesh::flatten::{Flat, FlattenError, flatten};
use mesh::{Cancelled, Hit, Job, Mesh, Surface, TriangleFeature};
use nalgebra::{Matrix2, Point2, Point3, Vector2, Vector3};

use self::cells::Cells;
use self::sheet::Sheet;
use crate::Zone;

/// How far the map reaches beyond the trim line, mm.
pub const MARGIN_MM: f32 = 8.0;

/// A triangle of a face over the skin that has less than this share of the area below it counts as folded.
const LEAST_LEFT: f64 = 0.2;

/// The zone laid flat.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneMap {
    sheet: Sheet,
    /// What was laid flat: the sheet, or what lies over it.
    face: Mesh,
    flat: Flat,
    cells: Cells,
    outline: Vec<Vec<Point2<f64>>>,
    asymmetry: f64,
    axis_deg: f64,
}

/// Why there is no map.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum MapError {
    /// The zone covers no whole triangle of the skin.
    #[error("the zone covers nothing that could be laid flat")]
    Nothing,
    /// The skin closes all round, or is torn.
    #[error(transparent)]
    Flatten(FlattenError),
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl From<FlattenError> for MapError {
    fn from(error: FlattenError) -> Self {
        match error {
            FlattenError::Cancelled(stop) => Self::Cancelled(stop),
            other => Self::Flatten(other),
        }
    }
}

/// What lies at a place of the map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Local {
    /// The skin point.
    pub hit: Hit,
    /// The way on the skin for one millimetre to the right on the map.
    pub across: Vector3<f32>,
    /// The way on the skin for one millimetre up on the map.
    pub up: Vector3<f32>,
}

impl ZoneMap {
    /// Lays the covered skin of `zone` flat.
    ///
    /// # Errors
    /// [`MapError`].
    pub fn make(skin: &Surface, zone: &Zone, job: &Job) -> Result<Self, MapError> {
        let sheet = Self::sheet(skin, zone, job)?;
        let face = sheet.mesh.clone();
        Self::of(skin, zone, sheet, face, job)
    }

    /// Lays the face flat that lies `height_mm` over the covered skin along these unit vectors, one for each vertex of the
    /// skin; places on the map still stand for points of the skin below. `None` where that face is folded.
    ///
    /// # Errors
    /// [`MapError`].
    pub fn make_over(
        skin: &Surface,
        zone: &Zone,
        ways: &[Vector3<f32>],
        height_mm: f32,
        job: &Job,
    ) -> Result<Option<Self>, MapError> {
        let sheet = Self::sheet(skin, zone, job)?;
        let lifted = sheet.mesh.points.iter().zip(&sheet.vertex).map(|(p, v)| p + ways[*v as usize] * height_mm);
        let face = Mesh::new(lifted.collect(), sheet.mesh.triangles.clone());
        let folded = |t: usize| {
            let [below, above] = [&sheet.mesh, &face].map(|mesh| mesh.cross(t));
            above.dot(&below) < LEAST_LEFT * below.norm_squared()
        };
        if (0..face.triangles.len()).any(folded) {
            return Ok(None);
        }
        Self::of(skin, zone, sheet, face, job).map(Some)
    }

    fn sheet(skin: &Surface, zone: &Zone, job: &Job) -> Result<Sheet, MapError> {
        let mesh = skin.mesh();
        let distance = &zone.covered.distance_mm;
        let near = |v: &u32| distance.get(*v as usize).is_some_and(|d| *d > -MARGIN_MM);
        let wanted = |t: u32| mesh.triangles[t as usize].iter().all(near) && mesh.cross(t as usize).norm() > 0.0;
        Sheet::of(skin, wanted, job)?.ok_or(MapError::Nothing)
    }

    fn of(skin: &Surface, zone: &Zone, sheet: Sheet, face: Mesh, job: &Job) -> Result<Self, MapError> {
        let flat = flatten(&face, job)?;
        let cells = Cells::default();
        let mut map = Self { sheet, face, flat, cells, outline: Vec::new(), asymmetry: 0.0, axis_deg: 0.0 };
        map.set_outline(skin, zone, job)?;
        upright::stand(&mut map, &zone.covered.distance_mm);
        map.cells = Cells::new(&map.sheet.mesh, &map.flat.points);
        Ok(map)
    }

    /// The trim lines on the map, the longest first, covered skin on the left.
    #[must_use]
    pub fn outline(&self) -> &[Vec<Point2<f64>>] {
        &self.outline
    }

    /// How unlike the halves on both sides of the vertical axis are: the area that one has and the other has not, as a
    /// share of the whole.
    #[must_use]
    pub fn asymmetry(&self) -> f64 {
        self.asymmetry
    }

    /// How far the map was turned from the limb's axis to stand on its own middle line, degrees, counter-clockwise.
    #[must_use]
    pub fn axis_deg(&self) -> f64 {
        self.axis_deg
    }

    /// Where a skin point lies on the map, mm to the right and up; `None` off the map.
    #[must_use]
    pub fn flat_of(&self, hit: &Hit) -> Option<Point2<f64>> {
        let own = self.sheet.triangle.binary_search(&hit.triangle).ok()?;
        let corners = self.corners(own);
        let sum = corners.iter().zip(hit.weights).map(|(corner, weight)| corner.coords * f64::from(weight));
        Some(Point2::from(sum.sum::<Vector2<f64>>()))
    }

    /// What lies at a place of the map; `None` off the map.
    #[must_use]
    pub fn at(&self, place: &Point2<f64>) -> Option<Local> {
        let own = self.cells.at(place).iter().copied().find(|t| self.weights(*t as usize, place).is_some())? as usize;
        let weights = self.weights(own, place)?;
        let space = self.sheet.mesh.corners(own).map(|p| p.cast::<f64>());
        let point: Vector3<f64> = space.iter().zip(weights).map(|(p, w)| p.coords * w).sum();
        let [a, b, c] = self.corners(own);
        let sides = Matrix2::from_columns(&[b - a, c - a]).try_inverse()?;
        let way = |k: usize| {
            let [s, t] = [sides[(0, k)], sides[(1, k)]];
            ((space[1] - space[0]) * s + (space[2] - space[0]) * t).cast::<f32>()
        };
        let hit = Hit {
            triangle: self.sheet.triangle[own],
            point: Point3::from(point.cast::<f32>()),
            weights: weights.map(|w| w as f32),
            distance2: 0.0,
            feature: TriangleFeature::Face,
        };
        Some(Local { hit, across: way(0), up: way(1) })
    }

    /// Area of each triangle of the map on what was laid flat, mm², and by what lengths are multiplied there, at most and at
    /// least.
    pub fn stretch(&self) -> impl Iterator<Item = (f64, [f64; 2])> + '_ {
        let mesh = &self.face;
        (0..mesh.triangles.len()).map(|t| (0.5 * mesh.cross(t).norm(), self.flat.stretch(mesh, t)))
    }

    /// The stretch that a share of the map's area stays within: the greater of most and one over least.
    #[must_use]
    pub fn stretch_within(&self, share: f64) -> f64 {
        let both = |(area, [most, least]): (f64, [f64; 2])| (most.max(1.0 / least.max(f64::MIN_POSITIVE)), area);
        quantile(self.stretch().map(both).collect(), share)
    }

    /// How many times as long as on the skin lengths are on the map at most, but for what is most stretched: a share of the
    /// area stays within it.
    #[must_use]
    pub fn most_within(&self, share: f64) -> f64 {
        quantile(self.stretch().map(|(area, [most, _])| (most, area)).collect(), share)
    }

    /// How many triangles are folded over.
    #[must_use]
    pub fn folded(&self) -> usize {
        self.flat.folded(&self.face)
    }

    /// Each point of the map: its vertex of the skin, and where it lies. The sides of a seam are two.
    pub fn points(&self) -> impl Iterator<Item = (u32, Point2<f64>)> + '_ {
        self.sheet.vertex.iter().copied().zip(self.flat.points.iter().copied())
    }

    /// The triangles of the map, as numbers of its points.
    #[must_use]
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.sheet.mesh.triangles
    }

    /// The edge of what is covered, and the seam in it, in pieces, by the distance to the edge at each vertex of the skin,
    /// positive inside.
    #[must_use]
    pub fn level(&self, distance: &[f32]) -> Vec<[Point2<f64>; 2]> {
        let depth = |v: u32| f64::from(distance.get(self.sheet.vertex[v as usize] as usize).copied().unwrap_or(-1.0));
        let across = |corners: &[u32; 3]| -> Option<[Point2<f64>; 2]> {
            let mut ends = (0..3).filter_map(|k| {
                let (v, w) = (corners[k], corners[(k + 1) % 3]);
                let (a, b) = (depth(v), depth(w));
                let (p, q) = (self.flat.points[v as usize], self.flat.points[w as usize]);
                ((a > 0.0) != (b > 0.0)).then(|| p + (q - p) * (a / (a - b)))
            });
            Some([ends.next()?, ends.next()?])
        };
        let mut sides: Vec<[u32; 2]> = self
            .triangles()
            .iter()
            .flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]])
            .filter(|side| side.iter().all(|v| depth(*v) > 0.0))
            .map(|[a, b]| [a.min(b), a.max(b)])
            .collect();
        sides.sort_unstable();
        let lone = sides.chunk_by(|a, b| a == b).filter(|same| same.len() == 1);
        let seam = lone.map(|same| same[0].map(|v| self.flat.points[v as usize]));
        self.triangles().iter().filter_map(across).chain(seam).collect()
    }

    fn corners(&self, own: usize) -> [Point2<f64>; 3] {
        self.sheet.mesh.triangles[own].map(|v| self.flat.points[v as usize])
    }

    /// Barycentric weights of a place in a triangle of the map, none of them below zero by more than rounding.
    fn weights(&self, own: usize, place: &Point2<f64>) -> Option<[f64; 3]> {
        let [a, b, c] = self.corners(own);
        let whole = (b - a).perp(&(c - a));
        let (v, w) = ((place - a).perp(&(c - a)) / whole, (b - a).perp(&(place - a)) / whole);
        let weights = [1.0 - v - w, v, w];
        weights.iter().all(|w| *w > -1e-9).then_some(weights)
    }

    fn set_outline(&mut self, skin: &Surface, zone: &Zone, job: &Job) -> Result<(), Cancelled> {
        for edge in &zone.covered.edges {
            job.check()?;
            let mut seed = None;
            let places = edge.iter().filter_map(|p| {
                let hit = skin.nearest(p, seed)?;
                seed = Some(hit.triangle);
                self.flat_of(&hit)
            });
            self.outline.push(places.collect());
        }
        let length = |line: &Vec<Point2<f64>>| -> f64 { line.windows(2).map(|e| (e[1] - e[0]).norm()).sum() };
        self.outline.sort_by(|a, b| length(b).total_cmp(&length(a)));
        Ok(())
    }
}

/// The value that a share of the weights stays within; 1 without any.
fn quantile(mut all: Vec<(f64, f64)>, share: f64) -> f64 {
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = all.iter().map(|(_, weight)| weight).sum();
    let mut sum = 0.0;
    let found = all.iter().find(|(_, weight)| {
        sum += weight;
        sum >= share * whole
    });
    found.map_or(1.0, |(value, _)| *value)
}

#[cfg(test)]
mod tests {
    use test_shapes::even_tube;

    use super::*;
    use crate::{Source, ZoneSettings};

    /// A tube of 40 mm radius, and on it a trapezium 100 mm high, 100 mm wide above and 60 mm below.
    fn trapezium() -> (Surface, Zone) {
        let skin: Surface = even_tube(40.0, 160.0, 1.5).build();
        let corners_mm = [[-30.0, -50.0], [30.0, -50.0], [50.0, 50.0], [-50.0, 50.0]]
            .map(|[x, z]: [f32; 2]| Point3::new(40.0 * (x / 40.0).cos(), 40.0 * (x / 40.0).sin(), z))
            .to_vec();
        let inside_mm = Some(Point3::new(40.0, 0.0, 0.0));
        let sources = vec![Source::Outline { corners_mm, inside_mm }];
        let settings = ZoneSettings { sources, tolerance_mm: 0.0, ..ZoneSettings::default() };
        let zone = crate::make(&skin, &settings, &Job::silent()).unwrap();
        (skin, zone)
    }

    #[test]
    fn a_zone_on_a_tube_lies_flat_in_true_size_upright_on_its_middle_line() {
        let (skin, zone) = trapezium();
        let map = ZoneMap::make(&skin, &zone, &Job::silent()).unwrap();
        assert!(map.stretch_within(0.95) < 1.001 && map.folded() == 0, "{}", map.stretch_within(0.95));
        assert!(map.asymmetry() < 0.02 && map.axis_deg().abs() < 1.0, "{} {}", map.asymmetry(), map.axis_deg());
        let [outline] = map.outline() else { panic!("{} lines", map.outline().len()) };
        let (low, high) = outline.iter().fold((outline[0], outline[0]), |(lo, hi), p| (lo.inf(p), hi.sup(p)));
        assert!((high.y - low.y - 100.0).abs() < 1.0, "{low} {high}");
        assert!((high.x - 50.0).abs() < 1.0 && (low.x + 50.0).abs() < 1.0, "{low} {high}");
        // Wider above than below: the limb's axis is up.
        let wide = outline.iter().max_by(|a, b| a.x.total_cmp(&b.x)).unwrap();
        assert!(wide.y > 0.0, "{wide}");
    }

    #[test]
    fn places_on_the_map_and_on_the_skin_belong_to_each_other() {
        let (skin, zone) = trapezium();
        let map = ZoneMap::make(&skin, &zone, &Job::silent()).unwrap();
        for place in [[0.0, 0.0], [20.0, 30.0], [-15.0, -40.0]].map(|[x, y]| Point2::new(x, y)) {
            let found = map.at(&place).unwrap();
            let back = map.flat_of(&found.hit).unwrap();
            assert!((back - place).norm() < 1e-3, "{place} {back}");
            // A millimetre on the map is one on the skin, along the tube upwards and square to that.
            assert!((found.up - Vector3::z()).norm() < 0.02 && (found.across.norm() - 1.0).abs() < 2e-3, "{found:?}");
        }
        assert!(map.at(&Point2::new(0.0, 90.0)).is_none());
    }

    /// Over a tube of 40 mm a face 4 mm higher is wider by a tenth (parallel surfaces; do Carmo 1976, 3-5, exercise 11).
    #[test]
    fn the_face_over_a_tube_lies_flat_in_its_own_size() {
        let (skin, zone) = trapezium();
        let map = ZoneMap::make_over(&skin, &zone, skin.vertex_normals(), 4.0, &Job::silent()).unwrap().unwrap();
        assert!(map.stretch_within(0.95) < 1.001, "{}", map.stretch_within(0.95));
        let high = map.outline()[0].iter().fold(0.0_f64, |high, p| high.max(p.x));
        assert!((high - 55.0).abs() < 1.1, "{high}");
        let [a, b] = [10.0, 12.0].map(|x| map.at(&Point2::new(x, 0.0)).unwrap().hit.point);
        assert!(((b - a).norm() - 2.0 / 1.1).abs() < 0.01, "they are points of the skin");
        // Inwards by more than its radius it would be turned over.
        let inward: Vec<_> = skin.vertex_normals().iter().map(|n| -n).collect();
        assert_eq!(ZoneMap::make_over(&skin, &zone, &inward, 50.0, &Job::silent()), Ok(None));
    }

    #[test]
    fn a_zone_without_skin_has_no_map() {
        let (skin, _) = trapezium();
        let far = vec![-40.0; skin.mesh().points.len()];
        let zone = Zone { covered: crate::Region { distance_mm: far, edges: Vec::new() }, ..Zone::default() };
        assert_eq!(ZoneMap::make(&skin, &zone, &Job::silent()), Err(MapError::Nothing));
    }
}
