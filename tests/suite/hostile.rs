//! What strangers' repositories and odd arguments make the program print and write. What is in reports is tested beside
//! their code.

use crate::support::TestRepo;

const ESCAPE: &str = "\u{1b}[2J\u{1b}]0;x\u{7}\u{9b}31m\u{202e}";

/// Neither stream holds anything that a terminal acts on.
#[track_caller]
fn inert(repo: &TestRepo, arguments: &[&str]) -> String {
    let run = repo.run(arguments);
    let both = format!("{}{}", run.out, run.err);
    assert!(!both.is_empty(), "{arguments:?} says nothing");
    let acts = |c: char| (c.is_control() && !matches!(c, '\n' | '\r')) || c == '\u{202e}';
    assert!(!both.contains(acts), "{arguments:?}: {both:?}");
    both
}

#[test]
fn arguments_come_back_harmless() {
    let repo = TestRepo::demo();
    let name = format!("x{ESCAPE}");
    for arguments in [
        &["before", &name] as &[&str],
        &["show", &name],
        &["history", &name],
        &["explain", &name],
        &["changes", &name],
        &["changes", "--since", &name],
        &["matrix", "--at", &name],
        &["packet", &name],
        &["concepts", &name],
        &["impact", &name],
        &["impact", &name, "--revision", &name],
        &["packet", "hot-fire", "--since", &name],
        &["packet", "hot-fire", "-o", &format!("none/{name}")],
        &["sign", &name, "--by", "x"],
        &["mark", &name, "--by", "x", "--because", "x"],
        &["new", "test", "--for", &name],
        &["matrix", "--project", &name],
        &["matrix", "--format", &name],
        &["matrix", "--today", &name],
        &["demo", &format!("README.md/{name}")],
        &[&name],
    ] {
        assert_eq!(repo.run(arguments).code, 2, "{arguments:?}");
        let said = inert(&repo, arguments);
        // The parser of arguments takes some of it out by itself.
        assert!(said.contains("U+009B"), "{arguments:?} does not say what it was given: {said}");
    }
    assert!(repo.changed().is_empty(), "{:?}", repo.changed());
}

#[cfg(unix)]
#[test]
fn a_hostile_project_prints_nothing_that_acts_and_writes_nowhere_else() {
    let repo = TestRepo::demo();
    repo.write(
        &format!("requirements/{ESCAPE}\n<script>.md"),
        &format!("+++\nkind = \"requirement\"\n{ESCAPE}\n+++\n"),
    );
    repo.write(
        &format!("notes{ESCAPE}.md"),
        &format!("+++\nkind = \"analysis\"\nid = \"AN-9\"\ntitle = \"{ESCAPE}\"\n+++\n"),
    );
    repo.write(
        "slipmark.toml",
        &repo.read("slipmark.toml").replace("hot-fire", "../../hot\\u001b[2J\\u202e<script>-fire"),
    );
    for format in ["text", "markdown", "csv"] {
        for command in [&["check"] as &[&str], &["matrix"], &["changes", "PDR"], &["history", "ACT-010"]] {
            let arguments: Vec<&str> = command.iter().copied().chain(["--format", format]).collect();
            inert(&repo, &arguments);
        }
    }
    let event = "../../hot\u{1b}[2J\u{202e}<script>-fire";
    inert(&repo, &["before", event]);
    inert(&repo, &["packet", event, "-o", "-"]);
    let folder = repo.path().join("out");
    std::fs::create_dir(&folder).expect("a folder");
    let run = repo.run_at(&folder, crate::support::TODAY, &["packet", event]).ended(0);
    assert!(!run.out.contains('\u{1b}'), "{:?}", run.out);
    let names: Vec<String> = std::fs::read_dir(&folder)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("a plain name"))
        .collect();
    assert_eq!(names.len(), 1, "{names:?}");
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-');
    assert!(names[0].starts_with("hot-") && names[0].chars().all(plain), "{names:?}");
}
