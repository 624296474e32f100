//! From a scan to a design: clean, find the zone, take the defaults of the body site.

use std::path::Path;

use locker::{DesignFile, KeptScan, VERSION, keep_beside, keep_inside};
use mesh::{Job, Surface};
use scan::{BodySite, CleanSettings, CleaningReport, Placement, Side};
use serde::Serialize;
use shell::{Design, ShellError};
use zone::landmarks::{BonyPoint, bony_points};
use zone::{ExtraRegion, RegionKind, Zone, ZoneSettings};

use crate::inspect::PenSeen;
use crate::warning::design_warnings;
use crate::{
    EngineError, LimbOnAxes, MarkedCrease, MarkedRegion, ZoneReport, add_fittings, limb, pen_line, pen_rings,
    pen_source, read_scan, shell_for,
};

/// How the zone is marked.
#[derive(Debug, Clone, PartialEq)]
pub enum Marking {
    /// By the pen line on the skin.
    Pen {
        /// Close an open line as proposed.
        accept_proposal: bool,
    },
    /// By strokes or an outline.
    Given(MarkedRegion),
}

/// Where the scan is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// In the folder `scans` beside the design file.
    Beside,
    /// Inside the design file.
    Inside,
}

/// What a design is started with.
#[derive(Debug, Clone, PartialEq)]
pub struct StartSettings {
    /// Body site.
    pub site: BodySite,
    /// Side of the body that was scanned. Where cleaning swaps left and right, the guard is for the other one.
    pub side: Side,
    /// Squad number.
    pub squad_number: Option<u32>,
    /// Title; made from site, side and number where it is empty.
    pub title: String,
    /// How the scan is cleaned.
    pub clean: CleanSettings,
    /// How the zone is marked.
    pub marking: Marking,
    /// Lines across which a joint folds, from which the guard keeps away.
    pub creases: Vec<MarkedCrease>,
    /// Lay a relief over each bony point that the zone covers.
    pub relieve_bony_points: bool,
    /// Make reliefs of rings within the pen line.
    pub rings: bool,
    /// Moves the zone's edge outward, mm.
    pub grow_mm: f32,
    /// Where the scan is kept.
    pub keep: Keep,
}

impl Default for StartSettings {
    fn default() -> Self {
        Self {
            site: BodySite::Other,
            side: Side::Unknown,
            squad_number: None,
            title: String::new(),
            clean: CleanSettings::default(),
            marking: Marking::Pen { accept_proposal: false },
            creases: Vec::new(),
            relieve_bony_points: false,
            rings: false,
            grow_mm: 0.0,
            keep: Keep::Beside,
        }
    }
}

/// A design and how it was made; serialises to the answer of `start --json`.
#[derive(Debug, Clone, Serialize)]
pub struct Started {
    /// The design.
    #[serde(skip)]
    pub design: DesignFile,
    /// What cleaning did.
    pub cleaning: CleaningReport,
    /// How the limb lies in the scan file.
    pub placement: Placement,
    /// What the search for a pen line saw; absent where the zone was marked otherwise.
    pub pen: Option<PenSeen>,
    /// The zone.
    pub zone: ZoneReport,
    /// Bony points that the zone covers, the sharpest first.
    pub bony_points: Vec<BonyPointSeen>,
    /// Rings within the pen line that are no reliefs yet.
    pub rings_left: usize,
    /// What the user should know.
    pub notices: Vec<String>,
}

/// Starts a design on a scan and keeps the scan for a design file in `folder`.
///
/// # Errors
/// The scan cannot be read or cleaned, the zone is not marked or cannot be made, or the scan cannot be kept.
pub fn start(path: &Path, folder: &Path, settings: &StartSettings, job: &Job) -> Result<Started, EngineError> {
    let loaded = read_scan(path, &job.part(0.0, 0.1))?;
    let limb = limb(&loaded, settings.site, settings.side, &settings.clean, None, &job.part(0.1, 0.5))?;
    let (placement, skin) = (limb.placement, &limb.skin);
    let mut notices = limb.report.warnings.iter().map(ToString::to_string).collect::<Vec<_>>();

    let (source, pen, rings) = match &settings.marking {
        Marking::Given(region) => (region.source(&placement), None, Vec::new()),
        Marking::Pen { accept_proposal } => {
            let finding = pen_line(&limb, &job.part(0.5, 0.65))?;
            let seen = PenSeen::new(&finding, &placement);
            let rings = pen_rings(&finding, *accept_proposal);
            let (source, told) = pen_source(finding, *accept_proposal, &placement)?;
            notices.extend(told.iter().map(|notice| notice.in_scan(&placement)));
            (source, Some(seen), rings)
        }
    };
    let (grow_mm, rings_left) = (settings.grow_mm, if settings.rings { 0 } else { rings.len() });
    let mut zone_settings = ZoneSettings { sources: vec![source], grow_mm, ..ZoneSettings::default() };
    if settings.rings {
        zone_settings.regions.extend(rings);
    }
    for crease in &settings.creases {
        zone_settings.regions.push(crease.region(skin, &placement, job)?);
    }
    let mut zone = zone::make(skin, &zone_settings, &job.part(0.65, 0.8))?;
    let bony = bony_points(skin, Some(&zone), &job.part(0.8, 0.9))?;
    if settings.relieve_bony_points && !bony.is_empty() {
        zone_settings.regions.extend(bony.iter().map(|point| point.relief(RegionKind::RELIEF)));
        zone = zone::make(skin, &zone_settings, job)?;
    }
    job.step("placing straps and the number", 0.9)?;
    let mut shell = shell_for(settings.site);
    notices.extend(add_fittings(&mut shell, skin, &zone, settings.site, settings.squad_number, job)?);
    notices.extend(drop_what_has_no_room(&mut shell, skin, &zone, &job.part(0.9, 1.0))?);

    // Cancel is not looked at once the scan is kept, so that it gets its design.
    job.step("keeping the scan", 1.0)?;
    let kept = match settings.keep {
        Keep::Beside => keep_beside(&loaded.bytes, folder, job)?,
        Keep::Inside => keep_inside(&loaded.bytes, job)?,
    };
    let mut design = new_design(&limb, settings.site, &settings.clean, settings.squad_number, kept);
    if !settings.title.is_empty() {
        design.title.clone_from(&settings.title);
    }
    (design.zone, design.shell) = (zone_settings, shell);
    let zone = ZoneReport::new(&zone, skin, &placement);
    notices.extend(zone.notices.iter().cloned());
    notices.extend(design_warnings(&design).iter().map(ToString::to_string));
    let bony_points = bony.iter().map(|point| BonyPointSeen::new(point, &placement, &design.zone.regions)).collect();
    Ok(Started { design, cleaning: limb.report, placement, pen, zone, bony_points, rings_left, notices })
}

