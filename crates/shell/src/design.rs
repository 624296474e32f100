//! What the user can set about a shell.

use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use crate::Tones;

/// All settings of one shell. Lengths are millimetres; angles are degrees.
///
/// Skin directions: at a skin point, *around* is `z × normal` and *along* is `normal × around` (the limb's long axis
/// laid on the skin). `turn_deg` turns a thing counter-clockwise, seen from outside, from *around* towards *along*.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Design {
    /// Skin to inner face: liner plus ease. 0 to 20, usually 3.
    pub gap_mm: f32,
    /// Wall away from ribs and reinforcements. 1 to 10, usually 3.
    pub thickness_mm: f32,
    /// The edge.
    pub rim: Rim,
    /// Stiffening ribs on the outer face.
    pub ribs: Option<Ribs>,
    /// Openings for air and weight.
    pub vents: Option<Vents>,
    /// What holds the guard on.
    pub fittings: Vec<Fitting>,
    /// Pull that the wall behind the slots that follow holds, N. 20 to 400, usually 60.
    pub strap_pull_n: f32,
    /// Numbers and words.
    pub marks: Vec<Mark>,
    /// Pictures raised on the outer face.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pictures: Vec<Picture>,
}

impl Default for Design {
    fn default() -> Self {
        Self {
            gap_mm: 3.0,
            thickness_mm: 3.0,
            rim: Rim::default(),
            ribs: None,
            vents: None,
            fittings: Vec::new(),
            strap_pull_n: crate::fitting::USUAL_PULL_N,
            marks: Vec::new(),
            pictures: Vec::new(),
        }
    }
}

/// How the edge of the shell ends.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Rim {
    /// Radius of the rounding of both edges of the wall; half the thickness gives a full round, 0 an edge as square as
    /// the grid cell (`resolution_mm`) resolves it. 0 to 5, and at most that half.
    pub round_mm: f32,
    /// How far the edge is lifted off the skin, so that nothing digs in. 0 to 10. Where the zone is narrower than twice
    /// the width, or the limb so hollow that the wall would close upon itself, it is lifted less.
    pub flare_mm: f32,
    /// Width of the strip over which the flare rises. 1 to 40, and at least twice the flare.
    pub flare_width_mm: f32,
    /// Thickness of a round bead along the edge, which stiffens it and is soft to the touch; 0 for none. 0 to 10; no
    /// thicker than the wall it does not show.
    pub bead_mm: f32,
}

impl Rim {
    /// The same rim with a share of its lift, over that share of its width: as steep, and lower.
    #[must_use]
    pub fn eased(&self, share: f32) -> Self {
        Self { flare_mm: self.flare_mm * share, flare_width_mm: self.flare_width_mm * share, ..*self }
    }

    /// How far the wall is lifted at a distance from the edge, mm: a cube of the way to it, so that the wall bends
    /// gently where the lift begins.
    #[must_use]
    pub fn flare_at(&self, edge_mm: f32) -> f32 {
        let towards = (1.0 - edge_mm / self.flare_width_mm.max(1e-3)).clamp(0.0, 1.0);
        self.flare_mm * towards.powi(3)
    }

    /// How steeply it is lifted there, mm a millimetre towards the edge.
    #[must_use]
    pub fn rise_at(&self, edge_mm: f32) -> f32 {
        let width = self.flare_width_mm.max(1e-3);
        let towards = (1.0 - edge_mm / width).clamp(0.0, 1.0);
        3.0 * self.flare_mm / width * towards.powi(2)
    }
}

impl Default for Rim {
    fn default() -> Self {
        Self { round_mm: 1.2, flare_mm: 1.5, flare_width_mm: 18.0, bead_mm: 0.0 }
    }
}

/// How ribs run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RibLayout {
    /// Along the limb.
    Along,
    /// Around the limb.
    Around,
    /// Both, crossing.
    Crossed,
    /// Slanted both ways, crossing in upright diamonds.
    Diamond,
    /// From the spot that takes the load, branching out to the fittings and the rim.
    Branching,
}

impl RibLayout {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Along, Self::Around, Self::Crossed, Self::Diamond, Self::Branching];
}

/// Ribs on the outer face: flat-topped, filleted at the foot, with run-out ends.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ribs {
    /// How they run.
    pub layout: RibLayout,
    /// Height above the outer face. 0.5 to 8.
    pub height_mm: f32,
    /// Width at the top. 1.5 to 15.
    pub width_mm: f32,
    /// From middle to middle. 5.5 to 200, and at least the width plus 4.
    pub spacing_mm: f32,
}

/// Shape of the vents.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum VentKind {
    /// Round holes.
    Round,
    /// Long slots along the limb.
    Slot,
    /// Six-sided openings in rows.
    Honeycomb,
    /// Free-form cells with rounded corners.
    Cells,
    /// Diamonds that stand upright, in staggered columns.
    Lozenge,
    /// Triangles, one up and one down in turn: the wall left between them is a net of struts, which is the stiffest.
    Triangle,
}

impl VentKind {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::Round, Self::Slot, Self::Honeycomb, Self::Cells, Self::Lozenge, Self::Triangle];
}

