//! Convex polygons in a tangent plane, cut out by half planes.

/// The half plane of all points with `normal · p <= offset`; the normal has unit length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfPlane {
    /// Points out of the half plane.
    pub normal: [f32; 2],
    /// Distance of its edge from the origin, negative where the origin is outside.
    pub offset: f32,
}

/// The box of half side `half` round the origin, cut by `planes`, each moved inwards by `inset`; counter-clockwise,
/// empty where nothing is left.
pub fn clip_box(half: f32, planes: &[HalfPlane], inset: f32) -> Vec<[f32; 2]> {
    let h = half - inset;
    if h <= 0.0 {
        return Vec::new();
    }
    let mut polygon = vec![[-h, -h], [h, -h], [h, h], [-h, h]];
    let mut next = Vec::with_capacity(12);
    for plane in planes {
        let over = |p: &[f32; 2]| plane.normal[0] * p[0] + plane.normal[1] * p[1] - (plane.offset - inset);
        if polygon.iter().all(|p| over(p) <= 0.0) {
            continue;
        }
        next.clear();
        for (i, a) in polygon.iter().enumerate() {
            let b = &polygon[(i + 1) % polygon.len()];
            let (da, db) = (over(a), over(b));
            if da <= 0.0 {
                next.push(*a);
            }
            if (da < 0.0 && db > 0.0) || (da > 0.0 && db < 0.0) {
                let t = da / (da - db);
                next.push([a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]);
            }
        }
        std::mem::swap(&mut polygon, &mut next);
        if polygon.len() < 3 {
            return Vec::new();
        }
    }
    drop_short_edges(&mut polygon);
    polygon
}

/// Sides too short to be seen only cost time later, and their direction cannot be trusted.
fn drop_short_edges(polygon: &mut Vec<[f32; 2]>) {
    const SHORT_MM: f32 = 0.02;
    let all = polygon.clone();
    polygon.clear();
    for (i, p) in all.iter().enumerate() {
        let next = all[(i + 1) % all.len()];
        if (next[0] - p[0]).hypot(next[1] - p[1]) > SHORT_MM {
            polygon.push(*p);
        }
    }
    if polygon.len() < 3 {
        polygon.clear();
    }
}

/// Area and centroid of a counter-clockwise polygon.
pub fn area_and_centroid(polygon: &[[f32; 2]]) -> (f32, [f32; 2]) {
    let mut area = 0.0;
    let mut sum = [0.0; 2];
    for (i, a) in polygon.iter().enumerate() {
        let b = polygon[(i + 1) % polygon.len()];
        let cross = a[0] * b[1] - a[1] * b[0];
        area += 0.5 * cross;
        sum[0] += (a[0] + b[0]) * cross / 6.0;
        sum[1] += (a[1] + b[1]) * cross / 6.0;
    }
    if area <= 1e-9 { (0.0, [0.0; 2]) } else { (area, [sum[0] / area, sum[1] / area]) }
}

/// Length of the outline.
pub fn perimeter(polygon: &[[f32; 2]]) -> f32 {
    polygon.iter().zip(polygon.iter().cycle().skip(1)).map(|(a, b)| (b[0] - a[0]).hypot(b[1] - a[1])).sum()
}

/// Least width between two parallel lines that hold the polygon.
pub fn least_width(polygon: &[[f32; 2]]) -> f32 {
    polygon
        .iter()
        .zip(polygon.iter().cycle().skip(1))
        .filter_map(|(a, b)| {
            let d = [b[0] - a[0], b[1] - a[1]];
            let length = d[0].hypot(d[1]);
            (length > 1e-6).then(|| {
                let away = |p: &[f32; 2]| (d[0] * (p[1] - a[1]) - d[1] * (p[0] - a[0])) / length;
                polygon.iter().map(away).fold(0.0, f32::max)
            })
        })
        .fold(f32::INFINITY, f32::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn hexagon(flat: f32) -> Vec<HalfPlane> {
        (0..6)
            .map(|k| (k as f32 * std::f32::consts::FRAC_PI_3).sin_cos())
            .map(|(s, c)| HalfPlane { normal: [c, s], offset: flat })
            .collect()
    }

    #[test]
    fn a_hexagon_has_the_area_and_width_of_the_textbook() {
        let polygon = clip_box(50.0, &hexagon(5.0), 1.0);
        assert_eq!(polygon.len(), 6);
        let (area, centre) = area_and_centroid(&polygon);
        // Area of a regular hexagon of inradius r is 2 √3 r².
        assert_relative_eq!(area, 2.0 * 3.0_f32.sqrt() * 16.0, epsilon = 1e-3);
        assert_relative_eq!(centre[0], 0.0, epsilon = 1e-4);
        assert_relative_eq!(perimeter(&polygon), 12.0 * 4.0 / 3.0_f32.sqrt(), epsilon = 1e-3);
        assert_relative_eq!(least_width(&polygon), 8.0, epsilon = 1e-4);
    }

    #[test]
    fn half_planes_that_exclude_each_other_leave_nothing() {
        let away = [HalfPlane { normal: [1.0, 0.0], offset: -2.0 }, HalfPlane { normal: [-1.0, 0.0], offset: -2.0 }];
        assert!(clip_box(10.0, &away, 0.0).is_empty());
        assert!(clip_box(1.0, &hexagon(1.0), 2.0).is_empty());
    }
}
