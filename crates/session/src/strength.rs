//! What a blow does to the guard, worked out while it is looked at.

use std::sync::Arc;

use engine::{
    Chosen, EngineError, GuardWall, LimbOnAxes, MapValues, ReadyGuard, StrengthMap, StrengthReport, StruckGuard,
    WallSurface, strength_report,
};
use locker::{DesignFile, StrengthSettings};
use mechanics::Materials;
use mechanics::mid_surface::Fineness;
use mechanics::ready::End;
use scan::BodySite;
use shell::{Design, Shell};
use zone::Zone;

use crate::derived_value::{Background, DerivedValue};
use crate::{IfRunning, Problem, Progress};

/// What a wall is cut from: serial of the zone, and settings.
pub type WallKey = (u64, Design);

/// What a guard lies on and is made of: serial of the wall, settings without the blow and its place, site and the bits of the gap.
pub type ReadyKey = (u64, StrengthSettings, BodySite, u32, Arc<Materials>);

/// What strikes it: serial of the guard that is ready, and all settings.
pub type StruckKey = (u64, StrengthSettings);

/// What another wall is weighed by: serial of the zone, design with that wall, settings, materials.
pub type TriedKey = (u64, Design, StrengthSettings, Arc<Materials>);

/// What a map is of: serials of the guard that was struck and of its shell, what it shows, and the place of the filament.
pub type MapKey = (u64, u64, StrengthMap, usize);

/// A guard that was struck, with all that is known of it.
#[derive(Debug)]
pub struct GuardStruck {
    /// In figures.
    pub report: StrengthReport,
    /// In each filament, with maps.
    pub struck: StruckGuard,
    /// Its wall.
    pub wall: Arc<GuardWall>,
}

/// A map of what a blow does, drawn.
#[derive(Debug, PartialEq)]
pub struct DrawnMap {
    /// Its values.
    pub values: MapValues,
    /// The shell that it is drawn on.
    pub shell: Arc<Shell>,
}

/// What follows from the document about the strength of its guard, while it is looked at.
#[derive(Debug, Default)]
pub struct Strength {
    /// Its wall, cut into triangles.
    pub wall: DerivedValue<WallKey, GuardWall>,
    /// The guard on its liner and the limb.
    pub ready: DerivedValue<ReadyKey, ReadyGuard>,
    /// What the blow does to it with the usual values.
    pub struck: DerivedValue<StruckKey, GuardStruck>,
    /// The same with how far the data leave it open.
    pub ranged: DerivedValue<StruckKey, StrengthReport>,
    /// What it would do to another wall that is being weighed.
    pub tried: DerivedValue<TriedKey, StrengthReport>,
    /// Its wall as a surface on which places are looked up, by the wall's serial.
    pub surface: DerivedValue<u64, WallSurface>,
    /// What is shown on guard and skin, and the shell that it is shown on.
    pub map: DerivedValue<MapKey, DrawnMap>,
    /// The map that is looked at.
    pub(crate) map_wanted: Option<StrengthMap>,
    /// The filaments, while strength is looked at.
    pub(crate) wanted: Option<Arc<Materials>>,
    /// Another wall that is weighed, mm.
    pub(crate) other_wall_mm: Option<f32>,
}

/// What it is worked out from.
pub(crate) struct On<'a> {
    pub limb: &'a Arc<LimbOnAxes>,
    pub zone: &'a Arc<Zone>,
    pub zone_serial: u64,
    /// A shell of just this design.
    pub shell: &'a Arc<Shell>,
    pub shell_serial: u64,
    pub design: &'a DesignFile,
}

impl Strength {
    pub(crate) fn poll(&mut self) -> bool {
        self.wall.poll("cutting the wall into triangles")
            | self.ready.poll("putting the guard on")
            | self.struck.poll("striking the guard")
            | self.ranged.poll("telling how far the data leave it open")
            | self.tried.poll("weighing another wall")
            | self.surface.poll("cutting the wall into triangles")
            | self.map.poll("drawing the map")
    }

