//! Standing a limb on its own axes.

use mesh::{Cancelled, Job, Mesh};
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};

use crate::ends::OpenLoop;

/// Slices along the limb.
const SLICES: usize = 16;
/// Length over breadth (as standard deviations of area) from which the longest axis is the limb's axis.
const LONG: f64 = 1.35;
/// How much of the leg above a foot is looked at, as a share of its girth.
const LEG_REACH: f64 = 0.25;
/// Widest angle between a leg's line and the direction from the middle of its skin to that of its cut end, degrees.
const LEG_SPREAD: f64 = 40.0;

/// The limb's long axis, and its girth along it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LongAxis {
    /// Unit direction.
    pub direction: Vector3<f64>,
    /// How it was found.
    pub how: &'static str,
    low: f64,
    length: f64,
    /// Area of each slice over its height: the girth of a tube, mm.
    girths: [f64; SLICES],
}

impl LongAxis {
    /// Finds the axis of a surface: the greatest principal axis of its area, straightened to the middles of its slices;
    /// or, for one that is hardly longer than broad, the direction that its normals avoid, about which it is most like
    /// a tube.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(crate) fn of(mesh: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        let pieces = Triangles::of(mesh, job)?;
        job.check()?;
        let spread = pieces.spread(|p, _| *p);
        let values = spread.0;
        let long = values[0].sqrt() > LONG * values[1].max(0.0).sqrt();
        let (direction, how) = if long {
            (
                pieces.straighten(spread.1[0], job)?,
                "the way in which it is longest, straightened to the middles of its cross-sections",
            )
        } else {
            let normals = pieces.normals();
            (normals, "the axis about which it is most like a tube, as it is hardly longer than broad")
        };
        job.check()?;
        Ok(Self::along_direction(mesh, &pieces, direction, how))
    }

    /// The axis of the leg above a foot, towards its cut end: the direction that the normals near that end avoid.
    ///
    /// A foot is longer than the leg that was scanned with it, but it is the leg that one stands on its end. `None`
    /// where the skin near the end is no tube round the line from the end inwards.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(crate) fn of_leg(mesh: &Mesh, end: &OpenLoop, job: &Job) -> Result<Option<Self>, Cancelled> {
        let pieces = Triangles::of(mesh, job)?;
        job.check()?;
        let reach = LEG_REACH * end.girth_mm;
        let near = |p: &Vector3<f64>| (p - end.middle.coords).norm() < reach;
        let stub = Triangles { all: pieces.all.iter().filter(|(p, _)| near(p)).copied().collect() };
        let area: f64 = stub.all.iter().map(|(_, c)| c.norm()).sum();
        let inside = stub.all.iter().map(|(p, c)| p * c.norm()).sum::<Vector3<f64>>() / area.max(1e-300);
        let Some(out) = (end.middle.coords - inside).try_normalize(1e-9) else { return Ok(None) };
        let line = stub.normals();
        let direction = if line.dot(&out) < 0.0 { -line } else { line };
        job.check()?;
        Ok((direction.dot(&out) > LEG_SPREAD.to_radians().cos())
            .then(|| Self::along_direction(mesh, &pieces, direction, "the line of the leg above the foot")))
    }

    /// The z axis of a limb that stands upright.
    ///
    /// # Errors
    /// [`Cancelled`] when `job` is.
    pub(crate) fn along_z(mesh: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        Ok(Self::along_direction(mesh, &Triangles::of(mesh, job)?, Vector3::z(), "the z axis"))
    }

    fn along_direction(mesh: &Mesh, pieces: &Triangles, direction: Vector3<f64>, how: &'static str) -> Self {
        let heights: Vec<f64> = mesh.points.iter().map(|p| p.coords.cast::<f64>().dot(&direction)).collect();
        let low = heights.iter().copied().fold(f64::INFINITY, f64::min);
        let length = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low;
        let mut girths = [0.0; SLICES];
        for (middle, cross) in &pieces.all {
            let slice = slice_of(middle.dot(&direction), low, length);
            girths[slice] += 0.5 * cross.norm() * SLICES as f64 / length.max(1e-9);
        }
        Self { direction, how, low, length, girths }
    }

    /// Where a point lies along the axis, 0 to 1.
    pub(crate) fn along(&self, p: &Point3<f64>) -> f64 {
        ((p.coords.dot(&self.direction) - self.low) / self.length.max(1e-9)).clamp(0.0, 1.0)
    }

    /// Girth at a place along the axis, mm.
    pub(crate) fn girth_mm(&self, along: f64) -> f64 {
        self.girths[slice_of(along, 0.0, 1.0)]
    }

    /// Median girth of all slices but the outermost two.
    pub(crate) fn median_girth_mm(&self) -> f64 {
        let mut inner = self.girths[1..SLICES - 1].to_vec();
        inner.sort_unstable_by(f64::total_cmp);
        inner[inner.len() / 2]
    }

    /// Mean girth of the three slices next to the outermost at the lower and upper end.
    fn end_girths(&self) -> [f64; 2] {
        let mean = |s: &[f64]| s.iter().sum::<f64>() / s.len() as f64;
        [mean(&self.girths[1..4]), mean(&self.girths[SLICES - 4..SLICES - 1])]
    }
}

