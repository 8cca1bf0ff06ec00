//! The project as a folder of pages: that it holds the answer, leads nowhere but into itself, repeats, and is written
//! only where nothing else stands.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use sha2::{Digest, Sha256};

use crate::support::{TestRepo, files};

/// The pages about the hot fire, in a folder beside the repository.
#[track_caller]
fn made(repo: &TestRepo, folder: &str, more: &[&str]) -> (PathBuf, BTreeMap<String, Vec<u8>>) {
    let arguments: Vec<&str> = ["packet", "hot-fire", "--site", folder].iter().chain(more).copied().collect();
    repo.run(&arguments).ended(0);
    let path = repo.path().join(folder);
    let files = files(&path);
    (path, files)
}

fn text(files: &BTreeMap<String, Vec<u8>>, name: &str) -> String {
    let bytes = files.get(name).unwrap_or_else(|| panic!("no {name}"));
    String::from_utf8(bytes.clone()).expect("UTF-8").replace("&#x2f;", "/")
}

#[test]
fn it_says_what_it_wrote_and_the_list_holds_every_file() {
    let repo = TestRepo::demo();
    let run = repo.run(&["packet", "hot-fire", "--site", "../site"]).ended(0);
    let files = files(&repo.path().join("../site"));
    assert_eq!(run.out, format!("../site/index.html\n{} files\n15 open before hot-fire.\n", files.len()));
    assert_eq!(run.err, "");
    let list = text(&files, "contents.txt");
    let listed: BTreeMap<&str, &str> =
        list.lines().map(|line| line.split_once("  ").expect("two spaces")).map(|(hash, path)| (path, hash)).collect();
    let others = files.iter().filter(|(name, _)| *name != "contents.txt");
    let hash = |bytes: &[u8]| Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    let held: BTreeMap<&str, String> = others.map(|(name, bytes)| (name.as_str(), hash(bytes))).collect();
    assert_eq!(listed, held.iter().map(|(name, hash)| (*name, hash.as_str())).collect());
    assert!(repo.changed().is_empty(), "nothing is written but the folder");
}

#[test]
fn the_same_commit_gives_the_same_bytes() {
    let repo = TestRepo::demo();
    assert_eq!(made(&repo, "../one", &[]).1, made(&repo, "../two", &[]).1);
    // And in the place of an earlier one.
    assert_eq!(made(&repo, "../one", &[]).1, made(&repo, "../two", &[]).1);
}

#[test]
fn every_row_of_the_answer_is_there_with_its_state() {
    let repo = TestRepo::demo();
    let (_, files) = made(&repo, "../site", &[]);
    let before = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
    let (front, matrix) = (text(&files, "index.html"), text(&files, "matrix.html"));
    let rows = before["rows"].as_array().expect("rows");
    // Of each requirement, the states in the order of entries and subjects, as the matrix has them.
    let mut expected: Vec<(String, String, String)> = Vec::new();
    for row in rows {
        let word = |key: &str| row[key].as_str().unwrap_or_default().to_string();
        expected.push((word("requirement"), word("subject"), word("state")));
        let open = !["closed", "waived"].contains(&word("state").as_str());
        let line = format!("<a href=\"requirement/{}.html\"", word("requirement"));
        assert!(!open || front.contains(&line), "{} is not on the first page", word("requirement"));
    }
    let shown = matrix.split("<tr id=\"m").skip(1).map(|row| {
        let row = row.split("</tr>").next().expect("its end");
        let cell = row
            .split("<td data-label=\"requirement\">")
            .nth(1)
            .expect("a cell")
            .split("</td>")
            .next()
            .expect("its end");
        let words: Vec<&str> =
            cell.split('>').filter_map(|part| part.split('<').next()).filter(|it| !it.trim().is_empty()).collect();
        let state = row.split("class=\"state s-").nth(1).expect("a state").split('"').next().expect("its end");
        (words[0].to_string(), words.get(1).unwrap_or(&"").to_string(), state.replace('-', " "))
    });
    let mut shown: Vec<(String, String, String)> = shown.collect();
    shown.sort();
    expected.sort();
    assert_eq!(shown, expected);
    for finding in before["gaps"].as_array().expect("gaps") {
        assert!(front.contains(finding["code"].as_str().expect("a code")));
    }
    for id in before["nonconformances"].as_array().expect("ids") {
        assert!(front.contains(&format!("href=\"nonconformance/{}.html\"", id.as_str().expect("an id"))));
    }
}

