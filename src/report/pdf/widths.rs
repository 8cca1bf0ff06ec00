//! How wide the columns of a table become, by what stands in them.

use super::tree::{Node, Tagged};

/// Rows shorter than this, in characters, fit beside each other: each column is as wide as what stands in it.
const FITS: usize = 90;
/// A word longer than this is broken.
const WORD: usize = 22;
/// More text than this makes a column no wider: it makes the row higher.
const TEXT: usize = 400;

/// One number for each column, 0 for as wide as its text.
pub(super) fn of(inside: &[Node]) -> Vec<f64> {
    let mut rows = Vec::new();
    inside.iter().for_each(|node| rows_of(node, &mut rows));
    let count = rows.iter().map(|row| row.iter().map(|cell| span(cell)).sum::<usize>()).max().unwrap_or(1).max(1);
    let (mut longest, mut word) = (vec![1usize; count], vec![1usize; count]);
    for row in rows {
        let mut at = 0;
        for cell in row {
            if span(cell) == 1 && at < count {
                let text = text_of(cell);
                let words = text.split([' ', '\u{200b}', '\u{a0}']).map(|word| word.chars().count());
                longest[at] = longest[at].max(text.chars().count());
                word[at] = word[at].max(words.max().unwrap_or(0));
            }
            at += span(cell);
        }
    }
    if longest.iter().sum::<usize>() < FITS {
        return vec![0.0; count];
    }
    let wide = |(text, word): (usize, usize)| (word.min(WORD) as f64 + 1.0).max((text.min(TEXT) as f64).sqrt() * 2.2);
    longest.into_iter().zip(word).map(wide).collect()
}

fn rows_of<'n>(node: &'n Node, rows: &mut Vec<Vec<&'n Tagged>>) {
    let Node::Element(own) = node else { return };
    match own.tag.as_str() {
        "tr" => rows.push(own.inside.iter().filter_map(Node::element).collect()),
        "thead" | "tbody" => own.inside.iter().for_each(|inner| rows_of(inner, rows)),
        _ => {}
    }
}

fn span(cell: &Tagged) -> usize {
    cell.columns.unwrap_or(1).max(1)
}

fn text_of(cell: &Tagged) -> String {
    let mut text = String::new();
    add(cell, &mut text);
    text
}

fn add(element: &Tagged, text: &mut String) {
    for node in &element.inside {
        match node {
            Node::Text(own) => text.push_str(own),
            Node::Element(own) => {
                if matches!(own.tag.as_str(), "p" | "br" | "li" | "tr") {
                    text.push(' ');
                }
                add(own, text);
            }
        }
    }
}
