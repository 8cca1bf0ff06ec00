//! A repository in which every text tries to get out, and what no output may hold.
//!
//! Ids, titles, statements, notes, file names, commit messages and tags hold HTML, Markdown links that would run
//! something, terminal escapes, characters that turn the direction, and the characters that our own style marks start
//! with.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::analysis::{self, Analysis, Request};
use crate::git::fixture::Fixture;
use crate::history::{self, Guard, Range};
use crate::model::kinds::Entity;
use crate::model::load::load_one;
use crate::model::mark::mark;
use crate::report::packet::photo::tests::DOT;
use crate::report::packet::{Past, Since};
use crate::report::style;
use crate::report::{json, junit, sarif, tables, text, view, workbook};
use crate::source::WorkTree;
use crate::state::run::Run;
use crate::text::FileId;

/// What a text holds that is not TOML.
pub(super) const RAW: &str = "\"><script>alert(1)</script><img src=x onerror=alert(1)> ' onclick='x \u{1b}[2J\u{1b}]0;x\u{7} \
                              \u{9b}31m \u{202e}\u{200b}\u{f8f5}closed\u{f8f0} [a](javascript:alert(1)) `c` | a $x$ ~~y~~";

/// The same inside a TOML string.
const BAD: &str = r#"\"><script>alert(1)</script><img src=x onerror=alert(1)> ' onclick='x \u001b[2J\u001b]0;x\u0007 \u009b31m \u202e\u200b\uf8f5closed\uf8f0 [a](javascript:alert(1)) `c` | a $x$ ~~y~~"#;

const MARKDOWN: &str = "\"'><script>alert(1)</script>\n\n<img src=x onerror=\"alert(1)\">\n\n[a](javascript:alert(1)) \
    [b](<JAVASCRIPT:alert(1)>) [c](data:text/html,x) ![d](javascript:alert(1) \"x' onload='y\") \
    <javascript:alert(1)> [e](https://example.org/\"onmouseover=\"x) [f](../outside.md) [g](/etc/passwd) \
    [h](file:///etc/passwd)\n\n```\" onload=\"x\n</code></pre><script>\n```\n\n\
    {{ style }} {% include \"x\" %} </style></title><!-- \u{202e}\u{1b}[2J\u{9b}31m\u{f8f5}closed\u{f8f0}";

/// What a file outside the project says.
const OUTSIDE: &str = "what lies outside the project";

/// A photo whose name tries to get out.
const PHOTO: &str = "\"><script>alert(3)< onerror='x.png";

/// No photo, whatever it is called.
const SVG: &[u8] = b"<svg xmlns=\"http://www.w3.org/2000/svg\" onload=\"alert(4)\"><script>alert(4)</script></svg>";

fn sha256(bytes: &[u8]) -> String {
    analysis::hex(&<sha2::Sha256 as sha2::Digest>::digest(bytes))
}

