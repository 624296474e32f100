//! How long the straps of a guard are cut.

use std::fmt::{self, Display, Formatter};

use mesh::Surface;
use nalgebra::{Point3, Vector3};
use serde::Serialize;
use shell::fitting::anchor_pull_n;
use shell::{Design, Fitting, FittingKind};
use zone::Zone;

use crate::EngineError;

/// What a strap is cut longer than the girth of the limb, mm: common practice for hook-and-loop that closes on itself,
/// with some left for swelling and for what the strap lies over.
pub const STRAP_OVERLAP_MM: f64 = 80.0;
/// Straps are cut to whole steps of this length, mm.
const CUT_STEP_MM: f64 = 5.0;
/// A strap runs round the limb where its slot leans from the limb's long axis by no more than this, degrees.
const GREATEST_LEAN_DEG: f32 = 45.0;
/// The outline of a cut that the strap lies on passes at most so far from its slots, mm.
const NEAR_MM: f32 = 15.0;

/// One strap round the limb.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Strap {
    /// Its slots, by their numbers in the design from 0: two that face each other, or one that none faces.
    pub slots: Vec<usize>,
    /// How wide it is, mm.
    pub width_mm: f32,
    /// Girth of the limb at the height of its slots, mm; nothing where no slot faces the other or the scan does not go
    /// all round the limb there.
    pub girth_mm: Option<f64>,
    /// How long it is cut: the girth and [`STRAP_OVERLAP_MM`], rounded up to 5 mm.
    pub cut_mm: Option<f64>,
    /// The pull that the wall behind its slots holds, N: of the weaker one ([`shell::fitting::anchor_pull_n`]).
    pub holds_n: f64,
}

impl Display for Strap {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        write!(f, "{} mm wide: ", print::words::tenths(self.width_mm))?;
        match (self.girth_mm, self.cut_mm, &self.slots[..]) {
            (Some(girth), Some(cut), _) => {
                write!(f, "cut {cut:.0} mm (girth {girth:.0} mm and {STRAP_OVERLAP_MM:.0} mm to overlap)")
            }
            (.., [slot]) => {
                write!(f, "no slot of its width faces that of fitting {}; measure it on the athlete", slot + 1)
            }
            _ => write!(
                f,
                "measure round the limb and add {STRAP_OVERLAP_MM:.0} mm to overlap; the scan does not go all round there"
            ),
        }
    }
}

impl Strap {
    /// The pull that its slots hold, in words, rounded down to 10 N.
    #[must_use]
    pub fn holds(&self) -> String {
        format!("its slots hold a pull of about {:.0} N", 10.0 * (self.holds_n / 10.0).floor())
    }
}

/// A slot for a strap round the limb.
struct Slot {
    number: usize,
    width_mm: f32,
    /// On the skin.
    at: Point3<f32>,
    /// The pull that the wall between it and the trim line holds, N.
    holds_n: f64,
}

