//! Welding, and making a manifold surface that faces outward.

use mesh::repair;

use super::Cleaning;
use crate::ScanError;
use crate::report::count;

impl Cleaning<'_> {
    pub(super) fn weld(&mut self) -> Result<(), ScanError> {
        let Some(tolerance) = self.settings.weld_tolerance_mm else {
            self.say("weld", false, &[], "Points were not welded, as asked.".into());
            return Ok(());
        };
        self.job.step("welding", 0.1)?;
        let tolerance = tolerance.min(0.1 * repair::median_edge_mm(&self.mesh));
        let joined = if tolerance > 0.0 { repair::weld(&mut self.mesh, tolerance, self.job)? } else { 0 };
        let text = format!("{} joined that lay nearly in the same place.", count(joined, "point was", "points were"));
        self.say("weld", joined > 0, &[("points", joined)], text);
        Ok(())
    }

    pub(super) fn repair(&mut self) -> Result<(), ScanError> {
        if !self.settings.mend {
            self.say("mend", false, &[], "Faulty triangles were left as they are, as asked.".into());
            return Ok(());
        }
        self.job.step("repairing the surface", 0.15)?;
        self.drop_bad_triangles()?;
        self.make_manifold()?;
        self.face_outward()
    }

    fn drop_bad_triangles(&mut self) -> Result<(), ScanError> {
        let bad = repair::drop_bad_faces(&mut self.mesh, self.job)?;
        let [degenerate, duplicate] = [self.dropped[0] + bad.degenerate + bad.flat, self.dropped[1] + bad.duplicate];
        let text = format!(
            "{} without area and {} were dropped.",
            count(degenerate, "triangle", "triangles"),
            count(duplicate, "duplicate", "duplicates")
        );
        self.say(
            "bad-triangles",
            degenerate + duplicate + bad.turned > 0,
            &[("degenerate", degenerate), ("duplicate", duplicate), ("turned", bad.turned)],
            text,
        );
        Ok(())
    }

    fn make_manifold(&mut self) -> Result<(), ScanError> {
        let split = repair::make_manifold(&mut self.mesh, self.job)?;
        let mut text = match split.edges {
            0 => "No edge has more than two triangles".to_owned(),
            n => format!("More than two triangles met at {}; the surface was opened there", count(n, "edge", "edges")),
        };
        text += &match split.points {
            0 => ", and the surface touches itself nowhere.".to_owned(),
            n => format!(", and it was opened at {} where it only touched itself.", count(n, "point", "points")),
        };
        self.say(
            "part",
            split != repair::Split::default(),
            &[("edges", split.edges), ("points", split.points), ("triangles_dropped", split.dropped)],
            text,
        );
        Ok(())
    }

    fn face_outward(&mut self) -> Result<(), ScanError> {
        let oriented = repair::orient(&mut self.mesh, self.job)?;
        let text =
            format!("{} turned so that all face outward.", count(oriented.turned, "triangle was", "triangles were"));
        self.say(
            "outward",
            oriented.turned + oriented.cut_edges > 0,
            &[("turned", oriented.turned), ("cut_edges", oriented.cut_edges), ("undecided_pieces", oriented.undecided)],
            text,
        );
        Ok(())
    }
}
