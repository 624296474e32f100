//! Splitting long edges.

use mesh::repair;

use super::Cleaning;
use crate::report::count;
use crate::{CleanSettings, ScanError};

/// About the most triangles that splitting to the default edge length adds: enough for 1.5 mm on 2250 cm² of skin. What
/// is longer than any limb gets a quarter of it.
const MOST_SPLIT_TRIANGLES: f64 = 400_000.0;

/// Where splitting would make too many triangles, the longest edge grows by steps of this.
const COARSER: f32 = 1.1;

/// Longer than any leg.
const LONGEST_LIMB_MM: f32 = 1200.0;

impl Cleaning<'_> {
    pub(super) fn refine(&mut self) -> Result<(), ScanError> {
        let Some(longest) = self.settings.longest_edge_mm else {
            self.say("refine", false, &[], "Long edges were left whole, as asked.".into());
            return Ok(());
        };
        self.job.step("splitting long edges", 0.8)?;
        // A box of a metre is no limb, but it must not fill the memory either.
        let longest_side = self.mesh.bounds().map_or(0.0, |(low, high)| (high - low).max());
        let most = if longest_side <= LONGEST_LIMB_MM { MOST_SPLIT_TRIANGLES } else { 0.25 * MOST_SPLIT_TRIANGLES };
        let most = most + self.mesh.triangles.len() as f64;
        let (asked, mut longest) = (longest, longest);
        if CleanSettings::default().longest_edge_mm == Some(asked) {
            longest = self.affordable_edge(asked, longest_side, most)?;
        } else {
            let triangles = repair::refined_count(&self.mesh, longest);
            if triangles > most_triangles(self.mesh.triangles.len()) {
                let (triangles, area_cm2) = (triangles as u64, self.mesh.area_mm2() / 100.0);
                let unit = self.report.unit.unit.name();
                return Err(ScanError::TooFine { longest_mm: longest, triangles, area_cm2, unit });
            }
        }
        let split = repair::refine(&mut self.mesh, longest, self.job)?;
        let triangles = self.mesh.triangles.len();
        let mut text = format!(
            "{} split so that none is longer than {:.1} mm.",
            count(split, "edge was", "edges were"),
            (10.0 * longest).ceil() / 10.0
        );
        if longest > asked {
            text += &format!(" For {asked:.1} mm the surface is too large or its triangles too long and thin.");
        }
        self.say("refine", split > 0, &[("edges", split), ("triangles", triangles)], text);
        Ok(())
    }

    /// The shortest of the edge lengths asked, 1.1 · asked, 1.1² · asked, … with which splitting makes at most `most`
    /// triangles. They are counted by edges, not area: long slivers have next to no area and yet fall into a great
    /// many.
    fn affordable_edge(&self, asked: f32, longest_side: f32, most: f64) -> Result<f32, ScanError> {
        let lengths: Vec<f32> =
            std::iter::successors(Some(asked), |l| (*l < 2.0 * longest_side).then_some(l * COARSER)).collect();
        // The count falls as the length grows; the last length splits nothing.
        let (mut low, mut high) = (0, lengths.len() - 1);
        while low < high {
            self.job.check()?;
            let middle = low.midpoint(high);
            if repair::refined_count(&self.mesh, lengths[middle]) > most {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        Ok(lengths[low])
    }
}

/// Most triangles that splitting may make of `scanned` ones; beyond them an edge length that was asked for is refused.
/// Three times as many more, and 600 000 for coarse scans, show all detail there is; 4 000 000 more take about a
/// gigabyte.
fn most_triangles(scanned: usize) -> f64 {
    scanned as f64 + (600_000.0 + 3.0 * scanned as f64).min(4_000_000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each triangle takes some 250 bytes on its way through the steps.
    #[test]
    fn the_bound_grows_with_the_scan_and_leaves_the_memory_room() {
        assert_eq!(most_triangles(1000), 604_000.0);
        assert_eq!(most_triangles(1_000_000), 4_600_000.0);
        assert!((most_triangles(3_000_000) - 3_000_000.0) * 250.0 <= 1e9);
    }
}