fn slice_of(at: f64, low: f64, length: f64) -> usize {
    (((at - low) / length.max(1e-9) * SLICES as f64).max(0.0) as usize).min(SLICES - 1)
}

/// Middles and doubled area vectors of triangles.
struct Triangles {
    all: Vec<(Vector3<f64>, Vector3<f64>)>,
}

impl Triangles {
    fn of(mesh: &Mesh, job: &Job) -> Result<Self, Cancelled> {
        let middle = |t: usize| mesh.corners(t).iter().map(|p| p.coords.cast::<f64>()).sum::<Vector3<f64>>() / 3.0;
        Ok(Self { all: job.each(mesh.triangles.len(), |t| (middle(t), mesh.cross(t)))? })
    }

    /// Principal values and axes of a vector given for each triangle, weighted by area, greatest first.
    fn spread(&self, of: impl Fn(&Vector3<f64>, &Vector3<f64>) -> Vector3<f64>) -> ([f64; 3], [Vector3<f64>; 3]) {
        let area = self.all.iter().map(|(_, c)| c.norm()).sum::<f64>().max(1e-300);
        let mean = self.all.iter().map(|(p, c)| of(p, c) * c.norm()).sum::<Vector3<f64>>() / area;
        let m: Matrix3<f64> = self
            .all
            .iter()
            .map(|(p, c)| {
                let d = of(p, c) - mean;
                d * d.transpose() * (c.norm() / area)
            })
            .sum();
        principal(&m)
    }

    /// Direction that the normals avoid most.
    fn normals(&self) -> Vector3<f64> {
        let m: Matrix3<f64> = self.all.iter().map(|(_, c)| c * c.transpose() / c.norm().max(1e-300)).sum();
        principal(&m).1[2]
    }

    /// Turns an axis to the line through the middles of its slices; slanted or ragged ends then do not tilt it.
    fn straighten(&self, first: Vector3<f64>, job: &Job) -> Result<Vector3<f64>, Cancelled> {
        let mut axis = first;
        for _ in 0..4 {
            job.check()?;
            let (low, high) = self.all.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), (p, _)| {
                let h = p.dot(&axis);
                (lo.min(h), hi.max(h))
            });
            let mut slices = [(0.0, Vector3::zeros()); SLICES];
            for (p, c) in &self.all {
                let slice = &mut slices[slice_of(p.dot(&axis), low, high - low)];
                slice.0 += c.norm();
                slice.1 += p * c.norm();
            }
            let middles: Vec<Vector3<f64>> =
                slices[2..SLICES - 2].iter().filter(|s| s.0 > 0.0).map(|s| s.1 / s.0).collect();
            if middles.len() < 4 {
                break;
            }
            let mean = middles.iter().sum::<Vector3<f64>>() / middles.len() as f64;
            let m: Matrix3<f64> = middles.iter().map(|p| (p - mean) * (p - mean).transpose()).sum();
            let line = principal(&m).1[0];
            axis = if line.dot(&axis) < 0.0 { -line } else { line };
        }
        // A limb that bends strongly (a foot) has no straight line through its slices.
        Ok(if axis.dot(&first).abs() > 15_f64.to_radians().cos() { axis } else { first })
    }
}

