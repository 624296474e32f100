//! Suggested strap slots: in facing pairs at even levels, straight, and turned with the guard's sides.

use mesh::{Cancelled, Hit, Job, Surface};
use nalgebra::{Point2, Rotation2, Vector2};
use zone::Zone;

use super::SPARE_MM;
use crate::board::Board;
use crate::fitting::anchor::anchor_wall_mm;
use crate::fitting::bend::{curvature, hollow_scale, outer_face_mm};
use crate::fitting::outline::place_checked;
use crate::fitting::placement::{STRAP_WALL_MM, Workpiece};
use crate::fitting::way_out::succeeded as fits;
use crate::limits::{self, USUAL_STRAP_OPENING_MM as OPENING_MM, rim_wall_mm};
use crate::{Chart, Design, Fitting, FittingKind, Layout, ShellError};

/// Slots are tried this far inside the first place that seems to have room, mm.
const INWARDS_MM: [f64; 6] = [0.0, 1.0, 2.0, 4.0, 6.5, 9.0];
/// Shifts of a level up or down that are tried, mm.
const SHIFTS_MM: [f64; 9] = [0.0, 3.0, -3.0, 6.0, -6.0, 10.0, -10.0, 15.0, -15.0];
/// Guards from these lengths on have a second and a third level of straps, mm.
const LEVELS_FROM_MM: [f64; 2] = [100.0, 260.0];
/// A slot takes at most so many times as much skin as it is wide.
const MOST_HOLLOW: f32 = 1.2;
/// Most pairs.
const MOST_PAIRS: usize = 12;
/// A slot turns from the middle line with the guard's side, by at most this, degrees: a strap pulls square to it.
const MOST_TILT_DEG: f64 = 14.0;
/// Levels are this much more than the strap's width apart, mm.
const APART_MM: f64 = 12.0;
/// A slot lies at most this far inside the edge at its middle, mm: farther in, the wall beside it flaps.
const FARTHEST_IN_MM: f64 = 16.0;
/// Places along a row are looked at in steps of this, mm.
const LOOK_MM: f64 = 0.5;

/// Number of levels of straps by the length of the zone along its middle line: one strap lets a long guard turn about it.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn levels_by_length(skin: &Surface, zone: &Zone, job: &Job) -> Result<usize, Cancelled> {
    let board = match Board::new(skin, zone, "shell.fittings", job) {
        Ok(board) => board,
        Err(ShellError::Cancelled(stop)) => return Err(stop),
        Err(ShellError::CannotBuild { .. }) => return Ok(1),
    };
    let edge = board.edge(zone);
    let heights = edge.iter().flatten().map(|p| p.y);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), y| (lo.min(y), hi.max(y)));
    Ok(1 + LEVELS_FROM_MM.into_iter().filter(|from| high - low >= *from).count())
}

/// Suggests pairs of strap slots near the left and right edge of the zone, at `count` even levels along the limb, with as
/// much wall behind them as the pull that `design` states asks for. Fewer levels come back where the zone has no room for
/// as many.
///
/// # Errors
/// [`Cancelled`] on request.
pub fn suggest_straps(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    strap_mm: f32,
    count: usize,
    job: &Job,
) -> Result<Vec<Fitting>, Cancelled> {
    let mut found: Vec<Fitting> = Vec::new();
    let Ok(workpiece) = Workpiece::new(skin, zone, design, job) else { return Ok(found) };
    if !limits::STRAP.allows(strap_mm) {
        return Ok(found);
    }
    let board = match Board::new(skin, zone, "shell.fittings", job) {
        Ok(board) => board,
        Err(ShellError::Cancelled(stop)) => return Err(stop),
        Err(ShellError::CannotBuild { .. }) => return Ok(found),
    };
    let edge = board.edge(zone);
    let heights = edge.iter().flatten().map(|p| p.y);
    let (low, high) = heights.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), y| (lo.min(y), hi.max(y)));
    if low >= high {
        return Ok(found);
    }
    let wall_mm = anchor_wall_mm(design.strap_pull_n, strap_mm, design.thickness_mm).max(rim_wall_mm(design));
    let sheet = Sheet { workpiece, board: &board, strap_mm, wall_mm: wall_mm.max(STRAP_WALL_MM) };
    // Rather fewer levels that are even than more that are not.
    for count in (1..=count.min(MOST_PAIRS)).rev() {
        let mut layout = Layout::default();
        let mut levels: Vec<f64> = Vec::new();
        found.clear();
        for k in 0..count {
            let even = low + (high - low) * (k as f64 + 0.5) / count as f64;
            for level in SHIFTS_MM.map(|shift| even + shift) {
                if levels.iter().any(|l| (l - level).abs() < f64::from(strap_mm) + APART_MM) {
                    continue;
                }
                if let Some(pair) = sheet.pair_at(&mut layout, level)? {
                    levels.push(level);
                    found.extend(pair);
                    break;
                }
            }
        }
        if found.len() == 2 * count {
            break;
        }
    }
    Ok(found)
}

/// What slots are suggested on.
struct Sheet<'a> {
    workpiece: Workpiece<'a>,
    board: &'a Board<'a>,
    strap_mm: f32,
    /// Wall between a slot and the trim line.
    wall_mm: f32,
}

/// A slot on the board: its middle, and how far it is turned from upright, counter-clockwise, radians.
#[derive(Debug, Clone, Copy)]
struct Slot {
    middle: Point2<f64>,
    tilt: f64,
}

