use serde_json::Value;

use crate::support::{Run, TestRepo};

/// What only history shows is told of one commit, and not counted of each.
const FROM_HISTORY: &[&str] =
    &["decided-and-not-done", "dropped-and-not-carried-over", "relaxed-without-decision", "seal-replaced", "vanished"];

fn points(json: &Value) -> &Vec<Value> {
    json["points"].as_array().unwrap()
}

/// Every point against the answer about that commit, which is made by another command.
#[test]
fn every_point_is_what_before_says_of_that_commit() {
    let repo = TestRepo::demo();
    let json = repo.run(&["trend", "hot-fire", "--by", "commit", "--format", "json"]).ended(0).json();
    let line = repo.git(&["rev-list", "--first-parent", "--reverse", "HEAD"]);
    let oids: Vec<&str> = line.lines().collect();
    let said: Vec<&str> = points(&json).iter().map(|point| point["oid"].as_str().unwrap()).collect();
    assert_eq!(said, oids);
    let mut last: Option<i64> = None;
    for point in points(&json) {
        let oid = point["oid"].as_str().unwrap();
        let before = repo.run(&["before", "hot-fire", "--at", oid, "--format", "json"]).json();
        assert_eq!(point["counts"], before["counts"], "{oid}");
        let due = before["rows"].as_array().unwrap().len() as i64;
        let closed = before["counts"]["closed"].as_i64().unwrap() + before["counts"]["waived"].as_i64().unwrap();
        assert_eq!((&point["due"], &point["open"]), (&due.into(), &(due - closed).into()), "{oid}");
        for (own, theirs) in [("gaps", "gaps"), ("nonconformances", "nonconformances"), ("faults", "faults")] {
            let list = before[theirs].as_array().unwrap().iter();
            let count = list.filter(|one| !FROM_HISTORY.contains(&one["code"].as_str().unwrap_or(""))).count();
            assert_eq!(point[own], count, "{own} at {oid}");
        }
        assert_eq!(point["scope"].as_i64(), last.map(|last| due - last), "{oid}");
        last = Some(due);
    }
    let with = |key: &str, name: &str| {
        let holds = |point: &&Value| point[key].as_array().unwrap().iter().any(|own| own == name);
        points(&json).iter().filter(holds).map(|point| point["oid"].as_str().unwrap()).collect::<Vec<_>>()
    };
    for tag in ["PDR", "TRR-1"] {
        assert_eq!(with("tags", tag), [repo.git(&["rev-parse", &format!("{tag}^{{commit}}")]).trim()]);
    }
    let decided = repo.git(&["log", "--format=%H", "--diff-filter=A", "--", "decisions"]);
    let mut decided: Vec<&str> = decided.lines().collect();
    decided.reverse();
    assert_eq!([with("decisions", "D-001"), with("decisions", "D-002")].concat(), decided);
}

#[test]
fn each_commit_is_asked_about_on_its_own_day() {
    let repo = TestRepo::demo();
    let run = |arguments: &[&str]| {
        // Without --today.
        let mut program = std::process::Command::new(crate::support::program());
        Run::of(program.args(arguments).current_dir(repo.path()).env_clear().env("HOME", repo.path())).json()
    };
    let json = run(&["trend", "hot-fire", "--at", "TRR-1", "--format", "json"]);
    let at = points(&json).last().unwrap();
    let before = run(&["before", "hot-fire", "--at", "TRR-1", "--format", "json"]);
    assert_eq!((&at["oid"], &at["counts"]), (&before["commit"], &before["counts"]));
}

#[test]
fn what_is_kept_changes_no_answer() {
    let repo = TestRepo::demo();
    let ask = |more: &[&str]| repo.run(&[&["trend", "hot-fire", "--format", "json"], more].concat()).ended(0).out;
    let anew = ask(&["--no-cache"]);
    assert!(!repo.path().join(".git/slipmark-kept").exists());
    assert_eq!((ask(&[]), ask(&[])), (anew.clone(), anew));
    assert!(repo.path().join(".git/slipmark-kept").is_dir());
    assert_eq!(repo.git(&["status", "--porcelain", "--ignored"]), "");
    // Of another event, and on another day.
    let other = repo.run(&["trend", "leak-check", "--format", "json"]).ended(0).out;
    assert_eq!(other, repo.run(&["trend", "leak-check", "--format", "json", "--no-cache"]).ended(0).out);
    let later = ["--today", "2027-06-16"];
    let asked = |more: &[&str]| {
        let arguments = [&["trend", "hot-fire", "--format", "json"], more].concat();
        repo.run_at(repo.path(), later[1], &arguments).ended(0).out
    };
    assert_eq!(asked(&[]), asked(&["--no-cache"]));
    assert_ne!(asked(&[]), ask(&[]));
}

