//! The same guard in each filament, as a table on the page.

use super::Summary;
use super::page::{Page, Style};
use super::sheet::{ACCENT, BODY, HEAD, LABEL, PAPER};
use crate::words;
use mechanics::MaterialRow;
use mechanics::section::ribbed_wall;
use shell::Design;

/// Ground of the row of the chosen filament.
pub(super) const CHOSEN: [u8; 3] = [216, 232, 236];
/// Column headings, and where each column starts as a share of the width.
const COLUMNS: [(&str, f32); 6] = [
    ("Filament", 0.01),
    ("Weight", 0.27),
    ("Cost", 0.355),
    ("Stiffness", 0.535),
    ("Wall for the same stiffness", 0.63),
    ("Softens at", 0.885),
];

/// Height of a row.
fn row_height() -> f32 {
    BODY.line() * 1.25
}

/// Height of the heading and all rows.
pub(super) fn height(summary: &Summary) -> f32 {
    HEAD.line() + row_height() * (1 + summary.materials.rows.len()) as f32 + 3.0
}

/// Draws heading and rows; returns their foot.
pub(super) fn draw(page: &mut Page, summary: &Summary, [x, top]: [f32; 2], width: f32) -> f32 {
    let row = row_height();
    let mut y = page.paragraph(HEAD, x, top, width, "The same shell in each filament") + 2.0;
    page.block(x, y, width, row, ACCENT);
    let white = Style { colour: [255; 3], ..LABEL };
    for (head, at) in COLUMNS {
        page.words(white, x + at * width, y + row * 0.68, head);
    }
    y += row;
    let chosen = summary.chosen();
    for (n, material) in summary.materials.rows.iter().enumerate() {
        let is_chosen = chosen == Some(material);
        if is_chosen {
            page.block(x, y, width, row, CHOSEN);
            page.block(x, y, 2.5, row, ACCENT);
        } else if n % 2 == 1 {
            page.block(x, y, width, row, PAPER);
        }
        for ((_, at), (k, cell)) in COLUMNS.into_iter().zip(cells(material, is_chosen).iter().enumerate()) {
            page.words(if k == 0 || is_chosen { LABEL } else { BODY }, x + at * width, y + row * 0.68, cell);
        }
        y += row;
    }
    y + 1.0
}

fn cells(row: &MaterialRow, is_chosen: bool) -> [String; 6] {
    let unsure = if row.softening_unconfirmed { "?" } else { "" };
    let share = 100.0 * row.rigidity_to_first;
    [
        format!("{} ({}){}", row.name, row.family.word(), if is_chosen { ", chosen" } else { "" }),
        format!("{:.0} g", row.grams),
        format!("{:.2} to {:.2} {}", row.cost_low, row.cost_high, row.currency),
        format!("{share:.*} %", usize::from(share < 10.0)),
        format!("{:.1} mm", row.as_stiff_thickness_mm),
        format!("{:.0} °C{unsure}", row.softening_c),
    ]
}

/// What the figures mean.
pub(super) fn notes(summary: &Summary) -> Vec<String> {
    let table = &summary.materials;
    let first = table.rows.first().map_or("the first filament", |r| r.name.as_str());
    let wall = words::tenths(table.built_thickness_mm);
    let ribs = summary.design.ribs.map_or_else(String::new, |_| {
        let [along, around] = by_ribs(&summary.design).map(|times| format!("{times:.1}"));
        format!(" Its ribs make this wall {along} times as stiff along the limb and {around} times around it.")
    });
    let mut notes = vec![
        format!("Stiffness: {}; {first} counts as 100 %.{ribs}", mechanics::WHAT_RIGIDITY_MEANS),
        format!(
            "Wall for the same stiffness: the wall of this filament, its ribs grown with it, that is as hard to bend as \
             {wall} mm of {first}."
        ),
        "Weight and cost: filament of a solid print, without waste or supports; usual shop prices.".into(),
    ];
    if table.rows.iter().any(|r| r.softening_unconfirmed) {
        notes[2].push_str(" ? marks a figure that no source confirms.");
    }
    notes
}

/// How many times as stiff as without its ribs a wall is, along the limb and around it.
fn by_ribs(design: &Design) -> [f64; 2] {
    let (with, without) = (ribbed_wall(design), ribbed_wall(&Design { ribs: None, ..design.clone() }));
    [with.along_mm3 / without.along_mm3, with.around_mm3 / without.around_mm3]
}

#[cfg(test)]
mod tests {
    use super::*;
    use shell::{RibLayout, Ribs};

    /// A flange of 90 × 20 mm with a web of 30 × 40 mm has a second moment of 868 · 10³ mm⁴ (Beer, Johnston, DeWolf and
    /// Mazurek, *Mechanics of Materials*, sample problem 4.2); the flange alone has 90 · 20³ / 12.
    #[test]
    fn ribs_stiffen_by_the_second_moment_of_a_textbook() {
        let ribs = Ribs { layout: RibLayout::Along, height_mm: 40.0, width_mm: 30.0, spacing_mm: 90.0 };
        let [along, _] = by_ribs(&Design { thickness_mm: 20.0, ribs: Some(ribs), ..Design::default() });
        assert!((along - 868_000.0 / 60_000.0).abs() < 1e-9, "{along}");
    }

    #[test]
    fn columns_are_wide_enough_for_their_words() {
        let width = (210.0 - 26.0) * super::super::page::MM;
        let table = mechanics::compare(90_000.0, 30_000.0, &Design::default(), &mechanics::Materials::built_in());
        for row in &table.rows {
            let all = cells(row, true);
            for (k, cell) in all.iter().enumerate() {
                let end = COLUMNS.get(k + 1).map_or(1.0, |next| next.1) * width;
                let wide = LABEL.width(cell).max(LABEL.width(COLUMNS[k].0));
                assert!(COLUMNS[k].1 * width + wide + 6.0 < end, "{cell}");
            }
        }
    }
}
