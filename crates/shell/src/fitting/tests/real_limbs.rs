//! Suggestions and stitch holes on surfaces of real limbs.

use std::path::PathBuf;

use nalgebra::Rotation3;

use super::*;

fn data() -> Option<PathBuf> {
    let beside = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data");
    let folder = std::env::var_os("PAULDRON_DATA").map_or(beside, PathBuf::from);
    folder.is_dir().then_some(folder)
}

#[test]
fn straps_and_a_number_find_room_on_real_limbs() {
    let Some(data) = data() else {
        println!("not run: no folder with real limbs (set PAULDRON_DATA)");
        return;
    };
    for (name, radius, pairs) in [
        ("forearm_L_smpl_man_mm.stl", 70.0, 2),
        ("forearm_L_smpl_woman_mm.stl", 60.0, 2),
        ("shin_L_smpl_man_mm.stl", 70.0, 2),
        ("thigh_L_smpl_woman_mm.stl", 70.0, 2),
        ("ribside_L_smpl_woman_mm.stl", 45.0, 1),
        ("shoulder_L_smpl_woman_mm.stl", 60.0, 1),
        ("handforearm_L_smpl_woman_mm.stl", 50.0, 1),
    ] {
        let file = mesh::read::read_file(&data.join("limbs").join(name), &Job::silent()).unwrap();
        let skin = stood_up(file.mesh);
        // A round zone about the spot at half height that is furthest out to +x, clear of where the scan ends;
        // distances by its chart.
        let points = &skin.mesh().points;
        let ends: Vec<u32> = skin.adjacency().boundary_loops(skin.mesh()).concat();
        let clear = |p: &Point3<f32>| ends.iter().all(|e| (points[*e as usize] - p).norm() > radius + 4.0);
        let level = points.iter().filter(|p| p.z.abs() < 30.0 && clear(p));
        let front = level.max_by(|a, b| a.x.total_cmp(&b.x)).unwrap_or_else(|| panic!("{name} is too small"));
        let at = skin_point(&skin, front).unwrap();
        let chart = Chart::new(&skin, &at, 0.0, radius + 5.0, &Job::silent()).unwrap();
        let mut distance_mm = vec![-10.0; points.len()];
        for (v, [x, y]) in &chart.vertices {
            distance_mm[*v as usize] = radius - x.hypot(*y);
        }
        let zone = Zone { covered: Region { distance_mm, edges: Vec::new() }, ..Zone::default() };
        let mut design = with(suggest_straps(&skin, &zone, &Design::default(), 25.0, pairs, &Job::silent()).unwrap());
        design.marks.extend(suggest_mark(&skin, &zone, &design, "17", &Job::silent()).unwrap());
        let height = design.marks.first().map(|m| m.height_mm);
        let stitches = FittingKind::StitchHoles { hole_mm: 1.5, pitch_mm: 7.0, inset_mm: 4.0 };
        design.fittings.push(fitting(stitches, at.point, 0.0));
        let layout = arrange_all(&skin, &zone, &design).unwrap_or_else(|e| panic!("{name}: {e}"));
        println!(
            "{name}: {} slots, number {height:?} mm high, {} openings, {:?}",
            design.fittings.len() - 1,
            layout.openings.len(),
            layout.notices,
        );
        assert_eq!(design.fittings.len() - 1, 2 * pairs, "{name}");
        assert!(height >= Some(12.0), "{name}: {height:?}");
        assert!(layout.openings.len() > 25, "{name}");
    }
}

/// The scan turned so that its longest side runs along z, and centred.
fn stood_up(mut mesh: Mesh) -> Surface {
    let (lo, hi) = mesh.bounds().unwrap();
    let long = (hi - lo).imax();
    let turn = match long {
        0 => Rotation3::from_axis_angle(&Vector3::y_axis(), -0.5 * PI),
        1 => Rotation3::from_axis_angle(&Vector3::x_axis(), 0.5 * PI),
        _ => Rotation3::identity(),
    };
    let centre = nalgebra::center(&lo, &hi);
    mesh.points.iter_mut().for_each(|p| *p = turn * Point3::from(*p - centre));
    Surface::new(mesh)
}
