//! A fair closed line on the skin near a drawn one.
//!
//! Of all lines within the allowances it is nearly the one that makes least of two sums over evenly spaced points: that
//! of the squared third differences, by which curvature changes, and a small share of that of the squared distances to
//! the drawn line, without which a round line would shrink to the innermost that is allowed. Points that leave the
//! allowances are pulled back, the harder the longer it takes. Each step is a low-pass filter, one convolution, and the
//! way back onto the skin.

use std::f64::consts::{PI, TAU};

use mesh::{Cancelled, Job};
use nalgebra::{Point3, Vector3};

/// Distance between points of the fair line, mm.
const STEP_MM: f64 = 1.0;
/// Waves of this length are halved where nothing else holds them; shorter ones go, longer ones stay.
const WAVE_MM: f64 = 85.0;
/// The same as a share of the line's length, for short lines.
const WAVE_SHARE: f64 = 0.3;
/// Each level pulls points outside the allowances back more sharply than the one before: waves half as long are kept.
const LEVELS: usize = 7;
/// Steps on each level.
const STEPS: usize = 24;
/// The line may leave its allowances by this share of the tolerance before it is pulled harder.
const OVER: f64 = 0.02;
/// Segments of the drawn line looked at on both sides of the one that was nearest.
const BESIDE: usize = 40;

/// How far a fair line may lie from a drawn one at a point of it, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Allowance {
    /// To the left of the drawn line, which is inside.
    pub inside_mm: f64,
    /// To its right.
    pub outside_mm: f64,
}

/// A fair line, and how it lies to the drawn one.
#[derive(Debug, Clone, PartialEq)]
pub struct FairLine {
    /// Its points, about a millimetre apart; the last is joined to the first.
    pub points: Vec<Point3<f64>>,
    /// For each of them the nearest segment of the drawn line, and how far away that is, mm.
    pub away: Vec<(usize, f64)>,
    /// Radius of its tightest turn, mm.
    pub tightest_mm: f64,
}

/// A skin point and the unit normal there.
pub type Foot = (Point3<f64>, Vector3<f64>);

/// The fair line within the allowances of each point of `drawn`, a closed line. `skin` gives the skin point nearest to
/// a place; its state is passed from one point to the next.
///
/// A line shorter than ten steps comes back as it is.
///
/// # Errors
/// [`Cancelled`] when `job` is; it is checked in each step.
pub fn fair<S: Default>(
    drawn: &[Point3<f64>],
    allowed: &[Allowance],
    mut skin: impl FnMut(&mut S, &Point3<f64>) -> Foot,
    job: &Job,
) -> Result<FairLine, Cancelled> {
    let mut state = S::default();
    let mut on_skin = |p: &Point3<f64>| skin(&mut state, p);
    let even = resampled(drawn, STEP_MM);
    if even.len() < 10 || drawn.len() != allowed.len() {
        let away = (0..drawn.len()).map(|i| (i, 0.0)).collect();
        return Ok(FairLine { points: drawn.to_vec(), away, tightest_mm: tightest(drawn) });
    }
    let band = Band { drawn, allowed };
    let mut points: Vec<Foot> = even.iter().map(&mut on_skin).collect();
    let tolerance = allowed.iter().map(|a| a.inside_mm.min(a.outside_mm)).fold(f64::INFINITY, f64::min).max(1e-3);
    let mut near = vec![None; even.len()];
    let wave = (WAVE_MM / STEP_MM).min(WAVE_SHARE * points.len() as f64);
    let hold = third(TAU / wave);
    for level in 0..LEVELS {
        let pull = third((TAU / wave * f64::from(1 << level)).min(PI));
        let filter = low_pass(points.len(), hold + pull);
        for _ in 0..STEPS {
            job.check()?;
            let wanted = points.iter().zip(&mut near).map(|(foot, near)| {
                let place = band.look(foot, near);
                place.foot + ((place.allowed - place.foot) * (pull / (hold + pull)))
            });
            let smooth = convolved(&wanted.collect::<Vec<_>>(), &filter);
            points = smooth.iter().map(&mut on_skin).collect();
        }
        let places: Vec<Point3<f64>> = points.iter().map(|(p, _)| *p).collect();
        points = resampled_to(&places, places.len()).iter().map(&mut on_skin).collect();
        near.fill(None);
        let over = points.iter().zip(&mut near).map(|(foot, near)| band.look(foot, near).over_mm).fold(0.0, f64::max);
        if over <= OVER * tolerance {
            break;
        }
    }
    // What is left over is moved to the border of what is allowed.
    let points: Vec<Point3<f64>> =
        points.iter().zip(&mut near).map(|(foot, near)| on_skin(&band.look(foot, near).allowed).0).collect();
    let away = points.iter().map(|p| band.away(p)).collect();
    Ok(FairLine { tightest_mm: tightest(&points), points, away })
}

/// The places near a drawn line where the fair one may run.
struct Band<'a> {
    drawn: &'a [Point3<f64>],
    allowed: &'a [Allowance],
}

