//! The map of a design's zone as an OBJ file whose texture coordinates are places on the map, mm: `zone_map DESIGN OBJ`.
//! Points are in the design's axes. The first lines tell how the map lies.

use std::fmt::Write;
use std::path::Path;

use mesh::Job;
use zone::map::ZoneMap;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [design, out] = words.as_slice() else { return Err("give DESIGN OBJ".into()) };
    let (path, job) = (Path::new(design), Job::silent());
    let file = locker::load_design(path)?;
    let opened = engine::open(&file, path.parent().unwrap_or(Path::new(".")), &job)?;
    let map = ZoneMap::make(&opened.skin, &opened.zone, &job)?;
    let mut text = format!("# asymmetry {:.4}\n# turned {:.1}\n", map.asymmetry(), map.axis_deg());
    for line in map.outline() {
        text.push_str("# outline");
        line.iter().try_for_each(|p| write!(text, " {:.4},{:.4}", p.x, p.y))?;
        text.push('\n');
    }
    for (vertex, place) in map.points() {
        let p = opened.skin.mesh().points[vertex as usize];
        writeln!(text, "v {} {} {}\nvt {:.5} {:.5}", p.x, p.y, p.z, place.x, place.y)?;
    }
    for [a, b, c] in map.triangles() {
        writeln!(text, "f {0}/{0} {1}/{1} {2}/{2}", a + 1, b + 1, c + 1)?;
    }
    std::fs::write(out, text)?;
    Ok(())
}
