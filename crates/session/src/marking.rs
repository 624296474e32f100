//! Edits of what is marked on the limb: dabs, outlines, regions.

use nalgebra::Point3;
use zone::{Dab, ExtraRegion, RegionKind, Source, ZoneSettings};

/// Dabs of a stroke stand this share of the radius apart.
const SPACING: f32 = 1.0 / 3.0;
/// A dab nearer than this share of its radius to one of the same size and kind makes no visible difference.
const SAME: f32 = 1.0 / 12.0;

/// What is being marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Target {
    /// What is to be covered.
    #[default]
    Zone,
    /// A region that is there already, by its number.
    Region(usize),
}

/// One corner of one outline.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Corner {
    /// What the outline marks.
    pub target: Target,
    /// Number of the source.
    pub source: usize,
    /// Number of the corner.
    pub corner: usize,
}

impl Target {
    /// Its sources; none if the region no longer exists.
    #[must_use]
    pub fn sources(self, zone: &ZoneSettings) -> Option<&[Source]> {
        match self {
            Self::Zone => Some(&zone.sources),
            Self::Region(i) => zone.regions.get(i).map(|r| r.sources.as_slice()),
        }
    }

    fn sources_mut(self, zone: &mut ZoneSettings) -> Option<&mut Vec<Source>> {
        match self {
            Self::Zone => Some(&mut zone.sources),
            Self::Region(i) => zone.regions.get_mut(i).map(|r| &mut r.sources),
        }
    }
}

/// Places for dabs on the straight line from the last one to `to`, a third of the radius apart; what is left of the
/// line waits for the next call.
#[must_use]
pub fn along(last: Option<Point3<f32>>, to: Point3<f32>, radius_mm: f32) -> Vec<Point3<f32>> {
    let Some(last) = last else { return vec![to] };
    let way = to - last;
    let spacing = (SPACING * radius_mm).max(0.2);
    // More dabs in one move can only be a slip of the hand.
    let count = (way.norm() / spacing).floor().min(20_000.0) as usize;
    let step = way * (spacing / way.norm().max(1e-6));
    (1..=count).map(|i| last + step * i as f32).collect()
}

/// Adds dabs at the end, to the last source if that is strokes; returns how many made a difference.
pub fn add_dabs(zone: &mut ZoneSettings, target: Target, dabs: &[Dab]) -> usize {
    let Some(sources) = target.sources_mut(zone) else { return 0 };
    let mut used = 0;
    for dab in dabs {
        if let Some(Source::Strokes { dabs: there }) = sources.last_mut() {
            let known = there.iter().rev().take_while(|d| d.remove == dab.remove).any(|d| {
                (d.radius_mm / dab.radius_mm - 1.0).abs() < 0.01 && (d.at_mm - dab.at_mm).norm() < SAME * dab.radius_mm
            });
            if !known {
                there.push(*dab);
                used += 1;
            }
        } else if !(sources.is_empty() && dab.remove) {
            // Nothing can be taken away from nothing.
            sources.push(Source::Strokes { dabs: vec![*dab] });
            used += 1;
        }
    }
    used
}

/// Adds a closed outline if it has at least three corners; whether it did.
pub fn add_outline(zone: &mut ZoneSettings, target: Target, corners: &[Point3<f32>]) -> bool {
    let Some(sources) = target.sources_mut(zone).filter(|_| corners.len() >= 3) else { return false };
    sources.push(Source::Outline { corners_mm: corners.to_vec(), inside_mm: None });
    true
}

/// All corners of all outlines of `target`, and where they are.
#[must_use]
pub fn corners(zone: &ZoneSettings, target: Target) -> Vec<(Corner, Point3<f32>)> {
    let mut found = Vec::new();
    for (source, s) in target.sources(zone).unwrap_or_default().iter().enumerate() {
        if let Source::Outline { corners_mm, .. } = s {
            found.extend(corners_mm.iter().enumerate().map(|(corner, p)| (Corner { target, source, corner }, *p)));
        }
    }
    found
}

/// Moves a corner.
pub fn move_corner(zone: &mut ZoneSettings, corner: Corner, to: Point3<f32>) {
    if let Some(Source::Outline { corners_mm, .. }) =
        corner.target.sources_mut(zone).and_then(|s| s.get_mut(corner.source))
        && let Some(p) = corners_mm.get_mut(corner.corner)
    {
        *p = to;
    }
}

/// Removes a corner, or the whole outline if it has only three.
pub fn delete_corner(zone: &mut ZoneSettings, corner: Corner) {
    let Some(sources) = corner.target.sources_mut(zone) else { return };
    let Some(Source::Outline { corners_mm, .. }) = sources.get_mut(corner.source) else { return };
    if corner.corner >= corners_mm.len() {
        return;
    }
    if corners_mm.len() > 3 {
        corners_mm.remove(corner.corner);
    } else {
        sources.remove(corner.source);
    }
}

/// Adds an empty region, to be marked in the same edit; returns its target.
pub fn add_region(zone: &mut ZoneSettings, kind: RegionKind) -> Target {
    zone.regions.push(ExtraRegion { kind, sources: Vec::new() });
    Target::Region(zone.regions.len() - 1)
}

