//! What is to be covered: strokes, an outline or the pen line become regions on the skin with distances to their edges.
//!
//! The promise: [`Region::distance_mm`] is the geodesic distance to the region's true edge, not to an edge snapped to
//! vertices, within 1 % at triangles of 1 mm up to [`REACH_MM`]. Growing, smoothing and keeping clear all end in a new
//! measurement from the new edge, so it stays a distance.
//!
//! Not promised: a geodesic distance farther than [`REACH_MM`] from the edge, where the values are only at least that;
//! nor the shorter of two ways round a limb that differ by little, of which an outline may take the longer: set one
//! more corner there.
//!
//! [`Zone::notices`] says what was cut off, dropped or assumed. [`landmarks`] finds what a zone may take account of: bony
//! points, and how near it comes to a crease or to the end of the scan.
//!
//! ```
//! use mesh::{Job, Mesh, Surface};
//! use nalgebra::Point3;
//! use zone::{Dab, Source, ZoneSettings};
//!
//! // A flat skin of 80 × 80 mm, one dab of the brush in its middle.
//! let points = (0..81 * 81).map(|i| Point3::new((i % 81) as f32, (i / 81) as f32, 0.0)).collect();
//! let triangles = (0..80 * 80)
//!     .flat_map(|i| {
//!         let a = i / 80 * 81 + i % 80;
//!         [[a, a + 1, a + 82], [a, a + 82, a + 81]]
//!     })
//!     .collect();
//! let skin = Surface::new(Mesh::new(points, triangles));
//! let dab = Dab { at_mm: Point3::new(40.0, 40.0, 0.0), radius_mm: 20.0, remove: false };
//! let settings = ZoneSettings { sources: vec![Source::Strokes { dabs: vec![dab] }], grow_mm: 5.0, ..Default::default() };
//! let zone = zone::make(&skin, &settings, &Job::silent())?;
//! assert!((zone.area_cm2(&skin) / (3.141_593 * 6.25) - 1.0).abs() < 0.01);
//! # Ok::<(), zone::ZoneError>(())
//! ```

mod components;
mod error;
mod fair_edges;
mod fair_line;
pub mod landmarks;
pub mod limits;
mod make;
pub mod map;
mod measure;
mod region;
mod region_field;
mod settings;
mod sketch;
mod source;
pub mod trim;

pub use components::connected_components;
pub use error::ZoneError;
pub use fair_edges::Trim;
pub use make::{REACH_MM, make};
pub use measure::{Coverage, Extent};
pub use region::{Bump, LaidFlat, Region, Zone};
pub use settings::{Dab, EdgePull, ExtraRegion, RegionKind, Source, ZoneSettings};
pub use sketch::{Sketch, sketch};
