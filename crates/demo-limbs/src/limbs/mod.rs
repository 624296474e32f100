//! The limbs, one a file.

pub(crate) mod ankle;
pub(crate) mod forearm;
pub(crate) mod ribs;
pub(crate) mod shin;
pub(crate) mod shoulder;
pub(crate) mod wrist;

#[cfg(test)]
mod tests {
    use crate::form::{Form, V, v};
    use crate::model::heading;
    use crate::sizes::*;

    /// Length of a tape around the skin at height z.
    fn girth(form: &Form, middle: V) -> f64 {
        let ring: Vec<V> = (0..720).map(|k| form.cast(&middle, &heading(f64::from(k) * 0.5))).collect();
        (0..ring.len()).map(|k| (ring[k] - ring[(k + 1) % ring.len()]).norm()).sum()
    }

    /// Farthest the skin reaches in a direction.
    fn reach(form: &Form, lo: V, hi: V, along: V) -> f64 {
        let skin = crate::isosurface::skin_of(form, lo, hi, 3.0);
        skin.points.iter().map(|p| p.dot(&along)).fold(f64::NEG_INFINITY, f64::max)
    }

    #[test]
    fn the_forearm_has_the_handbook_girths() {
        let arm = super::forearm::forearm(WRIST_CIRCUMFERENCE, FOREARM_CIRCUMFERENCE, FOREARM_LENGTH, 0.5);
        let least = (0..30).map(|z| girth(&arm.form, v(0.0, 0.0, f64::from(z)))).fold(f64::INFINITY, f64::min);
        let most = (130..220).step_by(5).map(|z| girth(&arm.form, v(0.0, 0.0, f64::from(z)))).fold(0.0, f64::max);
        assert!((least / WRIST_CIRCUMFERENCE.mid - 1.0).abs() < 0.04, "wrist {least}");
        assert!((most / FOREARM_CIRCUMFERENCE.mid - 1.0).abs() < 0.04, "belly {most}");
    }

    #[test]
    fn the_shin_has_the_handbook_girths() {
        let (shin, leg) = super::shin::shin();
        let at = |z: u32| girth(&shin.form, leg.middle(f64::from(z)));
        let least = (90..160).step_by(5).map(at).fold(f64::INFINITY, f64::min);
        let most = (270..350).step_by(5).map(at).fold(0.0, f64::max);
        assert!((least / ANKLE_CIRCUMFERENCE.mid - 1.0).abs() < 0.04, "ankle {least}");
        assert!((most / CALF_CIRCUMFERENCE.mid - 1.0).abs() < 0.04, "calf {most}");
    }

    #[test]
    fn the_hand_has_the_handbook_length() {
        let hand = super::wrist::wrist();
        let tip = reach(&hand.form, hand.box_lo, hand.box_hi, V::z());
        assert!((tip / HAND_LENGTH.mid - 1.0).abs() < 0.06, "{tip}");
    }

    #[test]
    fn the_foot_has_the_handbook_length_and_breadth() {
        let foot = super::ankle::ankle();
        let to = |along: V| reach(&foot.form, foot.box_lo, foot.box_hi, along);
        let (length, breadth) = (to(V::y()) + to(-V::y()), to(V::x()) + to(-V::x()));
        assert!((length / FOOT_LENGTH.mid - 1.0).abs() < 0.04, "{length}");
        assert!((breadth / FOOT_BREADTH.mid - 1.0).abs() < 0.06, "{breadth}");
    }
}
