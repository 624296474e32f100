//! How fine a grid must be for what it is to show.

use mesh::Surface;
use nalgebra::Vector3;

use crate::surface::Bounds;
use crate::{Chart, Design, DesignItem, Layout, Shape};

/// Grid cell for print round numbers, words and pictures, mm: below what a nozzle of 0.4 mm can show.
const MARK_CELL_MM: f32 = 0.25;
/// It holds this far round them, mm.
const ROUND_MARK_MM: f32 = 0.8;

/// Largest grid cell as a part of the thinnest wall: a wall at least one cell thick is met on every line across it.
const CELLS_TO_A_WALL: f32 = 0.8;
/// The same for print: a wall of two cells has both of its faces where they should be.
const FINE_CELLS_TO_A_WALL: f32 = 0.5;
/// An opening for print is at least this many cells wide: a narrower one comes out with torn edges.
const CELLS_TO_AN_OPENING: f32 = 3.0;

/// The grid cell asked for, mm, or a smaller one where a wall or an opening could fall between grid points. A first look
/// (`fine` not set) only has to be whole.
pub(super) fn fine_enough(
    design: &Design,
    layout: &Layout,
    asked_mm: f32,
    fine: bool,
    notices: &mut Vec<String>,
) -> f32 {
    let between_openings = if layout.openings.is_empty() { f32::INFINITY } else { crate::fitting::MIN_LIGAMENT_MM };
    let wall_mm = design.thickness_mm.min(between_openings);
    let most = if fine {
        let narrowest = layout.openings.iter().map(|opening| width_mm(&opening.shape)).fold(f32::INFINITY, f32::min);
        (FINE_CELLS_TO_A_WALL * wall_mm).min(narrowest / CELLS_TO_AN_OPENING)
    } else {
        CELLS_TO_A_WALL * wall_mm
    };
    if asked_mm <= most {
        return asked_mm;
    }
    let thin = if most < FINE_CELLS_TO_A_WALL * wall_mm { "narrowest opening" } else { "thinnest walls" };
    notices.push(format!("The surface was made on a finer grid than asked for, {most:.2} mm, for its {thin}."));
    most
}

/// Boxes round the marks and pictures of a layout on their way through the wall, which ends at most `highest_mm` over each
/// vertex of the skin; and into how many parts a cell of `voxel_mm` is split in them.
pub(super) fn fine_at_marks(skin: &Surface, layout: &Layout, highest_mm: &[f32], voxel_mm: f32) -> (Vec<Bounds>, u16) {
    let parts = (voxel_mm / MARK_CELL_MM - 0.1).ceil().clamp(1.0, 8.0) as u16;
    let is_mark = |item: DesignItem| matches!(item, DesignItem::Mark(_) | DesignItem::Picture(_));
    let embosses = layout.embosses.iter().map(|e| (&e.chart, &e.shape, e.item));
    let openings = layout.openings.iter().map(|o| (&o.chart, &o.shape, o.item));
    let marks = embosses.chain(openings).filter(|(.., item)| parts > 1 && is_mark(*item));
    let boxes = marks.filter_map(|(chart, shape, _)| bounds(skin, chart, shape, highest_mm));
    (boxes.collect(), parts)
}

/// The box of what lies over a shape, up to a height over each vertex of the skin.
fn bounds(skin: &Surface, chart: &Chart, shape: &Shape, highest_mm: &[f32]) -> Option<Bounds> {
    let inside = chart.vertices.iter().filter(|(_, uv)| shape.signed_distance(*uv) < 0.5 * ROUND_MARK_MM);
    let ends = inside.flat_map(|(v, _)| {
        let (p, n) = (skin.mesh().points[*v as usize], skin.vertex_normals()[*v as usize]);
        [p, p + n * highest_mm[*v as usize]]
    });
    let margin = Vector3::repeat(ROUND_MARK_MM);
    ends.map(|p| (p - margin, p + margin)).reduce(|(lo, hi), (low, high)| (lo.inf(&low), hi.sup(&high)))
}

/// Width of a shape across its narrowest part, mm.
fn width_mm(shape: &Shape) -> f32 {
    match shape {
        Shape::Circle { radius, .. } | Shape::Slot { radius, .. } => 2.0 * radius,
        Shape::RoundedBox { half, .. } => 2.0 * half[0].min(half[1]),
        // Across a convex polygon the way from a side to the farthest corner is least for one of the sides.
        Shape::RoundedPolygon { corners, round } => {
            let sides = corners.iter().zip(corners.iter().cycle().skip(1));
            let across = sides.map(|(a, b)| {
                let along = [b[0] - a[0], b[1] - a[1]];
                let length = along[0].hypot(along[1]).max(1e-6);
                let off = |p: &[f32; 2]| (along[0] * (p[1] - a[1]) - along[1] * (p[0] - a[0])) / length;
                corners.iter().map(off).fold(0.0, f32::max)
            });
            across.fold(f32::INFINITY, f32::min) + 2.0 * round
        }
        Shape::Drawing { .. } => f32::INFINITY,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_are_those_across_the_narrowest_part() {
        let width = |shape: Shape| (width_mm(&shape) * 1000.0).round() / 1000.0;
        assert_eq!(width(Shape::Circle { centre: [1.0, 2.0], radius: 1.5 }), 3.0);
        let slot = Shape::RoundedBox { centre: [0.0; 2], direction: [0.6, 0.8], half: [13.0, 2.0], round: 1.0 };
        assert_eq!(width(slot), 4.0);
        // A triangle with sides 3, 4 and 5 is 2.4 high over its longest side.
        let triangle = Shape::RoundedPolygon { corners: vec![[0., 0.], [4., 0.], [0., 3.]], round: 0.5 };
        assert_eq!(width(triangle), 3.4);
    }

    #[test]
    fn a_first_look_stays_coarse_and_a_print_is_made_finer_for_a_thin_wall() {
        let design = Design { thickness_mm: 1.2, ..Design::default() };
        let mut said = Vec::new();
        assert_eq!(fine_enough(&design, &Layout::default(), 0.9, false, &mut said), 0.9);
        assert_eq!(said, Vec::<String>::new());
        assert_eq!(fine_enough(&design, &Layout::default(), 0.9, true, &mut said), 0.6);
        assert_eq!(said, ["The surface was made on a finer grid than asked for, 0.60 mm, for its thinnest walls."]);
    }
}
