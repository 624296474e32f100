//! Geodesic distances, paths and lines on a triangle mesh.
//!
//! # Which method to use when
//!
//! | wanted | use | method | error against the smooth surface | work for n vertices reached |
//! |---|---|---|---|---|
//! | distance of every vertex to lines | [`distance_to_lines`] | straight near the line, then semi-Lagrangian marching | 1 % beyond 2 mm, 0.02 mm nearer, at triangles of 1 mm | n log n |
//! | the same to points, some with a head start | [`distance_from_points`] | the same | the same | n log n |
//! | which vertices a brush touches, in every frame | [`GeodesicDisc`] | unfolding of each triangle onto the last | a few per cent; 1 in 2000 on a plane | n log n, nothing for the rest of the mesh |
//! | the shortest way between two places | [`path`] | strip of triangles, string pulled tight in it | exact on the triangles, locally | A* over triangles, then the length of the strip |
//! | a line through given places | [`SurfaceLine::lay`] | [`path`] from each to the next | as [`path`] | as [`path`] |
//! | the line where a value is reached | [`contour`] | linear in each triangle | that of the values | all triangles |
//! | which side of closed lines a vertex lies on | [`sides`] | parity of crossed edges | none | all vertices |
//! | distance along edges only, or over any other graph | [`crate::flood`] | Dijkstra | up to 15 % too long | n log n |
//!
//! Rules of thumb:
//!
//! * What is kept (zones, edges, thickness) is measured by [`distance_to_lines`] or [`distance_from_points`]; what is
//!   only shown while a brush moves, by [`GeodesicDisc`]; what only has to be ranked, by [`crate::flood`].
//! * A map of a small part of the surface, with directions as well as distances, is a chart: see the crate `shell`.
//! * Distances are those of the smooth surface that the mesh stands for, not of its facets: near a source they follow
//!   the smooth normals, so that facets do not show. On a true polyhedron they come out too long: arcs, not chords.
//! * [`path`] is locally shortest: of two ways round a limb it may be the longer one when they differ by little. For
//!   the distance alone, [`distance_from_points`] finds the shorter.
//!
//! # What is not promised
//!
//! No method crosses a gap: parts that share no edge are infinitely far apart. On non-manifold edges nothing passes in
//! [`path`] and [`sides`]. Across triangles much longer than the detail around them, or thinner than 1 in 20, the
//! errors above do not hold.
//!
//! Every [`SurfaceLine`] knows the triangle of each of its segments, so that no line has to be snapped to vertices.
//!
//! ```
//! use mesh::geodesic::path;
//! use mesh::{Job, Mesh, Surface};
//! use nalgebra::Point3;
//!
//! // A square of 10 mm, folded up along its diagonal: the way over the fold is as long as in the flat square.
//! let at = Point3::new;
//! let points = vec![at(0.0, 0.0, 0.0), at(10.0, 0.0, 0.0), at(5.0, 5.0, 50_f32.sqrt()), at(0.0, 10.0, 0.0)];
//! let folded = Surface::new(Mesh::new(points, vec![[0, 1, 3], [1, 2, 3]]));
//! let corner = |p: Point3<f32>| folded.nearest(&p, None).expect("the surface is not empty");
//! let line = path(&folded, &corner(at(0.0, 0.0, 0.0)), &corner(at(5.0, 5.0, 50_f32.sqrt())), &Job::silent())?;
//! assert!((line.length_mm() - 200_f64.sqrt()).abs() < 1e-5);
//! # Ok::<(), mesh::geodesic::LineError>(())
//! ```

mod contour;
mod disc;
mod distance;
mod line;
mod march;
mod near;
mod path;
mod sides;
mod sleeve;

pub use contour::{Contour, contour};
pub use disc::GeodesicDisc;
pub use distance::{WeightedPoint, distance_from_points, distance_to_lines};
pub use line::{Crossing, LineError, SurfaceLine};
pub use path::path;
pub use sides::sides;
