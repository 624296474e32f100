//! What strength comes to, in words for the page.

use mechanics::answer::Ranged;
use mechanics::bare::Bare;
use print::summary::{BlowRow, BlowTold};
use print::words::two_digits;

use super::{StrengthReport, StrengthRow};

/// What the page says of a blow, or why it says nothing.
pub(crate) fn blow_told(report: &Result<StrengthReport, String>) -> BlowTold {
    match report {
        Err(refused) => BlowTold { rows: Vec::new(), notes: vec![refused.clone()] },
        Ok(report) => BlowTold { rows: report.rows.iter().map(row).collect(), notes: notes(report) },
    }
}

fn row(row: &StrengthRow) -> BlowRow {
    let answer = &row.answer;
    BlowRow { pressure: ranged(&answer.peak_kpa), dent: ranged(&answer.dent_mm), spare: ranged(&answer.spare) }
}

/// A figure and how far the data leave it open.
fn ranged(of: &Ranged) -> String {
    let [value, low, high] = [of.value, of.low, of.high].map(two_digits);
    if of.low < of.high { format!("{value} ({low}–{high})") } else { value }
}

fn notes(report: &StrengthReport) -> Vec<String> {
    let after = report.blow.after.as_ref().map(|after| format!(" (the striker of {after})")).unwrap_or_default();
    let without =
        |name: &str, bare: Option<&Bare>| bare.map(|bare| format!("{name} {} kPa", two_digits(1e3 * bare.peak_mpa)));
    let bare = [
        without("foam alone", report.without.foam_alone.as_ref()),
        without("bare skin", report.without.bare_skin.as_ref()),
    ];
    let bare: Vec<String> = bare.into_iter().flatten().collect();
    let bare = if bare.is_empty() { String::new() } else { format!(" Without the guard: {}.", bare.join(", ")) };
    let mut notes = vec![
        format!(
            "In a blow: {}{after}, on {:.1} mm of {}; under it: {}.{bare} In brackets: how far the data leave it open.",
            report.blow.name, report.liner_mm, report.foam.name, report.under.place
        ),
        format!("Figures are {}. Times to spare below 1: it gives way.", report.means),
    ];
    notes.extend(report.notices.iter().cloned());
    notes
}
