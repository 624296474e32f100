//! A guard as it is worn: on its liner, on the limb, held by its straps; pushed and struck.

use std::sync::Arc;

use mesh::Job;
use nalgebra::{Matrix3, Point3, Vector3, Vector6};

use crate::blow::{BlowError, met};
use crate::contact::{AtRest, BALANCED, Bed, ContactError, Laid, Rest};
use crate::elements::{Assembly, SolveError, Spring, Structure};
use crate::foam::{FoamCurve, Layers, Tissue};
use crate::mid_surface::MidSurface;
use crate::strength::Plastic;
use crate::striker::{Blow, Line};

/// The foam that a guard is lined with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liner {
    /// How it gives.
    pub foam: FoamCurve,
    /// Its thickness, mm.
    pub thickness_mm: f64,
}

/// One end of a strap: where it pulls at the guard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StrapEnd {
    /// The middle of its slot, on the skin, mm.
    pub at_mm: Point3<f64>,
    /// The way in which it leaves the guard, a unit vector.
    pub way: Vector3<f64>,
    /// Its width, mm.
    pub width_mm: f64,
    /// Pull for each millimetre that it is made longer, N/mm.
    pub newton_per_mm: f64,
    /// What it is tightened to, N.
    pub tension_n: f64,
}

/// What a guard lies on and is held by.
#[derive(Debug, Clone, PartialEq)]
pub struct Under {
    /// The liner.
    pub liner: Liner,
    /// What is under that; nothing where that is as hard as a test rig.
    pub tissue: Option<Tissue>,
    /// The straps.
    pub straps: Vec<StrapEnd>,
}

/// A guard of one plastic, assembled.
#[derive(Debug, Clone)]
pub struct Built {
    /// Its middle surface.
    pub middle: Arc<MidSurface>,
    /// The plastic.
    pub plastic: Plastic,
    /// Both together.
    pub shell: Assembly,
}

impl Built {
    /// Assembles it.
    ///
    /// # Errors
    /// [`SolveError`].
    pub fn new(middle: &Arc<MidSurface>, plastic: Plastic) -> Result<Self, SolveError> {
        let shell = middle.of(plastic.young_mpa, plastic.poisson).assembled(&[])?;
        Ok(Self { middle: Arc::clone(middle), plastic, shell })
    }

    /// The same guard of a plastic with another modulus, MPa, without assembling it again.
    #[must_use]
    pub fn as_stiff(&self, young_mpa: f64) -> Self {
        Self {
            middle: Arc::clone(&self.middle),
            plastic: Plastic { young_mpa, ..self.plastic },
            shell: self.shell.times(young_mpa / self.plastic.young_mpa),
        }
    }

    /// Its shell as elements.
    #[must_use]
    pub fn structure(&self) -> Structure {
        self.middle.of(self.plastic.young_mpa, self.plastic.poisson)
    }
}

/// A guard of one plastic as it is worn.
#[derive(Debug, Clone)]
pub struct Worn {
    built: Built,
    /// What keeps it from sliding.
    springs: Vec<Spring>,
    /// The skin under each node, and after that what straps pull at.
    rests: Vec<Rest>,
    areas: Vec<[f64; 2]>,
    outer_mm: Vec<f64>,
    /// How it lies before anything strikes it.
    before: AtRest,
}

/// Layers resist being sheared with a third of what they resist being pressed with at first: E / 2 (1 + ν) of what keeps its
/// volume.
const SHEARED: f64 = 1.0 / 3.0;
/// A guard that nothing touches yet is held by this share of that as well along its normal, so that it has a place.
const AFLOAT: f64 = 1e-3;
/// A strap takes hold of what is this near to its slot, beside its width, mm.
const SLOT_REACH_MM: f64 = 6.0;

impl Worn {
    /// Lays a guard on what is under it and tightens its straps.
    ///
    /// # Errors
    /// [`ContactError`].
    pub fn new(built: Built, under: &Under, job: &Job) -> Result<Self, ContactError> {
        let middle = &built.middle;
        let Liner { foam, thickness_mm } = under.liner;
        let bed = Bed::Layers(Layers { foam, foam_mm: thickness_mm, under: under.tissue });
        let areas = middle.areas_mm2();
        let slope = SHEARED * bed.pressed(0.0).slope_mpa_per_mm;
        let (mut springs, mut rests) = (Vec::new(), Vec::new());
        for (v, [_, on_skin]) in areas.iter().enumerate() {
            let out = middle.out(v);
            let along = Matrix3::identity() - out * out.transpose() * (1.0 - AFLOAT);
            springs.push(Spring { node: v as u32, stiffness: along * (slope * on_skin) });
            let gap_mm = middle.inner_mm[v] - thickness_mm;
            rests.push(Rest { node: v as u32, out, area_mm2: *on_skin, gap_mm, bed });
        }
        let edges = middle.edges();
        for strap in &under.straps {
            let held = held_by(middle, edges.get(1..).unwrap_or_default(), strap);
            let share = 1.0 / held.len() as f64;
            // Pulled back as the node moves against its way, and from the start by what it is tightened to.
            rests.extend(held.into_iter().map(|node| Rest {
                node,
                out: strap.way,
                area_mm2: share,
                gap_mm: -strap.tension_n / strap.newton_per_mm,
                bed: Bed::Even(strap.newton_per_mm),
            }));
        }
        let outer_mm = middle.outer_mm();
        let laid = Laid { shell: &built.shell, springs: &springs, rests: &rests };
        let unloaded = vec![Vector6::zeros(); middle.points.len()];
        let before = laid.at_rest(&unloaded, None, BALANCED, job)?;
        Ok(Self { built, springs, rests, areas, outer_mm, before })
    }

