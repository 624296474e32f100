//! Connected components of a region, and of what lies outside of it.

use mesh::{Cancelled, Job, Surface};
use nalgebra::Point3;

use crate::region_field::RegionField;

/// Components and holes smaller than this are slips of the brush, not meant.
const SPECK_CM2: f64 = 0.25;

/// One connected component.
#[derive(Debug, Clone)]
pub(crate) struct Component {
    pub(crate) vertices: Vec<u32>,
    pub(crate) area_cm2: f64,
    pub(crate) middle: Point3<f32>,
}

/// Vertices between two checks for cancellation.
const VERTICES_A_LOOK: usize = 16_384;

/// The connected components of what is marked, each as the vertices that lie in it, the largest first.
///
/// `depth_mm` holds for each vertex of the skin how deep it lies in what is marked, as in [`crate::Sketch`]. Slips of
/// the brush, smaller than 0.25 cm², are left out beside a larger component.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn connected_components(skin: &Surface, depth_mm: &[f32], job: &Job) -> Result<Vec<Vec<u32>>, Cancelled> {
    let found = components(skin, depth_mm, true, job)?.into_iter().enumerate();
    Ok(found.filter(|(i, c)| *i == 0 || c.area_cm2 >= SPECK_CM2).map(|(_, c)| c.vertices).collect())
}

/// Removes small loose components and fills small holes, with a notice for each kind.
///
/// # Errors
/// [`Cancelled`] on request.
pub(crate) fn drop_specks(
    skin: &Surface,
    shape: &mut RegionField,
    notices: &mut Vec<String>,
    job: &Job,
) -> Result<(), Cancelled> {
    for inside in [true, false] {
        let found = components(skin, &shape.field, inside, job)?;
        // The largest stays, however small it is.
        let specks: Vec<&Component> = found.iter().skip(1).filter(|p| p.area_cm2 < SPECK_CM2).collect();
        if specks.is_empty() {
            continue;
        }
        for v in specks.iter().flat_map(|p| &p.vertices) {
            shape.field[*v as usize] = if inside { -0.01 } else { 0.01 };
        }
        shape.lines = None;
        let what = if inside { "loose spots were left out of" } else { "holes were filled in" };
        notices.push(format!("{} {what} the zone, each smaller than {SPECK_CM2:.1} cm²", specks.len()));
    }
    Ok(())
}

/// The connected components of the skin where the field is not negative, or where it is; the largest first.
///
/// # Errors
/// [`Cancelled`] on request; checked every [`VERTICES_A_LOOK`] vertices.
pub(crate) fn components(skin: &Surface, field: &[f32], inside: bool, job: &Job) -> Result<Vec<Component>, Cancelled> {
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
            if at % VERTICES_A_LOOK == 0 {
                job.check()?;
            }
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
        found.push(Component { vertices, area_cm2: area / 100.0, middle: middle.cast() });
    }
    found.sort_by(|a, b| b.area_cm2.total_cmp(&a.area_cm2));
    Ok(found)
}
