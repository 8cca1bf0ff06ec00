//! What is set says what the page says, stands on its sheets, and comes out the same every time.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use super::band::Ink;
use super::inline::What;
use super::sheets::{SIDE, Sheet, each};
use super::*;
use crate::report::hostile::Repository;
use crate::report::packet;

/// The packet of the example, as a page.
fn example() -> &'static str {
    static PAGE: OnceLock<String> = OnceLock::new();
    PAGE.get_or_init(|| {
        let folder = packet::tests::example();
        let (_, packet) = packet::tests::made(&packet::tests::work_tree(&folder), "hot-fire");
        String::from_utf8(packet.bytes).unwrap()
    })
}

/// A page that holds this.
fn page(inside: &str) -> String {
    format!(
        "<main><header class=\"cover\"><h1>P</h1></header><section class=\"part\"><h2>One</h2>{inside}</section></main>"
    )
}

/// Looks at what is set of a page.
fn looked<T>(page: &str, paper: Paper, look: impl FnOnce(&[Run], &[Sheet], &[Node]) -> T) -> T {
    let tree = tree::tree(page).unwrap();
    let pictures = Pictures::read(tree.files);
    let mut setter = Setter::new(Fonts::new().unwrap(), &pictures);
    let runs = set(&mut setter, tree.parts.clone(), paper);
    let sheets = sheets(&runs);
    look(&runs, &sheets, &tree.parts)
}

/// The words of each line that is set, without the list of contents.
fn lines(runs: &[Run], sheets: &[Sheet]) -> Vec<String> {
    let mut lines = Vec::new();
    each(runs, sheets, |sheet, _, ink| {
        if let (Ink::Line { words, .. }, true) = (ink, sheets[sheet].run != 1) {
            let said = words.iter().map(|placed| match &placed.what {
                What::Word(word) => word.text.as_str(),
                What::Shape(_) => "",
            });
            lines.push(said.collect());
        }
    });
    lines
}

/// How often each letter and digit stands in a text.
fn counted<'t>(texts: impl IntoIterator<Item = &'t str>) -> BTreeMap<char, usize> {
    let mut counts = BTreeMap::new();
    for character in texts.into_iter().flat_map(str::chars).filter(|character| character.is_alphanumeric()) {
        *counts.entry(character).or_default() += 1;
    }
    counts
}

fn texts(nodes: &[Node], out: &mut Vec<String>) {
    for node in nodes {
        match node {
            Node::Text(text) => out.push(text.clone()),
            Node::Element(own) => {
                // The numbers of a list are set, and do not stand on the page.
                let entries =
                    own.inside.iter().filter(|node| node.element().is_some_and(|own| own.tag == "li")).count();
                if own.tag == "ol" && !own.is("revisions") {
                    out.extend((1..=entries).map(|number| number.to_string()));
                }
                texts(&own.inside, out);
            }
        }
    }
}

#[test]
fn a_cell_over_several_columns_has_the_room_that_it_needs() {
    let table = "<table><thead><tr><th>child</th><th colspan=\"3\">title</th><th>state</th></tr></thead><tbody>\
        <tr><th colspan=\"5\">a heading that goes right across and is longer than any of the cells below it</th></tr>\
        <tr><td>MOV-080</td><td colspan=\"3\">Proof pressure of the body</td><td>closed</td></tr></tbody></table>";
    let set = looked(&page(table), Paper::A4, |runs, sheets, _| lines(runs, sheets));
    assert!(set.iter().any(|line| line.contains("Proof pressure of the body")), "{set:?}");
}

#[test]
fn every_letter_and_digit_of_the_page_is_set_and_no_other() {
    for paper in [Paper::A4, Paper::Letter] {
        looked(example(), paper, |runs, sheets, parts| {
            let mut said = Vec::new();
            texts(parts, &mut said);
            let set = lines(runs, sheets);
            assert_eq!(counted(said.iter().map(String::as_str)), counted(set.iter().map(String::as_str)));
        });
    }
}

/// What sticks out of its sheet.
fn outside(runs: &[Run], sheets: &[Sheet]) -> Vec<String> {
    let mut out = Vec::new();
    each(runs, sheets, |sheet, top, ink| {
        let size = sheets[sheet].size;
        let (right, bottom) = match ink {
            Ink::Line { x, y, words, .. } => {
                // A space at the end takes no room.
                let words = words.iter().filter(|placed| !matches!(&placed.what, What::Word(word) if word.text == " "));
                (x + words.map(|placed| placed.x + placed.width).fold(0.0, f32::max), top + y)
            }
            Ink::Picture { x, y, width, height, .. } => (x + width, top + y + height),
            Ink::Rule { x, y, width, .. } => (x + width, top + y),
            _ => return,
        };
        // More columns than there is room for run into the margin by a letter.
        if right > size.text() + 4.0 || bottom > size.height - sheets::BELOW + 3.0 || SIDE + right < SIDE {
            out.push(format!("sheet {sheet}: {right} {bottom} of {size:?}: {ink:?}"));
        }
    });
    out
}