/// Eigenvalues and unit eigenvectors, greatest first, each pointing along its largest component.
fn principal(m: &Matrix3<f64>) -> ([f64; 3], [Vector3<f64>; 3]) {
    let found = m.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|a, b| found.eigenvalues[*b].total_cmp(&found.eigenvalues[*a]));
    let axis = |i: usize| {
        let v: Vector3<f64> = found.eigenvectors.column(i).into_owned();
        if v[v.iamax()] < 0.0 { -v } else { v }
    };
    (order.map(|i| found.eigenvalues[i]), order.map(axis))
}

/// How a limb is turned and moved to stand upright, and a sentence on why this way up.
pub(crate) struct UprightPose {
    pub pose: Isometry3<f64>,
    pub why_up: String,
}

/// Turns the long axis to z, the end nearer the body up, the broader side along x, the middle of the box to the origin.
///
/// # Errors
/// [`Cancelled`] when `job` is.
pub(crate) fn stand(mesh: &Mesh, axis: &LongAxis, loops: &[OpenLoop], job: &Job) -> Result<UprightPose, Cancelled> {
    let (up, why_up) = upward(axis, loops);
    let z = axis.direction * if up { 1.0 } else { -1.0 };
    let pieces = Triangles::of(mesh, job)?;
    job.check()?;
    let (values, axes) = pieces.spread(|p, _| p - z * p.dot(&z));
    let mut x = (axes[0] - z * axes[0].dot(&z)).try_normalize(1e-9).unwrap_or_else(|| any_across(&z));
    // Third moment: the longer tail of the section towards +x, where there is one.
    job.check()?;
    let area = pieces.all.iter().map(|(_, c)| c.norm()).sum::<f64>().max(1e-300);
    let mean = pieces.all.iter().map(|(p, c)| p.dot(&x) * c.norm()).sum::<f64>() / area;
    let third = pieces.all.iter().map(|(p, c)| (p.dot(&x) - mean).powi(3) * c.norm()).sum::<f64>() / area;
    if third < -1e-3 * values[0].max(0.0).powf(1.5) {
        x = -x;
    }
    let turn = Rotation3::from_basis_unchecked(&[x, z.cross(&x), z]).inverse();
    let turn = UnitQuaternion::from_rotation_matrix(&turn);
    job.check()?;
    Ok(UprightPose { pose: centred(mesh, turn), why_up })
}

/// The turn, followed by the shift that brings the middle of the box to the origin.
pub(crate) fn centred(mesh: &Mesh, turn: UnitQuaternion<f64>) -> Isometry3<f64> {
    let (mut low, mut high) = (Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY));
    for p in &mesh.points {
        let q = turn * p.coords.cast::<f64>();
        low = low.inf(&q);
        high = high.sup(&q);
    }
    let middle = if mesh.points.is_empty() { Vector3::zeros() } else { (low + high) * 0.5 };
    Isometry3::from_parts(Translation3::from(-middle), turn)
}

fn any_across(z: &Vector3<f64>) -> Vector3<f64> {
    z.cross(&Vector3::ith(z.iamin(), 1.0)).normalize()
}

/// Whether the axis already points to the end nearer the body, and how that was decided.
fn upward(axis: &LongAxis, loops: &[OpenLoop]) -> (bool, String) {
    let mut ends: Vec<&OpenLoop> = loops.iter().filter(|l| l.is_end).collect();
    ends.sort_by(|a, b| b.girth_mm.total_cmp(&a.girth_mm));
    match ends.as_slice() {
        [big, small, ..] if (axis.along(&big.middle) - axis.along(&small.middle)).abs() > 0.2 => (
            axis.along(&big.middle) > axis.along(&small.middle),
            format!("the wider cut end ({:.0} mm round, the other {:.0} mm) is up", big.girth_mm, small.girth_mm),
        ),
        [only, ..] if (axis.along(&only.middle) - 0.5).abs() > 0.1 => {
            (axis.along(&only.middle) > 0.5, format!("the cut end ({:.0} mm round) is up", only.girth_mm))
        }
        _ => {
            let [lower, upper] = axis.end_girths();
            (
                upper >= lower,
                format!(
                    "the thicker end ({:.0} mm round, the other {:.0} mm) is up",
                    lower.max(upper),
                    lower.min(upper)
                ),
            )
        }
    }
}
