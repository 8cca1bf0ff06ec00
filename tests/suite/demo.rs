use crate::support::TestRepo;

#[test]
fn the_same_example_each_time_and_nothing_beside_it() {
    let repo = TestRepo::folder();
    let first = repo.run(&["demo", "."]).ended(0);
    let head = repo.head();
    assert!(first.out.contains("open before hot-fire"), "{}", first.out);
    assert_eq!(repo.changed(), Vec::<String>::new());
    let second = repo.run(&["demo", "."]).ended(0);
    assert_eq!((repo.head(), repo.changed()), (head, Vec::new()));
    let after_heading = |out: &str| out.split_once('\n').map(|(_, rest)| rest.to_string());
    assert_eq!(after_heading(&first.out), after_heading(&second.out));
}

#[test]
fn it_answers_what_it_says_it_answers() {
    let repo = TestRepo::folder();
    let out = repo.run(&["demo", "stand"]).ended(0).out;
    let parts: Vec<&str> = out.split("\n$ slipmark ").collect();
    let [_, before, changes, packet] = parts[..] else { panic!("{} commands in\n{out}", parts.len() - 1) };

    let answer = |part: &str| part.split_once("\n\n").expect("an answer").1.to_string();
    assert!(before.starts_with("before hot-fire --project stand\n"), "{before}");
    let said = repo.run(&["before", "hot-fire", "--project", "stand"]).ended(1).out;
    assert_eq!(answer(before), said);

    assert!(changes.starts_with("changes PDR..HEAD --project stand\n"), "{changes}");
    let (shown, more) = changes.split_once("\n… and ").expect("not all changes are shown");
    let all = repo.run(&["changes", "PDR..HEAD", "--project", "stand"]).ended(0).out;
    assert!(all.starts_with(&answer(shown)), "{shown}");
    let listed = repo.run(&["changes", "PDR..HEAD", "--project", "stand", "--format", "json"]).ended(0).json();
    let in_all = listed["changes"].as_array().expect("changes").len();
    let in_demo = answer(shown).split("\n\n").count() - 1;
    assert!(more.starts_with(&format!("{} more", in_all - in_demo)), "{in_all} {in_demo} {more}");

    assert!(packet.starts_with("packet hot-fire -o stand-packet.html --project stand\n"), "{packet}");
    assert!(repo.read("stand-packet.html").contains("15 open before hot-fire"));
    assert!(out.lines().count() < 180, "{} lines are too many to look through", out.lines().count());
}

#[test]
fn a_folder_with_a_space_is_quoted_where_it_is_typed() {
    let repo = TestRepo::folder();
    let out = repo.run(&["demo", "my stand"]).ended(0).out;
    assert!(out.contains("$ slipmark packet hot-fire -o \"my stand-packet.html\" --project \"my stand\"\n"), "{out}");
    assert!(out.contains("  cd \"my stand\"\n"), "{out}");
}

#[test]
fn what_it_shows_does_not_depend_on_the_day() {
    let repo = TestRepo::demo();
    let shown = |today| repo.run_at(repo.path(), today, &["demo", "."]).ended(0).out;
    assert_eq!(shown("2026-06-16"), shown("2031-01-01"));
}

#[test]
fn anything_else_is_left_alone() {
    let repo = TestRepo::demo();
    repo.write("notes.txt", "mine");
    let run = repo.run(&["demo", "."]).ended(2);
    assert!(run.err.contains("nothing was written"), "{}", run.err);
    assert_eq!(repo.read("notes.txt"), "mine");

    let changed = TestRepo::demo();
    changed.replace("records/TR-010.md", "1.21", "1.22");
    let mine = changed.read("records/TR-010.md");
    changed.run(&["demo", "."]).ended(2);
    assert_eq!(changed.read("records/TR-010.md"), mine);

    let folder = TestRepo::folder();
    folder.write("here.txt", "a file");
    folder.run(&["demo", "here.txt"]).ended(2);
    assert_eq!(folder.read("here.txt"), "a file");
}

#[test]
fn the_commands_that_it_names_work() {
    let repo = TestRepo::demo();
    let quiet = repo.run(&["before", "leak-check", "--at", "TRR-1"]).ended(0);
    assert!(quiet.out.contains("Nothing that this project lists before leak-check is open."), "{}", quiet.out);
    assert_eq!(repo.state("MOV-060", "MOV"), "closed");
    let shown = repo.run(&["demo", "."]).ended(0).out;
    let named = shown.split_once("To try next").expect("what to try").1;
    let commands: Vec<&str> = named.lines().filter_map(|line| line.trim().strip_prefix("slipmark ")).collect();
    assert!(commands.len() >= 5, "{named}");
    for command in commands {
        let words: Vec<String> = words(command);
        repo.run(&words.iter().map(String::as_str).collect::<Vec<_>>()).ended(0);
    }
}

/// A command line with double quotes, as a shell would cut it.
fn words(command: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (at, part) in command.split('"').enumerate() {
        if at % 2 == 1 {
            words.push(part.to_string());
        } else {
            words.extend(part.split_whitespace().map(str::to_string));
        }
    }
    words
}
