//! The vertices of a scan with their neighbours, areas and smoothed normals.

use mesh::{Cancelled, Hit, Job, NONE, Surface, TriangleFeature};
use nalgebra::{Point3, Vector3};

/// What the pen search asks of a surface again and again.
pub(super) struct SkinGraph<'a> {
    pub surface: &'a Surface,
    /// A third of the area of the triangles around each vertex, mm².
    pub area_mm2: Vec<f32>,
    /// Normals averaged over about two millimetres, so that scanner noise does not tilt them.
    pub normals: Vec<Vector3<f32>>,
    /// Vertices that no scanner saw: their place and colour were made up to fill a hole.
    pub unseen: Vec<bool>,
    /// Vertices at an end of the scan or at a hole as large as one.
    pub end_of_scan: Vec<bool>,
    /// Usual length of an edge, mm.
    pub spacing_mm: f32,
    starts: Vec<u32>,
    ring: Vec<u32>,
}

/// An opening whose box has a longer diagonal is an end of the scan rather than a hole in it, mm.
const LARGE_OPENING_MM: f32 = 35.0;

/// Scratch memory of [`SkinGraph::disc`].
pub(super) struct VisitStamps {
    seen: Vec<u32>,
    stamp: u32,
}

impl<'a> SkinGraph<'a> {
    pub fn new(surface: &'a Surface, filled: &[bool], job: &Job) -> Result<Self, Cancelled> {
        let mesh = surface.mesh();
        let n = mesh.points.len();
        let mut starts = Vec::with_capacity(n + 1);
        let mut ring = Vec::with_capacity(n * 6);
        starts.push(0);
        let mut corners = Vec::new();
        for v in 0..n as u32 {
            job.check()?;
            corners.clear();
            for t in surface.adjacency().triangles_around(v) {
                corners.extend(mesh.triangles[*t as usize].iter().copied().filter(|w| *w != v));
            }
            corners.sort_unstable();
            corners.dedup();
            ring.extend_from_slice(&corners);
            starts.push(ring.len() as u32);
        }
        let mut area_mm2 = vec![0.0_f32; n];
        let unseen = (0..n).map(|v| filled.get(v).copied().unwrap_or(false)).collect();
        job.check()?;
        for (t, corners) in mesh.triangles.iter().enumerate() {
            let third = (mesh.cross(t).norm() / 6.0) as f32;
            for v in corners {
                area_mm2[*v as usize] += third;
            }
        }
        let mut graph = Self {
            surface,
            area_mm2,
            normals: Vec::new(),
            unseen,
            end_of_scan: Vec::new(),
            spacing_mm: 1.0,
            starts,
            ring,
        };
        job.check()?;
        graph.end_of_scan = graph.large_openings();
        job.check()?;
        graph.spacing_mm = graph.median_edge_mm();
        graph.normals = graph.smoothed_normals(job)?;
        Ok(graph)
    }

    pub fn len(&self) -> usize {
        self.area_mm2.len()
    }

    pub fn point(&self, v: u32) -> Point3<f32> {
        self.surface.mesh().points[v as usize]
    }

    /// The vertices that share an edge with `v`, in rising order.
    pub fn neighbours(&self, v: u32) -> &[u32] {
        &self.ring[self.starts[v as usize] as usize..self.starts[v as usize + 1] as usize]
    }

