//! Stresses in a plane, and what they come to.

use nalgebra::Vector3;

/// Stresses xx, yy, xy in a thin wall of one material under strains: Young's modulus in MPa, Poisson's ratio.
#[must_use]
pub fn plane_stress(strain: &Vector3<f64>, young_mpa: f64, poisson: f64) -> Vector3<f64> {
    let plane = young_mpa / (1.0 - poisson * poisson);
    Vector3::new(
        plane * (strain.x + poisson * strain.y),
        plane * (strain.y + poisson * strain.x),
        0.5 * plane * (1.0 - poisson) * strain.z,
    )
}

/// The greater and the lesser principal stress (Mohr's circle).
#[must_use]
pub fn principal(stress: &Vector3<f64>) -> [f64; 2] {
    let (middle, radius) = (0.5 * (stress.x + stress.y), (0.5 * (stress.x - stress.y)).hypot(stress.z));
    [middle + radius, middle - radius]
}

/// The stress in one direction that strains a ductile material as much (von Mises 1913).
#[must_use]
pub fn von_mises(stress: &Vector3<f64>) -> f64 {
    let [a, b] = principal(stress);
    (a * a - a * b + b * b).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn pulling_pressing_and_shearing_come_to_what_they_should() {
        let pulled = plane_stress(&Vector3::new(0.01, -0.003, 0.0), 2000.0, 0.3);
        assert_relative_eq!(pulled, Vector3::new(20.0, 0.0, 0.0), epsilon = 1e-9);
        assert_relative_eq!(von_mises(&Vector3::new(20.0, 0.0, 0.0)), 20.0);
        assert_relative_eq!(von_mises(&Vector3::new(0.0, 0.0, 10.0)), 10.0 * 3.0_f64.sqrt());
        assert_eq!(principal(&Vector3::new(0.0, 0.0, 10.0)), [10.0, -10.0]);
        assert_eq!(von_mises(&Vector3::new(-7.0, -7.0, 0.0)), 7.0);
    }
}
