//! How a foam gives when it is pressed.

/// The curve of a foam in compression: elastic, then a plateau where its cells collapse, then stiff as the air in them is pressed
/// together. Stress over the plateau after Mills 2007, "Polymer Foams Handbook": σ = σ₀ + p ε / (1 − ε − R).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FoamCurve {
    /// Slope at the start, MPa.
    pub young_mpa: f64,
    /// Stress at which cells collapse, MPa.
    pub collapse_mpa: f64,
    /// Pressure of the air in closed cells, MPa: 0.101325 where nothing escapes. In open cells it stands for what their walls
    /// resist with as they close up.
    pub air_mpa: f64,
    /// Share of the volume that is solid, R.
    pub solid_share: f64,
}

/// Strains are told up to this share of that at which no air is left; from there on the curve is straight.
const FULL: f64 = 0.98;

impl FoamCurve {
    /// The strain from which on the curve is straight.
    fn full(&self) -> f64 {
        FULL * (1.0 - self.solid_share)
    }

    /// Stress at a strain, MPa; nothing where it is not pressed.
    #[must_use]
    pub fn stress_mpa(&self, strain: f64) -> f64 {
        if strain <= 0.0 {
            return 0.0;
        }
        let told = strain.min(self.full());
        let collapse = -self.collapse_mpa * (-self.young_mpa * told / self.collapse_mpa).exp_m1();
        let air = self.air_mpa * told / (1.0 - told - self.solid_share);
        collapse + air + self.slope_mpa(told) * (strain - told)
    }

    /// Slope of the curve at a strain, MPa.
    #[must_use]
    pub fn slope_mpa(&self, strain: f64) -> f64 {
        if strain < 0.0 {
            return 0.0;
        }
        let told = strain.min(self.full());
        let room = 1.0 - self.solid_share;
        self.young_mpa * (-self.young_mpa * told / self.collapse_mpa).exp()
            + self.air_mpa * room / ((room - told) * (room - told))
    }

    /// Work done on it up to a strain, N·mm for each mm³.
    #[must_use]
    pub fn work_mpa(&self, strain: f64) -> f64 {
        if strain <= 0.0 {
            return 0.0;
        }
        let told = strain.min(self.full());
        let give = self.collapse_mpa / self.young_mpa;
        let room = 1.0 - self.solid_share;
        let collapse = self.collapse_mpa * give * beyond_exponential(told / give);
        let air = self.air_mpa * (room * (room / (room - told)).ln() - told);
        let more = strain - told;
        collapse + air + (self.stress_mpa(told) + 0.5 * self.slope_mpa(told) * more) * more
    }
}

/// x − 1 + exp(−x), also where x is so small that the difference would be lost.
fn beyond_exponential(x: f64) -> f64 {
    if x < 1e-3 { x * x * (0.5 - x / 6.0 + x * x / 24.0) } else { x + (-x).exp_m1() }
}

/// A layer of foam on a layer that gives in proportion, as soft tissue over bone: what they do together under a pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layers {
    /// The foam.
    pub foam: FoamCurve,
    /// Its thickness, mm.
    pub foam_mm: f64,
    /// Pressure for each millimetre that what is under it gives, MPa/mm; infinite where that is hard.
    pub under_mpa_per_mm: f64,
}

/// The layers pressed together by some way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pressed {
    /// Pressure, MPa.
    pub pressure_mpa: f64,
    /// By how much it rises for a millimetre, MPa/mm.
    pub slope_mpa_per_mm: f64,
    /// Work done, N·mm for each mm².
    pub work_n_per_mm: f64,
    /// Strain of the foam.
    pub strain: f64,
}

/// Steps to the strain at which both layers are pressed alike: each halves the doubt at least.
const STEPS: usize = 60;

