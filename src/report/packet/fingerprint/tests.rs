//! Whatever happens to a packet is found, and nothing that is called one does harm.

use rayon::prelude::*;

use super::*;
use crate::analysis::{Request, run};
use crate::history::Guard;
use crate::report::packet::{Made, Past, packet};
use crate::report::workbook::workbook;
use crate::source::Memory;

/// A packet of a small project, as a page and as a workbook.
fn both() -> [Vec<u8>; 2] {
    small(|made| [packet(made, 0).unwrap().bytes, workbook(made, 0).unwrap().bytes])
}

/// Something made from a small project.
fn small<T>(make: impl FnOnce(Made<'_>) -> T) -> T {
    let asked = "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"slipmark packet\\n -- <b> \u{202e}\"\nsource = \"S\"\n\
                 verify = [{ method = \"analysis\" }]\n+++\nThe stand shall hold.\n";
    let project =
        Memory::new().file("slipmark.toml", "name = \"x\"\nevents = [\"a --> <b>\"]\n").file("r -- \u{202e}.md", asked);
    let analysis = run(&project, Request::on(jiff::civil::date(2026, 7, 1))).unwrap();
    let (guard, past) = (Guard::default(), Past::default());
    let dated = Dated { date: None, from: "there is no commit", subject: None };
    let made = Made { analysis: &analysis, guard: &guard, past: &past, source: &project, dated: &dated };
    make(made)
}

#[cfg(feature = "pdf")]
#[test]
fn a_pdf_says_what_it_was_made_from_and_whatever_happens_to_it_is_found() {
    use crate::report::packet::packet_on_paper;
    use crate::report::pdf::Paper;

    let pdf = small(|made| packet_on_paper(made, 0, Paper::Letter).unwrap().bytes);
    let looked = look(&pdf).unwrap();
    assert_eq!(looked.altered, [""; 0]);
    let claims = looked.claims.unwrap();
    assert_eq!((claims.event.as_str(), claims.paper.as_deref()), ("a --> <b>", Some("letter")));
    assert_eq!(claims.parts, looked.parts);
    let behind = trailer(&pdf).unwrap();
    // Every byte of what it says of itself, and some of what is before.
    let places: Vec<usize> = (0..behind).step_by(97).chain(behind..pdf.len()).collect();
    let missed: Vec<usize> = places
        .into_par_iter()
        .filter(|at| {
            let mut other = pdf.clone();
            other[*at] ^= 1 << (at % 8);
            let cut = look(&pdf[..*at]).is_some_and(|looked| looked.altered.is_empty());
            cut || look(&other).is_some_and(|looked| looked.altered.is_empty())
        })
        .collect();
    assert!(missed.is_empty(), "{} of {} bytes, first {:?}", missed.len(), pdf.len(), missed.first());
    let longer = [&pdf[..], b"\n"].concat();
    assert!(!look(&longer).unwrap().altered.is_empty());
}

#[test]
fn a_packet_says_what_it_was_made_from_and_nothing_of_it_was_altered() {
    for bytes in both() {
        let looked = look(&bytes).unwrap();
        assert_eq!(looked.altered, [""; 0]);
        let claims = looked.claims.unwrap();
        assert_eq!((claims.event.as_str(), claims.clean, claims.commit), ("a --> <b>", false, None));
        let paths: Vec<String> = claims.files.unwrap().into_iter().map(|(_, path)| path).collect();
        assert_eq!(paths, ["r -- \u{202e}.md", "slipmark.toml"]);
        assert!(claims.parts.len() > 10 && claims.parts == looked.parts, "{:?}", claims.parts);
    }
    let page = String::from_utf8(both()[0].clone()).unwrap();
    let (_, comment) = page.split_once("</html>\n<!--").unwrap();
    let inside = comment.strip_suffix("-->\n").unwrap();
    assert!(
        !inside.contains("--") && inside.chars().all(|c| c.is_ascii_graphic() || matches!(c, ' ' | '\n')),
        "{inside}"
    );
}

#[test]
fn every_byte_that_is_turned_is_found() {
    for bytes in both() {
        let missed: Vec<usize> = (0..bytes.len())
            .into_par_iter()
            .filter(|at| {
                let mut other = bytes.clone();
                other[*at] ^= 1 << (at % 8);
                look(&other).is_none_or(|looked| looked.altered.is_empty())
            })
            .collect();
        assert!(missed.is_empty(), "{} of {} bytes, first {:?}", missed.len(), bytes.len(), missed.first());
    }
}

#[test]
fn what_is_cut_off_put_in_or_said_twice_is_found() {
    for bytes in both() {
        for length in (1..bytes.len()).step_by(211) {
            let found = look(&bytes[..length]).is_none_or(|looked| !looked.altered.is_empty());
            assert!(found, "cut after {length} of {} bytes", bytes.len());
            let longer = [&bytes[..length], b"x", &bytes[length..]].concat();
            assert!(!look(&longer).unwrap().altered.is_empty(), "a byte more at {length}");
        }
        assert!(!look(&[&bytes[..], b"\n"].concat()).unwrap().altered.is_empty());
        assert!(!look(&[&bytes[..], &bytes[..]].concat()).unwrap().altered.is_empty());
        let mut without = bytes.clone();
        without.truncate(trailer(&bytes).unwrap());
        assert!(look(&without).is_none_or(|looked| looked.claims.is_none() && !looked.altered.is_empty()));
    }
}

#[test]
fn what_was_altered_is_named() {
    let [page, book] = both();
    let text = String::from_utf8(page.clone()).unwrap();
    let other = text.replacen("id=\"matrix\">", "id=\"matrix\"> ", 1);
    assert_eq!(look(other.as_bytes()).unwrap().altered, ["matrix was altered"]);
    let digits = digits(&page).unwrap();
    let mut other = page.clone();
    other[digits.start] = if other[digits.start] == b'0' { b'1' } else { b'0' };
    assert_eq!(look(&other).unwrap().altered, ["what it says of itself at its end, or what lies between its parts"]);
    // The first bytes of the first sheet, as packed.
    let place = memchr::memmem::find(&book, b"xl/worksheets/sheet1.xml").unwrap() + 40;
    let mut other = book.clone();
    other[place] ^= 4;
    assert_eq!(look(&other).unwrap().altered, ["the sheet summary was altered"]);
}

#[test]
fn what_is_no_packet_is_none_and_does_no_harm() {
    for bytes in [&b""[..], b"<", b"PK", b"PK\x03\x04", b"<html></html>", b"slipmark packet", &[0xff; 4096]] {
        assert!(look(bytes).is_none());
    }
    let deep = format!("<!DOCTYPE html><!--\n{START}{}\n{LABEL}{}\n-->\n", "[".repeat(1 << 20), "0".repeat(64));
    let looked = look(deep.as_bytes()).unwrap();
    assert!(looked.claims.is_none() && !looked.altered.is_empty());
    let halves = format!("{START}{{\"parts\": 5}}\n{LABEL}{}", "f".repeat(64));
    assert!(look(halves.as_bytes()).unwrap().claims.is_none());
}

#[test]
fn an_archive_that_unpacks_to_too_much_is_left() {
    let [_, book] = both();
    let all = parts_of_archive(&book, UNPACKED).unwrap();
    let some = parts_of_archive(&book, 3_000).unwrap();
    assert_eq!(all.len(), some.len());
    assert!(all.iter().all(|(_, hash)| hash.len() == 64));
    assert!(some.iter().skip(3).all(|(_, hash)| hash == "cannot be unpacked"), "{some:?}");
}

#[test]
fn a_workbook_of_many_files_has_no_room_for_their_names_and_says_the_rest() {
    let [_, book] = both();
    let plain = memchr::memmem::rfind(&book, b"PK\x05\x06").unwrap() + 22;
    let mut zip = book[..plain].to_vec();
    zip[plain - 2..].fill(0);
    let files = (0..2_000).map(|at| (Some("0".repeat(64)), format!("requirements/R-{at}.md"))).collect();
    let bytes = onto_archive(zip, Claims { files: Some(files), list: "l".into(), ..Claims::default() }).unwrap();
    let looked = look(&bytes).unwrap();
    assert_eq!(looked.altered, [""; 0]);
    let claims = looked.claims.unwrap();
    assert!(claims.files.is_none() && claims.list == "l" && claims.parts.len() > 10);
}
