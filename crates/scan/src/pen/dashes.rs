//! Short strokes of ink: where each lies, which way it points, how long and wide it is.

use mesh::{Cancelled, Job};
use nalgebra::{Point3, Vector3};

use super::ridge::RidgePoint;
use super::skin_graph::{SkinGraph, VisitStamps};

/// A stroke of ink too short to be a line by itself, or a piece of one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Dash {
    /// Middle of its ink.
    pub at: Point3<f32>,
    /// Unit direction of the stroke; of either sign, but the same one for all pieces of a stroke.
    pub along: Vector3<f32>,
    /// Outward unit normal of the skin.
    pub normal: Vector3<f32>,
    /// Length from tip to tip, mm.
    pub length_mm: f32,
    /// Width of the ink, mm.
    pub width_mm: f32,
    /// How many times longer than wide its ink spreads: 1 for a round spot, which points nowhere.
    pub slender: f32,
    /// Contrast of its ink.
    pub ink: f32,
    /// Spread of the skin's contrast around it.
    pub spread: f32,
    /// The stroke of which this is a piece.
    pub stroke: u32,
    /// Number of this piece along its stroke, and of how many.
    pub piece: (u32, u32),
}

/// A stroke longer than this is no dash, mm.
const MOST_STROKE_MM: f32 = 30.0;
/// A stroke longer than this may bend, so it is cut into pieces of about [`PIECE_MM`].
const MOST_PIECE_MM: f32 = 13.0;
const PIECE_MM: f32 = 8.0;
const LEAST_LENGTH_MM: f32 = 2.0;
const WIDTHS_MM: std::ops::RangeInclusive<f32> = 0.8..=6.5;
/// Skin with at least this share of a stroke's contrast belongs to the stroke.
const OWN_SHARE: f32 = 0.5;

/// What is asked of ink; see [`judge`](super::judge).
pub(super) struct LeastInk {
    pub contrast: f32,
    /// Times the spread of the skin.
    pub standing_out: f32,
}

/// All short strokes that hold a ridge point.
pub(super) fn dashes(
    graph: &SkinGraph,
    inked: &[f32],
    ridge_points: &[RidgePoint],
    least: &LeastInk,
    job: &Job,
) -> Result<Vec<Dash>, Cancelled> {
    // Skin of a stroke, and skin beside one, where the edge of its ink may look like another.
    let mut taken = vec![false; graph.len()];
    let mut beside = vec![false; graph.len()];
    let mut visits = graph.visits();
    let (mut dashes, mut strokes) = (Vec::new(), 0);
    for point in ridge_points {
        job.check()?;
        // The mean over a strip that is longer than the stroke is well below the stroke's own contrast.
        if point.ink < 0.5 * least.contrast {
            continue;
        }
        let Some(near) = graph.nearest_vertex(&point.at).filter(|v| !beside[*v as usize]) else { continue };
        let (start, ink) = core(graph, inked, near, &mut visits);
        if taken[start as usize] || ink < least.contrast || ink < least.standing_out * point.spread {
            continue;
        }
        let own = flood_ink(graph, inked, start, OWN_SHARE * ink, &mut taken, job)?;
        mark_beside(graph, &own, &mut beside);
        let pieces = pieces(graph, inked, &own, ink);
        let count = pieces.len() as u32;
        for (k, p) in pieces.into_iter().enumerate() {
            dashes.push(Dash { ink, spread: point.spread, stroke: strokes, piece: (k as u32, count), ..p });
        }
        strokes += u32::from(count > 0);
    }
    Ok(dashes)
}

/// The middle of the ink around a vertex, and the contrast there: the mean of the stronger half of the skin about it,
/// since the edges are pale.
fn core(graph: &SkinGraph, inked: &[f32], start: u32, visits: &mut VisitStamps) -> (u32, f32) {
    const MOST_STEPS: usize = 4;
    let strength = |v: &u32| inked[*v as usize];
    let mut near = Vec::new();
    let mut middle = start;
    for _ in 0..MOST_STEPS {
        graph.disc(middle, (1.5 * graph.spacing_mm).max(1.2), visits, &mut near);
        let darkest = near.iter().copied().max_by(|a, b| strength(a).total_cmp(&strength(b)).then(b.cmp(a)));
        if darkest.is_none_or(|v| v == middle) {
            break;
        }
        middle = darkest.unwrap_or(middle);
    }
    let mut values: Vec<f32> = near.iter().map(strength).collect();
    values.sort_by(|a, b| b.total_cmp(a));
    values.truncate(values.len().div_ceil(2));
    (middle, values.iter().sum::<f32>() / values.len().max(1) as f32)
}

