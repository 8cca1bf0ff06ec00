//! The pages as a whole: every link leads somewhere, nothing of the answer is missing, nothing can run or be loaded.

#![allow(clippy::disallowed_methods, reason = "a test changes a file of the example")]

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::*;
use crate::analysis::{self, Analysis, Request};
use crate::history::Guard;
use crate::report::hostile;
use crate::report::packet::tests::{StartTag, links_of, tags, values};
use crate::report::packet::{Dated, Past};
use crate::source::{Memory, Source, WorkTree};

fn read(source: &dyn Source) -> Analysis {
    analysis::run(source, Request::on(jiff::civil::date(2026, 7, 1))).unwrap()
}

/// Every page about an event, by address.
fn made(source: &dyn Source, event: &str, scheme: Scheme) -> BTreeMap<String, Page> {
    let analysis = read(source);
    let event = analysis.model.config.event_index(event).unwrap();
    let (guard, past) = (Guard::default(), Past::default());
    let dated = Dated { date: None, from: "there is no commit", subject: None };
    let from = Made { analysis: &analysis, guard: &guard, past: &past, source, dated: &dated };
    let mut pages = all(&Set::of(from, event, scheme).unwrap());
    // A slash is spelt out in attributes, which is the same to a reader.
    pages.values_mut().for_each(|page| page.text = page.text.replace("&#x2f;", "/"));
    pages
}

fn all(set: &Set<'_>) -> BTreeMap<String, Page> {
    set.names().map(|name| (name.to_string(), set.page(name).unwrap().unwrap())).collect()
}

/// The example, in a folder that goes away with the value.
fn example() -> (tempfile::TempDir, WorkTree) {
    let folder = tempfile::tempdir().unwrap();
    crate::example::build(&folder.path().join("demo")).unwrap();
    let tree = WorkTree::open(&folder.path().join("demo")).unwrap();
    (folder, tree)
}

/// The pages of the hostile project, with its past.
fn hostile_pages(scheme: Scheme) -> (BTreeMap<String, Page>, hostile::Repository) {
    let repo = hostile::Repository::new();
    let analysis = repo.analysis();
    let past = repo.past(&analysis);
    let (guard, source) = (repo.guard(&analysis), repo.tree());
    let dated = Dated { date: None, from: "there is no commit", subject: Some(hostile::RAW.into()) };
    let from = Made { analysis: &analysis, guard: &guard, past: &past, source: &source, dated: &dated };
    let pages = all(&Set::of(from, 0, scheme).unwrap());
    (pages, repo)
}

fn html(pages: &BTreeMap<String, Page>) -> impl Iterator<Item = (&String, &Page)> {
    pages.iter().filter(|(_, page)| page.media == Media::Html)
}

/// Pages that are not of the set.
const LIVE_ALONE: &[&str] = &["rows", "between", "keys", "-/view.css", "-/view.js"];

/// Where a link leads: the page, and the place in it.
fn target(from: &str, href: &str) -> (String, String) {
    let (path, place) = href.split_once('#').unwrap_or((href, ""));
    let mut at: Vec<&str> = from.split('/').collect();
    at.pop();
    if path.is_empty() {
        return (from.to_string(), place.to_string());
    }
    for part in path.split('/') {
        match part {
            "." | "" => {}
            ".." => assert!(at.pop().is_some(), "{href} of {from} leads out"),
            part => at.push(part),
        }
    }
    (at.join("/"), place.to_string())
}

/// Fails if a link leads to no page or to no place in it, or if two places of a page have one name.
fn links_lead_somewhere(pages: &BTreeMap<String, Page>, lead: impl Fn(&str, &str) -> (String, String)) -> usize {
    let of = |page: &Page| tags(&page.text);
    let read: BTreeMap<&str, Vec<StartTag>> = html(pages).map(|(name, page)| (name.as_str(), of(page))).collect();
    let mut places: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for (name, tags) in &read {
        let mut own = BTreeSet::new();
        for id in values(tags, "id") {
            assert!(own.insert(id), "two places of {name} are called {id}");
        }
        places.insert(name, own);
    }
    let mut count = 0;
    for (name, tags) in &read {
        for href in links_of(tags) {
            let (page, place) = lead(name, &href);
            assert!(pages.contains_key(&page), "{name} leads to {href}, which is no page");
            let known = place.is_empty() || places[page.as_str()].contains(place.as_str());
            assert!(known, "{name} leads to {href}, where nothing is called so");
            count += 1;
        }
    }
    count
}

