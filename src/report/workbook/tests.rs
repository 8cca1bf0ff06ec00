//! The workbook as bytes. What stands in it is held against the other answers by `tests/workbook`, with another library.

use std::io::Read;

use super::super::packet::{Dated, Past};
use super::*;
use crate::report::hostile;
use crate::source::Memory;

/// The name and the content of every entry of the archive.
fn entries(bytes: &[u8]) -> Vec<(String, String)> {
    let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let one = |at: usize| {
        let mut entry = archive.by_index(at).unwrap();
        let mut text = String::new();
        entry.read_to_string(&mut text).unwrap();
        (entry.name().unwrap().to_string(), text)
    };
    (0..entries_in(bytes)).map(one).collect()
}

fn entries_in(bytes: &[u8]) -> usize {
    zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap().len()
}

fn undated() -> Dated {
    Dated { date: None, from: "there is no commit", subject: Some(hostile::RAW.into()) }
}

/// Every text of the cells, as a reader of the format decodes it.
fn strings(shared: &str) -> Vec<String> {
    let items = shared.split("<si>").skip(1).map(|item| item.split("</si>").next().unwrap());
    let text = |item: &str| {
        let inside = item.split_once('>').unwrap().1.rsplit_once("</t>").unwrap().0;
        inside.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
    };
    items.map(text).collect()
}

#[test]
fn nothing_that_a_project_says_runs_in_a_workbook_or_leads_out_of_it() {
    let repo = hostile::Repository::new();
    let analysis = repo.analysis();
    let (past, guard, source) = (repo.past(&analysis), repo.guard(&analysis), repo.tree());
    let dated = undated();
    let made = workbook(Made { analysis: &analysis, guard: &guard, past: &past, source: &source, dated: &dated }, 0);
    let made = made.unwrap();
    let mut texts = Vec::new();
    for (name, content) in entries(&made.bytes) {
        hostile::assert_inert(&content);
        for wrong in ["<f>", "<f ", "TargetMode", "<!DOCTYPE", "<!ENTITY", "<script", "<img", "ddeLink", "vbaProject"] {
            assert!(!content.contains(wrong), "{wrong} in {name}");
        }
        assert!(!content.contains(&repo.outside()) && !content.contains(&repo.folder()), "{name}");
        if name == "xl/sharedStrings.xml" {
            texts = strings(&content);
        }
    }
    let reached = texts.iter().filter(|text| text.contains("<script>alert(1)</script>")).count();
    assert!(reached > 25, "only {reached} of the hostile texts reach the workbook, so the test shows little");
    assert!(texts.iter().any(|text| text.contains("<U+001B>[2J") && text.contains("<U+202E>")));
    assert!(made.name.chars().all(|c| c.is_alphanumeric() || matches!(c, '.' | '_' | '-')), "{}", made.name);
}

/// A project whose texts are what a spreadsheet would take for something else.
fn told(title: &str, statement: &str) -> Memory {
    let asked = format!(
        "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"{title}\"\nsource = \"S\"\n\
         verify = [{{ method = \"analysis\" }}]\n+++\n{statement}\n"
    );
    Memory::new().file("slipmark.toml", "name = \"&D & 1/2\"\nevents = [\"hot-fire\"]\n").file("r.md", asked)
}

fn of(project: &Memory) -> Packet {
    let analysis = crate::analysis::run(project, crate::analysis::Request::on(jiff::civil::date(2026, 7, 1))).unwrap();
    let (guard, past, dated) = (Guard::default(), Past::default(), undated());
    workbook(Made { analysis: &analysis, guard: &guard, past: &past, source: project, dated: &dated }, 0).unwrap()
}

fn entry(bytes: &[u8], name: &str) -> String {
    entries(bytes).into_iter().find(|(own, _)| own == name).unwrap().1
}

#[test]
fn what_looks_like_a_formula_stays_text_also_when_it_is_typed_again() {
    for title in ["=1+1", "+1", "-1", "@SUM(A1)", "\\t=1", "'x", "https://example.org"] {
        let made = of(&told(title, "The stand shall hold."));
        let title = title.replace("\\t", "\t");
        let shared = strings(&entry(&made.bytes, "xl/sharedStrings.xml"));
        let place = shared.iter().position(|text| *text == title).unwrap_or_else(|| panic!("{title} in {shared:?}"));
        let open = entry(&made.bytes, "xl/worksheets/sheet2.xml");
        let cell = open.split("<c r=\"C2\"").nth(1).unwrap().split("</c>").next().unwrap();
        assert!(cell.contains("t=\"s\"") && cell.contains(&format!("<v>{place}</v>")), "{cell}");
        // The style with an apostrophe before it, so that it stays text when somebody edits the cell.
        let style: usize = cell.split("s=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap();
        let styles = entry(&made.bytes, "xl/styles.xml");
        let formats = styles.split("<cellXfs").nth(1).unwrap();
        let format = formats.split("<xf ").nth(style + 1).unwrap();
        assert_eq!(format.contains("quotePrefix=\"1\""), title != "https://example.org", "{title}: {format}");
        assert!(!open.contains("example.org"), "no address becomes a link");
    }
}

#[test]
fn a_text_that_is_too_long_is_cut_and_says_so() {
    let long = "\u{1d11e}a".repeat(30_000);
    let made = of(&told("T", &format!("The stand shall {long}")));
    let texts = strings(&entry(&made.bytes, "xl/sharedStrings.xml"));
    let cut = texts.iter().find(|text| text.starts_with("The stand shall")).unwrap();
    assert!(cut.ends_with("a cell holds no more)") && cut.encode_utf16().count() <= 32_767, "{}", cut.len());
    assert!(cut.encode_utf16().count() > 32_700, "no more is cut than must be");
}

#[test]
fn the_words_above_a_page_are_no_codes() {
    let made = of(&told("T", "The stand shall hold."));
    let open = entry(&made.bytes, "xl/worksheets/sheet2.xml");
    let head = open.split("<oddHeader>").nth(1).unwrap().split("</oddHeader>").next().unwrap();
    assert!(
        head.starts_with("&amp;L&amp;8 DRAFT") && head.contains("&amp;&amp;D &amp;&amp; 1/2, before hot-fire"),
        "{head}"
    );
    let long = "&".repeat(4000);
    assert!(xlsx::header(&long, "matrix").encode_utf16().count() <= 255);
}

#[test]
fn it_is_told_from_other_archives_by_its_ends() {
    let made = of(&told("T", "The stand shall hold."));
    assert!(is_workbook(&made.bytes) && made.name.ends_with(".xlsx"));
    let archive = zip::ZipArchive::new(std::io::Cursor::new(&made.bytes)).unwrap();
    let comment = String::from_utf8(archive.comment().to_vec()).unwrap();
    assert!(comment.starts_with("slipmark packet\n{") && comment.contains("\nSHA-256 of this file"), "{comment}");
    let plain = made.bytes.len() - comment.len();
    assert_eq!(&made.bytes[plain - 22..plain - 18], b"PK\x05\x06", "the record that says how long the comment is");
    assert!(!is_workbook(&made.bytes[..plain]));
    assert_eq!(made.bytes, of(&told("T", "The stand shall hold.")).bytes);
}
