//! What was found in a scan file, before anything is done to it.

use crate::Mesh;

/// The formats that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Text STL.
    StlAscii,
    /// Binary STL.
    StlBinary,
    /// Wavefront OBJ.
    Obj,
    /// Text PLY.
    PlyAscii,
    /// Binary PLY, little-endian.
    PlyLittleEndian,
    /// Binary PLY, big-endian.
    PlyBigEndian,
}

/// A picture laid over a mesh.
#[derive(Debug, Clone, PartialEq)]
pub struct Texture {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// sRGB pixels, row by row from the top.
    pub pixels: Vec<[u8; 3]>,
    /// For each triangle the picture coordinates of its corners: (0, 0) bottom left, (1, 1) top right.
    pub uv: Vec<[[f32; 2]; 3]>,
}

/// A scan as it came: the file's own unit and axes, nothing repaired. STL corners that are equal to the bit are joined.
#[derive(Debug, Clone, PartialEq)]
pub struct ScanFile {
    /// The surface.
    pub mesh: Mesh,
    /// The format, by content.
    pub format: Format,
    /// Colour picture, where an OBJ names one that could be read.
    pub texture: Option<Texture>,
    /// One sentence for each thing that was odd but could be read.
    pub warnings: Vec<String>,
}
