//! Zones on skins from outside the project; runs where the folder with them exists.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // Clippy takes helpers of tests for ordinary code.

use std::path::PathBuf;

use mesh::{Job, Mesh, NONE, Surface};
use nalgebra::Point3;
use zone::{Dab, Source, ZoneSettings};

fn limbs() -> Option<Vec<PathBuf>> {
    let data = std::env::var_os("PAULDRON_DATA")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data"), PathBuf::from);
    let mut files: Vec<PathBuf> = std::fs::read_dir(data.join("limbs"))
        .ok()?
        .filter_map(|f| Some(f.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|e| e == "stl"))
        .collect();
    files.sort();
    Some(files)
}

/// Binary STL, corners with the same bits welded: all that these files need.
fn read(path: &PathBuf) -> Mesh {
    let bytes = std::fs::read(path).unwrap();
    let count = u32::from_le_bytes(bytes[80..84].try_into().unwrap()) as usize;
    let mut index = std::collections::HashMap::new();
    let mut mesh = Mesh::default();
    for t in 0..count {
        let at = 84 + 50 * t + 12;
        let corner = |k: usize| {
            let value =
                |i: usize| f32::from_le_bytes(bytes[at + 12 * k + 4 * i..at + 12 * k + 4 * i + 4].try_into().unwrap());
            Point3::new(value(0), value(1), value(2))
        };
        let triangle = [0, 1, 2].map(|k| {
            let p = corner(k);
            *index.entry([p.x.to_bits(), p.y.to_bits(), p.z.to_bits()]).or_insert_with(|| {
                mesh.points.push(p);
                mesh.points.len() as u32 - 1
            })
        });
        if triangle[0] != triangle[1] && triangle[1] != triangle[2] && triangle[2] != triangle[0] {
            mesh.triangles.push(triangle);
        }
    }
    mesh
}

/// A vertex in the middle of the skin: the one farthest from all open ends, by steps over the mesh.
fn middle(skin: &Surface) -> Point3<f32> {
    let mesh = skin.mesh();
    let mut seen = vec![false; mesh.points.len()];
    let mut ring: Vec<u32> = Vec::new();
    for (t, sides) in skin.adjacency().neighbours.iter().enumerate() {
        for (k, side) in sides.iter().enumerate() {
            if *side == NONE {
                ring.extend([mesh.triangles[t][k], mesh.triangles[t][(k + 1) % 3]]);
            }
        }
    }
    let mut last = 0;
    while !ring.is_empty() {
        let mut next = Vec::new();
        for v in ring {
            if !std::mem::replace(&mut seen[v as usize], true) {
                last = v;
                next.extend(skin.adjacency().vertices_around(mesh, v).into_iter().filter(|w| !seen[*w as usize]));
            }
        }
        ring = next;
    }
    mesh.points[last as usize]
}

#[test]
fn a_painted_zone_drawn_again_from_its_edge_is_the_same() {
    let Some(files) = limbs() else {
        println!("skipped: no folder with real limbs (set PAULDRON_DATA)");
        return;
    };
    assert!(!files.is_empty());
    for file in files {
        let skin = Surface::new(read(&file));
        let at_mm = middle(&skin);
        let near = skin.mesh().points.iter().min_by(|a, b| {
            let far = |p: &Point3<f32>| ((p - at_mm).norm() - 20.0).abs();
            far(a).total_cmp(&far(b))
        });
        let dabs = vec![
            Dab { at_mm, radius_mm: 28.0, remove: false },
            Dab { at_mm: *near.unwrap(), radius_mm: 22.0, remove: false },
        ];
        let painted = ZoneSettings { sources: vec![Source::Strokes { dabs }], smooth_mm: 5.0, ..Default::default() };
        let zone = zone::make(&skin, &painted, &Job::silent()).unwrap();
        let area = zone.area_cm2(&skin);
        println!(
            "{}: {} triangles, {area:.1} cm², {} edges, {:?}",
            file.display(),
            skin.mesh().triangles.len(),
            zone.covered.edges.len(),
            zone.notices
        );
        // Two flat discs would have about 30 cm²; on a hand the middle is a finger tip.
        assert!(area > 8.0 && area < 45.0, "{area}");

        if let [edge] = &zone.covered.edges[..] {
            let line = Source::Line { points_mm: edge.clone(), inside_mm: Some(at_mm) };
            let again =
                zone::make(&skin, &ZoneSettings { sources: vec![line], ..Default::default() }, &Job::silent()).unwrap();
            for (a, b) in zone.covered.distance_mm.iter().zip(&again.covered.distance_mm) {
                assert!((a - b).abs() < 0.1, "{a} {b}");
            }
        }
        // Neighbours never differ by more than their edge.
        for c in &skin.mesh().triangles {
            for k in 0..3 {
                let (a, b) = (c[k] as usize, c[(k + 1) % 3] as usize);
                let edge = (skin.mesh().points[a] - skin.mesh().points[b]).norm();
                let (da, db) = (zone.covered.distance_mm[a], zone.covered.distance_mm[b]);
                assert!((da - db).abs() <= edge * 1.03 + 0.02, "{da} {db} over {edge}");
            }
        }
    }
}
