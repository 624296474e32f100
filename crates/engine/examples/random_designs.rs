//! Builds shells of random designs on random zones: `random_designs OUT_DIR COUNT SEED [ONLY]`
//!
//! Draws until COUNT shells are built. Design N leaves `N.stl` with the shell and `N.kinds` with what is on it, one
//! kind a line, and `N.sound` with what is not sound, a sentence a line; or `N.txt` with the sentence that refused it. With ONLY, that design alone is drawn and built, and its
//! settings go to `N.json`. The limbs are those of `demo-scans` and, where it is set, of `$PAULDRON_DATA/limbs`.
//!
//! Most draws are plausible: sizes that suit the zone, things put where they may have room. One in seven takes any
//! value that is allowed, anywhere.

#[path = "shared/chance.rs"]
mod chance;

use std::path::{Path, PathBuf};

use chance::Chance;
use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;
use scan::{BodySite, CleanSettings, Side};
use shell::limits::{self, Limit};
use shell::{Design, Fitting, FittingKind, Mark, Quality, RibLayout, Ribs, Rim, VentKind, Vents};
use zone::{Dab, EdgePull, ExtraRegion, RegionKind, Source, Zone, ZoneSettings};

/// Designs drawn at a time, and the most drawn for each shell wanted.
const BATCH: usize = 20;
const DRAWS_A_SHELL: usize = 4;

type Result<T> = std::result::Result<T, Box<dyn std::error::Error + Send + Sync>>;

fn main() -> Result<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let (out, count, seed, only) = match words.as_slice() {
        [out, count, seed] => (PathBuf::from(out), count.parse::<usize>()?, seed.parse::<u64>()?, None),
        [out, count, seed, only] => (PathBuf::from(out), count.parse()?, seed.parse()?, Some(only.parse::<usize>()?)),
        _ => return Err("wanted: random_designs OUT_DIR COUNT SEED [ONLY]".into()),
    };
    std::fs::create_dir_all(&out)?;
    let limbs = scans()?.par_iter().map(|path| Limb::open(path)).collect::<Result<Vec<_>>>()?;
    if let Some(n) = only {
        one(&limbs, &out, seed, n, true)?;
        return Ok(());
    }
    let (mut built, mut drawn) = (0, 0);
    while built < count && drawn < DRAWS_A_SHELL * count {
        let batch = drawn..drawn + BATCH;
        let made = batch.into_par_iter().map(|n| one(&limbs, &out, seed, n, false)).collect::<Result<Vec<_>>>()?;
        built += made.into_iter().filter(|built| *built).count();
        drawn += BATCH;
    }
    Ok(())
}

/// Draws design `n` and builds it; returns whether there is a shell.
fn one(limbs: &[Limb], out: &Path, seed: u64, n: usize, keep_settings: bool) -> Result<bool> {
    let mut chance = Chance::new(seed, n as u64);
    let limb = chance.of(limbs);
    let spot = limb.spot(&mut chance);
    let settings = zone_settings(&mut chance, limb, spot);
    let quality = Quality { voxel_mm: chance.between(0.8, 1.0), tolerance_mm: 0.02 };
    let refused = |why: String| -> Result<bool> {
        std::fs::write(out.join(format!("{n:03}.txt")), format!("{}: {why}\n", limb.name))?;
        Ok(false)
    };
    settings.check()?;
    let zone = match zone::make(&limb.skin, &settings, &Job::silent()) {
        Ok(zone) => zone,
        Err(error) => return refused(error.to_string()),
    };
    let design = design(&mut chance, limb, &zone);
    design.check()?;
    if keep_settings {
        let all = serde_json::json!({ "limb": limb.name, "zone": settings, "shell": design, "quality": quality });
        std::fs::write(out.join(format!("{n:03}.json")), serde_json::to_vec_pretty(&all)?)?;
    }
    match shell::build(&limb.skin, &zone, &design, &quality, &Job::silent()) {
        Ok(shell) => {
            // As it goes into a print file.
            let part = print::at_origin(&shell.mesh);
            mesh::write::save_atomic(&out.join(format!("{n:03}.stl")), |file| {
                mesh::write::stl_binary(&part, &format!("random design {n} on {}", limb.name), file)
            })?;
            std::fs::write(out.join(format!("{n:03}.kinds")), kinds(&zone, &design, shell.layout.openings.len()))?;
            let faults = shell.sound.map(|sound| sound.faults().join("\n")).unwrap_or_default();
            std::fs::write(out.join(format!("{n:03}.sound")), faults)?;
            Ok(true)
        }
        Err(error) => refused(error.to_string()),
    }
}