/// Every address in an attribute that loads or leads.
fn addresses(page: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for attribute in [" href=\"", " src=\"", " action=\""] {
        found.extend(page.split(attribute).skip(1).map(|rest| rest.split('"').next().unwrap_or("").to_string()));
    }
    found
}

#[test]
fn every_link_leads_to_a_file_beside_it_and_nothing_to_a_network() {
    let repo = TestRepo::demo();
    let (folder, files) = made(&repo, "../site", &[]);
    let mut count = 0;
    for name in files.keys().filter(|name| name.ends_with(".html")) {
        let page = text(&files, name);
        let own = folder.join(name);
        for address in addresses(&page) {
            if address.starts_with("data:image/") {
                continue;
            }
            assert!(!address.contains("//") && !address.starts_with('/'), "{name} names {address}");
            let (path, place) = address.split_once('#').unwrap_or((&address, ""));
            let target = if path.is_empty() { own.clone() } else { own.parent().expect("a folder").join(path) };
            assert!(target.is_file(), "{name} leads to {address}, where there is no file");
            let inside = target.canonicalize().expect("a path").starts_with(folder.canonicalize().expect("a path"));
            assert!(inside, "{name} leads out to {address}");
            let there = std::fs::read_to_string(&target).expect("a page");
            assert!(place.is_empty() || there.contains(&format!("id=\"{place}\"")), "{name} leads to {address}");
            count += 1;
        }
    }
    assert!(count > 2000, "{count}");
}

#[test]
fn only_a_folder_of_its_own_is_written_over() {
    let repo = TestRepo::demo();
    let (folder, _) = made(&repo, "../site", &[]);
    std::fs::write(folder.join("notes.txt"), "mine").expect("a file");
    let run = repo.run(&["packet", "hot-fire", "--site", "../site"]).ended(2);
    assert!(run.err.contains("notes.txt is not one of its files") && run.err.contains("--force"), "{}", run.err);
    made(&repo, "../site", &["--force"]);
    assert_eq!(std::fs::read(folder.join("notes.txt")).expect("still there"), b"mine");
    // A folder with something else in it: the project itself, say.
    let run = repo.run(&["packet", "hot-fire", "--site", "requirements"]).ended(2);
    assert!(run.err.contains("is no folder of slipmark's pages alone"), "{}", run.err);
    let run = repo.run(&["packet", "hot-fire", "--site", "."]).ended(2);
    assert!(run.err.contains("no name of its own"), "{}", run.err);
    let run = repo.run(&["packet", "hot-fire", "--site", "../none/site"]).ended(2);
    assert!(run.err.contains("site"), "{}", run.err);
    assert!(repo.changed().is_empty());
}

#[test]
fn pages_of_a_past_commit_and_of_changed_files_say_so() {
    let repo = TestRepo::demo();
    let at = repo.run(&["packet", "leak-check", "--at", "TRR-1", "--site", "../then"]).ended(0);
    assert!(at.out.contains("Nothing that this project lists before leak-check is open."), "{}", at.out);
    let then = files(&repo.path().join("../then"));
    assert!(text(&then, "index.html").contains("Nothing that this project lists before leak-check is open."));
    assert!(text(&then, "changes.html").contains("Changes since PDR"));
    repo.replace("requirements/actuator/ACT-020.md", "within 1.5 s", "within 1.4 s");
    let run = repo.run(&["packet", "hot-fire", "--site", "../now"]).ended(0);
    assert!(run.out.contains("DRAFT: 1 file not committed"), "{}", run.out);
    let now = files(&repo.path().join("../now"));
    assert!(text(&now, "requirement/ACT-020.html").contains("DRAFT: 1 file not committed"));
    // Inside the project it would be a file of it.
    let run = repo.run(&["packet", "hot-fire", "--site", "pages"]).ended(0);
    assert!(run.err.contains("lie inside the project"), "{}", run.err);
}
