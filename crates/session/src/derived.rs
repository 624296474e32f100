//! All that follows from the document, each made from the one before.

use std::sync::Arc;

use engine::{Cuts, EngineError, LimbOnAxes, LoadedScan, StrengthReport, WeighedLook};
use fit::Clearance;
use locker::DesignFile;
use mechanics::{MaterialTable, Materials};
use scan::pen::PenFinding;
use scan::{BodySite, CleanSettings, Placement, Side};
use shell::{Design, Quality, Shell};
use zone::landmarks::{BonyPoint, bony_points};
use zone::{Extent, Sketch, Zone, ZoneSettings};

use crate::derived_value::{Background, DerivedValue};
use crate::document::Document;
use crate::strength::{DrawnMap, GuardStruck, On, Strength};
use crate::{Problem, Progress};

/// How a new request treats one that is running.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IfRunning {
    /// Stops it.
    Replace,
    /// Lets it finish.
    Finish,
}

/// What the limb is made from: number of the scan, settings, site, and the axes to keep, if any.
pub type LimbKey = (u64, CleanSettings, BodySite, Option<Placement>);
/// What the zone is made from: serial of the limb, and settings.
pub type ZoneKey = (u64, ZoneSettings);
/// What a shell is made from: serial of the zone, settings, cell and tolerance.
pub type ShellKey = (u64, Design, Quality);

/// What the fit is measured on: serials of the limb, the first look and the shell, and whether the shell is the one
/// shown.
pub type FitKey = (u64, u64, u64, bool);

/// What the materials are compared on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShellMeasures {
    /// Volume of the shell, mm³.
    pub volume_mm3: f64,
    /// Area of the covered skin, mm².
    pub area_mm2: f64,
}

/// What follows from the document. Values may belong to an earlier state of it; `zone_now`, `sketch_now`,
/// `clearance_now` and `shell_is_current` tell.
#[derive(Debug, Default)]
pub struct Derived {
    /// The cleaned limb.
    pub limb: DerivedValue<LimbKey, LimbOnAxes>,
    /// The search for a pen line on it, by the limb's serial.
    pub pen: DerivedValue<u64, PenFinding>,
    /// Its bony points, by its serial.
    pub bony: DerivedValue<u64, Vec<BonyPoint>>,
    /// What is marked: ready before the zone, and also where no zone can be made from it.
    pub sketch: DerivedValue<ZoneKey, Sketch>,
    /// The zone.
    pub zone: DerivedValue<ZoneKey, Zone>,
    /// Area and coverage of the zone, by its serial.
    pub extent: DerivedValue<u64, Option<Extent>>,
    /// The first look at the shell.
    pub first_look: DerivedValue<ShellKey, Shell>,
    /// The shell as it would be printed.
    pub shell: DerivedValue<ShellKey, Shell>,
    /// Volume of the best shell and the area of skin under it, by the serials of zone and shells.
    pub measures: DerivedValue<(u64, FitKey), ShellMeasures>,
    /// The gap between skin and the best shell; only while [`crate::Session::look_at_fit`] asks for it.
    pub clearance: DerivedValue<FitKey, Clearance>,
    /// Cuts across limb and shell, keyed by the bits of the plane's height.
    pub cuts: DerivedValue<(FitKey, u32), Cuts>,
    /// Whole looks with their weights, by the serial of the zone and the shell without a look; only while
    /// [`crate::Session::weigh_looks`] asks for them.
    pub looks: DerivedValue<(u64, Design), Vec<WeighedLook>>,
    /// What a blow does to the guard; only while [`crate::Session::look_at_strength`] asks for it.
    pub strength: Strength,
    pub(crate) looks_wanted: bool,
    /// The height of the cutting plane, while the fit is looked at, mm.
    pub(crate) fit_at_mm: Option<f32>,
    /// Counts the scans that were opened.
    pub(crate) scan_number: u64,
}

/// Said where the gap is not measured because the user stopped it.
const MEASURING_STOPPED: &str = "Measuring was stopped. The next change starts it again.";

