//! Shaping the shell by hand: what is chosen on it, what is being placed, and where a problem belongs.

use crate::overlay::Trimming;
use nalgebra::Point3;
use scan::BodySite;
use session::Problem;
use shell::{Design, Fitting, FittingKind, Mark, limits};

/// A thing on the shell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// A fitting, by its number.
    Fitting(usize),
    /// A number or word, by its number.
    Mark(usize),
}

/// What a click on the limb puts there.
#[derive(Debug, Clone, PartialEq)]
pub enum Placing {
    /// A new fitting.
    Fitting(FittingKind),
    /// A new number or word.
    Mark(String),
}

/// State of the shell step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shaping {
    /// The thing whose settings are open.
    pub chosen: Option<Item>,
    /// What the next click places.
    pub placing: Option<Placing>,
    /// It is to be placed in the middle of the stage.
    pub place_here: bool,
    /// What a new number or word says.
    pub text: String,
    /// The hand on the trim line.
    pub trim: Trimming,
}

/// A new fitting of each kind, with usual sizes that the design allows.
pub fn new_fittings(site: BodySite, design: &Design) -> [FittingKind; 5] {
    let (lace_mm, stitch_mm) = (4.0, 2.0);
    [
        FittingKind::StrapSlot { strap_mm: engine::strap_mm_for(site), opening_mm: limits::USUAL_STRAP_OPENING_MM },
        FittingKind::LaceHoles { count: 4, hole_mm: lace_mm, pitch_mm: 12.0 },
        FittingKind::TieSlot { tie_mm: 6.0, bridge_mm: 6.0 },
        FittingKind::StitchHoles {
            hole_mm: stitch_mm,
            pitch_mm: 8.0,
            inset_mm: (limits::least_stitch_inset_mm(stitch_mm, design) + 0.4).max(4.0),
        },
        FittingKind::HookAndLoopSeat {
            length_mm: 50.0,
            width_mm: 25.0,
            depth_mm: limits::most_sunk_mm(design).clamp(limits::SEAT_DEPTH.least, 0.8),
        },
    ]
}

/// What a fitting is called.
pub fn name(kind: &FittingKind) -> String {
    match kind {
        FittingKind::StrapSlot { strap_mm, .. } => format!("Strap slot, {strap_mm} mm"),
        FittingKind::LaceHoles { count, .. } => format!("{count} lace holes"),
        FittingKind::TieSlot { tie_mm, .. } => format!("Tie slots, {tie_mm} mm"),
        FittingKind::StitchHoles { .. } => "Stitch holes".to_owned(),
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => {
            format!("Hook-and-loop, {length_mm} × {width_mm} mm")
        }
        _ => "Fitting".to_owned(),
    }
}

/// Puts a thing on the skin at a place.
pub fn put(design: &mut Design, placing: &Placing, at_mm: Point3<f32>) -> Item {
    match placing {
        Placing::Fitting(kind) => {
            // A strap runs around the limb, so its slot stands along it.
            let turn_deg = if matches!(kind, FittingKind::StitchHoles { .. }) { 0.0 } else { 90.0 };
            design.fittings.push(Fitting { kind: kind.clone(), at_mm, turn_deg });
            Item::Fitting(design.fittings.len() - 1)
        }
        Placing::Mark(text) => {
            design.marks.push(Mark { text: text.clone(), height_mm: 16.0, relief_mm: 0.8, at_mm, turn_deg: 0.0 });
            Item::Mark(design.marks.len() - 1)
        }
    }
}

/// Takes a thing away.
pub fn remove(design: &mut Design, item: Item) {
    match item {
        Item::Fitting(n) if n < design.fittings.len() => {
            design.fittings.remove(n);
        }
        Item::Mark(n) if n < design.marks.len() => {
            design.marks.remove(n);
        }
        _ => {}
    }
}

/// Place and turn of a thing.
pub fn pose(design: &mut Design, item: Item) -> Option<(&mut Point3<f32>, &mut f32)> {
    match item {
        Item::Fitting(n) => design.fittings.get_mut(n).map(|f| (&mut f.at_mm, &mut f.turn_deg)),
        Item::Mark(n) => design.marks.get_mut(n).map(|m| (&mut m.at_mm, &mut m.turn_deg)),
    }
}

