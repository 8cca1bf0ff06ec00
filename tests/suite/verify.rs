//! Whether a packet still holds: `packet --verify`. That every byte of a packet is covered is tested beside its code.

use sha2::{Digest, Sha256};

use crate::support::{Run, TestRepo};

/// How a packet may be written.
const ENDINGS: &[&str] = if cfg!(feature = "pdf") { &["html", "xlsx", "pdf"] } else { &["html", "xlsx"] };

/// A project with a packet beside it, and the packet's path.
fn with_packet(ending: &str, more: &[&str]) -> (TestRepo, String) {
    let repo = TestRepo::demo();
    let path = made(&repo, ending, more);
    (repo, path)
}

fn made(repo: &TestRepo, ending: &str, more: &[&str]) -> String {
    let name = repo.path().file_name().expect("a name").to_str().expect("a plain one");
    let path = format!("../{name}-packet.{ending}");
    let arguments: Vec<&str> = ["packet", "hot-fire", "-o", &path].iter().chain(more).copied().collect();
    repo.run(&arguments).ended(0);
    path
}

fn verify(repo: &TestRepo, path: &str) -> Run {
    repo.run(&["packet", "--verify", path])
}

/// The packet with some of it replaced, and its own hash worked out anew if it is to look untouched.
fn alter(repo: &TestRepo, path: &str, from: &str, to: &str, forged: bool) {
    let place = repo.path().join(path);
    let text = std::fs::read_to_string(&place).expect("a page");
    assert!(text.contains(from), "{from}");
    let mut text = text.replace(from, to);
    if forged {
        let label = "SHA-256 of this file, with zeros for these digits: ";
        let start = text.rfind(label).expect("a label") + label.len();
        text.replace_range(start..start + 64, &"0".repeat(64));
        let sum = Sha256::digest(&text);
        let hash: String = sum.iter().map(|byte| format!("{byte:02x}")).collect();
        text.replace_range(start..start + 64, &hash);
    }
    std::fs::write(place, text).expect("it is written");
}

#[test]
fn a_packet_holds_until_a_file_moves_and_then_says_which() {
    for ending in ENDINGS {
        let (repo, path) = with_packet(ending, &[]);
        let out = verify(&repo, &path).ended(0).out;
        assert!(out.contains("it is the same") && out.contains("\nthe packet matches\n"), "{out}");
        repo.replace("requirements/actuator/ACT-020.md", "within 1.5 s", "within 1.4 s");
        repo.write("records/NEW.md", "+++\nkind = \"analysis\"\nid = \"NEW-1\"\ntitle = \"N\"\n+++\n");
        std::fs::remove_file(repo.path().join("records/TR-010.md")).expect("it goes");
        let out = verify(&repo, &path).ended(1).out;
        let moved =
            "  changed  requirements/actuator/ACT-020.md\n  added    records/NEW.md\n  removed  records/TR-010.md\n";
        assert!(out.contains(moved) && out.contains("made again from commit"), "{out}");
        assert!(out.contains("it is the same\n") && out.ends_with("the packet does not match\n"), "{out}");
        // Of its own commit it still holds.
        repo.run(&["packet", "--verify", &path, "--at", "HEAD"]).ended(0);
    }
}