/// Removes a region.
pub fn remove_region(zone: &mut ZoneSettings, number: usize) {
    if number < zone.regions.len() {
        zone.regions.remove(number);
    }
}

/// The letter that names a region: A, B, … Z, then AA.
#[must_use]
pub fn letter(number: usize) -> String {
    let own = char::from(b'A' + (number % 26) as u8);
    if number < 26 { own.to_string() } else { format!("{}{own}", letter(number / 26 - 1)) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f32) -> Point3<f32> {
        Point3::new(x, 0.0, 0.0)
    }

    fn dab(x: f32, remove: bool) -> Dab {
        Dab { at_mm: at(x), radius_mm: 12.0, remove }
    }

    fn dabs(zone: &ZoneSettings, source: usize) -> usize {
        match &zone.sources[source] {
            Source::Strokes { dabs } => dabs.len(),
            _ => 0,
        }
    }

    #[test]
    fn dabs_stand_a_third_of_the_radius_apart_whatever_the_frames() {
        // The same line in one move and in many small ones.
        let whole = along(Some(at(0.0)), at(50.0), 12.0);
        assert_eq!(whole.len(), 12);
        let (mut last, mut placed) = (at(0.0), Vec::new());
        for i in 1..=500 {
            let new = along(Some(last), at(0.1 * i as f32), 12.0);
            last = *new.last().unwrap_or(&last);
            placed.extend(new);
        }
        assert_eq!(placed.len(), 12);
        for (a, b) in whole.iter().zip(&placed) {
            assert!((a - b).norm() < 1e-3 && (a.x % 4.0).min(4.0 - a.x % 4.0) < 1e-3);
        }
        assert_eq!(along(None, at(7.0), 12.0), vec![at(7.0)], "the first dab stands where the button went down");
        assert!(along(Some(at(1.0)), at(1.0), 12.0).is_empty());
    }

    #[test]
    fn strokes_join_and_painting_over_the_same_place_adds_nothing() {
        let mut zone = ZoneSettings::default();
        assert_eq!(add_dabs(&mut zone, Target::Zone, &[dab(0.0, true)]), 0, "nothing to take away from");
        assert!(zone.sources.is_empty());
        assert_eq!(add_dabs(&mut zone, Target::Zone, &[dab(0.0, false), dab(4.0, false)]), 2);
        assert_eq!(add_dabs(&mut zone, Target::Zone, &[dab(0.5, false), dab(2.0, true), dab(0.0, false)]), 2);
        assert_eq!((zone.sources.len(), dabs(&zone, 0)), (1, 4), "painting again after erasing counts");
        assert!(!add_outline(&mut zone, Target::Zone, &[at(0.0), at(1.0)]));
        assert!(add_outline(&mut zone, Target::Zone, &[at(0.0), at(1.0), at(2.0)]));
        assert_eq!(add_dabs(&mut zone, Target::Zone, &[dab(1.0, true)]), 1);
        assert_eq!((zone.sources.len(), dabs(&zone, 2)), (3, 1), "what comes after an outline works on it");
        assert!(zone.check().is_ok());
    }

    #[test]
    fn corners_move_and_go_and_the_third_last_takes_the_outline_along() {
        let mut zone = ZoneSettings::default();
        add_dabs(&mut zone, Target::Zone, &[dab(0.0, false)]);
        add_outline(&mut zone, Target::Zone, &[at(0.0), at(1.0), at(2.0), at(3.0)]);
        let all = corners(&zone, Target::Zone);
        assert_eq!(all.len(), 4);
        move_corner(&mut zone, all[2].0, at(9.0));
        assert_eq!(corners(&zone, Target::Zone)[2].1, at(9.0));
        delete_corner(&mut zone, all[0].0);
        let left: Vec<f32> = corners(&zone, Target::Zone).iter().map(|c| c.1.x).collect();
        assert_eq!(left, [1.0, 9.0, 3.0]);
        // A corner that no longer exists is ignored.
        delete_corner(&mut zone, all[3].0);
        move_corner(&mut zone, Corner { source: 7, ..all[0].0 }, at(0.0));
        assert_eq!(corners(&zone, Target::Zone).len(), 3);
        delete_corner(&mut zone, all[0].0);
        assert_eq!((corners(&zone, Target::Zone).len(), zone.sources.len()), (0, 1));
    }

    #[test]
    fn regions_come_with_letters_and_go() {
        let mut zone = ZoneSettings::default();
        let relief = add_region(&mut zone, RegionKind::Relief { depth_mm: 2.0, falloff_mm: 8.0 });
        add_dabs(&mut zone, relief, &[dab(0.0, false)]);
        let clear = add_region(&mut zone, RegionKind::KeepClear { margin_mm: 2.0 });
        add_outline(&mut zone, clear, &[at(0.0), at(1.0), at(2.0)]);
        assert_eq!((relief, clear, corners(&zone, clear).len()), (Target::Region(0), Target::Region(1), 3));
        remove_region(&mut zone, 0);
        assert_eq!(zone.regions.len(), 1);
        assert_eq!(add_dabs(&mut zone, clear, &[dab(0.0, false)]), 0, "the number has gone");
        assert_eq!([0, 25, 26, 52].map(letter), ["A", "Z", "AA", "BA"]);
    }
}