#[test]
fn every_link_leads_to_a_page_and_to_a_place_in_it() {
    let (_folder, tree) = example();
    let pages = made(&tree, "cold-flow", Scheme::Folder);
    assert!(links_lead_somewhere(&pages, target) > 3000);
    let (pages, _repo) = hostile_pages(Scheme::Folder);
    assert!(links_lead_somewhere(&pages, target) > 200);
}

#[test]
fn so_they_do_where_a_program_answers() {
    let (_folder, tree) = example();
    let pages = made(&tree, "hot-fire", Scheme::Live);
    let lead = |from: &str, href: &str| {
        let (page, place) = target(if href.starts_with('/') { "" } else { from }, href);
        // Pages that only a program has; its own test follows these links.
        let alone = page.starts_with("revisions/") || LIVE_ALONE.contains(&page.as_str());
        if alone { (String::new(), String::new()) } else { (page, place) }
    };
    assert!(links_lead_somewhere(&pages, lead) > 3000);
    assert!(pages.contains_key("") && pages.contains_key("requirement/MOV-035") && pages.contains_key("matrix"));
}

#[test]
fn everything_has_a_page_and_is_listed_and_found() {
    let (_folder, tree) = example();
    let pages = made(&tree, "hot-fire", Scheme::Folder);
    let analysis = read(&tree);
    let names = crate::report::view::names(&analysis);
    let events: HashSet<&str> = analysis.model.config.events.iter().map(|event| event.name.value.as_str()).collect();
    let things =
        names.iter().filter(|name| !events.contains(name.as_str()) && !analysis.model.parameters.contains_key(*name));
    let mut count = 0;
    for name in things {
        let address = pages.keys().find(|address| {
            let own = address.rsplit_once('/').map(|(_, own)| own.trim_end_matches(".html").replace('+', "/"));
            own.as_deref() == Some(name)
        });
        let address = address.unwrap_or_else(|| panic!("{name} has no page"));
        assert!(pages["all.html"].text.contains(&format!("href=\"{address}\"")), "{name} is not listed");
        assert!(pages["words.js"].text.contains(&format!("[\"{address}\",\"{name}\",")), "{name} is not found");
        count += 1;
    }
    assert!(count > 90, "{count}");
    assert!(pages["settings.html"].text.contains("meop"));
}

/// What a row of the matrix says: its number, and its state.
fn states(page: &str) -> Vec<(usize, String)> {
    let rows = page.split("<tr id=\"m").skip(1).map(|row| row.split("</tr>").next().unwrap());
    let state = |row: &str| row.split("class=\"state s-").nth(1).unwrap().split('"').next().unwrap().replace('-', " ");
    rows.map(|row| (row.split('"').next().unwrap().parse().unwrap(), state(row))).collect()
}

#[test]
fn every_row_of_the_answer_is_in_the_matrix_and_every_open_one_on_the_first_page() {
    let (_folder, tree) = example();
    let analysis = read(&tree);
    for name in ["leak-check", "cold-flow", "hot-fire"] {
        let event = analysis.model.config.event_index(name).unwrap();
        let before = crate::report::view::before(&analysis, &Guard::default(), event);
        let pages = made(&tree, name, Scheme::Folder);
        let matrix = &pages["matrix.html"].text;
        let (due, later) = matrix.split_once("<h2>Due after").unwrap_or((matrix, ""));
        let mut counted: BTreeMap<String, usize> = BTreeMap::new();
        for (_, state) in states(due) {
            *counted.entry(state).or_insert(0) += 1;
        }
        let expected = before.counts.iter().filter(|(_, count)| **count > 0);
        assert_eq!(counted, expected.map(|(state, count)| (state.to_string(), *count)).collect(), "{name}");
        let all = crate::report::view::matrix(&analysis).rows.len();
        assert_eq!(states(due).len() + states(later).len(), all, "{name}: every row of the project is somewhere");
        let front = &pages["index.html"].text;
        let open = before.rows.iter().filter(|row| row.state.is_open());
        assert_eq!(front.split("<td data-label=\"why\">").count() - 1, open.clone().count(), "{name}");
        for row in open {
            let link = format!("<a href=\"requirement/{}.html\"", row.requirement);
            assert!(front.contains(&link), "{} is not on the first page", row.requirement);
            let own = &pages[&format!("requirement/{}.html", row.requirement)].text;
            assert!(own.contains(row.state.word()), "{}", row.requirement);
        }
        for gap in &before.gaps {
            assert!(front.contains(gap.code), "{}", gap.code);
        }
    }
}

