//! The middle surface of a design's guard, and how it gives, as JSON: `mid_surface DESIGN JSON`.
//!
//! Nodes are in the design's axes, mm; for each triangle the wall at three places, its thickness and how far its middle lies
//! over the nodes. The nodes on the trim line are held in place, 100 N press the middle of the guard inward, spread over
//! `loads_n`; the stresses near the corners of each triangle are those of the outer and the inner face. The material has the stated Young's modulus and Poisson's ratio.

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Instant;

use mechanics::elements::Hold;
use mechanics::mid_surface::{Fineness, MidSurface};
use mechanics::strength::{Plastic, Strength, stresses};
use mesh::Job;
use nalgebra::{Vector3, Vector6};

const YOUNG_MPA: f64 = 2300.0;
const POISSON: f64 = 0.35;
const FORCE_N: f64 = 100.0;
/// The force is spread over nodes this near to the middle, mm.
const REACH_MM: f64 = 8.0;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [design, out] = words.as_slice() else { return Err("give DESIGN JSON".into()) };
    let (path, job) = (Path::new(design), Job::silent());
    let file = locker::load_design(path)?;
    let opened = engine::open(&file, path.parent().unwrap_or(Path::new(".")), &job)?;
    let layout = shell::arrange(&opened.skin, &opened.zone, &file.shell, &job)?;
    let made = MidSurface::new(&opened.skin, &opened.zone, &file.shell, &layout, &Fineness::default(), &job)?;

    let rim: BTreeSet<u32> = made.edges().swap_remove(0).into_iter().collect();
    let middle: Vector3<f64> = made.points.iter().map(|p| p.coords).sum::<Vector3<f64>>() / made.points.len() as f64;
    let off = |v: &usize| (made.points[*v].coords - middle).norm();
    let struck = (0..made.points.len()).min_by(|a, b| off(a).total_cmp(&off(b))).ok_or("no node")?;
    let near = |v: &usize| (made.points[*v] - made.points[struck]).norm() < REACH_MM && !rim.contains(&(*v as u32));
    let pressed: Vec<usize> = (0..made.points.len()).filter(near).collect();
    let inward = -opened.skin.normal_at(&made.below[struck]).cast::<f64>();
    let mut loads = vec![Vector6::zeros(); made.points.len()];
    pressed.iter().for_each(|v| (0..3).for_each(|k| loads[*v][k] = inward[k] * FORCE_N / pressed.len() as f64));
    let mut holds = vec![[Hold::Free; 6]; made.points.len()];
    rim.iter().for_each(|v| holds[*v as usize][..3].fill(Hold::Held));

    let start = Instant::now();
    let system = made.of(YOUNG_MPA, POISSON).assembled(&holds)?.with(&[])?;
    let seconds = start.elapsed().as_secs_f64();
    let moved = system.under(&loads);
    let plastic = Plastic { young_mpa: YOUNG_MPA, poisson: POISSON };
    let strength = Strength { along_mpa: 1.0, across_mpa: 1.0, bent: 1.0, layers: Vector3::z() };
    let stressed = stresses(&made, &plastic, &strength, &moved, &job)?;
    let von_mises: Vec<[[f64; 2]; 3]> =
        stressed.iter().map(|places| places.map(|faces| faces.map(|face| face.von_mises_mpa))).collect();
    let walls: Vec<Vec<[f64; 2]>> =
        made.walls.iter().map(|wall| wall.iter().map(|slice| [slice.thickness_mm, slice.over_mm]).collect()).collect();
    let text = serde_json::json!({
        "points_mm": made.points.iter().map(|p| [p.x, p.y, p.z]).collect::<Vec<_>>(),
        "triangles": made.triangles,
        "walls_mm": walls,
        "notices": made.notices,
        "young_mpa": YOUNG_MPA,
        "poisson": POISSON,
        "held": rim,
        "struck": struck,
        "loads_n": pressed.iter().map(|v| (*v, [loads[*v][0], loads[*v][1], loads[*v][2]])).collect::<Vec<_>>(),
        "moved_mm": moved.iter().map(|m| [m[0], m[1], m[2]]).collect::<Vec<_>>(),
        "von_mises_mpa": von_mises,
        "unknowns": system.unknowns(),
        "seconds": seconds,
    });
    std::fs::write(out, text.to_string())?;
    Ok(())
}
