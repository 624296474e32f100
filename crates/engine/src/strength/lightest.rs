//! The lightest guard that holds: wall, ribs and vents of least weight that meet what is asked of them.

use std::path::Path;
use std::time::Instant;

use locker::{DesignFile, StrengthSettings};
use mechanics::answer::Answer;
use mechanics::mid_surface::Fineness;
use mechanics::ready::{AnswerError, End, Ready};
use mechanics::strength::Plastic;
use mechanics::worn::Built;
use mechanics::{Material, Materials};
use mesh::{Job, Surface};
use serde::Serialize;
use shell::{Design, FittingKind, MarkKind, RibLayout, Ribs, Vents, limits};
use zone::Zone;

use super::{Chosen, GuardWall, StrengthError};
use crate::{EngineError, open};

/// What a guard has to hold to; what is left out does not matter.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Targets {
    /// The greatest pressure on the skin, kPa, at most.
    pub peak_kpa: Option<f64>,
    /// The dent at most, mm.
    pub dent_mm: Option<f64>,
    /// What it gives under a hand at most, mm.
    pub push_mm: Option<f64>,
    /// Times to spare, at least.
    pub spare: Option<f64>,
    /// The moment that bends it by a degree, at least, N·m.
    pub bending_n_m_per_deg: Option<f64>,
    /// How long it may be sought, s; [`USUAL_SECONDS`] where left out.
    pub seconds: Option<f64>,
}

/// How long the lightest guard is sought if nothing else is said, s.
pub const USUAL_SECONDS: f64 = 50.0;

/// One guard that was tried.
#[derive(Debug, Clone, Serialize)]
pub struct Trial {
    /// What its ribs and vents are, in words.
    pub what: String,
    /// Its wall, mm.
    pub wall_mm: f32,
    /// Its weight, g.
    pub grams: f64,
    /// By how much it misses the target that it meets worst: it holds where that is no more than 1.
    pub worst: f64,
    /// Which target that is.
    pub tightest: &'static str,
    /// The design.
    #[serde(skip)]
    pub design: Design,
    /// What it comes to; of a coarse wall but for the best in the end.
    pub answer: Answer,
}

/// What the search came to.
#[derive(Debug, Clone, Serialize)]
pub struct Lightest {
    /// The lightest guard that holds; nothing where none was found.
    pub best: Option<Trial>,
    /// All that were tried, in order.
    pub trace: Vec<Trial>,
    /// What was given up for it, a sentence each.
    pub gave_up: Vec<String>,
    /// Whether it was ended before it was through.
    pub is_cut_short: bool,
    /// How long it took, s.
    pub seconds: f64,
}

/// Walls that are tried, mm.
const WALLS_MM: [f32; 2] = [1.6, 6.0];
/// Walls differ by whole steps of this, mm.
const STEP_MM: f32 = 0.1;
/// Patterns are told apart on a coarse wall.
const COARSE: Fineness = Fineness { side_mm: 7.0, rim_side_mm: 4.5, opening_side_mm: 2.4, least_outline_mm: 8.0 };
/// It is near enough to its target, mm of wall.
const NEAR_MM: f32 = 0.15;
/// Walls tried of one pattern at most.
const MOST_WALLS: usize = 4;
/// Walls looked at closely at most.
const MOST_LOOKS: usize = 8;
/// How the worst ratio falls with the wall where only one wall is known: a plate's stress with its square, what reaches the skin
/// with less.
const USUAL_POWER: f64 = 1.3;

impl Targets {
    /// How far an answer is from the target that it meets worst, and which that is.
    fn worst(&self, answer: &Answer) -> (f64, &'static str) {
        let most = |found: f64, wanted: Option<f64>| wanted.map(|wanted| found / wanted);
        let least = |found: f64, wanted: Option<f64>| wanted.map(|wanted| wanted / found.max(1e-9));
        let all = [
            ("pressure on the skin", most(answer.peak_kpa.value, self.peak_kpa)),
            ("dent", most(answer.dent_mm.value, self.dent_mm)),
            ("give under a hand", most(answer.push_mm.value, self.push_mm)),
            ("times to spare", least(answer.spare.value, self.spare)),
            ("stiffness as a splint", least(answer.bending_n_m_per_deg.value, self.bending_n_m_per_deg)),
        ];
        let told = all.into_iter().filter_map(|(name, ratio)| Some((ratio?, name)));
        told.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, "nothing"))
    }

    /// Whether nothing is asked.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        Self { seconds: None, ..*self } == Self::default()
    }
}