#[test]
fn what_cannot_be_counted_is_a_point_that_says_so() {
    let repo = TestRepo::folder();
    std::fs::write(repo.path().join("notes.txt"), "x").unwrap();
    repo.git(&["init", "--quiet"]);
    repo.commit("No project yet");
    repo.run(&["init", "--name", "Stand"]).ended(0);
    repo.commit("Start");
    repo.replace("requirements/R-001.md", "kind =", "kind ==");
    repo.commit("Slip of the finger");
    repo.replace("requirements/R-001.md", "kind ==", "kind =");
    for file in ["slipmark.toml", "requirements/R-001.md"] {
        let path = repo.path().join(file);
        std::fs::write(&path, std::fs::read_to_string(&path).unwrap().replace("leak-check", "leak-test")).unwrap();
    }
    repo.commit("Call it by another name");
    let json = repo.run(&["trend", "leak-test", "--format", "json"]).ended(0).json();
    let problems: Vec<&str> = points(&json).iter().map(|point| point["problem"].as_str().unwrap_or("")).collect();
    let no_event = "the project had no such event";
    assert_eq!(problems, ["the commit holds no project here", no_event, no_event, ""]);
    let text = repo.run(&["trend", "leak-test"]).ended(0).out;
    assert!(text.contains("the commit holds no project here") && text.contains("???"), "{text}");
    // A file that cannot be read: its rows are missing, and it is said.
    let json = repo.run(&["trend", "leak-check", "--format", "json", "--at", "HEAD~1"]).ended(0).json();
    let unread: Vec<u64> = points(&json).iter().map(|point| point["unread"].as_u64().unwrap_or(0)).collect();
    assert_eq!(unread, [0, 0, 1]);
    assert!(points(&json)[2]["due"].as_u64() < points(&json)[1]["due"].as_u64());
    // No event of that name now.
    let run = repo.run(&["trend", "leak-check"]).ended(2);
    assert!(run.err.contains("leak-test"), "{}", run.err);
}

#[test]
fn commits_are_chosen_evenly_by_day_or_by_week() {
    let repo = TestRepo::folder();
    repo.run(&["init", "--name", "Stand"]).ended(0);
    repo.commit("Start");
    let dated = |day: &str| {
        repo.git_at(&format!("{day}T12:00:00+00:00"), &["commit", "--quiet", "--allow-empty", "-m", day]);
    };
    // A clock that went back is no reason to sort: the day ends when the next commit is of another.
    for day in ["2026-02-02", "2026-02-02", "2026-02-03", "2026-02-08", "2026-02-09", "2026-02-03", "2026-02-09"] {
        dated(day);
    }
    let days = |by: &str| {
        let json = repo.run(&["trend", "--by", by, "--format", "json"]).ended(0).json();
        let days = points(&json).iter().skip(1).map(|point| point["date"].as_str().unwrap().to_string());
        let stands: u64 = points(&json).iter().map(|point| point["commits"].as_u64().unwrap()).sum();
        assert_eq!((stands, &json["commits"]), (8, &8.into()));
        days.collect::<Vec<_>>()
    };
    assert_eq!(days("day"), ["2026-02-02", "2026-02-03", "2026-02-08", "2026-02-09", "2026-02-03", "2026-02-09"]);
    assert_eq!(days("week"), ["2026-02-08", "2026-02-09", "2026-02-03", "2026-02-09"]);
    assert_eq!(days("commit").len(), 7);
    for _ in 0..180 {
        repo.git(&["commit", "--quiet", "--allow-empty", "-m", "Nothing"]);
    }
    let json = repo.run(&["trend", "--format", "json"]).ended(0).json();
    let (count, every) = (points(&json).len(), json["every"].as_u64().unwrap());
    assert!((40..=60).contains(&count), "{count}");
    assert_eq!((&json["commits"], every), (&188.into(), 4));
    assert_eq!(json["chosen"], "every 4th of 188 commits, and the first");
    assert_eq!(points(&json)[0]["commits"], 1);
    assert!(points(&json).iter().skip(2).all(|point| point["commits"] == every));
}

#[test]
fn pictures_and_pages_are_written_whole_and_never_over_something_else() {
    let repo = TestRepo::demo();
    for format in ["svg", "html", "csv", "markdown", "text"] {
        let shown = repo.run(&["trend", "hot-fire", "--format", format]).ended(0).out;
        assert!(shown.contains("2026-06-16"), "{format}: {shown}");
        let path = format!("trend.{format}");
        repo.run(&["trend", "hot-fire", "--format", format, "-o", &path]).ended(0);
        let written = std::fs::read_to_string(repo.path().join(&path)).unwrap();
        if format != "text" {
            // The last line but one of the text counts what is not committed: the file itself.
            let stripped = |text: &str| text.replace("; 1 not committed and not in it", "");
            assert!(stripped(&written).len() >= shown.len() / 2, "{format}");
        }
        std::fs::remove_file(repo.path().join(&path)).unwrap();
    }
    repo.run(&["trend", "hot-fire", "--format", "svg", "-o", "t.svg"]).ended(0);
    repo.run(&["trend", "hot-fire", "--format", "svg", "-o", "t.svg"]).ended(0);
    std::fs::write(repo.path().join("t.svg"), "<svg mine/>").unwrap();
    let refused = repo.run(&["trend", "hot-fire", "--format", "svg", "-o", "t.svg"]).ended(2);
    assert!(refused.err.contains("t.svg exists and is no trend"), "{}", refused.err);
    let svg = repo.run(&["trend", "hot-fire", "--format", "svg"]).ended(0).out;
    assert!(svg.contains("<title id=\"trend-title\">Marram Point: rows due before hot-fire"));
    assert!(svg.contains("At first, on 2026-01-12") && svg.contains("tag PDR") && svg.contains("<pattern "));
}

#[test]
fn there_is_no_trend_before_the_first_commit() {
    let repo = TestRepo::folder();
    repo.run(&["init", "--name", "Stand"]).ended(0);
    let run = repo.run(&["trend"]).ended(2);
    assert!(run.err.contains("nothing is committed yet"), "{}", run.err);
}
