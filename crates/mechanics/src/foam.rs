//! How foam, and soft tissue under it, give when they are pressed.

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

/// Strains are told up to this share of that at which no air is left, or tissue gives no more; from there on curves are straight.
const FULL: f64 = 0.9;

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
        let air = self.air_mpa * room * beyond_logarithm(told / room);
        let more = strain - told;
        collapse + air + (self.stress_mpa(told) + 0.5 * self.slope_mpa(told) * more) * more
    }
}

/// x − 1 + exp(−x), also where x is so small that the difference would be lost.
fn beyond_exponential(x: f64) -> f64 {
    if x < 1e-3 { x * x * (0.5 - x / 6.0 + x * x / 24.0) } else { x + (-x).exp_m1() }
}

/// Soft tissue on bone: it gives more and more slowly, σ = E ε / (1 − ε / ε₀), as tissue under an indenter does (Zheng and Mak
/// 1999, J. Biomech. Eng. 121, 330, found the modulus to grow with the depth; the form is the simplest that does so).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tissue {
    /// Slope at the start, MPa.
    pub young_mpa: f64,
    /// Depth to the bone, mm.
    pub thickness_mm: f64,
}

/// The strain at which tissue gives no more: an estimate; no measured figure was found.
const TISSUE_FULL: f64 = 0.6;

impl Tissue {
    /// How much thinner it is under a pressure, mm. Beyond nearly all that it can give it is as stiff as there.
    #[must_use]
    pub fn gives_mm(&self, pressure_mpa: f64) -> f64 {
        let told = pressure_mpa.min(self.full_mpa());
        self.thickness_mm * told / (self.young_mpa + told / TISSUE_FULL) + (pressure_mpa - told) * self.give_slope(told)
    }

    /// The pressure from which on it is no stiffer, MPa.
    fn full_mpa(&self) -> f64 {
        self.young_mpa * FULL * TISSUE_FULL / (1.0 - FULL)
    }

    /// By how much what it gives grows with the pressure, mm/MPa.
    fn give_slope(&self, pressure_mpa: f64) -> f64 {
        let sum = self.young_mpa + pressure_mpa.min(self.full_mpa()) / TISSUE_FULL;
        self.thickness_mm * self.young_mpa / (sum * sum)
    }

    /// Work done on it up to a pressure, N·mm for each mm².
    fn work(&self, pressure_mpa: f64) -> f64 {
        let told = pressure_mpa.min(self.full_mpa());
        let share = self.gives_mm(told) / self.thickness_mm / TISSUE_FULL;
        let more = self.gives_mm(pressure_mpa) - self.gives_mm(told);
        self.thickness_mm * self.young_mpa * TISSUE_FULL * TISSUE_FULL * beyond_logarithm(share)
            + 0.5 * (told + pressure_mpa) * more
    }

    /// What it does when it is so much thinner, mm; nothing where that is negative.
    #[must_use]
    pub fn pressed(&self, by_mm: f64) -> Pressed {
        if by_mm < 0.0 {
            return Pressed::NOT;
        }
        let strain = (by_mm / self.thickness_mm).min(FULL * TISSUE_FULL);
        let told = self.young_mpa * strain / (1.0 - strain / TISSUE_FULL);
        let slope = 1.0 / self.give_slope(told);
        let pressure = told + slope * (by_mm - strain * self.thickness_mm);
        Pressed {
            pressure_mpa: pressure,
            slope_mpa_per_mm: slope,
            work_n_per_mm: self.work(pressure),
            strain: by_mm / self.thickness_mm,
        }
    }
}

/// −x − ln(1 − x), also where x is so small that the difference would be lost.
fn beyond_logarithm(x: f64) -> f64 {
    if x < 1e-3 { x * x * (0.5 + x / 3.0 + 0.25 * x * x) } else { -x - (-x).ln_1p() }
}

/// A layer of foam on soft tissue over bone: what they do together under a pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layers {
    /// The foam.
    pub foam: FoamCurve,
    /// Its thickness, mm.
    pub foam_mm: f64,
    /// What is under it; nothing where that is hard.
    pub under: Option<Tissue>,
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
    /// Strain of the foam, or of the tissue where there is none.
    pub strain: f64,
}

impl Pressed {
    /// Not pressed at all.
    pub const NOT: Self = Self { pressure_mpa: 0.0, slope_mpa_per_mm: 0.0, work_n_per_mm: 0.0, strain: 0.0 };
}

/// Steps to the strain at which both layers are pressed alike: of two, one halves what is off or the doubt at least.
const STEPS: usize = 200;

