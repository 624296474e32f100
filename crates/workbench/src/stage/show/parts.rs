//! Parts of a shell as meshes for the graphics card.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::PrimitiveTopology;
use bevy::prelude::*;
use print::picture::Corners;

/// The triangles without a picture.
pub fn plain(shell: &mesh::Mesh, triangles: &[u32]) -> Mesh {
    of_corners(shell, triangles.iter().copied())
}

/// The triangles with their places in the picture.
pub fn painted(shell: &mesh::Mesh, triangles: &[(u32, Corners)]) -> Mesh {
    let uv: Vec<[f32; 2]> = triangles.iter().flat_map(|(_, corners)| *corners).collect();
    of_corners(shell, triangles.iter().map(|(t, _)| *t)).with_inserted_attribute(Mesh::ATTRIBUTE_UV_0, uv)
}

fn of_corners(shell: &mesh::Mesh, triangles: impl Iterator<Item = u32> + Clone) -> Mesh {
    let normals = shell.vertex_normals();
    let corners = || triangles.clone().flat_map(|t| shell.triangles[t as usize]);
    let positions: Vec<[f32; 3]> = corners().map(|v| shell.points[v as usize].coords.into()).collect();
    let normals: Vec<[f32; 3]> = corners().map(|v| normals[v as usize].into()).collect();
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::RENDER_WORLD)
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
}
