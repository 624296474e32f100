//! The parts of a shape that hang together.

use mesh::Surface;
use nalgebra::Point3;

use crate::shape::Shape;

/// Parts and holes smaller than this are slips of the brush, not meant.
const SPECK_CM2: f64 = 0.25;

/// One connected part.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) vertices: Vec<u32>,
    pub(crate) area_cm2: f64,
    pub(crate) middle: Point3<f32>,
}

/// The connected parts of the skin where the field is not negative, the biggest first.
pub(crate) fn pieces(skin: &Surface, field: &[f32]) -> Vec<Piece> {
    parts(skin, field, true)
}

/// The parts of a marked field that hang together, each as the vertices that lie in it, the biggest first.
///
/// `depth_mm` holds for each vertex of the skin how deep it lies in what is marked, as in [`crate::Sketch`]. Slips of the
/// brush, smaller than 0.25 cm², are left out beside a bigger part.
#[must_use]
pub fn spots(skin: &Surface, depth_mm: &[f32]) -> Vec<Vec<u32>> {
    let found = pieces(skin, depth_mm).into_iter().enumerate();
    found.filter(|(i, piece)| *i == 0 || piece.area_cm2 >= SPECK_CM2).map(|(_, piece)| piece.vertices).collect()
}

/// Takes small loose parts away and fills small holes, and says so.
pub(crate) fn drop_specks(skin: &Surface, shape: &mut Shape, notices: &mut Vec<String>) {
    for inside in [true, false] {
        let found = parts(skin, &shape.field, inside);
        // The biggest part stays, however small it is.
        let specks: Vec<&Piece> = found.iter().skip(1).filter(|p| p.area_cm2 < SPECK_CM2).collect();
        if specks.is_empty() {
            continue;
        }
        for v in specks.iter().flat_map(|p| &p.vertices) {
            shape.field[*v as usize] = if inside { -0.01 } else { 0.01 };
        }
        shape.lines = None;
        let what = if inside { "loose spots were left out of" } else { "holes were filled in" };
        notices.push(format!("{} {what} the zone, each smaller than {SPECK_CM2} cm²", specks.len()));
    }
}

fn parts(skin: &Surface, field: &[f32], inside: bool) -> Vec<Piece> {
    let mesh = skin.mesh();
    let mut seen = vec![false; field.len()];
    let mut found = Vec::new();
    for start in 0..field.len() {
        if seen[start] || (field[start] >= 0.0) != inside || skin.adjacency().triangles_around(start as u32).is_empty()
        {
            continue;
        }
        seen[start] = true;
        let mut vertices = vec![start as u32];
        let mut at = 0;
        let (mut area, mut sum) = (0.0, nalgebra::Vector3::<f64>::zeros());
        while let Some(&v) = vertices.get(at) {
            at += 1;
            for t in skin.adjacency().triangles_around(v) {
                let share = mesh.cross(*t as usize).norm() / 6.0;
                area += share;
                sum += mesh.points[v as usize].coords.cast::<f64>() * share;
                for w in mesh.triangles[*t as usize] {
                    if !seen[w as usize] && (field[w as usize] >= 0.0) == inside {
                        seen[w as usize] = true;
                        vertices.push(w);
                    }
                }
            }
        }
        let middle = if area > 0.0 { Point3::from(sum / area) } else { mesh.points[start].cast() };
        found.push(Piece { vertices, area_cm2: area / 100.0, middle: middle.cast() });
    }
    found.sort_by(|a, b| b.area_cm2.total_cmp(&a.area_cm2));
    found
}
