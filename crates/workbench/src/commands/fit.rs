//! The commands of the fit step: how limb and shell are seen, and where they are cut.

use crate::actions::Action;
use crate::state::View;

/// Does what a key or button of this step asks for.
pub fn perform(action: Action, view: &mut View) {
    let fit = &mut view.fit;
    match action {
        Action::SeeThrough => {
            // From opaque in steps to invisible, then opaque again.
            fit.limb = [0.5, 0.2, 0.0].into_iter().find(|share| *share < fit.limb - 0.01).unwrap_or(1.0);
        }
        Action::Heat => fit.heat = !fit.heat,
        Action::Inside => {
            fit.turn_inside = true;
            fit.heat = true;
            // The plane would hide the upper part of it.
            fit.cut = false;
            fit.limb = fit.limb.min(0.2);
        }
        Action::CutOpen => fit.cut = !fit.cut,
        Action::CutHigher => fit.cut_by(5.0),
        Action::CutDeeper => fit.cut_by(-5.0),
        _ => {}
    }
}
