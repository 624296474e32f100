//! Measures rings and open lines of one kind of ink, and judges each.

use std::collections::HashSet;

use mesh::{Cancelled, Job};
use nalgebra::Point3;

use super::centre::{Centred, GAP_SHARE, centre};
use super::closed::{Drawn, enclose};
use super::closing::closing;
use super::cycles::{SpanningForest, in_order};
use super::judge::{Search, UsualInk};
use super::links::Link;
use super::polyline::{flat_area, length};
use super::ridge::RidgePoint;
use super::statistics::median;
use super::{BridgedGap, NotClosed, PenFinding, PenLine, Proposal, WhyOpen};

/// A stroke shorter than this is no pen line, mm.
pub(super) const LEAST_LINE_MM: f32 = 40.0;
/// An open line needs at least this contrast, since a crease or a vein is an open line too.
const LEAST_OPEN_INK: f32 = 0.25;
/// Creases are thinner than this, pen lines wider, mm.
const LEAST_WIDTH_MM: f32 = 1.4;
/// A dash of ink at the end of a line, beyond a gap, belongs to the line if it is longer than this, mm.
const LEAST_DASH_MM: f32 = 10.0;
/// A line with more gap than this share of its length is not a closed line.
const MOST_GAP: f32 = 0.35;

/// The ridge points and links of one kind of ink on one skin.
pub(super) struct Trace<'a> {
    pub search: Search<'a>,
    pub pen: UsualInk,
    pub ridge_points: &'a [RidgePoint],
    pub links: &'a [Link],
}

