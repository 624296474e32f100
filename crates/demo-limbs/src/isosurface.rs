//! The skin of a form as triangles: surface nets (Gibson 1998), then relaxation on the skin.

use std::collections::HashMap;

use crate::form::{Form, V, v};

/// Points on the skin and their triangles, counter-clockwise from outside.
#[derive(Debug, Clone, Default)]
pub(crate) struct Skin {
    pub points: Vec<V>,
    pub triangles: Vec<[u32; 3]>,
}

/// Cells along a block. One far from the skin is not sampled in detail.
const BLOCK: usize = 8;

/// Meshes the skin between the corners `lo` and `hi` with cells of `step` mm; open where it leaves that box.
pub(crate) fn skin_of(form: &Form, lo: V, hi: V, step: f64) -> Skin {
    let size = (hi - lo).map(|d| (d / step).ceil() as usize + 1);
    let at = |i: usize, j: usize, k: usize| (k * size.y + j) * size.x + i;
    let place = |i: usize, j: usize, k: usize| lo + v(i as f64, j as f64, k as f64) * step;
    let values = sample(form, lo, size.into(), step);

    let mut vertex_of: HashMap<usize, u32> = HashMap::new();
    let mut skin = Skin::default();
    for k in 0..size.z - 1 {
        for j in 0..size.y - 1 {
            for i in 0..size.x - 1 {
                if let Some(p) = cell_point(&values, &at, &place, step, [i, j, k]) {
                    vertex_of.insert(at(i, j, k), skin.points.len() as u32);
                    skin.points.push(p);
                }
            }
        }
    }
    let mut quads: Vec<[u32; 4]> = Vec::new();
    for k in 1..size.z - 1 {
        for j in 1..size.y - 1 {
            for i in 1..size.x - 1 {
                let here = values[at(i, j, k)] < 0.0;
                let cells = [
                    (at(i + 1, j, k), [at(i, j - 1, k - 1), at(i, j, k - 1), at(i, j, k), at(i, j - 1, k)]),
                    (at(i, j + 1, k), [at(i - 1, j, k - 1), at(i - 1, j, k), at(i, j, k), at(i, j, k - 1)]),
                    (at(i, j, k + 1), [at(i - 1, j - 1, k), at(i, j - 1, k), at(i, j, k), at(i - 1, j, k)]),
                ];
                for (end, around) in cells {
                    if here == (values[end] < 0.0) {
                        continue;
                    }
                    let mut quad = around.map(|c| vertex_of[&c]);
                    if !here {
                        quad.reverse();
                    }
                    quads.push(quad);
                }
            }
        }
    }
    relax(form, &mut skin.points, &quads);
    skin.triangles = quads.iter().flat_map(|q| split(&skin.points, *q)).collect();
    drop_unused(&mut skin);
    skin
}

fn sample(form: &Form, lo: V, size: [usize; 3], step: f64) -> Vec<f32> {
    let [nx, ny, nz] = size;
    let mut values = vec![0.0f32; nx * ny * nz];
    let reach = step * BLOCK as f64 * 0.5 * 3.0_f64.sqrt() * 2.0 + 4.0;
    for k0 in (0..nz).step_by(BLOCK) {
        for j0 in (0..ny).step_by(BLOCK) {
            for i0 in (0..nx).step_by(BLOCK) {
                let middle =
                    lo + v(i0 as f64, j0 as f64, k0 as f64) * step + v(1.0, 1.0, 1.0) * (step * BLOCK as f64 * 0.5);
                let far = form.value(&middle);
                for k in k0..(k0 + BLOCK).min(nz) {
                    for j in j0..(j0 + BLOCK).min(ny) {
                        for i in i0..(i0 + BLOCK).min(nx) {
                            let p = lo + v(i as f64, j as f64, k as f64) * step;
                            values[(k * ny + j) * nx + i] =
                                if far.abs() > reach { far as f32 } else { form.value(&p) as f32 };
                        }
                    }
                }
            }
        }
    }
    values
}

