//! The calculations of the example project, started from published cases: what a reader takes for a model has to be one.

#![allow(clippy::disallowed_methods, reason = "runs the program in a folder of its own")]

use std::path::Path;
use std::process::Command;

use serde::Deserialize;

use crate::comparison::Comparison;

#[derive(Deserialize)]
struct Published {
    row: Vec<Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    record: String,
    line: String,
    suppose: Vec<String>,
    source: String,
    published: String,
    relative: f64,
    because: Option<String>,
}

fn slipmark(folder: &Path, arguments: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_slipmark"));
    command.args(["--today", "2026-06-16"]).args(arguments).current_dir(folder).env_clear().env("HOME", folder);
    let output = command.output().expect("the program runs");
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).expect("UTF-8")
}

/// What a line of a record's calculation comes to: it is made a result of the record, since only results are given with all digits.
fn line(folder: &Path, row: &Row) -> f64 {
    let path = folder.join(format!("records/{}.md", row.record));
    let text = std::fs::read_to_string(&path).expect("a record of the example");
    let asked: String = text
        .lines()
        .map(|own| match own.split_once(" = { calc = ") {
            Some((result, _)) => format!("{result} = {{ calc = \"{}\" }}\n", row.line),
            None => format!("{own}\n"),
        })
        .collect();
    std::fs::write(&path, asked).expect("a file");
    let mut arguments = vec!["calc", row.record.as_str(), "--format", "json"];
    arguments.extend(row.suppose.iter().flat_map(|own| ["--what-if", own.as_str()]));
    let said: serde_json::Value = serde_json::from_str(&slipmark(folder, &arguments)).expect("JSON");
    std::fs::write(&path, text).expect("a file");
    let results = said["results"].as_array().expect("results");
    let found = results.iter().find(|own| own["name"] == row.line.as_str());
    found.and_then(|own| own["value"].as_f64()).unwrap_or_else(|| panic!("{} of {}: {said}", row.line, row.record))
}

#[test]
fn calculations_of_the_example() {
    let published: Published = toml::from_str(include_str!("example.toml")).expect("example.toml is well formed");
    let dir = tempfile::tempdir().expect("a temporary folder");
    slipmark(dir.path(), &["demo", "stand"]);
    let folder = dir.path().join("stand");
    let mut table = Comparison::new("calculations of the example");
    for row in &published.row {
        assert!(
            row.relative < 1e-4 || row.because.is_some(),
            "{} of {} is far off for no reason",
            row.line,
            row.record
        );
        let quantity = format!("{} {} {}", row.record, row.line, row.suppose.join(", "));
        table.close(&row.source, &quantity, &row.published, line(&folder, row), row.relative);
    }
    table.finish(25);
}