fn scans() -> Result<Vec<PathBuf>> {
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans")];
    let shared = std::env::var_os("PAULDRON_DATA").map(|data| PathBuf::from(data).join("limbs"));
    folders.extend(shared.filter(|folder| folder.is_dir()));
    let mut scans = Vec::new();
    for folder in folders {
        for entry in std::fs::read_dir(folder)? {
            let path = entry?.path();
            if path.extension().is_some_and(|e| ["ply", "stl", "obj"].iter().any(|known| e == *known)) {
                scans.push(path);
            }
        }
    }
    scans.sort();
    Ok(scans)
}

/// A cleaned limb, and how far each vertex is from where the scan ends.
struct Limb {
    name: String,
    skin: Surface,
    to_border_mm: Vec<f32>,
}

impl Limb {
    fn open(path: &Path) -> Result<Self> {
        let scan = engine::read_scan(path, &Job::silent())?.scan;
        let cleaned = scan::clean(&scan, BodySite::Other, Side::Unknown, &CleanSettings::default(), &Job::silent())?;
        let skin = Surface::new(cleaned.limb.mesh);
        let mesh = skin.mesh();
        let border: Vec<u32> = skin.adjacency().boundary_loops(mesh).concat();
        let to_border = |p: &Point3<f32>| {
            border.iter().map(|b| (mesh.points[*b as usize] - p).norm()).fold(f32::INFINITY, f32::min)
        };
        let to_border_mm = mesh.points.par_iter().map(to_border).collect();
        let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        Ok(Self { name, skin, to_border_mm })
    }

    /// A vertex for the middle of a zone, mostly away from where the scan ends.
    fn spot(&self, chance: &mut Chance) -> usize {
        let vertices = self.skin.mesh().points.len();
        let room_mm = if chance.happens(0.9) { 45.0 } else { 10.0 };
        (0..500).map(|_| chance.below(vertices)).find(|v| self.to_border_mm[*v] > room_mm).unwrap_or(0)
    }

    fn point(&self, vertex: usize) -> Point3<f32> {
        self.skin.mesh().points[vertex]
    }

    /// A skin point within `reach_mm` of a vertex.
    fn beside(&self, vertex: usize, reach_mm: f32, chance: &mut Chance) -> Point3<f32> {
        let middle = self.point(vertex);
        let away = Vector3::from_fn(|_, _| chance.between(-reach_mm, reach_mm));
        self.skin.nearest(&(middle + away), None).map_or(middle, |hit| hit.point)
    }
}

