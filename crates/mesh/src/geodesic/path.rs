//! Locally shortest paths between two points of a surface.

use std::collections::HashMap;
use std::f64::consts::PI;

use nalgebra::Point3;

use super::line::{LineError, SurfaceLine};
use super::sleeve::{Bend, pull};
use crate::job::Every;
use crate::{Cancelled, Hit, Job, Mesh, NONE, NearestFirst, Surface};

/// Most rounds of shortening, on top of one for each triangle.
const MOST_ROUNDS: usize = 64;

/// The geodesic from `from` to `to`: crosses triangles freely and bends only where straightening would not shorten it.
///
/// A strip of triangles is found over their middles, the string in it is pulled tight, and wherever it bends round a
/// vertex whose other side is narrower than a half turn the strip is led round that side (Xin and Wang, "Efficiently
/// determining a locally exact shortest path on polyhedral surfaces", 2007). Locally shortest: of two ways round a
/// limb it may be the longer one when they differ by little.
///
/// # Errors
/// [`LineError::Apart`] where the two points lie in different connected components; [`LineError::Cancelled`] when `job`
/// is.
pub fn path(surface: &Surface, from: &Hit, to: &Hit, job: &Job) -> Result<SurfaceLine, LineError> {
    job.check()?;
    let (start, end) = (from.point.cast::<f64>(), to.point.cast::<f64>());
    let apart = LineError::Apart { from: from.point, to: to.point };
    let mut strip = find_strip(surface, from, to, job)?.ok_or(apart)?;
    let mut string = pull(surface, &strip, &start, &end).ok_or(apart)?;
    // Each round shortens the line, so this ends by itself, except at lengths so great that rounding decides: hence the
    // bound. A bend within rounding of straight is left as it is.
    'shorten: for _ in 0..MOST_ROUNDS + surface.mesh().triangles.len() {
        let mut bends = string.bends.clone();
        bends.sort_by(|x, y| y.angle.total_cmp(&x.angle));
        for bend in &bends {
            job.check()?;
            let Some(led) = lead_round(surface, &strip, bend) else { continue };
            let next = pull(surface, &led, &start, &end).ok_or(apart)?;
            if next.length_mm < string.length_mm - 1e-7 {
                (strip, string) = (led, next);
                continue 'shorten;
            }
        }
        break;
    }
    let mut points = Vec::with_capacity(string.crossings.len() + 2);
    points.push(from.point);
    points.extend(string.crossings.iter().map(|p| p.cast::<f32>()));
    points.push(to.point);
    Ok(SurfaceLine { points, triangles: strip, closed: false })
}

/// A chain of neighbouring triangles, by A* over their middles.
fn find_strip(surface: &Surface, from: &Hit, to: &Hit, job: &Job) -> Result<Option<Vec<u32>>, Cancelled> {
    let mesh = surface.mesh();
    let goal = to.point.cast::<f64>();
    let place = |t: u32| {
        if t == from.triangle {
            from.point.cast::<f64>()
        } else if t == to.triangle {
            goal
        } else {
            let [a, b, c] = mesh.corners(t as usize).map(|p| p.cast::<f64>());
            Point3::from((a.coords + b.coords + c.coords) / 3.0)
        }
    };
    let mut reached: HashMap<u32, (f64, u32)> = HashMap::from([(from.triangle, (0.0, NONE))]);
    let mut queue = NearestFirst::default();
    queue.push((goal - place(from.triangle)).norm(), from.triangle, ());
    let mut every = Every::new(job, 4096);
    while let Some((estimate, t, ())) = queue.pop() {
        every.tick()?;
        if t == to.triangle {
            let mut strip = vec![t];
            let mut at = t;
            while let Some((_, before)) = reached.get(&at).filter(|r| r.1 != NONE) {
                strip.push(*before);
                at = *before;
            }
            strip.reverse();
            return Ok(Some(strip));
        }
        let here = place(t);
        let Some(gone) = reached.get(&t).map(|r| r.0) else { continue };
        if estimate > gone + (goal - here).norm() + 1e-9 {
            continue;
        }
        for &n in &surface.adjacency().neighbours[t as usize] {
            if n == NONE {
                continue;
            }
            let there = place(n);
            let length = gone + (there - here).norm();
            if reached.get(&n).is_none_or(|r| length < r.0) {
                reached.insert(n, (length, t));
                queue.push(length + (goal - there).norm(), n, ());
            }
        }
    }
    Ok(None)
}

/// The strip led round the other side of `bend`, if the line becomes shorter by it.
fn lead_round(surface: &Surface, strip: &[u32], bend: &Bend) -> Option<Vec<u32>> {
    let mesh = surface.mesh();
    let v = bend.vertex;
    let around = surface.adjacency().triangles_around(v);
    let total: f64 = around.iter().map(|t| angle_at(mesh, *t, v)).sum();
    if total - bend.angle >= PI - 1e-9 {
        return None;
    }
    let has = |t: &u32| mesh.triangles[*t as usize].contains(&v);
    let first = strip.iter().position(has)?;
    let last = first + strip[first..].iter().take_while(|t| has(t)).count() - 1;
    // Round the vertex the other way. With the vertex on the left the strip turns counter-clockwise about it.
    let mut fan = vec![strip[first]];
    let mut at = strip[first];
    while at != strip[last] {
        let c = mesh.triangles[at as usize];
        let k = c.iter().position(|w| *w == v)?;
        // Counter-clockwise about corner k leads over the side that ends in k; clockwise over the one that starts
        // there.
        let side = if bend.on_left { k } else { (k + 2) % 3 };
        at = surface.adjacency().neighbours[at as usize][side];
        if at == NONE || fan.len() > around.len() {
            return None;
        }
        fan.push(at);
    }
    let mut led: Vec<u32> = Vec::with_capacity(strip.len() + fan.len());
    for t in strip[..first].iter().chain(&fan).chain(&strip[last + 1..]) {
        // A triangle entered and left over the same edge is a dead end.
        if led.len() >= 2 && led[led.len() - 2] == *t {
            led.pop();
        } else {
            led.push(*t);
        }
    }
    Some(led)
}

fn angle_at(mesh: &Mesh, t: u32, v: u32) -> f64 {
    let c = mesh.triangles[t as usize];
    let Some(k) = c.iter().position(|w| *w == v) else { return 0.0 };
    let p = mesh.corners(t as usize).map(|p| p.cast::<f64>());
    (p[(k + 1) % 3] - p[k]).angle(&(p[(k + 2) % 3] - p[k]))
}
