//! The material step: the filaments side by side on this guard, what another wall changes, filaments of one's own.

use bevy_egui::egui::{TextEdit, Ui};
use mechanics::{Family, Material, MaterialRow, MaterialTable, Price, Sourced, Status};
use shell::limits;

use super::Desk;
use crate::actions::Action;
use crate::bench::Bench;
use crate::look::icons::Icon;
use crate::look::{self, Bar, Setting};
use crate::view::View;

/// A filament that is being written down.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnFilament {
    name: String,
    family: Family,
    density_g_per_cm3: f32,
    modulus_mpa: f32,
    softening_c: f32,
    price_per_kg: f32,
    source: String,
    /// Why it was refused.
    refused: Option<String>,
}

impl Default for OwnFilament {
    fn default() -> Self {
        Self {
            name: String::new(),
            family: Family::SemiRigid,
            density_g_per_cm3: 1.25,
            modulus_mpa: 2000.0,
            softening_c: 70.0,
            price_per_kg: 30.0,
            source: String::new(),
            refused: None,
        }
    }
}

impl OwnFilament {
    /// The filament, with what a form does not ask for taken from a known one of its family.
    fn material(&self, like: &Material) -> Material {
        // A figure typed as 1.25 is meant as 1.25, not as the nearest number of 32 bits.
        let decimal = |value: f32| value.to_string().parse().unwrap_or(f64::from(value));
        let own = |value: f32| {
            let value = decimal(value);
            let source = self.source.trim().to_owned();
            Sourced { value, range: [value, value], status: Status::CommonPractice, source, unconfirmed: false }
        };
        let price = decimal(self.price_per_kg);
        Material {
            family: self.family,
            name: self.name.trim().to_owned(),
            density_g_per_cm3: own(self.density_g_per_cm3),
            modulus_mpa: own(self.modulus_mpa),
            softening_c: own(self.softening_c),
            price_per_kg: Price {
                low: price,
                high: price,
                currency: like.price_per_kg.currency.clone(),
                status: Status::CommonPractice,
                source: self.source.trim().to_owned(),
            },
            heat_caution: format!(
                "Softens from about {:.0} °C: keep it out of hot cars and hot water.",
                self.softening_c
            ),
            ..like.clone()
        }
    }
}

/// State of the material step.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Weighing {
    /// Another wall that is being weighed, mm.
    wall_mm: Option<f32>,
    own: Option<OwnFilament>,
}

/// The kinds of filament, the stiffest first.
const FAMILIES: [Family; 3] = [Family::Rigid, Family::SemiRigid, Family::Flexible];

impl View {
    /// Weighs another wall, mm.
    pub(crate) fn weigh(&mut self, wall_mm: f32) {
        self.weighing.wall_mm = Some(wall_mm.clamp(limits::THICKNESS.least, limits::THICKNESS.most));
    }
}

/// All filaments that can be chosen, the stiffest family first; the first of a family goes by its family alone.
fn choices(materials: &[Material]) -> Vec<(Family, Option<String>)> {
    let of = |family: Family| {
        let names = materials.iter().filter(move |m| m.family == family).map(|m| m.name.clone());
        names.enumerate().map(move |(i, name)| (family, (i > 0).then_some(name)))
    };
    FAMILIES.into_iter().flat_map(of).collect()
}

fn take(bench: &mut Bench, (family, filament): (Family, Option<String>)) {
    bench.session.edit("material", |design| (design.material, design.filament) = (family, filament));
}

/// Takes the filament that stands so many places after the one chosen, round and round.
fn take_next(bench: &mut Bench, by: isize) {
    let all = choices(&bench.session.materials.materials);
    let Some(design) = bench.session.design() else { return };
    let now = all.iter().position(|(family, name)| (*family, name) == (design.material, &design.filament));
    let known = now.or_else(|| all.iter().position(|(family, _)| *family == design.material)).unwrap_or(0);
    let next = (known as isize + by).rem_euclid(all.len().max(1) as isize) as usize;
    if let Some(next) = all.get(next).cloned() {
        take(bench, next);
    }
}

