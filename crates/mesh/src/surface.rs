//! A mesh with the data derived from it: neighbours, normals and a spatial index.

use std::any::Any;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use nalgebra::{Point3, Vector3};

use crate::bvh::hit_on;
use crate::job::{Poll, Unstoppable};
use crate::kept::Kept;
use crate::{Adjacency, Bvh, Cancelled, Hit, Job, Mesh, TriangleFeature, fair_points};

/// Fair copies of a surface, each with its reach, mm.
type FairCopies = Vec<(f32, Arc<Surface>)>;

/// Distances are compared to within this, mm: rounding of coordinates is as large.
const FLAT_MM: f32 = 2e-5;
/// Most steps from triangle to triangle.
const MOST_STEPS: usize = 64;

/// A mesh with its neighbours, normals and nearest-point index, computed once and shared.
#[derive(Debug, Clone)]
pub struct Surface {
    mesh: Mesh,
    adjacency: Arc<Adjacency>,
    /// Built when it is first needed in copies of a surface, of which only places beside others are asked for.
    index: OnceLock<Bvh>,
    triangle_normals: Vec<Vector3<f32>>,
    vertex_normals: Vec<Vector3<f32>>,
    bounds: Option<(Point3<f32>, Point3<f32>)>,
    /// Fair copies that were asked for, by reach.
    fair: Arc<Mutex<FairCopies>>,
    kept: Kept,
}

/// Points and triangles as plain arrays.
impl From<(Vec<[f32; 3]>, Vec<[u32; 3]>)> for Surface {
    fn from(arrays: (Vec<[f32; 3]>, Vec<[u32; 3]>)) -> Self {
        Self::new(arrays.into())
    }
}

impl Surface {
    /// Builds the neighbours, normals and index of `mesh`.
    #[must_use]
    pub fn new(mesh: Mesh) -> Self {
        let Ok(built) = Self::polled(mesh, &Unstoppable);
        built
    }

