//! Decides whether beads of one kind of ink make a closed line, an open one or none.

use mesh::{Cancelled, Job};
use nalgebra::Point3;

use super::centre::{Centred, GAP_SHARE, centre};
use super::closing::{closing, flat_area, length};
use super::contrast::Contrast;
use super::cycles::{Tree, walk};
use super::inside::sides;
use super::links::{Link, gap_links, ink_links};
use super::ridge::{Bead, bead_spacing_mm, beads};
use super::skin_graph::SkinGraph;
use super::{BridgedGap, Ink, PenFinding, PenLine, PenSettings, Proposal};

/// A stroke shorter than this is no pen line, mm.
const LEAST_LINE_MM: f32 = 40.0;
/// Ink must differ from the skin by this much of the skin's lightness.
const LEAST_INK: f32 = 0.15;
/// Ink must stand out this many times the usual spread of the skin.
const LEAST_STANDING_OUT: f32 = 4.0;
/// An open line must be plainer than that, since a crease or a vein is an open line too.
const LEAST_OPEN_INK: f32 = 0.25;
/// Creases are thinner than this, pen lines wider, mm.
const LEAST_WIDTH_MM: f32 = 1.4;
/// A piece of ink at the end of a line, beyond a gap, belongs to the line if it is longer than this, mm.
const LEAST_DASH_MM: f32 = 10.0;
/// Ink paler than this share of the line's usual ink is not taken for the same pen.
const SAME_INK: f32 = 0.4;
/// A line with more gap than this share of its length is not a closed line.
const MOST_GAP: f32 = 0.35;

/// What one kind of ink gave, and how much it counts against the other kind.
pub(super) struct Judged {
    pub finding: PenFinding,
    pub rank: (u8, f32),
}

pub(super) fn judge(
    graph: &SkinGraph,
    contrast: &Contrast,
    ink: Ink,
    settings: &PenSettings,
    job: &Job,
) -> Result<Judged, Cancelled> {
    let inked = &contrast.value;
    let all = beads(graph, inked, &contrast.spread, job)?;
    job.step("Following the ink", 0.5)?;
    let none = |why: &str| Judged { finding: PenFinding::None { why: why.into() }, rank: (0, 0.0) };

    let spacing = bead_spacing_mm(graph);
    let Some(pen) = usual_ink(&all, &ink_links(&all, graph, inked, spacing)) else {
        return Ok(none(
            "No line of one ink was found on the skin. Mark the region by hand, or scan again in even light.",
        ));
    };
    let kept: Vec<Bead> = all.into_iter().filter(|b| b.ink >= SAME_INK * pen.ink).collect();
    let mut links = ink_links(&kept, graph, inked, spacing);
    links.extend(gap_links(&kept, &links, graph, settings));
    let tree = Tree::new(kept.len(), &links);
    let trace = Trace { graph, inked, kind: ink, pen, settings, beads: &kept, links: &links };

    let mut refused = None;
    let mut closed: Vec<(PenLine, Vec<u32>)> = Vec::new();
    for ring in tree.rings(&links, least_round_mm(settings)) {
        match trace.ring(&ring, job)? {
            Ok(line) => closed.push((line, ring)),
            Err(why) => {
                refused.get_or_insert(why);
            }
        }
    }
    job.step("Following the ink", 0.9)?;
    closed.sort_by(|x, y| y.0.area_mm2.total_cmp(&x.0.area_mm2));
    let strength = pen.ink / pen.spread;
    if !closed.is_empty() {
        let (mut line, ring) = closed.remove(0);
        line.others = closed
            .into_iter()
            .filter(|(_, other)| other.iter().filter(|l| ring.binary_search(l).is_ok()).count() * 5 < other.len())
            .map(|(other, _)| other.centre)
            .collect();
        if !line.others.is_empty() {
            let (n, s) = (line.others.len(), if line.others.len() == 1 { "" } else { "s" });
            line.sentence += &format!(" {n} smaller closed line{s} left aside.");
        }
        return Ok(Judged { finding: PenFinding::Closed(line), rank: (2, strength) });
    }
    match trace.open(&tree, refused, job)? {
        Some((finding, inked_mm)) => Ok(Judged { finding, rank: (1, strength * inked_mm) }),
        None => Ok(none(
            "Some strokes were found, but none long and plain enough to be a pen line. Mark the region by hand.",
        )),
    }
}

/// The shortest ring round the least area.
fn least_round_mm(settings: &PenSettings) -> f32 {
    (4.0 * std::f32::consts::PI * settings.min_area_mm2.max(1.0)).sqrt() * 0.9
}

/// The contrast of the strongest long line, and the spread of the skin along it.
#[derive(Debug, Clone, Copy)]
struct Pen {
    ink: f32,
    spread: f32,
}

