//! Whole looks: ribs, vents, edge, number, colour and finish composed together, for the athlete to choose between.

use std::path::Path;

use locker::{Appearance, DesignFile, Finish};
use mechanics::Materials;
use mesh::{Job, Surface};
use serde::Serialize;
use shell::{Design, MarkKind, Quality, RibLayout, Ribs, ShellError, VentKind, Vents, limits};
use zone::Zone;

use crate::start::drop_what_has_no_room;
use crate::{EngineError, fit_ribs, open};

/// Sizes are those for a guard over this much skin, cm²: about a forearm's. Those of others grow with the root of it.
const USUAL_CM2: f64 = 120.0;
/// Sizes grow and shrink by no more than this.
const SCALES: [f64; 2] = [0.72, 1.25];
/// How far numbers are raised or sunk, mm: four layers of 0.2 mm, which catch the light and rub nobody.
const RELIEF_MM: f32 = 0.8;
/// How thick beads are tried, as a share of the wall: less does not show.
const BEADS: [f32; 3] = [1.4, 1.25, 1.1];
/// Smallest vents of a look, mm: smaller ones look like pinholes.
const LEAST_VENT_MM: f32 = 3.5;

/// A look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WholeLook {
    /// Its name.
    pub name: &'static str,
    /// What it is, in a few words.
    pub about: &'static str,
    ribs: Option<(RibLayout, f32, f32)>,
    vents: Option<VentLook>,
    /// Whether the number is raised, else sunk.
    raised: bool,
    bead: bool,
    colour: [u8; 3],
    finish: Finish,
}

/// Vents of a look, sizes in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
struct VentLook {
    kind: VentKind,
    size_mm: f32,
    ligament_mm: f32,
    grade_percent: f32,
}

/// A look on one guard.
#[derive(Debug, Clone, PartialEq)]
pub struct LookOnGuard {
    /// Which.
    pub look: WholeLook,
    /// The shell with it.
    pub shell: Design,
    /// Colour and finish; what is laid on the guard stays.
    pub appearance: Appearance,
    /// What the zone has no room for, a sentence each.
    pub notices: Vec<String>,
}

/// How much a look weighs.
#[derive(Debug, Clone, PartialEq)]
pub struct WeighedLook {
    /// The look on the guard.
    pub on_guard: LookOnGuard,
    /// Volume of plastic, to about 2 %, mm³; nothing where it cannot be built.
    pub volume_mm3: Option<f64>,
    /// Why not.
    pub why_not: Option<String>,
}

/// A look in a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LookInList {
    /// Its name.
    pub name: &'static str,
    /// What it is, in a few words.
    pub about: &'static str,
    /// Weight in the filament that is chosen, to about 2 %, g.
    pub grams: Option<f64>,
    /// What the zone has no room for, or why the look cannot be made.
    pub notices: Vec<String>,
}

const fn vents(kind: VentKind, size_mm: f32, ligament_mm: f32, grade_percent: f32) -> Option<VentLook> {
    Some(VentLook { kind, size_mm, ligament_mm, grade_percent })
}

