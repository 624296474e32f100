//! Which numbers a design may hold: the one place that says so for the file, the command line and the workbench.

use std::ops::RangeInclusive;

use crate::{Design, Fitting, FittingKind, Mark, Ribs, Vents};

/// A number of the design that is not allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{field} is {value}, but must be {allowed}")]
pub struct SettingOutOfRange {
    /// Path of the field inside the design, such as `vents.size_mm` or `fittings[2].kind.strap-slot.strap_mm`.
    pub field: String,
    /// What it is.
    pub value: String,
    /// What is allowed, in words.
    pub allowed: String,
}

/// Farthest that a point on a limb can lie from the middle of its scan, mm.
const FARTHEST_MM: f32 = 2000.0;
/// Longest text of a mark, letters.
const LONGEST_TEXT: usize = 24;

impl Design {
    /// Whether every number is in its range.
    ///
    /// # Errors
    /// The first field that is not.
    pub fn check(&self) -> Result<(), SettingOutOfRange> {
        within("gap_mm", self.gap_mm, 0.0..=20.0, "mm")?;
        within("thickness_mm", self.thickness_mm, 0.8..=10.0, "mm")?;
        within("rim.round_mm", self.rim.round_mm, 0.0..=5.0, "mm")?;
        if self.rim.round_mm > 0.5 * self.thickness_mm {
            let allowed = format!("at most half the thickness, {} mm: that is a full round", 0.5 * self.thickness_mm);
            return Err(refuse("rim.round_mm", self.rim.round_mm, allowed));
        }
        within("rim.flare_mm", self.rim.flare_mm, 0.0..=10.0, "mm")?;
        within("rim.flare_width_mm", self.rim.flare_width_mm, 1.0..=40.0, "mm")?;
        self.ribs.as_ref().map_or(Ok(()), check_ribs)?;
        self.vents.as_ref().map_or(Ok(()), check_vents)?;
        self.fittings.iter().enumerate().try_for_each(|(n, fitting)| check_fitting(n, fitting))?;
        self.marks.iter().enumerate().try_for_each(|(n, mark)| check_mark(n, mark))
    }
}

fn check_ribs(ribs: &Ribs) -> Result<(), SettingOutOfRange> {
    within("ribs.height_mm", ribs.height_mm, 0.5..=8.0, "mm")?;
    within("ribs.width_mm", ribs.width_mm, 1.5..=15.0, "mm")?;
    within("ribs.spacing_mm", ribs.spacing_mm, 5.5..=200.0, "mm")?;
    if ribs.spacing_mm < ribs.width_mm + 4.0 {
        let allowed = format!("at least the width plus 4, {} mm", ribs.width_mm + 4.0);
        return Err(refuse("ribs.spacing_mm", ribs.spacing_mm, allowed));
    }
    Ok(())
}

fn check_vents(vents: &Vents) -> Result<(), SettingOutOfRange> {
    within("vents.size_mm", vents.size_mm, 2.0..=25.0, "mm")?;
    within("vents.ligament_mm", vents.ligament_mm, 1.6..=30.0, "mm")?;
    within("vents.rim_distance_mm", vents.rim_distance_mm, 3.0..=60.0, "mm")
}

fn check_fitting(n: usize, fitting: &Fitting) -> Result<(), SettingOutOfRange> {
    let path = |field: &str| format!("fittings[{n}].{field}");
    check_point(&path("at_mm"), &fitting.at_mm)?;
    within(&path("turn_deg"), fitting.turn_deg, -360.0..=360.0, "degrees")?;
    let kind = |kind: &str, field: &str| path(&format!("kind.{kind}.{field}"));
    match fitting.kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            within(&kind("strap-slot", "strap_mm"), strap_mm, 8.0..=120.0, "mm")?;
            within(&kind("strap-slot", "opening_mm"), opening_mm, 2.0..=15.0, "mm")
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            if !(1..=40).contains(&count) {
                return Err(refuse(&kind("lace-holes", "count"), count, "between 1 and 40".into()));
            }
            within(&kind("lace-holes", "hole_mm"), hole_mm, 2.0..=12.0, "mm")?;
            // Holes need a wall between them, but one hole has no neighbour.
            within(&kind("lace-holes", "pitch_mm"), pitch_mm, hole_mm + 1.6..=60.0, "mm")
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            within(&kind("tie-slot", "tie_mm"), tie_mm, 2.0..=30.0, "mm")?;
            within(&kind("tie-slot", "bridge_mm"), bridge_mm, 1.6..=40.0, "mm")
        }
        FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm } => {
            within(&kind("stitch-holes", "hole_mm"), hole_mm, 1.0..=6.0, "mm")?;
            within(&kind("stitch-holes", "pitch_mm"), pitch_mm, hole_mm + 1.6..=60.0, "mm")?;
            within(&kind("stitch-holes", "inset_mm"), inset_mm, 0.5 * hole_mm + 1.6..=40.0, "mm")
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            within(&kind("hook-and-loop-seat", "length_mm"), length_mm, 8.0..=200.0, "mm")?;
            within(&kind("hook-and-loop-seat", "width_mm"), width_mm, 8.0..=120.0, "mm")?;
            within(&kind("hook-and-loop-seat", "depth_mm"), depth_mm, 0.2..=3.0, "mm")
        }
    }
}