fn usual_ink(beads: &[Bead], links: &[Link]) -> Option<Pen> {
    let tree = Tree::new(beads.len(), links);
    let mut of_piece: Vec<Vec<u32>> = vec![Vec::new(); tree.pieces as usize];
    for (i, piece) in tree.piece.iter().enumerate() {
        of_piece[*piece as usize].push(i as u32);
    }
    let mut best: Option<(f32, Pen)> = None;
    for (piece, members) in of_piece.iter().enumerate().filter(|(_, m)| m.len() >= 5) {
        let way = tree.longest_way(piece as u32, links);
        let long = length(&way.iter().map(|i| beads[*i as usize].at).collect::<Vec<_>>());
        let pen = Pen {
            ink: median(members.iter().map(|i| beads[*i as usize].ink)),
            spread: median(members.iter().map(|i| beads[*i as usize].spread)),
        };
        let strong = pen.ink >= LEAST_INK && pen.ink >= LEAST_STANDING_OUT * pen.spread;
        if strong && long >= 0.5 * LEAST_LINE_MM && best.is_none_or(|b| long * pen.ink > b.0) {
            best = Some((long * pen.ink, pen));
        }
    }
    best.map(|b| b.1)
}

fn median(values: impl Iterator<Item = f32>) -> f32 {
    let mut sorted: Vec<f32> = values.collect();
    if sorted.is_empty() {
        return 0.0;
    }
    let middle = sorted.len() / 2;
    *sorted.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// All that is known of one kind of ink on one skin.
struct Trace<'a> {
    graph: &'a SkinGraph<'a>,
    inked: &'a [f32],
    kind: Ink,
    pen: Pen,
    settings: &'a PenSettings,
    beads: &'a [Bead],
    links: &'a [Link],
}

