//! How the workbench looks: colours, type, icons.

pub mod colours;
mod theme;

pub use theme::apply;