/// Ribs and vents that are tried with several walls.
struct Pattern {
    what: String,
    design: Design,
    /// Walls, mm, with their worst ratio and weight.
    tried: Vec<(f32, f64, f64)>,
    /// Why it cannot be made.
    refused: Option<String>,
}

/// Seeks the lightest guard of a design that lies in `folder` in the filament that it is to be printed in. Where it is cancelled
/// once something was found, the best so far is given; `watch` is told of each trial.
///
/// # Errors
/// As for [`crate::strength`]; [`StrengthError::NoTargets`].
pub fn lightest(
    design: &DesignFile,
    folder: &Path,
    settings: &StrengthSettings,
    targets: &Targets,
    materials: &Materials,
    watch: &(dyn Fn(&Trial) + Sync),
    job: &Job,
) -> Result<Lightest, EngineError> {
    if targets.is_empty() {
        return Err(StrengthError::NoTargets.into());
    }
    let chosen = Chosen::new(design, settings)?;
    let opened = open(design, folder, &job.part(0.0, 0.05))?;
    lightest_on((&opened.skin, &opened.zone), design, &chosen, targets, materials, watch, job)
}

/// The same for a design whose limb and zone are there.
///
/// # Errors
/// As for [`lightest`].
pub fn lightest_on(
    (skin, zone): (&Surface, &Zone),
    design: &DesignFile,
    chosen: &Chosen,
    targets: &Targets,
    materials: &Materials,
    watch: &(dyn Fn(&Trial) + Sync),
    job: &Job,
) -> Result<Lightest, EngineError> {
    if targets.is_empty() {
        return Err(StrengthError::NoTargets.into());
    }
    let material = material_of(design, materials).ok_or(StrengthError::NoTargets)?;
    let search = Search { skin, zone, chosen, targets, material, watch, job, start: Instant::now() };
    search.run(&design.shell)
}

/// The filament of a design.
fn material_of<'m>(design: &DesignFile, materials: &'m Materials) -> Option<&'m Material> {
    let of_family = || materials.materials.iter().filter(|m| m.family == design.material);
    of_family().find(|m| Some(&m.name) == design.filament.as_ref()).or_else(|| of_family().next())
}

struct Search<'a> {
    skin: &'a Surface,
    zone: &'a Zone,
    chosen: &'a Chosen,
    targets: &'a Targets,
    material: &'a Material,
    watch: &'a (dyn Fn(&Trial) + Sync),
    job: &'a Job,
    start: Instant,
}