/// What changed in a round of [`crate::Session::poll`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Changed {
    /// The limb.
    pub limb: bool,
    /// The pen line or the bony points.
    pub pen: bool,
    /// The zone.
    pub zone: bool,
    /// The first look or the fine shell.
    pub shell: bool,
    /// The gap, the cuts or the weights.
    pub fit: bool,
    /// What a blow does.
    pub strength: bool,
}

impl Derived {
    /// Takes finished work.
    pub(crate) fn poll(&mut self) -> Changed {
        Changed {
            limb: self.limb.poll("cleaning"),
            pen: self.pen.poll("the search for a pen line") | self.bony.poll("the search for bony points"),
            zone: self.sketch.poll("showing what is marked")
                | self.zone.poll("drawing the zone")
                | self.extent.poll("measuring the zone"),
            shell: self.first_look.poll("the first look at the shell") | self.shell.poll("making the shell"),
            fit: self.clearance.poll("measuring the gap")
                | self.cuts.poll("cutting across")
                | self.measures.poll("measuring the shell")
                | self.looks.poll("weighing the looks"),
            strength: self.strength.poll(),
        }
    }

    /// Asks for whatever the document does not have yet.
    pub(crate) fn follow(&mut self, document: &Document) {
        let design = document.design();
        let if_running = if document.history.is_live() { IfRunning::Finish } else { IfRunning::Replace };
        let (scan, axes) = (self.scan_number, document.kept_axes);
        let is_limb = |(number, clean, site, on): &LimbKey| {
            *number == scan && *site == design.site && *on == axes && *clean == design.clean
        };
        self.limb.want(is_limb, if_running, || {
            let key = (scan, design.clean.clone(), design.site, axes);
            let (loaded, of) = (Arc::clone(&document.loaded), key.clone());
            (key, move |job: &mesh::Job| make_limb(&loaded, &of, job))
        });

        let Some(limb) = self.limb.current(is_limb) else { return };
        let serial = self.limb.serial();
        self.pen.want(
            |of| *of == serial,
            IfRunning::Replace,
            || {
                let skin = Arc::clone(limb);
                (serial, move |job: &mesh::Job| Ok(engine::pen_line(&skin, job)?))
            },
        );
        // The pen line comes first, as it is waited for.
        if self.pen.current(|of| *of == serial).is_some() {
            self.bony.want(
                |of| *of == serial,
                IfRunning::Replace,
                || {
                    let limb = Arc::clone(limb);
                    let work = move |job: &mesh::Job| {
                        bony_points(&limb.skin, None, job).map_err(|e| EngineError::from(e).into())
                    };
                    (serial, work)
                },
            );
        }

        let is_zone = |(limb, zone): &ZoneKey| *limb == serial && *zone == design.zone;
        let zone_key = || (serial, design.zone.clone());
        if design.zone.sources.is_empty() && design.zone.regions.is_empty() {
            if self.sketch.value().is_some() {
                self.sketch.clear();
            }
        } else {
            self.sketch.want(is_zone, if_running, || {
                let (skin, settings) = (Arc::clone(limb), design.zone.clone());
                let work = move |job: &mesh::Job| {
                    zone::sketch(&skin.skin, &settings, job).map_err(|e| EngineError::from(e).into())
                };
                (zone_key(), work)
            });
        }
        if design.zone.sources.is_empty() {
            if self.zone.value().is_some() {
                self.zone.clear();
                self.extent.clear();
                self.first_look.clear();
                self.shell.clear();
            }
            return;
        }
        self.zone.want(is_zone, if_running, || {
            let (skin, settings) = (Arc::clone(limb), design.zone.clone());
            let work =
                move |job: &mesh::Job| zone::make(&skin.skin, &settings, job).map_err(|e| EngineError::from(e).into());
            (zone_key(), work)
        });
        self.follow_zone(document);
    }

