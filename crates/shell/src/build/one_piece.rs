//! A shell is one connected component: small ones beside it are dropped, large ones refused.

use mesh::{Cancelled, Job, Mesh, Place, UnionFind};
use nalgebra::Point3;

use crate::{Layout, ShellError};

/// Components smaller than this share of the whole volume are dropped: the print does without them.
const LEAST_SHARE: f64 = 0.01;
/// A loose piece is told from this volume on, mm³.
const TOLD_MM3: f64 = 0.1;
/// Triangles between two checks for cancellation.
const TRIANGLES_A_LOOK: usize = 65_536;

/// Keeps the largest component; refuses a shell that falls into several large ones.
pub(super) fn one_piece(raw: Mesh, layout: &Layout, notices: &mut Vec<String>, job: &Job) -> Result<Mesh, ShellError> {
    let (component, count) = components(&raw, job)?;
    if count == 1 {
        return Ok(raw);
    }
    let mut volumes = vec![0.0_f64; count];
    for (t, p) in component.iter().enumerate() {
        let [a, b, c] = raw.corners(t).map(|p| p.coords.cast::<f64>());
        volumes[*p as usize] += a.dot(&b.cross(&c)) / 6.0;
    }
    let total: f64 = volumes.iter().map(|v| v.abs()).sum();
    let Some(largest) = (0..count).max_by(|a, b| volumes[*a].total_cmp(&volumes[*b])) else {
        return Err(ShellError::CannotBuild {
            setting: "shell".into(),
            place: Point3::origin(),
            what: "nothing is left of the wall".into(),
            cure: "Make the vents smaller or the zone larger.".into(),
        });
    };
    let second = (0..count).filter(|p| *p != largest).max_by(|a, b| volumes[*a].total_cmp(&volumes[*b]));
    if let Some(second) = second.filter(|p| volumes[*p] > LEAST_SHARE * total) {
        let at = component.iter().position(|p| *p as usize == second).unwrap_or(0);
        let (setting, cure) = if layout.openings.is_empty() {
            ("zone", "Join the parts of the zone, or make a guard of each.")
        } else {
            (
                "shell.vents",
                "Leave more plastic between the openings (vents.ligament_mm), or make them fewer or smaller.",
            )
        };
        return Err(ShellError::CannotBuild {
            setting: setting.into(),
            place: raw.corners(at)[0],
            what: "the shell falls into separate pieces".into(),
            cure: cure.into(),
        });
    }
    // Specks that the grid leaves are not worth a word.
    let told = (0..count).filter(|p| *p != largest && volumes[*p].abs() >= TOLD_MM3).count();
    if told > 0 {
        notices.push(match told {
            1 => {
                let is_told = |p: u32| p as usize != largest && volumes[p as usize].abs() >= TOLD_MM3;
                let loose = component.iter().position(|p| is_told(*p)).unwrap_or(0);
                let place = Place::new(&raw.corners(loose)[0], 0);
                format!("1 small loose piece was removed from the shell near {place:#} mm.")
            }
            more => format!("{more} small loose pieces were removed from the shell."),
        });
    }
    let mut number = vec![u32::MAX; raw.points.len()];
    let mut points = Vec::new();
    let mut triangles = Vec::new();
    for (corners, _) in raw.triangles.iter().zip(&component).filter(|(_, p)| **p as usize == largest) {
        triangles.push(corners.map(|v| {
            if number[v as usize] == u32::MAX {
                number[v as usize] = points.len() as u32;
                points.push(raw.points[v as usize]);
            }
            number[v as usize]
        }));
    }
    Ok(Mesh::new(points, triangles))
}

/// The connected component of each triangle, and how many there are. Components share no vertex.
fn components(raw: &Mesh, job: &Job) -> Result<(Vec<u32>, usize), Cancelled> {
    let mut sets = UnionFind::new(raw.points.len());
    for some in raw.triangles.chunks(TRIANGLES_A_LOOK) {
        job.check()?;
        for [a, b, c] in some {
            sets.union(*a, *b);
            sets.union(*a, *c);
        }
    }
    let is_one = (0..raw.points.len() as u32).filter(|v| sets.find(*v) == *v).nth(1).is_none();
    if is_one && !raw.triangles.is_empty() {
        return Ok((vec![0; raw.triangles.len()], 1));
    }
    let mut number = vec![u32::MAX; raw.points.len()];
    let mut count = 0;
    let component = raw.triangles.iter().map(|[a, ..]| {
        let number = &mut number[sets.find(*a) as usize];
        if *number == u32::MAX {
            *number = count;
            count += 1;
        }
        *number
    });
    Ok((component.collect(), count as usize))
}
