//! The commands of the material step: which filament, which wall, what strikes it and where, the lightest guard that holds, the
//! user's own filament.

use engine::StrengthMap;
use mechanics::{Family, Material};
use nalgebra::Point3;

use crate::actions::Action;
use crate::state::{Bench, View};

/// The kinds of filament, the stiffest first.
const FAMILIES: [Family; 3] = [Family::Rigid, Family::SemiRigid, Family::Flexible];

/// Does what a key or button of this step asks for.
pub fn perform(action: Action, bench: &mut Bench, view: &mut View) {
    match action {
        Action::OwnFilament => {
            view.material.own.get_or_insert_default();
            return;
        }
        Action::KeepFilament => return keep_own(bench, view),
        Action::DropFilament => {
            view.material.own = None;
            return;
        }
        Action::NextMap => {
            let after = view.material.map.and_then(|map| StrengthMap::ALL.iter().skip_while(|one| **one != map).nth(1));
            view.material.map = if view.material.map.is_none() { Some(StrengthMap::Stress) } else { after.copied() };
            return;
        }
        Action::SeekLightest => return seek(bench, view),
        _ => {}
    }
    let Some(design) = bench.session.design() else { return };
    let wall = design.shell.thickness_mm;
    let weighed = view.material.wall_mm.unwrap_or(wall);
    match action {
        Action::NextMaterial => take_next(bench, 1),
        Action::PreviousMaterial => take_next(bench, -1),
        Action::WeighThicker => view.material.weigh(weighed + 0.2),
        Action::WeighThinner => view.material.weigh(weighed - 0.2),
        Action::TakeWall => {
            if let Some(mm) = view.material.wall_mm.take() {
                bench.session.edit("wall", |design| design.shell = engine::with_wall(&design.shell, mm));
            }
        }
        Action::LeaveWall => view.material.wall_mm = None,
        Action::NextBlow => {
            let names: Vec<String> = view.material.choices.blows.iter().map(|(name, _)| name.clone()).collect();
            let next = next_name(&names, design.strength.blow.as_ref());
            bench.session.edit("blow", |design| design.strength.blow = next);
        }
        Action::NextFoam => {
            let next = next_name(&view.material.choices.foams, design.strength.foam.as_ref());
            bench.session.edit("foam", |design| design.strength.foam = next);
        }
        Action::StrikeMiddle => bench.session.edit("place of the blow", |design| design.strength.at_mm = None),
        Action::TakeLightest => take_lightest(bench),
        _ => {}
    }
}

/// The name after one, wrapping round; the first counts as chosen where nothing is, and is then left out.
fn next_name(names: &[String], now: Option<&String>) -> Option<String> {
    let at = names.iter().position(|name| Some(name) == now).unwrap_or(0);
    let next = (at + 1) % names.len().max(1);
    names.get(next).filter(|_| next > 0).cloned()
}

/// Strikes the guard at a place, mm.
pub fn strike(bench: &mut Bench, at_mm: Point3<f32>) {
    bench.session.edit("place of the blow", |design| design.strength.at_mm = Some(at_mm));
}

/// Seeks the lightest guard that holds to the targets.
fn seek(bench: &mut Bench, view: &View) {
    let targets = view.material.targets.targets();
    if targets.is_empty() {
        bench.say("Say first what the lightest guard has to hold to.", true);
    } else if !bench.session.seeking().is_running() {
        bench.session.seek_lightest(targets);
    }
}

/// Takes the lightest guard that was found into the design.
fn take_lightest(bench: &mut Bench) {
    let Some(design) = bench.session.design() else { return };
    let found = bench.session.seeking().found(&design.shell);
    let Some(best) = found.and_then(|found| found.best.as_ref()).map(|best| best.design.clone()) else {
        bench.say("There is no lightest guard to take: find one first.", true);
        return;
    };
    bench.session.edit("lightest guard", |design| design.shell = best);
}

/// Adds the filament entered in the form, or says there why it cannot.
fn keep_own(bench: &mut Bench, view: &mut View) {
    let Some(own) = &mut view.material.own else { return };
    let known = &bench.session.materials.materials;
    let like = known.iter().find(|m| m.family == own.family).or_else(|| known.first());
    let Some(material) = like.map(|like| own.material(like)) else { return };
    match bench.session.add_material(material) {
        Ok(()) => view.material.own = None,
        Err(problem) => own.refused = Some(problem.sentence),
    }
}

/// All filaments that can be chosen, the stiffest family first; the first of a family is named by the family alone.
pub fn choices(materials: &[Material]) -> Vec<(Family, Option<String>)> {
    let of = |family: Family| {
        let names = materials.iter().filter(move |m| m.family == family).map(|m| m.name.clone());
        names.enumerate().map(move |(i, name)| (family, (i > 0).then_some(name)))
    };
    FAMILIES.into_iter().flat_map(of).collect()
}

/// Chooses a filament.
pub fn take(bench: &mut Bench, (family, filament): (Family, Option<String>)) {
    bench.session.edit("material", |design| (design.material, design.filament) = (family, filament));
}

/// Chooses the filament `by` places after the current one, wrapping round.
fn take_next(bench: &mut Bench, by: isize) {
    let all = choices(&bench.session.materials.materials);
    let Some(design) = bench.session.design() else { return };
    let now = all.iter().position(|(family, name)| (*family, name) == (design.material, &design.filament));
    let known = now.or_else(|| all.iter().position(|(family, _)| *family == design.material)).unwrap_or(0);
    let next = (known as isize + by).rem_euclid(all.len().max(1) as isize) as usize;
    if let Some(next) = all.get(next).cloned() {
        take(bench, next);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use mechanics::Materials;

    #[test]
    fn every_filament_can_be_chosen_and_the_first_of_a_family_goes_by_the_family() {
        let mut all = Materials::built_in();
        let like = all.materials[1].clone();
        all.materials.push(Material { name: "mine".into(), ..like });
        let choices = choices(&all.materials);
        assert_eq!(choices.len(), all.materials.len());
        assert!(FAMILIES.iter().all(|family| choices.contains(&(*family, None))));
        assert!(choices.contains(&(all.materials[1].family, Some("mine".into()))));
    }
}