#[test]
fn nothing_sticks_out_of_its_sheet() {
    let tall = "word ".repeat(9_000);
    let (wide, back) = ("x".repeat(900), "\u{5d0}\u{5d1}\u{5d2}".repeat(300));
    let columns = "<td>abcdefghij klm</td>".repeat(40);
    let hard = page(&format!(
        "<p>{wide}</p><table><thead><tr><th>a</th><th>b</th></tr></thead><tbody><tr><td>{tall}</td><td>{wide}</td></tr></tbody></table>\
         <table><tbody><tr>{columns}</tr></tbody></table><pre>{wide}</pre><p>{back} {back}</p><ul><li>{wide}<ul><li>{wide}</li></ul></li></ul>\
         <svg viewBox=\"0 0 760 9000\" width=\"760\" height=\"9000\" xmlns=\"http://www.w3.org/2000/svg\"><rect width=\"9\" height=\"9\"/></svg>"
    ));
    for page in [example(), &hard] {
        for paper in [Paper::A4, Paper::Letter] {
            let out = looked(page, paper, |runs, sheets, _| outside(runs, sheets));
            assert!(out.is_empty(), "{out:#?}");
        }
    }
}

#[test]
fn the_head_of_a_table_stands_on_each_of_its_sheets_and_each_row_once() {
    let rows: String = (0..200).map(|row| format!("<tr><td>row{row}</td><td>x</td></tr>")).collect();
    let page = page(&format!("<table><thead><tr><th>name</th><th>what</th></tr></thead><tbody>{rows}</tbody></table>"));
    looked(&page, Paper::A4, |runs, sheets, _| {
        let of_table: Vec<&Sheet> = sheets.iter().filter(|sheet| sheet.run > 1).collect();
        assert!(of_table.len() > 2);
        for sheet in &of_table[1..] {
            assert!(sheet.bands[0].again, "the head stands first");
            assert!(!sheet.bands[1].again);
        }
        let lines = lines(runs, sheets);
        assert_eq!(lines.iter().filter(|line| line.starts_with("row")).count(), 200);
        assert_eq!(lines.iter().filter(|line| *line == "name").count(), 1);
    });
}

#[test]
fn all_that_pictures_hold_is_drawn() {
    let pictures = Pictures::read(tree::tree(example()).unwrap().files);
    assert_eq!(pictures.unknown(), [&""; 0]);
    let every = [
        "m-closed.svg",
        "m-slipped.svg",
        "m-not-met.svg",
        "m-void.svg",
        "m-inconclusive.svg",
        "m-unsigned.svg",
        "m-no-evidence.svg",
        "m-waived.svg",
    ];
    assert!(every.iter().all(|name| pictures.find(name).is_some()));
    assert!((0..12).all(|number| pictures.find(&format!("picture-{}.svg", number + 8)).is_some()));
}

#[test]
fn a_character_that_no_font_has_is_spelt() {
    let said = looked(&page("<p>a \u{4e2d} ≥ °</p>"), Paper::A4, |runs, sheets, _| lines(runs, sheets).join("\n"));
    assert!(said.contains("[U+4E2D]") && said.contains('≥') && said.contains('°'), "{said}");
}

#[test]
fn the_list_of_contents_has_the_sheet_of_every_heading() {
    let tree = tree::tree(example()).unwrap();
    let pictures = Pictures::read(tree.files);
    let mut setter = Setter::new(Fonts::new().unwrap(), &pictures);
    let runs = set(&mut setter, tree.parts, Paper::A4);
    let sheets = sheets(&runs);
    let places = headings(&runs, &sheets, setter.headings.len());
    let listed: Vec<String> = {
        let mut lines = Vec::new();
        each(&runs, &sheets, |sheet, _, ink| {
            if let (Ink::Line { words, .. }, 1) = (ink, sheets[sheet].run) {
                lines.push(
                    words
                        .iter()
                        .filter_map(|placed| match &placed.what {
                            What::Word(word) => Some(word.text.clone()),
                            What::Shape(_) => None,
                        })
                        .collect::<String>(),
                );
            }
        });
        lines
    };
    assert!(places.len() > 50);
    for (heading, (sheet, _)) in setter.headings.iter().zip(&places) {
        assert!(*sheet > 1, "{heading:?}");
        let start: String = heading.words.chars().take(12).filter(|character| *character != ' ').collect();
        let found = listed.iter().any(|line| {
            let line = line.replace([' ', '\u{a0}'], "");
            line.starts_with(&start) && line.ends_with(&(sheet + 1).to_string())
        });
        assert!(found, "{heading:?} on {}", sheet + 1);
    }
    assert!(
        !setter.headings.iter().any(|heading| heading.words.contains("usual cautions")),
        "the first page is not listed"
    );
}

