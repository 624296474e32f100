//! Vents that open a set share of the zone.

use super::{Vent, VentContext, open_mm2};
use crate::ShellError;
use crate::limits::VENT_LIGAMENT;

/// How often the range of the wall between vents is halved: to a quarter of a millimetre.
const ROUNDS: usize = 7;
/// Nearer than this to the share that was asked for is near enough.
const NEAR: f64 = 0.004;
/// Farther off than this it is said.
const TOLD: f64 = 0.03;

/// Vents with the wall between them widened until they open a share of the zone, as nearly as whole vents can, and a
/// sentence where they open another.
///
/// # Errors
/// As laying them out has.
pub fn to_share(context: VentContext<'_>, share: f64) -> Result<(Vec<Vent>, Option<String>), ShellError> {
    let (set_mm, zone_mm2) = (context.vents.ligament_mm, context.zone_mm2);
    let opened = |vents: &[Vent]| open_mm2(vents) / zone_mm2;
    let off = |vents: &[Vent]| (opened(vents) - share).abs();
    let mut context = context;
    let mut best = context.lay_out()?;
    // Wider walls only open less.
    let rounds = if opened(&best) > share { ROUNDS } else { 0 };
    let (mut low, mut high) = (set_mm, VENT_LIGAMENT.most);
    for _ in 0..rounds {
        if off(&best) <= NEAR {
            break;
        }
        let middle = 0.5 * (low + high);
        context = context.with_spacing(middle);
        let found = context.lay_out()?;
        if opened(&found) > share {
            low = middle;
        } else {
            high = middle;
        }
        if !found.is_empty() && off(&found) < off(&best) {
            best = found;
        }
    }
    let now = opened(&best);
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let told = ((now - share).abs() > TOLD).then(|| {
        let (found, wanted) = (percent(now), percent(share));
        if now < share {
            format!(
                "The vents open {found} of the zone and not {wanted}: more of this size have no room with {set_mm} mm of wall \
                 between them."
            )
        } else {
            format!("The vents open {found} of the zone and not {wanted}: fewer would be strays. Make them smaller.")
        }
    });
    Ok((best, told))
}
