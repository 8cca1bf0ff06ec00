//! The cases of `tests/checks`: projects in Markdown, with what must be found in them.
//!
//! A case starts from the project of `base.md`, in which nothing is wrong and everything is closed, and changes it. How a
//! case is written is said in `tests/checks/README.md`.

mod case;
mod sentences;
mod world;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use crate::diag::{Class, Switch, catalogue};
use crate::state::REASONS;
use case::Case;

/// The cases of the folder and its `states`, in the order of their paths; then one for each sentence of the wording rules.
fn cases() -> Vec<Case> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks");
    let base = std::fs::read_to_string(root.join("base.md")).unwrap();
    let base = Case::read("base", &base, None);
    let mut cases: Vec<Case> = Vec::new();
    for path in files(&root).into_iter().chain(files(&root.join("states"))) {
        let name = path.strip_prefix(&root).unwrap().with_extension("").display().to_string();
        if name != "README" {
            let text = std::fs::read_to_string(&path).unwrap();
            cases.push(Case::read(&name, &text, (name != "base").then_some(&base)));
        }
    }
    cases.extend(sentences::cases(&base));
    cases
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = folder.read_dir().unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|end| end == "md"));
    files.sort();
    files
}

/// Codes that only a repository can raise; their cases are with the guard, in `history/tests`.
const NEEDS_HISTORY: &[&str] = &["shallow-history", "unreadable-baseline", "vanished"];

/// Every code that something can be turned off by.
fn codes() -> Vec<&'static str> {
    let findings = catalogue::all().iter().map(|entry| entry.code).filter(|code| !NEEDS_HISTORY.contains(code));
    findings.chain(REASONS.iter().map(|entry| entry.code)).collect()
}

#[test]
fn no_finding_has_the_code_of_a_reason() {
    let reasons: BTreeSet<&str> = REASONS.iter().map(|entry| entry.code).collect();
    let both: Vec<&str> =
        catalogue::all().iter().map(|entry| entry.code).filter(|code| reasons.contains(code)).collect();
    assert!(both.is_empty(), "{both:?}");
}

#[test]
fn every_case_holds() {
    let wrong: Vec<String> = cases().iter().filter_map(|case| case.wrong(Switch::default())).collect();
    assert!(wrong.is_empty(), "{} cases\n\n{}", wrong.len(), wrong.join("\n\n"));
}

#[test]
fn every_code_has_a_case_named_after_it_or_a_sentence() {
    let cases = cases();
    let missing: Vec<&str> = codes()
        .into_iter()
        .filter(|code| {
            let named = |case: &&Case| case.name.rsplit('/').next() == Some(code);
            !cases.iter().find(named).is_some_and(|case| case.expects(code))
        })
        .collect();
    assert!(missing.is_empty(), "no case for {missing:?}");
}

#[test]
fn every_code_is_needed_by_a_case() {
    let cases = cases();
    let needless: Vec<&str> = codes()
        .into_iter()
        .filter(|code| {
            let mut about = cases.iter().filter(|case| case.expects(code));
            !about.any(|case| case.wrong(Switch::off(code)).is_some())
        })
        .collect();
    assert!(needless.is_empty(), "nothing changes without {needless:?}");
}

#[test]
fn nothing_is_wrong_in_the_base() {
    let all = cases();
    let base = all.iter().find(|case| case.name == "base").unwrap();
    let (findings, rows) = base.outcome(Switch::default());
    assert!(findings.is_empty(), "{findings:?}");
    assert!(!rows.is_empty() && rows.iter().all(|row| row.text == "closed"), "{rows:?}");
    assert!(all.iter().any(|case| case.expects_class(Class::Gap)));
}
