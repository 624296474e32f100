//! The room for vents on the drawing board, looked up once on a grid.

use mesh::Cancelled;
use nalgebra::Point2;

use super::VentContext;
use crate::board::Board;
use crate::pattern::free_space::FAR_MM;

/// Distance between the grid's points, mm.
const STEP_MM: f64 = 1.0;

/// No bay.
pub const NO_BAY: u32 = u32::MAX;

/// Room and bay at the points of a grid on the board; where the board is mirrored, the lesser room of both sides.
#[derive(Debug)]
pub struct Raster {
    low: Point2<f64>,
    columns: usize,
    rows: usize,
    room_mm: Vec<f32>,
    bay: Vec<u32>,
}

impl Raster {
    /// Looks the board up.
    ///
    /// # Errors
    /// [`Cancelled`] on request.
    pub fn new(context: &VentContext<'_>) -> Result<Self, Cancelled> {
        let (low, high) = context.board.bounds();
        // Symmetric about the middle line, so that each point has a partner.
        let half = (low.x.abs().max(high.x.abs()) / STEP_MM).ceil();
        let columns = 2 * half as usize + 1;
        let rows = ((high.y - low.y) / STEP_MM).ceil().max(0.0) as usize + 2;
        let low = Point2::new(-half * STEP_MM, low.y);
        let found = context.job.each(columns * rows, |n| {
            let place = low + nalgebra::Vector2::new((n % columns) as f64, (n / columns) as f64) * STEP_MM;
            let Some(site) = context.board.site(place) else { return (-FAR_MM, NO_BAY) };
            (context.room.at(context.skin, &site.frame), context.bays.of(context.skin, &site.frame))
        })?;
        let (mut room_mm, bay): (Vec<f32>, Vec<u32>) = found.into_iter().unzip();
        if context.board.mirrored {
            for row in room_mm.chunks_exact_mut(columns) {
                for i in 0..columns / 2 {
                    let both = row[i].min(row[columns - 1 - i]);
                    (row[i], row[columns - 1 - i]) = (both, both);
                }
            }
        }
        Ok(Self { low, columns, rows, room_mm, bay })
    }

    /// Room at a place, mm.
    pub fn room(&self, place: Point2<f64>) -> f32 {
        let at = (place - self.low) / STEP_MM;
        let (i, j) = (at.x.floor(), at.y.floor());
        if i < 0.0 || j < 0.0 || i as usize + 1 >= self.columns || j as usize + 1 >= self.rows {
            return -FAR_MM;
        }
        let (x, y) = ((at.x - i) as f32, (at.y - j) as f32);
        let at = |di: usize, dj: usize| self.room_mm[(j as usize + dj) * self.columns + i as usize + di];
        let low = at(0, 0) * (1.0 - x) + at(1, 0) * x;
        let high = at(0, 1) * (1.0 - x) + at(1, 1) * x;
        low * (1.0 - y) + high * y
    }

    /// The bay that a place lies in or behind.
    pub fn bay(&self, place: Point2<f64>) -> u32 {
        let at = (place - self.low) / STEP_MM;
        let (i, j) = (at.x.round(), at.y.round());
        let inside = i >= 0.0 && j >= 0.0 && (i as usize) < self.columns && (j as usize) < self.rows;
        if inside { self.bay[j as usize * self.columns + i as usize] } else { NO_BAY }
    }

    /// The mirror image of a bay: the one that most of it lies in; the bay itself where it lies across the middle line.
    pub fn mirror_of(&self, bay: u32) -> u32 {
        let mut votes = std::collections::BTreeMap::<u32, usize>::new();
        for (n, own) in self.bay.iter().enumerate().filter(|(_, own)| **own == bay) {
            let other = self.bay[n / self.columns * self.columns + self.columns - 1 - n % self.columns];
            debug_assert_eq!(*own, bay);
            if other != NO_BAY {
                *votes.entry(other).or_default() += 1;
            }
        }
        votes.into_iter().max_by_key(|(other, count)| (*count, std::cmp::Reverse(*other))).map_or(bay, |(b, _)| b)
    }

    /// Least and greatest coordinates of a bay.
    pub fn bounds_of(&self, bay: u32) -> Option<(Point2<f64>, Point2<f64>)> {
        let at = |n: usize| {
            self.low + nalgebra::Vector2::new((n % self.columns) as f64, (n / self.columns) as f64) * STEP_MM
        };
        let mut own = self.bay.iter().enumerate().filter(|(_, b)| **b == bay).map(|(n, _)| at(n));
        let first = own.next()?;
        Some(own.fold((first, first), |(low, high), p| (low.inf(&p), high.sup(&p))))
    }
}

/// The mirror image of a bay on a mirrored board; none where that is a bigger bay, which has an image of its own.
pub fn partner(raster: &Raster, board: &Board<'_>, bay: u32) -> Option<u32> {
    let image = board.mirrored.then(|| raster.mirror_of(bay))?;
    (raster.mirror_of(image) == bay).then_some(image)
}