    /// Asks for what follows from the zone, once the zone is up to date.
    fn follow_zone(&mut self, document: &Document) {
        let design = document.design();
        let if_running = if document.history.is_live() { IfRunning::Finish } else { IfRunning::Replace };
        let Some(limb) = self.limb.value().cloned() else { return };
        let Some(zone) = self.zone_now(design).cloned() else { return };
        let serial = self.zone.serial();
        self.extent.want(
            |of| *of == serial,
            IfRunning::Replace,
            || {
                let (skin, of) = (Arc::clone(&limb), Arc::clone(&zone));
                (serial, move |_: &mesh::Job| Ok(of.extent(&skin.skin)))
            },
        );
        let build = |quality: Quality| {
            let (skin, zone, shell) = (Arc::clone(&limb), Arc::clone(&zone), design.shell.clone());
            let work = move |job: &mesh::Job| {
                shell::build(&skin.skin, &zone, &shell, &quality, job).map_err(|e| Problem::from(EngineError::from(e)))
            };
            ((serial, design.shell.clone(), quality), work)
        };
        let is_shell = |key: &ShellKey, quality: Quality| shell_is(key, serial, design, quality);
        self.first_look.want(|key| is_shell(key, Quality::FIRST_LOOK), if_running, || build(Quality::FIRST_LOOK));
        // The fine shell waits until the slider is let go and the first look is made, which fails sooner if it cannot
        // be built.
        if !document.history.is_live() && self.first_look.current(|key| is_shell(key, Quality::FIRST_LOOK)).is_some() {
            let quality = fine(design);
            self.shell.want(|key| is_shell(key, quality), IfRunning::Replace, || build(quality));
        }
        self.follow_looks(design, &limb, &zone);
        self.follow_weight(design);
        self.follow_fit(design);
        self.follow_strength(document, &limb, &zone);
    }

    /// What a blow does, while it is looked at and nothing is being changed.
    fn follow_strength(&mut self, document: &Document, limb: &Arc<LimbOnAxes>, zone: &Arc<Zone>) {
        let (design, zone_serial) = (document.design(), self.zone.serial());
        if document.history.is_live() {
            return;
        }
        let shell = self.shell.current(|key| shell_is(key, zone_serial, design, fine(design))).cloned();
        if let Some(shell) = shell {
            let shell_serial = self.shell.serial();
            self.strength.follow(&On { limb, zone, zone_serial, shell: &shell, shell_serial, design });
        }
    }

    /// What the blow does to the guard of this design, with ranges once those are known.
    #[must_use]
    pub fn strength_now(&self, design: &DesignFile) -> Option<&StrengthReport> {
        let struck = self.struck_now(design)?;
        let ready = self.strength.ready.serial();
        let ranged = self.strength.ranged.current(|(of, settings)| *of == ready && *settings == design.strength);
        Some(ranged.map_or(&struck.report, |report| report))
    }

    /// The guard of this design as it was struck.
    #[must_use]
    pub fn struck_now(&self, design: &DesignFile) -> Option<&Arc<GuardStruck>> {
        let is_current = self.shell_is_current(design) && self.strength.is_current(self.zone.serial(), design);
        self.strength.struck.value().filter(|_| is_current)
    }

    /// The map of strength that is looked at, on the shell of this design, once it is drawn.
    #[must_use]
    pub fn strength_map_now(&self, design: &DesignFile) -> Option<&Arc<DrawnMap>> {
        self.struck_now(design)?;
        self.strength.map_now(self.shell.serial(), design)
    }

    /// What the blow would do to another wall that is weighed, once that is known.
    #[must_use]
    pub fn tried_now(&self, design: &DesignFile) -> Option<&Arc<StrengthReport>> {
        let of = engine::with_wall(&design.shell, self.strength.other_wall_mm?);
        let zone = self.zone.serial();
        self.strength
            .tried
            .current(|(serial, shell, settings, _)| *serial == zone && *shell == of && *settings == design.strength)
    }

    /// The looks, while they are looked at and the shell of this design is made.
    fn follow_looks(&mut self, design: &DesignFile, limb: &Arc<LimbOnAxes>, zone: &Arc<Zone>) {
        if !self.looks_wanted || !self.shell_is_current(design) {
            return;
        }
        let key = (self.zone.serial(), engine::without_look(&design.shell));
        self.looks.want(
            |of| *of == key,
            IfRunning::Replace,
            || {
                let (limb, zone, design) = (Arc::clone(limb), Arc::clone(zone), design.clone());
                let work = move |job: &mesh::Job| Ok(engine::weigh_looks(&design, &limb.skin, &zone, job)?);
                (key.clone(), work)
            },
        );
    }

