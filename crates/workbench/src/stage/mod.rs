//! The stage: the limb and the guard in three dimensions, in millimetres, z up along the limb.

mod assets;
mod camera;
mod chunk_mesh;
mod chunks;
mod even_light;
mod facing;
mod fit;
mod last_look;
mod limb;
mod material;
mod pointer;
mod print;
mod ribbon;
mod scan;
mod shade;
mod shell;
mod show;
mod skin;
mod zone;

use bevy::prelude::*;

pub use camera::StageCamera;
pub use limb::{LimbChunk, LimbOnStage};
pub use pointer::Pointer;
pub use ribbon::ring;
pub use scan::RawOnStage;
pub use shell::{ShellChunk, ShellOnStage};
pub use skin::SkinOnStage;
pub use zone::{Brush, Stroke};

/// All that stands on the stage.
pub struct StagePlugin;

impl Plugin for StagePlugin {
    fn build(&self, app: &mut App) {
        even_light::add(app);
        app.init_resource::<limb::LimbOnStage>()
            .init_resource::<Stroke>()
            .init_resource::<zone::Dragged>()
            .init_resource::<Pointer>()
            .init_resource::<shade::Shade>()
            .add_systems(Startup, camera::light)
            .init_resource::<show::Dressed>()
            .init_resource::<print::Laying>()
            .init_resource::<shell::ShellOnStage>()
            .init_resource::<scan::RawOnStage>()
            .add_systems(Update, (print::lay, show::dress, show::turn_slowly).chain())
            .add_systems(
                Update,
                (
                    limb::stand,
                    scan::stand,
                    shade::follow,
                    pointer::find,
                    zone::paint,
                    zone::show,
                    zone::outline,
                    zone::crease,
                    limb::colour,
                    zone::draw,
                    material::press,
                    shell::stand,
                    facing::turn_to_zone,
                    print::bring_into_sight,
                    fit::look_inside,
                    fit::see_through,
                    fit::cut,
                    show::clear_stage,
                    (
                        camera::bring_into_sight,
                        camera::turn_by_mouse,
                        camera::turn_by_keys,
                        last_look::keep,
                        camera::stand,
                    )
                        .chain(),
                )
                    .chain()
                    .after(show::turn_slowly),
            );
    }
}
