//! The page as a whole: nothing in it can run, nothing is lost, every link leads somewhere, and it repeats.

#![allow(clippy::disallowed_methods, reason = "a test changes a file of the example")]

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::*;
use crate::analysis::{self, Request};
use crate::git::Repo;
use crate::report::hostile;
use crate::source::{Memory, Revision, WorkTree};

impl Packet {
    /// The page as text.
    fn html(&self) -> &str {
        std::str::from_utf8(&self.bytes).unwrap()
    }
}

fn undated() -> Dated {
    Dated { date: None, from: "there is no commit", subject: None }
}

fn read(source: &dyn Source) -> Analysis {
    let today = jiff::civil::date(2026, 7, 1);
    analysis::run(source, Request::on(today)).unwrap()
}

pub(in crate::report) fn made(source: &dyn Source, event: &str) -> (BeforeView, Packet) {
    let analysis = read(source);
    let event = analysis.model.config.event_index(event).unwrap();
    let guard = Guard::default();
    let before = view::before(&analysis, &guard, event);
    (before, packet(from(&analysis, &guard, &Past::default(), source, &undated()), event).unwrap())
}

fn from<'a>(
    analysis: &'a Analysis,
    guard: &'a Guard,
    past: &'a Past,
    source: &'a dyn Source,
    dated: &'a Dated,
) -> Made<'a> {
    Made { analysis, guard, past, source, dated }
}

/// The example, in a folder that goes away with the value.
pub(in crate::report) fn example() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    crate::example::build(&folder.path().join("demo")).unwrap();
    folder
}

pub(in crate::report) fn work_tree(folder: &tempfile::TempDir) -> WorkTree {
    WorkTree::open(&folder.path().join("demo")).unwrap()
}

/// A start tag: its name and its attributes.
pub(in crate::report) type StartTag = (String, Vec<(String, String)>);

/// Every start tag of a page, read as a browser reads it: quotes end only with their like.
pub(in crate::report) fn tags(page: &str) -> Vec<StartTag> {
    let mut tags = Vec::new();
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        if !rest.starts_with(|c: char| c.is_ascii_alphabetic()) {
            continue;
        }
        let name_end = rest.find(|c: char| c.is_whitespace() || matches!(c, '>' | '/')).unwrap();
        let name = rest[..name_end].to_ascii_lowercase();
        rest = &rest[name_end..];
        let mut attributes = Vec::new();
        loop {
            rest = rest.trim_start_matches(|c: char| c.is_whitespace() || c == '/');
            if let Some(after) = rest.strip_prefix('>') {
                rest = after;
                break;
            }
            let end = rest.find(|c: char| c.is_whitespace() || matches!(c, '=' | '>' | '/')).unwrap();
            let attribute = rest[..end].to_ascii_lowercase();
            rest = rest[end..].trim_start();
            let mut value = String::new();
            if let Some(after) = rest.strip_prefix("=\"") {
                let end = after.find('"').unwrap();
                value = after[..end].to_string();
                rest = &after[end + 1..];
            } else {
                assert!(!rest.starts_with('='), "an attribute without quotes: {attribute}");
            }
            attributes.push((attribute, value));
        }
        tags.push((name, attributes));
    }
    tags
}

pub(in crate::report) fn values<'t>(tags: &'t [StartTag], attribute: &'t str) -> impl Iterator<Item = &'t str> {
    let all = tags.iter().flat_map(|(_, attributes)| attributes);
    all.filter(move |(name, _)| name == attribute).map(|(_, value)| value.as_str())
}

/// Where the links of a page lead that do not lead out, and where its style and scripts lie.
pub(in crate::report) fn links_of(tags: &[StartTag]) -> Vec<String> {
    let all = values(tags, "href").chain(values(tags, "src")).chain(values(tags, "action"));
    let plain = all.map(|value| value.replace("&#x2f;", "/"));
    plain.filter(|value| !value.starts_with("https://") && !value.starts_with("data:")).collect()
}

/// Every link inside the page has a target, and no target has its name twice.
fn links_lead_somewhere(page: &str) {
    let tags = tags(page);
    let mut ids = BTreeSet::new();
    for id in values(&tags, "id") {
        assert!(ids.insert(id), "two places are called {id}");
    }
    let lost: BTreeSet<&str> =
        values(&tags, "href").filter_map(|href| href.strip_prefix('#')).filter(|id| !ids.contains(id)).collect();
    assert!(lost.is_empty(), "links to nowhere: {lost:?}");
}

