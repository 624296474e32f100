//! Where the surface crosses a grid edge.

use nalgebra::{Point3, Vector3};

/// Crossings are kept this far (as a share of the edge) from grid points, so that no triangle degenerates in f32.
pub(super) const MARGIN: f32 = 0.02;
/// A crossing is good once the function is this small, mm on a grid of half a millimetre.
pub(super) const CLOSE_MM: f32 = 1e-3;
/// Within this many times that, a last step along the chord is taken without evaluating it: its error is a small share.
const NEARLY: f32 = 5.0;
const MOST_STEPS: usize = 6;

/// Zero of `f` on the way from `from` by `along`, whose end values have different signs, by false position with the
/// Illinois rule (Dowell and Jarratt 1971), until the function is less than `close_mm`. Where that is infinite,
/// the zero of the chord.
pub(super) fn root<F>(
    f: &F,
    from: Point3<f32>,
    along: Vector3<f32>,
    values: [f32; 2],
    mut hint: u32,
    close_mm: f32,
) -> Point3<f32>
where
    F: Fn(&Point3<f32>, Option<u32>) -> (f32, u32),
{
    let ([mut a, mut b], [mut fa, mut fb]) = ([0.0_f32, 1.0_f32], values);
    let mut t = 0.5;
    let mut last_side = 0;
    let chord = |a: f32, b: f32, fa: f32, fb: f32| {
        if fa.is_finite() && fb.is_finite() { a + (b - a) * fa / (fa - fb) } else { 0.5 * (a + b) }
    };
    for _ in 0..MOST_STEPS {
        t = chord(a, b, fa, fb);
        if close_mm.is_infinite() {
            break;
        }
        let (value, near) = f(&(from + along * t), Some(hint));
        hint = near;
        if value.abs() < close_mm {
            break;
        }
        let side = if (value < 0.0) == (fa < 0.0) { 1 } else { 2 };
        let halved = if side == last_side && value.abs() >= NEARLY * close_mm { 0.5 } else { 1.0 };
        if side == 1 {
            (a, fa) = (t, value);
            fb *= halved;
        } else {
            (b, fb) = (t, value);
            fa *= halved;
        }
        if value.abs() < NEARLY * close_mm {
            t = chord(a, b, fa, fb);
            break;
        }
        last_side = side;
    }
    from + along * t.clamp(MARGIN, 1.0 - MARGIN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_zero_of_a_curved_function_is_found() {
        let f = |p: &Point3<f32>, _: Option<u32>| ((p.x - 0.3) * (p.x + 5.0), 0);
        let ends = [0.0_f32, 1.0].map(|x| f(&Point3::new(x, 0.0, 0.0), None).0);
        let found = root(&f, Point3::origin(), Vector3::x(), ends, 0, CLOSE_MM);
        assert!((found.x - 0.3).abs() < 1e-3, "{found}");
        // By the chord: (x - 0.3)(x + 5) is -1.5 at 0 and 4.2 at 1.
        let chord = root(&f, Point3::origin(), Vector3::x(), ends, 0, f32::INFINITY);
        assert!((chord.x - 1.5 / 5.7).abs() < 1e-6, "{chord}");
        // Beside a grid point it is held off by the margin.
        let g = |p: &Point3<f32>, _: Option<u32>| (p.x - 1e-4, 0);
        let found = root(&g, Point3::origin(), Vector3::x(), [-1e-4, 0.9999], 0, CLOSE_MM);
        assert!((found.x - MARGIN).abs() < 1e-6, "{found}");
    }
}