    /// Asks for what is not there yet.
    pub(crate) fn follow(&mut self, on: &On<'_>) {
        let Some(materials) = self.wanted.clone() else { return };
        let design = on.design;
        self.wall.want(
            |(zone, shell)| *zone == on.zone_serial && *shell == design.shell,
            IfRunning::Replace,
            || {
                let (limb, zone, shell, of) =
                    (Arc::clone(on.limb), Arc::clone(on.zone), Arc::clone(on.shell), design.shell.clone());
                let work = move |job: &mesh::Job| {
                    Ok(GuardWall::new(&limb.skin, &zone, &of, &shell.layout, &Fineness::default(), job)?)
                };
                ((on.zone_serial, design.shell.clone()), work)
            },
        );
        self.follow_tried(on, &materials);
        let Some(wall) = self.wall_now(on).cloned() else { return };
        let wall_serial = self.wall.serial();
        self.surface.want(
            |of| *of == wall_serial,
            IfRunning::Replace,
            || {
                let wall = Arc::clone(&wall);
                (wall_serial, move |_: &mesh::Job| Ok(WallSurface::new(&wall)))
            },
        );
        let key = ready_key(self.wall.serial(), design, &materials);
        self.ready.want(
            |of| *of == key,
            IfRunning::Replace,
            || {
                let (design, materials) = (design.clone(), Arc::clone(&materials));
                let work = move |job: &mesh::Job| {
                    let chosen = Chosen::new(&design, &design.strength)?;
                    Ok(ReadyGuard::new(&wall, &chosen, &materials, End::Usual, job)?)
                };
                (key.clone(), work)
            },
        );
        let Some(ready) = self.ready.current(|of| *of == key).cloned() else { return };
        self.follow_blow(on, &ready, &materials);
    }

    fn follow_blow(&mut self, on: &On<'_>, ready: &Arc<ReadyGuard>, materials: &Arc<Materials>) {
        let design = on.design;
        let key = (self.ready.serial(), design.strength.clone());
        let begin = || (Arc::clone(on.limb), Arc::clone(ready), design.clone(), Arc::clone(materials));
        self.struck.want(
            |of| *of == key,
            IfRunning::Replace,
            || {
                let (limb, ready, design, materials) = begin();
                let work = move |job: &mesh::Job| {
                    let chosen = Chosen::new(&design, &design.strength)?;
                    let struck = ready.struck(&limb.skin, &chosen, job)?;
                    let report = strength_report(&design, &chosen, &ready.wall, &struck, &[], &materials);
                    Ok(GuardStruck { report, struck, wall: Arc::clone(&ready.wall) })
                };
                (key.clone(), work)
            },
        );
        let Some(usual) = self.struck.current(|of| *of == key).cloned() else { return };
        self.follow_map(on, &usual);
        self.ranged.want(
            |of| *of == key,
            IfRunning::Replace,
            || {
                let (limb, ready, design, materials) = begin();
                let work = move |job: &mesh::Job| {
                    let chosen = Chosen::new(&design, &design.strength)?;
                    let end = |end: End, job: &mesh::Job| -> Result<StruckGuard, EngineError> {
                        ReadyGuard::new(&ready.wall, &chosen, &materials, end, &job.part(0.0, 0.5))?.struck(
                            &limb.skin,
                            &chosen,
                            &job.part(0.5, 1.0),
                        )
                    };
                    let ends = [end(End::Softest, &job.part(0.0, 0.5))?, end(End::Stiffest, &job.part(0.5, 1.0))?];
                    let ends = [&ends[0], &ends[1]];
                    Ok(strength_report(&design, &chosen, &ready.wall, &usual.struck, &ends, &materials))
                };
                (key.clone(), work)
            },
        );
    }

    /// The map that is looked at, in the filament of the design.
    fn follow_map(&mut self, on: &On<'_>, usual: &Arc<GuardStruck>) {
        let wall = self.wall.serial();
        let surface = self.surface.current(|of| *of == wall).cloned();
        let (Some(map), Some(surface)) = (self.map_wanted, surface) else { return };
        let design = on.design;
        let Some(row) = usual.report.place(design.material, design.filament.as_deref()) else { return };
        let key = (self.struck.serial(), on.shell_serial, map, row);
        self.map.want(
            |of| *of == key,
            IfRunning::Replace,
            || {
                let (limb, zone, shell, usual) =
                    (Arc::clone(on.limb), Arc::clone(on.zone), Arc::clone(on.shell), Arc::clone(usual));
                let reach_mm = design.shell.gap_mm + design.shell.thickness_mm;
                let work = move |job: &mesh::Job| {
                    let maps = usual.struck.maps();
                    let maps = maps.get(row).ok_or_else(|| Problem::broken("drawing the map"))?;
                    let under = (&limb.skin, &*zone, reach_mm);
                    let values = surface.values(map, maps, &shell.mesh, under, job).map_err(EngineError::from)?;
                    Ok(DrawnMap { values, shell })
                };
                (key, work)
            },
        );
    }

