//! The fit step: how limb and shell are seen, and where they are cut.

use fit::Clearance;

/// State of the fit step.
#[derive(Debug, Clone, PartialEq)]
pub struct FitView {
    /// How much of the limb is seen, 0 to 1.
    pub limb: f32,
    /// Turn the camera to the inner face of the shell in the next frame.
    pub turn_inside: bool,
    /// The gap is shown in colours.
    pub heat: bool,
    /// Limb and shell are cut at the plane.
    pub cut: bool,
    /// Height of the plane, mm.
    pub plane_mm: f32,
    /// Lowest and highest place of the plane; none without a shell.
    pub range_mm: Option<(f32, f32)>,
    /// Serial of a measurement, a gap in mm, and the share of the inner face that is nearer.
    pub nearer: Option<(u64, f32, f64)>,
}

impl Default for FitView {
    fn default() -> Self {
        Self { limb: 1.0, turn_inside: false, heat: true, cut: false, plane_mm: f32::NAN, range_mm: None, nearer: None }
    }
}

impl FitView {
    /// Takes a new shell: the plane stays where it is if that is on the shell, else it goes to the middle.
    pub fn on(&mut self, range_mm: Option<(f32, f32)>) {
        self.range_mm = range_mm;
        if let Some((low, high)) = range_mm
            && !(low..=high).contains(&self.plane_mm)
        {
            self.plane_mm = 0.5 * (low + high);
        }
    }

    /// Moves the plane up, or down, as far as there is a shell.
    pub fn cut_by(&mut self, up_mm: f32) {
        if let Some((low, high)) = self.range_mm {
            self.plane_mm = (self.plane_mm + up_mm).clamp(low, high);
            self.cut = true;
        }
    }

    /// The share of the inner face that is nearer to the skin than a gap, summed up once for each measurement.
    pub fn share_nearer(&mut self, serial: u64, clearance: &Clearance, gap_mm: f32) -> f64 {
        match self.nearer {
            Some((of, than, share)) if of == serial && than == gap_mm => share,
            _ => {
                let share = clearance.share_below(gap_mm);
                self.nearer = Some((serial, gap_mm, share));
                share
            }
        }
    }

    /// The height to cut at, while there is something to cut.
    pub fn cut_at(&self) -> Option<f32> {
        self.range_mm.map(|_| self.plane_mm)
    }
}

/// The gap at which the colour scale ends, mm: half as much again as designed and 1 mm more, rounded up, so that a
/// shell as designed lies well inside the legend.
pub fn scale_mm(gap_mm: f32) -> f32 {
    (1.5 * gap_mm + 1.0).ceil().max(3.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_plane_stays_on_the_shell() {
        let mut looking = FitView::default();
        assert!(!looking.cut, "the fit is first seen whole");
        assert_eq!(looking.cut_at(), None);
        looking.on(Some((-100.0, 60.0)));
        assert_eq!(looking.cut_at(), Some(-20.0));
        looking.plane_mm = 50.0;
        looking.on(Some((-80.0, 70.0)));
        assert_eq!(looking.cut_at(), Some(50.0));
        looking.on(Some((-80.0, 40.0)));
        assert_eq!(looking.cut_at(), Some(-20.0));
        looking.cut_by(5.0);
        assert_eq!((looking.cut_at(), looking.cut), (Some(-15.0), true));
        looking.cut_by(-500.0);
        assert_eq!(looking.cut_at(), Some(-80.0));
        looking.on(None);
        looking.cut_by(5.0);
        assert_eq!(looking.cut_at(), None);
    }

    #[test]
    fn the_gap_as_designed_lies_inside_the_legend() {
        for gap in [0.0, 1.0, 2.0, 3.0, 4.0, 20.0] {
            let share = gap / scale_mm(gap);
            assert!(share <= 0.75 && scale_mm(gap) >= 3.0, "{gap}");
        }
    }
}
