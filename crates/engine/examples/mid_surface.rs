//! The middle surface of a design's guard as JSON: `mid_surface DESIGN JSON`. Nodes are in the design's axes, mm; for each
//! triangle the wall at three places, its thickness and how far its middle lies over the nodes.

use std::path::Path;

use mechanics::mid_surface::{Fineness, MidSurface};
use mesh::Job;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [design, out] = words.as_slice() else { return Err("give DESIGN JSON".into()) };
    let (path, job) = (Path::new(design), Job::silent());
    let file = locker::load_design(path)?;
    let opened = engine::open(&file, path.parent().unwrap_or(Path::new(".")), &job)?;
    let layout = shell::arrange(&opened.skin, &opened.zone, &file.shell, &job)?;
    let made = MidSurface::new(&opened.skin, &opened.zone, &file.shell, &layout, &Fineness::default(), &job)?;
    let walls: Vec<Vec<[f64; 2]>> =
        made.walls.iter().map(|wall| wall.iter().map(|slice| [slice.thickness_mm, slice.over_mm]).collect()).collect();
    let text = serde_json::json!({
        "points_mm": made.points.iter().map(|p| [p.x, p.y, p.z]).collect::<Vec<_>>(),
        "triangles": made.triangles,
        "walls_mm": walls,
        "notices": made.notices,
    });
    std::fs::write(out, text.to_string())?;
    Ok(())
}