#[test]
fn rows_are_put_together_by_what_closes_them_and_the_worst_comes_first() {
    let (_folder, tree) = example();
    let front = &made(&tree, "hot-fire", Scheme::Folder)["index.html"].text;
    let tables: Vec<&str> = front.split("<table class=\"stack open-rows\"").skip(1).collect();
    assert!(tables.len() > 2);
    for table in &tables {
        let rows = table.matches("<td data-label=\"why\">").count();
        let said = format!("closes {rows} of these");
        assert!(table.contains(&said) && front.matches(&said).count() > 1, "{said}");
    }
    assert!(tables[0].contains("s-not-met") && tables[0].contains(">safety<"));
}

#[test]
fn faults_come_before_everything_that_they_could_make_wrong() {
    let files = Memory::new()
        .file("slipmark.toml", "name = \"x\"\nevents = [\"fire\"]\n")
        .file("r.md", "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"T\"\nsource = \"S\"\nparents = [\"R-9\"]\nverify = [{ method = \"analysis\" }]\n+++\nIt shall.\n");
    let pages = made(&files, "fire", Scheme::Folder);
    let front = &pages["index.html"].text;
    let at = |what: &str| front.find(what).unwrap_or_else(|| panic!("no {what}"));
    assert!(at("id=\"faults\"") < at("id=\"summary\"") && at("id=\"faults\"") < at("open-rows"));
    assert!(at("href=\"index.html#faults\"") < at("class=\"sentence\""));
}

#[test]
fn ids_that_differ_only_in_case_have_a_page_each() {
    let asked = |id: &str, word: &str| {
        format!("+++\nkind = \"requirement\"\nid = \"{id}\"\ntitle = \"T\"\nsource = \"S\"\n+++\nIt shall be {word}.\n")
    };
    let files = Memory::new()
        .file("slipmark.toml", "name = \"x\"\nevents = [\"fire\"]\n")
        .file("a.md", asked("MOV-1", "first"))
        .file("b.md", asked("mov-1", "second"))
        .file("c.md", asked("CON", "third"));
    let pages = made(&files, "fire", Scheme::Folder);
    let folded: HashSet<String> = pages.keys().map(|name| name.to_lowercase()).collect();
    assert_eq!(folded.len(), pages.len());
    let holds = |what: &str| {
        pages.values().filter(|page| page.address.starts_with("requirement/") && page.text.contains(what)).count()
    };
    assert_eq!((holds("It shall be first."), holds("It shall be second.")), (1, 1));
    assert!(!pages.contains_key("requirement/CON.html") && pages.contains_key("requirement/~CON.html"));
    links_lead_somewhere(&pages, target);
}

/// A page that worked it out for all, on several threads, could be kept waiting by another page that waits for it.
#[test]
fn what_pages_share_is_there_before_any_is_made() {
    let (_folder, tree) = example();
    let analysis = read(&tree);
    let (guard, past) = (Guard::default(), Past::default());
    let dated = Dated { date: None, from: "there is no commit", subject: None };
    let from = Made { analysis: &analysis, guard: &guard, past: &past, source: &tree, dated: &dated };
    let set = Set::of(from, 0, Scheme::Folder).unwrap();
    assert!(set.prepared.named.get().is_some() && set.prepared.manifest.get().is_some());
}

