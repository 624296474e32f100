//! The built-in filaments and the user's own, which a file in the settings folder holds.

use std::path::Path;

use mechanics::{Material, Materials};

use crate::Problem;

/// The built-in materials and those of the file; only the built-in ones where there is no file.
///
/// # Errors
/// The file is wrong, by line and field.
pub(crate) fn load(path: &Path) -> Result<Materials, Problem> {
    let mut all = Materials::built_in();
    if path.exists() {
        let own = Materials::load(Some(path)).map_err(|e| Problem::plain(e.to_string()))?;
        all.materials.extend(own.materials);
    }
    Ok(all)
}

/// Adds a filament to the file; returns all materials, the new one last.
///
/// # Errors
/// A value is not allowed, the name is taken, or the file cannot be read or written.
pub(crate) fn add(path: &Path, known: &Materials, material: Material) -> Result<Materials, Problem> {
    let name = material.name.trim();
    if known.materials.iter().any(|m| m.name.trim().eq_ignore_ascii_case(name)) {
        return Err(Problem::plain(format!("there is a filament called {name} already; give this one another name")));
    }
    let built_in = Materials::built_in();
    let mut own = Materials { about: "My own filaments.".into(), materials: Vec::new(), ..built_in.clone() };
    if path.exists() {
        own = Materials::load(Some(path)).map_err(|e| Problem::plain(e.to_string()))?;
    }
    own.materials.push(material);
    let text = serde_json::to_string_pretty(&own).map_err(|e| Problem::plain(e.to_string()))?;
    // Checked like any materials file before it is written.
    let checked = Materials::parse(&text, "the new filament").map_err(|e| Problem::plain(e.to_string()))?;
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder)
            .map_err(|e| Problem::plain(format!("{} cannot be made: {e}", folder.display())))?;
    }
    mesh::write::save_atomic(path, |out| out.write_all(text.as_bytes())).map_err(|e| Problem::plain(e.to_string()))?;
    let materials = built_in.materials.into_iter().chain(checked.materials).collect();
    Ok(Materials { materials, ..Materials::built_in() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_filament_of_ones_own_is_checked_kept_and_found_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("deep").join("materials.json");
        let known = load(&path).unwrap();
        assert_eq!(known, Materials::built_in());
        let mut mine = known.materials[0].clone();
        mine.name = "from the shelf".into();
        mine.density_g_per_cm3.value = 1.25;
        let after = add(&path, &known, mine.clone()).unwrap();
        assert_eq!(after.materials.last(), Some(&mine));
        assert_eq!(load(&path).unwrap(), after);
        assert!(add(&path, &after, mine.clone()).unwrap_err().sentence.contains("another name"));
        let heavy = Material { name: "heavy".into(), ..mine.clone() };
        let mut heavy = heavy;
        heavy.density_g_per_cm3.value = 1250.0;
        let said = add(&path, &after, heavy).unwrap_err().sentence;
        assert!(said.contains("density_g_per_cm3") && said.contains("between 0.2 and 3"), "{said}");
        assert_eq!(load(&path).unwrap(), after, "what is refused is not kept");
    }
}
