//! Limbs as implicit surfaces: tapered bones and ellipsoids joined smoothly, with swells for muscle and bone.

use nalgebra::Vector3;

use crate::profile::Tube;

/// A point or direction, mm.
pub(crate) type V = Vector3<f64>;

pub(crate) fn v(x: f64, y: f64, z: f64) -> V {
    V::new(x, y, z)
}

/// One solid; its value approximates the signed distance in mm, negative inside.
pub(crate) enum Primitive {
    /// A capsule whose radius goes from `ra` at `a` to `rb` at `b`.
    Bone { a: V, b: V, ra: f64, rb: f64 },
    /// An axis-aligned ellipsoid.
    Ellipsoid { centre: V, radii: V },
    /// A limb's trunk along z.
    Tube(Tube),
    /// The half-space below a level.
    Below(f64),
    /// Solids that are joined to each other first.
    Group(Form),
    /// A form mirrored in z.
    Flipped(Form),
}

/// One step of building a solid.
enum Operation {
    Join { shape: Primitive, blend: f64 },
    Carve { shape: Primitive, blend: f64 },
    Swell { path: Vec<V>, radius: f64, height: f64 },
}

/// A place where a bone lies right under the skin and lifts it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct BonyPoint {
    pub name: &'static str,
    /// Its middle, near the skin.
    pub at: V,
    /// Where the swell has faded to nothing, from its path; the radius of the joint where it has no swell.
    pub radius: f64,
    /// Height of its swell.
    pub height: f64,
}

/// An implicit solid: operations applied in this order.
#[derive(Default)]
pub(crate) struct Form {
    operations: Vec<Operation>,
    bony: Vec<BonyPoint>,
}

impl Form {
    /// Adds a primitive by a smooth union over about `blend` mm.
    pub(crate) fn join(&mut self, shape: Primitive, blend: f64) -> &mut Self {
        self.operations.push(Operation::Join { shape, blend });
        self
    }

    /// Adds a chain of bones through `(point, radius)`.
    pub(crate) fn bones(&mut self, joints: &[(V, f64)], blend: f64) -> &mut Self {
        for pair in joints.windows(2) {
            self.join(Primitive::Bone { a: pair[0].0, ra: pair[0].1, b: pair[1].0, rb: pair[1].1 }, blend);
        }
        self
    }

    /// Takes a primitive away by a smooth difference.
    pub(crate) fn carve(&mut self, shape: Primitive, blend: f64) -> &mut Self {
        self.operations.push(Operation::Carve { shape, blend });
        self
    }

    /// Raises the skin by `height` along a path (hollows it when negative), fading to nothing at `radius`.
    pub(crate) fn swell(&mut self, mut path: Vec<V>, radius: f64, height: f64) -> &mut Self {
        // The path is extended by half a radius, since the swell fades towards its ends.
        if let [first, second, ..] = path[..] {
            path[0] = first + (first - second).normalize() * (0.5 * radius);
        }
        if let [.., before, last] = path[..] {
            let end = path.len() - 1;
            path[end] = last + (last - before).normalize() * (0.5 * radius);
        }
        self.operations.push(Operation::Swell { path, radius, height });
        self
    }

    /// Notes a joint that bulges without a swell of its own.
    pub(crate) fn joint(&mut self, name: &'static str, at: V, radius: f64) -> &mut Self {
        self.bony.push(BonyPoint { name, at, radius, height: 0.0 });
        self
    }

    /// A swell over a bony point of that name.
    pub(crate) fn bone_under_skin(&mut self, name: &'static str, path: Vec<V>, radius: f64, height: f64) -> &mut Self {
        if let (Some(first), Some(last)) = (path.first(), path.last()) {
            self.bony.push(BonyPoint { name, at: (first + last) * 0.5, radius, height });
        }
        self.swell(path, radius, height)
    }

    /// The bony points of this form and of the forms that were joined to it.
    pub(crate) fn bony_points(&self) -> Vec<BonyPoint> {
        let joined = self.operations.iter().flat_map(|operation| match operation {
            Operation::Join { shape: Primitive::Group(form), .. } => form.bony_points(),
            Operation::Join { shape: Primitive::Flipped(form), .. } => {
                let flip = |bony: BonyPoint| BonyPoint { at: v(bony.at.x, bony.at.y, -bony.at.z), ..bony };
                form.bony_points().into_iter().map(flip).collect()
            }
            _ => Vec::new(),
        });
        self.bony.iter().copied().chain(joined).collect()
    }

