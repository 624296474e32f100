//! From a zone on a limb and a design to a shell: a closed solid that stands off the skin, with ribs, vents, fittings
//! and marks.
//!
//! The shell is a profile carried over the skin: material where the distance to the skin lies between gap and gap plus
//! wall, inside the zone, with rounded edges ([`Field`]). [`arrange`] gives fittings, marks, ribs, stitch holes and
//! vents their places on the skin; [`build()`] does that, follows the surface of the field ([`surface`]), simplifies it
//! within a tolerance and checks the result.
//!
//! The promise: a [`Shell`] that is returned has passed [`mesh::solid::check`]. It is closed, manifold, one connected
//! component, facing outward, and no two of its triangles cross. Where that cannot be had, [`ShellError`] names the
//! setting and the place. The same input gives the same bytes on any number of threads, and each long loop answers a
//! cancelled [`mesh::Job`] within a fraction of a second.
//!
//! Not promised:
//! * *An exact wall everywhere.* Distances to the skin are exact, but the offset of a rough skin is smoother outside
//!   than inside, and where the limb bends more sharply than the wall is thick, its faces come closer.
//! * *True distances off the skin.* Openings and marks have their size in the wall, but vents are narrower in a hollow,
//!   and the wall between them is laid out on the skin: over a bulge it is wider.
//! * *Room for everything.* What a design asks for may not fit on a limb; what is left out is said in
//!   [`Layout::notices`], what must not be left out is refused.
//! * *Strength.* Least walls keep a shell printable; how it bends and breaks is worked out elsewhere.
//!
//! Sources: Lorensen and Cline 1987 and Wyvill, McPheeters and Wyvill 1986 for the surface; Melvær and Reimers 2012 for
//! the charts; Lloyd 1982 for the irregular vents; Bærentzen and Aanæs 2005 for the sign of the distance.
//!
//! ```
//! use mesh::{Job, Mesh, Surface};
//! use nalgebra::Point3;
//! use shell::{Design, Quality};
//! use zone::{Dab, Source, ZoneSettings};
//!
//! // A quarter of a tube of radius 40 mm, with triangles of about 2 mm, facing outward.
//! let at = |i: u32, j: u32| {
//!     let turn = (i as f32 - 20.0) / 20.0;
//!     Point3::new(40.0 * turn.cos(), 40.0 * turn.sin(), 2.0 * j as f32 - 40.0)
//! };
//! let points = (0..41 * 41).map(|n| at(n % 41, n / 41)).collect();
//! let triangles = (0..40 * 40)
//!     .flat_map(|n| {
//!         let a = n / 40 * 41 + n % 40;
//!         [[a, a + 1, a + 42], [a, a + 42, a + 41]]
//!     })
//!     .collect();
//! let skin = Surface::new(Mesh::new(points, triangles));
//!
//! let dab = Dab { at_mm: Point3::new(40.0, 0.0, 0.0), radius_mm: 25.0, remove: false };
//! let settings = ZoneSettings { sources: vec![Source::Strokes { dabs: vec![dab] }], ..Default::default() };
//! let zone = zone::make(&skin, &settings, &Job::silent())?;
//!
//! let shell = shell::build(&skin, &zone, &Design::default(), &Quality::FIRST_LOOK, &Job::silent())?;
//! assert!(shell.proof.is_none(), "a first look is for the eye only");
//! // A disc of radius 25 mm, 3 mm thick from 3 mm off the skin: its middle face is (40 + 4.5) / 40 of the skin's area,
//! // less what the rounded and lifted rim takes.
//! let disc = std::f64::consts::PI * 25.0 * 25.0 * 3.0 * 44.5 / 40.0;
//! assert!((shell.volume_mm3() / disc - 1.0).abs() < 0.05);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod board;
mod build;
mod chart;
mod design;
mod design_check;
mod error;
mod field;
pub mod fitting;
mod layout;
pub mod limits;
pub mod pattern;
mod profile;
#[cfg(test)]
mod sample_skins;
mod shape;
pub mod surface;
mod tones;
mod width;

pub use build::{Inlay, Quality, Shell, build, build_layout};
pub use chart::{Chart, skin_directions, skin_point};
pub use design::{Design, Fitting, FittingKind, Mark, MarkKind, Picture, RibLayout, Ribs, Rim, VentKind, Vents};
pub use design_check::SettingOutOfRange;
pub use error::ShellError;
pub use field::{Field, Finish};
pub use layout::{DesignItem, Emboss, Layout, Opening, Placed, Shades, arrange};
pub use profile::{Wall, smooth_step};
pub use shape::Shape;
pub use tones::Tones;
