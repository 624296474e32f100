//! The scans in `demo-scans/` are what the generator makes, byte for byte.

use std::path::PathBuf;

#[test]
fn demo_scans_are_what_the_seeds_give() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../demo-scans");
    let makers: Vec<_> =
        demo_limbs::catalogue().into_iter().map(|limb| std::thread::spawn(move || demo_limbs::make(&limb))).collect();
    let (mut truths, mut total) = (Vec::new(), 0);
    for maker in makers {
        let made = maker.join().unwrap();
        for (name, bytes) in &made.files {
            let committed = std::fs::read(folder.join(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
            assert!(
                committed == *bytes,
                "{name} differs; run `cargo run --release -p demo-limbs -- demo-scans` and commit the result"
            );
            total += bytes.len();
        }
        truths.push(made.truth);
    }
    let committed = std::fs::read_to_string(folder.join("truth.json")).unwrap();
    assert!(committed == demo_limbs::truth_json(&truths), "truth.json differs");
    assert!(total < 20_000_000, "{total} bytes of demo scans");
}
