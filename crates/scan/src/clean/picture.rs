//! The colours of a texture picture.

use mesh::read::ScanFile;
use nalgebra::Isometry3;

use super::Cleaning;
use crate::ScanError;
use crate::report::count;
use crate::scanned::ScannedSurface;

impl Cleaning<'_> {
    /// Gives each point the picture's colour at the nearest place of the file's surface.
    ///
    /// Runs after long edges were split, so that coarse triangles carry the picture's detail; and they are split after
    /// noise was measured, as points put on flat triangles have none.
    pub(super) fn colour_from_picture(&mut self, file: &ScanFile) -> Result<(), ScanError> {
        let Some(picture) = &file.texture else { return Ok(()) };
        self.job.step("laying the picture on the skin", 0.9)?;
        let placement = self.placement(Isometry3::identity(), false);
        let scanned = ScannedSurface::new(&file.mesh, &self.mesh, &placement, self.job)?;
        let points = &self.mesh.points;
        let colours: Vec<Option<[u8; 3]>> = self.job.each_with(points.len(), |seed, v| {
            let hit = scanned.nearest(&placement.scan_from_limb(&points[v].cast()).cast(), seed)?;
            picture.colour_at(hit.triangle as usize, hit.weights)
        })?;
        let bare = colours.iter().filter(|c| c.is_none()).count();
        let own = self.mesh.colours.take();
        let own = |v: usize| own.as_ref().and_then(|c| c.get(v)).copied().unwrap_or([255; 3]);
        self.mesh.colours = Some(colours.into_iter().enumerate().map(|(v, c)| c.unwrap_or_else(|| own(v))).collect());
        let mut text = "The colours of the picture were laid on the points.".to_owned();
        if bare > 0 {
            text.push_str(&format!(" {} where the picture does not reach.", count(bare, "point lies", "points lie")));
        }
        self.say("picture", true, &[("points_without", bare)], text);
        Ok(())
    }
}