fn cell_point(
    values: &[f32],
    at: &dyn Fn(usize, usize, usize) -> usize,
    place: &dyn Fn(usize, usize, usize) -> V,
    step: f64,
    [i, j, k]: [usize; 3],
) -> Option<V> {
    let corner = |c: usize| values[at(i + (c & 1), j + (c >> 1 & 1), k + (c >> 2))];
    let corners: [f32; 8] = std::array::from_fn(corner);
    let inside = corners.iter().filter(|f| **f < 0.0).count();
    if inside == 0 || inside == 8 {
        return None;
    }
    let offset = |c: usize| v((c & 1) as f64, (c >> 1 & 1) as f64, (c >> 2) as f64) * step;
    let (mut sum, mut count) = (V::zeros(), 0.0);
    for a in 0..8 {
        for bit in [1, 2, 4] {
            let b = a | bit;
            if b == a || (corners[a] < 0.0) == (corners[b] < 0.0) {
                continue;
            }
            let t = f64::from(corners[a]) / (f64::from(corners[a]) - f64::from(corners[b]));
            sum += offset(a) + (offset(b) - offset(a)) * t;
            count += 1.0;
        }
    }
    Some(place(i, j, k) + sum / count)
}

/// Evens the spacing without leaving the skin.
fn relax(form: &Form, points: &mut Vec<V>, quads: &[[u32; 4]]) {
    for _ in 0..3 {
        let mut sums = vec![(V::zeros(), 0.0); points.len()];
        for q in quads {
            for s in 0..4 {
                let (a, b) = (q[s] as usize, q[(s + 1) % 4] as usize);
                sums[a].0 += points[b];
                sums[a].1 += 1.0;
            }
        }
        let moved: Vec<V> = points
            .iter()
            .zip(&sums)
            .map(|(p, (sum, count))| form.project(&if *count > 0.0 { p * 0.5 + sum / *count * 0.5 } else { *p }, 2))
            .collect();
        *points = moved;
    }
}

/// Two triangles along the shorter diagonal.
fn split(points: &[V], [a, b, c, d]: [u32; 4]) -> [[u32; 3]; 2] {
    let length = |i: u32, j: u32| (points[i as usize] - points[j as usize]).norm_squared();
    if length(a, c) <= length(b, d) { [[a, b, c], [a, c, d]] } else { [[a, b, d], [b, c, d]] }
}

/// Keeps only the points that a triangle uses, in their order.
pub(crate) fn drop_unused(skin: &mut Skin) {
    let mut used = vec![false; skin.points.len()];
    for t in &skin.triangles {
        for &corner in t {
            used[corner as usize] = true;
        }
    }
    let kept: Vec<u32> = (0..used.len() as u32).filter(|&i| used[i as usize]).collect();
    let mut new_of = vec![0u32; used.len()];
    for (new, &old) in kept.iter().enumerate() {
        new_of[old as usize] = new as u32;
    }
    skin.points = kept.iter().map(|&i| skin.points[i as usize]).collect();
    for t in &mut skin.triangles {
        *t = t.map(|i| new_of[i as usize]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::form::Primitive;

    #[test]
    fn a_ball_comes_out_closed_outward_and_of_its_volume() {
        let mut form = Form::default();
        form.join(Primitive::Ellipsoid { centre: V::zeros(), radii: v(20.0, 20.0, 20.0) }, 0.0);
        let skin = skin_of(&form, v(-25.0, -25.0, -25.0), v(25.0, 25.0, 25.0), 1.0);
        let corner = |i: u32| skin.points[i as usize];
        let volume: f64 =
            skin.triangles.iter().map(|t| corner(t[0]).dot(&corner(t[1]).cross(&corner(t[2]))) / 6.0).sum();
        let exact = 4.0 / 3.0 * std::f64::consts::PI * 8000.0;
        assert!((volume / exact - 1.0).abs() < 0.005, "{volume} against {exact}");
        assert_eq!(skin.points.len() + skin.triangles.len() - skin.triangles.len() * 3 / 2, 2, "Euler's formula");
    }
}