/// All looks.
pub const WHOLE_LOOKS: [WholeLook; 8] = [
    WholeLook {
        name: "Hull",
        about: "closed and smooth, with a round edge",
        ribs: None,
        vents: None,
        raised: false,
        bead: true,
        colour: [245, 244, 240],
        finish: Finish::Gloss,
    },
    WholeLook {
        name: "Keel",
        about: "two ribs and long slots",
        ribs: Some((RibLayout::Along, 1.8, 4.0)),
        vents: vents(VentKind::Slot, 5.0, 3.0, 0.0),
        raised: true,
        bead: false,
        colour: [46, 52, 64],
        finish: Finish::Satin,
    },
    WholeLook {
        name: "Reef",
        about: "honeycomb between two ribs",
        ribs: Some((RibLayout::Along, 1.6, 4.0)),
        vents: vents(VentKind::Honeycomb, 7.0, 2.6, 0.0),
        raised: true,
        bead: false,
        colour: [29, 107, 102],
        finish: Finish::Matt,
    },
    WholeLook {
        name: "Gull",
        about: "round holes that fade out towards the edge",
        ribs: None,
        vents: vents(VentKind::Round, 8.0, 2.6, 50.0),
        raised: false,
        bead: false,
        colour: [240, 226, 196],
        finish: Finish::Satin,
    },
    WholeLook {
        name: "Net",
        about: "upright lozenges, very light",
        ribs: None,
        vents: vents(VentKind::Lozenge, 8.5, 2.6, 0.0),
        raised: true,
        bead: true,
        colour: [31, 78, 140],
        finish: Finish::Satin,
    },
    WholeLook {
        name: "Truss",
        about: "triangles and straight struts, light and stiff",
        ribs: None,
        vents: vents(VentKind::Triangle, 9.0, 2.4, 0.0),
        raised: true,
        bead: true,
        colour: [163, 45, 52],
        finish: Finish::Matt,
    },
    WholeLook {
        name: "Drift",
        about: "irregular cells like those of coral",
        ribs: None,
        vents: vents(VentKind::Cells, 10.0, 3.0, 25.0),
        raised: false,
        bead: true,
        colour: [224, 138, 30],
        finish: Finish::Matt,
    },
    WholeLook {
        name: "Gale",
        about: "ribs in diamonds round the number, on a closed wall",
        ribs: Some((RibLayout::Diamond, 1.6, 4.0)),
        vents: None,
        raised: true,
        bead: false,
        colour: [110, 150, 70],
        finish: Finish::Gloss,
    },
];

impl WholeLook {
    /// The look with this name, however it is spelled in capitals.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        WHOLE_LOOKS.iter().find(|look| look.name.eq_ignore_ascii_case(name))
    }

    /// The look on a guard. Wall, gap, fittings and what numbers and words say are those of `design`.
    ///
    /// # Errors
    /// Only that the work was stopped.
    pub fn on(&self, design: &DesignFile, skin: &Surface, zone: &Zone, job: &Job) -> Result<LookOnGuard, EngineError> {
        let [least, most] = SCALES;
        let scale = (zone.area_cm2(skin) / USUAL_CM2).sqrt().clamp(least, most) as f32;
        let mut shell = without_look(&design.shell);
        shell.ribs = self.ribs.map(|(layout, height_mm, width_mm)| {
            let ribs = Ribs { layout, height_mm, width_mm, spacing_mm: 34.0 * scale };
            Ribs { spacing_mm: ribs.spacing_mm.max(limits::least_rib_spacing_mm(&ribs)), ..ribs }
        });
        fit_ribs(&mut shell, skin, zone, job)?;
        let usual = design.shell.vents.unwrap_or(Vents::USUAL);
        shell.vents = self.vents.map(|vents| Vents {
            kind: vents.kind,
            size_mm: tenth((vents.size_mm * scale).max(LEAST_VENT_MM)),
            ligament_mm: vents.ligament_mm,
            grade_percent: vents.grade_percent,
            open_percent: None,
            ..usual
        });
        if self.bead {
            shell.rim.bead_mm = bead_with_room_mm(&shell, skin, zone, job)?;
        }
        let deepest = limits::most_sunk_mm(&shell).min(-limits::MARK_RELIEF.least);
        // Letters that are cut through or let in stay so.
        for mark in shell.marks.iter_mut().filter(|mark| mark.kind == MarkKind::Relief) {
            let sunk = (!self.raised && deepest >= limits::LEAST_RELIEF_MM).then(|| -RELIEF_MM.min(deepest));
            mark.relief_mm = sunk.unwrap_or(RELIEF_MM);
        }
        let notices = drop_what_has_no_room(&mut shell, skin, zone, job)?;
        // A picture and the colour of inlays are the athlete's own choice.
        let own = design.look.clone().unwrap_or_default();
        let appearance = Appearance { colour: self.colour, finish: self.finish, ..own };
        Ok(LookOnGuard { look: *self, shell, appearance, notices })
    }
}

impl LookOnGuard {
    /// Puts it into a design.
    pub fn put_into(&self, design: &mut DesignFile) {
        design.shell = self.shell.clone();
        design.look = Some(self.appearance.clone());
    }
}