/// Does what a key or button of this step asks for.
pub(crate) fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    if action == Action::OwnFilament {
        view.weighing.own.get_or_insert_default();
        return;
    }
    let Some(design) = bench.session.design() else { return };
    let wall = design.shell.thickness_mm;
    let weighed = view.weighing.wall_mm.unwrap_or(wall);
    match action {
        Action::NextMaterial => take_next(bench, 1),
        Action::PreviousMaterial => take_next(bench, -1),
        Action::WeighThicker => view.weigh(weighed + 0.2),
        Action::WeighThinner => view.weigh(weighed - 0.2),
        Action::TakeWall => {
            if let Some(mm) = view.weighing.wall_mm.take() {
                bench.session.edit("wall", |design| {
                    design.shell.thickness_mm = mm;
                    design.shell.rim.round_mm = design.shell.rim.round_mm.min(limits::most_round_mm(&design.shell));
                });
            }
        }
        Action::LeaveWall => view.weighing.wall_mm = None,
        _ => {}
    }
}

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::title(ui, "Material");
    let session = &desk.bench.session;
    let table = session.design().and_then(|d| Some((d.clone(), session.derived().materials(d, &session.materials)?)));
    let Some((design, table)) = table else {
        look::remark(ui, "There is no shell to weigh yet. Paint the zone and shape the shell first.");
        own_filament(ui, desk);
        return;
    };
    let wall = design.shell.thickness_mm;
    let other = desk.view.weighing.wall_mm.filter(|mm| *mm != wall);
    let shown = match other {
        Some(mm) => mechanics::what_if(table.volume_mm3, table.area_mm2, &design.shell, mm, &session.materials),
        None => table.clone(),
    };
    let row = shown.row(design.material, design.filament.as_deref());
    let chosen = row.map(|row| row.name.clone()).unwrap_or_default();
    choose(ui, desk, &chosen, &shown);
    figures(ui, &shown, &chosen, other.map(|_| &table));
    what_if(ui, desk, wall, other);
    look::section(ui, "Mind");
    if let Some(row) = row {
        ui.label(&row.heat_caution);
    }
    look::remark(ui, "Stiffness is that of the wall with its ribs; it compares materials and is not a strength.");
    if let Some(caution) = print::words::cautions().first() {
        look::remark(ui, caution);
    }
    own_filament(ui, desk);
}

fn choose(ui: &mut Ui, desk: &mut Desk<'_>, chosen: &str, table: &MaterialTable) {
    look::section(ui, "Print it in");
    let wanted = desk.bench.session.design().and_then(|design| design.filament.clone());
    if let Some(wanted) = wanted.filter(|name| name != chosen) {
        look::problem(
            ui,
            &format!("{wanted} is not among the filaments here; {chosen} is taken. Add it below, or choose."),
        );
    }
    for (family, filament) in choices(&desk.bench.session.materials.materials) {
        let Some(name) = table.row(family, filament.as_deref()).map(|row| row.name.as_str()) else { continue };
        let word = family.word();
        let text = format!("{}{}: {name}", word[..1].to_uppercase(), &word[1..]);
        let is_chosen = name == chosen;
        let pressed = if is_chosen { look::tool(ui, Icon::Done, &text, true) } else { look::button(ui, None, &text) };
        if pressed.clicked() && !is_chosen {
            take(desk.bench, (family, filament));
        }
    }
}

/// Bars of one figure, a line a material.
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

fn figures(ui: &mut Ui, table: &MaterialTable, chosen: &str, before: Option<&MaterialTable>) {
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
    look::section(ui, "As stiff as the first");
    for row in rows.iter().skip(1) {
        let times = row.as_stiff_weight_to_first;
        look::figure(ui, &row.name, &format!("{:.1} mm wall, {times:.2} × the weight", row.as_stiff_thickness_mm));
    }
}

fn what_if(ui: &mut Ui, desk: &mut Desk<'_>, wall: f32, other: Option<f32>) {
    look::section(ui, "What if the wall were");
    let mut mm = other.unwrap_or(wall);
    let limit = limits::THICKNESS;
    if Setting::new("Wall", "mm", limit.least..=limit.most).show(ui, &mut mm).changed {
        desk.view.weighing.wall_mm = Some(mm);
    }
    let Some(mm) = other else {
        look::remark(ui, "Figures above follow; the design stays as it is until you take it.");
        return;
    };
    ui.horizontal(|ui| {
        if look::tool(ui, Icon::Done, &format!("Take {mm:.1} mm"), true).clicked() {
            desk.asked.0.push(Action::TakeWall);
        }
        if look::button(ui, None, &format!("Back to {wall:.1} mm")).clicked() {
            desk.asked.0.push(Action::LeaveWall);
        }
    });
    look::remark(ui, "Figures above are for that wall, about: vents and rim taken as square.");
}

