//! What the README shows is what the program does and what the example holds; `…` stands for what is left out.

use std::path::Path;

use crate::support::TestRepo;

/// The blocks of a language, each as its lines.
fn blocks(language: &str) -> Vec<Vec<String>> {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let readme = std::fs::read_to_string(readme).expect("the README");
    let open = format!("```{language}\n");
    let parts = readme.split(&open).skip(1).filter_map(|rest| rest.split("\n```").next());
    parts.map(|part| part.lines().map(str::to_string).collect()).collect()
}

/// Fails unless the lines stand in the text, in this order and without a gap other than at `…`.
#[track_caller]
fn stands_in(lines: &[String], text: &str) {
    let real: Vec<&str> = text.lines().collect();
    let mut at = 0;
    for stretch in lines.split(|line| line == "…").filter(|stretch| !stretch.is_empty()) {
        let found = (at..real.len())
            .find(|from| real[*from..].iter().zip(stretch).filter(|(a, b)| *a == b).count() == stretch.len());
        let found =
            found.unwrap_or_else(|| panic!("the README shows\n{}\nand this is so:\n{text}", stretch.join("\n")));
        at = found + stretch.len();
    }
}

#[test]
fn answers_are_real() {
    let repo = TestRepo::demo();
    let mut shown = 0;
    for block in blocks("console") {
        let (command, answer) = block.split_first().expect("a command");
        let Some(command) = command.strip_prefix("$ slipmark ").filter(|_| !answer.is_empty()) else { continue };
        let run = repo.run(&command.split_whitespace().collect::<Vec<_>>());
        stands_in(answer, &run.out);
        shown += 1;
    }
    assert!(shown >= 3, "{shown}");
}

#[test]
fn files_are_those_of_the_example() {
    let repo = TestRepo::demo();
    for (block, path) in blocks("toml").iter().zip(["requirements/actuator/ACT-010.md", "records/TR-005.md"]) {
        stands_in(block, &repo.read(path));
    }
    assert_eq!(blocks("toml").len(), 2);
}
