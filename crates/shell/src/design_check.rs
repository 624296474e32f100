//! Whether every number of a design is allowed by [`limits`]: for the file, the command line, the window and for what
//! places fittings, marks and patterns.

use nalgebra::Point3;

use crate::fitting::unwritable;
use crate::limits::{self, Limit, refused};
use crate::{Design, Fitting, FittingKind, Mark, Ribs, Rim, ShellError, Vents};

/// A number of the design that is not allowed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{field} is {value}, but must be {allowed}.")]
pub struct SettingOutOfRange {
    /// Path of the field inside the design, such as `vents.size_mm` or `fittings[2].kind.strap-slot.strap_mm`.
    pub field: String,
    /// What it is.
    pub value: String,
    /// What is allowed, in words.
    pub allowed: String,
}

impl SettingOutOfRange {
    /// The same as a shell that cannot be built.
    pub(crate) fn at(self, place: Point3<f32>) -> ShellError {
        ShellError::CannotBuild {
            setting: format!("shell.{}", self.field),
            place,
            what: format!("it is {}, but must be {}", self.value, self.allowed),
            cure: "Set it to a value that is allowed.".to_owned(),
        }
    }
}

type Checked = Result<(), SettingOutOfRange>;

impl Design {
    /// Whether every number is in its range. What passes is never refused for its values when the shell is built, only
    /// for the room that it finds on the limb.
    ///
    /// # Errors
    /// The first field that is not.
    pub fn check(&self) -> Result<(), SettingOutOfRange> {
        within(&limits::GAP, None, self.gap_mm)?;
        within(&limits::THICKNESS, None, self.thickness_mm)?;
        check_rim(self, &self.rim)?;
        self.ribs.as_ref().map_or(Ok(()), check_ribs)?;
        self.vents.as_ref().map_or(Ok(()), check_vents)?;
        self.fittings.iter().enumerate().try_for_each(|(n, fitting)| check_fitting(self, n, fitting))?;
        self.marks.iter().enumerate().try_for_each(|(n, mark)| check_mark(self, n, mark))
    }
}

fn check_rim(design: &Design, rim: &Rim) -> Checked {
    within(&limits::ROUND, None, rim.round_mm)?;
    at_most(&limits::ROUND, None, rim.round_mm, limits::most_round_mm(design), "half the thickness: a full round")?;
    within(&limits::FLARE, None, rim.flare_mm)?;
    within(&limits::FLARE_WIDTH, None, rim.flare_width_mm)
}

pub(crate) fn check_ribs(ribs: &Ribs) -> Checked {
    within(&limits::RIB_HEIGHT, None, ribs.height_mm)?;
    within(&limits::RIB_WIDTH, None, ribs.width_mm)?;
    within(&limits::RIB_SPACING, None, ribs.spacing_mm)?;
    at_least(&limits::RIB_SPACING, None, ribs.spacing_mm, limits::least_rib_spacing_mm(ribs), "the width plus 4 mm")
}

pub(crate) fn check_vents(vents: &Vents) -> Checked {
    within(&limits::VENT_SIZE, None, vents.size_mm)?;
    within(&limits::VENT_LIGAMENT, None, vents.ligament_mm)?;
    within(&limits::VENT_RIM_DISTANCE, None, vents.rim_distance_mm)
}

