//! Body sizes of women, in millimetres.
//!
//! ANSUR II public data, women (n = 1986), 5th, 50th and 95th percentile: Gordon et al., *2012 Anthropometric Survey
//! of U.S. Army Personnel*, NATICK/TR-15/007, 2014; percentiles by linear interpolation from the raw file.

/// Percentiles of one measure, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Percentiles {
    /// 5th percentile.
    pub low: f64,
    /// Median.
    pub mid: f64,
    /// 95th percentile.
    pub high: f64,
}

const fn women(low: f64, mid: f64, high: f64) -> Percentiles {
    Percentiles { low, mid, high }
}

/// Forearm circumference, flexed (ANSUR II women).
pub const FOREARM_CIRCUMFERENCE: Percentiles = women(235.0, 263.0, 296.0);
/// Wrist circumference (ANSUR II women).
pub const WRIST_CIRCUMFERENCE: Percentiles = women(142.0, 154.0, 168.0);
/// Biceps circumference, flexed (ANSUR II women).
pub const BICEPS_CIRCUMFERENCE: Percentiles = women(259.0, 304.0, 360.0);
/// Radiale-stylion length: elbow joint to wrist (ANSUR II women).
pub const FOREARM_LENGTH: Percentiles = women(218.0, 240.0, 268.0);
/// Hand breadth at the knuckles (ANSUR II women).
pub const HAND_BREADTH: Percentiles = women(72.0, 78.0, 85.0);
/// Hand length (ANSUR II women).
pub const HAND_LENGTH: Percentiles = women(165.0, 180.0, 199.0);
/// Palm length (ANSUR II women).
pub const PALM_LENGTH: Percentiles = women(100.0, 108.0, 119.0);
/// Calf circumference (ANSUR II women).
pub const CALF_CIRCUMFERENCE: Percentiles = women(328.0, 372.0, 423.0);
/// Least ankle circumference (ANSUR II women).
pub const ANKLE_CIRCUMFERENCE: Percentiles = women(193.0, 215.0, 242.0);
/// Tibial height above the floor (ANSUR II women).
pub const TIBIAL_HEIGHT: Percentiles = women(399.0, 437.0, 479.0);
/// Lateral malleolus height (ANSUR II women).
pub const LATERAL_MALLEOLUS_HEIGHT: Percentiles = women(54.0, 63.0, 71.0);
/// Bimalleolar breadth (ANSUR II women).
pub const BIMALLEOLAR_BREADTH: Percentiles = women(61.0, 67.0, 73.0);
/// Foot length (ANSUR II women).
pub const FOOT_LENGTH: Percentiles = women(226.0, 246.0, 268.0);
/// Foot breadth (ANSUR II women).
pub const FOOT_BREADTH: Percentiles = women(85.0, 93.0, 101.0);
/// Heel breadth (ANSUR II women).
pub const HEEL_BREADTH: Percentiles = women(60.0, 67.0, 76.0);
