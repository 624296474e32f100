//! The figures of the filaments for this guard, side by side.

use bevy_egui::egui::Ui;
use engine::{StrengthReport, StrengthRow};
use mechanics::answer::{Ranged, Weak};
use mechanics::bare::Bare;
use mechanics::{MaterialRow, MaterialTable};
use print::words::two_digits;

use crate::look::{self, Bar};

/// What is shown: what the blow does, once that is known, and of another wall that is weighed.
pub struct Shown<'a> {
    /// What the guard weighs and costs.
    pub table: &'a MaterialTable,
    /// What the blow does to it.
    pub strength: Option<&'a StrengthReport>,
    /// The same for another wall.
    pub other: Option<&'a StrengthReport>,
    /// The filament that is chosen.
    pub chosen: &'a str,
}

/// One line of a chart: value, range and text.
struct Line {
    value: f64,
    range: Option<[f64; 2]>,
    text: String,
}

impl Shown<'_> {
    /// Bars of one figure of what the blow does, one a filament, then `more`.
    fn struck(
        &self,
        ui: &mut Ui,
        title: &str,
        of: impl Fn(&StrengthRow) -> Ranged,
        told: impl Fn(f64) -> String,
        more: Vec<Bar>,
    ) {
        look::section(ui, title);
        let mut lines: Vec<Bar> = Vec::new();
        for (n, row) in self.table.rows.iter().enumerate() {
            let known = self.strength.and_then(|report| report.rows.get(n)).map(&of);
            let then = self.other.and_then(|report| report.rows.get(n)).map(&of);
            let line = match (then, known) {
                (Some(then), known) => {
                    Line { value: then.value, range: None, text: told(then.value) + &change(then.value, known) }
                }
                (None, Some(Ranged { value, low, high })) => {
                    Line { value, range: (low < high).then_some([low, high]), text: told(value) }
                }
                (None, None) => Line { value: 0.0, range: None, text: "…".to_owned() },
            };
            let Line { value, range, text } = line;
            lines.push(Bar { name: row.name.clone(), value, text, range, chosen: row.name == self.chosen });
        }
        lines.extend(more);
        drawn(ui, &lines);
    }

    /// Bars of one figure of the filaments themselves.
    fn weighed(&self, ui: &mut Ui, title: &str, of: impl Fn(usize, &MaterialRow) -> (f64, String)) {
        look::section(ui, title);
        let line = |(n, row): (usize, &MaterialRow)| {
            let (value, text) = of(n, row);
            Bar { name: row.name.clone(), value, text, range: None, chosen: row.name == self.chosen }
        };
        drawn(ui, &self.table.rows.iter().enumerate().map(line).collect::<Vec<_>>());
    }

    /// The other wall's weight over that of this one, by what is computed on.
    fn heavier(&self, n: usize) -> Option<f64> {
        let grams = |report: &StrengthReport| report.rows.get(n).map(|row| row.grams);
        Some(grams(self.other?)? / grams(self.strength?)?)
    }
}

fn drawn(ui: &mut Ui, lines: &[Bar]) {
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        look::bars(ui, lines);
    });
}

fn change(now: f64, then: Option<Ranged>) -> String {
    let then = then.filter(|then| then.value > 0.0);
    then.map_or_else(String::new, |then| format!("  ({:+.0} %)", 100.0 * (now / then.value - 1.0)))
}