fn zone_settings(chance: &mut Chance, limb: &Limb, spot: usize) -> ZoneSettings {
    let source = if chance.happens(0.5) { outline(chance, limb, spot) } else { strokes(chance, limb, spot) };
    let mut settings = ZoneSettings { sources: vec![source], ..ZoneSettings::default() };
    if chance.happens(0.3) {
        settings.grow_mm = chance.between(-3.0, 8.0);
    }
    if chance.happens(0.5) {
        settings.smooth_mm = chance.between(0.0, 12.0);
    }
    while settings.regions.len() < 3 && chance.happens(0.4) {
        let falloff_mm = chance.mostly(0.0, 15.0, 60.0);
        let kind = match chance.below(3) {
            0 => RegionKind::Relief { depth_mm: chance.mostly(0.2, 5.0, 20.0), falloff_mm },
            1 => RegionKind::Reinforcement { extra_mm: chance.mostly(0.2, 4.0, 10.0), falloff_mm },
            _ => RegionKind::KeepClear { margin_mm: chance.mostly(0.0, 3.0, 30.0) },
        };
        let dab = Dab { at_mm: limb.beside(spot, 20.0, chance), radius_mm: chance.between(3.0, 14.0), remove: false };
        settings.regions.push(ExtraRegion { kind, sources: vec![Source::Strokes { dabs: vec![dab] }] });
    }
    // Drawn aside, so that what comes after is the same with pulls and without.
    let aside = &mut chance.clone();
    while settings.pulls.len() < 3 && aside.happens(0.25) {
        let at_mm = limb.beside(spot, 45.0, aside);
        settings.pulls.push(EdgePull { at_mm, by_mm: aside.mostly(-10.0, 12.0, 60.0) });
    }
    settings
}

fn strokes(chance: &mut Chance, limb: &Limb, spot: usize) -> Source {
    let mut dabs = vec![Dab { at_mm: limb.point(spot), radius_mm: chance.between(18.0, 40.0), remove: false }];
    while dabs.len() < 4 && chance.happens(0.5) {
        let at_mm = limb.beside(spot, 30.0, chance);
        let remove = chance.happens(0.2);
        let radius_mm = if remove { chance.between(4.0, 8.0) } else { chance.between(8.0, 30.0) };
        dabs.push(Dab { at_mm, radius_mm, remove });
    }
    Source::Strokes { dabs }
}

fn outline(chance: &mut Chance, limb: &Limb, spot: usize) -> Source {
    let (middle, normal) = (limb.point(spot), limb.skin.vertex_normals()[spot]);
    let across = normal.cross(&if normal.z.abs() < 0.8 { Vector3::z() } else { Vector3::x() }).normalize();
    let along = normal.cross(&across);
    let corners = 4 + chance.below(5);
    let corners_mm = (0..corners)
        .filter_map(|k| {
            let turn = (k as f32 + chance.between(-0.3, 0.3)) / corners as f32 * std::f32::consts::TAU;
            let reach = chance.between(20.0, 45.0);
            let p = middle + (across * turn.cos() + along * turn.sin()) * reach;
            limb.skin.nearest(&p, None).map(|hit| hit.point)
        })
        .collect();
    Source::Outline { corners_mm, inside_mm: Some(middle) }
}

/// What is on a shell, one kind a line.
fn kinds(zone: &Zone, design: &Design, openings: usize) -> String {
    let mut words = Vec::new();
    words.extend(design.ribs.map(|ribs| format!("{:?} ribs", ribs.layout)));
    words.extend(design.vents.map(|vents| format!("{:?} vents", vents.kind)));
    words.extend(design.fittings.iter().map(|fitting| match fitting.kind {
        FittingKind::StrapSlot { .. } => "strap slot".to_owned(),
        FittingKind::LaceHoles { .. } => "lace holes".to_owned(),
        FittingKind::TieSlot { .. } => "tie slot".to_owned(),
        FittingKind::StitchHoles { .. } => "stitch holes".to_owned(),
        FittingKind::HookAndLoopSeat { .. } => "hook-and-loop seat".to_owned(),
        _ => "another fitting".to_owned(),
    }));
    let raised = |mark: &Mark| if mark.relief_mm > 0.0 { "raised text" } else { "sunk text" };
    words.extend(design.marks.iter().map(|mark| raised(mark).to_owned()));
    if !zone.reliefs.is_empty() {
        words.push("relief".to_owned());
    }
    if !zone.reinforcements.is_empty() {
        words.push("reinforcement".to_owned());
    }
    if openings == 0 {
        words.push("no opening".to_owned());
    }
    words.sort();
    words.dedup();
    words.join("\n") + "\n"
}

