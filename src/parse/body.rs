//! The Markdown body: the statement, named sections, fenced calculations.

use std::borrow::Cow;
use std::ops::Range;

use pulldown_cmark::{CodeBlockKind, Event, Parser, Tag, TagEnd};
use unicode_normalization::{IsNormalized, UnicodeNormalization, is_nfc_quick};

/// What the later stages need of a body; ranges are bytes of the body.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Body {
    /// The text before the first heading, white space around it trimmed.
    pub statement: Range<usize>,
    /// The statement as plain text, normalised: what evidence is judged against.
    pub plain: String,
    /// Headings of the first two levels, with the range of the text under each.
    pub sections: Vec<(String, Range<usize>)>,
    /// The contents of fenced blocks marked `calc`.
    pub calculations: Vec<CalcBlock>,
}

/// A fenced block marked `calc`.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CalcBlock {
    /// Its lines.
    pub text: String,
    /// For each piece of the text, where it begins there and in the body: a block in a list is indented.
    pub pieces: Vec<(usize, usize)>,
}

impl Body {
    /// Reads a body.
    pub fn read(text: &str) -> Body {
        let mut reading = Reading::default();
        for (event, range) in Parser::new(text).into_offset_iter() {
            reading.take(event, range);
        }
        reading.finish(text)
    }

    /// The text under a heading, whatever its case.
    pub fn section<'t>(&self, body: &'t str, heading: &str) -> Option<&'t str> {
        let (_, range) = self.sections.iter().find(|(name, _)| name.trim().eq_ignore_ascii_case(heading))?;
        body.get(range.clone()).map(str::trim)
    }
}

/// The state of one pass over the events.
#[derive(Default)]
struct Reading {
    plain: String,
    /// A block of HTML so far.
    html: String,
    first_heading: Option<usize>,
    in_heading: Option<(String, usize)>,
    open: Option<(String, usize)>,
    sections: Vec<(String, Range<usize>)>,
    in_calculation: bool,
    calculations: Vec<CalcBlock>,
}

impl Reading {
    fn take(&mut self, event: Event<'_>, range: Range<usize>) {
        match event {
            Event::Start(Tag::Heading { .. }) => {
                self.first_heading.get_or_insert(range.start);
                if let Some((name, start)) = self.open.take() {
                    self.sections.push((name, start..range.start));
                }
                self.in_heading = Some((String::new(), range.end));
            }
            Event::End(TagEnd::Heading(_)) => self.open = self.in_heading.take(),
            Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(info)))
                if info.split_whitespace().next() == Some("calc") =>
            {
                self.in_calculation = true;
                self.calculations.push(CalcBlock::default());
            }
            Event::End(TagEnd::CodeBlock) => {
                self.in_calculation = false;
                self.add(" ");
            }
            Event::Text(text) if self.in_calculation => {
                if let Some(block) = self.calculations.last_mut() {
                    block.pieces.push((block.text.len(), range.start));
                    block.text.push_str(&text);
                }
                self.add(&text);
            }
            Event::Html(text) => self.html.push_str(&text),
            Event::End(TagEnd::HtmlBlock) => {
                let html = std::mem::take(&mut self.html);
                self.add(&without_comments(&html));
                self.add(" ");
            }
            Event::InlineHtml(text) => self.add(&without_comments(&text)),
            Event::Text(text) | Event::Code(text) => self.add(&text),
            Event::SoftBreak | Event::HardBreak | Event::Rule => self.add(" "),
            Event::End(TagEnd::Paragraph | TagEnd::Item | TagEnd::BlockQuote(_) | TagEnd::List(_)) => self.add(" "),
            _ => {}
        }
    }

    fn add(&mut self, text: &str) {
        if let Some((name, _)) = &mut self.in_heading {
            name.push_str(text);
        } else if self.first_heading.is_none() {
            self.plain.push_str(text);
        }
    }

    fn finish(mut self, text: &str) -> Body {
        if let Some((name, start)) = self.open.take() {
            self.sections.push((name, start..text.len()));
        }
        let end = self.first_heading.unwrap_or(text.len());
        let statement = &text[..end];
        let start = end - statement.trim_start().len();
        let stop = start + text[start..end].trim_end().len();
        Body {
            statement: start..stop,
            plain: plain_text(&self.plain),
            sections: self.sections,
            calculations: self.calculations,
        }
    }
}

/// HTML without its comments, which no reader of the page sees; one that is not closed stays.
fn without_comments(html: &str) -> String {
    let mut kept = String::with_capacity(html.len());
    let mut rest = html;
    while let Some((before, comment)) = rest.split_once("<!--") {
        let Some((_, behind)) = comment.split_once("-->") else { break };
        kept.push_str(before);
        rest = behind;
    }
    kept + rest
}

