//! Ways in which the shape of a scan goes wrong.

use crate::chance::Chance;
use crate::polygons::Polygons;

/// Extreme numbers that a file can hold.
pub const EXTREMES: [f64; 20] = [
    0.0,
    -0.0,
    1e-45,
    1e-38,
    1e-20,
    1e-6,
    1e5,
    4e4,
    -4e6,
    1e9,
    1e15,
    1e19,
    1e22,
    -1e22,
    1e30,
    1e38,
    3.4e38,
    1e300,
    f64::NAN,
    f64::INFINITY,
];

type Bend = fn(&mut Polygons, &mut Chance);

/// Each way, after its name.
const WAYS: &[(&str, Bend)] = &[
    ("a coordinate becomes an extreme number", extreme),
    ("a point is thrown far off", thrown),
    ("a whole part is thrown far off", part_thrown),
    ("all is scaled", scaled),
    ("all is moved far from the origin", moved),
    ("all is pressed flat", pressed),
    ("corners name points that are not there", dangling),
    ("faces come twice", twice),
    ("faces are turned over", turned),
    ("faces are missing", missing),
    ("faces have more corners", wider),
    ("faces have fewer corners", narrower),
    ("corners are mixed up", mixed),
    ("points are one", joined),
    ("points are shaken", shaken),
    ("a second copy lies in the same place", second_copy),
    ("a table stands under it", table),
    ("needles reach far out", needles),
    ("triangles lie anywhere", anywhere),
    ("all faces meet in one point", one_hub),
    ("a point has thousands of triangles round it", wheel),
];

/// Bends the shape in one way; returns its name.
pub fn bend(shape: &mut Polygons, chance: &mut Chance) -> &'static str {
    let (what, way) = chance.of(WAYS);
    if !shape.points.is_empty() && !shape.faces.is_empty() {
        way(shape, chance);
    }
    what
}

/// One, some, or all.
fn many(count: usize, chance: &mut Chance) -> usize {
    match chance.below(4) {
        0 | 1 => 1,
        2 => 1 + chance.below(20),
        _ => 1 + chance.below(count.max(1)),
    }
}

fn extreme(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(8, chance) {
        let (point, axis) = (chance.below(shape.points.len()), chance.below(3));
        shape.points[point][axis] = *chance.of(&EXTREMES);
    }
}

/// 40 m to 4000 km.
fn far_mm(chance: &mut Chance) -> f64 {
    *chance.of(&[4e4, 4e6, 4e9]) * f64::from(chance.between(-1.0, 1.0))
}

fn thrown(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(5, chance) {
        let point = chance.below(shape.points.len());
        shape.points[point][chance.below(3)] += far_mm(chance);
    }
}

fn part_thrown(shape: &mut Polygons, chance: &mut Chance) {
    let from = chance.below(shape.points.len());
    let (to, axis, by) = ((from + many(400, chance)).min(shape.points.len()), chance.below(3), far_mm(chance));
    shape.points[from..to].iter_mut().for_each(|p| p[axis] += by);
}

fn scaled(shape: &mut Polygons, chance: &mut Chance) {
    let by = 10_f64.powf(f64::from(chance.mostly(-4.0, 4.0, 36.0)));
    let axes = if chance.happens(0.5) { 0..3 } else { 2..3 };
    shape.points.iter_mut().for_each(|p| p[axes.clone()].iter_mut().for_each(|x| *x *= by));
}

fn moved(shape: &mut Polygons, chance: &mut Chance) {
    let (axis, by) = (chance.below(3), *chance.of(&[1e3, 1e6, 1e9, -1e12, 1e22, 1e37]));
    shape.points.iter_mut().for_each(|p| p[axis] += by);
}

fn pressed(shape: &mut Polygons, chance: &mut Chance) {
    let by = *chance.of(&[0.0, 1e-6, 0.02]);
    for axis in 0..many(3, chance).min(3) {
        shape.points.iter_mut().for_each(|p| p[axis] *= by);
    }
}

fn dangling(shape: &mut Polygons, chance: &mut Chance) {
    let points = shape.points.len() as i64;
    for _ in 0..many(5, chance) {
        let face = chance.below(shape.faces.len());
        let wrong = [points, points + 1, -1, -points - 1, i64::from(i32::MAX), i64::from(i32::MIN), 1 << 40];
        let wrong = *chance.of(&wrong);
        if let Some(corner) = shape.faces[face].first_mut() {
            *corner = wrong;
        }
    }
}

