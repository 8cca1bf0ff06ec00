//! The catalogue against the source: every code that is raised is listed, and every listed code is raised.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::{Class, NOTES, all};

/// The list of all codes: a code that people may have written down must not vanish unseen.
const CODES: &str = include_str!("../../../tests/checks/codes.txt");

#[test]
fn codes_are_sorted_unique_and_kebab_case() {
    assert!(all().windows(2).all(|pair| pair[0].code < pair[1].code));
    for entry in all() {
        let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        assert!(entry.code.chars().all(fits) && !entry.code.starts_with('-') && !entry.code.ends_with('-'));
        assert!(entry.why.ends_with('.') && !entry.why.starts_with(char::is_lowercase), "{}", entry.code);
        for line in [entry.summary, entry.help] {
            assert!(!line.is_empty() && !line.ends_with('.') && !line.contains('\n'), "{}: {line}", entry.code);
        }
        assert!(!entry.source.is_empty());
        assert_eq!(entry.example.is_some(), entry.class == Class::Note, "{}", entry.code);
    }
}

#[test]
fn the_list_of_codes_is_the_published_one() {
    let now: Vec<String> = all().iter().map(|entry| format!("{} {}", entry.class.word(), entry.code)).collect();
    let published: Vec<&str> = CODES.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(now, published, "tests/checks/codes.txt");
}

#[test]
fn every_code_raised_is_listed_and_every_listed_code_is_raised() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    rust_files(&root, &mut files);
    let mut raised = BTreeSet::new();
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let text = text.split("#[cfg(test)]").next().unwrap_or("");
        raised.extend(codes_in(text).into_iter().map(str::to_string));
        if path.ends_with("source/problem.rs") {
            raised.extend(problem_codes(text).into_iter().map(str::to_string));
        }
    }
    assert!(raised.len() > 50, "the search finds what is raised");
    let listed: BTreeSet<String> =
        all().iter().filter(|entry| entry.class != Class::Note).map(|entry| entry.code.to_string()).collect();
    let notes: BTreeSet<String> = NOTES.iter().map(|entry| entry.code.to_string()).collect();
    let unlisted: Vec<&String> =
        raised.iter().filter(|code| !listed.contains(*code) && !notes.contains(*code)).collect();
    assert!(unlisted.is_empty(), "raised and not listed: {unlisted:?}");
    let silent: Vec<&String> = listed.difference(&raised).collect();
    assert!(silent.is_empty(), "listed and never raised: {silent:?}");
}

/// Codes written as the first argument of what makes a finding.
fn codes_in(text: &str) -> Vec<&str> {
    let makers = ["Finding::new(", "Finding::at(", "trouble(", "Trouble::new("];
    let starts = makers.iter().flat_map(|maker| text.match_indices(maker).map(move |(at, _)| at + maker.len()));
    starts.filter_map(|at| text[at..].trim_start().strip_prefix('"')?.split('"').next()).collect()
}

/// The codes of [`crate::source::SourceProblem`]: `=> "code",` in its one function of codes.
fn problem_codes(text: &str) -> Vec<&str> {
    let body = text.split("fn code(").nth(1).unwrap_or("").split("fn ").next().unwrap_or("");
    body.split("=> \"").skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

fn rust_files(folder: &Path, files: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = folder.read_dir().unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            rust_files(&path, files);
        } else if path.extension().is_some_and(|end| end == "rs") && !path.ends_with("tests.rs") {
            files.push(path);
        }
    }
}