/// Text in NFC with single spaces and no space around it; most is so already.
pub fn plain_spaces(text: &str) -> Cow<'_, str> {
    let composed = text.is_ascii() || is_nfc_quick(text.chars()) == IsNormalized::Yes;
    let tidy = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let folded = !text.starts_with(char::is_whitespace) && !text.ends_with(char::is_whitespace) && single_spaces(text);
    match (composed, folded) {
        (true, true) => Cow::Borrowed(text),
        (true, false) => Cow::Owned(tidy(text)),
        (false, _) => Cow::Owned(tidy(&text.nfc().collect::<String>())),
    }
}

/// Whether all white space is single spaces.
fn single_spaces(text: &str) -> bool {
    if text.is_ascii() {
        let white = |byte: u8| byte.is_ascii_whitespace() || byte == 0x0b;
        let bytes = text.as_bytes();
        return !bytes.iter().any(|byte| *byte != b' ' && white(*byte)) && !bytes.windows(2).any(|pair| pair == b"  ");
    }
    let mut before = false;
    text.chars().all(|character| {
        let space = character.is_whitespace();
        let fits = !space || (character == ' ' && !before);
        before = space;
        fits
    })
}

/// Plain text in the form that marks use: NFC, straight quotes and hyphens, single spaces, no space around it.
pub fn plain_text(text: &str) -> String {
    if text.is_ascii() {
        return plain_spaces(text).into_owned();
    }
    let mut plain = String::with_capacity(text.len());
    let mut push = |character: char| {
        let character = match character {
            '“' | '”' | '„' | '‟' | '«' | '»' => '"',
            '‘' | '’' | '‚' | '‛' | '′' => '\'',
            '‐' | '‑' | '‒' | '–' | '—' | '―' | '−' => '-',
            other => other,
        };
        // Where a line may be broken is nothing that anybody reads.
        if matches!(character, '\u{ad}' | '\u{200b}' | '\u{2060}' | '\u{feff}') {
            return;
        }
        if !character.is_whitespace() {
            plain.push(character);
        } else if !plain.ends_with(' ') && !plain.is_empty() {
            plain.push(' ');
        }
    };
    if is_nfc_quick(text.chars()) == IsNormalized::Yes {
        text.chars().for_each(&mut push);
    } else {
        text.nfc().for_each(&mut push);
    }
    if plain.ends_with(' ') {
        plain.pop();
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_statement_ends_at_the_first_heading() {
        let text = "\nThe valve *shall* open\nwithin 2 s.\n\n## Rationale\n\nBecause.\n\n## Notes\nx";
        let body = Body::read(text);
        assert_eq!(&text[body.statement.clone()], "The valve *shall* open\nwithin 2 s.");
        assert_eq!(body.plain, "The valve shall open within 2 s.");
        assert_eq!(body.section(text, "rationale"), Some("Because."));
        assert_eq!(body.section(text, "Notes"), Some("x"));
    }

    #[test]
    fn wrapping_quotes_and_composition_do_not_show_in_plain_text() {
        let one = Body::read("The “e\u{301}lan” – 5 mm\nwide.\n");
        let two = Body::read("The \"\u{e9}lan\"   - 5 mm wide.");
        assert_eq!(one.plain, two.plain);
    }

    #[test]
    fn lists_and_html_stay_in_plain_text_and_comments_do_not() {
        let body = Body::read("It shall:\n\n- open\n- close <b>twice</b> <!-- never -->\n");
        assert_eq!(body.plain, "It shall: open close <b>twice</b>");
        let plain = "It shall open.";
        for text in [
            "<!-- lint off -->\n\nIt shall open.\n",
            "It shall open.\n\n<!-- off\nand on -->\n\n## Rationale\n",
            "It sh\u{ad}all <!-- a --> o\u{200b}pen.",
        ] {
            assert_eq!(Body::read(text).plain, plain, "{text:?}");
        }
        assert_eq!(Body::read("It shall open. <!-- or close").plain, "It shall open. <!-- or close");
        assert_eq!(Body::read("It shall open.\n\n<!-- or close").plain, "It shall open. <!-- or close");
    }

    #[test]
    fn spaces_are_folded_however_they_came() {
        for text in ["a b", " a b", "a b\n", "a  b", "a\tb", "a\u{a0}b"] {
            assert_eq!(plain_spaces(text), "a b", "{text:?}");
        }
        assert_eq!(plain_spaces("e\u{301} x"), "\u{e9} x");
    }

    #[test]
    fn calculations_are_found() {
        let body = Body::read("```calc\na = 1\n```\n\n```text\nb\n```\n");
        assert_eq!(body.calculations, vec![CalcBlock { text: "a = 1\n".into(), pieces: vec![(0, 8)] }]);
    }
}
