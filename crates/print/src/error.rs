//! Everything that can go wrong when something is written.

/// What went wrong, as a sentence for the user.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// There is nothing to write.
    #[error("The part has no triangles, so there is nothing to print; build the shell again.")]
    Empty,
    /// A triangle names a point that is not there.
    #[error("Triangle {triangle} of the part names point {point}, but there are only {points}; build the shell again.")]
    NoSuchPoint {
        /// Index of the triangle.
        triangle: usize,
        /// What it names.
        point: u32,
        /// How many points there are.
        points: usize,
    },
    /// A coordinate is not a number.
    #[error("Point {point} of the part has a coordinate that is not a number; build the shell again.")]
    NotFinite {
        /// Index of the point.
        point: usize,
    },
    /// A count does not fit the file format.
    #[error("The part has {triangles} triangles, more than the file format can hold; use a coarser resolution.")]
    TooBig {
        /// How many there are.
        triangles: usize,
    },
    /// A picture cannot be so small or so large.
    #[error("A picture of {width} by {height} pixels cannot be drawn; use 160 to 8192 pixels each way.")]
    PictureSize {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// A turn cannot have so few or so many pictures.
    #[error("A turn of {frames} pictures cannot be drawn; use 2 to 720.")]
    TurnFrames {
        /// How many were asked for.
        frames: u16,
    },
    /// The animation could not be encoded.
    #[error("Cannot encode the animation: {0}.")]
    Animation(#[from] gif::EncodingError),
    /// The picture for paper could not be encoded.
    #[error("Cannot encode the picture: {0}.")]
    Photo(#[from] png::EncodingError),
    /// A file could not be written.
    #[error(transparent)]
    Unwritable(#[from] mesh::write::WriteError),
    /// Writing failed part of the way.
    #[error("Cannot write the file: {0}; check the free space.")]
    Io(#[from] std::io::Error),
    /// The 3MF package could not be put together.
    #[error("Cannot put the 3MF package together: {0}.")]
    Package(#[from] zip::result::ZipError),
    /// The picture could not be encoded.
    #[error("Cannot encode the picture: {0}.")]
    Picture(#[from] image::ImageError),
    /// The page could not be made.
    #[error("Cannot make the summary page: {0}.")]
    Page(String),
    /// The work was stopped.
    #[error(transparent)]
    Cancelled(#[from] mesh::Cancelled),
}