/// The project's files.
fn files() -> Vec<(String, String)> {
    let thing = |front: &str| {
        format!("+++\n{front}title = \"{BAD}\"\n+++\nThe valve shall {MARKDOWN}\n\n## Rationale\n\n{MARKDOWN}\n")
    };
    let file = |name: &str, text: String| (name.to_string(), text);
    let asked = thing(&format!(
        "kind = \"requirement\"\nid = \"Q{BAD}\"\nsource = \"{BAD}\"\n\
         verify = [{{ method = \"inspection\", valid_for = \"999 d\" }}]\n"
    ));
    let shown = thing(&format!(
        "kind = \"inspection\"\nid = \"V{BAD}\"\ndate = 2026-01-01\nstatus = \"signed\"\n\
         performed_by = \"{BAD}\"\nwitnessed_by = \"b\"\n\
         verifies.\"Q{BAD}\" = {{ mark = \"{}\", result = \"pass\" }}\n",
        mark_of(&asked)
    ));
    vec![
        file("asked.md", asked),
        file("shown.md", shown),
        file(
            "slipmark.toml",
            format!(
                "name = \"{BAD}</title></style>\"\n[[events]]\nname = \"e{BAD}\"\nserials = [\"MOV/S{BAD}\"]\n\
                 [[roles]]\nmethod = \"test\"\nprocedure = \"{BAD}\"\nperformed_by = \"{BAD}\"\nwitnessed_by = \"{BAD}\"\n\
                 [[roles]]\nperformed_by = \"{BAD}\"\nwitnessed_by = [\"{BAD}\", \"b\"]\n"
            ),
        ),
        file(
            "instruments.toml",
            format!(
                "[\"I{BAD}\"]\nwhat = \"{BAD}\"\nrange = \"{BAD}\"\nresolution = \"{BAD}\"\nuncertainty = [\"{BAD}\"]\n\
                 [[\"I{BAD}\".calibrations]]\non = 2026-01-02\ndue = 2027-01-02\nas_found = \"out of tolerance\"\n\
                 certificate = \"{BAD}\"\nnote = \"{BAD}\"\nkeeps_evidence = [\"T{BAD}\"]\nreason = \"{BAD}\"\n"
            ),
        ),
        file("parameters.toml", format!("[\"p\"]\nvalue = \"1 m\"\nsource = \"{BAD}\"\nnote = \"{BAD}\"\n")),
        file(
            "a.md",
            thing(&format!(
                "kind = \"requirement\"\nid = \"R-1\"\nsource = \"{BAD}\"\nowner = \"{BAD}\"\napplies_to = \"MOV\"\n\
                 criteria.\"m{BAD}\" = {{ max = \"1 m\" }}\n\
                 criteria.\"c{BAD}\" = {{ max = \"1 m\", text = \"{BAD}\", at.\"t{BAD}\" = {{ max = \"1 K\" }} }}\n\
                 verify = [{{ method = \"test\", procedure = \"P-1\", facility = \"{BAD}\", by = \"{BAD}\", on = \"design\", \
                 after = [\"{BAD}\", \"e{BAD}\"], again_after = [\"e{BAD}\"], valid_for = \"{BAD}\" }}]\n"
            )),
        ),
        file(
            "b.md",
            thing(&format!(
                "kind = \"test\"\nid = \"T-1\"\ndate = 2026-01-01\nitem = \"MOV\"\nprocedure = \"P-1\"\nperformed_by = \"{BAD}\"\n\
                 witnessed_by = [\"{BAD}\"]\ninstruments = [\"I{BAD}\"]\nconditions.\"t{BAD}\" = \"1 K\"\nstatus = \"signed\"\n\
                 seal = \"{BAD}\"\ndeviations = [{{ text = \"{BAD}\", accepted_by = \"{BAD}\" }}]\n\
                 verifies.R-1 = {{ mark = \"{BAD}\", results = {{ \"c{BAD}\" = \"{BAD}\", \"m{BAD}\" = \"0.5 ± 0.1 m\" }} }}\n\
                 data = [{{ file = \"x\", sha256 = \"{BAD}\" }}, {{ file = \"../outside.txt\" }}, {{ file = \"link.csv\" }}, \
                 {{ file = \"/etc/passwd\" }}, {{ file = \"{}\", sha256 = \"{}\" }}, {{ file = \"svg.png\", sha256 = \"{}\" }}]\n",
                PHOTO.replace('"', "\\\""),
                sha256(DOT),
                sha256(SVG)
            )),
        ),
        file(
            "c.md",
            thing(&format!(
                "kind = \"item\"\nid = \"MOV\"\nfills = \"SLOT\"\nstatus = \"current\"\nrevision = \"{BAD}\"\nserials = [\"S{BAD}\"]\nhazards = [\"{BAD}\"]\ntags = [\"{BAD}\"]\nlife.\"u{BAD}\" = {{ limit = 1, note = \"{BAD}\" }}\n"
            )),
        ),
        file("slot.md", thing("kind = \"slot\"\nid = \"SLOT\"\n")),
        file(
            "d.md",
            thing(&format!(
                "kind = \"procedure\"\nid = \"P-1\"\nrevision = \"{BAD}\"\nstatus = \"released\"\ninstruments = [\"I{BAD}\"]\n\
                 accuracy.\"I{BAD}\" = \"{BAD}\"\nprerequisites = [\"{BAD}\", \"a {BAD}\"]\ncautions = [\"{BAD}\"]\n\
                 fields = [{{ name = \"f{BAD}\", text = \"{BAD}\", unit = \"{BAD}\", feeds = \"R-1.c{BAD}\", \
                 instrument = \"I{BAD}\", \
                 expected = {{ min = \"{BAD}\" }} }}]\n\
                 steps = [{{ name = \"{BAD}\", text = \"{BAD}\", hold = true, cautions = [\"{BAD}\"] }}]\n"
            )),
        ),
        file(
            "e.md",
            thing(&format!(
                "kind = \"decision\"\nid = \"D{BAD}\"\ndate = 2026-01-01\nrevises = [\"R-1\", \"{BAD}\"]\n"
            )),
        ),
        file(
            "f.md",
            thing(&format!(
                "kind = \"nonconformance\"\nid = \"N-1\"\ndate = 2026-01-01\nagainst = [\"{BAD}\"]\nrequirements = [\"R-1\"]\n"
            )),
        ),
        file(
            "g.md",
            thing(&format!(
                "kind = \"waiver\"\nid = \"W-1\"\nrequirement = \"R-1\"\nmark = \"{BAD}\"\nreason = \"{BAD}\"\n"
            )),
        ),
        file(
            "i.md",
            thing(&format!(
                "kind = \"event\"\nid = \"H-1\"\nevent = \"e{BAD}\"\ndate = 2026-01-02\nserials = [\"MOV/S{BAD}\"]\n\
                 procedure = \"{BAD}\"\noutcome = \"aborted\"\nuses.\"u{BAD}\" = \"{BAD}\"\nnote = \"{BAD}\"\n"
            )),
        ),
        file("bad\u{1b}[2J.md", format!("+++\nkind = \"{BAD}\"\n\u{1b}[2J\n+++\n")),
        file("h/\"><script>alert(1)<\u{1b}[2J\u{202e} onclick='x.md", "no front matter".into()),
        file("h/\"><script>alert(2)<\u{9b}31m\n onclick='x.csv", "a,b".into()),
    ]
}

