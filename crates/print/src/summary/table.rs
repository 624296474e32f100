//! The same guard in each filament, as a table on the page.

use super::page::{Page, Style};
use super::sheet::{ACCENT, BODY, HEAD, LABEL, PAPER};
use super::{BlowRow, Summary};
use mechanics::MaterialRow;

/// Ground of the row of the chosen filament.
pub(super) const CHOSEN: [u8; 3] = [216, 232, 236];
/// Column headings, and where each column starts as a share of the width.
const COLUMNS: [(&str, f32); 7] = [
    ("Filament", 0.01),
    ("Weight", 0.235),
    ("Cost", 0.31),
    ("Softens", 0.45),
    ("Skin pressure, kPa", 0.525),
    ("Dent, mm", 0.7),
    ("Times to spare", 0.83),
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
        let blow = summary.blow.rows.get(n);
        for ((_, at), (k, cell)) in COLUMNS.into_iter().zip(cells(material, blow, is_chosen).iter().enumerate()) {
            page.words(if k == 0 || is_chosen { LABEL } else { BODY }, x + at * width, y + row * 0.68, cell);
        }
        y += row;
    }
    y + 1.0
}

fn cells(row: &MaterialRow, blow: Option<&BlowRow>, is_chosen: bool) -> [String; 7] {
    let unsure = if row.softening_unconfirmed { "?" } else { "" };
    let told = |of: fn(&BlowRow) -> &String| blow.map_or_else(|| "–".to_owned(), |blow| of(blow).clone());
    [
        format!("{} ({}){}", row.name, row.family.word(), if is_chosen { ", chosen" } else { "" }),
        format!("{:.0} g", row.grams),
        format!("{:.2}–{:.2} {}", row.cost_low, row.cost_high, row.currency),
        format!("{:.0} °C{unsure}", row.softening_c),
        told(|blow| &blow.pressure),
        told(|blow| &blow.dent),
        told(|blow| &blow.spare),
    ]
}

/// What the figures mean.
pub(super) fn notes(summary: &Summary) -> Vec<String> {
    let mut notes = summary.blow.notes.clone();
    let mut weight =
        "Weight and cost: filament of a solid print, without waste or supports; usual shop prices.".to_owned();
    if summary.materials.rows.iter().any(|r| r.softening_unconfirmed) {
        weight.push_str(" ? marks a figure that no source confirms.");
    }
    notes.push(weight);
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    #[test]
    fn columns_are_wide_enough_for_their_words() {
        let width = (210.0 - 26.0) * super::super::page::MM;
        let table = mechanics::compare(90_000.0, 30_000.0, &mechanics::Materials::built_in());
        for row in &table.rows {
            let blow = BlowRow {
                pressure: "14000 (9900–23000)".into(),
                dent: "9.9 (8.1–9.9)".into(),
                spare: "0.85 (0.61–0.92)".into(),
            };
            let all = cells(row, Some(&blow), true);
            for (k, cell) in all.iter().enumerate() {
                let end = COLUMNS.get(k + 1).map_or(1.0, |next| next.1) * width;
                let wide = LABEL.width(cell).max(LABEL.width(COLUMNS[k].0));
                assert!(COLUMNS[k].1 * width + wide + 6.0 < end, "{cell}");
            }
        }
    }
}