    /// The map that is looked at, once it is there, of the guard as it was struck last.
    pub(crate) fn map_now(&self, shell_serial: u64, design: &DesignFile) -> Option<&Arc<DrawnMap>> {
        let report = &self.struck.value()?.report;
        let row = report.place(design.material, design.filament.as_deref())?;
        let key = (self.struck.serial(), shell_serial, self.map_wanted?, row);
        self.map.current(|of| *of == key)
    }

    /// Another wall, while one is weighed.
    fn follow_tried(&mut self, on: &On<'_>, materials: &Arc<Materials>) {
        let Some(mm) = self.other_wall_mm.filter(|mm| *mm != on.design.shell.thickness_mm) else { return };
        // What is on the bench comes first.
        if self
            .ranged
            .current(|(ready, settings)| *ready == self.ready.serial() && *settings == on.design.strength)
            .is_none()
        {
            return;
        }
        let key = (
            on.zone_serial,
            engine::with_wall(&on.design.shell, mm),
            on.design.strength.clone(),
            Arc::clone(materials),
        );
        self.tried.want(
            |of| *of == key,
            IfRunning::Replace,
            || {
                let (limb, zone, materials) = (Arc::clone(on.limb), Arc::clone(on.zone), Arc::clone(materials));
                let design = DesignFile { shell: key.1.clone(), ..on.design.clone() };
                let work = move |job: &mesh::Job| {
                    let chosen = Chosen::new(&design, &design.strength)?;
                    Ok(engine::strength_on(&limb.skin, &zone, &design, &chosen, false, &materials, job)?)
                };
                (key.clone(), work)
            },
        );
    }

    fn wall_now(&self, on: &On<'_>) -> Option<&Arc<GuardWall>> {
        self.wall.current(|(zone, shell)| *zone == on.zone_serial && *shell == on.design.shell)
    }

    /// What strikes the guard and what it lies on as it is shown now: whether all that is shown is of this design.
    pub(crate) fn is_current(&self, zone_serial: u64, design: &DesignFile) -> bool {
        let wall = self.wall.current(|(zone, shell)| *zone == zone_serial && *shell == design.shell).is_some();
        let materials = self.wanted.as_ref();
        let ready = materials.is_some_and(|materials| {
            let key = ready_key(self.wall.serial(), design, materials);
            self.ready.current(|of| *of == key).is_some()
        });
        let struck =
            self.struck.current(|(ready, settings)| *ready == self.ready.serial() && *settings == design.strength);
        wall && ready && struck.is_some()
    }

    /// Why it cannot be told; a requested stop is none.
    #[must_use]
    pub fn problem(&self) -> Option<&Problem> {
        let all = [self.wall.problem(), self.ready.problem(), self.struck.problem(), self.ranged.problem()];
        all.into_iter().flatten().find(|problem| !problem.stopped)
    }

    /// What is being worked on.
    pub(crate) fn progress(&self) -> [Option<Progress>; 6] {
        [
            self.wall.progress(),
            self.ready.progress(),
            self.struck.progress(),
            self.ranged.progress(),
            self.tried.progress(),
            self.map.progress(),
        ]
    }

    pub(crate) fn all(&mut self) -> [&mut dyn Background; 7] {
        [
            &mut self.wall,
            &mut self.ready,
            &mut self.struck,
            &mut self.ranged,
            &mut self.tried,
            &mut self.surface,
            &mut self.map,
        ]
    }
}

fn ready_key(wall: u64, design: &DesignFile, materials: &Arc<Materials>) -> ReadyKey {
    let lies_on = StrengthSettings { blow: None, at_mm: None, ..design.strength.clone() };
    (wall, lies_on, design.site, design.shell.gap_mm.to_bits(), Arc::clone(materials))
}
