//! Times a shell by its unknowns: assembled, factored and solved, and the memory that took; and quadratic shell elements of
//! CalculiX with about 20 000 unknowns, in the same run, where its program `ccx` is there.
//!
//! `cargo bench -p mechanics --bench solve`

use std::fmt::Write as _;
use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use mechanics::elements::{Hold, Section, Structure};
use nalgebra::{Point3, Vector6};

const RADIUS: f64 = 45.0;
const LENGTH: f64 = 200.0;
/// Half round a limb.
const TURN: f64 = std::f64::consts::PI;
const THICKNESS: f64 = 3.0;
const YOUNG: f64 = 2300.0;
const POISSON: f64 = 0.35;

fn place(u: f64, v: f64) -> Point3<f64> {
    let angle = TURN * (u - 0.5);
    Point3::new(RADIUS * angle.cos(), RADIUS * angle.sin(), LENGTH * v)
}

/// A gutter of n by m nodes.
fn gutter(n: usize, m: usize) -> Structure {
    let at = |i: usize, j: usize| (j * n + i) as u32;
    let share = |k: usize, of: usize| k as f64 / (of - 1) as f64;
    let points = (0..m).flat_map(|j| (0..n).map(move |i| place(share(i, n), share(j, m)))).collect();
    let cells = (0..m - 1).flat_map(|j| (0..n - 1).map(move |i| (i, j)));
    let triangles: Vec<[u32; 3]> = cells
        .flat_map(|(i, j)| [[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]])
        .collect();
    let sections = vec![Section::plain(YOUNG, POISSON, THICKNESS, 0.0); triangles.len()];
    Structure { points, triangles, sections }
}

/// Seconds to assemble, to factor and to solve, the number of unknowns, and how far the middle of the upper edge moves.
fn ours(n: usize, m: usize) -> ([f64; 3], usize, f64) {
    let structure = gutter(n, m);
    let holds: Vec<_> =
        structure.points.iter().map(|p| [if p.z < 1e-9 { Hold::Held } else { Hold::Free }; 6]).collect();
    let mut loads = vec![Vector6::zeros(); structure.points.len()];
    let pressed = n * m - n / 2 - 1;
    loads[pressed][0] = -10.0;
    let start = Instant::now();
    let assembly = structure.assembled(&holds).expect("an assembly");
    let assembled = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let system = assembly.with(&[]).expect("it is held");
    let factored = start.elapsed().as_secs_f64();
    let start = Instant::now();
    let moved = black_box(system.under(&loads));
    ([assembled, factored, start.elapsed().as_secs_f64()], system.unknowns(), -moved[pressed][0])
}

/// The same in shell elements of eight nodes: seconds, equations, and how far the place moves. `None` without the program.
fn calculix(n: usize, m: usize, folder: &Path) -> Option<(f64, String, f64)> {
    // Nodes at corners and in the middle of sides: those of a grid twice as fine, but for the middles of cells.
    let (fine_n, fine_m) = (2 * n - 1, 2 * m - 1);
    let number = |i: usize, j: usize| j * fine_n + i + 1;
    let mut text = String::from("*NODE,NSET=ALL\n");
    for (i, j) in (0..fine_m).flat_map(|j| (0..fine_n).map(move |i| (i, j))).filter(|(i, j)| i % 2 == 0 || j % 2 == 0) {
        let p = place(i as f64 / (fine_n - 1) as f64, j as f64 / (fine_m - 1) as f64);
        let _ = writeln!(text, "{},{:.9},{:.9},{:.9}", number(i, j), p.x, p.y, p.z);
    }
    text.push_str("*ELEMENT,TYPE=S8R,ELSET=WALL\n");
    for (k, (i, j)) in (0..m - 1).flat_map(|j| (0..n - 1).map(move |i| (2 * i, 2 * j))).enumerate() {
        let around = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1)];
        let nodes: Vec<String> = around.iter().map(|(a, b)| number(i + a, j + b).to_string()).collect();
        let _ = writeln!(text, "{},{}", k + 1, nodes.join(","));
    }
    let _ = writeln!(text, "*MATERIAL,NAME=PLASTIC\n*ELASTIC\n{YOUNG},{POISSON}");
    let _ = writeln!(text, "*SHELL SECTION,ELSET=WALL,MATERIAL=PLASTIC\n{THICKNESS}\n*BOUNDARY");
    (0..fine_n).for_each(|i| {
        let _ = writeln!(text, "{},1,6", number(i, 0));
    });
    let pressed = number(2 * (n - n / 2 - 1), fine_m - 1);
    let _ = writeln!(text, "*STEP\n*STATIC\n*CLOAD\n{pressed},1,-10.0\n*NODE PRINT,NSET=ALL\nU\n*END STEP");
    std::fs::write(folder.join("gutter.inp"), text).ok()?;
    let start = Instant::now();
    let done =
        Command::new("ccx").args(["-i", "gutter"]).current_dir(folder).env("OMP_NUM_THREADS", "2").output().ok()?;
    let seconds = start.elapsed().as_secs_f64();
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    let lines: Vec<&str> = said.lines().collect();
    let at = lines.iter().position(|line| line.contains("number of equations"))?;
    let equations = lines.get(at + 1)?.trim().to_owned();
    let results = std::fs::read_to_string(folder.join("gutter.dat")).ok()?;
    let moved = results.lines().find_map(|line| {
        let mut words = line.split_whitespace();
        (words.next()? == pressed.to_string()).then(|| words.next()?.parse::<f64>().ok()).flatten()
    })?;
    Some((seconds, equations, -moved))
}

/// The most memory that the program has had, MiB; 0 where the system does not tell.
fn most_memory() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok()).map_or(0.0, |kib| kib / 1024.0)
}

#[allow(clippy::print_stdout)]
fn main() {
    println!("unknowns   assembled   factored     solved   most memory     moves");
    for (n, m) in [(30, 28), (48, 47), (59, 58), (84, 82), (130, 129), (184, 182)] {
        let best = (0..5).map(|_| ours(n, m)).min_by(|a, b| {
            let whole = |seconds: &[f64; 3]| seconds.iter().sum::<f64>();
            whole(&a.0).total_cmp(&whole(&b.0))
        });
        let Some(([assembled, factored, solved], unknowns, moves)) = best else { continue };
        println!(
            "{unknowns:>8} {assembled:>9.3} s {factored:>8.3} s {solved:>8.3} s {:>9.0} MiB {moves:>9.5} mm",
            most_memory()
        );
    }
    let folder = tempfile::tempdir().expect("a folder");
    let best = (0..3).filter_map(|_| calculix(32, 37, folder.path())).min_by(|a, b| a.0.total_cmp(&b.0));
    match best {
        Some((seconds, equations, moves)) => {
            println!("CalculiX, shell elements of eight nodes: {equations} equations in {seconds:.3} s, {moves:.5} mm");
        }
        None => println!("CalculiX is not on this machine"),
    }
}
