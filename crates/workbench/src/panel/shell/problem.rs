//! Where in the panel a problem of the shell is shown, and in which words.

use session::Problem;

use crate::state::shell::Item;

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
    use nalgebra::Point3;
    use shell::limits;

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
}