impl Search<'_> {
    fn run(&self, design: &Design) -> Result<Lightest, EngineError> {
        let mut patterns = patterns(design);
        let mut trace: Vec<Trial> = Vec::new();
        let mut is_cut_short = false;
        let first = design.thickness_mm.clamp(least_wall_mm(design), WALLS_MM[1]);
        let all: Vec<usize> = (0..patterns.len()).collect();
        // Each pattern once at the wall that it has now, two at a time; then always the one that promises most.
        let mut next: Vec<(usize, f32)> = all.iter().map(|n| (*n, first)).collect();
        let whole = patterns.len() * MOST_WALLS;
        while !next.is_empty() {
            for pair in next.chunks(2) {
                let share = 0.05 + 0.85 * (trace.len() as f32 / whole as f32).min(1.0);
                let stopped = self.job.step("trying walls, ribs and vents", share).is_err();
                if stopped || self.is_late() {
                    is_cut_short = true;
                    break;
                }
                for (n, found) in self.tried(pair, &patterns) {
                    match found {
                        Ok(trial) => {
                            patterns[n].tried.push((trial.wall_mm, trial.worst, trial.grams));
                            (self.watch)(&trial);
                            trace.push(trial);
                        }
                        Err(error) if error.fault() == crate::Fault::Cancelled => is_cut_short = true,
                        Err(error) => patterns[n].refused = Some(error.to_string()),
                    }
                }
            }
            if is_cut_short {
                break;
            }
            let least = lightest_of(&trace).map_or(f64::INFINITY, |trial| trial.grams);
            let mut open: Vec<(usize, f32, f64)> = all
                .iter()
                .filter_map(|n| patterns[*n].promise(least_wall_mm(design)).map(|(wall, grams)| (*n, wall, grams)))
                .filter(|(.., grams)| *grams < least)
                .collect();
            open.sort_by(|a, b| a.2.total_cmp(&b.2));
            next = open.into_iter().take(2).map(|(n, wall, _)| (n, wall)).collect();
        }
        if lightest_of(&trace).is_none() {
            self.job.check()?;
        }
        let best = self.confirmed(&mut trace, &mut is_cut_short)?;
        let gave_up = self.gave_up(best.as_ref(), design, &patterns, &trace);
        Ok(Lightest { best, trace, gave_up, is_cut_short, seconds: self.start.elapsed().as_secs_f64() })
    }

    fn is_late(&self) -> bool {
        self.start.elapsed().as_secs_f64() > self.targets.seconds.unwrap_or(USUAL_SECONDS)
    }

    /// Tries one or two walls side by side.
    fn tried(&self, pair: &[(usize, f32)], patterns: &[Pattern]) -> Vec<(usize, Result<Trial, EngineError>)> {
        std::thread::scope(|scope| {
            let started: Vec<_> = pair
                .iter()
                .map(|(n, wall)| {
                    let pattern = &patterns[*n];
                    (*n, scope.spawn(move || self.trial(&with_wall(&pattern.design, *wall), &pattern.what, &COARSE)))
                })
                .collect();
            let nowhere = || Err(StrengthError::from(AnswerError::Nowhere).into());
            started.into_iter().map(|(n, thread)| (n, thread.join().unwrap_or_else(|_| nowhere()))).collect()
        })
    }

    fn trial(&self, design: &Design, what: &str, fineness: &Fineness) -> Result<Trial, EngineError> {
        let silent = self.job.quiet();
        let wall = GuardWall::laid_out(self.skin, self.zone, design, fineness, &silent)?;
        let answer = self.answer(&wall, &silent)?;
        let (worst, tightest) = self.targets.worst(&answer);
        Ok(Trial {
            what: what.to_owned(),
            wall_mm: design.thickness_mm,
            grams: wall.middle.volume_mm3() / 1000.0 * self.material.density_g_per_cm3.value,
            worst,
            tightest,
            design: design.clone(),
            answer,
        })
    }

    fn answer(&self, wall: &GuardWall, job: &Job) -> Result<Answer, StrengthError> {
        let Material { modulus_mpa, poisson_ratio, .. } = self.material;
        let plastic = Plastic { young_mpa: modulus_mpa.value, poisson: poisson_ratio.value };
        let built = Built::new(&wall.middle, plastic).map_err(AnswerError::from)?;
        let ready = Ready::new(&built, &self.chosen.setting(wall), self.material, End::Usual, job)?;
        let struck = ready.struck(&self.chosen.aimed(wall)?, job)?;
        Ok(Answer::of(self.material, &struck, &[]))
    }

    /// The lightest on walls as fine as strength is told on: the lightest of the coarse ones is looked at, and made thicker and put
    /// back among the others where it misses.
    fn confirmed(&self, trace: &mut Vec<Trial>, is_cut_short: &mut bool) -> Result<Option<Trial>, EngineError> {
        let mut waiting: Vec<Trial> = Vec::new();
        for trial in trace.iter().filter(|trial| trial.worst <= 1.0) {
            match waiting.iter_mut().find(|other| other.what == trial.what) {
                Some(other) if trial.grams < other.grams => *other = trial.clone(),
                Some(_) => {}
                None => waiting.push(trial.clone()),
            }
        }
        let mut looked_at = 0;
        while let Some(n) = (0..waiting.len()).min_by(|a, b| waiting[*a].grams.total_cmp(&waiting[*b].grams)) {
            let coarse = waiting.swap_remove(n);
            let stopped = self.job.step("looking at the lightest closely", 0.92).is_err();
            if stopped || looked_at == MOST_LOOKS || self.is_late() {
                *is_cut_short = true;
                return Ok(Some(coarse));
            }
            let fine = match self.trial(&coarse.design, &coarse.what, &Fineness::default()) {
                Err(error) if error.fault() == crate::Fault::Cancelled => {
                    *is_cut_short = true;
                    return Ok(Some(coarse));
                }
                found => found?,
            };
            looked_at += 1;
            (self.watch)(&fine);
            trace.push(fine.clone());
            if fine.worst <= 1.0 {
                return Ok(Some(fine));
            }
            let wall = up(fine.wall_mm * fine.worst.powf(1.0 / USUAL_POWER) as f32).max(up(fine.wall_mm + STEP_MM));
            if wall <= WALLS_MM[1] {
                let grams = fine.grams * f64::from(wall / fine.wall_mm);
                waiting.push(Trial { design: with_wall(&fine.design, wall), grams, wall_mm: wall, ..fine });
            }
        }
        Ok(None)
    }

    /// What the best is without, and what stands in the way of a lighter one.
    fn gave_up(&self, best: Option<&Trial>, before: &Design, patterns: &[Pattern], trace: &[Trial]) -> Vec<String> {
        let Some(best) = best else {
            let near = trace.iter().min_by(|a, b| a.worst.total_cmp(&b.worst));
            return near.map_or_else(Vec::new, |near| {
                vec![format!(
                    "None of {} guards holds; the nearest, {} with a wall of {:.1} mm, misses the target for {} by {:.1} times. \
                     Ask for less, take another filament or thicker foam.",
                    trace.len(),
                    near.what,
                    near.wall_mm,
                    near.tightest,
                    near.worst
                )]
            });
        };
        let mut said = vec![format!("It is nearest to its target for {}.", best.tightest)];
        if best.worst > 1.0 {
            said[0] =
                format!("Looked at closely it misses the target for {} by {:.2} times.", best.tightest, best.worst);
        }
        if before.vents.is_some() && best.design.vents.is_none() {
            said.push("Vents are left out: walls with vents have to be thicker than they save.".to_owned());
        }
        if before.ribs.is_some() && best.design.ribs.is_none() {
            said.push("Ribs are left out: the same weight does more in the wall.".to_owned());
        }
        for pattern in patterns.iter().filter(|pattern| pattern.what != best.what) {
            let holds = pattern.tried.iter().filter(|(_, worst, _)| *worst <= 1.0).map(|(.., grams)| *grams);
            let lightest = holds.fold(f64::INFINITY, f64::min);
            let why = match (&pattern.refused, lightest.is_finite()) {
                (Some(refused), _) => refused.trim_end_matches('.').to_owned(),
                (None, true) => format!("holds only from {lightest:.0} g"),
                (None, false) => "promised no less".to_owned(),
            };
            said.push(format!("{}: {why}.", pattern.what));
        }
        said
    }
}