/// Shows all figures.
pub fn show(ui: &mut Ui, shown: &Shown<'_>) {
    let told = |unit: &'static str| move |value: f64| format!("{} {unit}", two_digits(value));
    let spare = |value: f64| format!("{} ×{}", two_digits(value), if value < 1.0 { ", gives way" } else { "" });
    shown.struck(ui, "Times to spare in this blow", |row| row.answer.spare, spare, Vec::new());
    let without = shown.strength.map(|report| report.without);
    let bare = |name: &str, bare: Option<Bare>, of: fn(&Bare) -> f64, unit: &str| {
        let value = bare.as_ref().map_or(0.0, of);
        let text = bare.map_or_else(|| "…".to_owned(), |_| format!("{} {unit}", two_digits(value)));
        Bar { name: name.to_owned(), value, text, range: None, chosen: false }
    };
    let alone = without.and_then(|without| without.foam_alone);
    let pressed = vec![
        bare("Foam alone", alone, |bare| 1e3 * bare.peak_mpa, "kPa"),
        bare("Bare skin", without.and_then(|without| without.bare_skin), |bare| 1e3 * bare.peak_mpa, "kPa"),
    ];
    shown.struck(ui, "Greatest pressure on the skin", |row| row.answer.peak_kpa, told("kPa"), pressed);
    let dents = vec![bare("Foam alone", alone, |bare| bare.way_mm, "mm")];
    shown.struck(ui, "Dent", |row| row.answer.dent_mm, told("mm"), dents);
    shown.struck(ui, "Gives under a hand’s push of 100 N", |row| row.answer.push_mm, told("mm"), Vec::new());
    shown.struck(ui, "Bends a joint by 1° at", |row| row.answer.bending_n_m_per_deg, told("N·m"), Vec::new());
    shown.weighed(ui, "Weight", |n, row| {
        let times = shown.heavier(n).unwrap_or(1.0);
        let more = if shown.other.is_some() { format!("  ({:+.0} %)", 100.0 * (times - 1.0)) } else { String::new() };
        (times * row.grams, format!("{:.0} g{more}", times * row.grams))
    });
    shown.weighed(ui, "Cost of the filament", |_, row| {
        let text = if (row.cost_high - row.cost_low).abs() < 0.005 {
            format!("{:.2} {}", row.cost_high, row.currency)
        } else {
            format!("{:.2} – {:.2} {}", row.cost_low, row.cost_high, row.currency)
        };
        (row.cost_high, text)
    });
    shown.weighed(ui, "Softens at", |_, row| {
        let about = if row.softening_unconfirmed { " (not confirmed)" } else { "" };
        (row.softening_c, format!("{:.0} °C{about}", row.softening_c))
    });
}

/// More of the filament that is chosen.
pub fn of_chosen(ui: &mut Ui, row: Option<&StrengthRow>, name: &str) {
    look::section(ui, &format!("More of {name}"));
    let told = |of: &dyn Fn(&StrengthRow) -> String| row.map_or_else(|| "…".to_owned(), of);
    look::figure(
        ui,
        "Gives way first",
        &told(&|row| match row.answer.weak {
            Weak::AlongLayers => "the plastic".to_owned(),
            Weak::AcrossLayers => "between layers".to_owned(),
        }),
    );
    look::figure(ui, "Force of the blow", &told(&|row| format!("{} N", two_digits(row.answer.force_n.value))));
    look::figure(ui, "Time until then", &told(&|row| format!("{:.1} ms", row.answer.time_ms)));
    let area = |n: usize| move |row: &StrengthRow| format!("{} mm²", two_digits(row.answer.areas_mm2[n]));
    look::figure(ui, "Skin pressed with over half of it", &told(&area(2)));
    look::figure(ui, "Skin pressed with over a tenth", &told(&area(0)));
    look::figure(ui, "Lifts off elsewhere", &told(&|row| format!("{:.1} mm", row.answer.lift_mm)));
    look::figure(
        ui,
        "Strap anchors, to spare",
        &told(&|row| {
            row.answer.strap_spare.map_or_else(|| "no straps".to_owned(), |spare| format!("{} ×", two_digits(spare)))
        }),
    );
    look::figure(
        ui,
        "Sprung on with",
        &told(&|row| match row.answer.springing {
            Some(on) if on.opening_mm > 0.0 => format!("{:.0} N, {:.1} % strain", on.force_n, on.strain_percent),
            _ => "no force".to_owned(),
        }),
    );
}
