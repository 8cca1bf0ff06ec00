//! Turns the view into the page: templates, the style and its hash, and the last look at every character.

use std::fmt::Write;

use minijinja::value::Serde;
use minijinja::{Environment, context};
use sha2::{Digest, Sha256};

use super::{Whole, sentence};
use crate::report::ReportError;
use crate::report::cautions::DEFER;
use crate::report::finished::{self, Finished, Must, of_answer};
use crate::report::style::acting;
use crate::templates::Templates;

/// The template of the whole packet.
const PACKET: &str = "packet.html";

/// The style of the packet and of pages.
pub(in crate::report) const STYLE: &str = "packet/packet.css";

/// What every packet has near its start.
const GENERATOR: &str = "<meta name=\"generator\" content=\"slipmark packet";

/// Whether a file that starts with these bytes is a packet of ours, which may be written over.
pub fn is_packet(start: &[u8]) -> bool {
    String::from_utf8_lossy(&start[..start.len().min(2000)]).contains(GENERATOR)
}

/// Renders the packet; `running` stands at the foot of every printed page.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub(super) fn render(whole: &Whole<'_>, running: &str, templates: &Templates) -> Result<String, ReportError> {
    let words = format!("{} {DEFER}", sentence(whole.before));
    let own = Document { templates, name: PACKET, style: STYLE, running, words: &words };
    fill(own, minijinja::Value::from(Serde(whole)), || of_answer(whole.before))
}

/// A page that is one file.
pub(in crate::report) struct Document<'a> {
    /// What it may be set with.
    pub(in crate::report) templates: &'a Templates,
    /// The template that it starts from.
    pub(in crate::report) name: &'static str,
    /// Its style.
    pub(in crate::report) style: &'static str,
    /// What stands at the foot of every printed page.
    pub(in crate::report) running: &'a str,
    /// What must be read before all else, whoever wrote the templates.
    pub(in crate::report) words: &'a str,
}

/// Fills the template of a document with a view, and looks at every character once more. The page runs nothing and loads
/// nothing. Set with templates of the project, it must say what `must` says.
///
/// # Errors
/// If a template is at fault, or the page does not say what it must.
pub(in crate::report) fn fill(
    own: Document<'_>,
    view: minijinja::Value,
    must: impl FnOnce() -> Vec<Must>,
) -> Result<String, ReportError> {
    let Document { templates, name, style, running, words } = own;
    let environment = environment(templates, &[name])?;
    // The words for the foot of the page are spelt out so that they cannot end their string.
    let sheet = templates.style(style)?.replace("\"RUNNING\"", &css_string(running));
    let roots = [name, style];
    let sheet = format!("{}{sheet}", finished::guard(templates, &roots));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; img-src data:; base-uri 'none'; form-action 'none'",
        base64(&Sha256::digest(&sheet))
    );
    let view = context! {
        style => minijinja::Value::from_safe_string(sheet),
        policy => minijinja::Value::from_safe_string(policy.clone()),
        ..view
    };
    let template = environment.get_template(name).map_err(|error| templates.located(&error))?;
    let page = template.render(view).map_err(|error| templates.located(&error))?;
    let page = Finished { templates, roots: &roots, policy: &policy, words }.look(page, must)?;
    Ok(breakable(&visible(&page)))
}

/// An engine that knows some templates, with all that they include, and what these may do with values.
///
/// # Errors
/// If one of the project's own cannot be used.
pub(in crate::report) fn environment(
    templates: &Templates,
    roots: &[&'static str],
) -> Result<Environment<'static>, ReportError> {
    let mut environment = templates.engine(roots)?;
    environment.add_filter("slug", |word: &str| word.replace(' ', "-"));
    environment.add_filter("digits", crate::report::pictures::short);
    environment.add_filter("encoded", crate::text::encoded);
    Ok(environment)
}

/// A text as a string of a style.
pub(in crate::report) fn css_string(text: &str) -> String {
    let mut out = String::from("\"");
    for character in text.chars().take(160) {
        // A space after an escape would be taken for its end, so spaces are spelt out too.
        if character.is_ascii_alphanumeric() {
            out.push(character);
        } else {
            let _ = write!(out, "\\{:06x}", u32::from(character));
        }
    }
    out.push('"');
    out
}

