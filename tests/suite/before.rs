//! What is listed of an answer changes nothing of the answer.

use std::collections::BTreeMap;

use crate::support::{Run, TestRepo};

const WAYS: &[&[&str]] = &[
    &[],
    &["--all"],
    &["--next"],
    &["--by", "procedure"],
    &["--by", "serial"],
    &["--by", "item"],
    &["--by", "owner"],
    &["--by", "event"],
    &["--only", "closed"],
    &["--only", "waived"],
    &["--only", "not-met"],
    &["--only", "no-evidence", "--by", "owner"],
];

#[test]
fn no_way_of_listing_changes_the_verdict() {
    let (open, closed) = (TestRepo::demo(), TestRepo::closed());
    for way in WAYS {
        for format in ["text", "json", "markdown", "csv"] {
            let with = |event: &'static str| -> Vec<&str> {
                ["before", event, "--format", format].iter().chain(*way).copied().collect()
            };
            let run = open.run(&with("hot-fire")).ended(1);
            closed.run(&with("leak-check")).ended(0);
            match format {
                "text" => assert!(run.out.contains("15 open before hot-fire"), "{way:?}"),
                "markdown" => assert!(run.out.contains("15 open before hot-fire"), "{way:?}\n{}", run.out),
                "json" => {
                    let json = run.json();
                    let due: u64 =
                        json["counts"].as_object().unwrap().values().map(|count| count.as_u64().unwrap()).sum();
                    assert_eq!(
                        (&json["verdict"], &json["open_total"], due),
                        (&"open".into(), &15.into(), 44),
                        "{way:?}"
                    );
                }
                _ => {}
            }
        }
    }
}

/// White space folded, so that it does not matter where a line was broken.
fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A row that closes only when all of its reasons are gone says of each what is to be done, and says it once.
#[test]
fn every_reason_of_an_open_row_says_what_to_do() {
    let repo = TestRepo::demo();
    let json = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
    let text = repo.run(&["before", "hot-fire"]).ended(1).out;
    let list = text.split("Open, safety first, worst first\n").nth(1).unwrap().split("\n\n").next().unwrap();
    let mut blocks: Vec<String> = Vec::new();
    for line in list.lines() {
        match line.starts_with("   ") {
            true => blocks.last_mut().unwrap().extend(["\n", line]),
            false => blocks.push(line.to_string()),
        }
    }
    let csv = repo.run(&["before", "hot-fire", "--format", "csv"]).ended(1).out;
    repo.run(&["packet", "hot-fire", "-o", "p.html"]).ended(0);
    let page = repo.read("p.html");
    let page_rows: Vec<&str> =
        page.split("id=\"matrix\"").next().unwrap().split("<td data-label=\"why\">").skip(1).collect();
    let rows: Vec<_> =
        json["rows"].as_array().unwrap().iter().filter(|row| row["reasons"] != serde_json::json!([])).collect();
    let open: Vec<_> =
        rows.into_iter().filter(|row| !matches!(row["state"].as_str(), Some("waived" | "closed"))).collect();
    assert_eq!((blocks.len(), page_rows.len()), (open.len(), open.len()));
    let mut several = 0;
    for ((row, block), cell) in open.iter().zip(&blocks).zip(page_rows) {
        let reasons = row["reasons"].as_array().unwrap();
        let children = reasons.iter().filter(|own| own["code"] == "child-open").count();
        let mut steps: Vec<String> = Vec::new();
        for reason in reasons {
            assert!(folded(block).contains(&folded(reason["text"].as_str().unwrap())), "{reason} in {block}");
            let help = match reason["code"] == "child-open" && children > 1 {
                true => "close each of these: slipmark show ID says how",
                false => reason["help"].as_str().unwrap(),
            };
            if !steps.iter().any(|own| own == help) {
                steps.push(help.to_string());
            }
        }
        several += usize::from(steps.len() > 1);
        for step in &steps {
            assert_eq!(folded(block).matches(&format!("do: {}", folded(step))).count(), 1, "{step} in {block}");
        }
        assert_eq!(block.matches(" do: ").count(), steps.len(), "{block}");
        let cell = cell.split("</td>").next().unwrap();
        assert_eq!(cell.matches("class=\"do\"").count(), steps.len(), "{cell}");
        assert!(csv.contains(&steps.join("; ").replace('"', "\"\"")), "{steps:?} in {csv}");
    }
    assert!(several > 1, "the example has rows that are open for several reasons");
}

#[test]
fn every_open_row_is_in_one_group() {
    let repo = TestRepo::demo();
    for by in ["procedure", "serial", "item", "owner", "event"] {
        let json = repo.run(&["before", "hot-fire", "--by", by, "--format", "json"]).ended(1).json();
        let rows = json["rows"].as_array().unwrap();
        let mut seen = vec![0; rows.len()];
        for group in json["groups"].as_array().unwrap() {
            for at in group["rows"].as_array().unwrap() {
                let at = at.as_u64().unwrap() as usize;
                seen[at] += 1;
                let name = group["name"].as_str().unwrap();
                let own = match by {
                    "procedure" => rows[at]["procedure"].as_str(),
                    "owner" => rows[at]["owner"].as_str(),
                    "event" => rows[at]["before"].as_str(),
                    "serial" => rows[at]["subject"].as_str().filter(|subject| subject.contains('/')),
                    _ => rows[at]["subject"].as_str().map(|subject| subject.split('/').next().unwrap()),
                };
                assert!(own == Some(name) || (own.is_none() && name.starts_with("no ")), "{by}: {own:?} in {name}");
            }
        }
        for (row, seen) in rows.iter().zip(seen) {
            let open = !matches!(row["state"].as_str().unwrap(), "closed" | "waived");
            assert_eq!(seen, usize::from(open), "{by}: {row}");
        }
    }
    let run = repo.run(&["before", "hot-fire", "--only", "opne"]).ended(2);
    assert!(run.err.contains("not-met") && run.out.is_empty(), "{}", run.err);
}