fn design(chance: &mut Chance, limb: &Limb, zone: &Zone) -> Design {
    let mut room = ZoneRoom::new(limb, zone, chance.happens(1.0 / 7.0));
    let deep = room.deepest_mm;
    // The zone must be deep enough for the wall and a full rounding.
    let thickness_mm = room.draw(chance, &limits::THICKNESS, 1.2, (0.5 * deep).min(5.0));
    let full_round = (0.5 * thickness_mm).min(limits::ROUND.most);
    let flare_mm = room.draw(chance, &limits::FLARE, 0.0, 2.5);
    let flare_width_mm = room.draw(chance, &limits::FLARE_WIDTH, 1.0, (0.4 * deep).min(12.0));
    let rim = Rim {
        round_mm: match chance.below(4) {
            0 => 0.0,
            1 => full_round,
            _ => chance.between(0.0, full_round),
        },
        flare_mm,
        flare_width_mm: flare_width_mm.max(limits::least_flare_width_mm(flare_mm)),
        bead_mm: if chance.happens(0.25) { chance.between(0.0, limits::BEAD.most.min(0.3 * deep)) } else { 0.0 },
    };
    let gap_mm = room.draw(chance, &limits::GAP, 0.0, 5.0);
    let mut design = Design { gap_mm, thickness_mm, rim, ..Design::default() };
    let (mut tried, wanted) = (0, (0..3).take_while(|_| chance.happens(0.5)).count());
    while design.fittings.len() < wanted && tried < 12 {
        tried += 1;
        let kind = fitting_kind(chance, &room, &design);
        if let Some(at_mm) = room.anchor(chance, reach_mm(&kind), 5.5_f32.max(limits::rim_wall_mm(&design) + 1.0)) {
            design.fittings.push(Fitting { kind, at_mm, turn_deg: chance.between(-360.0, 360.0), follows: false });
        }
    }
    if chance.happens(0.4) {
        design.marks.extend(mark(chance, &mut room, &design));
    }
    if chance.happens(0.6) {
        let kind = *chance.of(&VentKind::ALL);
        // Slots are three times as long as wide, and both ends need room.
        let room_mm = room.room_mm() / if kind == VentKind::Slot { 3.2 } else { 1.2 };
        let rim_distance_mm = room.draw(chance, &limits::VENT_RIM_DISTANCE, 3.0, 0.25 * deep);
        let size_mm = room.draw(chance, &limits::VENT_SIZE, 2.0, room_mm.min(0.35 * deep));
        // A third of the size between them leaves half of the shell, whatever the kind of vents.
        let ligament_mm = room.draw(chance, &limits::VENT_LIGAMENT, 0.35 * size_mm, (0.6 * size_mm).max(3.0));
        let seed = chance.number() >> 12;
        let grade_percent = if chance.happens(0.3) { chance.between(0.0, limits::VENT_GRADE.most) } else { 0.0 };
        let open_percent = chance.happens(0.2).then(|| chance.between(limits::VENT_OPEN.least, 40.0));
        design.vents = Some(Vents { kind, size_mm, ligament_mm, rim_distance_mm, seed, grade_percent, open_percent });
    }
    if chance.happens(0.6) {
        let layout = *chance.of(&RibLayout::ALL);
        let height_mm = room.draw(chance, &limits::RIB_HEIGHT, 0.5, 3.0);
        // The foot of a rib stays clear of the rounding, the flare and things beside it.
        let free_mm = room.room_mm().min(deep - rim.round_mm - 0.5 * rim.flare_width_mm - 1.0);
        let width_mm = room.draw(chance, &limits::RIB_WIDTH, 1.5, (0.8 * free_mm - 4.0).min(0.25 * deep));
        let ribs = Ribs { layout, height_mm, width_mm, spacing_mm: limits::RIB_SPACING.most };
        // A bay must hold a vent. Slots lie along the limb, so between ribs across it a bay must be as long as a slot.
        let vent_mm = design.vents.map_or(0.0, |vents| {
            let long = vents.kind == VentKind::Slot && layout != RibLayout::Along;
            2.0 * vents.ligament_mm + vents.size_mm * if long { 3.4 } else { 1.6 }
        });
        let least = limits::least_rib_spacing_mm(&ribs).max(width_mm + 2.0 * height_mm.min(2.0) + vent_mm);
        let spacing_mm = room.draw(chance, &limits::RIB_SPACING, least, (1.5 * least).max(40.0));
        design.ribs = Some(Ribs { spacing_mm: spacing_mm.max(limits::least_rib_spacing_mm(&ribs)), ..ribs });
    }
    design
}

