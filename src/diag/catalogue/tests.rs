//! The catalogue against the code that raises its codes.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::{Class, all, entry};

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in folder.read_dir().expect("the source folder can be listed") {
        let path = entry.expect("its entries too").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// Every quoted kebab-case word that stands where a finding gets its code.
fn raised() -> BTreeSet<String> {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut files);
    let mut codes = BTreeSet::new();
    for file in files.into_iter().filter(|file| !file.ends_with("tests.rs")) {
        let text = std::fs::read_to_string(&file).expect("a source file can be read");
        for start in ["Finding::new(", "Finding::at(", "trouble("] {
            for rest in text.split(start).skip(1) {
                let rest = rest.trim_start();
                if let Some(code) = rest.strip_prefix('"').and_then(|rest| rest.split('"').next()) {
                    codes.insert(code.to_string());
                }
            }
        }
    }
    codes
}

#[test]
fn codes_are_unique_and_kebab_case() {
    let codes: Vec<&str> = all().iter().map(|entry| entry.code).collect();
    assert!(codes.windows(2).all(|pair| pair[0] < pair[1]), "{codes:?}");
    assert!(codes.iter().all(|code| code.chars().all(|c| c.is_ascii_lowercase() || c == '-' || c.is_ascii_digit())));
    assert!(all().iter().all(|entry| !entry.help.is_empty() && !entry.why.is_empty() && !entry.source.is_empty()));
}

#[test]
fn every_code_that_is_raised_is_listed() {
    let missing: Vec<String> = raised().into_iter().filter(|code| entry(code).is_none()).collect();
    assert!(missing.is_empty(), "not in the catalogue: {missing:?}");
}

#[test]
fn every_listed_code_is_raised() {
    let raised = raised();
    // Named by the source that finds them, not where the finding is made; wording rules by their own list.
    let elsewhere = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("src/source/problem.rs"));
    let elsewhere = elsewhere.expect("a source file can be read");
    let silent = all().iter().filter(|entry| entry.class != Class::Note).map(|entry| entry.code);
    let silent: Vec<&str> =
        silent.filter(|code| !raised.contains(*code) && !elsewhere.contains(&format!("\"{code}\""))).collect();
    assert!(silent.is_empty(), "listed and never raised: {silent:?}");
}