/// States of the matrix's rows, counted on the page.
fn states_shown(page: &str) -> BTreeMap<String, usize> {
    let mut shown = BTreeMap::new();
    for row in page.split("<tr id=\"m").skip(1) {
        let row = row.split("</tr>").next().unwrap();
        let state = row.split("class=\"state s-").nth(1).unwrap().split('"').next().unwrap();
        *shown.entry(state.replace('-', " ")).or_insert(0) += 1;
    }
    shown
}

fn states_counted(before: &BeforeView) -> BTreeMap<String, usize> {
    let some = before.counts.iter().filter(|(_, count)| **count > 0);
    some.map(|(state, count)| (state.to_string(), *count)).collect()
}

#[test]
fn every_row_of_the_answer_is_in_the_page_with_its_state() {
    let folder = example();
    for event in ["leak-check", "cold-shock", "cold-flow", "hot-fire"] {
        let (before, packet) = made(&work_tree(&folder), event);
        assert_eq!(states_shown(packet.html()), states_counted(&before), "{event}");
        let open = before.rows.iter().filter(|row| row.state.is_open()).count();
        let listed = packet.html().split("<td data-label=\"why\">").count() - 1;
        assert_eq!(listed, open, "{event}");
        links_lead_somewhere(packet.html());
    }
}

