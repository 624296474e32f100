//! What can be wrong with a scan file, as sentences for the person who opened it.

use super::echo::shown_number;
use crate::Cancelled;

/// Names what can be opened; ends the sentences that refuse a file.
pub(super) const CAN_OPEN: &str = "STL, OBJ and PLY can be opened; export one of these from the program that made it";

/// Why a scan file could not be read.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The operating system did not give the bytes.
    #[error("{file} could not be read: {source}. Check that it is there and that you may open it.")]
    Unreadable {
        /// The path as given.
        file: String,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// A file without any bytes.
    #[error("{file} is empty (0 bytes). Copy or export it again.")]
    Empty {
        /// Name of the file.
        file: String,
    },
    /// A known format that this program cannot read.
    #[error("{file} is {format}, which this program cannot read; {advice}.")]
    OtherFormat {
        /// Name of the file.
        file: String,
        /// The format in words, with its article.
        format: String,
        /// What to do.
        advice: String,
    },
    /// Bytes that are no format known here.
    #[error("{file} is not a scan in a known format; {CAN_OPEN}.")]
    Unknown {
        /// Name of the file.
        file: String,
    },
    /// Well-formed, but without a single triangle.
    #[error("{file} holds {found} but no usable triangle. Export the scan as a triangle mesh, not as points or lines.")]
    NoTriangles {
        /// Name of the file.
        file: String,
        /// What it does hold.
        found: String,
    },
    /// The file holds less than it says.
    #[error("{file} was cut off: {what}. Copy or export it again.")]
    CutOff {
        /// Name of the file.
        file: String,
        /// What was announced and what is there.
        what: String,
    },
    /// Something at a known place does not follow the format.
    #[error("{file}, {place}: {what}.")]
    Malformed {
        /// Name of the file.
        file: String,
        /// Line, face or point.
        place: String,
        /// What is wrong, and what to do where that is known.
        what: String,
    },
    /// A face names a point that does not exist.
    #[error("{file}, {place}: the face names point {}, but there are {points}. Export the scan again.", shown_number(*index as f64))]
    NoSuchPoint {
        /// Name of the file.
        file: String,
        /// Line or face.
        place: String,
        /// The index as it stands in the file.
        index: i64,
        /// How many points there are, with the lowest and highest legal index.
        points: String,
    },
    /// A face uses a point whose coordinates are not numbers.
    #[error("{file}, {place}: a coordinate is not a finite number, and a face uses it. Export the scan again.")]
    NotFinite {
        /// Name of the file.
        file: String,
        /// Line, point or triangle.
        place: String,
    },
    /// More points than can be numbered.
    #[error("{file} holds {found}; at most {} can be opened. Export it with fewer triangles.", u32::MAX / 4)]
    TooLarge {
        /// Name of the file.
        file: String,
        /// What was counted.
        found: String,
    },
    /// Stopped on request.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