/// The mark of the requirement in a file, which has no limits to work out.
fn mark_of(text: &str) -> String {
    match load_one(FileId(0), text).0 {
        Some(Entity::Requirement(requirement)) => mark(&requirement),
        other => panic!("{other:?}"),
    }
}

/// The project with a history: its first commit is tagged, and every file has been changed since.
pub(super) struct Repository {
    fixture: Fixture,
}

impl Repository {
    /// Writes and commits it, one folder below the top, with a file beside it that is none of its own.
    pub(super) fn new() -> Repository {
        let fixture = Fixture::new();
        fixture.write("outside.txt", OUTSIDE).write("outside.md", OUTSIDE);
        for (path, text) in files() {
            fixture.write(&format!("project/{path}"), text.replace("shall", "must").replace("onclick", "onblur"));
        }
        fixture.write(&format!("project/{PHOTO}"), DOT).write("project/svg.png", SVG);
        #[cfg(unix)]
        std::os::unix::fs::symlink("../outside.txt", fixture.path().join("project/link.csv")).unwrap();
        fixture.commit(RAW);
        fixture.git(&["tag", "-a", "<script>alert(1)", "-m", "review"]);
        for (path, text) in files() {
            fixture.write(&format!("project/{path}"), text);
        }
        fixture.commit(&format!("{RAW}\n\nDecision: {RAW}"));
        Repository { fixture }
    }

    /// The work tree.
    pub(super) fn tree(&self) -> WorkTree {
        WorkTree::open(&self.fixture.path().join("project")).unwrap()
    }

    /// The project, read and judged, wording and all.
    pub(super) fn analysis(&self) -> Analysis {
        let request = Request { wording: true, ..Request::on(jiff::civil::date(2026, 7, 1)) };
        analysis::run(&self.tree(), request).unwrap()
    }

    /// What left it.
    pub(super) fn guard(&self, analysis: &Analysis) -> Guard {
        let repo = self.fixture.repo();
        history::guard(&repo, "project", repo.head().unwrap(), &crate::history::Look::default(), analysis).unwrap()
    }

    /// Its past since the tag.
    pub(super) fn past(&self, analysis: &Analysis) -> Past {
        let repo = Arc::new(self.fixture.repo());
        let head = repo.head().unwrap().unwrap();
        let (from_name, from) = repo.last_annotated_tag(head).unwrap().unwrap();
        let range = Range { from: Some(from), from_name, from_before: false, to: Some(head), to_name: "HEAD".into() };
        let changes = history::changes(&repo, "project", range, Some(analysis), analysis.request).unwrap().unwrap();
        let told = history::revisions_of(&repo, "project", ["R-1"], head).unwrap();
        let mut histories: BTreeMap<_, _> =
            told.into_iter().map(|(id, told)| (id, view::history(&told, changes.list.first()))).collect();
        let carried = view::Carried::of(analysis);
        histories.values_mut().for_each(|view| view.add_evidence(&carried));
        Past { since: Since::Changes(view::changes(&analysis.model.config.name, &changes)), histories }
    }

