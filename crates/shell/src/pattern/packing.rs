//! A regular lattice grown over curved skin, row by row from the middle outwards.
//!
//! Each new site lies one pitch from two earlier ones, so that on developable skin (planes, cylinders, cones) the
//! lattice is exact. On doubly curved skin no lattice fits everywhere: sites then move a little closer, and where that
//! is not enough a row ends.

use mesh::{Cancelled, Job, NearestFirst, SpatialHash, Surface};

use super::tangent_frame::TangentFrame;

/// One place of a lattice or of a set of seeds.
#[derive(Debug, Clone, Copy)]
pub struct Site {
    /// Where.
    pub frame: TangentFrame,
    /// Unit direction of the lattice's first axis in the spot's tangent plane.
    pub axis: [f32; 2],
}

impl Site {
    /// Turns a vector of the tangent plane into the lattice's own axes.
    pub fn lattice_way(&self, way: [f32; 2]) -> [f32; 2] {
        let [c, s] = self.axis;
        [way[0] * c + way[1] * s, way[1] * c - way[0] * s]
    }

    /// Turns a vector in the lattice's own axes into the tangent plane.
    pub fn tangent_way(&self, way: [f32; 2]) -> [f32; 2] {
        let [c, s] = self.axis;
        [way[0] * c - way[1] * s, way[0] * s + way[1] * c]
    }
}

/// A lattice of equal triangles, stretched along its axes.
#[derive(Debug, Clone, Copy)]
pub struct Lattice {
    /// Side of the triangles after stretching, mm.
    pub pitch_mm: f32,
    /// Factors of lengths along the two axes before they are compared with the pitch.
    pub stretch: [f32; 2],
    /// Unit direction of the first row in the stretched axes.
    pub row: [f32; 2],
    /// Sites may be nearer than the pitch by this share of it.
    pub give: f32,
}

impl Lattice {
    fn stretched(&self, way: [f32; 2]) -> [f32; 2] {
        [way[0] * self.stretch[0], way[1] * self.stretch[1]]
    }

    fn plain(&self, way: [f32; 2]) -> [f32; 2] {
        [way[0] / self.stretch[0], way[1] / self.stretch[1]]
    }

    /// Stretched logarithmic map from one site to another.
    fn way(&self, from: &Site, to: &TangentFrame) -> [f32; 2] {
        self.stretched(from.lattice_way(from.frame.log_map(to)))
    }

    /// Farthest that two sites one pitch apart can be, mm.
    pub fn reach_mm(&self) -> f32 {
        self.pitch_mm / self.stretch[0].min(self.stretch[1])
    }
}

/// Slack, as a share of the pitch, for rounding and the error of arcs, which add up row by row: a lattice on a plane
/// must not tear from them.
const EVEN: f32 = 2e-3;

/// Sites of the lattice from `start` outwards, wherever `keep` says so. The first axis runs *around* the limb at the
/// start and is carried along from there without turning.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn grow(
    skin: &Surface,
    start: TangentFrame,
    lattice: &Lattice,
    keep: impl Fn(&TangentFrame) -> bool,
    job: &Job,
) -> Result<Vec<Site>, Cancelled> {
    let mut front = Front {
        skin,
        lattice: *lattice,
        near: SpatialHash::new(lattice.reach_mm() * 1.2),
        sites: Vec::new(),
        waiting: NearestFirst::default(),
        proposals: Vec::new(),
        start,
    };
    front.settle(Site { frame: start, axis: [1.0, 0.0] });
    for side in [1.0, -1.0] {
        let way = lattice.row.map(|r| r * lattice.pitch_mm * side);
        let first = front.sites[0];
        front.propose(&first, way);
    }
    while let Some((_, number, ())) = front.waiting.pop() {
        job.check()?;
        let proposal = front.proposals[number as usize];
        if let Some(site) = front.fit(proposal)
            && keep(&site.frame)
        {
            front.settle(site);
        }
    }
    Ok(front.sites)
}

struct Front<'a> {
    skin: &'a Surface,
    lattice: Lattice,
    near: SpatialHash,
    sites: Vec<Site>,
    /// Proposals by distance from the start.
    waiting: NearestFirst,
    proposals: Vec<Site>,
    start: TangentFrame,
}