#[test]
fn what_was_altered_is_named_and_what_was_forged_is_found_by_making_it_again() {
    let (repo, path) = with_packet("html", &[]);
    alter(&repo, &path, "15 open before hot-fire.", "0 open before hot-fire.", false);
    let out = verify(&repo, &path).ended(1).out;
    assert!(out.contains("it was altered since it was written:\n  cover was altered\n"), "{out}");
    let path = made(&repo, "html", &[]);
    alter(&repo, &path, "<span class=\"no\">2</span>", "<span class=\"no\">3</span>", true);
    let out = verify(&repo, &path).ended(1).out;
    assert!(out.contains("matrix says something else"), "{out}");
    // Also with the hash of the part worked out anew, so that nothing in the file itself tells.
    let path = made(&repo, "html", &[]);
    let text = std::fs::read_to_string(repo.path().join(&path)).expect("a page");
    let part = |text: &str| {
        let start = text.find("<section class=\"part wide\" id=\"matrix\">").expect("the matrix");
        let end = start + 1 + text[start + 1..].find("<section class=\"part").expect("the next part");
        Sha256::digest(&text[start..end]).iter().map(|byte| format!("{byte:02x}")).collect::<String>()
    };
    let (from, to) = ("<span class=\"no\">2</span>Verification", "<span class=\"no\">2</span>Good");
    let (was, is) = (part(&text), part(&text.replace(from, to)));
    alter(&repo, &path, from, to, false);
    alter(&repo, &path, &was, &is, true);
    let out = verify(&repo, &path).ended(1).out;
    assert!(
        out.contains("has the hash that it had") && out.contains("it is another:\n  matrix says something else"),
        "{out}"
    );
    // And what it says of itself: another commit, other files, another day.
    for (from, to) in [
        ("\"clean\":true", "\"clean\":false"),
        ("\"today\":\"2026\\u002d06", "\"today\":\"2026\\u002d05"),
        ("/ACT\\u002d010.md", "/ACT\\u002d999.md"),
    ] {
        let path = made(&repo, "html", &[]);
        alter(&repo, &path, from, to, true);
        verify(&repo, &path).ended(1);
    }
}

#[test]
fn a_workbook_that_was_altered_or_saved_by_another_program_is_none_any_more() {
    let (repo, path) = with_packet("xlsx", &[]);
    let place = repo.path().join(&path);
    let mut bytes = std::fs::read(&place).expect("a workbook");
    let whole = bytes.clone();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    std::fs::write(&place, &bytes).expect("it is written");
    let out = verify(&repo, &path).ended(1).out;
    assert!(out.contains("it was altered since it was written:"), "{out}");
    let end = whole.windows(4).rposition(|four| four == b"PK\x05\x06").expect("an end");
    std::fs::write(&place, [&whole[..end + 20], &[0, 0]].concat()).expect("it is written");
    let run = verify(&repo, &path).ended(2);
    assert!(run.err.contains("carries nothing to check it by"), "{}", run.err);
}

#[test]
fn a_draft_holds_as_long_as_its_files_are_there() {
    for ending in ENDINGS {
        let repo = TestRepo::demo();
        repo.replace("requirements/actuator/ACT-020.md", "within 1.5 s", "within 1.4 s");
        let path = made(&repo, ending, &[]);
        let out = verify(&repo, &path).ended(0).out;
        assert!(out.contains("files not committed") && out.contains("made again from the files of now"), "{out}");
        repo.replace("requirements/actuator/ACT-020.md", "within 1.4 s", "within 1.3 s");
        let out = verify(&repo, &path).ended(1).out;
        assert!(
            out.contains("could not be made again") && out.contains("changed  requirements/actuator/ACT-020.md"),
            "{out}"
        );
    }
}

#[test]
fn a_packet_is_made_again_as_it_was_asked_for() {
    let repo = TestRepo::demo();
    for ending in ENDINGS {
        for more in [&["--since", "D-001"][..], &["--since", "PDR", "--today", "2026-09-01"], &["--at", "TRR-1"]] {
            let path = made(&repo, ending, more);
            let out = verify(&repo, &path).out;
            assert!(out.contains("it is the same\n"), "{more:?}: {out}");
        }
        // Inside the project it is a file more, which says nothing against it.
        repo.run(&["packet", "hot-fire", "-o", &format!("inside.{ending}")]).ended(0);
        verify(&repo, &format!("inside.{ending}")).ended(0);
        std::fs::remove_file(repo.path().join(format!("inside.{ending}"))).expect("it goes");
    }
}