fn own_filament(ui: &mut Ui, desk: &mut Desk<'_>) {
    look::section(ui, "A filament of your own");
    let known = &desk.bench.session.materials.materials;
    let currency = known.first().map(|material| material.price_per_kg.currency.clone()).unwrap_or_default();
    let Some(own) = &mut desk.view.weighing.own else {
        if look::button(ui, Some(Icon::Add), "Add a filament").clicked() {
            desk.asked.0.push(Action::OwnFilament);
        }
        return;
    };
    ui.label("Kind of plastic");
    look::steady(ui, "kind of plastic", |ui| {
        ui.add(TextEdit::singleline(&mut own.name).char_limit(40).desired_width(f32::INFINITY))
    });
    let families = [(Family::Rigid, "Rigid"), (Family::SemiRigid, "Semi-rigid"), (Family::Flexible, "Flexible")];
    look::choice(ui, &mut own.family, &families);
    Setting::new("Density", "g/cm³", 0.8..=1.6).step(0.01).show(ui, &mut own.density_g_per_cm3);
    Setting::new("Stiffness (modulus)", "MPa", 10.0..=10_000.0).step(10.0).logarithmic().show(ui, &mut own.modulus_mpa);
    Setting::new("Softens at", "°C", 40.0..=200.0).step(1.0).show(ui, &mut own.softening_c);
    Setting::new("Price a kilogram", &currency, 5.0..=300.0).step(1.0).show(ui, &mut own.price_per_kg);
    ui.label("Where the figures come from");
    let from = TextEdit::singleline(&mut own.source).hint_text("data sheet of the maker").char_limit(120);
    look::steady(ui, "source", |ui| ui.add(from.desired_width(f32::INFINITY)));
    if let Some(refused) = &own.refused {
        look::problem(ui, refused);
    }
    let (mut keep, mut drop) = (false, false);
    ui.horizontal(|ui| {
        keep = look::tool(ui, Icon::Done, "Add it", true).clicked();
        drop = look::button(ui, None, "Not now").clicked();
    });
    if keep {
        let known = &desk.bench.session.materials.materials;
        let like = known.iter().find(|m| m.family == own.family).or_else(|| known.first());
        let Some(material) = like.map(|like| own.material(like)) else { return };
        match desk.bench.session.add_material(material) {
            Ok(()) => drop = true,
            Err(problem) => own.refused = Some(problem.sentence),
        }
    }
    if drop {
        desk.view.weighing.own = None;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use mechanics::Materials;

    #[test]
    fn every_filament_can_be_chosen_and_the_first_of_a_family_goes_by_the_family() {
        let mut all = Materials::built_in();
        let like = all.materials[1].clone();
        all.materials.push(Material { name: "mine".into(), ..like });
        let choices = choices(&all.materials);
        assert_eq!(choices.len(), all.materials.len());
        assert!(FAMILIES.iter().all(|family| choices.contains(&(*family, None))));
        assert!(choices.contains(&(all.materials[1].family, Some("mine".into()))));
    }

    #[test]
    fn a_filament_from_the_form_holds_what_was_typed_and_passes_the_check_of_the_file() {
        let mut all = Materials::built_in();
        let like = all.materials[1].clone();
        let typed = OwnFilament { name: " PCTG ".into(), source: "maker's sheet".into(), ..OwnFilament::default() };
        let mine = typed.material(&like);
        assert_eq!((mine.name.as_str(), mine.density_g_per_cm3.value, mine.modulus_mpa.value), ("PCTG", 1.25, 2000.0));
        assert_eq!(mine.poisson_ratio, like.poisson_ratio);
        all.materials.push(mine);
        let text = serde_json::to_string(&all).unwrap();
        assert_eq!(Materials::parse(&text, "mine").unwrap(), all);
        // Ends of the sliders are allowed too; without a source it is refused.
        for (density, modulus, softening, price) in [(0.8, 10.0, 40.0, 5.0), (1.6, 10_000.0, 200.0, 300.0)] {
            let end = OwnFilament {
                name: "end".into(),
                density_g_per_cm3: density,
                modulus_mpa: modulus,
                softening_c: softening,
                price_per_kg: price,
                source: "sheet".into(),
                ..OwnFilament::default()
            };
            let one = |own: &OwnFilament| {
                let only = Materials { materials: vec![own.material(&like)], ..Materials::built_in() };
                Materials::parse(&serde_json::to_string(&only).unwrap(), "end")
            };
            assert!(one(&end).is_ok());
            assert!(one(&OwnFilament { source: "  ".into(), ..end }).is_err());
        }
    }
}
