//! Damaged files neither crash the readers nor make them ask for memory that the file cannot justify.

use mesh::Job;
use mesh::read::{read_bytes, survey};
use peak_alloc::PeakAlloc;
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use std::path::Path;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

const CASES: u32 = 100_000;

/// One way to damage a file.
#[derive(Debug, Clone)]
enum Damage {
    CutOff(prop::sample::Index),
    Set(prop::sample::Index, u8),
    Insert(prop::sample::Index, Vec<u8>),
    Remove(prop::sample::Index, u8),
    Repeat(prop::sample::Index, u8),
}

fn damage() -> impl Strategy<Value = Damage> {
    let at = any::<prop::sample::Index>;
    prop_oneof![
        1 => at().prop_map(Damage::CutOff),
        4 => (at(), any::<u8>()).prop_map(|(i, b)| Damage::Set(i, b)),
        // Characters that mean something in text, and the first bytes of numbers that are absurd as counts.
        4 => (at(), prop::sample::select(b"0123456789-+./ \n\r\\#efnvl\x00\xff\x7f\x80".to_vec()))
            .prop_map(|(i, b)| Damage::Set(i, b)),
        2 => (at(), prop::collection::vec(any::<u8>(), 1..8)).prop_map(|(i, b)| Damage::Insert(i, b)),
        2 => (at(), any::<u8>()).prop_map(|(i, n)| Damage::Remove(i, n)),
        1 => (at(), any::<u8>()).prop_map(|(i, n)| Damage::Repeat(i, n)),
    ]
}

fn apply(bytes: &mut Vec<u8>, damage: &Damage) {
    if bytes.is_empty() {
        return;
    }
    let span = |i: &prop::sample::Index, n: u8| {
        let start = i.index(bytes.len());
        start..(start + usize::from(n)).min(bytes.len())
    };
    match damage {
        Damage::CutOff(i) => bytes.truncate(i.index(bytes.len())),
        Damage::Set(i, b) => {
            let i = i.index(bytes.len());
            bytes[i] = *b;
        }
        Damage::Insert(i, b) => {
            let i = i.index(bytes.len());
            bytes.splice(i..i, b.iter().copied());
        }
        Damage::Remove(i, n) => drop(bytes.drain(span(i, *n))),
        Damage::Repeat(i, n) => {
            let copy = bytes[span(i, *n)].to_vec();
            bytes.extend(copy);
        }
    }
}

#[test]
fn damaged_files_end_in_a_mesh_or_a_sentence_and_little_memory() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/corpus");
    let mut names: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()).collect();
    names.sort();
    let files: Vec<Vec<u8>> = names.iter().map(|p| std::fs::read(p).unwrap()).collect();
    let config = Config { cases: CASES, failure_persistence: None, ..Config::default() };
    let strategy = (prop::sample::select(files), prop::collection::vec(damage(), 1..5));
    let (run, read) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
    let outcome = TestRunner::new(config).run(&strategy, |(mut bytes, damages)| {
        damages.iter().for_each(|d| apply(&mut bytes, d));
        let before = MEMORY.current_usage();
        MEMORY.reset_peak_usage();
        if let Ok(scan) = read_bytes(&bytes, "damaged", &|_| None, &Job::silent()) {
            read.set(read.get() + 1);
            let points = scan.mesh.points.len() as u32;
            prop_assert!(scan.mesh.triangles.iter().flatten().all(|v| *v < points));
            prop_assert!(
                scan.mesh
                    .triangles
                    .iter()
                    .flatten()
                    .all(|v| scan.mesh.points[*v as usize].iter().all(|c| c.is_finite()))
            );
            prop_assert!(scan.mesh.colours.as_ref().is_none_or(|c| c.len() == scan.mesh.points.len()));
            let found = survey(&scan.mesh, &Job::silent()).unwrap();
            prop_assert_eq!(found.triangles, scan.mesh.triangles.len());
        }
        // A mesh, its corners and the tables that join them, with room for the fixed cost of small files.
        let used = MEMORY.peak_usage().saturating_sub(before);
        prop_assert!(used < 40 * bytes.len() + 4_000_000, "{used} bytes for a file of {}", bytes.len());
        run.set(run.get() + 1);
        Ok(())
    });
    outcome.unwrap();
    assert_eq!(run.get(), CASES);
    // Enough of them were still readable for the checks inside to mean something.
    assert!(read.get() > CASES / 20, "{} of {CASES}", read.get());
    println!("{} of {CASES} damaged files could still be read", read.get());
}
