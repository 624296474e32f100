//! Gathers faces of any number of corners as triangles, and keeps count of what was odd.

use super::error::ReadError;
use super::polygon::{Triangulation, triangulate};
use crate::Mesh;
use nalgebra::Point3;

/// Triangles gathered so far.
#[derive(Debug, Default)]
pub(super) struct Faces {
    /// Point indices of each triangle.
    pub triangles: Vec<[u32; 3]>,
    short: Counted,
    repeating: Counted,
    fanned: Counted,
    ring: Vec<usize>,
    shape: Vec<Point3<f32>>,
    cut: Vec<[usize; 3]>,
}

/// How often something happened, and where first.
#[derive(Debug, Default)]
pub(super) struct Counted {
    count: usize,
    first: Option<String>,
}

impl Counted {
    /// Counts one more.
    pub(super) fn add(&mut self, place: impl FnOnce() -> String) {
        self.count += 1;
        self.first.get_or_insert_with(place);
    }

    /// Adds the sentence that `what` makes of the count, if it happened at all.
    pub(super) fn say(&self, what: impl FnOnce(usize) -> String, warnings: &mut Vec<String>) {
        if let Some(place) = &self.first {
            warnings.push(format!("{} (first at {place})", what(self.count)));
        }
    }
}

impl Faces {
    /// Adds a face; `corners` must be in range of `points`, whose coordinates must be finite.
    ///
    /// Calls `triangle` with the places in `corners` of each triangle that was made.
    pub(super) fn add(
        &mut self,
        points: &[Point3<f32>],
        corners: &[u32],
        place: impl Fn() -> String,
        mut triangle: impl FnMut([usize; 3]),
    ) {
        match corners {
            [] | [_] | [_, _] => self.short.add(place),
            [a, b, c] => {
                self.triangles.push([*a, *b, *c]);
                triangle([0, 1, 2]);
            }
            _ => {
                self.ring.clear();
                for i in 0..corners.len() {
                    if corners[i] != corners[(i + 1) % corners.len()] {
                        self.ring.push(i);
                    }
                }
                let mut sorted: Vec<u32> = corners.to_vec();
                sorted.sort_unstable();
                sorted.dedup();
                if sorted.len() < corners.len() {
                    self.repeating.add(&place);
                }
                if sorted.len() < 3 {
                    return;
                }
                self.shape.clear();
                self.shape.extend(self.ring.iter().map(|i| points[corners[*i] as usize]));
                self.cut.clear();
                if triangulate(&self.shape, &mut self.cut) == Triangulation::Fanned {
                    self.fanned.add(place);
                }
                for places in &self.cut {
                    let places = places.map(|i| self.ring[i]);
                    let [a, b, c] = places.map(|i| corners[i]);
                    if a != b && b != c && c != a {
                        self.triangles.push([a, b, c]);
                        triangle(places);
                    }
                }
            }
        }
    }

    /// Adds a sentence for each thing that was odd.
    pub(super) fn say(&self, warnings: &mut Vec<String>) {
        self.short.say(|n| format!("{n} face(s) with fewer than three corners were left out"), warnings);
        self.repeating.say(|n| format!("{n} face(s) name a point more than once"), warnings);
        self.fanned.say(
            |n| format!("{n} polygon(s) cross themselves, have no area or too many corners and were cut as a fan"),
            warnings,
        );
    }
}

/// Refuses a mesh in which no triangle has three different corners.
pub(super) fn require_triangle(mesh: &Mesh, file: &str, found: impl FnOnce() -> String) -> Result<(), ReadError> {
    if mesh.triangles.iter().any(|[a, b, c]| a != b && b != c && c != a) {
        Ok(())
    } else {
        Err(ReadError::NoTriangles { file: file.into(), found: found() })
    }
}
