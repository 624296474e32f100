//! From a scanner's file to a [`Limb`]: unit, outliers, loose components, holes, noise, axes, and the [`pen`] line.
//!
//! The one promise: nothing is changed silently. Each step adds a line to the [`CleaningReport`], what the user should
//! look at is among its warnings, and a [`Placement`] leads from every point of the limb back to the file.
//!
//! ```
//! use mesh::{Job, Surface};
//! use scan::pen::{PenFinding, PenSettings};
//! use scan::{BodySite, CleanSettings, Side};
//!
//! let job = Job::silent();
//! let file = mesh::read::read_file("../../demo-scans/forearm-07.ply".as_ref(), &job)?;
//! let cleaned = scan::clean(&file, BodySite::Forearm, Side::Left, &CleanSettings::default(), &job)?;
//! assert_eq!(cleaned.report.unit.unit, scan::Unit::Mm);
//! assert_eq!(cleaned.report.size.doubt(BodySite::Forearm), None);
//! assert!(cleaned.report.size.doubt(BodySite::Thigh).is_some());
//!
//! let filled = scan::pen::filled_vertices(&cleaned.limb, &file.mesh, &job)?;
//! let skin = Surface::new(cleaned.limb.mesh);
//! let PenFinding::Closed(line) = scan::pen::find_on_filled(&skin, &filled, &PenSettings::default(), &job)? else {
//!     panic!("the demo has a closed pen line");
//! };
//! assert!(line.area_mm2 > 5_000.0 && line.confidence > 0.5);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! What is not promised:
//!
//! * **No body site is recognised.** It is what the user says, and is only doubted where the limb's size speaks against
//!   it.
//! * **A unit is guessed** from the size of the limb, and [`UnitGuess::sure`] says whether another one would do as
//!   well.
//! * **A limb is not closed, and may still cross itself**, where the scan does; it is manifold and faces outward.
//! * **Filled holes are made up**: a patch that runs on smoothly, not what lies there.
//! * **Smoothing removes what looks like noise**, and with it detail narrower than about 5 mm and lower than the noise.
//! * **The larger of two limbs is kept**, the other is dropped and named; crop the scan to have the other.
//!
//! Methods: RANSAC for the table (Fischler and Bolles 1981), smoothing by a thin plate ([`mesh::repair::smooth`]), CIE
//! 1976 L\*a\*b\* colours, Kruskal's spanning forest and its fundamental cycles for rings of ink, Taubin's λ|μ
//! smoothing (1995) for the line and Dijkstra's shortest path to close it.

mod axes;
mod clean;
mod ends;
mod error;
mod inspect;
mod limb;
pub mod pen;
mod placement;
mod report;
mod scanned;
mod settings;
mod site;
mod size;
mod unit;
mod warning;

pub use clean::{Cleaned, clean};
pub use error::ScanError;
pub use inspect::{Inspection, inspect};
pub use limb::{Limb, Side};
pub use placement::Placement;
pub use report::{CleaningReport, FilledHole, Step};
pub use settings::{CleanSettings, Crop};
pub use site::BodySite;
pub use size::{LimbSize, Measure, SiteDoubt, UsualRange};
pub use unit::{Unit, UnitGuess};
pub use warning::ScanWarning;