/// Where a point lies to a drawn line.
struct Look {
    /// The nearest point of the line.
    foot: Point3<f64>,
    /// The nearest allowed place.
    allowed: Point3<f64>,
    /// How far away that is, mm.
    over_mm: f64,
}

impl Band<'_> {
    /// Where a point lies to the drawn line. `near` is the segment that was nearest to it before.
    fn look(&self, (p, normal): &Foot, near: &mut Option<usize>) -> Look {
        let n = self.drawn.len();
        let beside = BESIDE.min(n / 2);
        let (segment, share) = match *near {
            Some(before) => self.nearest(p, (before + n - beside..=before + n + beside).map(|i| i % n)),
            None => self.nearest(p, 0..n),
        };
        *near = Some(segment);
        let next = (segment + 1) % n;
        let (a, b) = (self.drawn[segment], self.drawn[next]);
        let foot = a + (b - a) * share;
        let mix = |of: fn(&Allowance) -> f64| {
            let [one, other] = [segment, next].map(|i| of(&self.allowed[i]));
            one + (other - one) * share
        };
        let away = p - foot;
        let is_inside = (b - a).cross(&away).dot(normal) >= 0.0;
        let most = if is_inside { mix(|a| a.inside_mm) } else { mix(|a| a.outside_mm) };
        let length = away.norm();
        let allowed = if length <= most { *p } else { foot + away * (most / length) };
        Look { foot, allowed, over_mm: (length - most).max(0.0) }
    }

    fn nearest(&self, p: &Point3<f64>, segments: impl Iterator<Item = usize>) -> (usize, f64) {
        let mut best = (f64::INFINITY, (0, 0.0));
        for i in segments {
            let (a, b) = (self.drawn[i], self.drawn[(i + 1) % self.drawn.len()]);
            let along = b - a;
            let share = ((p - a).dot(&along) / along.norm_squared().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
            let away = (p - (a + along * share)).norm_squared();
            if away < best.0 {
                best = (away, (i, share));
            }
        }
        best.1
    }

    fn away(&self, p: &Point3<f64>) -> (usize, f64) {
        let (i, share) = self.nearest(p, 0..self.drawn.len());
        let (a, b) = (self.drawn[i], self.drawn[(i + 1) % self.drawn.len()]);
        (i, (p - (a + (b - a) * share)).norm())
    }
}

/// The squared size of the third difference of a wave, by its frequency in radians a point.
fn third(frequency: f64) -> f64 {
    (2.0 - 2.0 * frequency.cos()).powi(3)
}

/// The filter whose convolution makes least of the squared third differences and, times `hold`, the squared distances to
/// given points. It has as many values as there are points, and adds up to one.
fn low_pass(points: usize, hold: f64) -> Vec<f64> {
    let n = points as f64;
    let gains: Vec<f64> = (0..points).map(|m| 1.0 / (1.0 + third(TAU * m as f64 / n) / hold)).collect();
    // The inverse transform of an even function, at each distance between two points.
    let cosines: Vec<f64> = (0..points).map(|k| (TAU * k as f64 / n).cos()).collect();
    (0..points)
        .map(|j| gains.iter().enumerate().map(|(m, gain)| gain * cosines[m * j % points]).sum::<f64>() / n)
        .collect()
}

fn convolved(points: &[Point3<f64>], filter: &[f64]) -> Vec<Point3<f64>> {
    let n = points.len();
    (0..n)
        .map(|i| {
            let sum: Vector3<f64> = (0..n).map(|j| points[(i + n - j) % n].coords * filter[j]).sum();
            Point3::from(sum)
        })
        .collect()
}

/// A closed line as points about `step` apart, evenly spaced.
fn resampled(line: &[Point3<f64>], step: f64) -> Vec<Point3<f64>> {
    let length: f64 = (0..line.len()).map(|i| (line[(i + 1) % line.len()] - line[i]).norm()).sum();
    resampled_to(line, (length / step).round() as usize)
}

fn resampled_to(line: &[Point3<f64>], count: usize) -> Vec<Point3<f64>> {
    let n = line.len();
    let mut sums = vec![0.0];
    for i in 0..n {
        sums.push(sums[i] + (line[(i + 1) % n] - line[i]).norm());
    }
    let mut at = 0;
    (0..count)
        .map(|i| {
            let along = sums[n] * i as f64 / count as f64;
            while at + 1 < n && sums[at + 1] <= along {
                at += 1;
            }
            let share = (along - sums[at]) / (sums[at + 1] - sums[at]).max(f64::MIN_POSITIVE);
            line[at] + (line[(at + 1) % n] - line[at]) * share
        })
        .collect()
}