/// The connected skin around `start` with at least the contrast `least`; takes it.
fn flood_ink(
    graph: &SkinGraph,
    inked: &[f32],
    start: u32,
    least: f32,
    taken: &mut [bool],
    job: &Job,
) -> Result<Vec<u32>, Cancelled> {
    let mut own = vec![start];
    taken[start as usize] = true;
    let mut at = 0;
    while at < own.len() {
        if at.is_multiple_of(1024) {
            job.check()?;
        }
        for &w in graph.neighbours(own[at]) {
            if !taken[w as usize] && !graph.unseen[w as usize] && inked[w as usize] >= least {
                taken[w as usize] = true;
                own.push(w);
            }
        }
        at += 1;
    }
    Ok(own)
}

/// Marks a stroke and the skin within about two millimetres of it.
fn mark_beside(graph: &SkinGraph, own: &[u32], beside: &mut [bool]) {
    const EDGE_MM: f32 = 2.0;
    let mut rim: Vec<u32> = own.to_vec();
    own.iter().for_each(|v| beside[*v as usize] = true);
    for _ in 0..((EDGE_MM / graph.spacing_mm).ceil() as usize).clamp(1, 4) {
        let mut next = Vec::new();
        for w in rim.iter().flat_map(|v| graph.neighbours(*v)) {
            if !std::mem::replace(&mut beside[*w as usize], true) {
                next.push(*w);
            }
        }
        rim = next;
    }
}

/// Place, normal and weight of a bit of ink.
type Drop = (Point3<f32>, Vector3<f32>, f32);

