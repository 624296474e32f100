//! The cleaned scan, in millimetres, on its own axes.

use mesh::Mesh;
use serde::{Deserialize, Serialize};

use crate::{BodySite, Placement};

/// Which side of the body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The athlete's left.
    Left,
    /// The athlete's right.
    Right,
    /// Not given, or in the middle.
    Unknown,
}

impl Side {
    /// The side that it becomes when left and right are swapped.
    #[must_use]
    pub fn mirrored(self) -> Self {
        match self {
            Self::Left => Self::Right,
            Self::Right => Self::Left,
            Self::Unknown => Self::Unknown,
        }
    }
}

/// A limb's skin, cleaned: in millimetres, facing outward, long axis along z, middle of its box at the origin.
///
/// Edges are at most about 1.5 mm long, so that lines on the skin can be drawn between its vertices.
#[derive(Debug, Clone, PartialEq)]
pub struct Limb {
    /// The skin. Colours are kept where the scan had them.
    pub mesh: Mesh,
    /// How to get from the scan file's coordinates to these and back.
    pub placement: Placement,
    /// Body site as given or assumed.
    pub site: BodySite,
    /// Side of the body as given.
    pub side: Side,
}
