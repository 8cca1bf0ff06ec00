//! The order of the modules, held by a test: each may use only those before it.

/// From the ground up.
const ORDER: &[&str] = &[
    "text",
    "statistics",
    "quantity",
    "table",
    "calc",
    "id",
    "git",
    "kept",
    "source",
    "templates",
    "diag",
    "parse",
    "config",
    "model",
    "graph",
    "computed",
    "state",
    "check",
    "analysis",
    "history",
    "report",
    "serve",
    "example",
    "edit",
    "cli",
];

/// Every `crate::module` that a file names, test modules left out.
fn named(text: &str) -> Vec<&str> {
    let text = text.split("#[cfg(test)]").next().unwrap_or("");
    let uses = text.split("crate::").skip(1);
    uses.filter_map(|rest| rest.split(|c: char| !c.is_alphanumeric() && c != '_').next()).collect()
}

fn files(folder: &std::path::Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in folder.read_dir().expect("the source folder can be listed") {
        let path = entry.expect("its entries too").path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn modules_use_only_those_below_them() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = Vec::new();
    files(&root, &mut all);
    let mut wrong = Vec::new();
    for path in all {
        let inside = path.strip_prefix(&root).expect("it was listed there");
        let own = inside.components().next().and_then(|part| part.as_os_str().to_str()).unwrap_or("");
        let own = own.trim_end_matches(".rs");
        let test = path.components().any(|part| part.as_os_str() == "tests" || part.as_os_str() == "fixture.rs")
            || inside.to_string_lossy().ends_with("tests.rs");
        if test || matches!(own, "lib" | "main" | "layers") {
            continue;
        }
        let place = ORDER.iter().position(|name| *name == own);
        let Some(place) = place else {
            wrong.push(format!("{own} is not in the order"));
            continue;
        };
        let source = std::fs::read_to_string(&path).expect("a source file can be read");
        for used in named(&source) {
            if ORDER.iter().position(|name| *name == used).is_some_and(|at| at > place) {
                wrong.push(format!("{} uses {used}", inside.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
