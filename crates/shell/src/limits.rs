//! The least and most of every number of a [`Design`](crate::Design), in one list.
//!
//! The check of a design, what places fittings, marks, ribs and vents, the window and the page on the design file all
//! take them from here. Limits that depend on another setting, such as the rounding on the wall, are the functions at
//! the end.

pub use zone::limits::{Limit, refused};

use crate::{Design, Ribs};

/// Least wall between two openings, or an opening and the rounding of the rim, mm: four lines of a 0.4 mm nozzle, the
/// usual least width of a loaded printed web.
pub const MIN_LIGAMENT_MM: f32 = 1.6;
/// Least wall left under a seat or a sunk mark, mm: four layers of 0.2 mm.
pub const LEAST_FLOOR_MM: f32 = 0.8;
/// Raised or sunk by less than a layer, a mark cannot be seen, mm.
pub const LEAST_RELIEF_MM: f32 = 0.2;
/// An inlay is at least this thick, mm: two layers, so that its colour covers.
pub const LEAST_INLAY_MM: f32 = 0.4;
/// Longest text of a mark, letters.
pub const LONGEST_TEXT: usize = 24;
/// Widths of webbing that straps are made of, mm.
pub const STRAP_WIDTHS_MM: [f32; 3] = [25.0, 38.0, 50.0];
/// Usual opening of a strap slot: a webbing with its clearance, mm.
pub const USUAL_STRAP_OPENING_MM: f32 = 4.0;
/// Ribs stand at least this much further apart than they are wide, mm: their fillets must not run together.
pub const RIB_SPARE_MM: f32 = 4.0;
/// Beyond the ligament, stitch holes stand this much further apart along the rim, mm: round a bend they are nearer to
/// each other than along the line.
pub const STITCH_SPARE_MM: f32 = 0.4;

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident = $limit:expr;)*) => {
        $($(#[$doc])* pub const $name: Limit = $limit;)*
        /// All of them, in the order of the fields.
        pub const ALL: &[Limit] = &[$($name),*];
    };
}

limits! {
    /// Skin to inner face.
    GAP = Limit::mm("gap_mm", 0.0, 20.0);
    /// Wall.
    THICKNESS = Limit::mm("thickness_mm", 1.0, 10.0);
    /// Rounding of the rim; see [`most_round_mm`].
    ROUND = Limit::mm("rim.round_mm", 0.0, 5.0);
    /// Lift of the rim.
    FLARE = Limit::mm("rim.flare_mm", 0.0, 10.0);
    /// Width over which the rim is lifted; see [`least_flare_width_mm`].
    FLARE_WIDTH = Limit::mm("rim.flare_width_mm", 1.0, 40.0);
    /// Bead along the rim.
    BEAD = Limit::mm("rim.bead_mm", 0.0, 10.0);
    /// Height of ribs.
    RIB_HEIGHT = Limit::mm("ribs.height_mm", 0.5, 8.0);
    /// Width of ribs.
    RIB_WIDTH = Limit::mm("ribs.width_mm", 1.5, 15.0);
    /// Ribs from middle to middle; see [`least_rib_spacing_mm`].
    RIB_SPACING = Limit::mm("ribs.spacing_mm", 5.5, 200.0);
    /// Size of vents.
    VENT_SIZE = Limit::mm("vents.size_mm", 2.0, 25.0);
    /// Wall between vents.
    VENT_LIGAMENT = Limit::mm("vents.ligament_mm", MIN_LIGAMENT_MM, 30.0);
    /// Wall between vents and rim.
    VENT_RIM_DISTANCE = Limit::mm("vents.rim_distance_mm", 3.0, 60.0);
    /// How much smaller vents near the edge are.
    VENT_GRADE = Limit { field: "vents.grade_percent", least: 0.0, most: 60.0, unit: "%" };
    /// Share of the zone that vents open.
    VENT_OPEN = Limit { field: "vents.open_percent", least: 2.0, most: 60.0, unit: "%" };
    /// Pull that slots which follow hold.
    STRAP_PULL = Limit { field: "strap_pull_n", least: 20.0, most: 400.0, unit: "N" };
    /// A coordinate of a fitting: no point of a limb lies farther from the middle of its scan.
    FITTING_AT = Limit::mm("fittings[].at_mm[]", -2000.0, 2000.0);
    /// Turn of a fitting.
    FITTING_TURN = Limit { field: "fittings[].turn_deg", least: -360.0, most: 360.0, unit: "degrees" };
    /// Width of a strap.
    STRAP = Limit::mm("fittings[].kind.strap-slot.strap_mm", 8.0, 120.0);
    /// Opening of a strap slot.
    STRAP_OPENING = Limit::mm("fittings[].kind.strap-slot.opening_mm", 2.0, 15.0);
    /// Lace holes in a row.
    LACE_COUNT = Limit { field: "fittings[].kind.lace-holes.count", least: 1.0, most: 40.0, unit: "" };
    /// Width of a lace hole.
    LACE_HOLE = Limit::mm("fittings[].kind.lace-holes.hole_mm", 2.0, 12.0);
    /// Lace holes from middle to middle; see [`least_lace_pitch_mm`].
    LACE_PITCH = Limit::mm("fittings[].kind.lace-holes.pitch_mm", 3.6, 60.0);
    /// Width of a tie.
    TIE = Limit::mm("fittings[].kind.tie-slot.tie_mm", 2.0, 30.0);
    /// Wall between the slots of a tie.
    TIE_BRIDGE = Limit::mm("fittings[].kind.tie-slot.bridge_mm", MIN_LIGAMENT_MM, 40.0);
    /// Width of a stitch hole.
    STITCH_HOLE = Limit::mm("fittings[].kind.stitch-holes.hole_mm", 1.0, 6.0);
    /// Stitch holes from middle to middle; see [`least_stitch_pitch_mm`].
    STITCH_PITCH = Limit::mm("fittings[].kind.stitch-holes.pitch_mm", 3.0, 60.0);
    /// Stitch hole to trim line; see [`least_stitch_inset_mm`].
    STITCH_INSET = Limit::mm("fittings[].kind.stitch-holes.inset_mm", 2.1, 40.0);
    /// Length of a hook-and-loop seat.
    SEAT_LENGTH = Limit::mm("fittings[].kind.hook-and-loop-seat.length_mm", 8.0, 200.0);
    /// Width of a hook-and-loop seat.
    SEAT_WIDTH = Limit::mm("fittings[].kind.hook-and-loop-seat.width_mm", 8.0, 120.0);
    /// Depth of a hook-and-loop seat; see [`most_sunk_mm`].
    SEAT_DEPTH = Limit::mm("fittings[].kind.hook-and-loop-seat.depth_mm", 0.2, 3.0);
    /// Height of letters.
    MARK_HEIGHT = Limit::mm("marks[].height_mm", 4.0, 80.0);
    /// Relief of letters, sunk below 0; see [`most_sunk_mm`] and [`LEAST_RELIEF_MM`].
    MARK_RELIEF = Limit::mm("marks[].relief_mm", -2.0, 3.0);
    /// A coordinate of a mark.
    MARK_AT = Limit::mm("marks[].at_mm[]", -2000.0, 2000.0);
    /// Turn of a mark.
    MARK_TURN = Limit { field: "marks[].turn_deg", least: -360.0, most: 360.0, unit: "degrees" };
    /// Width of a picture.
    PICTURE_WIDTH = Limit::mm("pictures[].width_mm", 6.0, 150.0);
    /// Height of a picture over the outer face.
    PICTURE_RELIEF = Limit::mm("pictures[].relief_mm", 0.4, 1.2);
    /// A coordinate of a picture.
    PICTURE_AT = Limit::mm("pictures[].at_mm[]", -2000.0, 2000.0);
    /// Turn of a picture.
    PICTURE_TURN = Limit { field: "pictures[].turn_deg", least: -360.0, most: 360.0, unit: "degrees" };
}

/// Distance between grid points ([`Quality`](crate::Quality)); `resolution_mm` in the design file.
pub const VOXEL: Limit = Limit::mm("resolution_mm", 0.2, 3.0);
/// How far simplification may move the surface ([`Quality`](crate::Quality)).
pub const TOLERANCE: Limit = Limit::mm("tolerance_mm", 0.0, 0.5);

/// A full round of the rim: half the wall.
#[must_use]
pub fn most_round_mm(design: &Design) -> f32 {
    0.5 * design.thickness_mm
}

/// Least width over which the rim can be lifted by so much: at its edge it then rises by three in two, which still prints
/// and rolls over smoothly.
#[must_use]
pub fn least_flare_width_mm(flare_mm: f32) -> f32 {
    2.0 * flare_mm
}

/// Least distance of ribs of this width, from middle to middle.
#[must_use]
pub fn least_rib_spacing_mm(ribs: &Ribs) -> f32 {
    ribs.width_mm + RIB_SPARE_MM
}

/// Least distance of lace holes of this width, from middle to middle.
#[must_use]
pub fn least_lace_pitch_mm(hole_mm: f32) -> f32 {
    hole_mm + MIN_LIGAMENT_MM
}

/// Least distance of stitch holes of this width, from middle to middle.
#[must_use]
pub fn least_stitch_pitch_mm(hole_mm: f32) -> f32 {
    hole_mm + MIN_LIGAMENT_MM + STITCH_SPARE_MM
}

/// Least distance from the middle of a stitch hole to the trim line: half the hole, a ligament and the rounding.
#[must_use]
pub fn least_stitch_inset_mm(hole_mm: f32, design: &Design) -> f32 {
    0.5 * hole_mm + rim_wall_mm(design)
}

/// Least wall between an opening and the trim line: a ligament and the rounding of the rim, or its bead.
#[must_use]
pub fn rim_wall_mm(design: &Design) -> f32 {
    let bead_mm = if design.rim.bead_mm > design.thickness_mm { design.rim.bead_mm } else { 0.0 };
    MIN_LIGAMENT_MM + design.rim.round_mm.max(bead_mm)
}

/// How deep a seat or a mark may be sunk into the wall at most.
#[must_use]
pub fn most_sunk_mm(design: &Design) -> f32 {
    (design.thickness_mm - LEAST_FLOOR_MM).max(0.0)
}