impl Layers {
    /// What they do when they are together this much thinner, mm; nothing where that is negative. Where they just touch the
    /// slope is that of being pressed.
    #[must_use]
    pub fn pressed(&self, by_mm: f64) -> Pressed {
        if by_mm < 0.0 {
            return Pressed { pressure_mpa: 0.0, slope_mpa_per_mm: 0.0, work_n_per_mm: 0.0, strain: 0.0 };
        }
        let gives = |strain: f64| self.foam_mm * strain + self.foam.stress_mpa(strain) / self.under_mpa_per_mm - by_mm;
        // Newton's method, kept between two strains with the right one in between.
        let (mut low, mut high) = (0.0, by_mm / self.foam_mm);
        let mut strain = high;
        for _ in 0..STEPS {
            let over = gives(strain);
            if over.abs() <= 1e-12 * by_mm {
                break;
            }
            if over > 0.0 {
                high = strain;
            } else {
                low = strain;
            }
            let next = strain - over / (self.foam_mm + self.foam.slope_mpa(strain) / self.under_mpa_per_mm);
            strain = if next > low && next < high { next } else { 0.5 * (low + high) };
        }
        let (pressure, slope) = (self.foam.stress_mpa(strain), self.foam.slope_mpa(strain));
        Pressed {
            pressure_mpa: pressure,
            slope_mpa_per_mm: slope / (self.foam_mm + slope / self.under_mpa_per_mm),
            work_n_per_mm: self.foam_mm * self.foam.work_mpa(strain)
                + 0.5 * pressure * pressure / self.under_mpa_per_mm,
            strain,
        }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use proptest::prelude::*;

    use super::*;

    /// Air alone at 101.325 kPa with a tenth solid: values worked out from Mills's formula.
    #[test]
    fn air_in_closed_cells_resists_as_by_the_gas_law() {
        let air = FoamCurve { young_mpa: 1e-9, collapse_mpa: 1e-9, air_mpa: 0.101_325, solid_share: 0.1 };
        for (strain, kilopascal, work) in
            [(0.2, 28.95, 2.653), (0.4, 81.06, 13.072), (0.6, 202.65, 39.390), (0.7, 354.64, 66.233)]
        {
            assert_relative_eq!(air.stress_mpa(strain) * 1e3, kilopascal, max_relative = 2e-4);
            assert_relative_eq!(air.work_mpa(strain) * 1e3, work, max_relative = 2e-4);
        }
    }

    fn usual() -> FoamCurve {
        FoamCurve { young_mpa: 1.5, collapse_mpa: 0.08, air_mpa: 0.1, solid_share: 0.15 }
    }

    proptest! {
        /// Slope and work are the derivative and the integral of stress, beyond the point where no air is left as well.
        #[test]
        fn slope_stress_and_work_belong_together(strain in 0.001_f64..1.2) {
            let (foam, step) = (usual(), 1e-6);
            let slope = (foam.stress_mpa(strain + step) - foam.stress_mpa(strain - step)) / (2.0 * step);
            let stress = (foam.work_mpa(strain + step) - foam.work_mpa(strain - step)) / (2.0 * step);
            prop_assume!((strain - foam.full()).abs() > 2.0 * step);
            prop_assert!((slope / foam.slope_mpa(strain) - 1.0).abs() < 1e-3);
            prop_assert!((stress / foam.stress_mpa(strain) - 1.0).abs() < 1e-3);
        }

        /// Both layers bear the same pressure, and their ways add up.
        #[test]
        fn layers_share_the_way(by in 0.01_f64..9.0, under in 0.001_f64..10.0) {
            let layers = Layers { foam: usual(), foam_mm: 5.0, under_mpa_per_mm: under };
            let pressed = layers.pressed(by);
            prop_assert!((5.0 * pressed.strain + pressed.pressure_mpa / under - by).abs() < 1e-9 * by);
            let step = 1e-5 * by;
            let [less, more] = [by - step, by + step].map(|by| layers.pressed(by));
            let slope = (more.pressure_mpa - less.pressure_mpa) / (2.0 * step);
            let pressure = (more.work_n_per_mm - less.work_n_per_mm) / (2.0 * step);
            prop_assert!((slope / pressed.slope_mpa_per_mm - 1.0).abs() < 1e-2, "{slope} {pressed:?}");
            prop_assert!((pressure / pressed.pressure_mpa - 1.0).abs() < 1e-4);
        }
    }

    #[test]
    fn what_is_lifted_off_is_not_pressed() {
        let layers = Layers { foam: usual(), foam_mm: 5.0, under_mpa_per_mm: f64::INFINITY };
        assert_eq!(layers.pressed(-1.0).pressure_mpa, 0.0);
        assert_relative_eq!(layers.pressed(1.0).pressure_mpa, usual().stress_mpa(0.2), max_relative = 1e-9);
    }
}
