//! The layers of the workbench: a module may use modules of the layers below its own, and nothing else.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

/// The layers from the bottom to the top. Modules of one layer do not use each other.
const LAYERS: [&[&str]; 10] = [
    &["graphics", "keyboard", "look", "state"],
    &["actions"],
    &["desk"],
    &["commands"],
    &["dialog", "overlay", "panel", "stage"],
    &["layout", "pictures"],
    &["pace"],
    &["report"],
    &["app"],
    &["trial"],
];

/// The steps of the job.
const STEPS: [&str; 7] = ["scan", "zone", "shell", "fit", "material", "print", "show"];

/// One module uses another.
#[derive(Debug, PartialEq)]
struct Arrow {
    file: PathBuf,
    line: usize,
    from: String,
    to: String,
}

impl fmt::Display for Arrow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {} looks at {}", self.file.display(), self.line, self.from, self.to)
    }
}

fn layer(module: &str) -> Option<usize> {
    LAYERS.iter().position(|layer| layer.contains(&module))
}

/// Whether an arrow points down.
fn is_down(arrow: &Arrow) -> bool {
    layer(&arrow.from).zip(layer(&arrow.to)).is_some_and(|(from, to)| to < from)
}

/// Modules on the way from the root of the crate to a file, such as `["panel", "scan", "ends"]`.
fn module_path(file: &Path) -> Vec<String> {
    let mut path: Vec<String> =
        file.with_extension("").components().map(|c| c.as_os_str().to_string_lossy().into_owned()).collect();
    if path.last().is_some_and(|last| last == "mod") {
        path.pop();
    }
    path
}

/// A line without its comment and without quoted text.
fn code(line: &str) -> String {
    let mut out = String::new();
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(c) = letters.next() {
        match c {
            '\\' if quoted => drop(letters.next()),
            '"' => quoted = !quoted,
            '/' if !quoted && letters.peek() == Some(&'/') => break,
            c if !quoted => out.push(c),
            _ => {}
        }
    }
    out
}

fn is_word(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// The first names of what follows a path: `a::b` gives `a`, `{a::{b, c}, d}` gives `a` and `d`.
fn first_names(rest: &str) -> Vec<String> {
    let word = |text: &str| text.trim_start().chars().take_while(|c| is_word(*c)).collect::<String>();
    let Some(group) = rest.strip_prefix('{') else { return vec![word(rest)] };
    let (mut names, mut depth, mut start) = (Vec::new(), 0, 0);
    for (i, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                names.push(word(&group[start..i]));
                start = i + 1;
                if c == '}' {
                    break;
                }
            }
            _ => {}
        }
    }
    names.retain(|name| !name.is_empty());
    names
}

/// All arrows to other modules of the crate's root in a file, by `crate::` and by `super::` that reach the root.
fn arrows(file: &Path, text: &str) -> Vec<Arrow> {
    let path = module_path(file);
    let Some(from) = path.first().cloned() else { return Vec::new() };
    let code: String = text.lines().map(|line| code(line) + "\n").collect();
    let mut found = Vec::new();
    for (start, _) in code.match_indices("crate::").chain(code.match_indices("super::")) {
        if code[..start].ends_with(|c| is_word(c) || c == ':') {
            continue;
        }
        let mut rest = &code[start..];
        let mut supers = 0;
        while let Some(after) = rest.strip_prefix("super::") {
            (rest, supers) = (after, supers + 1);
        }
        // A test module is one level below its file.
        let level = path.len() + usize::from(code[..start].contains("\nmod tests {"));
        let below_root = supers > 0 && supers < level;
        let rest = rest.strip_prefix("crate::").unwrap_or(rest);
        if below_root {
            continue;
        }
        let line = code[..start].matches('\n').count() + 1;
        let others = first_names(rest).into_iter().filter(|to| *to != from);
        found.extend(others.map(|to| Arrow { file: file.to_owned(), line, from: from.clone(), to }));
    }
    found
}

/// All source files below a folder, relative to it.
fn sources(root: &Path, below: &Path, into: &mut Vec<PathBuf>) {
    let entries = fs::read_dir(root.join(below)).expect("a folder of sources");
    for entry in entries {
        let entry = entry.expect("an entry");
        let path = below.join(entry.file_name());
        if entry.file_type().expect("its kind").is_dir() {
            sources(root, &path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push(path);
        }
    }
}

fn all_sources() -> (PathBuf, Vec<PathBuf>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, Path::new(""), &mut files);
    files.retain(|file| !["lib.rs", "main.rs"].contains(&file.to_string_lossy().as_ref()));
    files.sort();
    (root, files)
}

#[test]
fn no_arrow_points_up_or_sideways() {
    let (root, files) = all_sources();
    let mut count = 0;
    let mut wrong = Vec::new();
    for file in &files {
        let module = module_path(file)[0].clone();
        assert!(layer(&module).is_some(), "{} is in no layer; give it one in this test", file.display());
        let text = fs::read_to_string(root.join(file)).expect("a source file");
        let all = arrows(file, &text);
        count += all.len();
        wrong.extend(all.into_iter().filter(|arrow| !is_down(arrow)).map(|arrow| arrow.to_string()));
    }
    assert!(files.len() > 60 && count > 100, "{} files, {count} arrows: the sources are not read", files.len());
    assert!(wrong.is_empty(), "arrows that do not point down:\n{}", wrong.join("\n"));
}

/// Each step of the job is found under its own name in each layer that has to do with all of them.
#[test]
fn every_step_has_a_place_of_its_own_name_in_each_layer() {
    let (_, files) = all_sources();
    for layer in ["state", "commands", "panel"] {
        for step in STEPS {
            let [file, folder] = [format!("{layer}/{step}.rs"), format!("{layer}/{step}/mod.rs")];
            let found = files.iter().any(|path| *path == Path::new(&file) || *path == Path::new(&folder));
            assert!(found, "neither {file} nor {folder} is there");
        }
    }
}

/// Planted faults are found: the test above can fail.
#[test]
fn arrows_that_point_up_or_sideways_are_found_wherever_they_are_written() {
    let wrong = |file: &str, text: &str| -> Vec<String> {
        let all = arrows(Path::new(file), text);
        all.iter().filter(|arrow| !is_down(arrow)).map(|arrow| format!("{}:{}", arrow.line, arrow.to)).collect()
    };
    assert_eq!(
        wrong("state/step.rs", "use crate::look;\n\nfn f() {\n    crate::panel::show();\n}\n"),
        ["1:look", "4:panel"]
    );
    assert_eq!(
        wrong("panel/scan/mod.rs", "use crate::{\n    desk::{Desk},\n    stage::Pointer, state,\n};"),
        ["1:stage"]
    );
    assert_eq!(wrong("panel/scan/ends.rs", "use super::super::super::layout::draw;\nuse super::about;"), ["1:layout"]);
    assert_eq!(wrong("desk.rs", "use super::commands;"), ["1:commands"]);
    assert_eq!(
        wrong("look/mod.rs", "//! crate::panel\nlet text = \"crate::panel\"; // crate::panel\npub(crate) fn f() {}"),
        [""; 0]
    );
    assert_eq!(
        wrong("pace.rs", "fn f() {}\n\nmod tests {\n    use super::*;\n    use super::super::app;\n}"),
        ["5:app"]
    );
    assert_eq!(wrong("commands/zone.rs", "use crate::nowhere::Thing;"), ["1:nowhere"]);
}