impl Trace<'_> {
    /// Measures one ring; the inner error is a sentence that says why it is no closed pen line.
    fn ring(&self, ring: &[u32], job: &Job) -> Result<Result<PenLine, String>, Cancelled> {
        let Some(way) = walk(ring, self.links) else { return Ok(Err("The line crosses itself.".into())) };
        let mut rough: Vec<Point3<f32>> = way.iter().map(|i| self.beads[*i as usize].at).collect();
        if let Some(first) = rough.first().copied() {
            rough.push(first);
        }
        if flat_area(&rough) < 0.3 * self.settings.min_area_mm2 && length(&rough) < 150.0 {
            return Ok(Err("The ring of ink is too small to be a region.".into()));
        }
        rough.pop();
        let centred = centre(self.graph, self.inked, &rough, true, self.pen.ink, job)?;
        if centred.width_mm < LEAST_WIDTH_MM {
            return Ok(Err("The line is too thin to be told from a crease.".into()));
        }
        let gaps = self.gaps(&centred);
        if let Some(wide) = gaps.iter().find(|g| {
            let most = if g.over_hole {
                self.settings.max_hole_mm.max(self.settings.max_gap_mm)
            } else {
                self.settings.max_gap_mm
            };
            g.length_mm > most + 0.5
        }) {
            return Ok(Err(format!("There is a gap of {:.0} mm in the ink.", wide.length_mm)));
        }
        let bridged_mm: f32 = gaps.iter().map(|g| g.length_mm).sum();
        let share = bridged_mm / centred.points.len().max(1) as f32;
        if share > MOST_GAP {
            return Ok(Err("Too much of the line is missing.".into()));
        }
        Ok(self.line(centred.points, centred.width_mm, gaps, 1.0 - 2.0 * share))
    }

    /// Completes a closed line with its inside; the error says why there is none.
    fn line(
        &self,
        mut centre: Vec<Point3<f32>>,
        width_mm: f32,
        gaps: Vec<BridgedGap>,
        confidence: f32,
    ) -> Result<PenLine, String> {
        let Some([left, right]) = sides(self.graph, &centre) else {
            return Err("The line does not part the skin in two.".into());
        };
        let inside_left = match (left.reaches_end, right.reaches_end) {
            (false, true) => true,
            (true, false) => false,
            _ => left.area_mm2 <= right.area_mm2,
        };
        let inside = if inside_left { left } else { right };
        if !inside_left {
            centre.reverse();
        }
        if inside.area_mm2 < f64::from(self.settings.min_area_mm2) {
            return Err("The line encloses too little skin.".into());
        }
        let round_the_limb = left.reaches_end && right.reaches_end;
        let clear = (self.pen.ink / self.pen.spread / 10.0).min(1.0);
        let mut line = PenLine {
            centre,
            seed_inside: inside.middle,
            area_mm2: inside.area_mm2,
            round_the_limb,
            width_mm,
            gaps_bridged: gaps,
            ink: self.kind,
            confidence: (confidence * clear * if round_the_limb { 0.5 } else { 1.0 }).clamp(0.05, 1.0),
            sentence: String::new(),
            others: Vec::new(),
        };
        line.sentence = closed_sentence(&line);
        Ok(line)
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
        self.graph.surface.nearest(p, None).is_none_or(|hit| self.graph.is_unseen(&hit))
    }

    /// The longest open line, with a proposal to close it, and the length of its ink.
    fn open(&self, tree: &Tree, refused: Option<String>, job: &Job) -> Result<Option<(PenFinding, f32)>, Cancelled> {
        let inked_mm: Vec<f32> = tree
            .ink_of_pieces(self.links)
            .iter()
            .map(|links| links.iter().map(|l| self.links[*l as usize].length_mm).sum())
            .collect();
        let Some(piece) = (0..inked_mm.len()).max_by(|a, b| inked_mm[*a].total_cmp(&inked_mm[*b]).then(b.cmp(a)))
        else {
            return Ok(None);
        };
        let way = self.without_strays(tree.longest_way(piece as u32, self.links));
        let rough: Vec<Point3<f32>> = way.iter().map(|i| self.beads[*i as usize].at).collect();
        if length(&rough) < LEAST_LINE_MM {
            return Ok(None);
        }
        let centred = centre(self.graph, self.inked, &rough, false, self.pen.ink, job)?;
        let bare = centred.stand_out.iter().filter(|m| **m < GAP_SHARE * self.pen.ink).count();
        let plain = self.pen.ink >= LEAST_OPEN_INK && bare as f32 <= MOST_GAP * centred.stand_out.len() as f32;
        if !plain || centred.width_mm < LEAST_WIDTH_MM || length(&centred.points) < LEAST_LINE_MM {
            return Ok(None);
        }
        let line = centred.points;
        let (Some(first), Some(last)) = (line.first().copied(), line.last().copied()) else { return Ok(None) };
        let at_edge = [first, last].map(|p| self.is_at_end_of_scan(&p));
        let mut why = match at_edge {
            [true, true] => "The pen line runs off the scan at both ends.".to_owned(),
            [false, false] => "The pen line does not close.".to_owned(),
            _ => "The pen line runs off the scan at one end.".to_owned(),
        };
        if let Some(refused) = refused {
            why = format!("{why} {refused}");
        }
        let proposal = closing(self.graph, &line, self.settings.min_area_mm2).and_then(|c| {
            let closed = self.line(c.ring, centred.width_mm, Vec::new(), 0.3).ok()?;
            Some(Proposal { line: closed, added: c.added, added_mm: c.added_mm })
        });
        if proposal.is_none() {
            why += " There is no short way to close it: draw the line anew and scan again, or mark the region by hand.";
        }
        Ok(Some((PenFinding::Open { line, ends: [first, last], proposal, why }, inked_mm[piece])))
    }

    /// Takes specks off the ends of a way that hang on it over a gap only, such as a mole beyond the end of the ink.
    fn without_strays(&self, mut way: Vec<u32>) -> Vec<u32> {
        let is_gap =
            |a: u32, b: u32| self.links.iter().any(|l| l.gap && ((l.a, l.b) == (a, b) || (l.a, l.b) == (b, a)));
        for _ in 0..2 {
            let mut inked_mm = 0.0;
            for k in (1..way.len()).rev() {
                let (a, b) = (way[k], way[k - 1]);
                if is_gap(a, b) {
                    way.truncate(k);
                    inked_mm = 0.0;
                } else {
                    inked_mm += (self.beads[a as usize].at - self.beads[b as usize].at).norm();
                }
                if inked_mm > LEAST_DASH_MM {
                    break;
                }
            }
            way.reverse();
        }
        way
    }

    fn is_at_end_of_scan(&self, p: &Point3<f32>) -> bool {
        let near = 4.0 + self.graph.spacing_mm;
        (0..self.graph.len())
            .any(|v| self.graph.end_of_scan[v] && (self.graph.point(v as u32) - p).norm_squared() < near * near)
    }
}

fn closed_sentence(line: &PenLine) -> String {
    let ink = match line.ink {
        Ink::Dark => "dark",
        Ink::Light => "light",
        Ink::Coloured => "coloured",
    };
    let mut s = format!(
        "A closed line of {ink} ink, {:.1} mm wide and {} mm long, around {:.1} cm² of skin.",
        line.width_mm,
        line.centre.len(),
        line.area_mm2 / 100.0
    );
    if !line.gaps_bridged.is_empty() {
        let parts: Vec<String> = line
            .gaps_bridged
            .iter()
            .map(|g| format!("{:.1} mm{}", g.length_mm, if g.over_hole { " over a hole of the scan" } else { "" }))
            .collect();
        s += &format!(" Carried straight over where ink is missing: {}.", parts.join(", "));
    }
    if line.round_the_limb {
        s += " It goes round the limb; the smaller side is taken as the inside, so check that it is the right one.";
    }
    s
}
