//! Builds shells of random designs on random zones: `random_designs OUT_DIR COUNT SEED [ONLY]`
//!
//! Draws until COUNT shells are built. Design N leaves `N.stl` with the shell, or `N.txt` with the sentence that refused
//! it. With ONLY that one design is drawn and built, and its settings go to `N.json`. The limbs are those of
//! `demo-scans` and, where the environment names it, of `$PAULDRON_DATA/limbs`.

use std::path::{Path, PathBuf};

use mesh::{Job, Surface};
use nalgebra::{Point3, Vector3};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use rayon::prelude::*;
use scan::{BodySite, CleanSettings, Side};
use shell::{Design, Fitting, FittingKind, Mark, Quality, RibLayout, Ribs, Rim, VentKind, Vents};
use zone::{Dab, ExtraRegion, RegionKind, Source, Zone, ZoneSettings};

/// Designs drawn at a time, and at most for each shell wanted.
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

/// Draws design `n` and builds it. Whether there is a shell.
fn one(limbs: &[Limb], out: &Path, seed: u64, n: usize, keep_settings: bool) -> Result<bool> {
    let mut chance = Chance(Pcg64Mcg::seed_from_u64(seed.wrapping_mul(1_000_003).wrapping_add(n as u64)));
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

fn design(chance: &mut Chance, limb: &Limb, zone: &Zone) -> Design {
    let thickness_mm = chance.mostly(0.8, 4.0, 10.0);
    let full_round = 0.5 * thickness_mm;
    let rim = Rim {
        round_mm: match chance.below(4) {
            0 => 0.0,
            1 => full_round,
            _ => chance.between(0.0, full_round),
        },
        flare_mm: chance.mostly(0.0, 2.5, 10.0),
        flare_width_mm: chance.mostly(1.0, 12.0, 40.0),
    };
    let mut design = Design { gap_mm: chance.mostly(0.0, 5.0, 20.0), thickness_mm, rim, ..Design::default() };
    if chance.happens(0.6) {
        let layout = *chance.of(&[RibLayout::Along, RibLayout::Around, RibLayout::Crossed, RibLayout::Branching]);
        let width_mm = chance.mostly(1.5, 6.0, 15.0);
        let spacing_mm = chance.mostly(width_mm + 4.0, 40.0, 200.0);
        design.ribs = Some(Ribs { layout, height_mm: chance.mostly(0.5, 3.0, 8.0), width_mm, spacing_mm });
    }
    if chance.happens(0.6) {
        design.vents = Some(Vents {
            kind: *chance.of(&[VentKind::Round, VentKind::Slot, VentKind::Honeycomb, VentKind::Cells]),
            size_mm: chance.mostly(2.0, 10.0, 25.0),
            ligament_mm: chance.mostly(1.6, 6.0, 30.0),
            rim_distance_mm: chance.mostly(3.0, 12.0, 60.0),
            seed: chance.0.next_u64() >> 12,
        });
    }
    while design.fittings.len() < 3 && chance.happens(0.4) {
        let (kind, at_mm) = (fitting_kind(chance), anchor(chance, limb, zone));
        design.fittings.push(Fitting { kind, at_mm, turn_deg: chance.between(-360.0, 360.0) });
    }
    if chance.happens(0.3) {
        design.marks.push(Mark {
            text: (*chance.of(&["7", "23", "TH 16", "LEFT", "No. 4", "ÅÖ8"])).to_owned(),
            height_mm: chance.mostly(4.0, 14.0, 80.0),
            relief_mm: chance.between(-2.0, 3.0),
            at_mm: anchor(chance, limb, zone),
            turn_deg: chance.between(-360.0, 360.0),
        });
    }
    design
}

fn fitting_kind(chance: &mut Chance) -> FittingKind {
    match chance.below(5) {
        0 => FittingKind::StrapSlot {
            strap_mm: if chance.happens(0.5) { 25.0 } else { chance.mostly(8.0, 40.0, 120.0) },
            opening_mm: chance.mostly(2.0, 5.0, 15.0),
        },
        1 => {
            let hole_mm = chance.mostly(2.0, 5.0, 12.0);
            let pitch_mm = chance.mostly(hole_mm + 1.6, 14.0, 60.0);
            FittingKind::LaceHoles { count: 1 + chance.below(4) as u32, hole_mm, pitch_mm }
        }
        2 => FittingKind::TieSlot { tie_mm: chance.mostly(2.0, 8.0, 30.0), bridge_mm: chance.mostly(1.6, 8.0, 40.0) },
        3 => {
            let hole_mm = chance.mostly(1.0, 2.5, 6.0);
            FittingKind::StitchHoles {
                hole_mm,
                pitch_mm: chance.mostly(hole_mm + 1.6, 12.0, 60.0),
                inset_mm: chance.mostly(0.5 * hole_mm + 1.6, 6.0, 40.0),
            }
        }
        _ => FittingKind::HookAndLoopSeat {
            length_mm: chance.mostly(8.0, 25.0, 200.0),
            width_mm: chance.mostly(8.0, 20.0, 120.0),
            depth_mm: chance.mostly(0.2, 1.0, 3.0),
        },
    }
}

/// A place for a fitting or mark: mostly at least half as far in as the zone is deep, else anywhere on it.
fn anchor(chance: &mut Chance, limb: &Limb, zone: &Zone) -> Point3<f32> {
    let depth = &zone.covered.distance_mm;
    let deepest = depth.iter().copied().fold(0.0, f32::max);
    let least = if chance.happens(0.85) { 0.5 * deepest } else { 0.0 };
    let candidates: Vec<usize> = (0..depth.len()).filter(|v| depth[*v] >= least).collect();
    if candidates.is_empty() { limb.point(0) } else { limb.point(*chance.of(&candidates)) }
}

/// Everything random, from one seed.
struct Chance(Pcg64Mcg);

impl Chance {
    fn between(&mut self, low: f32, high: f32) -> f32 {
        let unit = (self.0.next_u64() >> 40) as f32 / (1_u32 << 24) as f32;
        (low + (high - low) * unit).clamp(low, high)
    }

    /// Nine times in ten what is usual, otherwise anything that is allowed.
    fn mostly(&mut self, low: f32, usual: f32, high: f32) -> f32 {
        let high = if self.happens(0.9) { usual.max(low) } else { high };
        self.between(low, high)
    }

    fn happens(&mut self, probability: f32) -> bool {
        self.between(0.0, 1.0) < probability
    }

    fn below(&mut self, count: usize) -> usize {
        ((self.0.next_u64() >> 32) as usize * count) >> 32
    }

    fn of<'a, T>(&mut self, things: &'a [T]) -> &'a T {
        &things[self.below(things.len())]
    }
}