/// A bony point as it is told.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BonyPointSeen {
    /// Its middle in the scan file's own coordinates and unit.
    pub at_scan: [f64; 3],
    /// From its middle to its foot, mm.
    pub radius_mm: f32,
    /// How far it stands out, mm.
    pub height_mm: f32,
    /// Whether a relief lies over it.
    pub relieved: bool,
}

impl BonyPointSeen {
    fn new(point: &BonyPoint, placement: &Placement, regions: &[ExtraRegion]) -> Self {
        Self {
            at_scan: placement.scan_from_limb(&point.at_mm.cast()).coords.into(),
            radius_mm: point.radius_mm,
            height_mm: point.height_mm,
            relieved: point.is_relieved(regions),
        }
    }
}

/// A design on a cleaned limb, with nothing marked yet and the default shell of its body site.
#[must_use]
pub fn new_design(
    limb: &LimbOnAxes,
    site: BodySite,
    clean: &CleanSettings,
    squad_number: Option<u32>,
    scan: KeptScan,
) -> DesignFile {
    DesignFile {
        pauldron_design: VERSION,
        title: title_for(site, limb.side, squad_number),
        site,
        side: limb.side,
        squad_number,
        scan,
        placement: limb.placement,
        // Fixed here, so that a later guess cannot change the design.
        clean: CleanSettings { unit: Some(limb.report.unit.unit), ..clean.clone() },
        zone: ZoneSettings::default(),
        shell: shell_for(site),
        resolution_mm: 0.5,
        tolerance_mm: 0.02,
        material: mechanics::Family::SemiRigid,
        filament: None,
        strength: locker::StrengthSettings::default(),
        look: None,
    }
}

/// Takes ribs and vents out of a new design where the zone has no room for any; returns a sentence for each.
///
/// # Errors
/// Only that the work was stopped.
pub(crate) fn drop_what_has_no_room(
    design: &mut Design,
    skin: &Surface,
    zone: &Zone,
    job: &Job,
) -> Result<Vec<String>, EngineError> {
    let mut notices = Vec::new();
    loop {
        match shell::arrange(skin, zone, design, job) {
            Err(ShellError::CannotBuild { setting, .. })
                if setting.starts_with("shell.ribs") && design.ribs.is_some() =>
            {
                design.ribs = None;
                notices.push("The zone has no room for ribs; they were left out.".into());
            }
            Err(ShellError::CannotBuild { setting, .. })
                if setting.starts_with("shell.vents") && design.vents.is_some() =>
            {
                design.vents = None;
                notices.push("The zone has no room for vents; they were left out.".into());
            }
            Err(ShellError::Cancelled(cancelled)) => return Err(cancelled.into()),
            // Anything else is reported with its place when the guard is made.
            Ok(_) | Err(_) => return Ok(notices),
        }
    }
}

/// The default title of a guard.
#[must_use]
pub fn title_for(site: BodySite, side: Side, squad_number: Option<u32>) -> String {
    let site = site.name();
    let side = match side {
        Side::Left => "left ",
        Side::Right => "right ",
        Side::Unknown => "",
    };
    let number = squad_number.map(|n| format!(", number {n}")).unwrap_or_default();
    format!("Guard for the {side}{site}{number}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn titles_read_as_english_and_name_nobody() {
        assert_eq!(title_for(BodySite::Forearm, Side::Left, Some(14)), "Guard for the left forearm, number 14");
        assert_eq!(title_for(BodySite::Ankle, Side::Unknown, None), "Guard for the ankle and foot");
        assert_eq!(title_for(BodySite::Ribs, Side::Right, None), "Guard for the right rib side");
    }
}