    /// Approximate signed distance to the skin, negative inside.
    pub(crate) fn value(&self, p: &V) -> f64 {
        let mut f = 1e6;
        for operation in &self.operations {
            match operation {
                Operation::Join { shape, blend } => f = smooth_min(f, shape.value(p), *blend),
                Operation::Carve { shape, blend } => f = -smooth_min(-f, shape.value(p), *blend),
                Operation::Swell { path, radius, height } => {
                    let (distance, share) = along_path(p, path);
                    let t = distance / radius;
                    if t < 1.0 {
                        let s = 1.0 - t * t;
                        // Zero at both ends of a path.
                        let end = (2.0 * share - 1.0) * (2.0 * share - 1.0);
                        f -= height * s * s * if path.len() > 1 { 1.0 - end * end } else { 1.0 };
                    }
                }
            }
        }
        f
    }

    /// Gradient of the value, by central differences.
    pub(crate) fn gradient(&self, p: &V) -> V {
        let h = 0.05;
        let along = |d: V| (self.value(&(p + d)) - self.value(&(p - d))) / (2.0 * h);
        v(along(v(h, 0.0, 0.0)), along(v(0.0, h, 0.0)), along(v(0.0, 0.0, h)))
    }

    /// The outward normal at a point.
    pub(crate) fn normal(&self, p: &V) -> V {
        self.gradient(p).try_normalize(1e-9).unwrap_or_else(V::z)
    }

    /// Moves a point near the skin onto it, by Newton steps along the gradient.
    pub(crate) fn project(&self, p: &V, steps: usize) -> V {
        let mut q = *p;
        for _ in 0..steps {
            let slope = self.gradient(&q);
            let step = self.value(&q) / slope.norm_squared().max(0.05);
            q -= slope * step.clamp(-6.0, 6.0);
        }
        q
    }

    /// The first skin point on the ray from a point inside.
    pub(crate) fn cast(&self, from: &V, along: &V) -> V {
        let along = along.normalize();
        let (mut inside, mut outside) = (0.0, 0.0);
        for step in 1..400 {
            outside = f64::from(step);
            if self.value(&(from + along * outside)) > 0.0 {
                break;
            }
            inside = outside;
        }
        for _ in 0..30 {
            let middle = 0.5 * (inside + outside);
            if self.value(&(from + along * middle)) > 0.0 { outside = middle } else { inside = middle }
        }
        from + along * inside
    }
}

impl Primitive {
    fn value(&self, p: &V) -> f64 {
        match self {
            Self::Bone { a, b, ra, rb } => {
                let axis = b - a;
                let t = ((p - a).dot(&axis) / axis.norm_squared().max(1e-12)).clamp(0.0, 1.0);
                (p - a - axis * t).norm() - (ra + (rb - ra) * t)
            }
            Self::Ellipsoid { centre, radii } => {
                let q = (p - centre).component_div(radii);
                ellipse_distance(q.norm(), q.component_div(radii).norm(), radii.min())
            }
            Self::Tube(tube) => tube.value(p),
            Self::Below(level) => p.z - level,
            Self::Group(form) => form.value(p),
            Self::Flipped(form) => form.value(&v(p.x, p.y, -p.z)),
        }
    }
}

/// First-order distance to an ellipsoid from k0 = |p/r| and k1 = |p/r²|.
pub(crate) fn ellipse_distance(k0: f64, k1: f64, least: f64) -> f64 {
    if k1 < 1e-12 { -least } else { k0 * (k0 - 1.0) / k1 }
}

/// The lesser of two distances, rounded where they are within `k` of each other (quadratic smooth minimum).
fn smooth_min(a: f64, b: f64, k: f64) -> f64 {
    let h = (k - (a - b).abs()).max(0.0);
    a.min(b) - if k > 0.0 { h * h / (4.0 * k) } else { 0.0 }
}

/// Distance to a path, and where along it the nearest point lies, 0 to 1.
fn along_path(p: &V, path: &[V]) -> (f64, f64) {
    if let [only] = path {
        return ((p - only).norm(), 0.5);
    }
    let mut best = (f64::INFINITY, 0.0);
    for (k, s) in path.windows(2).enumerate() {
        let axis = s[1] - s[0];
        let t = ((p - s[0]).dot(&axis) / axis.norm_squared().max(1e-12)).clamp(0.0, 1.0);
        let squared = (p - s[0] - axis * t).norm_squared();
        if squared < best.0 {
            best = (squared, (k as f64 + t) / (path.len() - 1) as f64);
        }
    }
    (best.0.sqrt(), best.1)
}