    /// What the file outside says.
    pub(super) fn outside(&self) -> String {
        OUTSIDE.to_string()
    }

    /// Where the repository is on this machine.
    pub(super) fn folder(&self) -> String {
        self.fixture.path().display().to_string()
    }
}

/// Fails if a text holds anything that a terminal acts on, or that turns the direction of what follows.
#[track_caller]
pub(super) fn assert_inert(text: &str) {
    for (at, character) in text.char_indices() {
        let acts = !matches!(character, '\n' | '\r' | '\t') && style::acting(character).is_some();
        assert!(
            !acts,
            "U+{:04X} in {:?}",
            u32::from(character),
            &text[text.floor_char_boundary(at.saturating_sub(60))..at]
        );
    }
}

/// Every text that people read in a terminal.
/// The data sheet of the procedure, on the piece of the item.
fn hostile_sheet(analysis: &Analysis) -> view::SheetView {
    let model = &analysis.model;
    let item = model.item("MOV").unwrap();
    let piece =
        crate::model::SerialId { item: item.head.id.value.clone(), number: item.serials[0].number.value.clone() };
    let run = Run::of(&analysis.facts(), model.procedure("P-1").unwrap(), Some(&piece), None);
    assert!(!run.wanted.is_empty());
    view::sheet(analysis, &run)
}

/// What became of the rows due before the first event.
fn hostile_trend(repo: &Repository, analysis: &Analysis) -> view::TrendView {
    let own = repo.fixture.repo();
    let event = analysis.model.config.events[0].name.value.as_str();
    let progress = history::Progress::default();
    let asked = history::Asked { event, pace: history::Pace::Commit, today: None, progress: &progress };
    let head = own.head().unwrap().unwrap();
    let trend = history::trend(&own, "project", head, asked, &crate::kept::Kept::nothing()).unwrap();
    view::trend(analysis, event, &trend, history::Pace::Commit)
}

fn texts(repo: &Repository) -> Vec<(&'static str, String)> {
    let analysis = repo.analysis();
    let (guard, past) = (repo.guard(&analysis), repo.past(&analysis));
    let Since::Changes(changes) = &past.since else { panic!("there is a tag") };
    let findings = analysis.findings.iter().chain(&guard.findings);
    let check = view::CheckView::of(findings, &analysis.sources, &analysis.model.config, true);
    let mut all = vec![
        ("before", text::before::render(&view::before(&analysis, &guard, 0), true, 80)),
        ("before --by", text::before::render(&grouped(&analysis, &guard), true, 80)),
        ("before --next", text::before::render(&ordered(&analysis, &guard), true, 80)),
        ("matrix", text::matrix::render(&analysis, 80).concat()),
        ("check", text::findings::check(&check, 80)),
        ("changes", text::changes::render(changes, 80, true)),
        ("history", text::history::render(&past.histories["R-1"], 80)),
        ("sheet", text::sheet::render(&hostile_sheet(&analysis), 80)),
        ("impact", text::impact::render(&view::impact(&analysis, &guard, "MOV", Some(RAW)).unwrap(), 80)),
        ("concepts", text::concepts::render(&view::concepts(&analysis, "SLOT").unwrap(), 80)),
        ("trend", text::trend::render(&hostile_trend(repo, &analysis), 80)),
    ];
    for (id, _) in analysis.model.ids() {
        let shown = view::show(&analysis, id).unwrap();
        all.push(("show", text::show::render(&shown, 80)));
        let impact = view::impact(&analysis, &guard, id, None).map(|view| text::impact::render(&view, 80));
        all.extend(impact.map(|text| ("show", text)));
    }
    all
}

/// The open rows put together.
fn grouped(analysis: &Analysis, guard: &Guard) -> view::BeforeView {
    let mut view = view::before(analysis, guard, 0);
    view.group(view::GroupBy::Owner);
    view
}

/// The records to make next.
fn ordered(analysis: &Analysis, guard: &Guard) -> view::BeforeView {
    let mut view = view::before(analysis, guard, 0);
    view.next = Some(view::next(analysis, 0));
    view
}

