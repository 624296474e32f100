//! Where in the panel a problem of the shell is shown.

use session::Problem;
use shell::{Design, Fitting};

use crate::state::shell::Item;

/// Settings of the shell that have a place of their own in the panel.
const FIELDS: [&str; 16] = [
    "thickness_mm",
    "gap_mm",
    "rim.round_mm",
    "rim.flare_mm",
    "rim.flare_width_mm",
    "rim.bead_mm",
    "ribs.layout",
    "ribs.height_mm",
    "ribs.width_mm",
    "ribs.spacing_mm",
    "vents.kind",
    "vents.size_mm",
    "vents.ligament_mm",
    "vents.rim_distance_mm",
    "vents.grade_percent",
    "vents.open_percent",
];

/// Where in the panel a problem is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Home {
    /// At a setting.
    Setting(&'static str),
    /// At a thing on the shell.
    Item(Item),
    /// At the top.
    Top,
}

/// The place of a problem of a design in the panel, by the path of its setting.
pub fn home(problem: &Problem, design: &Design) -> Home {
    let Some(path) = problem.setting.as_deref() else { return Home::Top };
    let begins = |part: &str| path.starts_with(&format!("shell.{part}"));
    if let Some(field) = FIELDS.into_iter().find(|field| path == format!("shell.{field}")) {
        return Home::Setting(field);
    }
    if let Some(n) = (0..design.fittings.len()).find(|n| begins(&format!("fittings[{n}]"))) {
        return Home::Item(Item::Fitting(n));
    }
    if let Some(n) = (0..design.marks.len()).find(|n| begins(&format!("marks[{n}]"))) {
        return Home::Item(Item::Mark(n));
    }
    if let Some(n) = (0..design.pictures.len()).find(|n| begins(&format!("pictures[{n}]"))) {
        return Home::Item(Item::Picture(n));
    }
    if begins("strap_pull_n") {
        // It stands with the slots that follow.
        return design
            .fittings
            .iter()
            .position(Fitting::is_following)
            .map_or(Home::Top, |n| Home::Item(Item::Fitting(n)));
    }
    if begins("ribs") {
        Home::Setting("ribs.layout")
    } else if begins("vents") {
        Home::Setting("vents.kind")
    } else {
        Home::Top
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;
    use shell::{FittingKind, Mark, Picture, Tones, limits};

    /// A design with a dozen of each thing.
    fn design() -> Design {
        let (at_mm, turn_deg) = (Point3::origin(), 0.0);
        let kind = FittingKind::TieSlot { tie_mm: 6.0, bridge_mm: 6.0 };
        let mark = Mark {
            text: "23".to_owned(),
            height_mm: 16.0,
            relief_mm: 0.8,
            at_mm,
            turn_deg,
            kind: shell::MarkKind::Relief,
        };
        let tones = Tones { columns: 2, values: vec![255; 4] };
        let picture = Picture { name: "crest".to_owned(), width_mm: 20.0, relief_mm: 0.8, at_mm, turn_deg, tones };
        Design {
            fittings: vec![Fitting { kind, at_mm, turn_deg, follows: false }; 12],
            marks: vec![mark; 12],
            pictures: vec![picture; 12],
            ..Design::default()
        }
    }

    fn home_of(setting: &str) -> Home {
        home(&Problem { setting: Some(setting.to_owned()), ..Problem::plain("") }, &design())
    }

    #[test]
    fn every_number_of_a_design_has_a_home_in_the_panel() {
        for limit in limits::ALL {
            for n in [1, 11] {
                let path = limit.field.replacen("[]", &format!("[{n}]"), 1);
                let expected = if path.starts_with("fittings") {
                    Home::Item(Item::Fitting(n))
                } else if path.starts_with("marks") {
                    Home::Item(Item::Mark(n))
                } else if path.starts_with("pictures") {
                    Home::Item(Item::Picture(n))
                } else if path == "strap_pull_n" {
                    Home::Top
                } else {
                    Home::Setting(limit.field)
                };
                assert_eq!(home_of(&format!("shell.{path}")), expected, "{path}");
            }
        }
        assert_eq!(home_of("shell.vents.field_of_tomorrow"), Home::Setting("vents.kind"));
        assert_eq!(home_of("shell.fittings[12].at_mm"), Home::Top, "one that has gone meanwhile");
        assert_eq!(home_of("zone"), Home::Top);
        assert_eq!(home(&Problem::plain("The disk is full."), &design()), Home::Top);
    }
}