/// A shell without what a look sets, so that the same is left of a guard whatever look it has.
#[must_use]
pub fn without_look(shell: &Design) -> Design {
    let mut plain = Design { ribs: None, vents: None, ..shell.clone() };
    plain.rim.bead_mm = 0.0;
    for mark in plain.marks.iter_mut().filter(|mark| mark.kind == MarkKind::Relief) {
        mark.relief_mm = RELIEF_MM;
    }
    plain
}

/// The looks on the guard of a design that lies in `folder`, each with its weight; with `take`, the design with that
/// look as well.
///
/// # Errors
/// The scan is missing or bad, the zone cannot be made, or the work was stopped.
pub fn looks(
    design: &DesignFile,
    folder: &Path,
    take: Option<&WholeLook>,
    materials: &Materials,
    job: &Job,
) -> Result<(Vec<LookInList>, Option<DesignFile>), EngineError> {
    let opened = open(design, folder, &job.part(0.0, 0.3))?;
    let weighed = weigh_looks(design, &opened.skin, &opened.zone, &job.part(0.3, 1.0))?;
    let taken = weighed.iter().find(|weighed| take == Some(&weighed.on_guard.look)).map(|weighed| {
        let mut design = design.clone();
        weighed.on_guard.put_into(&mut design);
        design
    });
    Ok((weighed.iter().map(|weighed| weighed.in_list(design, materials)).collect(), taken))
}

/// All looks on a guard with their volumes, by a first look at each.
///
/// # Errors
/// Only that the work was stopped.
pub fn weigh_looks(
    design: &DesignFile,
    skin: &Surface,
    zone: &Zone,
    job: &Job,
) -> Result<Vec<WeighedLook>, EngineError> {
    let count = WHOLE_LOOKS.len() as f32;
    WHOLE_LOOKS
        .iter()
        .enumerate()
        .map(|(n, look)| {
            let part = job.part(n as f32 / count, (n + 1) as f32 / count);
            part.step("weighing looks", 0.0)?;
            let on_guard = look.on(design, skin, zone, &part)?;
            let (volume_mm3, why_not) = match shell::build(skin, zone, &on_guard.shell, &Quality::FIRST_LOOK, &part) {
                Ok(made) => (Some(made.mesh.volume_mm3()), None),
                Err(ShellError::Cancelled(stop)) => return Err(stop.into()),
                Err(refused) => (None, Some(refused.to_string())),
            };
            Ok(WeighedLook { on_guard, volume_mm3, why_not })
        })
        .collect()
}

impl WeighedLook {
    /// Its weight in the filament that the design is to be printed in, g.
    #[must_use]
    pub fn grams(&self, design: &DesignFile, materials: &Materials) -> Option<f64> {
        let table = mechanics::compare(self.volume_mm3?, 1.0, materials);
        table.row(design.material, design.filament.as_deref()).map(|row| row.grams)
    }

    /// It as a line of a list.
    #[must_use]
    pub fn in_list(&self, design: &DesignFile, materials: &Materials) -> LookInList {
        let WholeLook { name, about, .. } = self.on_guard.look;
        let notices = self.on_guard.notices.iter().chain(&self.why_not).cloned().collect();
        LookInList { name, about, grams: self.grams(design, materials), notices }
    }
}

/// The thickest bead that leaves fittings and marks where they are, mm; 0 where none does.
fn bead_with_room_mm(shell: &Design, skin: &Surface, zone: &Zone, job: &Job) -> Result<f32, EngineError> {
    for share in BEADS {
        let mut tried = Design { ribs: None, vents: None, ..shell.clone() };
        tried.rim.bead_mm = tenth((share * shell.thickness_mm).min(limits::BEAD.most));
        match shell::arrange(skin, zone, &tried, job) {
            Ok(_) => return Ok(tried.rim.bead_mm),
            Err(ShellError::Cancelled(stop)) => return Err(stop.into()),
            Err(_) => {}
        }
    }
    Ok(0.0)
}

fn tenth(mm: f32) -> f32 {
    (10.0 * mm).round() / 10.0
}