impl Pattern {
    /// The wall to try next, and what it would weigh; nothing where it is known well enough.
    fn promise(&self, least_wall: f32) -> Option<(f32, f64)> {
        if self.refused.is_some() || self.tried.len() >= MOST_WALLS || self.tried.is_empty() {
            return None;
        }
        let mut tried = self.tried.clone();
        tried.sort_by(|a, b| a.0.total_cmp(&b.0));
        let holds = tried.iter().find(|(_, worst, _)| *worst <= 1.0).copied();
        let fails = tried.iter().rev().find(|(_, worst, _)| *worst > 1.0).copied();
        let wall = match (fails, holds) {
            // Between two walls, where the logarithm of the worst ratio is nothing.
            (Some((thin, over, _)), Some((thick, under, _))) if thick > thin => {
                if thick - thin <= NEAR_MM {
                    return None;
                }
                let share = over.ln() / (over.ln() - under.max(1e-6).ln());
                thin * ((thick / thin).ln() * share as f32).exp()
            }
            (Some((thin, over, _)), _) => thin * over.powf(1.0 / USUAL_POWER) as f32,
            (None, Some((thick, under, _))) => thick * under.max(0.05).powf(1.0 / USUAL_POWER) as f32,
            (None, None) => return None,
        };
        let wall = up(wall).clamp(least_wall, WALLS_MM[1]);
        if tried.iter().any(|(tried, ..)| (tried - wall).abs() < 0.5 * STEP_MM) {
            return None;
        }
        // Weight goes about with the wall.
        let near = tried.iter().min_by(|a, b| (a.0 - wall).abs().total_cmp(&(b.0 - wall).abs()))?;
        Some((wall, near.2 * f64::from(wall / near.0).powf(0.9)))
    }
}