#[test]
fn no_text_can_talk_to_a_terminal() {
    let repo = Repository::new();
    for (name, text) in texts(&repo) {
        assert_inert(&style::render(&text, false));
        // With colour there are our own codes, and nothing else.
        let mut coloured = style::render(&text, true);
        for code in ["\x1b[0m", "\x1b[1m", "\x1b[2m", "\x1b[1;31m", "\x1b[33m", "\x1b[32m", "\x1b[36m"] {
            coloured = coloured.replace(code, "");
        }
        assert_inert(&coloured);
        assert_eq!(coloured, style::render(&text, false), "{name}");
        // A forged mark stays the harmless character that it is.
        assert!(coloured.contains("\u{f8f5}closed\u{f8f0}") || name == "show", "{name} shows little:\n{coloured}");
        assert!(!coloured.contains(OUTSIDE) && !coloured.contains(&repo.folder()), "{name}");
    }
}

/// Every document that is Markdown, CSV or JSON.
fn documents(repo: &Repository) -> (Vec<tables::Table>, Vec<String>) {
    let analysis = repo.analysis();
    let (guard, past) = (repo.guard(&analysis), repo.past(&analysis));
    let Since::Changes(changes) = &past.since else { panic!("there is a tag") };
    let (before, matrix) = (view::before(&analysis, &guard, 0), view::matrix(&analysis));
    let findings = analysis.findings.iter().chain(&guard.findings);
    let check = view::CheckView::of(findings, &analysis.sources, &analysis.model.config, true);
    let history = &past.histories["R-1"];
    let concepts = view::concepts(&analysis, "SLOT").unwrap();
    let impact = view::impact(&analysis, &guard, "R-1", None).unwrap();
    let mut all = tables::before(&before);
    all.extend([tables::listed(&grouped(&analysis, &guard)), tables::listed(&ordered(&analysis, &guard))]);
    all.extend([tables::impact(&impact), tables::compared(&concepts), tables::concepts(&concepts).swap_remove(0)]);
    all.extend([
        tables::rows(&matrix.rows),
        tables::findings(&check.findings),
        tables::changes(changes),
        tables::history(history),
        tables::trend(&hostile_trend(repo, &analysis)),
    ]);
    let lists = [workbook::List::Evidence, workbook::List::Serials, workbook::List::Files];
    let tree = repo.tree();
    all.extend(lists.map(|list| workbook::list((&analysis, &guard, &tree), 0, list)));
    let json = [
        json::render(&before),
        json::render(&matrix),
        json::render(&check),
        json::render(changes),
        json::render(history),
        json::render(&hostile_sheet(&analysis)),
        json::render(&concepts),
        json::render(&impact),
        json::render(&ordered(&analysis, &guard)),
        json::render(&hostile_trend(repo, &analysis)),
        sarif::render(&check, "project"),
    ];
    (all, json.into_iter().map(Result::unwrap).collect())
}

#[test]
fn no_markdown_holds_a_link_a_picture_or_html() {
    let repo = Repository::new();
    let (tables, _) = documents(&repo);
    assert!(tables.iter().all(|table| !table.rows.is_empty()), "every table must hold something hostile");
    let markdown = tables::markdown(&tables);
    let expected: usize = tables.iter().map(|table| table.heads.len() * (table.rows.len() + 1)).sum();
    assert_eq!(plain_cells(&repo, &markdown), expected, "every row keeps its columns");
    let analysis = repo.analysis();
    for (id, _) in analysis.model.ids() {
        plain_cells(&repo, &text::show::markdown(&view::show(&analysis, id).unwrap()));
    }
}

#[test]
fn no_sheet_runs_or_loads_what_it_was_told() {
    let repo = Repository::new();
    let sheet = hostile_sheet(&repo.analysis());
    plain_cells(&repo, &super::sheet::markdown(&sheet));
    let page = super::sheet::html(&sheet, &Default::default()).unwrap();
    assert_inert(&page);
    assert!(page.contains("&lt;script&gt;alert(1)&lt;&#x2f;script&gt;"), "{page}");
    // The only tags are ours: those of the template.
    let tags = page.match_indices('<').map(|(at, _)| page[at + 1..].split(['>', ' ']).next().unwrap());
    let ours = include_str!("../../templates/sheet.html");
    for tag in tags.filter(|tag| *tag != "wbr") {
        assert!(ours.contains(&format!("<{tag}")), "<{tag}");
    }
    assert!(!page.contains(OUTSIDE) && !page.contains(&repo.folder()));
}