impl Sheet<'_> {
    /// A slot on each side at this height, as near to the edge as they fit with some room to spare.
    fn pair_at(&self, layout: &mut Layout, height: f64) -> Result<Option<[Fitting; 2]>, Cancelled> {
        let before = layout.openings.len();
        let sides = [-1.0, 1.0].map(|side| self.beside_edge(height, side));
        let [Some(mut left), Some(mut right)] = sides else { return Ok(None) };
        let [Some(from), Some(to)] = [-1.0, 1.0].map(|side| self.outermost(height, side, 0.0)) else { return Ok(None) };
        if (left.middle.x - from).max(to - right.middle.x) > FARTHEST_IN_MM + f64::from(self.wall_mm - STRAP_WALL_MM) {
            return Ok(None);
        }
        if self.board.mirrored {
            // As far out as both sides have room, and turned alike.
            let aside = right.middle.x.min(-left.middle.x);
            let tilt = 0.5 * (right.tilt - left.tilt);
            right = Slot { middle: Point2::new(aside, height), tilt };
            left = Slot { middle: Point2::new(-aside, height), tilt: -tilt };
        }
        for inwards in INWARDS_MM {
            self.workpiece.job.check()?;
            let pair = [(left, 1.0), (right, -1.0)].map(|(slot, way)| {
                self.fitting(&Slot { middle: slot.middle + Vector2::new(way * inwards, 0.0), ..slot })
            });
            let [Some(left), Some(right)] = pair else { continue };
            if self.place(layout, &left)? && self.place(layout, &right)? {
                return Ok(Some([left, right]));
            }
            layout.openings.truncate(before);
        }
        Ok(None)
    }

    /// Places a slot that has some room to spare.
    fn place(&self, layout: &mut Layout, slot: &Fitting) -> Result<bool, Cancelled> {
        let mut roomy = slot.clone();
        if let FittingKind::StrapSlot { strap_mm, opening_mm } = &mut roomy.kind {
            *strap_mm += SPARE_MM;
            *opening_mm += SPARE_MM;
        }
        let number = layout.openings.len();
        if !fits(place_checked(&self.workpiece, layout, number, &roomy))? {
            return Ok(false);
        }
        layout.openings.truncate(number);
        if !fits(place_checked(&self.workpiece, layout, number, slot))? {
            return Ok(false);
        }
        let flat = layout.openings.last().is_some_and(|opening| self.is_flat(&opening.chart));
        if !flat {
            layout.openings.truncate(number);
        }
        Ok(flat)
    }

    /// Whether a slot in the middle of this chart lies clear of hollows: in one the strap does not lie on, and the sides of
    /// the slot are torn.
    fn is_flat(&self, chart: &Chart) -> bool {
        let Workpiece { skin, zone, design, .. } = self.workpiece;
        let half = [0.5 * self.strap_mm, OPENING_MM];
        let outer_mm = outer_face_mm(skin, zone, design, &chart.centre);
        hollow_scale(curvature(skin, chart, half), outer_mm).is_some_and(|scale| scale[0].max(scale[1]) < MOST_HOLLOW)
    }

    /// The slot as a fitting on the skin.
    fn fitting(&self, slot: &Slot) -> Option<Fitting> {
        let site = self.board.site(slot.middle)?;
        let up = Rotation2::new(slot.tilt + std::f64::consts::FRAC_PI_2);
        let [x, y] = site.tangent_way([up.matrix()[(0, 0)] as f32, up.matrix()[(1, 0)] as f32]);
        Some(Fitting {
            kind: FittingKind::StrapSlot { strap_mm: self.strap_mm, opening_mm: OPENING_MM },
            at_mm: site.frame.point(),
            turn_deg: y.atan2(x).to_degrees(),
            follows: true,
        })
    }

    /// The outermost slot on one side at a height whose outline is far enough inside the edge.
    fn beside_edge(&self, height: f64, side: f64) -> Option<Slot> {
        let half = 0.5 * f64::from(self.strap_mm) + 1.0;
        let edge = |y: f64| self.outermost(y, side, 0.0);
        let tilt = match (edge(height - half), edge(height + half)) {
            (Some(low), Some(high)) => -(high - low).atan2(2.0 * half),
            _ => 0.0,
        };
        let most = MOST_TILT_DEG.to_radians();
        let tilt = tilt.clamp(-most, most);
        let out = self.outermost(height, side, self.wall_mm)?;
        let wall = self.wall_mm + SPARE_MM;
        let long = half + 0.5 * f64::from(SPARE_MM);
        let wide = 0.5 * f64::from(OPENING_MM + SPARE_MM);
        let fits = |x: f64| {
            let turn = Rotation2::new(tilt);
            let outline = [-1.0, -0.5, 0.0, 0.5, 1.0].into_iter().flat_map(|k| [[wide, k * long], [-wide, k * long]]);
            outline.map(|[u, v]| Point2::new(x, height) + turn * Vector2::new(u, v)).all(|p| self.edge_mm(p) >= wall)
        };
        let steps = (out.abs() / LOOK_MM) as usize;
        let x = (0..steps).map(|k| out - side * k as f64 * LOOK_MM).find(|x| fits(*x))?;
        Some(Slot { middle: Point2::new(x, height), tilt })
    }

    /// The farthest place on one side at a height that is this far inside the edge.
    fn outermost(&self, height: f64, side: f64, inside_mm: f32) -> Option<f64> {
        let (low, high) = self.board.bounds();
        let far = if side > 0.0 { high.x } else { -low.x };
        let steps = (far / LOOK_MM).max(0.0) as usize;
        let xs = (0..=steps).rev().map(|k| side * k as f64 * LOOK_MM);
        xs.into_iter().find(|x| self.edge_mm(Point2::new(*x, height)) > inside_mm)
    }

    fn edge_mm(&self, place: Point2<f64>) -> f32 {
        let edge = |hit: Hit| self.workpiece.edge_mm(&hit);
        self.board.hit(place).map_or(f32::NEG_INFINITY, edge)
    }
}
