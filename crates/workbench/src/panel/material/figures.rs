//! The figures of the filaments for this guard, side by side.

use bevy_egui::egui::Ui;
use mechanics::{MaterialRow, MaterialTable};

use crate::look::{self, Bar};

/// Bars of one figure, one per material.
fn bars(ui: &mut Ui, table: &MaterialTable, chosen: &str, title: &str, of: impl Fn(usize) -> (f64, String)) {
    look::section(ui, title);
    let line = |(i, row): (usize, &MaterialRow)| {
        let (value, text) = of(i);
        Bar { name: row.name.clone(), value, text, chosen: row.name == chosen }
    };
    let lines: Vec<Bar> = table.rows.iter().enumerate().map(line).collect();
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 4.0;
        look::bars(ui, &lines);
    });
}

/// Shows all figures; `before` holds those of the current wall while another one is tried.
pub fn show(ui: &mut Ui, table: &MaterialTable, chosen: &str, before: Option<&MaterialTable>) {
    let change = |now: f64, then: Option<f64>| {
        then.filter(|then| *then > 0.0)
            .map_or_else(String::new, |then| format!("  ({:+.0} %)", 100.0 * (now / then - 1.0)))
    };
    let rows = &table.rows;
    let first = rows.first().map_or(1.0, |row| row.rigidity_along_n_mm);
    bars(ui, table, chosen, "Stiffness", |i| {
        let stiff = rows[i].rigidity_along_n_mm;
        let then = before.and_then(|t| t.rows.get(i)).map(|row| row.rigidity_along_n_mm);
        let share = 100.0 * stiff / first.max(f64::MIN_POSITIVE);
        let share = if share < 10.0 { format!("{share:.1} %") } else { format!("{share:.0} %") };
        (stiff, share + &change(stiff, then))
    });
    bars(ui, table, chosen, "Weight", |i| {
        let then = before.and_then(|t| t.rows.get(i)).map(|row| row.grams);
        (rows[i].grams, format!("{:.0} g{}", rows[i].grams, change(rows[i].grams, then)))
    });
    bars(ui, table, chosen, "Cost of the filament", |i| {
        let row = &rows[i];
        let text = if (row.cost_high - row.cost_low).abs() < 0.005 {
            format!("{:.2} {}", row.cost_high, row.currency)
        } else {
            format!("{:.2} – {:.2} {}", row.cost_low, row.cost_high, row.currency)
        };
        (row.cost_high, text)
    });
    bars(ui, table, chosen, "Softens at", |i| {
        let about = if rows[i].softening_unconfirmed { " (not confirmed)" } else { "" };
        (rows[i].softening_c, format!("{:.0} °C{about}", rows[i].softening_c))
    });
    let Some(first) = rows.first() else { return };
    look::section(ui, &format!("Wall for the stiffness of {}", first.name));
    for row in rows.iter().skip(1) {
        let times = row.as_stiff_weight_to_first;
        look::figure(ui, &row.name, &format!("{:.1} mm wall, {times:.2} × the weight", row.as_stiff_thickness_mm));
    }
}