#[test]
fn what_names_a_thing_is_told_on_its_page() {
    let (_folder, tree) = example();
    let pages = made(&tree, "hot-fire", Scheme::Folder);
    let named = |page: &str| {
        pages[page].text.split("id=\"named\">").nth(1).unwrap().split("</section>").next().unwrap().to_string()
    };
    for (page, by, how) in [
        ("procedure/TP-03.html", "procedure/TP-04.html", "in its text"),
        ("requirement/MOV-070.html", "requirement/ACT-010.html", "has it as a parent"),
        ("serial/MOV+SN02.html", "nonconformance/NC-004.html", "is against it, and is not closed"),
        ("instrument/TQ-01.html", "procedure/TP-03.html", "reads with it"),
        ("slot/MOV-ACT.html", "item/ACT-W.html", "fills it"),
    ] {
        let named = named(page);
        let line = named.split("<li>").find(|line| line.contains(&format!("href=\"../{by}\"")));
        assert!(line.is_some_and(|line| line.contains(how)), "{page}: {named}");
    }
    // Whoever is told to name a requirement above is not told again.
    assert!(!named("requirement/ACT-010.html").contains("TR-006"));
    assert!(
        !named("procedure/TP-03.html").contains("ACT-010")
            && pages["procedure/TP-03.html"].text.contains("planned for")
    );
    // A text that names it counts.
    assert!(named("record/TR-006.html").contains("in its text"), "{}", named("record/TR-006.html"));
}

#[test]
fn long_lists_go_on_over_pages_and_lose_nothing() {
    let mut files = Memory::new().file("slipmark.toml", "name = \"x\"\nevents = [\"fire\", \"later\"]\n");
    for at in 0..620 {
        let event = if at % 3 == 0 { "later" } else { "fire" };
        let text = format!(
            "+++\nkind = \"requirement\"\nid = \"R-{at}\"\ntitle = \"T\"\nsource = \"S\"\n\
             verify = [{{ method = \"analysis\", before = \"{event}\" }}]\n+++\nThe stand shall hold.\n"
        );
        files = files.file(&format!("r{at}.md"), text);
    }
    let pages = made(&files, "fire", Scheme::Folder);
    links_lead_somewhere(&pages, target);
    let listed = |start: &str, what: &str| -> usize {
        let own = pages.iter().filter(|(name, _)| name.starts_with(start));
        own.map(|(_, page)| page.text.matches(what).count()).sum()
    };
    assert_eq!(listed("index", "<td data-label=\"why\">") + listed("open/", "<td data-label=\"why\">"), 413);
    assert_eq!(listed("matrix", "<tr id=\"m"), 620);
    assert_eq!(
        listed("requirement.html", "<td data-label=\"title\">")
            + listed("all-requirement/", "<td data-label=\"title\">"),
        620
    );
    assert!(pages["open/2.html"].text.contains("continued"));
    assert!(pages["all.html"].text.contains("All 620</a>"));
}

#[test]
fn nothing_that_a_project_says_can_run_or_be_loaded() {
    for scheme in [Scheme::Folder, Scheme::Live] {
        let (pages, repo) = hostile_pages(scheme);
        for (name, page) in &pages {
            hostile::assert_inert(&page.text);
            assert!(!page.text.contains(&repo.outside()) && !page.text.contains(&repo.folder()), "{name}");
            assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || "/._-+~".contains(c)), "{name}");
        }
        let mut reached = 0;
        for (name, page) in html(&pages) {
            reached += page.text.matches("&lt;script&gt;alert(1)").count();
            inert(name, page, scheme);
        }
        assert!(reached > 150, "only {reached} of the hostile texts reach the pages");
        // The data of the search holds no tag that could begin, wherever it is put; live pages have none.
        assert_eq!(pages.contains_key("words.js"), scheme == Scheme::Folder);
        assert!(
            scheme == Scheme::Live
                || !pages["words.js"].text.contains('<') && pages["words.js"].text.contains("\\u003cscript>alert(1)")
        );
    }
}