/// Checks fitting `n` of a design.
pub(crate) fn check_fitting(design: &Design, n: usize, fitting: &Fitting) -> Checked {
    check_point(&limits::FITTING_AT, n, &fitting.at_mm)?;
    let n = Some(n);
    within(&limits::FITTING_TURN, n, fitting.turn_deg)?;
    match fitting.kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            within(&limits::STRAP, n, strap_mm)?;
            within(&limits::STRAP_OPENING, n, opening_mm)
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            within(&limits::LACE_COUNT, n, count as f32)?;
            within(&limits::LACE_HOLE, n, hole_mm)?;
            within(&limits::LACE_PITCH, n, pitch_mm)?;
            let least = limits::least_lace_pitch_mm(hole_mm);
            at_least(&limits::LACE_PITCH, n, pitch_mm, least, "the hole plus 1.6 mm of wall")
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            within(&limits::TIE, n, tie_mm)?;
            within(&limits::TIE_BRIDGE, n, bridge_mm)
        }
        FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm } => {
            within(&limits::STITCH_HOLE, n, hole_mm)?;
            within(&limits::STITCH_PITCH, n, pitch_mm)?;
            let least = limits::least_stitch_pitch_mm(hole_mm);
            at_least(&limits::STITCH_PITCH, n, pitch_mm, least, "the hole plus 2 mm")?;
            within(&limits::STITCH_INSET, n, inset_mm)?;
            let least = limits::least_stitch_inset_mm(hole_mm, design);
            let why = "half the hole, 1.6 mm of wall and rim.round_mm together";
            at_least(&limits::STITCH_INSET, n, inset_mm, least, why)
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            within(&limits::SEAT_LENGTH, n, length_mm)?;
            within(&limits::SEAT_WIDTH, n, width_mm)?;
            within(&limits::SEAT_DEPTH, n, depth_mm)?;
            let most = limits::most_sunk_mm(design);
            if most < limits::SEAT_DEPTH.least - ROUNDING_MM {
                let allowed = "left out with its seat, or thickness_mm at least 1: 0.8 mm must stay under it".into();
                return Err(refuse(&limits::SEAT_DEPTH, n, format!("{depth_mm:.1}"), allowed));
            }
            let why = "thickness_mm less the 0.8 mm that must stay under it";
            at_most(&limits::SEAT_DEPTH, n, depth_mm, most, why)
        }
    }
}

/// Checks mark `n` of a design.
pub(crate) fn check_mark(design: &Design, n: usize, mark: &Mark) -> Checked {
    let letters = mark.text.chars().count();
    let text = |allowed: String| {
        Err(SettingOutOfRange {
            field: format!("marks[{n}].text"),
            value: format!("“{}”", plain_json::short(&mark.text)),
            allowed,
        })
    };
    if letters == 0 || letters > limits::LONGEST_TEXT || mark.text.chars().any(char::is_control) {
        return text(format!("1 to {} letters or figures on one line", limits::LONGEST_TEXT));
    }
    if let Some(why) = unwritable(&mark.text) {
        return text(format!("letters, figures and common signs ({why})"));
    }
    check_point(&limits::MARK_AT, n, &mark.at_mm)?;
    let n = Some(n);
    within(&limits::MARK_HEIGHT, n, mark.height_mm)?;
    within(&limits::MARK_TURN, n, mark.turn_deg)?;
    within(&limits::MARK_RELIEF, n, mark.relief_mm)?;
    let why = "sunk no deeper than thickness_mm less the 0.8 mm that must stay under it";
    at_least(&limits::MARK_RELIEF, n, mark.relief_mm, -limits::most_sunk_mm(design), why)?;
    if mark.relief_mm.abs() < limits::LEAST_RELIEF_MM {
        let allowed = "at least 0.2 raised or −0.2 sunk, in mm: less is less than a layer".into();
        let shown = f64::from((mark.relief_mm * 10.0).trunc()) / 10.0;
        return Err(refuse(&limits::MARK_RELIEF, n, shown.to_string(), allowed));
    }
    Ok(())
}

fn check_point(limit: &Limit, n: usize, point: &Point3<f32>) -> Checked {
    point.iter().enumerate().try_for_each(|(axis, value)| {
        if limit.allows(*value) {
            return Ok(());
        }
        let said = refused(*value, limit.least, limit.most);
        let mut wrong = refuse(limit, Some(n), said, format!("{} from the middle of the limb", words(limit)));
        wrong.field = wrong.field.replacen("[]", &format!("[{axis}]"), 1);
        Err(wrong)
    })
}

fn within(limit: &Limit, n: Option<usize>, value: f32) -> Checked {
    if limit.allows(value) {
        return Ok(());
    }
    Err(refuse(limit, n, refused(value, limit.least, limit.most), words(limit)))
}

/// A value in its range that must also be at least something that depends on another setting.
fn at_least(limit: &Limit, n: Option<usize>, value: f32, least: f32, what: &str) -> Checked {
    // Sums of f32 may be off in the last place.
    if value >= least - ROUNDING_MM {
        return Ok(());
    }
    let shown = (tenths(least) - 1e-3).ceil() / 10.0;
    Err(refuse(limit, n, refused(value, least, limit.most), format!("at least {shown} {}, {what}", limit.unit)))
}

