//! Removing what is not the limb: a table or floor, and loose connected components.

use mesh::Adjacency;
use mesh::repair::{self, Component};

use super::Cleaning;
use crate::report::count;
use crate::{ScanError, ScanWarning};

/// A second component with this share of the limb's area is worth a warning.
const RIVAL: f64 = 0.25;

impl Cleaning<'_> {
    pub(super) fn remove_table(&mut self) -> Result<(), ScanError> {
        if !self.settings.remove_table_plane {
            self.say("table", false, &[], "The search for a table is switched off.".into());
            return Ok(());
        }
        self.job.step("looking for a table", 0.25)?;
        let Some(plane) = repair::support_plane(&self.mesh, self.job)? else {
            self.say("table", false, &[], "No table or floor was found.".into());
            return Ok(());
        };
        let keep: Vec<bool> = plane.triangles.iter().map(|on| !on).collect();
        let dropped = keep.iter().filter(|k| !**k).count();
        if dropped == keep.len() {
            return Ok(());
        }
        repair::keep_triangles(&mut self.mesh, &keep);
        if self.settings.mend {
            repair::make_manifold(&mut self.mesh, self.job)?;
        }
        let text = format!(
            "A table or floor of {:.0} cm² was removed with everything within {:.1} mm of it ({}).",
            plane.area_mm2 / 100.0,
            plane.height_mm,
            count(dropped, "triangle", "triangles")
        );
        self.say("table", true, &[("triangles", dropped)], text);
        Ok(())
    }

    pub(super) fn drop_components(&mut self) -> Result<(), ScanError> {
        if !self.settings.drop_small_pieces {
            self.say("pieces", false, &[], "All pieces were kept, as asked.".into());
            return Ok(());
        }
        self.job.step("dropping loose pieces", 0.3)?;
        let components = repair::components(&self.mesh, &Adjacency::build(&self.mesh, self.job)?, self.job)?;
        let limb = components.iter().position(|c| !c.is_flat()).unwrap_or(0);
        let Some(kept) = components.get(limb) else { return Err(ScanError::NoSurface { triangles: 0 }) };
        let (others, area) = (components.len() - 1, kept.area_mm2);
        let flat = limb;
        let is_rival = |(i, c): &(usize, &Component)| *i != limb && !c.is_flat() && c.area_mm2 > RIVAL * area;
        if let Some((_, rival)) = components.iter().enumerate().find(is_rival) {
            let at = self.report.unit.unit.said_place(&self.in_scan(&rival.middle));
            self.report.warnings.push(ScanWarning::SecondComponent { area_cm2: rival.area_mm2 / 100.0, at });
        }
        let triangles = self.mesh.triangles.len() - kept.triangles.len();
        if others > 0 {
            let mut keep = vec![false; self.mesh.triangles.len()];
            for t in &kept.triangles {
                keep[*t as usize] = true;
            }
            repair::keep_triangles(&mut self.mesh, &keep);
        }
        let mut text = format!(
            "{} dropped ({triangles} triangles); the largest curved one, {:.0} cm², is the limb.",
            count(others, "loose piece was", "loose pieces were"),
            area / 100.0
        );
        if flat > 0 {
            text.push_str(&format!(" {} larger but flat.", count(flat, "of them was", "of them were")));
        }
        self.say("pieces", others > 0, &[("pieces", others), ("triangles", triangles)], text);
        Ok(())
    }
}
