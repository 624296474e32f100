//! The print step: how the part lies on the printer's bed.

use std::sync::Arc;

use nalgebra::Vector3;
use print::bed::OnBed;
use shell::Shell;

/// How the part lies on the bed, and what that was found for.
#[derive(Debug, Clone, Default)]
pub struct PrintView {
    /// How it lies; none without a shell.
    pub laid: Option<OnBed>,
    /// The shell and the sides of the bed that it was found for.
    pub of: Option<(Arc<Shell>, [f32; 3])>,
    /// The sides of a shell, mm.
    size: Option<(Arc<Shell>, Option<Vector3<f32>>)>,
}

impl PrintView {
    /// The sides of a shell, mm, measured once for each.
    pub fn size_of(&mut self, shell: &Arc<Shell>) -> Option<Vector3<f32>> {
        if let Some((of, size)) = &self.size
            && Arc::ptr_eq(of, shell)
        {
            return *size;
        }
        let size = shell.mesh.bounds().map(|(low, high)| high - low);
        self.size = Some((Arc::clone(shell), size));
        size
    }
}
