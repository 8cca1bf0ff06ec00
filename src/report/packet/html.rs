//! Text that is already HTML, and the two ways to make it: from plain text and from Markdown.

use pulldown_cmark::{Event, HeadingLevel, Options, Parser, Tag, TagEnd, html};
use serde::{Serialize, Serializer};

use super::links::{Linker, Scheme};
use crate::text::RepoPath;

/// HTML that may stand in the page as it is: nobody but this module makes any from a project's text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::report) struct Html(String);

impl Html {
    /// Wraps what a function of this module's neighbours has put together from escaped parts.
    pub(in crate::report) fn trusted(html: String) -> Html {
        Html(html)
    }

    /// The HTML.
    pub(in crate::report) fn as_str(&self) -> &str {
        &self.0
    }
}

impl Serialize for Html {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        minijinja::Value::from_safe_string(self.0.clone()).serialize(serializer)
    }
}

/// Appends a text so that it can stand between tags or in a quoted attribute.
pub(in crate::report) fn escape(out: &mut String, text: &str) {
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
}

/// Headings of bodies hang below the packet's own, and where a thing has a page of its own below that one's.
fn below(linker: &Linker) -> usize {
    if linker.scheme() == Scheme::OnePage { 3 } else { 1 }
}

/// A Markdown text as HTML: raw HTML shown as the text it is, pictures as a note, links only where they are harmless.
pub(in crate::report) fn markdown(text: &str, from: &RepoPath, linker: &Linker) -> Html {
    let mut reading = Reading { linker, from, out: Vec::new(), links: Vec::new(), picture: None, in_code: false };
    for event in Parser::new_ext(text, Options::ENABLE_TABLES | Options::ENABLE_STRIKETHROUGH) {
        reading.take(event);
    }
    let mut page = String::with_capacity(text.len() * 2);
    html::push_html(&mut page, reading.out.into_iter());
    Html(page)
}

/// One pass over a body's events.
struct Reading<'a> {
    linker: &'a Linker,
    from: &'a RepoPath,
    out: Vec<Event<'a>>,
    /// For each link that is open, whether it was let through.
    links: Vec<bool>,
    /// The words of a picture, while inside one; pictures do not nest in the output.
    picture: Option<(usize, String)>,
    in_code: bool,
}

impl<'a> Reading<'a> {
    fn take(&mut self, event: Event<'a>) {
        if self.picture.is_some() {
            return self.inside_picture(event);
        }
        match event {
            Event::Start(Tag::Image { .. }) => self.picture = Some((1, String::new())),
            Event::Start(Tag::Link { dest_url, .. }) => self.link(&dest_url),
            Event::End(TagEnd::Link) => {
                if self.links.pop() == Some(true) {
                    self.out.push(Event::Html("</a>".into()));
                }
            }
            Event::Start(Tag::Heading { level, .. }) => {
                let level = self.deeper(level);
                self.out.push(Event::Start(Tag::Heading { level, id: None, classes: Vec::new(), attrs: Vec::new() }));
            }
            Event::End(TagEnd::Heading(level)) => self.out.push(Event::End(TagEnd::Heading(self.deeper(level)))),
            // The word after the fence would become a class, and the columns' sides a style.
            Event::Start(Tag::CodeBlock(_)) => {
                self.in_code = true;
                self.out.push(Event::Html("<pre tabindex=\"0\"><code>".into()));
            }
            Event::End(TagEnd::CodeBlock) => {
                self.in_code = false;
                self.out.push(Event::Html("</code></pre>\n".into()));
            }
            Event::Start(Tag::Table(sides)) => {
                let none = vec![pulldown_cmark::Alignment::None; sides.len()];
                self.out.push(Event::Start(Tag::Table(none)));
            }
            Event::Html(raw) | Event::InlineHtml(raw) => self.out.push(Event::Text(raw)),
            Event::Start(Tag::HtmlBlock) => self.out.push(Event::Html("<p>".into())),
            Event::End(TagEnd::HtmlBlock) => self.out.push(Event::Html("</p>\n".into())),
            Event::Text(text) if !self.in_code && self.links.is_empty() => {
                self.out.push(Event::InlineHtml(self.linker.text(&text).0.into()));
            }
            other => self.out.push(other),
        }
    }

    fn link(&mut self, target: &str) {
        let tag = match self.linker.target(self.from, target) {
            // A link in a link is not allowed, and Markdown does not make one.
            Some((target, leads_out)) if self.links.is_empty() => {
                let mut tag = "<a href=\"".to_string();
                escape(&mut tag, &target);
                tag.push_str(if leads_out { "\" rel=\"noopener noreferrer\">" } else { "\">" });
                Some(tag)
            }
            _ => None,
        };
        self.links.push(tag.is_some());
        self.out.extend(tag.map(|tag| Event::Html(tag.into())));
    }

    fn deeper(&self, level: HeadingLevel) -> HeadingLevel {
        HeadingLevel::try_from(level as usize + below(self.linker)).unwrap_or(HeadingLevel::H6)
    }

    fn inside_picture(&mut self, event: Event<'a>) {
        let Some((depth, words)) = &mut self.picture else { return };
        match event {
            Event::Start(Tag::Image { .. }) => *depth += 1,
            Event::End(TagEnd::Image) => *depth -= 1,
            Event::Text(text) | Event::Code(text) | Event::InlineHtml(text) => words.push_str(&text),
            _ => {}
        }
        if *depth == 0 {
            let note = format!("[picture, not shown here: {}]", words.trim());
            self.picture = None;
            self.out.push(Event::Text(note.into()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        markdown(text, &RepoPath::new("records/a.md"), &Linker::default()).0
    }

    #[test]
    fn what_could_run_is_shown_as_text() {
        let html = shown("a <script>x</script> b\n\n<img src=x onerror=y>\n");
        assert!(!html.contains("<script") && !html.contains("<img"), "{html}");
        assert!(html.contains("&lt;script&gt;"), "{html}");
    }

    #[test]
    fn links_that_could_run_lose_their_target() {
        for target in
            ["javascript:x", "JaVaScRiPt:x", "data:text/html,x", "//host/x", "vbscript:x", "&#106;avascript:x"]
        {
            let html = shown(&format!("[word]({target})"));
            assert_eq!(html, "<p>word</p>\n", "{target}");
        }
        assert!(shown("[w](https://example.org/?a=\"b)").contains("rel=\"noopener noreferrer\""));
    }

    #[test]
    fn pictures_become_a_note_and_headings_go_down() {
        assert_eq!(shown("![a *b*](c.png)"), "<p>[picture, not shown here: a b]</p>\n");
        assert_eq!(shown("## Cautions"), "<h5>Cautions</h5>\n");
    }

    #[test]
    fn a_code_block_keeps_its_text_and_loses_its_language() {
        assert_eq!(shown("```x\" onload=\"y\na < b\n```\n"), "<pre tabindex=\"0\"><code>a &lt; b\n</code></pre>\n");
    }
}