/// The longest word that is never broken, in characters; longer ones would push tables over the edge of the paper.
pub(in crate::report) const LONGEST: usize = 22;
/// A path or a name longer than this may be broken after each `/` and `_`; a unit such as `mL/min` may not.
const PATH: usize = 12;

/// Lets words longer than [`LONGEST`] be broken, in text only: tags, the title and the style stay as they are.
pub(in crate::report) fn breakable(page: &str) -> String {
    let (head, body) = page.split_at(page.find("<body>").unwrap_or(0));
    let mut out = String::with_capacity(page.len() + page.len() / 64);
    out.push_str(head);
    let (mut word, mut unbroken) = (0, 0);
    let mut rest = body;
    while let Some(first) = rest.chars().next() {
        // The words of a picture are cut to their room already, and a tag of HTML inside would end them.
        if rest.starts_with("<svg ") {
            let end = rest.find("</svg>").map_or(rest.len(), |end| end + "</svg>".len());
            out.push_str(&rest[..end]);
            rest = &rest[end..];
            continue;
        }
        // A tag and an entity are each one step; every `>` in an attribute is escaped.
        let step = match first {
            '<' => rest.find('>').map_or(rest.len(), |end| end + 1),
            '&' => rest.find(';').map_or(1, |end| end + 1),
            _ => first.len_utf8(),
        };
        let between = first.is_whitespace() || first == '<';
        (word, unbroken) = if between { (0, 0) } else { (word + 1, unbroken + 1) };
        if unbroken > LONGEST {
            out.push_str("<wbr>");
            unbroken = 1;
        }
        out.push_str(&rest[..step]);
        match &rest[..step] {
            "-" => unbroken = 0,
            "_" | "/" | "&#x2f;" if word > PATH => {
                out.push_str("<wbr>");
                unbroken = 0;
            }
            _ => {}
        }
        rest = &rest[step..];
    }
    out
}

/// Makes visible what would hide text or turn its direction: a reader must see what the file says.
pub(in crate::report) fn visible(page: &str) -> String {
    let mut out = String::with_capacity(page.len());
    for character in page.chars() {
        match (character, acting(character)) {
            ('\r', _) => {}
            ('\n' | '\t', _) | (_, None) => out.push(character),
            (_, Some(name)) => out.push_str(&format!("&lt;{name}&gt;")),
        }
    }
    out
}

pub(in crate::report) fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::new();
    for chunk in bytes.chunks(3) {
        let group = chunk.iter().fold(0u32, |sum, byte| (sum << 8) | u32::from(*byte)) << (8 * (3 - chunk.len()));
        for digit in 0..4 {
            let value = (group >> (18 - 6 * digit)) & 63;
            out.push(if digit <= chunk.len() { char::from(DIGITS[value as usize]) } else { '=' });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_as_in_rfc_4648_section_10() {
        let cases = [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")];
        for (bytes, expected) in cases {
            assert_eq!(base64(bytes.as_bytes()), expected);
        }
    }

    #[test]
    fn words_at_the_foot_cannot_end_their_string() {
        assert_eq!(css_string("a \"}</style>\\"), "\"a\\000020\\000022\\00007d\\00003c\\00002fstyle\\00003e\\00005c\"");
    }

    #[test]
    fn long_words_can_be_broken_and_tags_cannot() {
        let long = "x".repeat(40);
        let rest = "</p>&amp;yyyyyyyyyyyyyyyyyyyyy mL/min a_b requirements/";
        let page = format!("<title>{long}</title><body><p class=\"{long}\">{long}{rest}a temperature_of_the");
        let broken = format!("{}<wbr>{}", &long[..22], &long[..18]);
        let expected =
            format!("<title>{long}</title><body><p class=\"{long}\">{broken}{rest}<wbr>a temperature_of_<wbr>the");
        assert_eq!(breakable(&page), expected);
    }

    #[test]
    fn the_words_of_a_picture_are_left_alone() {
        let picture = format!("<svg viewBox=\"0 0 1 1\"><text>{}</text></svg>", "x".repeat(40));
        let page = format!("<body>{picture}{}", "y".repeat(30));
        assert_eq!(breakable(&page), format!("<body>{picture}{}<wbr>{}", "y".repeat(22), "y".repeat(8)));
    }

    #[test]
    fn hidden_characters_are_shown() {
        assert_eq!(visible("a\u{202e}b\u{1}\r\n"), "a&lt;U+202E&gt;b&lt;U+0001&gt;\n");
    }
}
