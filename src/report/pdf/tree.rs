//! The packet's page taken apart for the typesetter: what stands on the page, and nothing of how a screen shows it.
//!
//! The page is the packet. Whatever stands on it stands in the PDF too, in the same order and the same words, so that there is no
//! second list of what a packet holds. In goes the page as the templates made it; out come nested nodes, and a file for each picture.

use std::collections::BTreeSet;

use base64::Engine;
use roxmltree::{Document, Node as Element, ParsingOptions};

use crate::report::ReportError;

/// A text, or an element with what is in it.
#[derive(Clone, Debug)]
pub(super) enum Node {
    /// A text, with single spaces.
    Text(String),
    /// An element.
    Element(Box<Tagged>),
}

impl Node {
    /// The element, if it is one.
    pub(super) fn element(&self) -> Option<&Tagged> {
        match self {
            Node::Element(own) => Some(own),
            Node::Text(_) => None,
        }
    }

    /// What is inside it: a text is inside itself.
    pub(super) fn into_inside(self) -> Vec<Node> {
        match self {
            Node::Text(_) => vec![self],
            Node::Element(own) => own.inside,
        }
    }
}

impl Tagged {
    /// Whether it is of a class.
    pub(super) fn is(&self, class: &str) -> bool {
        self.class.iter().any(|own| own == class)
    }

    /// Its text.
    pub(super) fn text(&self) -> String {
        let texts = self.inside.iter().map(|node| match node {
            Node::Text(text) => text.clone(),
            Node::Element(own) => own.text(),
        });
        texts.collect()
    }
}

/// An element of the page.
#[derive(Clone, Debug, Default)]
pub(super) struct Tagged {
    /// Its name; `mark` for the shape of a state, `image` for a picture.
    pub(super) tag: String,
    /// Its classes.
    pub(super) class: Vec<String>,
    /// By what links lead to it; a table's rows hand theirs to their first cells.
    pub(super) ids: Vec<String>,
    /// Where it leads: a place of this page, or an address.
    pub(super) href: Option<String>,
    /// Of a picture, the name of its file; of a mark, that of its shape.
    pub(super) file: Option<String>,
    /// What a picture says in words.
    pub(super) alt: Option<String>,
    /// How many columns a cell takes up.
    pub(super) columns: Option<usize>,
    /// What is in it.
    pub(super) inside: Vec<Node>,
}

/// A page taken apart.
#[derive(Debug)]
pub(super) struct Tree {
    /// What is in `main`, part by part.
    pub(super) parts: Vec<Node>,
    /// Pictures by name.
    pub(super) files: Vec<(String, Vec<u8>)>,
}

/// Elements nested deeper than this are taken for the text that they hold: only a body that somebody nested on purpose goes so deep.
const DEEPEST: usize = 24;

/// Elements in which text stands for nothing but the layout of the source.
const HOLDERS: &[&str] = &[
    "main", "header", "section", "article", "ul", "ol", "dl", "table", "thead", "tbody", "tr", "nav", "figure", "div",
];

/// Elements that only a screen has a use for: on paper there is a list of contents with the numbers of pages, and what is folded away
/// on the page is not printed from there either.
const LEFT_OUT: &[&str] = &["contents", "up", "index", "trace"];

/// Takes a page apart.
///
/// # Errors
/// If it is not well formed, which would be a fault of its templates.
pub(super) fn tree(page: &str) -> Result<Tree, ReportError> {
    let mut taking = Taking { files: Vec::new() };
    if let Some(symbols) = between(page, "<svg class=\"defs\"", "</svg>") {
        let symbols = well_formed(symbols);
        read(&symbols)?
            .descendants()
            .filter(|node| node.has_tag_name("symbol"))
            .for_each(|symbol| taking.symbol(symbol));
    }
    let main = well_formed(between(page, "<main", "</main>").unwrap_or_default());
    let document = read(&main)?;
    let mut parts = taking.inside(document.root_element(), 0);
    let mut places = BTreeSet::new();
    parts.iter_mut().for_each(|part| place(part, Vec::new(), &mut places));
    parts.iter_mut().for_each(|part| lead(part, &places));
    Ok(Tree { parts, files: taking.files })
}

fn read(text: &str) -> Result<Document<'_>, ReportError> {
    let options = ParsingOptions { allow_dtd: false, ..ParsingOptions::default() };
    Document::parse_with_options(text, options)
        .map_err(|error| ReportError::new(format!("the page cannot be taken apart for the PDF: {error}")))
}