fn fitting_kind(chance: &mut Chance, room: &ZoneRoom<'_>, design: &Design) -> FittingKind {
    // A thing reaches half its length from its middle, so one of 1.2 depths mostly fits in the middle of the zone.
    let long = 1.2 * room.deepest_mm;
    match chance.below(5) {
        0 => FittingKind::StrapSlot {
            strap_mm: match chance.happens(0.4) {
                true => 25.0,
                false => room.draw(chance, &limits::STRAP, 8.0, long.min(50.0)),
            },
            opening_mm: room.draw(chance, &limits::STRAP_OPENING, 2.0, 5.0),
        },
        1 => {
            let hole_mm = room.draw(chance, &limits::LACE_HOLE, 2.0, 5.0);
            let least = limits::least_lace_pitch_mm(hole_mm);
            let count = 1 + chance.below(4) as u32;
            // Holes are closer together round a bend.
            let pitch_mm = room.draw(chance, &limits::LACE_PITCH, least + 1.0, (long / count as f32).max(least + 4.0));
            FittingKind::LaceHoles { count, hole_mm, pitch_mm: pitch_mm.max(least) }
        }
        2 => FittingKind::TieSlot {
            tie_mm: room.draw(chance, &limits::TIE, 2.0, 8.0),
            bridge_mm: room.draw(chance, &limits::TIE_BRIDGE, 2.5, 8.0),
        },
        3 => {
            let hole_mm = room.draw(chance, &limits::STITCH_HOLE, 1.0, 2.5);
            let (pitch, inset) =
                (limits::least_stitch_pitch_mm(hole_mm), limits::least_stitch_inset_mm(hole_mm, design));
            let pitch_mm = room.draw(chance, &limits::STITCH_PITCH, pitch, 12.0).max(pitch);
            let inset_mm =
                room.draw(chance, &limits::STITCH_INSET, inset + 0.4, (0.4 * room.deepest_mm).max(inset + 1.0));
            FittingKind::StitchHoles { hole_mm, pitch_mm, inset_mm: inset_mm.max(inset) }
        }
        _ => {
            let most = limits::most_sunk_mm(design);
            if most < limits::SEAT_DEPTH.least {
                return FittingKind::TieSlot { tie_mm: 5.0, bridge_mm: 5.0 };
            }
            FittingKind::HookAndLoopSeat {
                length_mm: room.draw(chance, &limits::SEAT_LENGTH, 8.0, long.min(40.0)),
                width_mm: room.draw(chance, &limits::SEAT_WIDTH, 8.0, (0.8 * long).min(30.0)),
                depth_mm: room.draw(chance, &limits::SEAT_DEPTH, 0.2, 1.0).min(most),
            }
        }
    }
}

/// Farthest that a fitting reaches from its middle, mm.
fn reach_mm(kind: &FittingKind) -> f32 {
    match kind {
        FittingKind::StrapSlot { strap_mm, opening_mm } => (0.5 * strap_mm + 1.0).hypot(0.5 * opening_mm),
        FittingKind::LaceHoles { count, hole_mm, pitch_mm } => 0.5 * ((*count as f32 - 1.0) * pitch_mm + hole_mm),
        FittingKind::TieSlot { tie_mm, bridge_mm } => (0.5 * tie_mm + 0.5).hypot(0.5 * bridge_mm + 2.5),
        FittingKind::HookAndLoopSeat { length_mm, width_mm, .. } => (0.5 * length_mm).hypot(0.5 * width_mm),
        _ => 0.0,
    }
}