impl Layers {
    /// What they do when they are together this much thinner, mm; nothing where that is negative. Where they just touch the
    /// slope is that of being pressed.
    #[must_use]
    pub fn pressed(&self, by_mm: f64) -> Pressed {
        if by_mm < 0.0 {
            return Pressed::NOT;
        }
        let under = |pressure: f64| {
            self.under.map_or([0.0; 3], |tissue| {
                [tissue.gives_mm(pressure), tissue.give_slope(pressure), tissue.work(pressure)]
            })
        };
        let gives = |strain: f64| self.foam_mm * strain + under(self.foam.stress_mpa(strain))[0] - by_mm;
        // Newton's method, kept between two strains with the right one in between.
        let (mut low, mut high) = (0.0, by_mm / self.foam_mm);
        let (mut strain, mut before) = (high, f64::INFINITY);
        for _ in 0..STEPS {
            let over = gives(strain);
            if over.abs() <= 1e-12 * by_mm {
                break;
            }
            let slow = over.abs() > 0.5 * before;
            before = over.abs();
            if over > 0.0 {
                high = strain;
            } else {
                low = strain;
            }
            let slope = self.foam.slope_mpa(strain) * under(self.foam.stress_mpa(strain))[1];
            let next = strain - over / (self.foam_mm + slope);
            strain = if next > low && next < high && !slow { next } else { 0.5 * (low + high) };
        }
        let (pressure, slope) = (self.foam.stress_mpa(strain), self.foam.slope_mpa(strain));
        let [_, give_slope, work] = under(pressure);
        Pressed {
            pressure_mpa: pressure,
            slope_mpa_per_mm: slope / (self.foam_mm + slope * give_slope),
            work_n_per_mm: self.foam_mm * self.foam.work_mpa(strain) + work,
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
        fn layers_share_the_way(by in 0.01_f64..9.0, young_mpa in 0.03_f64..10.0, thickness_mm in 2.0_f64..40.0) {
            let tissue = Tissue { young_mpa, thickness_mm };
            let layers = Layers { foam: usual(), foam_mm: 5.0, under: Some(tissue) };
            let pressed = layers.pressed(by);
            prop_assert!((5.0 * pressed.strain + tissue.gives_mm(pressed.pressure_mpa) - by).abs() < 1e-9 * by);
            let step = 1e-5 * by;
            let [less, more] = [by - step, by + step].map(|by| layers.pressed(by));
            let slope = (more.pressure_mpa - less.pressure_mpa) / (2.0 * step);
            let pressure = (more.work_n_per_mm - less.work_n_per_mm) / (2.0 * step);
            prop_assert!((slope / pressed.slope_mpa_per_mm - 1.0).abs() < 1e-2, "{slope} {pressed:?}");
            prop_assert!((pressure / pressed.pressure_mpa - 1.0).abs() < 1e-4);
        }
    }

    /// Tissue alone, and under a foam that hardly gives, is the same; a tenth of its depth takes E 0.1 / (1 − 0.1 / 0.6).
    #[test]
    fn tissue_stiffens_as_it_is_pressed() {
        let tissue = Tissue { young_mpa: 0.3, thickness_mm: 20.0 };
        assert_relative_eq!(tissue.pressed(2.0).pressure_mpa, 0.3 * 0.1 / (1.0 - 0.1 / 0.6), max_relative = 1e-12);
        let hard = FoamCurve { young_mpa: 1e6, collapse_mpa: 1e9, air_mpa: 0.0, solid_share: 0.0 };
        let layers = Layers { foam: hard, foam_mm: 1.0, under: Some(tissue) };
        for by in [0.001, 2.0, 9.0] {
            let (alone, under) = (tissue.pressed(by), layers.pressed(by));
            assert_relative_eq!(alone.pressure_mpa, under.pressure_mpa, max_relative = 1e-4);
            assert_relative_eq!(alone.work_n_per_mm, under.work_n_per_mm, max_relative = 1e-4);
            assert_relative_eq!(alone.slope_mpa_per_mm, under.slope_mpa_per_mm, max_relative = 1e-4);
        }
        let [less, most, more] = [10.799, 10.8, 10.801].map(|by| tissue.pressed(by).pressure_mpa);
        assert!(most - less > 0.0 && ((more - most) / (most - less) - 1.0).abs() < 0.05);
    }

    #[test]
    fn what_is_lifted_off_is_not_pressed() {
        let layers = Layers { foam: usual(), foam_mm: 5.0, under: None };
        assert_eq!(layers.pressed(-1.0).pressure_mpa, 0.0);
        assert_relative_eq!(layers.pressed(1.0).pressure_mpa, usual().stress_mpa(0.2), max_relative = 1e-9);
    }
}