/// Settings of the shell that have a place of their own in the panel.
const FIELDS: [&str; 13] = [
    "thickness_mm",
    "gap_mm",
    "rim.round_mm",
    "rim.flare_mm",
    "rim.flare_width_mm",
    "ribs.layout",
    "ribs.height_mm",
    "ribs.width_mm",
    "ribs.spacing_mm",
    "vents.kind",
    "vents.size_mm",
    "vents.ligament_mm",
    "vents.rim_distance_mm",
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

/// The place of a problem in the panel, by the path of its setting.
pub fn home(problem: &Problem) -> Home {
    let Some(path) = problem.setting.as_deref().and_then(|path| path.strip_prefix("shell.")) else { return Home::Top };
    if let Some(field) = FIELDS.into_iter().find(|field| *field == path) {
        return Home::Setting(field);
    }
    let number = |list: &str| path.strip_prefix(list)?.split_once(']')?.0.parse().ok();
    if let Some(n) = number("fittings[") {
        return Home::Item(Item::Fitting(n));
    }
    if let Some(n) = number("marks[") {
        return Home::Item(Item::Mark(n));
    }
    match path.split('.').next() {
        Some("ribs") => Home::Setting("ribs.layout"),
        Some("vents") => Home::Setting("vents.kind"),
        _ => Home::Top,
    }
}

/// The problem's sentence without what the panel shows otherwise: the path of the setting and the place in numbers.
pub fn words(problem: &Problem) -> String {
    let mut text = problem.sentence.clone();
    if let Some(path) = &problem.setting {
        text = text.strip_prefix(&format!("{path}: ")).map_or(text.clone(), str::to_owned);
    }
    if problem.place.is_some()
        && let Some(from) = text.find(" (near x ")
        && let Some(length) = text[from..].find(')')
    {
        text.replace_range(from..=from + length, "");
    }
    for (list, name) in [("fittings[", "fitting "), ("marks[", "mark ")] {
        while let Some(from) = text.find(list) {
            let Some(length) = text[from..].find(']') else { break };
            let number: Option<usize> = text[from + list.len()..from + length].parse().ok();
            text.replace_range(
                from..=from + length,
                &number.map_or_else(|| name.trim().to_owned(), |n| format!("{name}{}", n + 1)),
            );
        }
    }
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn problem(setting: &str, sentence: &str) -> Problem {
        Problem { setting: Some(setting.to_owned()), place: Some(Point3::origin()), ..Problem::plain(sentence) }
    }

    #[test]
    fn every_number_of_a_design_has_a_home_in_the_panel() {
        for limit in limits::ALL {
            let path = limit.field.replace("[]", "[3]");
            let found = home(&problem(&format!("shell.{path}"), ""));
            let expected = if path.starts_with("fittings") {
                Home::Item(Item::Fitting(3))
            } else if path.starts_with("marks") {
                Home::Item(Item::Mark(3))
            } else {
                Home::Setting(limit.field)
            };
            assert_eq!(found, expected, "{path}");
        }
        assert_eq!(home(&problem("shell.vents.field_of_tomorrow", "")), Home::Setting("vents.kind"));
        assert_eq!(home(&problem("zone", "")), Home::Top);
        assert_eq!(home(&Problem::plain("the disk is full")), Home::Top);
    }

    #[test]
    fn a_problem_is_told_without_paths_and_numbers_of_places() {
        let error = shell::ShellError::CannotBuild {
            setting: "shell.fittings[0].at_mm".into(),
            place: Point3::new(1.0, 2.0, 3.0),
            what: "the slot overlaps fittings[1]".into(),
            cure: "Move it.".into(),
        };
        let told = Problem::from(engine::EngineError::from(error));
        assert_eq!(words(&told), "The slot overlaps fitting 2. Move it.");
        assert_eq!(words(&Problem::plain("too thin")), "Too thin");
    }

    #[test]
    fn new_things_are_allowed_on_every_start_and_can_be_taken_away() {
        let sites = [BodySite::Wrist, BodySite::Shin, BodySite::Thigh, BodySite::Other];
        for site in sites {
            for thickness_mm in [1.2, 3.0, 6.0] {
                let mut design = Design { thickness_mm, ..engine::shell_for(site) };
                design.rim.round_mm = 0.5 * thickness_mm;
                for kind in new_fittings(site, &design) {
                    put(&mut design, &Placing::Fitting(kind), Point3::origin());
                }
                let mark = put(&mut design, &Placing::Mark("23".into()), Point3::origin());
                assert_eq!(design.check(), Ok(()), "{site:?} {thickness_mm}");
                assert_eq!((design.fittings.len(), mark), (5, Item::Mark(0)));
                pose(&mut design, Item::Fitting(2)).map(|(_, turn)| *turn = 30.0).unwrap();
                remove(&mut design, Item::Fitting(1));
                assert_eq!((design.fittings.len(), design.fittings[1].turn_deg), (4, 30.0));
                remove(&mut design, Item::Fitting(9));
                assert_eq!(design.fittings.len(), 4);
            }
        }
    }
}