fn check_mark(n: usize, mark: &Mark) -> Result<(), SettingOutOfRange> {
    let path = |field: &str| format!("marks[{n}].{field}");
    let letters = mark.text.chars().count();
    if letters == 0 || letters > LONGEST_TEXT || mark.text.chars().any(char::is_control) {
        let allowed = format!("1 to {LONGEST_TEXT} letters or figures on one line");
        return Err(refuse(&path("text"), format!("{:?}", mark.text), allowed));
    }
    within(&path("height_mm"), mark.height_mm, 4.0..=80.0, "mm")?;
    within(&path("relief_mm"), mark.relief_mm, -2.0..=3.0, "mm")?;
    within(&path("turn_deg"), mark.turn_deg, -360.0..=360.0, "degrees")?;
    check_point(&path("at_mm"), &mark.at_mm)
}

fn check_point(field: &str, point: &nalgebra::Point3<f32>) -> Result<(), SettingOutOfRange> {
    point.iter().enumerate().try_for_each(|(axis, value)| {
        within(&format!("{field}[{axis}]"), *value, -FARTHEST_MM..=FARTHEST_MM, "mm from the middle of the limb")
    })
}

fn within(field: &str, value: f32, range: RangeInclusive<f32>, unit: &str) -> Result<(), SettingOutOfRange> {
    // False for what is no number as well.
    if range.contains(&value) {
        return Ok(());
    }
    Err(refuse(field, value, format!("between {} and {} {unit}", range.start(), range.end())))
}

fn refuse(field: &str, value: impl ToString, allowed: String) -> SettingOutOfRange {
    SettingOutOfRange { field: field.into(), value: value.to_string(), allowed }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{RibLayout, Rim};

    #[test]
    fn the_default_design_is_allowed() {
        assert_eq!(Design::default().check(), Ok(()));
    }

    #[test]
    fn what_is_wrong_is_named_with_what_is_allowed() {
        let say = |design: Design| design.check().unwrap_err().to_string();
        let thick = Design { thickness_mm: 12.0, ..Design::default() };
        assert_eq!(say(thick), "thickness_mm is 12, but must be between 0.8 and 10 mm");
        let nan = Design { gap_mm: f32::NAN, ..Design::default() };
        assert_eq!(say(nan), "gap_mm is NaN, but must be between 0 and 20 mm");
        let round = Design { rim: Rim { round_mm: 1.6, ..Rim::default() }, ..Design::default() };
        assert_eq!(
            say(round),
            "rim.round_mm is 1.6, but must be at most half the thickness, 1.5 mm: that is a full round"
        );
        let ribs = Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 7.0 };
        let tight = Design { ribs: Some(ribs), ..Design::default() };
        assert_eq!(say(tight), "ribs.spacing_mm is 7, but must be at least the width plus 4, 8 mm");
        let mark = Mark {
            text: String::new(),
            height_mm: 20.0,
            relief_mm: 1.0,
            at_mm: nalgebra::Point3::origin(),
            turn_deg: 0.0,
        };
        let empty = Design { marks: vec![mark], ..Design::default() };
        assert!(say(empty).starts_with("marks[0].text is \"\", but must be 1 to 24 letters"));
    }
}