/// Fails if a page holds a tag or an attribute that none of the templates writes, or leads or loads from elsewhere.
fn inert(name: &str, page: &Page, scheme: Scheme) {
    let tags = tags(&page.text);
    let search = name.starts_with("search");
    // A page that follows the files has a script for that.
    let live = scheme == Scheme::Live;
    for (tag, attributes) in &tags {
        for wrong in ["iframe", "object", "embed", "base", "audio", "video"] {
            assert_ne!(tag, wrong, "{name}");
        }
        assert!(search || !["form", "input", "button"].contains(&tag.as_str()), "<{tag}> in {name}");
        for (attribute, value) in attributes {
            assert!(!attribute.starts_with("on") && attribute != "style", "{attribute} of <{tag}> in {name}");
            let loads = attribute == "src" || (tag == "link" && attribute == "href");
            let ours = ["pages.css", "search.js", "words.js", "/-/view.css", "/-/view.js"]
                .iter()
                .any(|file| value.replace("&#x2f;", "/").trim_start_matches("../").trim_start_matches("./") == *file);
            let nothing = tag == "link" && value == "data:,";
            assert!(!loads || ours || nothing || value.starts_with("data:image/png;base64,"), "{name} loads {value}");
            let plain = value.replace("&#x2f;", "/");
            let scheme = plain.split_once(':').map(|(scheme, _)| scheme.to_string());
            let leads_out =
                attribute == "href" && scheme.as_deref().is_some_and(|scheme| !scheme.contains(['/', '#', '.']));
            assert!(!leads_out || nothing || plain.starts_with("https://example.org/"), "{name} leads to {value}");
        }
    }
    // The page has one, and each of its pictures.
    assert_eq!(page.text.matches("<title>").count(), 1, "{name}");
    assert_eq!(page.text.matches("</title>").count(), page.text.matches("<title").count(), "{name}");
    let scripts = tags.iter().filter(|(tag, _)| tag == "script").count();
    assert_eq!(
        scripts,
        if live {
            1
        } else if search {
            2
        } else {
            0
        },
        "{name}"
    );
}

#[test]
fn the_policy_lets_nothing_run_but_the_search() {
    let (_folder, tree) = example();
    let pages = made(&tree, "hot-fire", Scheme::Folder);
    for (name, page) in html(&pages) {
        let policy = page.text.split("Content-Security-Policy\" content=\"").nth(1).unwrap().split('"').next().unwrap();
        assert!(policy.starts_with("default-src 'none'; style-src 'self'"), "{policy}");
        assert_eq!(policy.contains("script-src"), name == "search.html", "{name}");
        assert!(!policy.contains("unsafe") && !policy.contains('*') && !policy.contains("http"), "{policy}");
    }
    assert!(!pages["pages.css"].text.contains("url(") && !pages["pages.css"].text.contains("@import"));
    for wrong in ["innerHTML", "eval(", "fetch(", "XMLHttp", "http:", "https:", "document.write"] {
        assert!(!pages["search.js"].text.contains(wrong), "{wrong}");
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let (_folder, tree) = example();
    let texts = || -> Vec<(String, String)> {
        made(&tree, "hot-fire", Scheme::Folder).into_iter().map(|(name, page)| (name, page.text)).collect()
    };
    assert_eq!(texts(), texts());
}

#[test]
fn every_page_says_that_it_is_no_permission_and_whether_it_is_a_draft() {
    let (folder, tree) = example();
    for (name, page) in html(&made(&tree, "hot-fire", Scheme::Folder)) {
        assert!(page.text.contains(crate::report::cautions::DEFER), "{name}");
        assert!(!page.text.contains("DRAFT"), "{name}");
    }
    let file = folder.path().join("demo/requirements/actuator/ACT-090.md");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, format!("{text}\nMore.\n")).unwrap();
    let tree = WorkTree::open(&folder.path().join("demo")).unwrap();
    for (name, page) in html(&made(&tree, "hot-fire", Scheme::Folder)) {
        assert!(page.text.contains("DRAFT: 1 file not committed"), "{name}");
    }
}

#[test]
fn who_names_one_thing_is_who_names_it_among_all() {
    let (_folder, tree) = example();
    let spelt = Memory::new()
        .file("slipmark.toml", "events = [\"e\"]\n")
        .file("a.md", "+++\nkind = \"requirement\"\nid = \"A-1\"\ntitle = \"One\"\n+++\nIt shall be one.\n")
        .file("b.md", "+++\nkind = \"requirement\"\nid = \"B-1\"\ntitle = \"Two\"\nparents = [\"\\u0041-1\"]\n+++\nIt shall be two.\n");
    for (analysis, least) in [(read(&tree), 50), (hostile::Repository::new().analysis(), 1), (read(&spelt), 1)] {
        let homes = Homes::of(&analysis, Scheme::Live);
        let named = named::Named::of(&analysis, &homes);
        let names: BTreeSet<String> = homes.things.iter().map(|thing| thing.name(&analysis)).collect();
        let same = |name: &&String| {
            let (among, one) = (named.to(name), named::Named::to_one(&analysis, &homes, name));
            assert_eq!(among, one, "{name}");
            !one.is_empty()
        };
        assert!(names.iter().filter(same).count() >= least, "{names:?}");
        assert!(named::Named::to_one(&analysis, &homes, "nothing").is_empty());
    }
}