/// Openings through the wall. Only whole ones: none is cut by the rim, a rib or a fitting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vents {
    /// Shape.
    pub kind: VentKind,
    /// Width across. For long slots the width; they are three times as long. For lozenges between opposite sides, for
    /// triangles from a side to the corner across. 2 to 25.
    pub size_mm: f32,
    /// Wall between two vents, in the middle of its thickness, and the least between a vent and a rib or fitting.
    /// 1.6 to 30. To keep it even, vents are made up to 6 % wider, or as much narrower as their kind allows.
    pub ligament_mm: f32,
    /// Least wall left between a vent and the rim. 3 to 60.
    pub rim_distance_mm: f32,
    /// Picks one of many arrangements of irregular cells.
    pub seed: u64,
    /// By how many per cent vents near the edge are smaller than the innermost: 0 for all alike. 0 to 60.
    #[serde(default)]
    pub grade_percent: f32,
    /// How many per cent of the zone they are to open: the wall between them is then widened until they do. 2 to 60;
    /// left out, they lie as close as the wall between them allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub open_percent: Option<f32>,
}

impl Vents {
    /// Vents as they are first switched on: round holes of 6 mm.
    pub const USUAL: Self = Self {
        kind: VentKind::Round,
        size_mm: 6.0,
        ligament_mm: 3.0,
        rim_distance_mm: 7.0,
        seed: 1,
        grade_percent: 0.0,
        open_percent: None,
    };
}

/// One thing that holds the guard on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fitting {
    /// What it is.
    pub kind: FittingKind,
    /// Where: the nearest skin point is taken. For stitch holes only the nearest edge counts. −2000 to 2000 each.
    pub at_mm: Point3<f32>,
    /// Turn on the skin. −360 to 360.
    #[serde(default)]
    pub turn_deg: f32,
    /// Of a strap slot: the program places it, with the others that follow, for each zone, strap, wall and rim anew. Place
    /// and turn are then those that it had last.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub follows: bool,
}

impl Fitting {
    /// Whether the program places it.
    #[must_use]
    pub fn is_following(&self) -> bool {
        self.follows && matches!(self.kind, FittingKind::StrapSlot { .. })
    }
}

/// The kinds of fittings.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum FittingKind {
    /// A slot for a strap of this width: strap plus clearance long, its long side at `turn_deg` from *around*.
    StrapSlot {
        /// Strap width, usually 25, 38 or 50. 8 to 120.
        strap_mm: f32,
        /// Strap thickness with its clearance. 2 to 15, usually 4.
        opening_mm: f32,
    },
    /// A row of round holes for a lace.
    LaceHoles {
        /// How many. 1 to 40.
        count: u32,
        /// Hole width. 2 to 12.
        hole_mm: f32,
        /// Middle to middle. 3.6 to 60, and at least the hole width plus 1.6.
        pitch_mm: f32,
    },
    /// Two short slots side by side, for a releasable tie or a shoelace.
    TieSlot {
        /// Width of the tie. 2 to 30.
        tie_mm: f32,
        /// Wall between the two slots. 1.6 to 40.
        bridge_mm: f32,
    },
    /// Small holes all along the edge, to sew on a cover or a garment.
    StitchHoles {
        /// Hole width. 1 to 6.
        hole_mm: f32,
        /// Middle to middle. 3 to 60, and at least the hole width plus 2, so that holes round a bend keep 1.6 of wall.
        pitch_mm: f32,
        /// Hole middle to trim line. 2.1 to 40, and at least half the hole plus 1.6 plus the rounding of the rim.
        inset_mm: f32,
    },
    /// A shallow flat seat on the outer face for a patch of hook-and-loop.
    HookAndLoopSeat {
        /// Length along `turn_deg`. 8 to 200.
        length_mm: f32,
        /// Width across. 8 to 120.
        width_mm: f32,
        /// Depth below the outer face. 0.2 to 3, and at most the thickness less 0.8.
        depth_mm: f32,
    },
}

/// A number or word on the outer face.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// What it says: a squad number or a short word of at most 24 letters, never a name.
    pub text: String,
    /// Height of a capital letter. 4 to 80.
    pub height_mm: f32,
    /// Raised above the outer face, or sunk into it when negative. −2 to 3, at least 0.2 either way, and sunk at most
    /// to the thickness less 0.8. An inlay is sunk by at least 0.4; cut through, it does not count.
    pub relief_mm: f32,
    /// Where the middle of the text is: the nearest skin point is taken. −2000 to 2000 each.
    pub at_mm: Point3<f32>,
    /// Turn of the writing direction on the skin. −360 to 360.
    #[serde(default)]
    pub turn_deg: f32,
    /// How it is made.
    #[serde(default, skip_serializing_if = "MarkKind::is_relief")]
    pub kind: MarkKind,
}

/// How a number or word is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MarkKind {
    /// Raised or sunk by `relief_mm`.
    #[default]
    Relief,
    /// Cut through the wall, with bridges that hold what a line encloses.
    CutThrough,
    /// Sunk by `relief_mm` and filled flush with a second body, for a second colour.
    Inlay,
}

impl MarkKind {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Relief, Self::CutThrough, Self::Inlay];

    fn is_relief(&self) -> bool {
        *self == Self::Relief
    }
}

/// A picture raised on the outer face: dark parts stand highest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Picture {
    /// What it shows, in a word or two; at most 24 letters, never a person's name.
    pub name: String,
    /// Its width. 6 to 150.
    pub width_mm: f32,
    /// Height of its darkest parts above the outer face. 0.4 to 1.2.
    pub relief_mm: f32,
    /// Where its middle is: the nearest skin point is taken. −2000 to 2000 each.
    pub at_mm: Point3<f32>,
    /// Turn on the skin. −360 to 360.
    #[serde(default)]
    pub turn_deg: f32,
    /// Its shades.
    pub tones: Tones,
}