    /// The guard.
    #[must_use]
    pub fn built(&self) -> &Built {
        &self.built
    }

    /// How it lies before anything strikes it.
    #[must_use]
    pub fn before(&self) -> &AtRest {
        &self.before
    }

    /// The shell on what it lies on.
    #[must_use]
    pub fn laid(&self) -> Laid<'_> {
        Laid { shell: &self.built.shell, springs: &self.springs, rests: &self.rests }
    }

    /// Which share of a force on a round patch so wide around a line each node bears.
    #[must_use]
    pub fn shares(&self, line: &Line, across_mm: f64) -> Vec<f64> {
        let middle = &self.built.middle;
        let near = |v: usize| {
            let to = middle.points[v] - line.through;
            let towards = -middle.out(v).dot(&line.way);
            let aside = (to - line.way.into_inner() * to.dot(&line.way)).norm();
            if aside <= 0.5 * across_mm && towards > 0.0 { self.areas[v][0] * towards } else { 0.0 }
        };
        let all: Vec<f64> = (0..middle.points.len()).map(near).collect();
        let sum: f64 = all.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        all.into_iter().map(|share| share / sum).collect()
    }

    /// What a face that strikes along a line meets.
    #[must_use]
    pub fn met(&self, line: &Line, blow: &Blow) -> Vec<Rest> {
        let (mut found, middle) = (Vec::new(), &self.built.middle);
        for (v, point) in middle.points.iter().enumerate() {
            let out = middle.out(v);
            // Only what is turned towards it.
            let towards = -out.dot(&line.way);
            let Some(after_mm) = line.meets(&blow.face, &(point + out * self.outer_mm[v])) else { continue };
            if towards > 0.0 {
                let thick = (2.0 * self.outer_mm[v]).max(0.5);
                let area = self.areas[v][0] * towards;
                // Its wall through its thickness, and what the striker itself gives.
                let slope = 1.0 / (thick / self.built.plastic.young_mpa + 1.0 / blow.pad_mpa_per_mm);
                found.push(met(v as u32, line.way.into_inner(), area, after_mm, slope));
            }
        }
        found
    }

    /// Area of the skin that rests through each node, mm².
    #[must_use]
    pub fn skin_areas_mm2(&self) -> Vec<f64> {
        self.areas.iter().map(|[_, on_skin]| *on_skin).collect()
    }
}

/// The nodes that a strap pulls at: on the outer side of its slot, or the nearest ones where there is no slot.
fn held_by(middle: &MidSurface, openings: &[Vec<u32>], strap: &StrapEnd) -> Vec<u32> {
    let place = |v: u32| {
        let off = middle.below[v as usize].point.cast::<f64>() - strap.at_mm;
        (off.norm(), off.dot(&strap.way))
    };
    let reach = 0.5 * strap.width_mm + SLOT_REACH_MM;
    let around = |line: &&Vec<u32>| line.iter().all(|v| place(*v).0 < reach);
    let nearest = |line: &&Vec<u32>| line.iter().map(|v| place(*v).0).fold(f64::INFINITY, f64::min);
    let slot = openings.iter().filter(around).min_by(|a, b| nearest(a).total_cmp(&nearest(b)));
    let outer: Vec<u32> =
        slot.map(|line| line.iter().copied().filter(|v| place(*v).1 > 0.0).collect()).unwrap_or_default();
    if !outer.is_empty() {
        return outer;
    }
    let nodes = 0..middle.points.len() as u32;
    let near: Vec<u32> = nodes.clone().filter(|v| place(*v).0 < 0.5 * strap.width_mm).collect();
    if near.is_empty() { nodes.min_by(|a, b| place(*a).0.total_cmp(&place(*b).0)).into_iter().collect() } else { near }
}

impl From<SolveError> for BlowError {
    fn from(error: SolveError) -> Self {
        Self::Contact(error.into())
    }
}
