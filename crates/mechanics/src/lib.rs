//! What the guard is made of, and how materials compare on the same guard: weight, cost, stiffness, heat.
//!
//! The one promise: every material value carries where it comes from, and every formula its source.
//!
//! The table of [`compare`] promises no strength. Its stiffness is the rigidity of a flat plate as thick as the wall, with its
//! ribs spread evenly over it ([`WHAT_RIGIDITY_MEANS`]); it tells designs apart and says nothing about a blow. Source of
//! its formulas: Timoshenko and Woinowsky-Krieger, *Theory of Plates and Shells*, 2nd ed. 1959.
//!
//! What a guard really does is an [`answer`]: computed on its [`mid_surface`] by shell [`elements`] that lie in [`contact`] with
//! [`foam`] and what is under it, as it is [`worn`], and what a [`blow`] comes to from that.
//!
//! ```
//! use mechanics::{compare, Materials};
//!
//! let table = compare(40_000.0, 18_000.0, &shell::Design::default(), &Materials::built_in());
//! let rigid = &table.rows[0];
//! assert!((rigid.grams - 49.6).abs() < 1e-9); // 40 cm³ at 1.24 g/cm³
//! assert!(rigid.rigidity_along_n_mm > table.rows[2].rigidity_along_n_mm);
//! ```

pub mod answer;
pub mod bare;
pub mod bent;
pub mod blow;
mod compare;
pub mod contact;
pub mod elements;
mod error;
pub mod foam;
pub mod in_time;
pub mod materials;
pub mod mid_surface;
pub mod plane_mesh;
pub mod ready;
pub mod section;
pub mod strength;
pub mod striker;
pub mod surroundings;
mod what_if;
pub mod worn;

pub use compare::{MaterialRow, MaterialTable, WHAT_RIGIDITY_MEANS, compare};
pub use error::Error;
pub use materials::{Family, Material, Materials, Price, Sourced, Status};
pub use what_if::what_if;
