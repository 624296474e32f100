//! Binary STL: 84 bytes of header, then 50 bytes a triangle (normal, three corners, attribute).

use super::echo::fewer_than_said;
use super::error::ReadError;
use super::recognise::{STL_HEAD, STL_TRIANGLE, stl_count};
use super::scan_file::{Format, ScanFile};
use super::stl_ascii::is_finite;
use super::weld_exact::weld_exact;
use crate::{Job, Mesh};

/// Reads a binary STL and joins corners that are equal to the bit.
pub(super) fn read(bytes: &[u8], file: &str, job: &Job) -> Result<ScanFile, ReadError> {
    let body = bytes.get(STL_HEAD..).unwrap_or_default();
    let announced = stl_count(bytes).unwrap_or(0);
    let (rows, rest) = body.as_chunks::<STL_TRIANGLE>();
    let held = rows.len();
    let mut warnings = Vec::new();
    // Programs that write as they go sometimes never come back to fill in the count.
    let never_filled_in = rest.is_empty() && held > 0 && (announced == 0 || announced == u32::MAX as usize);
    let rows = if announced > held && !never_filled_in {
        let said = format!("{announced} {}", if announced == 1 { "triangle" } else { "triangles" });
        let what = fewer_than_said(&said, held as u64);
        return Err(ReadError::CutOff { file: file.into(), what });
    } else if never_filled_in {
        warnings.push(format!("the header says {announced} triangles, but the file has {held}; nothing was left out"));
        rows
    } else {
        let extra = body.len() - announced * STL_TRIANGLE;
        if extra > 0 {
            warnings.push(format!("{extra} bytes after the last of the {announced} triangles were not read"));
        }
        &rows[..announced]
    };
    if rows.is_empty() {
        return Err(ReadError::NoTriangles { file: file.into(), found: "a binary STL header".into() });
    }
    if rows.len() > (u32::MAX / 4) as usize {
        return Err(ReadError::TooLarge { file: file.into(), found: format!("{} triangles", rows.len()) });
    }

    job.step("joining corners", 0.1)?;
    let mut triangles = vec![[0_u32; 3]; rows.len()];
    let points = weld_exact(triangles.as_flattened_mut(), |i| corner(&rows[i / 3], i % 3), job)?;
    job.step("checking numbers", 0.9)?;
    // The joined points are fewer than the corners, and any that is not finite is among them.
    if let Some(v) = points.iter().position(|p| !is_finite(p)) {
        let t = triangles.iter().position(|t| t.contains(&(v as u32))).unwrap_or_default();
        return Err(ReadError::NotFinite { file: file.into(), place: format!("triangle {}", t + 1) });
    }
    Ok(ScanFile { mesh: Mesh::new(points, triangles), format: Format::StlBinary, texture: None, warnings })
}

/// Corner `k` of a triangle; the normal before the corners is ignored, as it follows from them.
#[inline]
fn corner(row: &[u8; STL_TRIANGLE], k: usize) -> [f32; 3] {
    let at = 12 + 12 * k;
    let number = |i: usize| f32::from_le_bytes([row[i], row[i + 1], row[i + 2], row[i + 3]]);
    [number(at), number(at + 4), number(at + 8)]
}
