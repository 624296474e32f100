//! Straps, fittings, numbers and words of a shell: how they begin, come, go and are turned.

use locker::DesignFile;
use nalgebra::Point3;
use scan::BodySite;
use shell::{Design, Fitting, FittingKind, Mark, limits};

use crate::state::shell::{Item, Placing};

/// A new fitting of each kind, with usual sizes that the design allows.
pub fn new_fittings(site: BodySite, design: &Design) -> [FittingKind; 5] {
    let (lace_mm, stitch_mm) = (4.0, 2.0);
    [
        FittingKind::StrapSlot { strap_mm: engine::strap_mm_for(site), opening_mm: limits::USUAL_STRAP_OPENING_MM },
        FittingKind::LaceHoles { count: 4, hole_mm: lace_mm, pitch_mm: 12.0 },
        FittingKind::TieSlot { tie_mm: 6.0, bridge_mm: 6.0 },
        FittingKind::StitchHoles {
            hole_mm: stitch_mm,
            pitch_mm: 8.0,
            inset_mm: (limits::least_stitch_inset_mm(stitch_mm, design) + 0.4).max(4.0),
        },
        FittingKind::HookAndLoopSeat {
            length_mm: 50.0,
            width_mm: 25.0,
            depth_mm: limits::most_sunk_mm(design).clamp(limits::SEAT_DEPTH.least, 0.8),
        },
    ]
}

/// Puts a thing on the skin at a place.
pub fn put(design: &mut Design, placing: &Placing, at_mm: Point3<f32>) -> Item {
    match placing {
        Placing::Fitting(kind) => {
            // A strap runs around the limb, so its slot lies along it.
            let turn_deg = if matches!(kind, FittingKind::StitchHoles { .. }) { 0.0 } else { 90.0 };
            design.fittings.push(Fitting { kind: kind.clone(), at_mm, turn_deg, follows: false });
            Item::Fitting(design.fittings.len() - 1)
        }
        Placing::Mark(text) => {
            design.marks.push(Mark {
                text: text.clone(),
                height_mm: 16.0,
                relief_mm: 0.8,
                at_mm,
                turn_deg: 0.0,
                kind: shell::MarkKind::Relief,
            });
            Item::Mark(design.marks.len() - 1)
        }
    }
}

/// Takes a thing away.
pub fn remove(design: &mut Design, item: Item) {
    match item {
        Item::Fitting(n) if n < design.fittings.len() => {
            design.fittings.remove(n);
        }
        Item::Mark(n) if n < design.marks.len() => {
            design.marks.remove(n);
        }
        Item::Picture(n) if n < design.pictures.len() => {
            design.pictures.remove(n);
        }
        _ => {}
    }
}

/// Lets the user place the slots that the program placed, all of them where they were placed last; for a thing that does
/// not follow it does nothing.
pub fn take_over(design: &mut Design, item: Item, placed: &[(usize, Fitting)]) {
    let Item::Fitting(n) = item else { return };
    if !design.fittings.get(n).is_some_and(Fitting::is_following) {
        return;
    }
    for (number, slot) in placed.iter().filter(|(_, slot)| slot.is_following()) {
        match design.fittings.get_mut(*number) {
            Some(fitting) => fitting.clone_from(slot),
            None => design.fittings.push(slot.clone()),
        }
    }
    design.fittings.iter_mut().for_each(|fitting| fitting.follows = false);
}

/// Place and turn of a thing.
pub fn pose(design: &mut Design, item: Item) -> Option<(&mut Point3<f32>, &mut f32)> {
    match item {
        Item::Fitting(n) => design.fittings.get_mut(n).map(|f| (&mut f.at_mm, &mut f.turn_deg)),
        Item::Mark(n) => design.marks.get_mut(n).map(|m| (&mut m.at_mm, &mut m.turn_deg)),
        Item::Picture(n) => design.pictures.get_mut(n).map(|p| (&mut p.at_mm, &mut p.turn_deg)),
    }
}

/// The thing after the chosen one: fittings first, then numbers and words, then pictures, then none.
pub fn next(design: &DesignFile, chosen: Option<Item>) -> Option<Item> {
    let fittings = (0..design.shell.fittings.len()).map(Item::Fitting);
    let marks = (0..design.shell.marks.len()).map(Item::Mark);
    let mut all = fittings.chain(marks).chain((0..design.shell.pictures.len()).map(Item::Picture));
    match chosen {
        None => all.next(),
        Some(now) => all.skip_while(|item| *item != now).nth(1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn new_things_are_allowed_on_every_start_and_can_be_taken_away() {
        let sites = [BodySite::Wrist, BodySite::Shin, BodySite::Thigh, BodySite::Other];
        for site in sites {
            for thickness_mm in [1.2, 3.0, 6.0] {
                let mut design = Design { thickness_mm, ..engine::shell_for(site) };
                design.rim.round_mm = 0.5 * thickness_mm;
                for kind in new_fittings(site, &design) {
                    put(&mut design, &Placing::Fitting(kind), Point3::origin());
                }
                let mark = put(&mut design, &Placing::Mark("23".into()), Point3::origin());
                assert_eq!(design.check(), Ok(()), "{site:?} {thickness_mm}");
                assert_eq!((design.fittings.len(), mark), (5, Item::Mark(0)));
                pose(&mut design, Item::Fitting(2)).map(|(_, turn)| *turn = 30.0).unwrap();
                remove(&mut design, Item::Fitting(1));
                assert_eq!((design.fittings.len(), design.fittings[1].turn_deg), (4, 30.0));
                remove(&mut design, Item::Fitting(9));
                assert_eq!(design.fittings.len(), 4);
            }
        }
    }

    #[test]
    fn slots_that_follow_are_the_users_where_they_were_placed_once_one_is_moved() {
        let slot = |x: f32, follows| Fitting {
            kind: FittingKind::StrapSlot { strap_mm: 25.0, opening_mm: 4.0 },
            at_mm: Point3::new(x, 0.0, 0.0),
            turn_deg: 90.0,
            follows,
        };
        let mut design =
            Design { fittings: vec![slot(1.0, true), slot(2.0, false), slot(3.0, true)], ..Design::default() };
        let placed = [(0, slot(10.0, true)), (1, slot(2.0, false)), (2, slot(30.0, true)), (3, slot(40.0, true))];
        take_over(&mut design, Item::Fitting(1), &placed);
        assert!(design.fittings[0].follows, "the one that was moved does not follow");
        take_over(&mut design, Item::Fitting(0), &placed);
        let places: Vec<f32> = design.fittings.iter().map(|f| f.at_mm.x).collect();
        assert_eq!(places, [10.0, 2.0, 30.0, 40.0]);
        assert!(design.fittings.iter().all(|f| !f.follows));
    }
}