impl Trace<'_> {
    /// Measures one ring; the inner error says why it is no closed pen line.
    pub fn ring(&self, ring: &[u32], job: &Job) -> Result<Result<PenLine, NotClosed>, Cancelled> {
        match self.measure(ring, self.search.settings.min_area_mm2, job)? {
            Ok(drawn) => self.enclose(drawn, job),
            Err(why) => Ok(Err(why)),
        }
    }

    fn enclose(&self, drawn: Drawn, job: &Job) -> Result<Result<PenLine, NotClosed>, Cancelled> {
        enclose(self.search.graph, (self.search.kind, self.pen), self.search.settings, drawn, job)
    }

    /// Moves one ring, which should enclose at least some area, into the middle of its ink.
    pub fn measure(&self, ring: &[u32], least_mm2: f32, job: &Job) -> Result<Result<Drawn, NotClosed>, Cancelled> {
        let Some(path) = in_order(ring, self.links) else { return Ok(Err(NotClosed::CrossesItself)) };
        let mut rough: Vec<Point3<f32>> = path.iter().map(|i| self.ridge_points[*i as usize].at).collect();
        if let Some(first) = rough.first().copied() {
            rough.push(first);
        }
        if flat_area(&rough) < 0.3 * least_mm2 && length(&rough) < 150.0 {
            return Ok(Err(NotClosed::TooSmall));
        }
        rough.pop();
        let centred = centre(self.search.graph, self.search.inked, &rough, true, self.pen.ink, job)?;
        if centred.width_mm < LEAST_WIDTH_MM {
            return Ok(Err(NotClosed::TooThin));
        }
        let gaps = self.gaps(&centred);
        if let Some(wide) = gaps.iter().find(|g| {
            let most = if g.over_hole {
                self.search.settings.max_hole_mm.max(self.search.settings.max_gap_mm)
            } else {
                self.search.settings.max_gap_mm
            };
            g.length_mm > most + 0.5
        }) {
            return Ok(Err(NotClosed::WideGap { length_mm: wide.length_mm }));
        }
        let bridged_mm: f32 = gaps.iter().map(|g| g.length_mm).sum();
        let share = bridged_mm / centred.points.len().max(1) as f32;
        if share > MOST_GAP {
            return Ok(Err(NotClosed::TooMuchMissing));
        }
        Ok(Ok(Drawn {
            centre: centred.points,
            width_mm: centred.width_mm,
            gaps,
            dashes: None,
            confidence: 1.0 - 2.0 * share,
        }))
    }

    /// Places along a line without ink.
    fn gaps(&self, line: &Centred) -> Vec<BridgedGap> {
        let n = line.points.len();
        let usual = median(line.stand_out.iter().copied());
        let bare: Vec<bool> = line.stand_out.iter().map(|m| *m < GAP_SHARE * usual).collect();
        let Some(start) = bare.iter().position(|b| !b) else { return Vec::new() };
        let step = |i: usize| (line.points[(i + 1) % n] - line.points[i % n]).norm();
        let mut gaps = Vec::new();
        let mut k = 0;
        while k < n {
            let from = start + k;
            let run = (0..n - k).take_while(|r| bare[(from + r) % n]).count();
            if run > 0 {
                let length_mm: f32 = (0..run).map(|r| step(from + r)).sum();
                let empty = (0..run).filter(|r| self.is_no_skin(&line.points[(from + r) % n])).count();
                if length_mm >= 1.5 {
                    let at = line.points[(from + run / 2) % n];
                    gaps.push(BridgedGap { at, length_mm, over_hole: 3 * empty >= run });
                }
            }
            k += run.max(1);
        }
        gaps
    }

    fn is_no_skin(&self, p: &Point3<f32>) -> bool {
        self.search.graph.surface.nearest(p, None).is_none_or(|hit| self.search.graph.is_unseen(&hit))
    }

    /// The connected part of the graph with the most ink, and the length of that ink, mm.
    pub fn most_ink(&self, forest: &SpanningForest) -> Option<(u32, f32)> {
        let inked_mm = forest
            .ink_of_components(self.links)
            .into_iter()
            .map(|links| links.iter().map(|l| self.links[*l as usize].length_mm).sum());
        inked_mm.enumerate().map(|(k, mm)| (k as u32, mm)).max_by(|a, b| f32::total_cmp(&a.1, &b.1).then(b.0.cmp(&a.0)))
    }

    /// The longest open line of one connected part, with a proposal to close it.
    pub fn open(
        &self,
        forest: &SpanningForest,
        component: u32,
        refused: Option<NotClosed>,
        job: &Job,
    ) -> Result<Option<PenFinding>, Cancelled> {
        let path = self.without_strays(forest.longest_path(component, self.links));
        let rough: Vec<Point3<f32>> = path.iter().map(|i| self.ridge_points[*i as usize].at).collect();
        if length(&rough) < LEAST_LINE_MM {
            return Ok(None);
        }
        let centred = centre(self.search.graph, self.search.inked, &rough, false, self.pen.ink, job)?;
        let bare = centred.stand_out.iter().filter(|m| **m < GAP_SHARE * self.pen.ink).count();
        let plain = self.pen.ink >= LEAST_OPEN_INK && bare as f32 <= MOST_GAP * centred.stand_out.len() as f32;
        if !plain || centred.width_mm < LEAST_WIDTH_MM || length(&centred.points) < LEAST_LINE_MM {
            return Ok(None);
        }
        let line = centred.points;
        let (Some(first), Some(last)) = (line.first().copied(), line.last().copied()) else { return Ok(None) };
        let ends_off_scan = [first, last].iter().filter(|p| self.search.graph.is_at_end_of_scan(p)).count();
        let why = WhyOpen { ends_off_scan, refused };
        let proposal = match closing(self.search.graph, &line, self.search.settings.min_area_mm2, job)? {
            Some(c) => {
                let (centre, width_mm) = (c.ring, centred.width_mm);
                let drawn = Drawn { centre, width_mm, gaps: Vec::new(), dashes: None, confidence: 0.3 };
                let closed = self.enclose(drawn, job)?.ok();
                closed.map(|line| Proposal { line, added: c.added, added_mm: c.added_mm })
            }
            None => None,
        };
        Ok(Some(PenFinding::Open { line, ends: [first, last], proposal, why }))
    }

    /// Cuts short stretches off the ends of a path that are joined to it by a gap only, such as a mole beyond the end
    /// of the ink.
    fn without_strays(&self, mut path: Vec<u32>) -> Vec<u32> {
        let pair = |a: u32, b: u32| (a.min(b), a.max(b));
        let gaps: HashSet<(u32, u32)> = self.links.iter().filter(|l| l.gap).map(|l| pair(l.a, l.b)).collect();
        for _ in 0..2 {
            let mut inked_mm = 0.0;
            for k in (1..path.len()).rev() {
                let (a, b) = (path[k], path[k - 1]);
                if gaps.contains(&pair(a, b)) {
                    path.truncate(k);
                    inked_mm = 0.0;
                } else {
                    inked_mm += (self.ridge_points[a as usize].at - self.ridge_points[b as usize].at).norm();
                }
                if inked_mm > LEAST_DASH_MM {
                    break;
                }
            }
            path.reverse();
        }
        path
    }
}