    /// The looks on this design, once they are weighed.
    #[must_use]
    pub fn looks_now(&self, design: &DesignFile) -> Option<&Arc<Vec<WeighedLook>>> {
        let serial = self.zone.serial();
        self.looks.current(|(zone, shell)| *zone == serial && *shell == engine::without_look(&design.shell))
    }

    /// Volume and area of the best shell.
    fn follow_weight(&mut self, design: &DesignFile) {
        let (Some(limb), Some(zone)) = (self.limb.value().cloned(), self.zone.value().cloned()) else { return };
        let Some(shell) = self.best_shell(design).cloned() else { return };
        let key = (self.zone.serial(), self.fit_key(design));
        self.measures.want(
            |of| *of == key,
            IfRunning::Finish,
            || {
                let work = move |_: &mesh::Job| {
                    Ok(ShellMeasures { volume_mm3: shell.volume_mm3(), area_mm2: zone.covered.area_mm2(&limb.skin) })
                };
                (key, work)
            },
        );
    }

    /// The gap and the cuts, while the fit is looked at.
    fn follow_fit(&mut self, design: &DesignFile) {
        let Some(height_mm) = self.fit_at_mm else { return };
        let (Some(limb), Some(shell)) = (self.limb.value().cloned(), self.best_shell(design).cloned()) else { return };
        let key = self.fit_key(design);
        let (skin, of) = (Arc::clone(&limb), Arc::clone(&shell));
        self.clearance.want(
            |of| *of == key,
            IfRunning::Replace,
            || (key, move |job: &mesh::Job| Ok(engine::clearance(&skin.skin, &of.mesh, job)?)),
        );
        let cut = (key, height_mm.to_bits());
        // While the plane is dragged each cut may finish, so that something is seen.
        self.cuts.want(
            |of| *of == cut,
            IfRunning::Finish,
            || (cut, move |_: &mesh::Job| Ok(engine::cuts(&limb.skin, &shell.mesh, height_mm)?)),
        );
    }

    fn fit_key(&self, design: &DesignFile) -> FitKey {
        (self.limb.serial(), self.first_look.serial(), self.shell.serial(), self.shell_is_current(design))
    }

    /// The gap under exactly the shell that [`Self::best_shell`] gives.
    #[must_use]
    pub fn clearance_now(&self, design: &DesignFile) -> Option<&Arc<Clearance>> {
        self.clearance.current(|key| *key == self.fit_key(design))
    }

    /// Why the gap under that shell will not come: a sentence if measuring failed or was stopped.
    #[must_use]
    pub fn clearance_given_up(&self, design: &DesignFile) -> Option<&str> {
        let given_up = self.clearance.is_given_up(|key| *key == self.fit_key(design));
        let problem = self.clearance.problem().filter(|problem| !problem.stopped);
        given_up.then(|| problem.map_or(MEASURING_STOPPED, |problem| &problem.sentence))
    }

    /// The limb key of a design.
    pub(crate) fn limb_key(&self, design: &DesignFile, axes: Option<Placement>) -> LimbKey {
        (self.scan_number, design.clean.clone(), design.site, axes)
    }

    /// The zone, if it is up to date with this design.
    #[must_use]
    pub fn zone_now(&self, design: &DesignFile) -> Option<&Arc<Zone>> {
        self.zone.current(|(limb, zone)| *limb == self.limb.serial() && *zone == design.zone)
    }

    /// What is marked, if it is up to date with this design.
    #[must_use]
    pub fn sketch_now(&self, design: &DesignFile) -> Option<&Arc<Sketch>> {
        self.sketch.current(|(limb, zone)| *limb == self.limb.serial() && *zone == design.zone)
    }

    /// The fine shell of this design, else its first look, else the newest first look of other settings.
    #[must_use]
    pub fn best_shell(&self, design: &DesignFile) -> Option<&Arc<Shell>> {
        let serial = self.zone.serial();
        self.shell
            .current(|key| shell_is(key, serial, design, fine(design)))
            .or_else(|| self.first_look.current(|key| shell_is(key, serial, design, Quality::FIRST_LOOK)))
            .or_else(|| self.first_look.value())
    }

