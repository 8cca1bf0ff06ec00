//! Findings for programs that show them beside the lines they are about: SARIF 2.1.0 (OASIS Standard, 2020, with errata 01 of 2023).
//!
//! Sections of the standard stand beside what follows them. Only the rules that something was found by are listed, each with what
//! `explain` says of it.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::analysis::hex;
use crate::source::PROJECT_FILE;
use crate::text::encoded;

use super::view::{CheckView, FindingView, PlaceView, explain};
use super::{ReportError, json};

const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// What paths are relative to (3.14.14): whoever shows the findings knows where the work tree is.
const TOP: &str = "%SRCROOT%";

/// The findings as a SARIF log with one run; `prefix` is the project's folder from the top of the work tree.
///
/// # Errors
/// If a value cannot be written, which no view holds.
pub fn render(view: &CheckView, prefix: &str) -> Result<String, ReportError> {
    let mut codes: Vec<&'static str> = view.findings.iter().map(|finding| finding.code).collect();
    codes.sort_unstable();
    codes.dedup();
    let rules: Vec<Value> = codes.iter().filter_map(|code| rule(code)).collect();
    let mut seen = BTreeMap::new();
    let results = view.findings.iter().map(|finding| {
        let mut result = result(finding, prefix);
        result["ruleIndex"] = json!(codes.binary_search(&finding.code).unwrap_or(0));
        result["partialFingerprints"] = json!({ "codeAndLine/v1": fingerprint(finding, &mut seen) });
        result
    });
    let results: Vec<Value> = results.collect();
    json::render(&json!({
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": {
                "name": "slipmark",
                "version": env!("CARGO_PKG_VERSION"),
                "semanticVersion": env!("CARGO_PKG_VERSION"),
                "rules": rules,
            } },
            "invocations": [{ "executionSuccessful": true }],
            "originalUriBaseIds": { TOP: { "description": { "text": "the top of the git work tree" } } },
            "columnKind": "unicodeCodePoints",
            "results": results,
        }],
    }))
}

/// What `explain` says of a code (3.49).
fn rule(code: &str) -> Option<Value> {
    let topic = explain(code).into_iter().find(|topic| level(topic.sort).is_some())?;
    let mut more = Vec::new();
    more.extend(topic.why.clone());
    more.extend(topic.help.map(|help| format!("To do: {help}.")));
    more.extend(topic.bad.map(|bad| format!("Instead of: {bad}")));
    more.extend(topic.good.map(|good| format!("write: {good}")));
    more.push(format!("Source: {}.", topic.source));
    Some(json!({
        "id": topic.topic,
        "shortDescription": { "text": message(topic.summary) },
        "fullDescription": { "text": message(&topic.why.unwrap_or_else(|| topic.summary.to_string())) },
        "help": { "text": message(&more.join("\n")) },
        "defaultConfiguration": { "level": level(topic.sort) },
        "properties": { "tags": [topic.sort] },
    }))
}

/// The level of a class (3.27.10): a fault or a gap counts as open, and no project can make less of it.
fn level(class: &str) -> Option<&'static str> {
    match class {
        "fault" | "gap" => Some("error"),
        "warning" => Some("warning"),
        "note" => Some("note"),
        _ => None,
    }
}

/// One finding (3.27). What is about the project as a whole is shown at the project's file: without a place most viewers would drop it.
fn result(finding: &FindingView, prefix: &str) -> Value {
    let path = finding.path.as_deref().unwrap_or(PROJECT_FILE);
    let mut place = json!({ "artifactLocation": artifact(prefix, path) });
    if let Some(region) = region(finding) {
        place["region"] = region;
    }
    let mut result = json!({
        "ruleId": finding.code,
        "ruleIndex": 0,
        "level": level(finding.class),
        "message": { "text": message(&format!("{}\nTo do: {}", finding.message, finding.help)) },
        "locations": [{ "physicalLocation": place }],
        "properties": { "class": finding.class },
    });
    if !finding.also.is_empty() {
        let also = finding.also.iter().enumerate().map(|(at, place)| related(at, place, prefix));
        result["relatedLocations"] = also.collect();
    }
    result
}

/// From where to where (3.30): lines and columns count from 1, columns in code points; the end is the column after the last.
fn region(finding: &FindingView) -> Option<Value> {
    let (line, column) = (finding.line?, finding.column?);
    let mut region = json!({ "startLine": line, "startColumn": column });
    if let Some(excerpt) = &finding.excerpt {
        let length = excerpt.text.get(excerpt.start..excerpt.end).map_or(0, |part| part.chars().count());
        region["endColumn"] = json!(column + length);
    }
    Some(region)
}

fn related(at: usize, place: &PlaceView, prefix: &str) -> Value {
    json!({
        "id": at,
        "physicalLocation": {
            "artifactLocation": artifact(prefix, &place.path),
            "region": { "startLine": place.line, "startColumn": place.column },
        },
        "message": { "text": message(&place.label) },
    })
}

fn artifact(prefix: &str, path: &str) -> Value {
    let between = if prefix.is_empty() { "" } else { "/" };
    json!({ "uri": uri(&format!("{prefix}{between}{path}")), "uriBaseId": TOP })
}

/// A path as a relative reference (RFC 3986, 4.2).
fn uri(path: &str) -> String {
    path.split('/').map(encoded).collect::<Vec<_>>().join("/")
}