/// The straps of a design whose fittings lie where they were placed, in the order of their slots. Slots of one width
/// whose heights differ by less than it face each other, those nearest in height first.
///
/// # Errors
/// The skin is broken.
pub fn straps(
    skin: &Surface,
    zone: &Zone,
    design: &Design,
    fittings: &[(usize, Fitting)],
) -> Result<Vec<Strap>, EngineError> {
    let mut slots: Vec<Slot> = fittings
        .iter()
        .filter_map(|(number, fitting)| {
            let FittingKind::StrapSlot { strap_mm, opening_mm } = fitting.kind else { return None };
            let round = (fitting.turn_deg.rem_euclid(180.0) - 90.0).abs() <= GREATEST_LEAN_DEG;
            let hit = shell::skin_point(skin, &fitting.at_mm).filter(|_| round)?;
            // The wall is thinnest at the middle of the slot or at one of its ends.
            let (around, along) = shell::skin_directions(&skin.normal_at(&hit));
            let (sin, cos) = fitting.turn_deg.to_radians().sin_cos();
            let edge_mm = |share: f32| {
                let place = hit.point + (around * cos + along * sin) * (0.5 * strap_mm * share);
                let on_skin = shell::skin_point(skin, &place);
                on_skin.map_or(0.0, |at| skin.interpolate(&zone.covered.distance_mm, &at))
            };
            let wall_mm = [-1.0, 0.0, 1.0].map(edge_mm).into_iter().fold(f32::INFINITY, f32::min) - 0.5 * opening_mm;
            let holds_n = f64::from(anchor_pull_n(wall_mm, strap_mm, design.thickness_mm));
            Some(Slot { number: *number, width_mm: strap_mm, at: hit.point, holds_n })
        })
        .collect();
    let mut found = Vec::new();
    while !slots.is_empty() {
        let slot = slots.remove(0);
        let apart = |other: &Slot| (other.at.z - slot.at.z).abs();
        let facing = (0..slots.len())
            .filter(|i| (slots[*i].width_mm - slot.width_mm).abs() < 0.5 && apart(&slots[*i]) < slot.width_mm)
            .min_by(|i, j| apart(&slots[*i]).total_cmp(&apart(&slots[*j])));
        let Some(other) = facing.map(|i| slots.remove(i)) else {
            let slots = vec![slot.number];
            found.push(Strap { slots, width_mm: slot.width_mm, girth_mm: None, cut_mm: None, holds_n: slot.holds_n });
            continue;
        };
        let girth_mm = girth_mm(skin, [&slot.at, &other.at])?;
        let cut_mm = girth_mm.map(|girth| ((girth + STRAP_OVERLAP_MM) / CUT_STEP_MM).ceil() * CUT_STEP_MM);
        let holds_n = slot.holds_n.min(other.holds_n);
        let slots = vec![slot.number, other.number];
        found.push(Strap { slots, width_mm: slot.width_mm, girth_mm, cut_mm, holds_n });
    }
    Ok(found)
}

/// The straps in clauses for a page, those of one width together.
pub(crate) fn in_short(straps: &[Strap]) -> Vec<String> {
    let mut widths: Vec<f32> = Vec::new();
    for strap in straps.iter().filter(|strap| strap.cut_mm.is_some()) {
        if !widths.contains(&strap.width_mm) {
            widths.push(strap.width_mm);
        }
    }
    let together = widths.into_iter().map(|width_mm| {
        let lengths = |of: fn(&Strap) -> Option<f64>| {
            let of_width = straps.iter().filter(|strap| strap.width_mm == width_mm && strap.cut_mm.is_some());
            of_width.filter_map(of).map(|mm| format!("{mm:.0}")).collect::<Vec<_>>().join(" and ")
        };
        let [cut, girth] = [lengths(|strap| strap.cut_mm), lengths(|strap| strap.girth_mm)];
        let wide = print::words::tenths(width_mm);
        format!("{wide} mm wide: cut {cut} mm (girth {girth} mm, and {STRAP_OVERLAP_MM:.0} mm to overlap)")
    });
    let weakest = straps.iter().map(|strap| strap.holds_n).reduce(f64::min);
    let holds =
        weakest.map(|n| format!("the wall behind the slots holds a pull of about {:.0} N", 10.0 * (n / 10.0).floor()));
    together.chain(straps.iter().filter(|strap| strap.cut_mm.is_none()).map(ToString::to_string)).chain(holds).collect()
}

/// Girth of the limb half way between the heights of two places on it; nothing where the skin there is open.
fn girth_mm(skin: &Surface, places: [&Point3<f32>; 2]) -> Result<Option<f64>, EngineError> {
    let height = 0.5 * (places[0].z + places[1].z);
    let cut = fit::section(skin.mesh(), &Point3::new(0.0, 0.0, height), &Vector3::z())?;
    let away = |line: &fit::SectionLine| {
        let to = |place: &Point3<f32>| {
            let flat = Point3::new(place.x, place.y, height);
            line.points.iter().map(|p| (p - flat).norm()).fold(f32::INFINITY, f32::min)
        };
        to(places[0]).max(to(places[1]))
    };
    let nearest = cut.lines.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
    Ok(nearest.filter(|line| line.closed && away(line) <= NEAR_MM).map(fit::SectionLine::length_mm))
}

#[cfg(test)]
mod tests {
    use super::*;
    use shell::Fitting;
    use test_shapes::{Diagonals, Wrap, grid};
    use zone::Region;

    const RADIUS: f32 = 40.0;