    /// As [`Surface::new`], which takes about half a second for a million triangles.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn build(mesh: Mesh, job: &Job) -> Result<Self, Cancelled> {
        Self::polled(mesh, job)
    }

    fn polled<P: Poll>(mesh: Mesh, poll: &P) -> Result<Self, P::Stop> {
        let (adjacency, index) = rayon::join(|| Adjacency::polled(&mesh, poll), || Bvh::polled(&mesh, poll));
        Self::with(mesh, Arc::new(adjacency?), OnceLock::from(index?), poll)
    }

    /// A copy with the same triangles and other points.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    ///
    /// # Panics
    /// If there are not as many points.
    pub fn with_points(&self, points: Vec<Point3<f32>>, job: &Job) -> Result<Self, Cancelled> {
        assert_eq!(points.len(), self.mesh.points.len(), "a copy has as many points");
        let mesh = Mesh::new(points, self.mesh.triangles.clone());
        Self::with(mesh, Arc::clone(&self.adjacency), OnceLock::new(), job)
    }

    fn with<P: Poll>(mesh: Mesh, adjacency: Arc<Adjacency>, index: OnceLock<Bvh>, poll: &P) -> Result<Self, P::Stop> {
        let triangle_normals = poll.each(mesh.triangles.len(), |t| mesh.triangle_normal(t))?;
        let around = |v: usize| adjacency.triangles_around(v as u32);
        let vertex_normals = poll.each(mesh.points.len(), |v| mesh.vertex_normal(v as u32, around(v)))?;
        let bounds = mesh.bounds();
        Ok(Self {
            mesh,
            adjacency,
            index,
            triangle_normals,
            vertex_normals,
            bounds,
            fair: Arc::default(),
            kept: Kept::default(),
        })
    }

    fn index(&self) -> &Bvh {
        self.index.get_or_init(|| Bvh::new(&self.mesh))
    }

    /// The mesh itself.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// Lowest and highest coordinates, without walking over the mesh; none for an empty one.
    #[must_use]
    pub fn bounds(&self) -> Option<(Point3<f32>, Point3<f32>)> {
        self.bounds
    }

    /// A copy with the same triangles whose points lie on a fair surface ([`crate::fair_points`]); made once for each
    /// reach and kept.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub fn fair(&self, reach_mm: f32, job: &Job) -> Result<Arc<Self>, Cancelled> {
        let kept = || self.fair.lock().unwrap_or_else(PoisonError::into_inner);
        let known =
            kept().iter().find(|(reach, _)| reach.to_bits() == reach_mm.to_bits()).map(|(_, copy)| Arc::clone(copy));
        if let Some(copy) = known {
            return Ok(copy);
        }
        let points = fair_points(&self.mesh, &self.vertex_normals, reach_mm, job)?;
        let copy = Arc::new(self.with_points(points, job)?);
        kept().push((reach_mm, Arc::clone(&copy)));
        Ok(copy)
    }

    /// What was worked out on this surface before under this number, or what `make` gives now, which is kept: the last few
    /// of all that are asked for. The number stands for all that it depends on beside the surface.
    ///
    /// # Errors
    /// Those of `make`.
    pub fn kept<T: Any + Send + Sync, E>(&self, number: u64, make: impl FnOnce() -> Result<T, E>) -> Result<Arc<T>, E> {
        self.kept.get(number, make)
    }

    /// Its neighbours.
    #[must_use]
    pub fn adjacency(&self) -> &Adjacency {
        &self.adjacency
    }

    /// Unit normals, one a triangle.
    #[must_use]
    pub fn triangle_normals(&self) -> &[Vector3<f32>] {
        &self.triangle_normals
    }

    /// Unit normals weighted by angle, one a vertex.
    #[must_use]
    pub fn vertex_normals(&self) -> &[Vector3<f32>] {
        &self.vertex_normals
    }

    /// The nearest point of the surface; `seed` is a triangle that is probably near, which makes it faster
    /// and never changes the distance found. `None` only for an empty mesh.
    #[must_use]
    pub fn nearest(&self, p: &Point3<f32>, seed: Option<u32>) -> Option<Hit> {
        self.index().nearest(p, seed)
    }

    /// The point found by going from triangle `from` to the ones beside it for as long as they come nearer: the nearest of
    /// the sheet that `p` lies over where that bends little, and much sooner found than the nearest of all.
    #[must_use]
    pub fn nearest_beside(&self, p: &Point3<f32>, from: u32) -> Hit {
        let mut best = hit_on(p, from, &self.mesh.corners(from as usize));
        for _ in 0..MOST_STEPS {
            let corners = self.mesh.triangles[best.triangle as usize];
            let (one, several);
            let beside: &[u32] = match best.feature {
                // In a dish of flat facets several have a nearest point of their own.
                TriangleFeature::Face => &self.adjacency.neighbours[best.triangle as usize],
                TriangleFeature::Edge(k) => {
                    one = [self.adjacency.neighbours[best.triangle as usize][k as usize]];
                    &one
                }
                TriangleFeature::Vertex(k) => {
                    several = self.adjacency.triangles_around(corners[k as usize]);
                    several
                }
            };
            // What lies beyond the plane through the point found, square to the way there, is no nearer.
            let way = p - best.point;
            let beyond = FLAT_MM * best.distance2.sqrt();
            let nearer = beside.iter().filter(|t| **t != crate::NONE).filter_map(|t| {
                let corners = self.mesh.corners(*t as usize);
                let is_beyond = corners.iter().all(|c| way.dot(&(c - best.point)) <= beyond);
                (!is_beyond).then(|| hit_on(p, *t, &corners))
            });
            let next = nearer.fold(None, |least: Option<Hit>, hit| {
                if hit.distance2 < least.as_ref().map_or(best.distance2, |hit| hit.distance2) {
                    Some(hit)
                } else {
                    least
                }
            });
            let Some(next) = next else { break };
            best = next;
        }
        best
    }

    /// The first point along the ray from `origin` in `direction` (of any length) no further than `furthest_mm`,
    /// whichever side of the triangle it meets; [`Hit::distance2`] is the squared distance along the ray, mm².
    ///
    /// A ray never slips between two triangles that share a side. Of two triangles in one place the lower number is
    /// found. `None` where nothing is hit, the direction has no length or a number is not finite.
    #[must_use]
    pub fn ray(&self, origin: &Point3<f32>, direction: &Vector3<f32>, furthest_mm: f32) -> Option<Hit> {
        self.index().ray(origin, direction, furthest_mm)
    }

    /// Distance from `p` to its nearest point `hit`, negative inside, by the pseudonormal of the feature hit
    /// (Bærentzen and Aanæs 2005, "Signed distance computation using the angle weighted pseudonormal").
    #[must_use]
    pub fn signed_distance(&self, p: &Point3<f32>, hit: &Hit) -> f32 {
        let away = p - hit.point;
        let distance = away.norm();
        if away.dot(&self.pseudonormal(hit)) < 0.0 { -distance } else { distance }
    }

    /// Angle-weighted normal of the triangle, edge or vertex that was hit; not of unit length on an edge.
    #[must_use]
    pub fn pseudonormal(&self, hit: &Hit) -> Vector3<f32> {
        let t = hit.triangle as usize;
        match hit.feature {
            TriangleFeature::Face => self.triangle_normals[t],
            TriangleFeature::Edge(k) => {
                let across = self.adjacency.neighbours[t][k as usize];
                let own = self.triangle_normals[t];
                if across == crate::NONE { own } else { own + self.triangle_normals[across as usize] }
            }
            TriangleFeature::Vertex(k) => self.vertex_normals[self.mesh.triangles[t][k as usize] as usize],
        }
    }

    /// A value given at the vertices, interpolated linearly at `hit`.
    #[must_use]
    pub fn interpolate(&self, values: &[f32], hit: &Hit) -> f32 {
        let [a, b, c] = self.mesh.triangles[hit.triangle as usize];
        let [u, v, w] = hit.weights;
        values[a as usize] * u + values[b as usize] * v + values[c as usize] * w
    }

    /// The smooth unit normal at `hit`, interpolated from the vertices.
    #[must_use]
    pub fn normal_at(&self, hit: &Hit) -> Vector3<f32> {
        let [a, b, c] = self.mesh.triangles[hit.triangle as usize].map(|v| self.vertex_normals[v as usize]);
        let [u, v, w] = hit.weights;
        (a * u + b * v + c * w).try_normalize(1e-12).unwrap_or(self.triangle_normals[hit.triangle as usize])
    }
}
