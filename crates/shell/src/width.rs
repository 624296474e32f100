//! Whether the zone is wide enough everywhere for a wall with its rim.

mod core;
mod tails;

use mesh::{Cancelled, Job, Place, Surface, UnionFind};
use nalgebra::Point3;
use zone::Zone;

use self::core::{Core, NO_COMPONENT, VERTICES_A_LOOK, covered};
use crate::design_check::{down, up};
use crate::{Design, ShellError, limits};

/// Half of the least width of a zone, whatever the wall and rim, mm.
const LEAST_HALF_WIDTH_MM: f32 = 4.0;

/// A place where two wide parts of a zone are joined by a narrow one.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Neck {
    width_mm: f32,
    vertex: usize,
}

/// Checks the zone's width against the wall; gives a sentence for each place that is narrow but can be made.
///
/// # Errors
/// [`ShellError::CannotBuild`] where there is no zone, or it is too narrow at its widest place or at a neck, or that it
/// was cancelled.
pub(crate) fn check(skin: &Surface, zone: &Zone, design: &Design, job: &Job) -> Result<Vec<String>, ShellError> {
    let points = &skin.mesh().points;
    let cannot = |setting: &str, place: Point3<f32>, what: String, cure: String| ShellError::CannotBuild {
        setting: setting.into(),
        place,
        what,
        cure,
    };
    let depths = zone.covered.distance_mm.iter().take(points.len()).enumerate().filter(|(_, d)| d.is_finite());
    let Some((v, depth)) = depths.max_by(|a, b| a.1.total_cmp(b.1)) else {
        let what = "there is no zone on the limb".into();
        return Err(cannot("zone", Point3::origin(), what, "Paint or outline what is to be covered.".into()));
    };
    design.check().map_err(|wrong| wrong.at(points[v]))?;
    // The rounding of both edges is at most the wall, as the check has seen.
    let least = design.thickness_mm.max(LEAST_HALF_WIDTH_MM);
    if *depth < least {
        let (what, other_cure) = if *depth < LEAST_HALF_WIDTH_MM {
            let [has, needs] = [2.0 * depth.max(0.0), 2.0 * least];
            let what =
                format!("the zone is only {:.1} mm wide at its widest, and needs {:.1} mm", down(has), up(needs));
            (what, String::new())
        } else {
            let what = format!(
                "at its widest the zone reaches {:.1} mm in from its edge, less than the wall is thick (thickness_mm)",
                down(*depth)
            );
            (what, thinner(design, *depth))
        };
        let cure = format!("Grow the zone by at least {:.1} mm (zone.grow_mm){other_cure}.", up(least - depth));
        return Err(cannot("zone", points[v], what, cure));
    }
    let distance_mm = &zone.covered.distance_mm;
    let core = Core::new(skin, distance_mm, least, job)?;
    let necks = necks(skin, distance_mm, least, &core, job)?;
    if let Some(neck) = necks.iter().find(|n| n.width_mm < least) {
        let width_mm = neck.width_mm;
        let (needs, other_cure) = if width_mm < LEAST_HALF_WIDTH_MM {
            (format!("it needs {:.1} mm", up(least)), String::new())
        } else {
            ("the wall is thicker than that (thickness_mm)".to_owned(), thinner(design, width_mm))
        };
        let what = format!("two parts of the zone are joined by a neck about {width_mm:.0} mm wide, and {needs}");
        let cure = format!("Widen the zone there, smooth its edge, make a guard of each part{other_cure}.");
        return Err(cannot("zone", points[neck.vertex], what, cure));
    }
    let notice = |neck: &Neck| {
        format!(
            "The zone narrows to about {:.0} mm near {:#} mm on the limb and is weak there: widen it, or \
             thicken it by a reinforced region.",
            neck.width_mm,
            Place::new(&points[neck.vertex], 0)
        )
    };
    let tail = |tail: &tails::Tail| {
        format!(
            "The zone runs out into a thin tail, about {:.0} mm long and at most {:.0} mm wide, that ends near {:#} mm on the limb and would break easily: widen it, or leave it out of the zone.",
            tail.length_mm,
            tail.width_mm,
            Place::new(&points[tail.end], 0)
        )
    };
    let tails = tails::tails(skin, distance_mm, least, &core, job)?;
    Ok(necks.iter().map(notice).chain(tails.iter().map(tail)).collect())
}

