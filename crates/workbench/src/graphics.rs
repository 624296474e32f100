//! Whether this computer can draw the window at all, found out before there is one.

use bevy::render::settings::WgpuSettings;
use bevy::tasks::block_on;
use wgpu::{DeviceType, Instance, InstanceDescriptor, RequestAdapterOptions};

/// What to do where nothing can draw.
const CURE: &str = if cfg!(target_os = "linux") {
    "Pauldron cannot draw on this computer: no Vulkan driver was found. Install Mesa's Vulkan drivers \
     (mesa-vulkan-drivers on Debian and Ubuntu and on Fedora, vulkan-swrast or the package of your card on Arch; \
     they also draw without a graphics card) and start again."
} else {
    "Pauldron cannot draw on this computer: no graphics driver that it can use was found. Update the driver of the \
     graphics card from its maker or from the system's update page and start again."
};

/// What to do where there is no screen.
const NO_SCREEN: &str = "Pauldron found no screen to open its window on: neither DISPLAY nor WAYLAND_DISPLAY is set. \
                         Start it from a desktop, or use the command line program pauldron.";

#[cfg(target_os = "linux")]
const SCREEN_SILENT: &str = "Pauldron could not open its window: the screen that DISPLAY names does not answer. Start it \
                             from a desktop, or use the command line program pauldron.";

/// What draws the window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DrawnBy {
    /// A graphics card.
    Card,
    /// The processor, by a software driver.
    Processor,
}

impl DrawnBy {
    /// From the type of the graphics device.
    pub fn of(device: DeviceType) -> Self {
        if device == DeviceType::Cpu { Self::Processor } else { Self::Card }
    }
}

/// What will draw the window, or in a sentence what is missing for it.
///
/// # Errors
/// There is no screen, it does not answer, or there is no driver.
pub fn check() -> Result<DrawnBy, &'static str> {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    if cfg!(target_os = "linux") && !set("DISPLAY") && !set("WAYLAND_DISPLAY") && !set("WAYLAND_SOCKET") {
        return Err(NO_SCREEN);
    }
    // Checked here because the window library panics if it cannot reach the screen.
    #[cfg(target_os = "linux")]
    if !set("WAYLAND_DISPLAY") && !set("WAYLAND_SOCKET") && x11rb::connect(None).is_err() {
        return Err(SCREEN_SILENT);
    }
    let mut wanted = InstanceDescriptor::new_without_display_handle();
    // The settings that the window will ask with.
    let settings = WgpuSettings::default();
    if let Some(backends) = settings.backends {
        wanted.backends = backends;
    }
    let options = RequestAdapterOptions { power_preference: settings.power_preference, ..Default::default() };
    let adapter = block_on(Instance::new(wanted).request_adapter(&options)).map_err(|_| CURE)?;
    Ok(DrawnBy::of(adapter.get_info().device_type))
}