    /// A tube of 40 mm, or half of one.
    fn tube(turn: f64, wrap: Wrap) -> Surface {
        grid(240, 100, wrap, Diagonals::Alike, |u, v| {
            let (s, c) = (turn * u).sin_cos();
            [f64::from(RADIUS) * c, f64::from(RADIUS) * s, 160.0 * v - 80.0]
        })
        .build()
    }

    fn slot(strap_mm: f32, at_deg: f32, z: f32, turn_deg: f32) -> Fitting {
        let (s, c) = at_deg.to_radians().sin_cos();
        let kind = FittingKind::StrapSlot { strap_mm, opening_mm: 4.0 };
        Fitting { kind, at_mm: Point3::new(RADIUS * c, RADIUS * s, z), turn_deg, follows: false }
    }

    fn of(skin: &Surface, fittings: Vec<Fitting>) -> Vec<Strap> {
        let zone = Zone {
            covered: Region { distance_mm: vec![8.0; skin.mesh().points.len()], edges: Vec::new() },
            ..Zone::default()
        };
        straps(skin, &zone, &Design::default(), &fittings.into_iter().enumerate().collect::<Vec<_>>()).unwrap()
    }

    #[test]
    fn a_strap_is_as_long_as_the_circle_and_80_mm() {
        let skin = tube(std::f64::consts::TAU, Wrap::Columns);
        // Two pairs, told apart by their heights although the nearest in the list is the wrong one.
        let fittings = vec![
            slot(25.0, 20.0, 40.0, 90.0),
            slot(25.0, 20.0, -30.0, -90.0),
            slot(25.0, 160.0, -31.0, 90.0),
            slot(25.0, 160.0, 41.0, 80.0),
        ];
        let found = of(&skin, fittings);
        assert_eq!(found.iter().map(|s| s.slots.clone()).collect::<Vec<_>>(), [vec![0, 3], vec![1, 2]]);
        for strap in &found {
            // 2 π · 40 = 251.3, and 331.3 rounded up to 5.
            assert!((strap.girth_mm.unwrap() - 251.3).abs() < 0.1, "{strap:?}");
            assert_eq!(strap.cut_mm, Some(335.0));
            assert_eq!(strap.to_string(), "25 mm wide: cut 335 mm (girth 251 mm and 80 mm to overlap)");
            // A wall of 6 mm behind a slot of 27 mm and 4 mm, in a guard of 3 mm: see `shell::fitting::anchor_pull_n`.
            assert!((strap.holds_n - 100.0).abs() < 1e-3 && strap.holds().ends_with("about 100 N"), "{strap:?}");
        }
    }

    #[test]
    fn straps_of_one_width_are_told_together() {
        let strap = |width_mm, girth: Option<f64>| Strap {
            slots: vec![0, 1],
            width_mm,
            girth_mm: girth,
            cut_mm: girth.map(|g| g + 80.0),
            holds_n: 104.0,
        };
        let told = in_short(&[strap(25.0, Some(170.0)), strap(38.0, None), strap(25.0, Some(230.0))]);
        assert_eq!(told[0], "25 mm wide: cut 250 and 310 mm (girth 170 and 230 mm, and 80 mm to overlap)");
        assert!(told.len() == 3 && told[1].starts_with("38 mm wide: measure"), "{told:?}");
        assert_eq!(told[2], "the wall behind the slots holds a pull of about 100 N");
    }

    #[test]
    fn what_cannot_be_measured_is_said() {
        let whole = tube(std::f64::consts::TAU, Wrap::Columns);
        // One slot of another width, one far up, one for a strap along the limb.
        let alone = vec![slot(25.0, 20.0, 0.0, 90.0), slot(38.0, 160.0, 0.0, 90.0), slot(25.0, 160.0, 0.0, 0.0)];
        let found = of(&whole, alone);
        assert_eq!(found.iter().map(|s| s.slots.clone()).collect::<Vec<_>>(), [vec![0], vec![1]]);
        assert!(found[1].to_string().contains("faces that of fitting 2; measure it"), "{}", found[1]);
        let half = tube(std::f64::consts::PI, Wrap::None);
        let found = of(&half, vec![slot(25.0, 20.0, 0.0, 90.0), slot(25.0, 160.0, 0.0, 90.0)]);
        assert_eq!((found.len(), found[0].girth_mm, found[0].cut_mm), (1, None, None));
        assert!(found[0].to_string().contains("the scan does not go all round"), "{}", found[0]);
    }
}
