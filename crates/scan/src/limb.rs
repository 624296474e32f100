//! The cleaned scan, in millimetres, on its own axes.

use mesh::Mesh;
use serde::{Deserialize, Serialize};

use crate::Placement;

/// Where on the body the limb was scanned. Sets defaults only; nothing is recognised by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum BodySite {
    /// Elbow crease to wrist.
    Forearm,
    /// Wrist, thumb and hand.
    Wrist,
    /// The bony point of the shoulder with upper arm and part of the chest.
    Shoulder,
    /// One side of the rib cage.
    Ribs,
    /// Thigh.
    Thigh,
    /// Below the knee to above the ankle.
    Shin,
    /// Foot and ankle.
    Ankle,
    /// Anything else.
    Other,
}

/// Which side of the body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The athlete's left.
    Left,
    /// The athlete's right.
    Right,
    /// Not told, or in the middle.
    Unknown,
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
    /// Body site as told or assumed.
    pub site: BodySite,
    /// Side of the body as told.
    pub side: Side,
}