/// What stands from one text to the end of another.
fn between<'p>(page: &'p str, start: &str, end: &str) -> Option<&'p str> {
    let from = page.find(start)?;
    let length = page[from..].find(end)? + end.len();
    page.get(from..from + length)
}

/// HTML that our templates make, as XML: elements that hold nothing are closed, and names for characters are characters.
fn well_formed(html: &str) -> String {
    let mut out = String::with_capacity(html.len() + html.len() / 16);
    let mut rest = html;
    while let Some(at) = rest.find(['<', '&']) {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let (end, close) = if rest.starts_with('<') { ('>', "<") } else { (';', "&") };
        let length = rest.find(end).map_or(rest.len(), |found| found + 1);
        let (one, after) = rest.split_at(length);
        rest = after;
        if close == "&" {
            out.push_str(match one {
                "&ndash;" => "–",
                "&uarr;" => "↑",
                "&shy;" => "",
                "&nbsp;" => "\u{a0}",
                other => other,
            });
        } else if one.starts_with("<wbr") {
            // Long words are broken by the typesetter.
            out.push('\u{200b}');
        } else if ["<br", "<img", "<hr"].iter().any(|void| one.starts_with(void)) && !one.ends_with("/>") {
            out.push_str(one.trim_end_matches('>'));
            out.push_str("/>");
        } else {
            out.push_str(one);
        }
    }
    out.push_str(rest);
    out
}

/// What is found on the way.
struct Taking {
    files: Vec<(String, Vec<u8>)>,
}

impl Taking {
    /// The shape of a state, as a picture of its own.
    fn symbol(&mut self, symbol: Element<'_, '_>) {
        let Some(id) = symbol.attribute("id") else { return };
        let text = symbol.document().input_text();
        let inner: String = symbol.children().map(|child| &text[child.range()]).collect();
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"-1 -1 18 18\" width=\"18\" height=\"18\" color=\"#000\">{inner}</svg>"
        );
        self.files.push((format!("{id}.svg"), svg.into_bytes()));
    }

    fn inside(&mut self, element: Element<'_, '_>, depth: usize) -> Vec<Node> {
        let holds_elements = HOLDERS.contains(&element.tag_name().name());
        let mut nodes = Vec::new();
        for child in element.children() {
            if child.is_text() {
                let text = single_spaces(child.text().unwrap_or_default());
                let only_space = text.trim_matches(' ').is_empty();
                let left_out = text.is_empty() || holds_elements && only_space;
                if !left_out {
                    nodes.push(Node::Text(text));
                }
            } else if child.is_element() {
                nodes.extend(self.element(child, depth));
            }
        }
        nodes
    }

    fn element(&mut self, element: Element<'_, '_>, depth: usize) -> Option<Node> {
        let tag = element.tag_name().name();
        let class: Vec<String> =
            element.attribute("class").unwrap_or_default().split_whitespace().map(str::to_string).collect();
        if class.iter().any(|class| LEFT_OUT.contains(&class.as_str())) {
            return None;
        }
        if depth >= DEEPEST {
            let text: String =
                element.descendants().filter(|node| node.is_text()).filter_map(|node| node.text()).collect();
            return Some(Node::Text(single_spaces(&text)));
        }
        let ids = element.attribute("id").map(str::to_string).into_iter().collect();
        let plain = Tagged { tag: tag.to_string(), class, ids, ..Tagged::default() };
        let tagged = match tag {
            "svg" => self.picture(element, plain),
            "img" => self.photo(element, plain)?,
            "a" => {
                let href = element.attribute("href").map(str::to_string);
                Tagged { href, inside: self.inside(element, depth + 1), ..plain }
            }
            "pre" => Tagged { inside: vec![Node::Text(text_of(element))], ..plain },
            _ => {
                let columns = element.attribute("colspan").and_then(|columns| columns.parse().ok());
                Tagged { columns, inside: self.inside(element, depth + 1), ..plain }
            }
        };
        Some(Node::Element(Box::new(tagged)))
    }

    /// A mark of a state, or a picture of its own.
    fn picture(&mut self, svg: Element<'_, '_>, plain: Tagged) -> Tagged {
        let shape = svg.children().find(|child| child.has_tag_name("use")).and_then(|child| child.attribute("href"));
        if let Some(shape) = shape {
            let file = Some(format!("{}.svg", shape.trim_start_matches('#')));
            let alt = svg.attribute("aria-label").map(str::to_string);
            return Tagged { tag: "mark".into(), file, alt, ..plain };
        }
        let words = |tag: &str| svg.descendants().find(|node| node.has_tag_name(tag)).map(text_of);
        let alt = [words("title"), words("desc")].into_iter().flatten().collect::<Vec<_>>().join(". ");
        let name = format!("picture-{}.svg", self.files.len());
        self.files.push((name.clone(), svg.document().input_text()[svg.range()].as_bytes().to_vec()));
        Tagged { tag: "image".into(), file: Some(name), alt: Some(alt), ..plain }
    }

    /// A photograph, whose bytes stand in the page in base 64.
    fn photo(&mut self, image: Element<'_, '_>, plain: Tagged) -> Option<Tagged> {
        let (kind, data) = image.attribute("src")?.strip_prefix("data:image/")?.split_once(";base64,")?;
        let name = format!("picture-{}.{}", self.files.len(), if kind == "png" { "png" } else { "jpg" });
        self.files.push((name.clone(), base64::engine::general_purpose::STANDARD.decode(data).ok()?));
        let alt = image.attribute("alt").map(str::to_string);
        Some(Tagged { tag: "image".into(), file: Some(name), alt, ..plain })
    }
}