/// The lightest that holds.
fn lightest_of(trace: &[Trial]) -> Option<&Trial> {
    trace.iter().filter(|trial| trial.worst <= 1.0).min_by(|a, b| a.grams.total_cmp(&b.grams))
}

/// Up to the next step of walls.
fn up(wall: f32) -> f32 {
    ((wall / STEP_MM) - 1e-3).ceil() * STEP_MM
}

/// The design with another wall, its rim as round as that allows.
#[must_use]
pub fn with_wall(design: &Design, wall_mm: f32) -> Design {
    let mut made = Design { thickness_mm: wall_mm, ..design.clone() };
    made.rim.round_mm = made.rim.round_mm.min(limits::most_round_mm(&made));
    made
}

/// The least wall that a design's seats and sunk marks allow, mm.
fn least_wall_mm(design: &Design) -> f32 {
    let seats = design.fittings.iter().filter_map(|fitting| match fitting.kind {
        FittingKind::HookAndLoopSeat { depth_mm, .. } => Some(depth_mm),
        _ => None,
    });
    let marks = design.marks.iter().filter(|mark| mark.kind != MarkKind::CutThrough).map(|mark| -mark.relief_mm);
    up(seats.chain(marks).fold(0.0_f32, f32::max) + limits::LEAST_FLOOR_MM).max(WALLS_MM[0])
}

/// Ribs and vents that are tried: those of the design, none, and others.
fn patterns(design: &Design) -> Vec<Pattern> {
    let usual = design.vents.unwrap_or(Vents::USUAL);
    let mut vents = vec![("without vents", None)];
    vents.push(("with its vents", Some(usual)));
    vents.push(("with its vents further apart", Some(Vents { ligament_mm: 1.6 * usual.ligament_mm, ..usual })));
    vents.push(("with its vents smaller to the edge", Some(Vents { grade_percent: 40.0, ..usual })));
    let branching = Ribs { layout: RibLayout::Branching, height_mm: 2.0, width_mm: 4.0, spacing_mm: 26.0 };
    let along = Ribs { layout: RibLayout::Along, height_mm: 2.0, width_mm: 4.0, spacing_mm: 22.0 };
    let mut ribs = vec![("no ribs", None)];
    match design.ribs {
        Some(own) => ribs.push(("its ribs", Some(own))),
        None => ribs.push(("ribs along the limb", Some(along))),
    }
    if design.ribs.is_none_or(|own| own.layout != RibLayout::Branching) {
        ribs.push(("ribs that branch where the load goes", Some(branching)));
    }
    let each = ribs.iter().flat_map(|rib| vents.iter().map(move |vent| (rib, vent)));
    each.map(|((rib_words, ribs), (vent_words, vents))| Pattern {
        what: format!("{rib_words}, {vent_words}"),
        design: Design { ribs: *ribs, vents: *vents, ..design.clone() },
        tried: Vec::new(),
        refused: None,
    })
    .collect()
}
