//! The README: what it shows of the example is what the program says today.

use crate::support::TestRepo;

const README: &str = include_str!("../../README.md");

/// The fenced blocks of a language.
fn blocks(language: &str) -> Vec<&'static str> {
    let fence = format!("\n```{language}\n");
    README.split(&fence).skip(1).map(|rest| rest.split("\n```").next().expect("a block")).collect()
}

/// Fails unless the lines stand in the text one after another; after `…` some may be left out in between.
#[track_caller]
fn stands_in(shown: &str, text: &str) {
    let lines: Vec<&str> = text.lines().collect();
    let mut at = 0;
    let mut left_out = false;
    for line in shown.lines() {
        if line == "…" {
            left_out = true;
            continue;
        }
        let found = match left_out {
            true => lines.iter().skip(at).position(|own| *own == line).map(|more| at + more),
            false => lines.get(at).filter(|own| **own == line).map(|_| at),
        };
        let Some(found) = found else {
            panic!("the README shows\n{line}\nwhere there is\n{:?}\nof\n{text}", lines.get(at))
        };
        (at, left_out) = (found + 1, false);
    }
}

#[test]
fn the_tour_shows_what_the_program_says() {
    let repo = TestRepo::demo();
    let mut commands = 0;
    for block in blocks("console") {
        for shown in format!("\n{block}").split("\n$ ").skip(1) {
            let (command, output) = shown.split_once('\n').unwrap_or((shown, ""));
            let Some(arguments) = command.strip_prefix("slipmark ") else { continue };
            let said = repo.run(&arguments.split(' ').collect::<Vec<_>>()).out;
            stands_in(output, &said);
            commands += 1;
        }
    }
    assert_eq!(commands, 6, "each question of the tour is asked");
}

#[test]
fn its_pictures_are_there_and_small_and_have_words() {
    let mut bytes = 0;
    for picture in README.split("\n![").skip(1) {
        let (words, rest) = picture.split_once("](").expect("a picture");
        let path = rest.split(')').next().expect("its file");
        assert!(words.len() > 40, "{words}");
        let file = std::fs::read(path).unwrap_or_else(|error| panic!("{path}: {error}"));
        assert!(file.starts_with(b"\x89PNG"), "{path}");
        bytes += file.len();
    }
    assert!((1..250_000).contains(&bytes), "{bytes}");
}

#[test]
fn the_files_that_it_shows_are_the_example_s() {
    let mut shown = 0;
    for block in blocks("toml") {
        let id = block.split("id = \"").nth(1).and_then(|rest| rest.split('"').next()).expect("an id");
        let folders = ["requirements/actuator", "records", "procedures"];
        let path = folders
            .iter()
            .map(|folder| format!("reqs/{folder}/{id}.md"))
            .find(|path| std::fs::exists(path).is_ok_and(|is| is));
        let file = std::fs::read_to_string(path.unwrap_or_else(|| panic!("no file of {id}"))).expect("a file");
        stands_in(block, &file);
        shown += 1;
    }
    assert_eq!(shown, 3);
}

#[test]
fn the_picture_is_plain_and_names_what_there_is() {
    let picture = blocks("text")[0];
    let widest = picture.lines().map(|line| line.chars().count()).max().expect("lines");
    assert!(widest <= 100, "{widest} columns");
    for word in [
        "requirement",
        "criteria",
        "plan entry",
        "ROW",
        "event",
        "source",
        "parents",
        "decision",
        "item",
        "serial",
        "slot",
        "option",
        "record",
        "procedure",
        "instrument",
        "nonconformance",
        "waiver",
        "mark",
        "seal",
    ] {
        assert!(picture.contains(word), "{word} is not in the picture");
    }
    let repo = TestRepo::demo();
    let shown = repo.run(&["show", "MOV-030", "--format", "json"]).ended(0).out;
    assert!(picture.contains("m1-37dfc89ef354") && shown.contains("m1-37dfc89ef354"), "the mark is that of MOV-030");
}