/// Gives each place its name once, which is where it is named first, and those of rows to cells: only what is set can be led to.
fn place(node: &mut Node, above: Vec<String>, places: &mut BTreeSet<String>) {
    let Node::Element(own) = node else { return };
    let mut ids = above;
    ids.append(&mut own.ids);
    let hands_on = matches!(own.tag.as_str(), "thead" | "tbody" | "tr") && !own.inside.is_empty();
    if !hands_on {
        ids.retain(|id| places.insert(id.clone()));
        own.ids = std::mem::take(&mut ids);
    }
    for inner in &mut own.inside {
        place(inner, std::mem::take(&mut ids), places);
    }
}

/// Takes away what leads nowhere.
fn lead(node: &mut Node, places: &BTreeSet<String>) {
    let Node::Element(own) = node else { return };
    own.href = own.href.take().filter(|href| match href.strip_prefix('#') {
        Some(place) => places.contains(place),
        None => ["https://", "http://", "mailto:"].iter().any(|start| href.starts_with(start)),
    });
    own.inside.iter_mut().for_each(|inner| lead(inner, places));
}

/// All text of an element, as it is.
fn text_of(element: Element<'_, '_>) -> String {
    element.descendants().filter(|node| node.is_text()).filter_map(|node| node.text()).collect()
}

/// White space as one space each, as a page shows it; what does not break stays.
fn single_spaces(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = false;
    for character in text.chars() {
        let space = matches!(character, ' ' | '\n' | '\t' | '\r');
        if !(space && before) {
            out.push(if space { ' ' } else { character });
        }
        before = space;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str = "<html><body><svg class=\"defs\" width=\"0\"><symbol id=\"m-closed\" viewBox=\"0 0 16 16\"><path d=\"M0 0\"/></symbol></svg>\
        <main id=\"top\"><section class=\"part wide\" id=\"a\">\n<p>One &lt;two&gt;<br>three &ndash; <a href=\"#b\">there</a> <a href=\"#c\">nowhere</a></p>\
        <svg class=\"mark\" aria-label=\"closed\"><use href=\"#m-closed\"/></svg><p id=\"b\">x</p><p id=\"b\">y</p></section></main></body></html>";

    #[test]
    fn a_page_comes_apart_with_its_links() {
        let tree = tree(PAGE).expect("it is well formed");
        let part = tree.parts[0].element().expect("a section");
        let inside: Vec<&Tagged> = part.inside.iter().filter_map(Node::element).collect();
        assert!(part.is("part") && part.is("wide"));
        assert_eq!(inside[0].text(), "One <two>three – there nowhere");
        let links: Vec<&Tagged> =
            inside[0].inside.iter().filter_map(Node::element).filter(|own| own.tag == "a").collect();
        assert_eq!(links[0].href.as_deref(), Some("#b"));
        assert_eq!(links[1].href, None, "a link that leads nowhere is none");
        assert_eq!(inside[1].file.as_deref(), Some("m-closed.svg"));
        assert_eq!(inside[2].ids, ["b"]);
        assert!(inside[3].ids.is_empty(), "a place is named once");
        assert_eq!(tree.files[0].0, "m-closed.svg");
    }

    #[test]
    fn what_is_nested_too_deep_is_text() {
        let deep = format!("<main>{}x{}</main>", "<em>".repeat(200), "</em>".repeat(200));
        let tree = tree(&deep).expect("it is well formed");
        let mut depth = 0;
        let mut node = &tree.parts[0];
        while let Node::Element(own) = node {
            (depth, node) = (depth + 1, &own.inside[0]);
        }
        assert!(matches!(node, Node::Text(text) if text == "x"));
        assert_eq!(depth, DEEPEST);
    }
}