/// Radius of the tightest circle through three points that lie four steps apart.
fn tightest(points: &[Point3<f64>]) -> f64 {
    const APART: usize = 4;
    let n = points.len();
    if n < 3 * APART {
        return 0.0;
    }
    let radius = |i: usize| {
        let [a, b, c] = [0, APART, 2 * APART].map(|k| points[(i + k) % n]);
        let (ab, bc, ca) = ((b - a).norm(), (c - b).norm(), (a - c).norm());
        ab * bc * ca / (2.0 * (b - a).cross(&(c - a)).norm()).max(f64::MIN_POSITIVE)
    };
    (0..n).map(radius).fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HAND: Allowance = Allowance { inside_mm: 1.5, outside_mm: 1.5 };

    fn made_fair(
        drawn: &[Point3<f64>],
        allowed: &[Allowance],
        skin: impl FnMut(&mut (), &Point3<f64>) -> Foot,
    ) -> FairLine {
        fair(drawn, allowed, skin, &Job::silent()).unwrap()
    }

    #[test]
    fn it_stops_on_request() {
        let drawn = round(|_| 50.0);
        let job = Job::silent();
        job.cancel();
        assert_eq!(fair(&drawn, &vec![HAND; drawn.len()], flat, &job), Err(Cancelled));
    }

    fn farthest(line: &FairLine) -> f64 {
        line.away.iter().map(|(_, mm)| *mm).fold(0.0, f64::max)
    }

    fn flat((): &mut (), p: &Point3<f64>) -> Foot {
        (Point3::new(p.x, p.y, 0.0), Vector3::z())
    }

    fn round(radius: impl Fn(f64) -> f64) -> Vec<Point3<f64>> {
        (0..720)
            .map(|i| f64::from(i) * TAU / 720.0)
            .map(|angle| Point3::new(angle.cos(), angle.sin(), 0.0) * radius(angle))
            .collect()
    }

    #[test]
    fn a_wobbly_circle_becomes_round_and_a_circle_stays() {
        for wobble in [0.0, 0.6, 1.2] {
            let drawn = round(|a| 50.0 + wobble * (31.0 * a).sin());
            let found = made_fair(&drawn, &vec![HAND; drawn.len()], flat);
            assert!(farthest(&found) <= 1.5 + 1e-9, "{}", farthest(&found));
            let radii: Vec<f64> = found.points.iter().map(|p| p.coords.norm()).collect();
            let mean = radii.iter().sum::<f64>() / radii.len() as f64;
            let rms = (radii.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / radii.len() as f64).sqrt();
            assert!(rms < 0.05, "{wobble}: {rms}");
            assert!((mean - 50.0).abs() < 1.5 && found.tightest_mm > 40.0, "{mean} {}", found.tightest_mm);
        }
    }

    #[test]
    fn a_square_keeps_its_sides_within_the_tolerance_and_rounds_its_corners() {
        let side = |from: [f64; 2], to: [f64; 2]| {
            (0..80).map(move |i| {
                let share = f64::from(i) / 80.0;
                Point3::new(from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share, 0.0)
            })
        };
        let corners = [[0.0, 0.0], [80.0, 0.0], [80.0, 80.0], [0.0, 80.0]];
        let drawn: Vec<Point3<f64>> = (0..4).flat_map(|i| side(corners[i], corners[(i + 1) % 4])).collect();
        let found = made_fair(&drawn, &vec![HAND; drawn.len()], flat);
        assert!(farthest(&found) <= 1.5 + 1e-9);
        // An arc in a right angle that passes its tip at a distance d has a radius of d / (√2 − 1); some of the
        // allowance goes to the outside.
        assert!(found.tightest_mm > 1.5 / (2_f64.sqrt() - 1.0), "{}", found.tightest_mm);
    }

    #[test]
    fn no_allowance_leaves_the_line_where_it_was_drawn() {
        let drawn = round(|a| 50.0 + 0.8 * (13.0 * a).sin());
        let none = Allowance { inside_mm: 0.0, outside_mm: 0.0 };
        let found = made_fair(&drawn, &vec![none; drawn.len()], flat);
        assert!(farthest(&found) < 1e-9, "{}", farthest(&found));
    }

    #[test]
    fn where_nothing_is_allowed_outside_the_line_stays_inside() {
        let drawn = round(|a| 50.0 + 0.8 * (13.0 * a).sin());
        let inside = Allowance { inside_mm: 3.0, outside_mm: 0.0 };
        let found = made_fair(&drawn, &vec![inside; drawn.len()], flat);
        for p in &found.points {
            let angle = p.y.atan2(p.x);
            assert!(p.coords.norm() < 50.0 + 0.8 * (13.0 * angle).sin() + 0.05);
        }
        assert!(found.tightest_mm > 20.0, "{}", found.tightest_mm);
    }

    #[test]
    fn a_line_round_a_cylinder_stays_on_it_and_loses_its_waves() {
        // A ring round a limb of 40 mm radius that waves along it by a millimetre, 20 mm long.
        let skin = |(): &mut (), p: &Point3<f64>| {
            let out = Vector3::new(p.x, p.y, 0.0).normalize();
            (Point3::from(out * 40.0 + Vector3::z() * p.z), out)
        };
        let drawn: Vec<Point3<f64>> = (0..500)
            .map(|i| f64::from(i) * TAU / 500.0)
            .map(|angle| Point3::new(40.0 * angle.cos(), 40.0 * angle.sin(), (12.0 * angle).sin()))
            .collect();
        let found = made_fair(&drawn, &vec![HAND; drawn.len()], skin);
        for p in &found.points {
            assert!((p.x.hypot(p.y) - 40.0).abs() < 1e-9 && p.z.abs() < 0.02, "{p}");
        }
    }
}