#[test]
fn no_changelog_runs_or_loads_what_it_was_told() {
    use pulldown_cmark::{Event, Options, Parser, Tag};
    let repo = Repository::new();
    let past = repo.past(&repo.analysis());
    let Since::Changes(mut changes) = past.since else { panic!("there is a tag") };
    // As the author of a hostile commit would be called.
    let name = |commit: &str| (commit.to_string(), RAW.to_string());
    let authors = changes.commits().into_iter().map(name).collect();
    changes.name_authors(&authors);
    let text = super::changelog::markdown(&changes, true);
    assert_inert(&text);
    assert!(!text.contains(OUTSIDE) && !text.contains(&repo.folder()));
    let mut plain = String::new();
    for event in Parser::new_ext(&text, Options::all()) {
        match event {
            Event::Text(words) => plain.push_str(&words),
            Event::Start(
                Tag::Heading { .. }
                | Tag::Paragraph
                | Tag::BlockQuote(_)
                | Tag::List(None)
                | Tag::Item
                | Tag::Strong
                | Tag::Strikethrough,
            )
            | Event::End(_)
            | Event::SoftBreak => {}
            other => panic!("{other:?}"),
        }
    }
    assert!(plain.contains("<script>alert(1)</script>") && plain.contains("<U+001B>[2J"), "{plain}");
    let page = super::changelog::html(&changes, true, &Default::default()).unwrap();
    assert_inert(&page);
    assert!(page.contains("&lt;script&gt;alert(1)&lt;&#x2f;script&gt;") && page.contains("<ins>"), "{page}");
    let tags = page.match_indices('<').map(|(at, _)| page[at + 1..].split(['>', ' ']).next().unwrap());
    let ours = [
        include_str!("../../templates/changes.html"),
        include_str!("../../templates/packet/changed.html"),
        include_str!("../../templates/packet/macros.html"),
        "<del></del><ins></ins><wbr><em></em><strong></strong><pre tabindex></pre><li></li><h4></h4><h5></h5><h6></h6>\
         <code></code><ol></ol><br/><blockquote></blockquote>",
    ]
    .concat();
    for tag in tags {
        assert!(ours.contains(&format!("<{tag}")), "<{tag}");
    }
    assert!(!page.contains(OUTSIDE) && !page.contains(&repo.folder()));
}

/// Fails if a document is anything else than headings and tables of plain words, and counts its cells.
#[track_caller]
fn plain_cells(repo: &Repository, markdown: &str) -> usize {
    use pulldown_cmark::{Event, Options, Parser, Tag};
    assert_inert(markdown);
    assert!(!markdown.contains(OUTSIDE) && !markdown.contains(&repo.folder()));
    let mut plain = String::new();
    let mut cells = 0;
    for event in Parser::new_ext(markdown, Options::all()) {
        match event {
            Event::Text(text) => plain.push_str(&text),
            Event::Start(Tag::TableCell) => cells += 1,
            Event::Start(Tag::Heading { .. } | Tag::Table(_) | Tag::TableHead | Tag::TableRow) | Event::End(_) => {}
            other => panic!("{other:?}"),
        }
    }
    // What a file says is all there, as words.
    assert!(plain.contains("<script>alert(1)</script>") && plain.contains("<U+001B>[2J"), "{plain}");
    assert!(plain.contains("[a](javascript:alert(1)) `c` | a $x$ ~~y~~"), "{plain}");
    cells
}

#[test]
fn no_csv_and_no_json_holds_what_acts() {
    let repo = Repository::new();
    let (tables, documents) = documents(&repo);
    for table in &tables {
        let csv = String::from_utf8(tables::csv(table).unwrap()).unwrap();
        assert_inert(&csv);
        let mut reader = csv::ReaderBuilder::new().from_reader(csv.as_bytes());
        let cells = reader.records().flat_map(|record| record.unwrap().iter().map(str::to_string).collect::<Vec<_>>());
        for cell in cells.filter(|cell| cell.parse::<f64>().is_err()) {
            assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell}");
        }
    }
    for document in &documents {
        assert!(!document.contains(|c: char| c.is_control() && c != '\n'), "{document}");
        let value: serde_json::Value = serde_json::from_str(document).unwrap();
        // Programs get what the files say, letter for letter, with the brackets escaped that would be a link.
        assert!(value.to_string().replace("\\\\[", "[").contains("\\u001b[2J") && document.contains("\\u009b31m"));
        assert!(!document.contains(OUTSIDE) && !document.contains(&repo.folder()));
    }
}

