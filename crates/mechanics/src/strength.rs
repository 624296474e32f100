//! How near a guard is to breaking: stresses at both faces of its wall, and what layers of a print bear.

use mesh::{Cancelled, Job};
use nalgebra::{DMatrix, Matrix3, Point3, Vector3, Vector6};

use crate::elements::{Facet, Section, Strains, Structure, plane_stress, principal, von_mises};
use crate::mid_surface::{MidSurface, PLACES, Slice};

/// What a printed material bears.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// Pulled along its layers, MPa.
    pub along_mpa: f64,
    /// Pulled across them, MPa.
    pub across_mpa: f64,
    /// How many times as strong it is where it is bent.
    pub bent: f64,
    /// The way in which layers lie on each other, a unit vector.
    pub layers: Vector3<f64>,
}

/// How a material gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plastic {
    /// Young's modulus, MPa.
    pub young_mpa: f64,
    /// Poisson's ratio.
    pub poisson: f64,
}

/// The stress at one place of a face.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FaceStress {
    /// Where, mm.
    pub at: Point3<f64>,
    /// The greater principal stress, MPa.
    pub principal_mpa: f64,
    /// The stress in one direction that strains as much (von Mises), MPa.
    pub von_mises_mpa: f64,
    /// Which share of what it bears along its layers that is.
    pub along: f64,
    /// Which share of what it bears across its layers it is pulled and sheared with there.
    pub across: f64,
}

impl FaceStress {
    /// The greater of the two shares.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.along.max(self.across)
    }
}

/// Layers are sheared off at this share of what pulls them apart: as in a material that yields by von Mises.
const SHEARED: f64 = 0.577;

impl Strength {
    /// The stress that counts as much where it is bent: what is pulled evenly counts in full, the rest by how much stronger the
    /// material is when it is bent.
    fn counts(&self, even: &Vector3<f64>, at_face: &Vector3<f64>) -> Vector3<f64> {
        even + (at_face - even) / self.bent
    }

    /// Which shares a stress in a plane is of what is borne, along and across layers. Along them it is the greater of the
    /// greatest pull and of von Mises; across them pull and shear of the layer add by their squares, and what presses layers
    /// together does not count (the quadratic criterion of delamination, Brewer and Lagace 1988, J. Compos. Mater. 22, 1141).
    #[must_use]
    pub fn shares(&self, stress: &Matrix3<f64>, in_plane: &Vector3<f64>) -> [f64; 2] {
        let along = von_mises(in_plane).max(principal(in_plane)[0]) / self.along_mpa;
        let on_layer = stress * self.layers;
        let pull = on_layer.dot(&self.layers);
        let shear = (on_layer - self.layers * pull).norm();
        [along, (pull.max(0.0) / self.across_mpa).hypot(shear / (SHEARED * self.across_mpa))]
    }
}

/// Triangles round one whose strains tell those at its corners, at least.
const ENOUGH: usize = 5;
/// Walls are alike where their mean thickness differs by no more than this share.
const ALIKE: f64 = 0.2;
/// Rings of neighbours that are looked through at most.
const MOST_RINGS: usize = 2;

/// The stresses in a guard that is moved so, at the outer and the inner face of the three [`PLACES`] in each triangle. Strains of a
/// triangle are even; how they change within it is told by the plane that fits best to those of the triangles around it whose
/// walls are alike, after Zienkiewicz and Zhu 1992, "The superconvergent patch recovery", Int. J. Numer. Methods Eng. 33, 1331.
///
/// # Errors
/// [`Cancelled`].
pub fn stresses(
    middle: &MidSurface,
    plastic: &Plastic,
    strength: &Strength,
    moved: &[Vector6<f64>],
    job: &Job,
) -> Result<Vec<[[FaceStress; 2]; 3]>, Cancelled> {
    let structure = middle.of(plastic.young_mpa, plastic.poisson);
    let facets: Vec<Option<Facet>> = (0..structure.triangles.len()).map(|t| Facet::new(structure.corners(t))).collect();
    let strains = job.each(facets.len(), |t| {
        facets[t].map(|facet| InSpace::new(&facet, &strains_of(&structure, &facet, t, moved)))
    })?;
    let strains: Vec<InSpace> = strains.into_iter().map(Option::unwrap_or_default).collect();
    let around = Around::new(middle);
    job.each(facets.len(), |t| {
        let facet = facets[t];
        let near = around.alike(t);
        let corners = structure.corners(t);
        // The wall as thick as it is on the whole: the strains are those of such a wall.
        let mean = |of: fn(&Slice) -> f64| middle.walls[t].iter().map(of).sum::<f64>() / 3.0;
        let (thickness, middle_over) = (mean(|slice| slice.thickness_mm), mean(|slice| slice.over_mm));
        let told = |corner: usize| {
            let place = PLACES[corner].iter().zip(&corners).map(|(share, at)| at.coords * *share).sum::<Vector3<f64>>();
            let strain = around.told(&near, &strains, &Point3::from(place), t);
            let normal = facet.map_or_else(Vector3::z, |facet| facet.axes().inverse() * Vector3::z());
            [1.0, -1.0].map(|side| {
                let over = middle_over + side * 0.5 * thickness;
                let at = Point3::from(place + normal * over);
                let Some(facet) = facet else { return FaceStress { at, ..FaceStress::default() } };
                let own = strain.in_axes(&facet).at(over);
                let in_plane = plane_stress(&own, plastic.young_mpa, plastic.poisson);
                let even = plane_stress(&strain.in_axes(&facet).at(middle_over), plastic.young_mpa, plastic.poisson);
                let counts = strength.counts(&even, &in_plane);
                let flat = Matrix3::new(counts.x, counts.z, 0.0, counts.z, counts.y, 0.0, 0.0, 0.0, 0.0);
                let axes = facet.axes().matrix();
                let [along, across] = strength.shares(&(axes.transpose() * flat * axes), &counts);
                FaceStress {
                    at,
                    principal_mpa: principal(&in_plane)[0],
                    von_mises_mpa: von_mises(&in_plane),
                    along,
                    across,
                }
            })
        };
        [0, 1, 2].map(told)
    })
}