#[test]
fn the_same_page_gives_the_same_bytes_and_the_word_for_a_draft_changes_them() {
    let made = |draft| pdf(example(), "a packet", "at its head", draft, Paper::A4).unwrap();
    let one = made(None);
    assert!(one == made(None));
    assert!(one != made(Some("Draft: 1 file is not committed")));
    assert!(one.starts_with(b"%PDF-1.7") && one.len() > 100_000);
}

#[test]
fn what_acts_in_a_page_does_nothing_on_paper() {
    let repo = Repository::new();
    let analysis = repo.analysis();
    let (guard, past, tree) = (repo.guard(&analysis), repo.past(&analysis), repo.tree());
    let dated = packet::Dated { date: None, from: "nowhere", subject: None };
    let made = packet::Made { analysis: &analysis, guard: &guard, past: &past, source: &tree, dated: &dated };
    let paper = packet::packet_on_paper(made, 0, Paper::A4).unwrap().bytes;
    // What is written in words stands in brackets or is packed; these are the names of what acts.
    for acts in ["/JavaScript", "/JS", "/Launch", "/GoToR", "/OpenAction", "/EmbeddedFile", "/SubmitForm"] {
        assert!(memchr::memmem::find(&paper, acts.as_bytes()).is_none(), "{acts}");
    }
    let addresses: Vec<&[u8]> = memchr::memmem::find_iter(&paper, b"/URI").map(|at| &paper[at..at + 24]).collect();
    assert!(!addresses.is_empty(), "the text has a link");
    for address in addresses {
        let said = String::from_utf8_lossy(address);
        assert!(
            said.contains("https://example.org") || said.starts_with("/URI/") || said.starts_with("/URI\n"),
            "{said:?}"
        );
    }
    let page = String::from_utf8(packet::packet(made, 0).unwrap().bytes).unwrap();
    let out = looked(&page, Paper::Letter, |runs, sheets, _| outside(runs, sheets));
    assert!(out.is_empty(), "{out:#?}");
}

/// The words of a line that is set, as they are seen from left to right, with the first and the last letter of each as seen.
fn seen(text: &str) -> Vec<(String, char, char)> {
    looked(&page(&format!("<p>{text}</p>")), Paper::A4, |runs, sheets, _| {
        let mut seen = Vec::new();
        each(runs, sheets, |_, _, ink| {
            let Ink::Line { words, .. } = ink else { return };
            let words = words.iter().filter_map(|placed| match &placed.what {
                What::Word(word) => Some((placed.x, word)),
                What::Shape(_) => None,
            });
            if words.clone().map(|(_, word)| word.text.as_str()).collect::<String>().trim_end() == text {
                seen.extend(words.filter(|(_, word)| word.text != " ").map(|(x, word)| {
                    let letter =
                        |glyph: &krilla::text::KrillaGlyph| word.text[glyph.text_range.clone()].chars().next().unwrap();
                    let ends = (letter(word.glyphs.first().unwrap()), letter(word.glyphs.last().unwrap()));
                    (x, (word.text.clone(), ends.0, ends.1))
                }));
            }
        });
        seen.sort_by(|one, next| one.0.total_cmp(&next.0));
        seen.into_iter().map(|(_, word)| word).collect()
    })
}

/// What comes out is what the Unicode Bidirectional Algorithm (UAX #9) makes of the text in a paragraph that runs from left to right;
/// the file holds it as it is read.
#[test]
fn what_runs_from_right_to_left_stands_so() {
    let [peace, world] = ["\u{5e9}\u{5dc}\u{5d5}\u{5dd}", "\u{5e2}\u{5d5}\u{5dc}\u{5dd}"];
    let words = |text: &str| seen(text).into_iter().map(|(word, ..)| word).collect::<Vec<_>>();
    let mixed = format!("one {peace} {world} two");
    assert_eq!(words(&mixed), ["one", world, peace, "two"]);
    assert_eq!(words(&format!("{peace} 12 {world}")), [world, "12", peace]);
    assert_eq!(words(&format!("TP-{peace}12.")), ["TP-", "12", peace, "."]);
    assert_eq!(words("one two three"), ["one", "two", "three"]);
    // The first letter stands on the right.
    assert_eq!(seen(peace), [(peace.to_string(), '\u{5dd}', '\u{5e9}')]);
    // Brackets belong to what they enclose, and are turned with it.
    assert_eq!(words(&format!("{peace} ({world}) {peace}")), [peace, &format!("({world})"), peace]);
    let set = looked(&page(&format!("<p>{mixed}</p>")), Paper::A4, |runs, sheets, _| lines(runs, sheets));
    assert!(set.iter().any(|line| line.trim_end() == mixed), "{set:?}");
}
