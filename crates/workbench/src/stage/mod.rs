//! The stage: the limb and the guard in three dimensions, in millimetres, z up along the limb.

mod bed;
mod brush;
mod camera;
mod face;
mod limb;
mod lines;
mod open_up;
mod outline;
mod part;
mod patches;
mod pointer;
mod raw;
mod ribbon;
mod shade;
mod shell;
mod show;
mod skin;

use bevy::prelude::*;

pub use bed::BedView;
pub use brush::{BRUSH_MM, Brush, Stroke};
pub use camera::StageCamera;
pub use limb::{LimbOnStage, LimbPart};
pub use pointer::Pointer;
pub use raw::RawOnStage;
pub use ribbon::ring;
pub use shell::ShellOnStage;
pub use show::{LONGEST, ShowView};
pub use skin::{Pattern, SkinOnStage, pattern};

/// All that stands on the stage.
pub struct StagePlugin;

impl Plugin for StagePlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<limb::LimbOnStage>()
            .init_resource::<brush::Stroke>()
            .init_resource::<outline::Dragged>()
            .init_resource::<Pointer>()
            .init_resource::<shade::Shade>()
            .add_systems(Startup, camera::light)
            .init_resource::<show::Dressed>()
            .init_resource::<bed::Laying>()
            .init_resource::<shell::ShellOnStage>()
            .init_resource::<raw::RawOnStage>()
            .add_systems(Update, (bed::lay, show::dress, show::turn_slowly).chain())
            .add_systems(
                Update,
                (
                    limb::stand,
                    raw::stand,
                    shade::follow,
                    pointer::find,
                    brush::paint,
                    brush::show,
                    outline::outline,
                    limb::colour,
                    lines::draw,
                    shell::stand,
                    face::face,
                    bed::bring_into_sight,
                    open_up::look_inside,
                    open_up::see_through,
                    open_up::cut,
                    show::clear_stage,
                    camera::turn,
                )
                    .chain()
                    .after(show::turn_slowly),
            );
    }
}
