//! How the scan was cleaned: what was done, what can be switched, what was left as it is.

use bevy_egui::egui::{CollapsingHeader, Ui};
use scan::{CleaningReport, ScanWarning};
use session::capitalised;

use crate::actions::Action;
use crate::commands::scan::CLEANING;
use crate::desk::Desk;
use crate::look::{problem, remark, reserved, section, switch};

/// Warnings of cleaning, without those on unit and site, which stand where these are set.
fn warnings(report: &CleaningReport) -> impl Iterator<Item = &ScanWarning> {
    report.warnings.iter().filter(|w| !matches!(w, ScanWarning::UnitUnsure { .. } | ScanWarning::Site(_)))
}

/// One line on how cleaning went; the rest stands below.
pub fn outcome(ui: &mut Ui, desk: &Desk<'_>) {
    let limb = &desk.bench.session.derived().limb;
    let count = limb.value().map_or(0, |limb| warnings(&limb.report).count());
    reserved(ui, "outcome", 0, 24.0, |ui| match count {
        _ if limb.problem().is_some() => problem(ui, "The limb is as before; see below why."),
        0 => remark(ui, "See below what was done to the scan."),
        1 => problem(ui, "One thing to check, see below."),
        _ => problem(ui, &format!("{count} things to check, see below.")),
    });
}

/// What cleaning changed.
pub fn report(ui: &mut Ui, desk: &mut Desk<'_>) {
    let limb = &desk.bench.session.derived().limb;
    if let Some(wrong) = limb.problem() {
        problem(ui, &capitalised(&wrong.sentence));
    }
    let Some(limb) = limb.value().cloned() else { return };
    for warning in warnings(&limb.report) {
        problem(ui, &capitalised(&warning.to_string()));
    }
    let steps: Vec<_> = limb.report.steps.iter().filter(|s| s.changed).collect();
    if steps.is_empty() {
        return;
    }
    section(ui, "What was done");
    for step in steps {
        remark(ui, &format!("· {}", capitalised(&step.sentence)));
    }
}

/// What cleaning does, as switches.
pub fn switches(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(design) = desk.bench.session.design() else { return };
    section(ui, "Cleaning");
    for (action, text, is_on, _) in CLEANING {
        let mut on = is_on(&design.clean);
        let switched = switch(ui, &mut on, text);
        let key = action.keys();
        let switched = switched.on_hover_text(tip(action).map_or_else(|| key.clone(), |tip| format!("{tip}   {key}")));
        if switched.changed() {
            desk.asked.0.push(action);
        }
    }
}

/// What a part of cleaning does, with the technical term.
fn tip(action: Action) -> Option<&'static str> {
    Some(match action {
        Action::Mend => "Repairs triangles without area, duplicates, and edges shared by more than two triangles.",
        Action::Pieces => "Pieces that are joined to nothing, such as specks in the air, are left out.",
        Action::Noise => "Smooths the scanner's roughness of a few tenths of a millimetre and keeps the shape.",
        Action::LongTriangles => "Long triangles of the scan are split, so that marks on the skin can be drawn finely.",
        Action::Upright => "The limb is turned so that its length stands up.",
        _ => return None,
    })
}

/// What cleaning looked at and did not change, folded away.
pub fn left_alone(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(limb) = desk.bench.session.derived().limb.value().cloned() else { return };
    ui.add_space(8.0);
    let header = CollapsingHeader::new("Checked, nothing to do").id_salt("left alone");
    header.open(desk.view.opened_out.then_some(true)).show(ui, |ui| {
        for step in limb.report.steps.iter().filter(|s| !s.changed) {
            remark(ui, &format!("· {}", capitalised(&step.sentence)));
        }
    });
}