fn mark(chance: &mut Chance, room: &mut ZoneRoom<'_>, design: &Design) -> Option<Mark> {
    let deepest = limits::most_sunk_mm(design).min(-limits::MARK_RELIEF.least);
    let sunk = deepest >= limits::LEAST_RELIEF_MM && chance.happens(0.4);
    let relief_mm = match sunk {
        true => -chance.between(limits::LEAST_RELIEF_MM, deepest),
        false => chance.between(limits::LEAST_RELIEF_MM, limits::MARK_RELIEF.most),
    };
    for _ in 0..6 {
        let text = (*chance.of(&["7", "23", "TH 16", "LEFT", "No. 4", "ÅÖ8"])).to_owned();
        // The strokes of lower letters are too thin to print.
        let height_mm = room.draw(chance, &limits::MARK_HEIGHT, 8.0, 0.5 * room.deepest_mm);
        let reach = (0.36 * height_mm * text.chars().count() as f32).hypot(0.6 * height_mm);
        if let Some(at_mm) = room.anchor(chance, reach, limits::rim_wall_mm(design) + 1.0) {
            let turn_deg = chance.between(-360.0, 360.0);
            return Some(Mark { text, height_mm, relief_mm, at_mm, turn_deg, kind: shell::MarkKind::Relief });
        }
    }
    None
}

/// The room that a zone has for fittings, marks and patterns.
struct ZoneRoom<'a> {
    limb: &'a Limb,
    depth_mm: &'a [f32],
    deepest_mm: f32,
    /// Take any value that is allowed, anywhere.
    bold: bool,
    /// Middles and reaches of what is there already.
    taken: Vec<(Point3<f32>, f32)>,
}

impl<'a> ZoneRoom<'a> {
    fn new(limb: &'a Limb, zone: &'a Zone, bold: bool) -> Self {
        let depth_mm = zone.covered.distance_mm.as_slice();
        let deepest_mm = depth_mm.iter().copied().fold(0.0, f32::max);
        Self { limb, depth_mm, deepest_mm, bold, taken: Vec::new() }
    }

    /// A value from `least` to `most` as far as `limit` allows; any allowed one for a bold draw.
    fn draw(&self, chance: &mut Chance, limit: &Limit, least: f32, most: f32) -> f32 {
        let usual = [least, most.max(least)].map(|x| x.clamp(limit.least, limit.most));
        let [least, most] = if self.bold { [limit.least, limit.most] } else { usual };
        chance.between(least, most)
    }

    /// About the radius of the largest free disc.
    fn room_mm(&self) -> f32 {
        let free = |v: usize| {
            let p = self.limb.point(v);
            self.taken.iter().map(|(q, reach)| (p - q).norm() - reach).fold(self.depth_mm[v], f32::min)
        };
        (0..self.depth_mm.len()).map(free).fold(0.0, f32::max)
    }

    /// A free place for a thing of this reach with a wall round it; any place of the zone for a bold draw.
    fn anchor(&mut self, chance: &mut Chance, reach_mm: f32, wall_mm: f32) -> Option<Point3<f32>> {
        let clear = |v: &usize| {
            let p = self.limb.point(*v);
            self.depth_mm[*v] > reach_mm + wall_mm
                && self.taken.iter().all(|(q, other)| (p - q).norm() > reach_mm + other + 2.5)
        };
        let candidates: Vec<usize> =
            (0..self.depth_mm.len()).filter(|v| if self.bold { self.depth_mm[*v] > 0.0 } else { clear(v) }).collect();
        if candidates.is_empty() {
            return None;
        }
        let at = self.limb.point(*chance.of(&candidates));
        self.taken.push((at, reach_mm));
        Some(at)
    }
}