/// A plain text message: braces would be placeholders (3.11.5) and brackets a link (3.11.6).
fn message(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '{' => out.push_str("{{"),
            '}' => out.push_str("}}"),
            '[' | ']' | '\\' => out.extend(['\\', character]),
            other => out.push(other),
        }
    }
    out
}

/// What tells a finding from others in its file, wherever the lines before it move it (3.27.18): the code and the line's text, or
/// without a line what was found; and of several that agree in those, which one it is.
fn fingerprint(finding: &FindingView, seen: &mut BTreeMap<(String, String), usize>) -> String {
    let line = finding.excerpt.as_ref().map_or(finding.message.as_str(), |excerpt| excerpt.text.trim());
    let own = hex(&Sha256::digest(format!("{}\0{line}", finding.code)))[..24].to_string();
    let count = seen.entry((finding.path.clone().unwrap_or_default(), own.clone())).or_default();
    *count += 1;
    format!("{own}:{count}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::{self, Request};
    use crate::source::Memory;

    /// The findings about one file.
    fn of(name: &str, text: &str) -> Value {
        let files = Memory::new().file("slipmark.toml", "name = \"x\"\nevents = [\"hot-fire\"]\n").file(name, text);
        let analysis = analysis::run(&files, Request::on(jiff::civil::date(2026, 6, 1))).unwrap();
        let view = CheckView::of(analysis.findings.iter(), &analysis.sources, &analysis.model.config, false);
        serde_json::from_str(&render(&view, "my project").unwrap()).unwrap()
    }

    /// The only result of a code.
    fn only<'v>(log: &'v Value, code: &str) -> &'v Value {
        let results = log["runs"][0]["results"].as_array().unwrap();
        let own: Vec<&Value> = results.iter().filter(|result| result["ruleId"] == code).collect();
        assert_eq!(own.len(), 1, "{results:#?}");
        own[0]
    }

    const REQUIREMENT: &str = "+++\nkind = \"requirement\"\nid = \"A-1\"\ntitle = \"x\"\nsource = \"x\"\n";

    #[test]
    fn a_place_is_a_percent_encoded_path_with_columns_in_code_points() {
        let log = of("a [1] é:%.md", &format!("{REQUIREMENT}𝛑é = 1\n+++\nThe stand shall hold.\n"));
        let place = &only(&log, "unknown-key")["locations"][0]["physicalLocation"];
        assert_eq!(
            place["artifactLocation"],
            json!({ "uri": "my%20project/a%20%5B1%5D%20%C3%A9%3A%25.md", "uriBaseId": TOP })
        );
        assert_eq!(place["region"], json!({ "startLine": 6, "startColumn": 1, "endColumn": 3 }));
        assert_eq!(log["runs"][0]["columnKind"], "unicodeCodePoints");
        assert!(log["runs"][0]["originalUriBaseIds"].get(TOP).is_some());
    }

    #[test]
    fn the_level_is_that_of_the_class_and_the_rule_is_found_by_its_index() {
        let log = of("a.md", &format!("{REQUIREMENT}what = 1\n+++\nThe stand shall hold.\n"));
        for (code, level) in [("unknown-key", "error"), ("no-plan-entry", "error")] {
            let result = only(&log, code);
            assert_eq!(result["level"], level);
            let index = usize::try_from(result["ruleIndex"].as_u64().unwrap()).unwrap();
            let rule = &log["runs"][0]["tool"]["driver"]["rules"][index];
            assert_eq!(rule["id"], code);
            assert!(rule["help"]["text"].as_str().unwrap().contains("Source: "), "{rule}");
        }
        // A warning is one, as long as the project does not say otherwise.
        let orphan = of(
            "a.md",
            &REQUIREMENT
                .replace("source = \"x\"\n", "verify = [{ method = \"analysis\" }]\n+++\nThe stand shall hold.\n"),
        );
        assert_eq!(only(&orphan, "orphan-requirement")["level"], "warning");
    }

    #[test]
    fn what_is_told_apart_stays_so_when_lines_move() {
        let print = |text: &str| {
            let log = of("a.md", text);
            log["runs"][0]["results"]
                .as_array()
                .unwrap()
                .iter()
                .map(|it| it["partialFingerprints"].to_string())
                .collect::<Vec<_>>()
        };
        let before = print(&format!(
            "{REQUIREMENT}what = 1\n[criteria]\nx = {{ maks = 1 }}\ny = {{ maks = 1 }}\n+++\nIt shall hold.\n"
        ));
        let moved = print(&format!(
            "{REQUIREMENT}# why\n\nwhat = 1\n\n[criteria]\nx = {{ maks = 1 }}\ny = {{ maks = 1 }}\n+++\nIt shall hold.\n"
        ));
        assert_eq!(before, moved);
        let distinct: std::collections::BTreeSet<&String> = before.iter().collect();
        assert_eq!(distinct.len(), before.len(), "{before:?}");
    }

    #[test]
    fn words_of_files_are_neither_links_nor_placeholders() {
        assert_eq!(message("at [a](b) {0} c:\\d"), "at \\[a\\](b) {{0}} c:\\\\d");
        let log = of("a.md", &format!("{REQUIREMENT}\"[a](b){{0}}\" = 1\n+++\nThe stand shall hold.\n"));
        let text = only(&log, "unknown-key")["message"]["text"].as_str().unwrap().to_string();
        assert!(text.contains("\\[a\\](b){{0}}") && text.contains("\nTo do: "), "{text}");
    }
}