    /// The vertices that share an edge with `v`, each with the length of that edge, mm.
    pub fn edges(&self, v: u32) -> impl Iterator<Item = (u32, f32)> + '_ {
        let p = self.point(v);
        self.neighbours(v).iter().map(move |w| (*w, (self.point(*w) - p).norm()))
    }

    /// Whether no skin was seen at the nearest point `hit`: it lies on the rim of a hole, at an end of the scan,
    /// or on a filled hole.
    pub fn is_unseen(&self, hit: &Hit) -> bool {
        let surface = self.surface;
        let corners = surface.mesh().triangles[hit.triangle as usize];
        if corners.iter().all(|v| self.unseen[*v as usize]) {
            return true;
        }
        let is_open = |t: u32, side: usize| surface.adjacency().neighbours[t as usize][side] == NONE;
        match hit.feature {
            TriangleFeature::Face => false,
            TriangleFeature::Edge(k) => is_open(hit.triangle, k as usize),
            TriangleFeature::Vertex(k) => {
                let v = corners[k as usize];
                surface.adjacency().triangles_around(v).iter().any(|t| {
                    let c = surface.mesh().triangles[*t as usize];
                    (0..3).any(|s| is_open(*t, s) && (c[s] == v || c[(s + 1) % 3] == v))
                })
            }
        }
    }

    /// The vertex nearest to a point among the corners of the triangle nearest to it.
    pub fn nearest_vertex(&self, p: &Point3<f32>) -> Option<u32> {
        let hit = self.surface.nearest(p, None)?;
        let far = |v: &u32| (self.point(*v) - p).norm_squared();
        self.surface.mesh().triangles[hit.triangle as usize].into_iter().min_by(|a, b| far(a).total_cmp(&far(b)))
    }

    /// Whether a point lies where the scan ends.
    pub fn is_at_end_of_scan(&self, p: &Point3<f32>) -> bool {
        let near = 4.0 + self.spacing_mm;
        (0..self.len()).any(|v| self.end_of_scan[v] && (self.point(v as u32) - p).norm_squared() < near * near)
    }

    pub fn visits(&self) -> VisitStamps {
        VisitStamps { seen: vec![0; self.len()], stamp: 0 }
    }

    /// The vertices around `v` connected with it inside a ball, on skin that faces the same way.
    pub fn disc(&self, v: u32, radius_mm: f32, visits: &mut VisitStamps, found: &mut Vec<u32>) {
        visits.stamp += 1;
        let (centre, facing) = (self.point(v), self.normals[v as usize]);
        found.clear();
        found.push(v);
        visits.seen[v as usize] = visits.stamp;
        let mut at = 0;
        while at < found.len() {
            for &w in self.neighbours(found[at]) {
                if visits.seen[w as usize] != visits.stamp {
                    visits.seen[w as usize] = visits.stamp;
                    if (self.point(w) - centre).norm_squared() <= radius_mm * radius_mm
                        && self.normals[w as usize].dot(&facing) > 0.0
                    {
                        found.push(w);
                    }
                }
            }
            at += 1;
        }
    }

    fn large_openings(&self) -> Vec<bool> {
        let mut large = vec![false; self.len()];
        for ring in self.surface.adjacency().boundary_loops(self.surface.mesh()) {
            let Some(first) = ring.first().map(|v| self.point(*v)) else { continue };
            let (low, high) =
                ring.iter().fold((first, first), |(l, h), v| (l.inf(&self.point(*v)), h.sup(&self.point(*v))));
            if (high - low).norm() > LARGE_OPENING_MM {
                ring.iter().for_each(|v| large[*v as usize] = true);
            }
        }
        large
    }

    fn median_edge_mm(&self) -> f32 {
        let mut lengths: Vec<f32> = (0..self.len() as u32)
            .flat_map(|v| self.neighbours(v).iter().filter(move |w| **w > v).map(move |w| (v, *w)))
            .map(|(v, w)| (self.point(v) - self.point(w)).norm())
            .collect();
        if lengths.is_empty() {
            return 1.0;
        }
        let middle = lengths.len() / 2;
        let (_, median, _) = lengths.select_nth_unstable_by(middle, f32::total_cmp);
        median.max(1e-3)
    }

    fn smoothed_normals(&self, job: &Job) -> Result<Vec<Vector3<f32>>, Cancelled> {
        let mut normals = self.surface.vertex_normals().to_vec();
        let passes = ((2.0 / self.spacing_mm).powi(2) as usize).clamp(3, 12);
        for _ in 0..passes {
            job.check()?;
            normals = (0..self.len())
                .map(|v| {
                    let sum: Vector3<f32> = self.neighbours(v as u32).iter().map(|w| normals[*w as usize]).sum();
                    (sum + normals[v]).try_normalize(1e-6).unwrap_or(normals[v])
                })
                .collect();
        }
        Ok(normals)
    }
}