#[test]
fn what_is_open_against_the_pieces_and_due_later_stands_beside_the_verdict() {
    let repo = TestRepo::demo();
    let line = "Open and due later: NC-004 against MOV/SN02, due before cold-flow";
    let told = |event: &str, format: &str| {
        let out = repo.run(&["before", event, "--format", format]).out.replace("\\_", "_");
        out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for format in ["text", "markdown"] {
        assert!(told("cold-shock", format).contains(line), "{format}");
        // Where it is due it is counted, and after that as well.
        for event in ["cold-flow", "hot-fire"] {
            assert!(!told(event, format).contains("due later"), "{format} {event}");
        }
    }
    let json = |event: &str| repo.run(&["before", event, "--format", "json"]).json();
    let before = json("cold-shock");
    assert_eq!(before["due_later"][0]["id"], "NC-004");
    assert_eq!(
        (before["nonconformances"].clone(), json("hot-fire")["due_later"].clone()),
        (serde_json::json!([]), serde_json::json!([]))
    );
    repo.run(&["packet", "cold-shock", "--output", "packet.html"]);
    assert!(
        repo.read("packet.html").contains("Open and due later: NC-004 against MOV&#x2f;SN02, due before cold-flow")
    );
    // The verdict is what the rules say, and what is against another piece is nothing to this event.
    let closed = TestRepo::closed();
    let text = repo.read("departures/NC-004.md").replace("[\"TR-009\"]", "[]").replace("[\"MOV-035\"]", "[]");
    let against = |piece: &str| text.replace("MOV/SN02", piece).replace("\"cold-flow\"", "\"first-run\"");
    closed.replace(
        "items/VALVE.md",
        "[[serials]]\n",
        "[[serials]]\nnumber = \"SN02\"\nuse = \"spare\"\n\n[[serials]]\n",
    );
    closed.write("departures/NC-004.md", &against("VALVE/SN01"));
    let told = closed.run(&["before", "leak-check"]).ended(0).out;
    assert!(told.contains("is open.") && told.contains("Open and due later: NC-004 against VALVE/SN01"), "{told}");
    closed.write("departures/NC-004.md", &against("VALVE/SN02"));
    assert!(!closed.run(&["before", "leak-check"]).ended(0).out.contains("due later"));
}

#[test]
fn an_event_with_nothing_due_of_its_own_is_said_to_be_answered_by_earlier_ones() {
    let repo = TestRepo::closed();
    let line =
        "Nothing is to be shown before first-run itself, only before earlier events; write before = \"first-run\" in";
    let told = |event: &str, format: &str| {
        let out = repo.run(&["before", event, "--format", format]).out;
        out.replace('\\', "").split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for format in ["text", "markdown"] {
        assert!(told("first-run", format).contains(line), "{}", told("first-run", format));
        assert!(!told("leak-check", format).contains("itself"), "{format}");
    }
    // The verdict and the exit code stay as they were.
    let own = |event: &str| {
        let before = repo.run(&["before", event, "--format", "json"]).ended(0).json();
        (before["verdict"].clone(), before["own_rows"].as_u64(), before["rows"].as_array().map(Vec::len))
    };
    assert_eq!(own("leak-check"), ("nothing-open".into(), Some(1), Some(1)));
    assert_eq!(own("first-run"), ("nothing-open".into(), Some(0), Some(1)));
    repo.run(&["packet", "first-run", "--output", "packet.html"]).ended(0);
    assert!(repo.read("packet.html").contains("Nothing is to be shown before first-run itself"));
    // What is due only before it ends that, and so does what another event is about.
    repo.replace("requirements/R-001.md", "before = \"leak-check\"", "before = \"first-run\"");
    assert!(!told("first-run", "text").contains("itself"));
    assert!(told("leak-check", "text").contains("nothing is planned before leak-check: that is no answer"));
}

fn names(list: &serde_json::Value) -> Vec<String> {
    let name = |row: &serde_json::Value| {
        format!("{} {}", row["requirement"].as_str().unwrap(), row["subject"].as_str().unwrap())
    };
    list.as_array().unwrap().iter().map(name).collect()
}

/// The order, after looking that it accounts for every open row once and that what must come first does.
fn next(repo: &TestRepo) -> serde_json::Value {
    let json = repo.run(&["before", "hot-fire", "--next", "--format", "json"]).ended(1).json();
    let mut accounted: BTreeMap<String, i64> = BTreeMap::new();
    for row in json["rows"].as_array().unwrap() {
        if !matches!(row["state"].as_str().unwrap(), "closed" | "waived") {
            *accounted.entry(names(&serde_json::json!([row])).remove(0)).or_default() += 1;
        }
    }
    let next = json["next"].clone();
    let steps = next["steps"].as_array().unwrap();
    let closed = steps.iter().flat_map(|step| names(&step["closes"]));
    let others = ["look_first", "follow", "apart", "left"].iter().flat_map(|list| names(&next[*list]));
    closed.chain(others).for_each(|name| *accounted.entry(name).or_default() -= 1);
    assert!(accounted.values().all(|count| *count == 0), "{accounted:?}");
    for step in steps {
        for before in step["after"].as_array().unwrap() {
            assert!(before.as_u64() < step["number"].as_u64(), "{step}");
        }
    }
    next
}

#[test]
fn the_order_closes_what_records_can_close() {
    let repo = TestRepo::demo();
    let next = next(&repo);
    assert_eq!(names(&next["look_first"]), ["ACT-010 ACT-W", "ACT-020 ACT-W/SN02"]);
    let steps = next["steps"].as_array().unwrap();
    let closes: Vec<String> = steps.iter().flat_map(|step| names(&step["closes"])).collect();
    assert!(closes.contains(&"ACT-040 ACT-W/SN02".to_string()) && closes.len() == 6, "{closes:?}");
    // A failure that stands, a limit that is not settled and a parent of both are not closed by records.
    let left = names(&next["left"]);
    assert_eq!(left, ["MOV-035 MOV", "MOV-035 MOV/SN02", "STD-030 project", "STD-060 project"]);
    assert_eq!(next["left"][3]["reasons"][0]["code"], "limit-tbd");
    // Two entries that one record can serve need one record.
    let text = repo.read("requirements/actuator/ACT-040.md");
    let more = text
        .replace("ACT-040", "ACT-041")
        .replace("verify = [", "verify = [{ method = \"demonstration\", procedure = \"TP-03\", on = \"design\" }, ");
    repo.write("requirements/actuator/ACT-041.md", &more);
    let again = self::next(&repo);
    let own: Vec<&serde_json::Value> = again["steps"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|step| step["procedure"] == "TP-03" && step["method"] == "demonstration")
        .collect();
    assert_eq!(own.len(), 1, "{again}");
    assert_eq!(names(&own[0]["closes"]).len(), 3);
}

#[test]
fn what_must_come_first_comes_first_though_it_closes_nothing() {
    let repo = TestRepo::demo();
    repo.replace(
        "requirements/actuator/ACT-040.md",
        "procedure = \"TP-03\"",
        "procedure = \"TP-03\", after = [\"TP-05\"]",
    );
    let order = next(&repo);
    let steps = order["steps"].as_array().unwrap();
    let closing = steps.iter().find(|step| names(&step["closes"]) == ["ACT-040 ACT-W/SN02"]).expect("it can be closed");
    let first = closing["after"][0].as_u64().unwrap() as usize;
    assert_eq!((&steps[first - 1]["procedure"], &steps[first - 1]["subject"]), (&"TP-05".into(), &"ACT-W/SN02".into()));
    assert_eq!(steps[first - 1]["closes"], serde_json::json!([]));
    // An event comes first as well, and is supposed to be held with the piece.
    repo.replace("requirements/actuator/ACT-040.md", "after = [\"TP-05\"]", "after = [\"cold-shock\"]");
    let order = next(&repo);
    let closing =
        order["steps"].as_array().unwrap().iter().find(|step| names(&step["closes"]) == ["ACT-040 ACT-W/SN02"]);
    assert_eq!(closing.expect("it can be closed")["after_events"], serde_json::json!(["cold-shock"]));
    // Held, it is no longer to come.
    repo.run(&["new", "event", "--for", "cold-shock", "--outcome", "completed", "--serial", "ACT-W/SN02"]).ended(0);
    let order = next(&repo);
    let closing =
        order["steps"].as_array().unwrap().iter().find(|step| names(&step["closes"]) == ["ACT-040 ACT-W/SN02"]);
    assert_eq!(closing.expect("it can be closed")["after_events"], serde_json::json!([]));
    // The event that is asked about comes after whatever is due before it.
    repo.replace("requirements/actuator/ACT-040.md", "after = [\"cold-shock\"]", "after = [\"hot-fire\"]");
    let order = next(&repo);
    let left =
        order["left"].as_array().unwrap().iter().find(|row| row["requirement"] == "ACT-040").expect("it stays open");
    assert_eq!(left["reasons"][0]["code"], "out-of-order");
    assert!(left["reasons"][0]["text"].as_str().unwrap().starts_with("a new record: hot-fire"), "{left}");
}

/// The actuator is tested cold only once the valve that it sits in is tight.
#[test]
fn a_prerequisite_may_be_met_on_what_the_piece_is_in() {
    let repo = TestRepo::demo();
    repo.replace("requirements/actuator/ACT-010.md", "min = 0.5", "min = 0.6");
    let cold = |order: &serde_json::Value| {
        let steps = order["steps"].as_array().unwrap().clone();
        let own = steps.iter().find(|step| step["procedure"] == "TP-03" && step["subject"] == "ACT-W/SN02");
        let after: Vec<u64> =
            own.expect("a cold test")["after"].as_array().unwrap().iter().map(|at| at.as_u64().unwrap()).collect();
        let name = |at: &u64| {
            let step = &steps[*at as usize - 1];
            format!("{} {}", step["procedure"].as_str().unwrap(), step["subject"].as_str().unwrap())
        };
        after.iter().map(name).collect::<Vec<_>>()
    };
    assert_eq!(cold(&next(&repo)), Vec::<String>::new(), "the valve was tested");
    repo.replace("records/TR-005.md", "status = \"signed\"", "status = \"draft\"");
    assert_eq!(cold(&next(&repo)), ["TP-02 MOV/SN02"]);
}

#[test]
fn what_would_void_a_new_record_too_is_not_promised() {
    let repo = TestRepo::demo();
    repo.write(
        "departures/NC-009.md",
        "+++\nkind = \"nonconformance\"\nid = \"NC-009\"\ntitle = \"Bent bracket\"\ndate = 2026-06-15\nagainst = [\"ACT-W/SN02\"]\n+++\n",
    );
    let order = next(&repo);
    let left = names(&order["left"]);
    assert!(
        left.contains(&"ACT-040 ACT-W/SN02".to_string()) && left.contains(&"ACT-060 ACT-W/SN02".to_string()),
        "{left:?}"
    );
    let own = order["left"].as_array().unwrap().iter().find(|row| row["requirement"] == "ACT-060").unwrap();
    assert_eq!(own["reasons"][0]["code"], "nonconformance-open");
    let on_it = order["steps"].as_array().unwrap().iter().filter(|step| step["subject"] == "ACT-W/SN02");
    assert_eq!(on_it.count(), 0);
}

#[test]
fn a_row_that_is_promised_closes_when_its_record_is_made() {
    let repo = TestRepo::demo();
    let promised = |repo: &TestRepo| -> Vec<String> {
        let order = next(repo);
        order["steps"].as_array().unwrap().iter().flat_map(|step| names(&step["closes"])).collect()
    };
    assert!(promised(&repo).contains(&"ACT-040 ACT-W/SN02".to_string()));
    let old = repo.read("records/DM-001.md");
    let new = old.replace("DM-001", "DM-002").replace("date = 2026-05-15", "date = 2026-06-16");
    let new: String = new
        .lines()
        .filter(|line| !line.starts_with("seal") && !line.starts_with("outcome"))
        .map(|line| format!("{line}\n"))
        .collect();
    let (front, _) = new.rsplit_once("+++").unwrap();
    repo.write(
        "records/DM-002.md",
        &format!("{}+++\nAgain, after the rework.\n", front.replace("status = \"signed\"", "status = \"draft\"")),
    );
    repo.run(&["sign", "DM-002", "--by", "test conductor"]).ended(0);
    assert_eq!(repo.states("ACT-040"), [("0 ACT-W/SN02".to_string(), "closed".to_string())]);
    assert!(!promised(&repo).contains(&"ACT-040 ACT-W/SN02".to_string()));
}

/// What has moved since the review, in one line above the verdict, in lists and for programs; the verdict stays.
#[test]
fn what_moved_since_a_review_stands_beside_the_answer() {
    let repo = TestRepo::demo();
    let plain = repo.run(&["before", "hot-fire"]).ended(1).out;
    let run = repo.run(&["before", "hot-fire", "--since", "TRR-1"]).ended(1);
    let verdict = |text: &str| text.lines().find(|line| line.contains("open before hot-fire")).unwrap().to_string();
    assert_eq!(verdict(&plain), verdict(&run.out));
    let line = run.out.lines().position(|line| line.starts_with("since TRR-1: ")).unwrap();
    assert!(line < run.out.lines().position(|line| line.contains("open before hot-fire")).unwrap(), "{}", run.out);
    let json = repo.run(&["before", "hot-fire", "--since", "TRR-1", "--format", "json"]).json();
    let since = &json["since"];
    let count = |list: &str| since[list].as_array().unwrap().len();
    // Every row of today is where it was, or in just one of the lists; so is every row of then.
    let then = repo.run(&["before", "hot-fire", "--at", "TRR-1", "--format", "json"]).json();
    let (rows, rows_then) = (json["rows"].as_array().unwrap().len(), then["rows"].as_array().unwrap().len());
    assert_eq!(rows - count("new"), rows_then - count("gone"));
    let open = |rows: &serde_json::Value| {
        rows.as_array()
            .unwrap()
            .iter()
            .filter(|row| !matches!(row["state"].as_str(), Some("closed" | "waived")))
            .count()
    };
    let new_open = open(&since["new"]);
    let gone_open = since["gone"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|row| !matches!(row["was"].as_str(), Some("closed" | "waived")))
        .count();
    assert_eq!(open(&json["rows"]) + count("closed") + gone_open, open(&then["rows"]) + count("opened") + new_open);
    let has = |list: &serde_json::Value, id: &str, state: &str| {
        list.as_array().unwrap().iter().any(|row| row["requirement"] == id && row["state"] == state)
    };
    assert!(has(&since["changed"], "ACT-040", "void") && has(&since["closed"], "MOV-060", "closed"), "{since}");
    assert!(since["closed"].as_array().unwrap().iter().all(|row| row["reason"].as_str().unwrap().starts_with("by ")));
    // The same against what is checked out: nothing has moved.
    let now = repo.run(&["before", "hot-fire", "--since", "HEAD"]).ended(1).out;
    assert!(now.contains("since HEAD: no row has moved"), "{now}");
    let decided = repo.run(&["before", "hot-fire", "--since", "D-001", "--format", "json"]).json();
    assert!(decided["since"]["new"].as_array().unwrap().iter().any(|row| row["requirement"] == "ACT-050"));
    let unknown = repo.run(&["before", "hot-fire", "--since", "TRR-2"]).ended(2);
    assert!(unknown.err.contains("no commit, tag, date or decision is called `TRR-2`"), "{}", unknown.err);
    let markdown = repo.run(&["before", "hot-fire", "--since", "TRR-1", "--format", "markdown"]).ended(1).out;
    assert!(markdown.contains("since TRR-1: ") && markdown.contains("open in another state"), "{markdown}");
    // An edit that nobody stands by opens a row again.
    repo.replace("records/TR-008.md", "status = \"signed\"", "status = \"draft\"");
    let edited = repo.run(&["before", "hot-fire", "--since", "HEAD", "--format", "json"]).ended(1).json();
    assert!(has(&edited["since"]["opened"], "MOV-060", "unsigned"), "{}", edited["since"]);
    assert_eq!(edited["since"]["summary"], "since HEAD: 1 unsigned");
}

/// The day of the event, and how far it is, on each side of it; and nothing of the kind where nobody has said when.
#[test]
fn the_day_of_the_event_stands_in_the_head() {
    let repo = TestRepo::demo();
    for event in ["cold-shock", "hot-fire"] {
        let planned = repo.run(&["before", event]).ended(1).out;
        assert!(planned.contains(&format!("{event} is planned for 2026-0")), "{planned}");
    }
    repo.replace("slipmark.toml", "date = 2026-07-22\n", "");
    let silent = repo.run(&["before", "hot-fire"]).ended(1);
    assert!(!silent.out.contains("planned for"), "{}", silent.out);
    assert!(repo.run(&["before", "hot-fire", "--format", "json"]).json()["event_date"].is_null());
    repo.replace("slipmark.toml", "name = \"hot-fire\"", "name = \"hot-fire\"\ndate = 2026-07-01");
    let on = |today: &str, more: &[&str]| {
        let line: Vec<&str> = ["before", "hot-fire"].iter().chain(more).copied().collect();
        repo.run_at(repo.path(), today, &line).ended(1)
    };
    for (today, days, words) in [
        ("2026-06-16", 15, "hot-fire is planned for 2026-07-01, in 15 days;"),
        ("2026-06-30", 1, "hot-fire is planned for 2026-07-01, tomorrow;"),
        ("2026-07-01", 0, "hot-fire is planned for today;"),
        ("2026-07-02", -1, "hot-fire was planned for 2026-07-01, yesterday;"),
        ("2026-08-01", -31, "hot-fire was planned for 2026-07-01, 31 days ago;"),
    ] {
        let (text, json) = (on(today, &[]), on(today, &["--format", "json"]).json());
        assert!(text.out.split_whitespace().collect::<Vec<_>>().join(" ").contains(words), "{}", text.out);
        assert_eq!((&json["event_date"], &json["event_in_days"]), (&"2026-07-01".into(), &days.into()));
    }
}

/// Whose a row is stands behind its title, once: not where the heading says so, and nowhere if nobody is named.
#[test]
fn a_row_says_whose_it_is() {
    let repo = TestRepo::demo();
    let line = |run: Run| run.out.lines().find(|line| line.contains("STD-035 [safety]")).expect("the row").to_string();
    let row = || line(repo.run(&["before", "hot-fire"]).ended(1));
    let owner = repo.run(&["before", "hot-fire", "--format", "json"]).json()["rows"]
        .as_array()
        .and_then(|rows| rows.iter().find(|row| row["requirement"] == "STD-035"))
        .and_then(|row| row["owner"].as_str())
        .expect("an owner")
        .to_string();
    assert!(row().ends_with(&format!("; owner: {owner}")), "{}", row());
    assert!(line(repo.run(&["before", "hot-fire", "--by", "event"]).ended(1)).ends_with(&owner));
    assert!(!line(repo.run(&["before", "hot-fire", "--by", "owner"]).ended(1)).contains("owner"));
    let path = repo.run(&["show", "STD-035", "--format", "json"]).json()["path"].as_str().expect("a path").to_string();
    repo.replace(&path, &format!("owner = \"{owner}\"\n"), "");
    assert!(!row().contains("owner"), "{}", row());
}

/// A requirement on the valve for one piece, and the valve's pieces listed with the one for service first.
fn asked_of_one(repo: &TestRepo, stage: &str) {
    let text = repo.read("requirements/valve/MOV-070.md").replace("MOV-070", "MOV-071");
    let text =
        text.replace("stage = \"qualification\", on = \"design\"", &format!("stage = \"{stage}\", on = \"one\""));
    assert!(text.contains("on = \"one\""));
    repo.write("requirements/valve/MOV-071.md", &text);
    let item = repo.read("items/MOV.md");
    let (first, second, third) = (
        item.find("[[serials]]\nnumber = \"SN01\"").unwrap(),
        item.find("[[serials]]\nnumber = \"SN02\"").unwrap(),
        item.find("[[serials]]\nnumber = \"SN03\"").unwrap(),
    );
    if second < first {
        return;
    }
    let parts = [&item[..first], &item[second..third], &item[first..second], &item[third..]];
    repo.write("items/MOV.md", &parts.concat());
}

#[test]
fn the_order_and_the_answer_choose_the_same_piece_and_for_qualification_the_one_for_that() {
    let repo = TestRepo::demo();
    let chosen = || {
        let json = repo.run(&["before", "cold-flow", "--next", "--format", "json"]).ended(1).json();
        let rows = json["rows"].as_array().unwrap();
        let row = rows.iter().find(|row| row["requirement"] == "MOV-071").unwrap();
        let help = row["reasons"][0]["help"].as_str().unwrap().to_string();
        let steps = json["next"]["steps"].as_array().unwrap();
        let closes = |step: &&serde_json::Value| names(&step["closes"]).contains(&"MOV-071 MOV".to_string());
        (help, steps.iter().find(closes).unwrap()["subject"].as_str().unwrap().to_string())
    };
    for (stage, piece) in [("qualification", "MOV/SN01"), ("development", "MOV/SN01"), ("acceptance", "MOV/SN02")] {
        asked_of_one(&repo, stage);
        let (help, on) = chosen();
        assert_eq!(on, piece, "{stage}");
        assert!(help.ends_with(&format!("--for MOV-071 --serial {piece}")), "{stage}: {help}");
    }
    // The valve in service is not taken where the one for qualification has been run.
    let json = repo.run(&["before", "cold-flow", "--next", "--format", "json"]).ended(1).json();
    let steps = json["next"]["steps"].as_array().unwrap();
    let closes = |step: &&serde_json::Value| names(&step["closes"]).contains(&"MOV-070 MOV".to_string());
    assert_eq!(steps.iter().find(closes).unwrap()["subject"], "MOV/SN01");
}

/// Two requirements on one run ask for conditions that no run can have at once: two runs close both.
#[test]
fn what_a_run_of_its_own_closes_is_not_said_to_be_closed_by_no_record() {
    let repo = TestRepo::folder();
    repo.run(&["init", "--name", "Stand"]).ended(0);
    let text = repo.read("requirements/R-001.md");
    let at = |id: &str, limits: &str| {
        let text = text.replace("R-001", id).replace("\nmax = ", &format!("\nat.p = {{ {limits} }}\nmax = "));
        repo.write(&format!("requirements/{id}.md"), &text);
    };
    at("R-001", "max = \"0.2 MPa gauge\"");
    at("R-002", "min = \"5.9 MPa gauge\"");
    // No run closes this one.
    repo.write("requirements/R-003.md", &text.replace("R-001", "R-003").replace("10 mL/min", "TBD mL/min"));
    repo.commit("Start");
    let asked = |format: &str| repo.run(&["before", "leak-check", "--next", "--format", format]).ended(1);
    let next = asked("json").json()["next"].clone();
    assert_eq!(next["steps"].as_array().unwrap().len(), 1, "{next}");
    assert_eq!(names(&next["steps"][0]["closes"]), ["R-001 VALVE/SN01"]);
    assert_eq!(names(&next["apart"]), ["R-002 VALVE/SN01"]);
    assert_eq!(names(&next["left"]), ["R-003 VALVE/SN01"]);
    let told = asked("text").out;
    let (own, left) = told.split_once("These stay open: no record closes them by itself").expect("both");
    let own = own.split_once("These need a run of their own, beside the one above").expect("both").1;
    assert!(own.contains("R-002") && own.contains("at least 5.9 MPa gauge is asked"), "{told}");
    assert!(left.contains("R-003") && !left.contains("R-002"), "{told}");
    // And so it is.
    for (id, number, p) in [("R-001", 1, "0.1 ± 0.01 MPa gauge"), ("R-002", 2, "6 ± 0.01 MPa gauge")] {
        let path = repo.run(&["new", "test", "--for", id]).ended(0).out;
        repo.replace(path.trim(), "# instruments = [\"\"]", "no_instrument = \"read off the panel\"");
        let record = format!("TR-00{number}");
        repo.run(&["fill", &record, "leakage=2 ± 0.1 mL/min", &format!("p={p}")]).ended(0);
        repo.run(&["sign", &record, "--by", "test conductor"]).ended(0);
        assert_eq!(repo.state(id, "VALVE/SN01"), "closed");
    }
}

#[test]
fn whatever_is_counted_as_open_stands_in_the_order() {
    let repo = TestRepo::demo();
    for format in ["text", "markdown", "csv"] {
        let out = repo.run(&["before", "hot-fire", "--next", "--format", format]).ended(1).out;
        let out = out.replace("\\_", "_").split_whitespace().collect::<Vec<_>>().join(" ");
        for part in ["NC-004", "is over its limit of 50 cold_strokes", "TP-06 is planned and not released"] {
            assert!(out.contains(part), "{format}: {part}\n{out}");
        }
    }
    let json = repo.run(&["before", "hot-fire", "--next", "--format", "json"]).ended(1).json();
    let count = |list: &serde_json::Value| list.as_array().unwrap().len();
    let next = &json["next"];
    let closed: usize = next["steps"].as_array().unwrap().iter().map(|step| count(&step["closes"])).sum();
    let rows = closed + ["look_first", "follow", "apart", "left"].iter().map(|list| count(&next[*list])).sum::<usize>();
    let others = count(&json["nonconformance_details"]) + count(&json["gaps"]) + count(&json["faults"]);
    assert_eq!(serde_json::json!(rows + others), json["open_total"]);
}

/// What a run closes by the answer, and by the order of records.
fn closable(repo: &TestRepo, event: &str) -> (Vec<String>, Vec<String>) {
    let text = repo.run(&["before", event]).out;
    let told = text.split("What closes them").nth(1).unwrap_or_default().split("\n\n").next().unwrap().to_string();
    let told = told.lines().filter(|line| line.contains(" closes ")).map(str::trim);
    let told = told.map(|line| line.split(&[':', ';'][..]).next().unwrap().replace(" as things are", "")).collect();
    let json = repo.run(&["before", event, "--next", "--format", "json"]).json();
    let left: Vec<String> = ["left", "follow"].iter().flat_map(|list| names(&json["next"][*list])).collect();
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    let open = |row: &&serde_json::Value| !matches!(row["state"].as_str().unwrap(), "closed" | "waived");
    for row in json["rows"].as_array().unwrap().iter().filter(open) {
        let Some(procedure) = row["procedure"].as_str() else { continue };
        let closes = !left.contains(&names(&serde_json::json!([row])).remove(0));
        *counts.entry(procedure.to_string()).or_default() += usize::from(closes);
    }
    let said = |(name, count): (String, usize)| match count {
        0 => format!("{name} closes none of these"),
        count => format!("{name} closes {count} of these"),
    };
    (told, counts.into_iter().map(said).collect())
}

#[test]
fn only_what_a_run_closes_as_things_are_is_counted_as_closed_by_it() {
    let repo = TestRepo::demo();
    let same = |repo: &TestRepo, what: &str| {
        for event in ["cold-shock", "cold-flow", "hot-fire"] {
            let (mut told, ordered) = closable(repo, event);
            told.sort();
            assert_eq!(told, ordered, "{event}: {what}");
        }
    };
    same(&repo, "as it is");
    let text = repo.run(&["before", "hot-fire"]).ended(1).out;
    assert!(text.contains("TP-06 closes 4 of these; 1 waits for something else too; it is still a draft"), "{text}");
    assert!(
        text.contains("TP-04 closes none of these as things are; 2 wait for something else too: MOV-035"),
        "{text}"
    );
    // A nonconformance against the only piece makes void whatever would be made on it.
    let other = repo.read("departures/NC-004.md").replace("NC-004", "NC-009").replace("MOV/SN02", "PRG/SN01");
    repo.write("departures/NC-009.md", &other.replace("[\"MOV-035\"]", "[\"PRG-010\"]").replace("[\"TR-009\"]", "[]"));
    same(&repo, "a nonconformance");
    let text = repo.run(&["before", "hot-fire"]).ended(1).out;
    assert!(text.contains("TP-06 closes 3 of these; 2 wait for something else too; it is still a draft"), "{text}");
    // Of two pieces, one is left for a qualification.
    repo.write(
        "departures/NC-009.md",
        &other.replace("PRG/SN01", "MOV/SN01").replace("[\"MOV-035\"]", "[\"MOV-070\"]"),
    );
    same(&repo, "one of two pieces");
    // Without its evidence, a draft, and no limit.
    std::fs::remove_file(repo.path().join("records/TR-006.md")).unwrap();
    repo.replace("requirements/actuator/ACT-040.md", "title = ", "status = \"draft\"\ntitle = ");
    same(&repo, "a draft");
}

#[test]
fn a_step_says_what_is_known_of_its_piece() {
    let repo = TestRepo::demo();
    let known = || {
        let json = repo.run(&["before", "hot-fire", "--next", "--format", "json"]).ended(1).json();
        let steps = json["next"]["steps"].as_array().unwrap();
        steps.iter().find(|step| step["subject"] == "MOV/SN01").unwrap()["known"].clone()
    };
    // A life that is used up is told whatever the run is.
    let used_up = known();
    assert_eq!(used_up[0]["today"], "54 of 50 used, -4 left");
    repo.replace("items/MOV.md", "used.cold_strokes = 54 #", "#");
    assert_eq!(known(), serde_json::json!([]));
    // A nonconformance about something else, and a life that the run uses.
    let other = repo.read("departures/NC-004.md").replace("NC-004", "NC-009").replace("MOV/SN02", "MOV/SN01");
    repo.write("departures/NC-009.md", &other.replace("[\"MOV-035\"]", "[\"MOV-010\"]").replace("[\"TR-009\"]", "[]"));
    let procedure = repo.read("procedures/TP-03.md");
    repo.write(
        "procedures/TP-03.md",
        &procedure.replacen("item = \"MOV\"", "item = \"MOV\"\nuses = [\"cold_strokes\"]", 1),
    );
    let known = known();
    let named = |at: usize| (known[at]["name"].as_str().unwrap(), known[at]["today"].as_str().unwrap());
    assert_eq!(named(0), ("NC-009", "it is open; due before cold-flow"), "{known}");
    assert_eq!(named(1).0, "MOV/SN01 cold_strokes");
    assert!(named(1).1.starts_with("0 of 50 used, "), "{known}");
    assert_eq!(known.as_array().unwrap().len(), 2, "{known}");
    for format in ["text", "markdown", "csv"] {
        let out = repo.run(&["before", "hot-fire", "--next", "--format", format]).ended(1).out;
        let out = out.replace("\\_", "_").split_whitespace().collect::<Vec<_>>().join(" ");
        for part in ["NC-009, Valve SN02", "MOV/SN01 cold_strokes, limited life"] {
            assert!(out.contains(part), "{format}: {part}\n{out}");
        }
    }
}

#[test]
fn a_row_names_the_waiver_that_does_not_cover_it_and_why() {
    let repo = TestRepo::demo();
    let waiver = |scope: &str, most: &str| {
        let text = repo.read("departures/W-001.md").replace("W-001", "W-009").replace("ACT-090", "MOV-035");
        let text = text.replace("m1-696f2da62e6d", "m1-dc130f9c2557").replace("serials = [\"ACT-W/SN02\"]", scope);
        let text = text.replace("approved = 2026-05-26", "approved = 2026-06-10");
        repo.write("departures/W-009.md", &text.replace("accepts.value = { max = \"5.0 kg\" }", most));
    };
    // The help of each row of the requirement, and what check says of the waiver.
    let said = || {
        let json = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
        let own = json["rows"].as_array().unwrap().iter().filter(|row| row["requirement"] == "MOV-035");
        let help = |row: &serde_json::Value| {
            let help = row["reasons"][0]["help"].as_str().unwrap();
            (row["state"].as_str().unwrap().to_string(), help.split("W-009 ").nth(1).unwrap_or_default().to_string())
        };
        let rows: BTreeMap<String, (String, String)> =
            own.map(|row| (row["subject"].as_str().unwrap().to_string(), help(row))).collect();
        let check = repo.run(&["check"]).out.split_whitespace().collect::<Vec<_>>().join(" ");
        (rows["MOV"].clone(), rows["MOV/SN02"].clone(), check)
    };
    let (limit, piece) = ("accepts.leakage = { max = \"90 mL/min\" }", "serials = [\"MOV/SN02\"]");
    waiver(piece, "accepts.leakage = { max = \"90 g\" }");
    let (_, on_piece, check) = said();
    assert!(
        on_piece.1.starts_with("does not cover it: what it accepts, at most 90 g, cannot be held against"),
        "{on_piece:?}"
    );
    assert!(check.contains("[waiver-covers-nothing] W-009 accepts at most 90 g for leakage of MOV-035"), "{check}");
    assert!(check.contains("do: write what is accepted in mL/min, as the limit is"), "{check}");
    waiver(piece, "accepts.leakage = { max = \"60 mL/min\" }");
    let (_, on_piece, check) = said();
    assert!(
        on_piece.1.starts_with("does not cover it: the result does not meet what it accepts, at most 60"),
        "{on_piece:?}"
    );
    assert!(!check.contains("waiver-covers-nothing"), "{check}");
    // For the piece it covers, and for the item it says what it would have to be for.
    waiver(piece, limit);
    let (on_item, on_piece, check) = said();
    assert_eq!(on_piece.0, "waived", "{on_piece:?}");
    assert!(on_item.1.contains("it is for MOV/SN02, and MOV/SN01 is what stands for MOV now"), "{on_item:?}");
    assert!(!check.contains("waiver-covers-nothing"), "{check}");
    waiver("serials = [\"MOV/SN01\"]", limit);
    assert_eq!(said().1, ("not met".to_string(), String::new()));
    // For nothing that the requirement is shown on.
    waiver("", limit);
    let (on_item, on_piece, check) = said();
    assert!(on_piece.1.starts_with("does not cover it: it names no piece and no item"), "{on_piece:?}");
    assert!(on_item.1.contains("write item = \"MOV\" in it"), "{on_item:?}");
    assert!(check.contains("W-009 is for project, and MOV-035 is open on MOV, MOV/SN02: it covers nothing"), "{check}");
    assert!(check.contains("do: write item = \"MOV\""), "{check}");
}

/// What a waiver asks for is part of the answer, and so is that what it was granted on does not stand any more.
#[test]
fn a_waiver_says_its_conditions_and_that_it_covers_void_evidence() {
    let repo = TestRepo::demo();
    let told = || folded(&repo.run(&["before", "hot-fire"]).ended(1).out);
    assert!(told().contains("on condition: Bracket bolts are looked at after every run."), "{}", told());
    assert!(!told().contains("evidence that does not stand"), "{}", told());
    repo.replace("items/ACT-W.md", "affects = [\"ACT-040\"]", "affects = [\"ACT-040\", \"ACT-090\"]");
    repo.replace("departures/W-001.md", "approved = 2026-05-26", "approved = 2026-06-10");
    let json = repo.run(&["before", "hot-fire", "--format", "json"]).ended(1).json();
    let waiver = &json["waiver_details"][0];
    assert_eq!(waiver["void"].as_array().map(Vec::len), Some(1), "{waiver}");
    let said = format!("it covers evidence that does not stand: {}", waiver["void"][0].as_str().unwrap());
    assert!(told().contains(&folded(&said)) && said.contains("ACT-W/SN02"), "{said} in {}", told());
    repo.run(&["packet", "hot-fire", "-o", "p.html"]).ended(0);
    let page = folded(&repo.read("p.html"));
    assert!(page.contains("on condition: Bracket bolts") && page.contains("it covers evidence that does not stand: "));
}

/// No run closes a row as long as what it is to be read with is out of calibration.
#[test]
fn what_closes_rows_asks_for_calibrated_instruments() {
    let repo = TestRepo::demo();
    let closes = |more: &[&str]| {
        let out = repo.run(&[&["before", "hot-fire"], more].concat()).ended(1).out;
        let list = out.split("What closes them\n").nth(1).unwrap().split("\n\n").next().unwrap().to_string();
        list.lines().filter(|line| line.starts_with("  T")).map(str::to_string).collect::<Vec<_>>()
    };
    let tp_03 = |lines: Vec<String>| lines.into_iter().find(|line| line.contains("TP-03")).unwrap();
    assert!(tp_03(closes(&[])).contains("closes 4 of these"));
    assert!(tp_03(closes(&["--today", "2028-06-01"])).contains("closes none of these as things are"));
}

/// What came after the day of its approval, whoever approved a waiver did not accept.
#[test]
fn a_waiver_does_not_cover_what_came_after_it_was_approved() {
    let row = |repo: &TestRepo| {
        let json =
            repo.run(&["before", "hot-fire", "--today", "2026-06-17", "--all", "--format", "json"]).ended(1).json();
        let own = json["rows"].as_array().unwrap().iter().find(|row| row["requirement"] == "ACT-090").unwrap().clone();
        let help = own["reasons"][0]["help"].as_str().unwrap().to_string();
        (own["state"].as_str().unwrap().to_string(), help)
    };
    let rework = |on: &str| {
        let repo = TestRepo::demo();
        let work = format!("[[serials.reworked]]\ndate = {on}\nreason = \"Another motor\"\naffects = [\"ACT-090\"]\n");
        let text = repo.read("items/ACT-W.md");
        let (front, body) = text.rsplit_once("+++\n").unwrap();
        repo.write("items/ACT-W.md", &format!("{front}{work}+++\n{body}"));
        repo
    };
    let approved = "2026-05-26";
    assert!(TestRepo::demo().read("departures/W-001.md").contains(&format!("approved = {approved}")));
    assert_eq!(row(&rework(approved)).0, "waived", "known on the day");
    let repo = rework("2026-06-15");
    let (state, help) = row(&repo);
    assert_eq!(state, "not met");
    assert!(help.contains("W-001 does not cover it: it was approved on 2026-05-26, before this: IN-005: "), "{help}");
    repo.replace("departures/W-001.md", &format!("approved = {approved}"), "approved = 2026-06-16");
    assert_eq!(row(&repo).0, "waived", "as the help says");
    let recalled = TestRepo::demo();
    let found = "\n[[SC-01.calibrations]]\non = 2026-06-15\ndue = 2027-06-15\nas_found = \"out of tolerance\"\n";
    recalled.write("instruments.toml", &format!("{}{found}", recalled.read("instruments.toml")));
    assert_eq!(row(&recalled).0, "not met");
}

/// Whoever writes down a bent pin is told why the bore of the valve that holds it is void, and what narrows that.
#[test]
fn a_nonconformance_without_requirements_says_that_it_counts_for_all() {
    let repo = TestRepo::demo();
    let new = repo.run(&["new", "nonconformance", "--serial", "ACT-W/SN02", "--title", "Connector pin bent"]).ended(0);
    assert!(new.err.contains("what it bears on: unnamed, it counts for all"), "{}", new.err);
    let said = |repo: &TestRepo| {
        let row = repo.run(&["show", "MOV-010"]).ended(0).out;
        row.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let row = said(&repo);
    assert!(row.contains("NC-005 is against ACT-W/SN02, which is or was in it, and not closed"), "{row}");
    let help = "it counts for every requirement until it names those that it bears on: requirements = [\"ID\"]";
    assert!(row.contains(help), "{row}");
    let path = new.out.trim().to_string();
    let text = repo.read(&path);
    let named = text.replacen("\ndate = ", "\nrequirements = [\"ACT-040\"]\ndate = ", 1);
    let named = named.lines().filter(|line| !line.starts_with("# requirements")).map(|line| format!("{line}\n"));
    repo.write(&path, &named.collect::<String>());
    assert!(!said(&repo).contains("NC-005"), "{}", said(&repo));
    let row = repo.run(&["show", "ACT-040"]).ended(0).out;
    assert!(row.contains("NC-005") && !row.contains("counts for every requirement"), "{row}");
}

#[test]
fn an_event_that_was_held_is_said_to_have_been() {
    let repo = TestRepo::demo();
    let said = |event: &str| repo.run(&["before", event]).out.split_whitespace().collect::<Vec<_>>().join(" ");
    let held = said("leak-check");
    assert!(held.contains("leak-check was planned for 2026-05-06, "), "{held}");
    assert!(held.contains(" days ago, and was held: EV-001, 2026-05-06, completed; commit"), "{held}");
    assert!(!said("hot-fire").contains("was held"), "{}", said("hot-fire"));
}

#[test]
fn the_matrix_names_the_record_that_failed_and_what_is_shown_by_children() {
    let repo = TestRepo::demo();
    let matrix = repo.run(&["matrix"]).ended(0).out;
    let of = |id: &str| matrix.split("\n\n").find(|it| it.starts_with(id)).expect("a requirement").to_string();
    assert!(of("STD-010").contains("by its children") && !of("STD-010").contains("no plan"), "{}", of("STD-010"));
    let lines: Vec<String> = of("MOV-035").lines().map(|line| line.trim().to_string()).collect();
    assert!(lines[1].starts_with("not met      MOV ") && lines[2] == "TR-009 failed", "{lines:?}");
    assert!(lines[3].ends_with("margin 18 mL/min (45 % of the limit,"), "{lines:?}");
    // Where the result beside it is the one that failed, it is not said twice.
    assert_eq!(lines.iter().filter(|line| *line == "TR-009 failed").count(), 1, "{lines:?}");
}
