//! Whether every number of a design is allowed by [`limits`]: for the file, the command line, the window and for what
//! places fittings, marks and patterns.

use nalgebra::Point3;

use crate::fitting::unwritable;
use crate::limits::{self, Limit, refused};
use crate::{Design, Fitting, FittingKind, Mark, MarkKind, Picture, Ribs, Rim, ShellError, Vents};

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
    /// The nearest number that is allowed, with its unit; nothing where no number would do.
    pub nearest: Option<String>,
}

impl SettingOutOfRange {
    fn nearest_mm(self, mm: f64) -> Self {
        Self { nearest: Some(format!("{mm} mm")), ..self }
    }

    /// The same as a shell that cannot be built.
    pub(crate) fn at(self, place: Point3<f32>) -> ShellError {
        ShellError::CannotBuild {
            setting: format!("shell.{}", self.field),
            place,
            what: format!("it is {}, but must be {}", self.value, self.allowed),
            cure: self.nearest.map_or_else(|| "Change it.".to_owned(), |nearest| format!("Set it to {nearest}.")),
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
        within(&limits::STRAP_PULL, None, self.strap_pull_n)?;
        self.fittings.iter().enumerate().try_for_each(|(n, fitting)| check_fitting(self, n, fitting))?;
        self.marks.iter().enumerate().try_for_each(|(n, mark)| check_mark(self, n, mark))?;
        self.pictures.iter().enumerate().try_for_each(|(n, picture)| check_picture(n, picture))
    }
}

fn check_rim(design: &Design, rim: &Rim) -> Checked {
    let limit = limits::ROUND;
    let most = limits::most_round_mm(design);
    if most < limit.most && rim.round_mm > most + ROUNDING_MM {
        let wall = hundredths(design.thickness_mm);
        let mut allowed = format!("between 0 and {} mm, half of the {wall} mm wall (thickness_mm)", down(most));
        // The wall may be what was changed, so that way out is told too.
        if limit.allows(rim.round_mm) {
            allowed += &format!(", or the wall must be at least {} mm", up(2.0 * rim.round_mm));
        }
        return Err(refuse(&limit, None, refused(rim.round_mm, limit.least, most), allowed).nearest_mm(down(most)));
    }
    within(&limit, None, rim.round_mm)?;
    within(&limits::FLARE, None, rim.flare_mm)?;
    within(&limits::FLARE_WIDTH, None, rim.flare_width_mm)?;
    let least = limits::least_flare_width_mm(rim.flare_mm);
    let why = format!("twice the lift of {} mm (rim.flare_mm): steeper, the rim would tear", hundredths(rim.flare_mm));
    at_least(&limits::FLARE_WIDTH, None, rim.flare_width_mm, least, &why)?;
    within(&limits::BEAD, None, rim.bead_mm)
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
    within(&limits::VENT_RIM_DISTANCE, None, vents.rim_distance_mm)?;
    within(&limits::VENT_GRADE, None, vents.grade_percent)?;
    vents.open_percent.map_or(Ok(()), |percent| within(&limits::VENT_OPEN, None, percent))
}

/// Checks fitting `n` of a design.
pub(crate) fn check_fitting(design: &Design, n: usize, fitting: &Fitting) -> Checked {
    check_point(&limits::FITTING_AT, n, &fitting.at_mm)?;
    let n = Some(n);
    within(&limits::FITTING_TURN, n, fitting.turn_deg)?;
    match fitting.kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => {
            within(&limits::STRAP, n, strap_mm).map_err(|wrong| {
                let [narrow, middle, wide] = limits::STRAP_WIDTHS_MM;
                let allowed = format!("{}; usual straps are {narrow}, {middle} or {wide} mm wide", wrong.allowed);
                SettingOutOfRange { allowed, ..wrong }
            })?;
            within(&limits::STRAP_OPENING, n, opening_mm)
        }
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => {
            within(&limits::LACE_COUNT, n, count as f32)?;
            within(&limits::LACE_HOLE, n, hole_mm)?;
            within(&limits::LACE_PITCH, n, pitch_mm)?;
            let least = limits::least_lace_pitch_mm(hole_mm);
            at_least(&limits::LACE_PITCH, n, pitch_mm, least, "the hole and the 1.6 mm that must stay beside it")
        }
        FittingKind::TieSlot { tie_mm, bridge_mm } => {
            within(&limits::TIE, n, tie_mm)?;
            within(&limits::TIE_BRIDGE, n, bridge_mm)
        }
        FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm } => {
            within(&limits::STITCH_HOLE, n, hole_mm)?;
            within(&limits::STITCH_PITCH, n, pitch_mm)?;
            let least = limits::least_stitch_pitch_mm(hole_mm);
            at_least(&limits::STITCH_PITCH, n, pitch_mm, least, "the hole and the 2 mm that must stay beside it")?;
            within(&limits::STITCH_INSET, n, inset_mm)?;
            let least = limits::least_stitch_inset_mm(hole_mm, design);
            let why = format!(
                "half the hole, the 1.6 mm that must stay beside it and the {} mm rounding of the rim (rim.round_mm)",
                hundredths(design.rim.round_mm)
            );
            at_least(&limits::STITCH_INSET, n, inset_mm, least, &why)
        }
        FittingKind::HookAndLoopSeat { length_mm, width_mm, depth_mm } => {
            within(&limits::SEAT_LENGTH, n, length_mm)?;
            within(&limits::SEAT_WIDTH, n, width_mm)?;
            within(&limits::SEAT_DEPTH, n, depth_mm)?;
            let most = limits::most_sunk_mm(design);
            let wall = hundredths(design.thickness_mm);
            let why = format!("as 0.8 mm of the {wall} mm wall (thickness_mm) must stay under it");
            at_most(&limits::SEAT_DEPTH, n, depth_mm, most, &why)
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
            nearest: None,
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
    if mark.kind == MarkKind::CutThrough {
        return Ok(());
    }
    let wall = hundredths(design.thickness_mm);
    let why = format!("as 0.8 mm of the {wall} mm wall (thickness_mm) must stay under what is sunk");
    at_least(&limits::MARK_RELIEF, n, mark.relief_mm, -limits::most_sunk_mm(design), &why)?;
    if mark.kind == MarkKind::Inlay {
        let why = "as an inlay is sunk by at least two layers";
        at_most(&limits::MARK_RELIEF, n, mark.relief_mm, -limits::LEAST_INLAY_MM, why)?;
    }
    if mark.relief_mm.abs() < limits::LEAST_RELIEF_MM {
        let allowed = "at least 0.2 raised or −0.2 sunk, in mm: less is less than a layer".into();
        let shown = f64::from((mark.relief_mm * 10.0).trunc()) / 10.0;
        let nearest = if mark.relief_mm < 0.0 { -0.2 } else { 0.2 };
        return Err(refuse(&limits::MARK_RELIEF, n, shown.to_string(), allowed).nearest_mm(nearest));
    }
    Ok(())
}

/// Checks picture `n` of a design.
pub(crate) fn check_picture(n: usize, picture: &Picture) -> Checked {
    let refused = |field: &str, value: String, allowed: String| {
        Err(SettingOutOfRange { field: format!("pictures[{n}].{field}"), value, allowed, nearest: None })
    };
    let letters = picture.name.chars().count();
    if letters == 0 || letters > limits::LONGEST_TEXT || picture.name.chars().any(char::is_control) {
        let allowed = format!("1 to {} letters or figures on one line", limits::LONGEST_TEXT);
        return refused("name", format!("“{}”", plain_json::short(&picture.name)), allowed);
    }
    if let Some(allowed) = picture.tones.fault() {
        let (count, columns) = (picture.tones.values.len(), picture.tones.columns);
        return refused("tones", format!("{count} shades in rows of {columns}"), allowed.to_owned());
    }
    check_point(&limits::PICTURE_AT, n, &picture.at_mm)?;
    let n = Some(n);
    within(&limits::PICTURE_WIDTH, n, picture.width_mm)?;
    within(&limits::PICTURE_RELIEF, n, picture.relief_mm)?;
    within(&limits::PICTURE_TURN, n, picture.turn_deg)
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
    let nearest = value.is_finite().then(|| format!("{} {}", limit.clamp(value), limit.unit).trim_end().to_owned());
    let wrong = refuse(limit, n, refused(value, limit.least, limit.most), words(limit));
    Err(SettingOutOfRange { nearest, ..wrong })
}

/// A value in its range that must also be at least something that depends on another setting.
fn at_least(limit: &Limit, n: Option<usize>, value: f32, least: f32, what: &str) -> Checked {
    // Sums of f32 may be off in the last place.
    if value >= least - ROUNDING_MM {
        return Ok(());
    }
    let allowed = format!("at least {} {}, {what}", up(least), limit.unit);
    Err(refuse(limit, n, refused(value, least, limit.most), allowed).nearest_mm(up(least)))
}

fn at_most(limit: &Limit, n: Option<usize>, value: f32, most: f32, what: &str) -> Checked {
    if value <= most + ROUNDING_MM {
        return Ok(());
    }
    let allowed = format!("at most {} {}, {what}", down(most), limit.unit);
    Err(refuse(limit, n, refused(value, limit.least, most), allowed).nearest_mm(down(most)))
}

/// In tenths of a millimetre, without the last places of a sum.
fn tenths(mm: f32) -> f64 {
    (f64::from(mm) * 1000.0).round() / 100.0
}

/// Rounded up to a tenth of a millimetre.
pub(crate) fn up(mm: f32) -> f64 {
    (tenths(mm) - 1e-3).ceil() / 10.0
}

/// Rounded down to a tenth of a millimetre.
pub(crate) fn down(mm: f32) -> f64 {
    (tenths(mm) + 1e-3).floor() / 10.0
}

/// A setting as it is told beside others: a slider leaves many more places.
fn hundredths(mm: f32) -> f64 {
    (f64::from(mm) * 100.0).round() / 100.0
}

/// Sums of settings differ by less than this from what was meant, mm.
const ROUNDING_MM: f32 = 1e-5;

fn words(limit: &Limit) -> String {
    format!("between {} and {} {}", limit.least, limit.most, limit.unit).trim_end().to_owned()
}

fn refuse(limit: &Limit, n: Option<usize>, value: String, allowed: String) -> SettingOutOfRange {
    let field = n.map_or_else(|| limit.field.to_owned(), |n| limit.field.replacen("[]", &format!("[{n}]"), 1));
    SettingOutOfRange { field, value, allowed, nearest: None }
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
        let fitted = |kind: FittingKind, thickness_mm: f32| Design {
            thickness_mm,
            rim: Rim { round_mm: 0.4, ..Rim::default() },
            fittings: vec![Fitting { kind, at_mm: Point3::origin(), turn_deg: 0.0, follows: false }],
            ..Design::default()
        };
        let thick = Design { thickness_mm: 12.0, ..Design::default() };
        assert_eq!(say(thick), "thickness_mm is 12, but must be between 1 and 10 mm.");
        let nan = Design { gap_mm: f32::NAN, ..Design::default() };
        assert_eq!(say(nan), "gap_mm is NaN, but must be between 0 and 20 mm.");
        let round = Design { rim: Rim { round_mm: 1.6, ..Rim::default() }, ..Design::default() };
        assert_eq!(
            say(round),
            "rim.round_mm is 1.6, but must be between 0 and 1.5 mm, half of the 3 mm wall (thickness_mm), or the wall \
             must be at least 3.2 mm."
        );
        let far = Design { rim: Rim { round_mm: 9.0, ..Rim::default() }, ..Design::default() };
        assert_eq!(far.check().unwrap_err().nearest.as_deref(), Some("1.5 mm"), "not the 5 mm of a thick wall");
        let wide = fitted(FittingKind::StrapSlot { strap_mm: 130.0, opening_mm: 4.0 }, 3.0).check().unwrap_err();
        assert_eq!(wide.nearest.as_deref(), Some("120 mm"));
        assert!(wide.allowed.ends_with("usual straps are 25, 38 or 50 mm wide"), "{wide}");
        let ribs = Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 7.0 };
        let tight = Design { ribs: Some(ribs), ..Design::default() };
        assert_eq!(say(tight), "ribs.spacing_mm is 7, but must be at least 8 mm, the width plus 4 mm.");
        let holes = FittingKind::StitchHoles { hole_mm: 2.0, pitch_mm: 6.0, inset_mm: 2.8 };
        assert_eq!(
            say(fitted(holes, 3.0)),
            "fittings[0].kind.stitch-holes.inset_mm is 2.8, but must be at least 3 mm, half the hole, the 1.6 mm that must \
             stay beside it and the 0.4 mm rounding of the rim (rim.round_mm)."
        );
        let seat = FittingKind::HookAndLoopSeat { length_mm: 20.0, width_mm: 20.0, depth_mm: 0.9 };
        assert!(
            say(fitted(seat, 1.6)).contains("depth_mm is 0.9, but must be at most 0.8 mm, as 0.8 mm of the 1.6 mm")
        );
    }

    #[test]
    fn marks_that_cannot_be_written_are_refused() {
        let say = |text: &str, relief_mm: f32, thickness_mm: f32| {
            let text = text.to_owned();
            let mark = Mark {
                text,
                height_mm: 20.0,
                relief_mm,
                at_mm: Point3::origin(),
                turn_deg: 0.0,
                kind: MarkKind::Relief,
            };
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
