//! From a function of space to a closed triangle mesh of its zero set.
//!
//! Marching cubes (Lorensen and Cline 1987) by continuation (Wyvill, McPheeters and Wyvill 1986): the surface is
//! followed from cell to crossed cell, so that only grid points next to it are sampled. The grid is rectilinear: its
//! planes may lie closer where more is to be seen.
//!
//! Promised: the mesh is closed, each edge joins two triangles that agree on which side is out, and it is the same to
//! the byte on any number of threads. Not promised: that triangles of different cells never cross. Inside one cell they
//! are those of the table; where the function bends within a cell they are only as good as the grid is fine. That is
//! what [`mesh::solid`] checks.

mod assemble;
mod block;
mod cells;
mod crossings;
mod grid;
mod root;
mod track;

pub use grid::{Bounds, Grid};
pub use track::{Ball, TrackError, Tracked, track};