#[test]
fn each_deciding_record_is_one_click_from_its_row_and_back() {
    let folder = example();
    let (before, packet) = made(&work_tree(&folder), "hot-fire");
    for row in &before.rows {
        let part = packet.html().split(&format!("id=\"{}\"", links::anchor("req", &row.requirement))).nth(1).unwrap();
        let part = part.split("</article>").next().unwrap();
        for record in &row.records {
            let place = links::anchor("rec", record);
            assert!(part.contains(&format!("href=\"#{place}\"")), "{} does not lead to {record}", row.requirement);
            let article = packet.html().split(&format!("<article class=\"record\" id=\"{place}\"")).nth(1).unwrap();
            let back = format!("href=\"#{}\"", links::anchor("req", &row.requirement));
            assert!(article.split("</article>").next().unwrap().contains(&back), "{record} does not lead back");
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let folder = example();
    let (_, one) = made(&work_tree(&folder), "hot-fire");
    let (_, two) = made(&work_tree(&folder), "hot-fire");
    assert_eq!(one.html(), two.html());
}

#[test]
fn a_changed_file_makes_a_draft() {
    let folder = example();
    let (_, clean) = made(&work_tree(&folder), "hot-fire");
    assert_eq!(clean.draft, None);
    assert!(!clean.html().contains("DRAFT") && !clean.name.contains("draft"));
    let file = folder.path().join("demo/requirements/actuator/ACT-090.md");
    let text = std::fs::read_to_string(&file).unwrap();
    std::fs::write(&file, format!("{text}\nMore.\n")).unwrap();
    let (_, draft) = made(&work_tree(&folder), "hot-fire");
    assert_eq!(draft.draft.as_deref(), Some("DRAFT: 1 file not committed"));
    assert!(draft.html().contains("<p class=\"draft\">DRAFT: 1 file not committed</p>"));
    assert!(draft.name.ends_with("-draft.html"), "{}", draft.name);
}

#[test]
fn with_nothing_open_it_still_permits_nothing() {
    let folder = example();
    let repo = Arc::new(Repo::discover(&folder.path().join("demo")).unwrap());
    let commit = repo.resolve("TRR-1").unwrap();
    let source = Revision::open(repo, commit, "").unwrap();
    let (before, packet) = made(&source, "leak-check");
    assert_eq!(before.verdict, view::VerdictWord::NothingOpen, "{:?}", before.counts);
    assert_eq!(packet.verdict, "Nothing that this project lists before leak-check is open.");
    assert!(packet.html().contains(crate::report::cautions::DEFER));
    let lower = packet.html().to_ascii_lowercase();
    for word in ["safe to", "go for", "approved to fire", "cleared"] {
        assert!(!lower.contains(word), "{word}");
    }
}

/// Every attribute that the templates write; `on…` is not among them, and neither is `style`.
const ATTRIBUTES: &[&str] = &[
    "alt",
    "aria-hidden",
    "aria-label",
    "aria-labelledby",
    "charset",
    "class",
    "color",
    "colspan",
    "content",
    "cx",
    "cy",
    "d",
    "data-label",
    "fill",
    "focusable",
    "font-family",
    "font-size",
    "font-weight",
    "height",
    "href",
    "http-equiv",
    "id",
    "lang",
    "lengthadjust",
    "name",
    "patternunits",
    "r",
    "rel",
    "role",
    "scope",
    "src",
    "start",
    "stroke",
    "stroke-dasharray",
    "stroke-width",
    "tabindex",
    "text-anchor",
    "textlength",
    "title",
    "transform",
    "viewbox",
    "width",
    "x",
    "x1",
    "x2",
    "xmlns",
    "y",
    "y1",
    "y2",
];

#[test]
fn the_reader_of_tags_sees_what_a_browser_would() {
    let found = tags("a &lt;b <p class=\"x>y\" onclick=\"z\">< i</p><br/>");
    let names: Vec<&str> = found.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["p", "br"]);
    assert_eq!(values(&found, "onclick").collect::<Vec<_>>(), ["z"]);
}

#[test]
fn nothing_that_a_project_says_can_run() {
    let repo = hostile::Repository::new();
    let analysis = repo.analysis();
    let past = repo.past(&analysis);
    let (guard, source) = (repo.guard(&analysis), repo.tree());
    let dated = Dated { subject: Some(hostile::RAW.into()), ..undated() };
    let before = view::before(&analysis, &guard, 0);
    let packet = packet(from(&analysis, &guard, &past, &source, &dated), 0).unwrap();
    assert!(!before.rows.is_empty(), "the hostile project must get as far as rows");
    let mut photos = 0;
    for (name, attributes) in tags(packet.html()) {
        let forbidden = ["script", "iframe", "object", "embed", "form", "input", "base", "link", "audio", "video"];
        assert!(!forbidden.contains(&name.as_str()), "<{name}>");
        for (attribute, value) in attributes {
            assert!(ATTRIBUTES.contains(&attribute.as_str()), "{attribute} of <{name}>: {value}");
            if attribute == "src" {
                let photo = value.strip_prefix("data:image/png;base64,").expect(&value);
                assert_eq!((name.as_str(), photo), ("img", page::base64(photo::tests::DOT).as_str()));
                photos += 1;
            }
            if attribute == "href" {
                let harmless = ["#", "https:&#x2f;&#x2f;", "https://"].iter().any(|start| value.starts_with(start));
                assert!(harmless, "{value}");
            }
        }
    }
    assert_eq!(photos, 1, "the one that is a photo, and no SVG that is called one");
    links_lead_somewhere(packet.html());
    let reached = packet.html().matches("&lt;script&gt;alert(1)").count();
    assert!(reached > 60, "only {reached} of the hostile texts reach the page, so the test shows little");
    let changes = packet.html().split("id=\"changes\">").nth(1).unwrap();
    assert!(changes.contains("<ins>") && changes.matches("&lt;script&gt;").count() > 10, "{changes}");
    assert!(packet.html().contains("Changes since &lt;script&gt;alert(1)"), "the base is a hostile tag");
    assert!(packet.html().matches("<h4>History</h4>").count() == 1);
    hostile::assert_inert(packet.html());
    assert!(packet.html().contains("&lt;U+202E&gt;") && packet.html().contains("&lt;U+001B&gt;"));
    assert_eq!(packet.html().matches("</style>").count(), 1);
    let (head, body) = packet.html().split_once("<body>").unwrap();
    assert_eq!(head.matches("</title>").count(), 1);
    assert_eq!(body.matches("</title>").count(), body.matches("<svg xmlns").count(), "only pictures have a title");
    assert!(!packet.html().contains(&repo.outside()), "nothing of a file outside the project is in the page");
    assert!(!packet.html().contains(&repo.folder()), "no path of this machine is in the page");
}

#[test]
fn the_policy_names_the_hash_of_the_style_and_nothing_else() {
    let folder = example();
    let (_, packet) = made(&work_tree(&folder), "hot-fire");
    let style = packet.html().split("<style>").nth(1).unwrap().split("</style>").next().unwrap();
    let policy = packet.html().split("http-equiv=\"Content-Security-Policy\" content=\"").nth(1).unwrap();
    let policy = policy.split('"').next().unwrap();
    let digest = <sha2::Sha256 as sha2::Digest>::digest(style);
    let expected = format!(
        "default-src 'none'; style-src 'sha256-{}'; img-src data:; base-uri 'none'; form-action 'none'",
        page::base64(&digest)
    );
    assert_eq!(policy, expected);
}

#[test]
fn what_is_asked_less_is_all_there_and_the_first_page_stays_a_page() {
    let folder = example();
    let source = work_tree(&folder);
    let analysis = read(&source);
    let less = |at: usize| crate::history::LessAsked { id: "ACT-010".into(), text: format!("less of this, {at};") };
    let guard = Guard { less_asked: (0..20).map(less).collect(), since: Some("TRR-1".into()), ..Guard::default() };
    let packet = packet(from(&analysis, &guard, &Past::default(), &source, &undated()), 0).unwrap();
    let (cover, rest) = packet.html().split_once("id=\"open\">").unwrap();
    assert_eq!(cover.matches("less of this").count(), 4);
    assert!(cover.contains(">16 more</a>"));
    for at in 0..20 {
        assert_eq!(rest.matches(&format!("less of this, {at};")).count(), 1);
    }
    links_lead_somewhere(packet.html());
}

#[test]
fn many_events_share_a_line_on_the_first_page() {
    let events: Vec<String> = (0..40).map(|at| format!("\"event-{at}\"")).collect();
    let mut project = Memory::new().file("slipmark.toml", format!("name = \"x\"\nevents = [{}]\n", events.join(", ")));
    for at in 0..40 {
        let text = format!(
            "+++\nkind = \"requirement\"\nid = \"R-{at}\"\ntitle = \"T\"\nsource = \"S\"\n\
             verify = [{{ method = \"analysis\", before = \"event-{at}\" }}]\n+++\nThe stand shall hold.\n"
        );
        project = project.file(&format!("r{at}.md"), text);
    }
    let (_, packet) = made(&project, "event-39");
    let (_, picture) = packet.html().split_once("<svg xmlns").unwrap();
    let words = picture.split_once("<desc").unwrap().1.split_once("</desc>").unwrap().0;
    assert!(words.contains(">30 earlier events: 30 of 30 open: 30 no evidence. event-30: 1 of 1 open: "), "{words}");
    assert_eq!(words.matches(" open: ").count(), 11, "{words}");
    links_lead_somewhere(packet.html());
}

#[test]
fn of_very_many_requirements_none_is_drawn_and_it_says_so() {
    let with = |count: usize| {
        let mut project = Memory::new().file("slipmark.toml", "name = \"x\"\nevents = [\"e\"]\n");
        for at in 0..count {
            let text = format!(
                "+++\nkind = \"requirement\"\nid = \"R-{at}\"\ntitle = \"T\"\nsource = \"S\"\n\
                 verify = [{{ method = \"analysis\" }}]\n+++\nThe stand shall hold.\n"
            );
            project = project.file(&format!("r{at}.md"), text);
        }
        made(&project, "e").1.html().to_string()
    };
    let drawn = |page: &str| page.matches("<details class=\"trace\">").count();
    let (few, many) = (with(200), with(201));
    assert_eq!((drawn(&few), few.contains("is not drawn here")), (200, false));
    assert_eq!((drawn(&many), many.contains("is not drawn here")), (0, true));
}

#[test]
fn the_name_of_the_file_stays_in_its_folder() {
    let project = "name = \"x\"\nevents = [\"../../etc/passwd\"]\n";
    let (before, packet) = made(&Memory::new().file("slipmark.toml", project), "../../etc/passwd");
    assert_eq!(before.verdict, view::VerdictWord::NothingPlanned);
    assert_eq!(packet.name, "etc-passwd-packet-no-commit-draft.html");
    assert!(packet.verdict.contains("that is no answer"));
    assert!(is_packet(packet.html().as_bytes()) && !is_packet(b"<html>"));
}
