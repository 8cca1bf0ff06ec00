//! Pictures, as the commands write them and as the packet holds them.

use std::collections::BTreeSet;

use crate::support::TestRepo;

/// The pictures of a page that have names of their own, and what each says in words.
fn described(page: &str) -> Vec<(&str, &str)> {
    let all = page.split("<desc id=\"").skip(1).map(|rest| {
        let (name, rest) = rest.split_once("-words\">").expect("a name");
        (name, rest.split("</desc>").next().expect("words"))
    });
    all.collect()
}

#[test]
fn the_history_of_a_requirement_can_be_drawn() {
    let repo = TestRepo::demo();
    let drawn = repo.run(&["history", "ACT-010", "--format", "svg"]).ended(0).out;
    assert!(drawn.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\""), "{drawn}");
    let words = described(&drawn)[0].1;
    assert!(
        words.contains("AN-001: signed for 1, not for 2. AN-003: signed for 1, looked at again for 2. "),
        "{words}"
    );
    assert!(words.contains("decided: D-002, torque_margin tightened"), "{words}");
    assert_eq!(drawn, repo.run(&["history", "ACT-010", "--format", "svg"]).ended(0).out);
    // With the states of then, the worst of each is there as a mark and a word.
    let stood = repo.run(&["history", "ACT-010", "--states", "--format", "svg"]).ended(0).out;
    assert!(stood.contains(">stood then</text>") && stood.contains(">no evidence</text>"), "{stood}");
    // As the text of then says it, where two revisions are one.
    let then = repo.run(&["history", "ACT-010", "--at", "TRR-1", "--format", "svg"]).ended(0).out;
    assert!(!then.contains(">2  revised</text>") && !then.contains("2 revised"), "{then}");
}

#[test]
fn what_no_commit_holds_has_no_picture() {
    let repo = TestRepo::demo();
    let text = repo.read("requirements/actuator/ACT-010.md").replace("ACT-010", "ACT-999");
    repo.write("requirements/actuator/ACT-999.md", &text);
    let refused = repo.run(&["history", "ACT-999", "--format", "svg"]).ended(2);
    assert!(refused.err.contains("no commit holds ACT-999 yet"), "{}", refused.err);
}

#[test]
fn what_a_requirement_hangs_together_with_can_be_drawn() {
    let repo = TestRepo::demo();
    let drawn = repo.run(&["show", "MOV-020", "--format", "svg"]).ended(0).out;
    let words = described(&drawn)[0].1;
    // Every link that the text of the same command names is in it.
    let json = repo.run(&["show", "MOV-020", "--format", "json"]).ended(0).json();
    for link in json["links"].as_array().expect("links") {
        let drawn_too = ["parents", "children", "evidence"].contains(&link["relation"].as_str().unwrap_or(""));
        assert!(!drawn_too || words.contains(link["id"].as_str().unwrap()), "{link} in {words}");
    }
    for row in json["rows"].as_array().expect("rows") {
        let line = format!("{} (", row["subject"].as_str().unwrap());
        assert!(words.contains(&line), "{line} in {words}");
    }
    let refused = repo.run(&["show", "TR-006", "--format", "svg"]).ended(2);
    assert!(refused.err.contains("TR-006 is no requirement"), "{}", refused.err);
}

#[test]
fn the_packet_has_a_picture_wherever_there_is_something_to_see() {
    let repo = TestRepo::demo();
    let page = repo.run(&["packet", "hot-fire", "-o", "-"]).ended(0).out;
    let pictures = described(&page);
    let names: BTreeSet<&str> = pictures.iter().map(|(name, _)| *name).collect();
    assert_eq!(names.len(), pictures.len(), "no two have one name");
    for name in
        ["events", "margins", "product", "trace-ACT-010", "timeline-ACT-010", "tornado-AN-003-0", "data-BT-002-0"]
    {
        assert!(names.contains(name), "{name} in {names:?}");
    }
    let json = repo.run(&["before", "hot-fire", "--format", "json"]).json();
    let words = |name: &str| pictures.iter().find(|(own, _)| *own == name).expect("it is there").1;
    for event in ["leak-check", "cold-shock", "cold-flow", "hot-fire"] {
        let rows = json["rows"].as_array().unwrap().iter().filter(|row| row["before"] == event);
        let open = rows.clone().filter(|row| row["state"] != "closed" && row["state"] != "waived").count();
        let said = match open {
            0 => format!("{event}: none open: {} closed.", rows.count()),
            open => format!("{event}: {open} of {} open: ", rows.count()),
        };
        assert!(words("events").contains(&said), "{said} in {}", words("events"));
    }
    assert!(words("margins").starts_with("MOV-035 "), "the only one of safety that is outside is thinnest");
    for it in json["rows"].as_array().unwrap().iter().filter(|row| row["state"] == "inconclusive") {
        assert!(words("margins").contains(&format!("{} ", it["requirement"].as_str().unwrap())));
    }
}

#[test]
fn where_there_is_nothing_to_draw_it_says_so() {
    let repo = TestRepo::folder();
    repo.git(&["init", "--quiet"]);
    repo.write("slipmark.toml", "name = \"Stand\"\nevents = [\"test\"]\n");
    repo.write(
        "r.md",
        "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"T\"\nsource = \"S\"\n\
         verify = [{ method = \"analysis\" }]\n+++\nThe stand shall hold.\n",
    );
    let page = repo.run(&["packet", "test", "-o", "-"]).ended(0).out;
    assert!(page.contains("so there is no margin to draw."), "{page}");
    let names: Vec<&str> = described(&page).into_iter().map(|(name, _)| name).collect();
    assert_eq!(names, ["events", "events-narrow", "trace-R-1"]);
}
