//! What the guard is made of, and what it does: how materials compare on the same guard, and what a blow comes to.
//!
//! The one promise: every material value carries where it comes from, and every formula its source.
//!
//! The table of [`compare`] tells weight, cost and heat. What a guard does is an [`answer`]: computed on its [`mid_surface`] by
//! shell [`elements`] that lie in [`contact`] with [`foam`] and what is under it, as it is [`worn`], [`ready`] for a [`blow`].
//!
//! ```
//! use mechanics::{compare, Materials};
//!
//! let table = compare(40_000.0, 18_000.0, &Materials::built_in());
//! let rigid = &table.rows[0];
//! assert!((rigid.grams - 49.6).abs() < 1e-9); // 40 cm³ at 1.24 g/cm³
//! assert!(rigid.softening_c > 40.0);
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
pub mod strength;
pub mod striker;
pub mod surroundings;
pub mod worn;

pub use compare::{MaterialRow, MaterialTable, compare};
pub use error::Error;
pub use materials::{Family, Material, Materials, Price, Sourced, Status};