#[test]
fn no_test_report_holds_markup_or_what_acts() {
    let repo = Repository::new();
    let analysis = repo.analysis();
    let guard = repo.guard(&analysis);
    let findings = analysis.findings.iter().chain(&guard.findings);
    let check = view::CheckView::of(findings, &analysis.sources, &analysis.model.config, true);
    let text = junit::render(&check, |_| true);
    assert_inert(&text);
    assert!(text.contains("&lt;script&gt;alert(1)&lt;/script&gt;") && text.contains("[U+001B][2J"), "{text}");
    let tags = text.split('<').skip(1).map(|tag| tag.split([' ', '>', '\n']).next().unwrap_or(""));
    for tag in tags.map(|tag| tag.trim_start_matches('/')) {
        assert!(["?xml", "testsuites", "testsuite", "testcase", "failure"].contains(&tag), "{tag}");
    }
    assert!(!text.contains(OUTSIDE) && !text.contains(&repo.folder()));
}

#[test]
fn no_page_of_options_holds_what_could_run() {
    let repo = Repository::new();
    let analysis = repo.analysis();
    only_our_tags(
        &repo,
        &super::concepts::html(&view::concepts(&analysis, "SLOT").unwrap(), &Default::default()).unwrap(),
    );
    let trend = hostile_trend(&repo, &analysis);
    only_our_tags(&repo, &super::trend::html(&trend, &Default::default()).unwrap());
    let picture = super::pictures::trend(&trend);
    only_our_tags(&repo, &format!("<style></style></title><body>{picture}"));
}

#[test]
fn no_picture_holds_what_could_run() {
    use super::pictures;
    let repo = Repository::new();
    let analysis = repo.analysis();
    let (guard, past) = (repo.guard(&analysis), repo.past(&analysis));
    let before = view::before(&analysis, &guard, 0);
    let rows = view::matrix(&analysis).rows;
    let traced = view::trace(&analysis, "R-1", &view::RowsOf::of(&rows)).unwrap();
    let pictures = [
        Some(pictures::events(&before, RAW)),
        Some(pictures::events_narrow(&before, RAW)),
        pictures::margins(&before, RAW, pictures::Layout::WIDE),
        pictures::margins(&before, RAW, pictures::Layout::NARROW),
        pictures::timeline(&past.histories["R-1"], RAW),
        pictures::trace(&traced, RAW),
        pictures::product(&view::product(&analysis, &rows, 0), RAW),
        Some(pictures::trend(&hostile_trend(&repo, &analysis))),
    ];
    for picture in pictures.map(Option::unwrap) {
        pictures::tests::well_formed(&picture);
        only_our_tags(&repo, &format!("<style></style></title><body>{picture}"));
    }
}

/// Fails if a page with a picture holds a tag that none of our templates has.
#[track_caller]
fn only_our_tags(repo: &Repository, page: &str) {
    assert_inert(page);
    let (head, body) = page.split_once("<body>").unwrap();
    assert_eq!((head.matches("<style>").count(), head.matches("</title>").count()), (1, 1), "{head}");
    assert!(body.contains("<svg ") && body.contains("&lt;script&gt;alert(1)"), "{body}");
    for wrong in ["<script", "<img", "<a ", " style=", "href="] {
        assert!(!body.contains(wrong), "{wrong} in {body}");
    }
    // What is in quotes cannot leave them: every tag in the page is one that we wrote.
    let tags = body.split('<').skip(1).map(|tag| tag.split([' ', '>', '\n']).next().unwrap_or(""));
    let known = "svg title desc rect line text path circle h1 h2 p table thead tbody tr th td ul li figure figcaption b br wbr span defs pattern g";
    for tag in tags.map(|tag| tag.trim_start_matches('/')).filter(|tag| *tag != "body" && *tag != "html") {
        assert!(known.split(' ').any(|own| own == tag), "{tag}");
    }
    assert!(!page.contains(OUTSIDE) && !page.contains(&repo.folder()));
}
