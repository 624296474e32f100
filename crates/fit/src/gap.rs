//! The gap between limb and shell in one cut.

use nalgebra::{Point3, Vector3};

use crate::{Section, SectionLine};

/// Skin lies under the shell where the shortest way to it leaves the skin within 30° of straight outward (cosine).
/// Beside the shell that way runs along the skin to its rim.
const OUTWARD: f64 = 0.866;

/// Least distance between the outlines of limb and shell in one plane, and the median distance of the skin under the
/// shell, by length, mm; `None` where the plane misses one of the two or no skin lies under the shell.
#[must_use]
pub fn gap(limb: &Section, shell: &Section) -> Option<[f32; 2]> {
    let least = corners(shell).filter_map(|p| Some((nearest(&p, limb)? - p).norm())).min_by(f64::total_cmp)?;
    let normal = limb.normal.cast::<f64>();
    // Distance and length of each piece of skin under the shell.
    let mut under: Vec<(f64, f64)> = limb
        .lines
        .iter()
        .flat_map(pieces)
        .filter_map(|(a, b)| {
            let (along, middle) = (b - a, nalgebra::center(&a, &b));
            let way = nearest(&middle, shell)? - middle;
            // What the limb encloses is on the left of its line.
            let out = along.cross(&normal).try_normalize(1e-12)?;
            (out.dot(&way) > OUTWARD * way.norm()).then(|| (way.norm(), along.norm()))
        })
        .collect();
    under.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * under.iter().map(|(_, length)| length).sum::<f64>();
    let mut passed = 0.0;
    let middle = under.iter().find(|(_, length)| {
        passed += length;
        passed >= half
    })?;
    Some([least as f32, middle.0 as f32])
}

fn corners(section: &Section) -> impl Iterator<Item = Point3<f64>> {
    section.lines.iter().flat_map(|line| &line.points).map(|p| p.cast())
}

/// The straight pieces of a line.
fn pieces(line: &SectionLine) -> impl Iterator<Item = (Point3<f64>, Point3<f64>)> {
    let closing = line.closed.then(|| line.points.last().zip(line.points.first())).flatten();
    let open = line.points.windows(2).map(|pair| (&pair[0], &pair[1]));
    open.chain(closing).map(|(a, b)| (a.cast(), b.cast()))
}

/// The point of the outlines nearest to `p`.
fn nearest(p: &Point3<f64>, section: &Section) -> Option<Point3<f64>> {
    let on = |(a, b): (Point3<f64>, Point3<f64>)| {
        let along: Vector3<f64> = b - a;
        let share = ((p - a).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        a + along * share
    };
    let all = section.lines.iter().flat_map(pieces).map(on);
    all.min_by(|a, b| (a - p).norm_squared().total_cmp(&(b - p).norm_squared()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn section(lines: Vec<(Vec<Point3<f32>>, bool)>) -> Section {
        let lines = lines.into_iter().map(|(points, closed)| SectionLine { points, closed }).collect();
        Section { origin: Point3::origin(), normal: Vector3::z(), lines }
    }

    /// Points of a circle from one angle to another, degrees.
    fn arc(radius: f32, from: f32, to: f32) -> Vec<Point3<f32>> {
        let at = |i: u16| (from + (to - from) * f32::from(i) / 400.0).to_radians().sin_cos();
        (0..=400).map(|i| Point3::new(radius * at(i).1, radius * at(i).0, 0.0)).collect()
    }

    /// A wall from `inner` to `outer` mm between two angles.
    fn wall(inner: f32, outer: f32, from: f32, to: f32) -> Section {
        section(vec![(arc(outer, from, to).into_iter().chain(arc(inner, to, from)).collect(), true)])
    }

    fn limb() -> Section {
        section(vec![(arc(40.0, 0.0, 359.1), true)])
    }

    #[test]
    fn a_wall_over_part_of_a_circle_stands_off_by_the_difference_of_radii() {
        for half in [10.0, 60.0, 150.0] {
            let [least, middle] = gap(&limb(), &wall(43.0, 46.0, -half, half)).unwrap();
            // A chord of the limb's outline lies up to r (1 − cos 0.45°) = 1.2 µm inside it.
            assert!((least - 3.0).abs() < 5e-3 && (middle - 3.0).abs() < 5e-3, "{half}: {least} {middle}");
        }
    }

    #[test]
    fn the_middle_is_by_length_of_the_skin_under_the_shell() {
        // 3 mm over 100 degrees and 5 mm over 60: half of the skin is nearer than 3 mm and a little.
        let both = Section {
            lines: [wall(43.0, 46.0, 0.0, 100.0), wall(45.0, 48.0, 180.0, 240.0)]
                .into_iter()
                .flat_map(|one| one.lines)
                .collect(),
            ..limb()
        };
        let [least, middle] = gap(&limb(), &both).unwrap();
        assert!((least - 3.0).abs() < 5e-3 && (middle - 3.0).abs() < 5e-3, "{least} {middle}");
    }

    #[test]
    fn without_limb_or_shell_there_is_no_gap() {
        let nothing = section(Vec::new());
        assert_eq!(gap(&limb(), &nothing), None);
        assert_eq!(gap(&nothing, &wall(43.0, 46.0, 0.0, 90.0)), None);
    }
}
