//! Parts of a shell as meshes for the graphics card.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::PrimitiveTopology;
use bevy::prelude::*;
use print::picture::Corners;

/// A shell and how much lighter or darker each of its vertices is.
pub struct Shaded<'a> {
    /// The shell.
    pub shell: &'a mesh::Mesh,
    /// Factors by vertex; none where they are not known.
    pub shade: &'a [f32],
}

/// The triangles without a picture.
pub fn plain(of: &Shaded<'_>, triangles: &[u32]) -> Mesh {
    of_corners(of, triangles.iter().copied())
}

/// The triangles with their places in the picture.
pub fn painted(of: &Shaded<'_>, triangles: &[(u32, Corners)]) -> Mesh {
    let uv: Vec<[f32; 2]> = triangles.iter().flat_map(|(_, corners)| *corners).collect();
    of_corners(of, triangles.iter().map(|(t, _)| *t)).with_inserted_attribute(Mesh::ATTRIBUTE_UV_0, uv)
}

fn of_corners(of: &Shaded<'_>, triangles: impl Iterator<Item = u32> + Clone) -> Mesh {
    let shell = of.shell;
    let normals = shell.shading_normals();
    let corners = || triangles.clone().flat_map(|t| shell.triangles[t as usize]);
    let positions: Vec<[f32; 3]> = corners().map(|v| shell.points[v as usize].coords.into()).collect();
    let normals: Vec<[f32; 3]> = corners().map(|v| normals[v as usize].into()).collect();
    let factor = |v: u32| of.shade.get(v as usize).copied().unwrap_or(1.0);
    let colours: Vec<[f32; 4]> = corners().map(factor).map(|f| [f, f, f, 1.0]).collect();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colours)
}