#[test]
fn what_cannot_be_told_does_not_match() {
    let (repo, path) = with_packet("html", &[]);
    let whole = std::fs::read(repo.path().join(&path)).expect("a page");
    std::fs::write(repo.path().join(&path), &whole[..whole.len() - 300]).expect("it is cut off");
    let out = verify(&repo, &path).ended(1).out;
    assert!(out.contains("cut off or damaged"), "{out}");
    std::fs::write(repo.path().join(&path), &whole).expect("it is written");
    alter(&repo, &path, "{\"slipmark\":\"0", "{\"slipmark\":\"9", true);
    let out = verify(&repo, &path).ended(1).out;
    assert!(out.contains("only the program that made it can make it again"), "{out}");
    // Another project does not have its commit.
    std::fs::write(repo.path().join(&path), &whole).expect("it is written");
    let other = TestRepo::folder();
    other.run(&["init", "--name", "Other"]).ended(0);
    other.write("packet.html", std::str::from_utf8(&whole).expect("a page"));
    let out = verify(&other, "packet.html").ended(1).out;
    assert!(out.contains("cannot be made from commit") && out.contains("removed  records/TR-010.md"), "{out}");
    assert!(verify(&repo, "README.md").ended(2).err.contains("is no packet"));
    assert!(verify(&repo, "gone.html").ended(2).err.contains("cannot read"));
    repo.run(&["packet", "hot-fire", "--verify", &path]).ended(2);
    assert!(repo.changed().is_empty(), "{:?}", repo.changed());
}

/// The example, with its pages beside it.
fn with_pages() -> (TestRepo, String) {
    let repo = TestRepo::demo();
    let name = repo.path().file_name().expect("a name").to_str().expect("a plain one");
    let site = format!("../{name}-pages");
    repo.run(&["packet", "hot-fire", "--site", &site]).ended(0);
    (repo, site)
}

#[test]
fn a_folder_of_pages_is_held_against_its_list_its_commit_and_the_files() {
    let (repo, site) = with_pages();
    let place = |name: &str| repo.path().join(&site).join(name);
    let out = verify(&repo, &site).ended(0).out;
    assert!(out.contains("\nbefore hot-fire, made of commit ") && out.contains("it is the same\n"), "{out}");
    assert!(out.ends_with("the packet matches\n"), "{out}");
    // With the date of the environment, and in another place.
    let mut dated = repo.program(repo.path(), crate::support::TODAY, &["packet", "hot-fire", "--site", "../dated"]);
    Run::of(dated.env("SOURCE_DATE_EPOCH", "1700000000")).ended(0);
    verify(&repo, "../dated").ended(0);
    // Altered, put in, gone: each is told by its name.
    let page = place("requirement/ACT-010.html");
    let text = std::fs::read_to_string(&page).expect("a page");
    std::fs::write(&page, text.replacen("shall", "should", 1)).expect("written");
    std::fs::write(place("more.html"), "x").expect("written");
    std::fs::remove_file(place("all.html")).expect("it goes");
    let out = verify(&repo, &site).ended(1).out;
    let altered = "it was altered since it was written:\n  all.html is gone\n  requirement/ACT-010.html was altered\n  more.html was put in\n";
    assert!(out.contains(altered), "{out}");
    assert!(out.contains("  all.html is not in it\n") && out.contains("  more.html does not belong in it\n"), "{out}");
    assert!(out.ends_with("the packet does not match\n"), "{out}");
}