    /// The bony points that reach into the zone of this design and lie under no relief of it yet; none while the zone is
    /// not up to date.
    #[must_use]
    pub fn bare_bony_points(&self, design: &DesignFile) -> Vec<BonyPoint> {
        let serial = self.limb.serial();
        let (Some(limb), Some(zone)) = (self.limb.value(), self.zone_now(design)) else { return Vec::new() };
        let found = self.bony.current(|of| *of == serial).map(|all| all.as_slice()).unwrap_or_default();
        let bare =
            |point: &&BonyPoint| point.reaches(&limb.skin, &zone.covered) && !point.is_relieved(&design.zone.regions);
        found.iter().filter(bare).copied().collect()
    }

    /// Whether the fine shell of this design is made.
    #[must_use]
    pub fn shell_is_current(&self, design: &DesignFile) -> bool {
        self.shell.current(|key| shell_is(key, self.zone.serial(), design, fine(design))).is_some()
    }

    /// The problem of the earliest of limb, zone and shell that has one; a requested stop is none.
    #[must_use]
    pub fn problem(&self) -> Option<&Problem> {
        [self.limb.problem(), self.zone.problem(), self.first_look.problem(), self.shell.problem()]
            .into_iter()
            .flatten()
            .find(|p| !p.stopped)
    }

    /// What is being worked on, and how far it is.
    #[must_use]
    pub fn progress(&self) -> Vec<Progress> {
        [
            self.limb.progress(),
            self.pen.progress(),
            self.bony.progress(),
            self.zone.progress(),
            self.extent.progress(),
            self.first_look.progress(),
            self.shell.progress(),
            self.clearance.progress(),
            self.sketch.progress(),
            self.measures.progress(),
            self.cuts.progress(),
            self.looks.progress(),
        ]
        .into_iter()
        .chain(self.strength.progress())
        .flatten()
        .collect()
    }

    /// The materials on the best shell there is.
    #[must_use]
    pub fn materials(&self, design: &DesignFile, materials: &Materials) -> Option<MaterialTable> {
        let ShellMeasures { volume_mm3, area_mm2 } = **self.measures.value()?;
        self.best_shell(design)?;
        Some(mechanics::compare(volume_mm3, area_mm2, materials))
    }

    /// All that is worked out in the background.
    fn all(&mut self) -> impl Iterator<Item = &mut dyn Background> {
        let own: [&mut dyn Background; 12] = [
            &mut self.limb,
            &mut self.pen,
            &mut self.bony,
            &mut self.sketch,
            &mut self.zone,
            &mut self.extent,
            &mut self.first_look,
            &mut self.shell,
            &mut self.measures,
            &mut self.clearance,
            &mut self.cuts,
            &mut self.looks,
        ];
        own.into_iter().chain(self.strength.all())
    }

    pub(crate) fn stop(&mut self) {
        self.all().for_each(Background::cancel);
    }

    /// Lets what was stopped be asked for again, once something has changed.
    pub(crate) fn ask_again(&mut self) {
        self.all().for_each(Background::ask_again);
    }

    pub(crate) fn clear(&mut self) {
        self.all().for_each(Background::clear);
        self.scan_number += 1;
    }
}

/// Whether a key is that of this design's shell on the zone of this serial, at this quality.
fn shell_is((of, shell, at): &ShellKey, zone: u64, design: &DesignFile, quality: Quality) -> bool {
    *of == zone && *at == quality && *shell == design.shell
}

/// The quality that a design is printed at.
fn fine(design: &DesignFile) -> Quality {
    Quality { voxel_mm: design.resolution_mm, tolerance_mm: design.tolerance_mm }
}

fn make_limb(loaded: &LoadedScan, key: &LimbKey, job: &mesh::Job) -> Result<LimbOnAxes, Problem> {
    let (_, clean, site, axes) = key;
    Ok(engine::limb(loaded, *site, Side::Unknown, clean, axes.as_ref(), job)?)
}