fn at_most(limit: &Limit, n: Option<usize>, value: f32, most: f32, what: &str) -> Checked {
    if value <= most + ROUNDING_MM {
        return Ok(());
    }
    let shown = (tenths(most) + 1e-3).floor() / 10.0;
    Err(refuse(limit, n, refused(value, limit.least, most), format!("at most {shown} {}, {what}", limit.unit)))
}

/// In tenths of a millimetre, without the last places of a sum.
fn tenths(mm: f32) -> f64 {
    (f64::from(mm) * 1000.0).round() / 100.0
}

/// Sums of settings differ by less than this from what was meant, mm.
const ROUNDING_MM: f32 = 1e-5;

fn words(limit: &Limit) -> String {
    format!("between {} and {} {}", limit.least, limit.most, limit.unit).trim_end().to_owned()
}

fn refuse(limit: &Limit, n: Option<usize>, value: String, allowed: String) -> SettingOutOfRange {
    let field = n.map_or_else(|| limit.field.to_owned(), |n| limit.field.replacen("[]", &format!("[{n}]"), 1));
    SettingOutOfRange { field, value, allowed }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::RibLayout;

    #[test]
    fn the_default_design_is_allowed() {
        assert_eq!(Design::default().check(), Ok(()));
    }

    #[test]
    fn what_is_wrong_is_named_with_what_is_allowed() {
        let say = |design: Design| design.check().unwrap_err().to_string();
        let thick = Design { thickness_mm: 12.0, ..Design::default() };
        assert_eq!(say(thick), "thickness_mm is 12, but must be between 0.8 and 10 mm.");
        let nan = Design { gap_mm: f32::NAN, ..Design::default() };
        assert_eq!(say(nan), "gap_mm is NaN, but must be between 0 and 20 mm.");
        let round = Design { rim: Rim { round_mm: 1.6, ..Rim::default() }, ..Design::default() };
        assert_eq!(say(round), "rim.round_mm is 1.6, but must be at most 1.5 mm, half the thickness: a full round.");
        let ribs = Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 7.0 };
        let tight = Design { ribs: Some(ribs), ..Design::default() };
        assert_eq!(say(tight), "ribs.spacing_mm is 7, but must be at least 8 mm, the width plus 4 mm.");
        let fitted = |kind: FittingKind, thickness_mm: f32| Design {
            thickness_mm,
            rim: Rim { round_mm: 0.4, ..Rim::default() },
            fittings: vec![Fitting { kind, at_mm: Point3::origin(), turn_deg: 0.0 }],
            ..Design::default()
        };
        let holes = FittingKind::StitchHoles { hole_mm: 2.0, pitch_mm: 6.0, inset_mm: 2.8 };
        assert_eq!(
            say(fitted(holes, 3.0)),
            "fittings[0].kind.stitch-holes.inset_mm is 2.8, but must be at least 3 mm, half the hole, 1.6 mm of wall and \
             rim.round_mm together."
        );
        let seat = FittingKind::HookAndLoopSeat { length_mm: 20.0, width_mm: 20.0, depth_mm: 0.9 };
        assert!(
            say(fitted(seat.clone(), 1.6)).contains("depth_mm is 0.9, but must be at most 0.8 mm, thickness_mm less")
        );
        assert!(say(fitted(seat, 0.9)).contains("left out with its seat, or thickness_mm at least 1"));
    }

    #[test]
    fn marks_that_cannot_be_written_are_refused() {
        let say = |text: &str, relief_mm: f32, thickness_mm: f32| {
            let text = text.to_owned();
            let mark = Mark { text, height_mm: 20.0, relief_mm, at_mm: Point3::origin(), turn_deg: 0.0 };
            let rim = Rim { round_mm: 0.4, ..Rim::default() };
            Design { marks: vec![mark], thickness_mm, rim, ..Design::default() }.check().unwrap_err().to_string()
        };
        assert!(say("", 1.0, 3.0).starts_with("marks[0].text is “”, but must be 1 to 24 letters"));
        assert!(say("漢7", 1.0, 3.0).contains("漢 (U+6F22)"));
        assert!(say("  ", 1.0, 3.0).contains("nothing to write"));
        assert!(say("7", 0.1, 3.0).contains("relief_mm is 0.1, but must be at least 0.2 raised"));
        assert!(say("7", -0.6, 1.2).contains("relief_mm is -0.6, but must be at least -0.4 mm"));
    }
}