#[test]
fn a_forged_page_whose_list_fits_is_found_by_making_it_again() {
    let (repo, site) = with_pages();
    let place = |name: &str| repo.path().join(&site).join(name);
    let forge = |name: &str, from: &str, to: &str| {
        let hash = |bytes: &[u8]| Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
        let before = std::fs::read_to_string(place(name)).expect("a page");
        assert!(before.contains(from), "{from}");
        let after = before.replace(from, to);
        let list = std::fs::read_to_string(place("contents.txt")).expect("a list");
        let list = list.replace(&hash(before.as_bytes()), &hash(after.as_bytes()));
        std::fs::write(place(name), after).expect("written");
        std::fs::write(place("contents.txt"), list).expect("written");
    };
    forge("index.html", "15 open before hot-fire.", "14 open before hot-fire.");
    let out = verify(&repo, &site).ended(1).out;
    assert!(out.contains("every part of it has the hash that it had") && out.contains("it is another:\n"), "{out}");
    assert!(out.contains("  index.html says something else\n  contents.txt says something else\n"), "{out}");
    forge("index.html", "14 open before hot-fire.", "15 open before hot-fire.");
    verify(&repo, &site).ended(0);
    // What it says that it was made from is one of its files.
    forge("made-from.json", r#""today":"2026\u002d06\u002d16""#, r#""today":"2026\u002d06\u002d17""#);
    verify(&repo, &site).ended(1);
    std::fs::write(place("made-from.json"), "{").expect("written");
    let out = verify(&repo, &site).ended(1).out;
    assert!(out.contains("what the pages were made from cannot be read"), "{out}");
}

#[test]
fn what_is_no_folder_of_pages_is_said_to_be_none() {
    let (repo, site) = with_pages();
    for folder in [".", "records"] {
        let said = verify(&repo, folder).ended(2).err;
        assert!(said.contains("it is no folder of slipmark's pages"), "{said}");
    }
    std::fs::write(repo.path().join(&site).join("contents.txt"), "").expect("written");
    verify(&repo, &site).ended(1);
    repo.run(&["packet", "--verify", &site, "--format", "html"]).ended(2);
    repo.run(&["packet", "hot-fire", "--format", "json"]).ended(2);
}

#[test]
fn pages_of_files_not_committed_match_as_long_as_these_stay_as_they_are() {
    let repo = TestRepo::demo();
    repo.replace("requirements/actuator/ACT-020.md", "within 1.5 s", "within 1.4 s");
    // Inside the project they count among its files, and are not held against themselves.
    repo.run(&["packet", "hot-fire", "--site", "site"]).ended(0);
    let out = verify(&repo, "site").out;
    assert!(out.contains("and files not committed") && !out.contains("added "), "{out}");
    repo.run(&["packet", "hot-fire", "--site", "../draft"]).ended(0);
    repo.replace("requirements/actuator/ACT-020.md", "within 1.4 s", "within 1.3 s");
    let out = verify(&repo, "../draft").ended(1).out;
    assert!(out.contains("could not be made again: the files that it was made of are not committed"), "{out}");
    assert!(out.contains("  changed  requirements/actuator/ACT-020.md\n"), "{out}");
}

#[test]
fn as_json_it_says_the_same_of_every_sort() {
    let (repo, site) = with_pages();
    let name = site.trim_end_matches("-pages").to_string();
    let mut sorts = vec![(made(&repo, "html", &[]), "page"), (made(&repo, "xlsx", &[]), "workbook"), (site, "pages")];
    sorts.extend(cfg!(feature = "pdf").then(|| (made(&repo, "pdf", &[]), "pdf")));
    let ask = |path: &str, code| repo.run(&["packet", "--verify", path, "--format", "json"]).ended(code).json();
    for (path, sort) in &sorts {
        let said = ask(path, 0);
        assert_eq!(
            (&said["sort"], &said["matches"], &said["path"]),
            (&(*sort).into(), &true.into(), &path.as_str().into()),
            "{said}"
        );
        assert_eq!(said["made_from"]["event"], "hot-fire", "{said}");
        assert_eq!(said["made_again"]["outcome"], "same", "{said}");
        assert_eq!(
            (&said["files"]["same"], said["altered"].as_array().map(Vec::len)),
            (&true.into(), Some(0)),
            "{said}"
        );
    }
    repo.replace("requirements/actuator/ACT-020.md", "within 1.5 s", "within 1.4 s");
    for (path, _) in &sorts {
        let said = ask(path, 1);
        assert_eq!(
            (&said["matches"], &said["files"]["changed"][0]),
            (&false.into(), &"requirements/actuator/ACT-020.md".into()),
            "{said}"
        );
    }
    let page = repo.path().join(format!("{name}-packet.html"));
    std::fs::write(&page, std::fs::read_to_string(&page).expect("a page").replacen("15 open", "14 open", 1))
        .expect("written");
    let said = ask(&sorts[0].0, 1);
    assert_eq!(said["altered"][0], "cover was altered", "{said}");
    assert_eq!(
        (&said["made_again"]["outcome"], &said["made_again"]["differences"][0]),
        (&"other".into(), &"cover says something else".into()),
        "{said}"
    );
}