fn strains_of(structure: &Structure, facet: &Facet, t: usize, moved: &[Vector6<f64>]) -> Strains {
    let section: &Section = &structure.sections[t];
    facet.strains(section, &structure.unknowns_of(t, moved))
}

/// Strains as tensors in space: of the surface of the nodes, and by how much they change away from it.
#[derive(Debug, Clone, Copy, Default)]
struct InSpace {
    membrane: Matrix3<f64>,
    curvature: Matrix3<f64>,
}

impl InSpace {
    fn new(facet: &Facet, strains: &Strains) -> Self {
        let axes = facet.axes().matrix();
        let turned = |e: &Vector3<f64>| {
            let flat = Matrix3::new(e.x, 0.5 * e.z, 0.0, 0.5 * e.z, e.y, 0.0, 0.0, 0.0, 0.0);
            axes.transpose() * flat * axes
        };
        Self { membrane: turned(&strains.membrane), curvature: turned(&strains.curvature) }
    }

    fn in_axes(&self, facet: &Facet) -> Strains {
        let axes = facet.axes().matrix();
        let own = |e: &Matrix3<f64>| {
            let e = axes * e * axes.transpose();
            Vector3::new(e.m11, e.m22, 2.0 * e.m12)
        };
        Strains { membrane: own(&self.membrane), curvature: own(&self.curvature) }
    }

    fn scaled(&self, by: f64) -> Self {
        Self { membrane: self.membrane * by, curvature: self.curvature * by }
    }

    fn with(&self, other: &Self) -> Self {
        Self { membrane: self.membrane + other.membrane, curvature: self.curvature + other.curvature }
    }
}

/// Which triangles lie around which.
struct Around {
    /// Triangles at each node.
    at_node: Vec<Vec<u32>>,
    triangles: Vec<[u32; 3]>,
    middles: Vec<Point3<f64>>,
    thickness_mm: Vec<f64>,
}

impl Around {
    fn new(middle: &MidSurface) -> Self {
        let mut at_node = vec![Vec::new(); middle.points.len()];
        for (t, corners) in (0_u32..).zip(&middle.triangles) {
            corners.iter().for_each(|v| at_node[*v as usize].push(t));
        }
        let middles = middle.triangles.iter().map(|t| {
            let [a, b, c] = t.map(|v| middle.points[v as usize].coords);
            Point3::from((a + b + c) / 3.0)
        });
        let thickness_mm =
            middle.walls.iter().map(|wall| wall.iter().map(|slice| slice.thickness_mm).sum::<f64>() / 3.0).collect();
        Self { at_node, triangles: middle.triangles.clone(), middles: middles.collect(), thickness_mm }
    }

    /// The triangle and those around it whose walls are as thick: as many rings of neighbours as it takes.
    fn alike(&self, t: usize) -> Vec<u32> {
        let own = self.thickness_mm[t];
        let mut near = vec![t as u32];
        let mut ring = 0..1;
        for _ in 0..MOST_RINGS {
            for k in ring.clone() {
                for v in self.triangles[near[k] as usize] {
                    for other in &self.at_node[v as usize] {
                        let alike = (self.thickness_mm[*other as usize] / own - 1.0).abs() <= ALIKE;
                        if alike && !near.contains(other) {
                            near.push(*other);
                        }
                    }
                }
            }
            ring = ring.end..near.len();
            if near.len() >= ENOUGH || ring.is_empty() {
                break;
            }
        }
        near
    }

    /// The strain at a place beside the middle of a triangle: its own, and how it changes by the plane through that which fits
    /// best to those of the triangles near it.
    fn told(&self, near: &[u32], strains: &[InSpace], place: &Point3<f64>, t: usize) -> InSpace {
        let own = &strains[t];
        let others: Vec<u32> = near.iter().copied().filter(|n| *n as usize != t).collect();
        if others.len() < 2 {
            return *own;
        }
        // The direction square to the surface has no spread, and the least of all solutions leaves it alone.
        let by = |n: &u32| self.middles[*n as usize] - self.middles[t];
        let matrix = DMatrix::from_row_iterator(others.len(), 3, others.iter().flat_map(|n| by(n).data.0[0]));
        let Ok(inverse) = matrix.clone().pseudo_inverse(SPREAD * matrix.norm()) else { return *own };
        let to = place - self.middles[t];
        let shares = (0..others.len()).map(|k| (0..3).map(|i| to[i] * inverse[(i, k)]).sum::<f64>());
        let sum =
            others.iter().zip(shares).map(|(n, share)| strains[*n as usize].with(&own.scaled(-1.0)).scaled(share));
        sum.fold(*own, |sum, share| sum.with(&share))
    }
}

/// Directions in which triangles lie less far apart than this share of all do not count.
const SPREAD: f64 = 0.2;
