//! A chunk of the limb or the shell as an entity of its own on the stage.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::prelude::*;

use super::chunks::Chunk;

/// How far a part reaches along the limb, and whether the cutting plane takes all of it away.
#[derive(Component, Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Lowest place, mm.
    pub low_mm: f32,
    /// Highest place, mm.
    pub high_mm: f32,
    /// All of it lies above the cutting plane.
    pub away: bool,
}

/// Makes the mesh of a chunk, with a normal and, if given, a colour for each of its vertices.
pub fn chunk_mesh(
    of: &mesh::Mesh,
    chunk: &Chunk,
    normals: Vec<[f32; 3]>,
    colours: Option<Vec<[f32; 4]>>,
) -> (Mesh, Extent) {
    let points: Vec<[f32; 3]> = chunk.vertices.iter().map(|v| of.points[*v as usize].coords.into()).collect();
    let heights = || points.iter().map(|p| p[2]);
    let part = Extent {
        low_mm: heights().fold(f32::INFINITY, f32::min),
        high_mm: heights().fold(f32::NEG_INFINITY, f32::max),
        away: false,
    };
    let mesh = Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, points)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_indices(Indices::U32(chunk.triangles.concat()));
    let mesh = match colours {
        Some(colours) => mesh.with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colours),
        None => mesh,
    };
    (mesh, part)
}