fn twice(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(shape.faces.len(), chance) {
        let mut face = shape.faces[chance.below(shape.faces.len())].clone();
        if chance.happens(0.3) {
            face.reverse();
        }
        shape.faces.push(face);
    }
}

fn turned(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(shape.faces.len(), chance) {
        let face = chance.below(shape.faces.len());
        shape.faces[face].reverse();
    }
}

fn missing(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(shape.faces.len() - 1, chance) {
        let face = chance.below(shape.faces.len());
        shape.faces.swap_remove(face);
    }
}

fn wider(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(30, chance) {
        let face = chance.below(shape.faces.len());
        let more = if chance.happens(0.9) { 1 + chance.below(3) } else { 250 };
        for _ in 0..more {
            let corner = chance.below(shape.points.len()) as i64;
            shape.faces[face].push(corner);
        }
    }
}

fn narrower(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(30, chance) {
        let (face, corners) = (chance.below(shape.faces.len()), chance.below(3));
        shape.faces[face].truncate(corners);
    }
}

fn mixed(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(shape.faces.len(), chance) {
        let (face, point) = (chance.below(shape.faces.len()), chance.below(shape.points.len()));
        if let Some(corner) = shape.faces[face].last_mut() {
            *corner = point as i64;
        }
    }
}

fn joined(shape: &mut Polygons, chance: &mut Chance) {
    let to = shape.points[chance.below(shape.points.len())];
    for _ in 0..many(shape.points.len(), chance) {
        let point = chance.below(shape.points.len());
        shape.points[point] = to;
    }
}

fn shaken(shape: &mut Polygons, chance: &mut Chance) {
    let by = chance.mostly(0.0, 2.0, 60.0);
    shape.points.iter_mut().flatten().for_each(|x| *x += f64::from(chance.between(-by, by)));
}

fn second_copy(shape: &mut Polygons, chance: &mut Chance) {
    let mut copy = shape.clone();
    let by = *chance.of(&[0.0, 1e-4, 0.3, 15.0]);
    copy.points.iter_mut().flatten().for_each(|x| *x += by);
    shape.append(&copy);
}

fn table(shape: &mut Polygons, chance: &mut Chance) {
    let (half, z) = (f64::from(chance.mostly(20.0, 300.0, 4e4)), f64::from(chance.between(-5.0, 85.0)));
    let first = shape.points.len() as i64;
    for (x, y) in [(-half, -half), (half, -half), (half, half), (-half, half)] {
        shape.points.push([x, y, z]);
        shape.picture.push([0.0, 0.0]);
        shape.colours.push([120; 3]);
    }
    shape.faces.push((first..first + 4).collect());
}

fn needles(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(200, chance) {
        let base = shape.points[chance.below(shape.points.len())];
        let first = shape.points.len() as i64;
        let reach = f64::from(chance.mostly(10.0, 200.0, 2e4));
        for by in [[0.0; 3], [1e-3, 0.0, 0.0], [reach, reach, 0.0]] {
            shape.points.push(std::array::from_fn(|k| base[k] + by[k]));
            shape.picture.push([0.5; 2]);
            shape.colours.push([200; 3]);
        }
        shape.faces.push((first..first + 3).collect());
    }
}

fn anywhere(shape: &mut Polygons, chance: &mut Chance) {
    for _ in 0..many(shape.faces.len(), chance) {
        let corners = (0..3).map(|_| chance.below(shape.points.len()) as i64).collect();
        shape.faces.push(corners);
    }
}

fn one_hub(shape: &mut Polygons, chance: &mut Chance) {
    let hub = chance.below(shape.points.len()) as i64;
    let share = chance.between(0.05, 1.0);
    for face in &mut shape.faces {
        if chance.happens(share)
            && let Some(corner) = face.first_mut()
        {
            *corner = hub;
        }
    }
}

fn wheel(shape: &mut Polygons, chance: &mut Chance) {
    let spokes = chance.mostly(500.0, 3000.0, 40_000.0) as usize;
    let (hub, first) = (chance.below(shape.points.len()), shape.points.len() as i64);
    let [x, y, z] = shape.points[hub];
    for k in 0..spokes {
        let (s, c) = (std::f64::consts::TAU * k as f64 / spokes as f64).sin_cos();
        shape.points.push([x + 9.0 * c, y + 9.0 * s, z]);
        shape.picture.push([0.5; 2]);
        shape.colours.push([200; 3]);
        let next = (k + 1) % spokes;
        shape.faces.push(vec![hub as i64, first + k as i64, first + next as i64]);
    }
}
