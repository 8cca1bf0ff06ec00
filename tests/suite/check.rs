//! The findings in every form: the same ones, and the same end.

use serde_json::Value;

use crate::support::TestRepo;

/// The findings as JSON lists them: code, class, and where.
fn listed(answer: &Value) -> Vec<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap_or("").to_string();
    let findings = answer["findings"].as_array().expect("findings").iter();
    findings.map(|it| (text(&it["code"]), text(&it["class"]), format!("{}:{}", it["line"], it["column"]))).collect()
}

/// The same as SARIF lists them.
fn results(log: &Value) -> Vec<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap_or("").to_string();
    let results = log["runs"][0]["results"].as_array().expect("results").iter();
    results
        .map(|it| {
            let region = &it["locations"][0]["physicalLocation"]["region"];
            let place = format!("{}:{}", region["startLine"], region["startColumn"]);
            (text(&it["ruleId"]), text(&it["properties"]["class"]), place)
        })
        .collect()
}

#[test]
fn every_form_has_the_same_findings_and_ends_the_same() {
    let repo = TestRepo::demo();
    for (more, fails) in [
        (&[] as &[&str], &["fault"] as &[&str]),
        (&["--gaps"], &["fault", "gap"]),
        (&["--strict"], &["fault", "warning"]),
        (&["--gaps", "--strict", "--notes"], &["fault", "gap", "warning"]),
    ] {
        let run = |form: &str| repo.run(&[&["check", "--format", form], more].concat());
        let json = run("json");
        let code = json.code;
        let all = listed(&json.json());
        assert!(all.len() > 1, "{all:?}");
        assert_eq!(code, i32::from(all.iter().any(|(_, class, _)| fails.contains(&class.as_str()))));
        assert_eq!(results(&run("sarif").ended(code).json()), all);
        let junit = run("junit").ended(code).out;
        let failing = all.iter().filter(|(_, class, _)| fails.contains(&class.as_str())).count();
        assert_eq!(junit.matches("<failure ").count(), failing, "{junit}");
        assert_eq!(junit.matches("<skipped ").count(), all.len() - failing, "{junit}");
        for form in ["text", "markdown", "csv"] {
            run(form).ended(code);
        }
    }
}

/// A path is one from the top of the work tree, where whoever shows the findings looks for it.
#[test]
fn a_project_below_the_top_has_paths_from_the_top() {
    let repo = TestRepo::folder();
    repo.run(&["init", "the stand", "--name", "Stand"]).ended(0);
    let top = TestRepo::folder();
    std::fs::rename(repo.path().join("the stand"), top.path().join("the stand")).expect("moved");
    std::fs::remove_dir_all(top.path().join("the stand/.git")).expect("a repository of its own");
    top.git(&["init", "--quiet"]);
    top.write("the stand/bad.md", "+++\nkind = \"requirment\"\n+++\n");
    let log = top.run(&["check", "--project", "the stand", "--format", "sarif"]).ended(1).json();
    let results = log["runs"][0]["results"].as_array().expect("results");
    let own = results.iter().find(|it| it["ruleId"] == "unknown-kind").expect("it is found");
    assert_eq!(own["locations"][0]["physicalLocation"]["artifactLocation"]["uri"], "the%20stand/bad.md");
}

#[test]
fn without_an_answer_there_is_no_document() {
    let repo = TestRepo::folder();
    for form in ["sarif", "junit"] {
        let run = repo.run(&["check", "--format", form]).ended(2);
        assert!(run.out.is_empty() && run.err.contains("error"), "{run:?}");
    }
}