/// The wall that a narrow zone allows, as a way out.
fn thinner(design: &Design, most_mm: f32) -> String {
    let round = if design.rim.round_mm > limits::most_round_mm(&Design { thickness_mm: most_mm, ..design.clone() }) {
        format!(" and round the rim by at most {} mm", down(0.5 * most_mm))
    } else {
        String::new()
    };
    format!(", or make the wall at most {} mm thick{round}", down(most_mm))
}

/// Necks narrower than twice `least_mm` between parts that are wider than that, narrowest first.
///
/// The vertices outside of the core are added the deepest first, and components joined as they meet (the merge tree of
/// the distance to the edge). Where two first meet lies a saddle of that distance, the middle of the neck, and the
/// distance there is half its width.
///
/// # Errors
/// [`Cancelled`] on request.
fn necks(skin: &Surface, distance_mm: &[f32], least_mm: f32, core: &Core, job: &Job) -> Result<Vec<Neck>, Cancelled> {
    let mut order: Vec<usize> =
        (0..core.component.len()).filter(|v| covered(distance_mm, *v) && core.component[*v] == NO_COMPONENT).collect();
    order.sort_by(|a, b| distance_mm[*b].total_cmp(&distance_mm[*a]).then(a.cmp(b)));
    // The added vertices in sets, each with its deepest vertex at the number that stands for it.
    let mut sets = UnionFind::new(core.component.len());
    let mut added: Vec<bool> = core.component.iter().map(|component| *component != NO_COMPONENT).collect();
    let mut deepest: Vec<usize> = (0..core.component.len()).collect();
    let mut first = vec![u32::MAX; core.deepest.len()];
    for (v, component) in core.component.iter().enumerate().filter(|(_, component)| **component != NO_COMPONENT) {
        let first = &mut first[*component as usize];
        *first = (*first).min(v as u32);
        sets.union(*first, v as u32);
        deepest[*first as usize] = core.deepest[*component as usize];
    }
    let mut found = Vec::new();
    for (i, v) in order.into_iter().enumerate() {
        if i.is_multiple_of(VERTICES_A_LOOK) {
            job.check()?;
        }
        added[v] = true;
        for w in skin.adjacency().vertices_around(skin.mesh(), v as u32) {
            if !added.get(w as usize).is_some_and(|added| *added) {
                continue;
            }
            let [a, b] = [v as u32, w].map(|x| sets.find(x));
            if a == b {
                continue;
            }
            let [a, b] = [a, b].map(|x| deepest[x as usize]);
            let (deep, shallow) = if distance_mm[a] >= distance_mm[b] { (a, b) } else { (b, a) };
            // A component without room of its own is a bump in the distance, not a part of the zone.
            if distance_mm[shallow] >= least_mm {
                found.push(Neck { width_mm: 2.0 * distance_mm[v], vertex: v });
            }
            sets.union(v as u32, w);
            deepest[sets.find(w) as usize] = deep;
        }
    }
    found.sort_by(|a, b| a.width_mm.total_cmp(&b.width_mm).then(a.vertex.cmp(&b.vertex)));
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Rim;
    use crate::sample_skins::{flat, inside_box, zone};

    /// Two squares of 40 mm, 30 mm apart, joined by a strip of `width` mm along z.
    fn dumb_bell(width: f32) -> (Surface, Zone) {
        let skin = flat(60.0, 140.0, 1.0);
        let zone = zone(&skin, |p| {
            let square = |z: f32| inside_box([20.0, 20.0], [p.x, p.z - z]);
            let strip = inside_box([0.5 * width, 40.0], [p.x, p.z]);
            // Distances to the edges of parts of a union are at most those to the edge of the whole.
            square(35.0).max(square(-35.0)).max(strip)
        });
        (skin, zone)
    }

    fn necks_of(skin: &Surface, zone: &Zone) -> Vec<Neck> {
        let distance_mm = &zone.covered.distance_mm;
        let job = Job::silent();
        necks(skin, distance_mm, 4.0, &Core::new(skin, distance_mm, 4.0, &job).unwrap(), &job).unwrap()
    }

    #[test]
    fn a_neck_is_found_with_its_width_and_place() {
        for width in [5.0, 6.0] {
            let (skin, zone) = dumb_bell(width);
            let found = necks_of(&skin, &zone);
            assert_eq!(found.len(), 1, "{found:?}");
            assert!((found[0].width_mm - width).abs() < 1.01, "{found:?} for {width}");
            // The strip is as wide up to where a square is as deep as the strip, 2.5 to 3 mm inside its side.
            let p = skin.mesh().points[found[0].vertex];
            assert!(p.x.abs() < 1.5 && p.z.abs() < 18.5, "{p}");
        }
        let (skin, zone) = dumb_bell(10.0);
        assert_eq!(necks_of(&skin, &zone), []);
    }

    #[test]
    fn a_thin_tail_is_noticed_with_its_place() {
        let skin = flat(60.0, 140.0, 1.0);
        let zone =
            zone(&skin, |p| inside_box([20.0, 20.0], [p.x, p.z + 35.0]).max(inside_box([2.5, 25.0], [p.x, p.z])));
        let notices = check(&skin, &zone, &Design::default(), &Job::silent()).unwrap();
        assert_eq!(notices.len(), 1, "{notices:?}");
        // From the square's side at z = −15 to the strip's end at 25; the core ends up to 4 mm inside that side.
        let length = notices[0].strip_prefix("The zone runs out into a thin tail, about ").unwrap();
        let length: f32 = length.split(' ').next().unwrap().parse().unwrap();
        assert!((length - 40.0).abs() < 4.0, "{notices:?}");
        assert!(notices[0].contains("5 mm wide, that ends near x"), "{notices:?}");
        assert!(notices[0].contains("z 25 mm") || notices[0].contains("z 24 mm"), "{notices:?}");
    }

    /// A strip of 10 mm is 5 mm deep: enough for a wall of 5 mm, and too little for one of 6.
    #[test]
    fn a_wall_too_thick_for_the_zone_is_told_with_the_wall_that_works() {
        let skin = flat(60.0, 140.0, 1.0);
        let zone = zone(&skin, |p| inside_box([5.0, 40.0], [p.x, p.z]));
        let of = |thickness_mm: f32, round_mm: f32| Design {
            thickness_mm,
            rim: Rim { round_mm, ..Rim::default() },
            ..Design::default()
        };
        let said = check(&skin, &zone, &of(6.0, 3.0), &Job::silent()).unwrap_err().to_string();
        assert!(said.contains("5.0 mm in from its edge, less than the wall is thick (thickness_mm)"), "{said}");
        assert!(said.contains("Grow the zone by at least 1.0 mm"), "{said}");
        assert!(said.contains("wall at most 5 mm thick and round the rim by at most 2.5 mm"), "{said}");
        assert_eq!(check(&skin, &zone, &of(5.0, 2.5), &Job::silent()).unwrap(), Vec::<String>::new());
        let said = check(&skin, &zone, &of(6.0, 1.2), &Job::silent()).unwrap_err().to_string();
        assert!(said.contains("at most 5 mm thick.") && !said.contains("round the rim"), "{said}");
    }

    #[test]
    fn a_narrow_neck_is_refused_and_a_tight_one_noticed() {
        let (skin, zone) = dumb_bell(3.0);
        let said = check(&skin, &zone, &Design::default(), &Job::silent()).unwrap_err().to_string();
        assert!(said.contains("zone: two parts of the zone are joined by a neck about"), "{said}");
        let (skin, zone) = dumb_bell(7.0);
        let notices = check(&skin, &zone, &Design::default(), &Job::silent()).unwrap();
        assert!(notices.len() == 1 && notices[0].contains("narrows to about"), "{notices:?}");
        let (skin, zone) = dumb_bell(10.0);
        assert_eq!(check(&skin, &zone, &Design::default(), &Job::silent()).unwrap(), Vec::<String>::new());
    }
}