/// One stroke as one or more pieces; none if it has not the shape of a dash.
fn pieces(graph: &SkinGraph, inked: &[f32], own: &[u32], ink: f32) -> Vec<Dash> {
    // A long line or a stain is told without measuring it.
    let most_mm2 = MOST_STROKE_MM * WIDTHS_MM.end();
    if own.iter().map(|v| graph.area_mm2[*v as usize]).sum::<f32>() > most_mm2 {
        return Vec::new();
    }
    // Skin at the edge is inked in part.
    let mut with_edge: Vec<u32> = own.iter().flat_map(|v| graph.neighbours(*v)).chain(own).copied().collect();
    with_edge.sort_unstable();
    with_edge.dedup();
    let ink: Vec<Drop> = with_edge
        .into_iter()
        .filter(|v| !graph.unseen[*v as usize])
        .map(|v| {
            let share = ((inked[v as usize] / ink - 0.25) / 0.75).clamp(0.0, 1.0);
            (graph.point(v), graph.normals[v as usize], share * graph.area_mm2[v as usize])
        })
        .filter(|drop| drop.2 > 0.0)
        .collect();
    let Some(whole) = measure(&ink) else { return Vec::new() };
    if !(LEAST_LENGTH_MM..=MOST_STROKE_MM).contains(&whole.length_mm) || !WIDTHS_MM.contains(&whole.width_mm) {
        return Vec::new();
    }
    if whole.length_mm <= MOST_PIECE_MM {
        return vec![whole];
    }
    let along = |drop: &Drop| (drop.0 - whole.at).dot(&whole.along);
    let (low, high) = ink.iter().map(along).fold((f32::INFINITY, f32::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
    let count = (whole.length_mm / PIECE_MM).round() as usize;
    let mut parts = vec![Vec::new(); count];
    for drop in ink {
        let part = (along(&drop) - low) / (high - low) * count as f32;
        parts[(part as usize).min(count - 1)].push(drop);
    }
    let mut pieces: Vec<Dash> = parts.iter().filter_map(|part| measure(part)).collect();
    for piece in &mut pieces {
        if piece.along.dot(&whole.along) < 0.0 {
            piece.along = -piece.along;
        }
    }
    pieces
}

/// Measures ink by its moments. A strip of even ink has a variance of a twelfth of its length squared.
fn measure(ink: &[Drop]) -> Option<Dash> {
    let area: f32 = ink.iter().map(|drop| drop.2).sum();
    if ink.len() < 3 || area <= 0.0 {
        return None;
    }
    let at = Point3::from(ink.iter().map(|(p, _, w)| p.coords * *w).sum::<Vector3<f32>>() / area);
    let normal = ink.iter().map(|(_, n, w)| n * *w).sum::<Vector3<f32>>().try_normalize(1e-6)?;
    let first = normal
        .cross(&Vector3::x_axis())
        .try_normalize(0.3)
        .or_else(|| normal.cross(&Vector3::y_axis()).try_normalize(0.0))?;
    let second = normal.cross(&first);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (p, _, w) in ink {
        let d = p - at;
        let (x, y) = (d.dot(&first), d.dot(&second));
        xx += w * x * x / area;
        xy += w * x * y / area;
        yy += w * y * y / area;
    }
    let turn = 0.5 * (2.0 * xy).atan2(xx - yy);
    let (middle, half) = (0.5 * (xx + yy), (0.5 * (xx - yy)).hypot(xy));
    let (most, least) = (middle + half, (middle - half).max(1e-4));
    let length_mm = (12.0 * most).sqrt();
    Some(Dash {
        at,
        along: first * turn.cos() + second * turn.sin(),
        normal,
        length_mm,
        width_mm: area / length_mm.max(1e-3),
        slender: (most / least).sqrt(),
        ink: 0.0,
        spread: 0.0,
        stroke: 0,
        piece: (0, 1),
    })
}

#[cfg(test)]
mod tests {
    use mesh::Surface;
    use test_shapes::{Diagonals, height_field};

    use super::*;

    /// The ink of a rectangle turned by `turn`, on a flat grid of 0.25 mm.
    fn rectangle(length: f32, width: f32, turn: f32) -> Dash {
        let (sin, cos) = turn.sin_cos();
        let ink: Vec<Drop> = (-80..=80)
            .flat_map(|i| (-80..=80).map(move |j| (0.25 * i as f32, 0.25 * j as f32)))
            .filter(|(x, y)| (x * cos + y * sin).abs() <= 0.5 * length && (y * cos - x * sin).abs() <= 0.5 * width)
            .map(|(x, y)| (Point3::new(x + 7.0, y - 3.0, 2.0), Vector3::z(), 0.0625))
            .collect();
        measure(&ink).unwrap()
    }

    #[test]
    fn a_rectangle_of_ink_has_its_own_length_width_and_direction() {
        for (length, width, turn) in [(8.0, 3.0, 0.3), (12.0, 2.0, 1.2), (5.0, 4.0, -0.7)] {
            let dash = rectangle(length, width, turn);
            assert!((dash.at - Point3::new(7.0, -3.0, 2.0)).norm() < 0.05);
            assert!((dash.length_mm - length).abs() < 0.25, "{}", dash.length_mm);
            assert!((dash.width_mm - width).abs() < 0.25, "{}", dash.width_mm);
            assert!((dash.slender / (length / width) - 1.0).abs() < 0.1, "{}", dash.slender);
            let off = 1.0 - dash.along.dot(&Vector3::new(turn.cos(), turn.sin(), 0.0)).abs();
            assert!(off < 0.003, "{off}");
        }
    }

    #[test]
    fn a_long_stroke_becomes_pieces_in_a_row_and_a_stain_none() {
        let sheet: Surface = height_field(60, 60, 1.0, Diagonals::Alternate, |_, _| 0.0).build();
        let graph = SkinGraph::new(&sheet, &[], &Job::silent()).unwrap();
        let pieces_within = |x: f32, y: f32| {
            let own: Vec<u32> = (0..graph.len() as u32)
                .filter(|v| {
                    let p = graph.point(*v) - Point3::new(30.0, 30.0, 0.0);
                    p.x.abs() <= x && p.y.abs() <= y
                })
                .collect();
            let mut inked = vec![0.0; graph.len()];
            own.iter().for_each(|v| inked[*v as usize] = 0.8);
            pieces(&graph, &inked, &own, 0.8)
        };
        let row = pieces_within(12.0, 1.0);
        assert_eq!(row.len(), 3);
        for (piece, x) in row.iter().zip([-8.3, 0.0, 8.3]) {
            let x = x * row[0].along.x.signum();
            assert!((piece.at - Point3::new(30.0 + x, 30.0, 0.0)).norm() < 0.5, "{}", piece.at);
            assert!(piece.along.dot(&row[0].along) > 0.99);
        }
        assert_eq!(pieces_within(4.0, 1.0).len(), 1);
        assert!(pieces_within(10.0, 8.0).is_empty());
        assert!(pieces_within(20.0, 1.0).is_empty());
    }
}