impl Front<'_> {
    /// Neighbours of a site with their stretched log maps, out to `pitches`.
    fn around(&self, site: &Site, pitches: f32) -> Vec<(usize, [f32; 2], f32)> {
        let reach = self.lattice.reach_mm() * pitches;
        self.near
            .within(&site.frame.point(), reach)
            .into_iter()
            .filter(|n| self.sites[*n].frame.normal.dot(&site.frame.normal) > 0.0)
            .filter_map(|n| {
                let way = self.lattice.way(site, &self.sites[n].frame);
                let length = way[0].hypot(way[1]);
                (length <= pitches * self.lattice.pitch_mm).then_some((n, way, length))
            })
            .collect()
    }

    /// Puts the point `way` from `from` on the waiting list, unless it is taken.
    fn propose(&mut self, from: &Site, way: [f32; 2]) {
        let tangent = from.tangent_way(self.lattice.plain(way));
        let guess = from.frame.point() + from.frame.vector(tangent);
        let taken = 0.3 * self.lattice.pitch_mm / self.lattice.stretch[0].max(self.lattice.stretch[1]);
        if !self.near.within(&guess, taken).is_empty() {
            return;
        }
        let Some(frame) = from.frame.exp_map(self.skin, tangent) else { return };
        let axis = frame.transport_from(&from.frame, &from.frame.vector(from.axis));
        let far = (frame.point() - self.start.point()).norm();
        self.waiting.push(far.into(), self.proposals.len() as u32, ());
        self.proposals.push(Site { frame, axis: unit(axis) });
    }

    /// Moves a proposal so that its neighbours share the strain; `None` where it is still too near to one.
    fn fit(&self, mut site: Site) -> Option<Site> {
        let pitch = self.lattice.pitch_mm;
        let least = pitch * (1.0 - self.lattice.give - EVEN);
        for _ in 0..2 {
            let around = self.around(&site, 1.35);
            if around.iter().any(|(.., d)| *d < 0.5 * pitch) {
                return None;
            }
            let mut push = [0.0_f32; 2];
            let mut axis = [0.0_f32; 2];
            for (n, way, d) in &around {
                let share = (d - pitch) / d / around.len() as f32;
                push = [push[0] + way[0] * share, push[1] + way[1] * share];
                let other = &self.sites[*n];
                let turned = site.frame.transport_from(&other.frame, &other.frame.vector(other.axis));
                axis = [axis[0] + turned[0], axis[1] + turned[1]];
            }
            site.axis = if around.is_empty() { site.axis } else { unit(axis) };
            if push[0].hypot(push[1]) < 1e-3 * pitch {
                break;
            }
            let frame = site.frame.exp_map(self.skin, site.tangent_way(self.lattice.plain(push)))?;
            let axis = frame.transport_from(&site.frame, &site.frame.vector(site.axis));
            site = Site { frame, axis: unit(axis) };
        }
        self.around(&site, 1.0).iter().all(|(.., d)| *d >= least).then_some(site)
    }

    /// Adds a site, and proposes the third corners of the triangles that it forms with its neighbours.
    fn settle(&mut self, site: Site) {
        let pitch = self.lattice.pitch_mm;
        let around = self.around(&site, 1.25);
        self.near.add(site.frame.point());
        self.sites.push(site);
        for (_, way, d) in around {
            let height = (pitch * pitch - 0.25 * d * d).max(0.0).sqrt();
            for side in [1.0, -1.0] {
                let up = side * height / d;
                self.propose(&site, [0.5 * way[0] - way[1] * up, 0.5 * way[1] + way[0] * up]);
            }
        }
    }
}

fn unit(v: [f32; 2]) -> [f32; 2] {
    let length = v[0].hypot(v[1]);
    if length < 1e-6 { [1.0, 0.0] } else { [v[0] / length, v[1] / length] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sample_skins::{cylinder, flat, sphere};
    use nalgebra::Point3;

    fn lattice(pitch_mm: f32, give: f32) -> Lattice {
        Lattice { pitch_mm, stretch: [1.0, 1.0], row: [1.0, 0.0], give }
    }

    fn spacing(skin: &Surface, at: Point3<f32>, lattice: &Lattice) -> (usize, f32) {
        let start = TangentFrame::new(skin, skin.nearest(&at, None).unwrap());
        let keep = |s: &TangentFrame| (s.point() - start.point()).norm() < 40.0;
        let sites = grow(skin, start, lattice, keep, &Job::silent()).unwrap();
        let mut least = f32::INFINITY;
        for (i, a) in sites.iter().enumerate() {
            for b in &sites[..i] {
                if (a.frame.point() - b.frame.point()).norm() < 15.0 {
                    let way = a.frame.log_map(&b.frame);
                    least = least.min(way[0].hypot(way[1]));
                }
            }
        }
        (sites.len(), least)
    }

    #[test]
    fn a_flat_lattice_is_perfect() {
        let skin = flat(120.0, 120.0, 1.5);
        let (count, least) = spacing(&skin, Point3::origin(), &lattice(7.0, 0.0));
        // Lattice points of a triangular lattice of side 7 in an open disc of radius 40, counted one by one.
        let inside = (-9_i32..=9)
            .flat_map(|i| (-9_i32..=9).map(move |j| (i, j)))
            .filter(|(i, j)| 7.0 * ((i * i + i * j + j * j) as f32).sqrt() < 40.0)
            .count();
        assert_eq!(count, inside);
        assert!(least > 6.98, "{least}");
    }

    #[test]
    fn a_lattice_on_a_cylinder_is_as_dense_as_a_flat_one() {
        let skin = cylinder(35.0, 110.0, 1.0);
        let start = TangentFrame::new(&skin, skin.nearest(&Point3::new(35.0, 0.0, 0.0), None).unwrap());
        let keep = |s: &TangentFrame| s.point().y.atan2(s.point().x).abs() < 1.2 && s.point().z.abs() < 45.0;
        let sites = grow(&skin, start, &lattice(7.0, 0.0), keep, &Job::silent()).unwrap();
        let full = 2.4 * 35.0 * 90.0 / (7.0 * 7.0 * 0.75_f32.sqrt());
        assert!((sites.len() as f32 - full).abs() < 0.06 * full, "{} of {full}", sites.len());
    }

    #[test]
    fn a_ball_gets_a_dense_lattice_that_never_crowds() {
        let skin = sphere(60.0, 1.2);
        let (count, least) = spacing(&skin, Point3::new(60.0, 0.0, 0.0), &lattice(7.0, 0.08));
        // A cap of chord 40 has the area π 40².
        let full = std::f32::consts::PI * 1600.0 / (49.0 * 0.75_f32.sqrt());
        assert!(count as f32 > 0.88 * full, "{count} of {full}");
        assert!(least > 7.0 * 0.915, "{least}");
    }
}
