//! Turns the view into the page: templates, the style and its hash, and the last look at every character.

use std::fmt::Write;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{Environment, UndefinedBehavior, context};
use sha2::{Digest, Sha256};

use super::Whole;
use crate::report::ReportError;
use crate::report::style::acting;

/// The whole packet. Only what names end in `.html` is escaped.
const PACKET: (&str, &str) = ("packet.html", include_str!("../../../templates/packet.html"));

/// Its parts by their names; a folder of pages is put together from the same.
pub(in crate::report) const PARTS: &[(&str, &str)] = &[
    MACROS,
    ("packet/marks.html", include_str!("../../../templates/packet/marks.html")),
    ("packet/cover.html", include_str!("../../../templates/packet/cover.html")),
    ("packet/verdict.html", include_str!("../../../templates/packet/verdict.html")),
    ("packet/stands.html", include_str!("../../../templates/packet/stands.html")),
    ("packet/cautions.html", include_str!("../../../templates/packet/cautions.html")),
    ("packet/open.html", include_str!("../../../templates/packet/open.html")),
    ("packet/open_row.html", include_str!("../../../templates/packet/open_row.html")),
    ("packet/faults.html", include_str!("../../../templates/packet/faults.html")),
    ("packet/beside.html", include_str!("../../../templates/packet/beside.html")),
    ("packet/matrix.html", include_str!("../../../templates/packet/matrix.html")),
    ("packet/matrix_tables.html", include_str!("../../../templates/packet/matrix_tables.html")),
    ("packet/requirements.html", include_str!("../../../templates/packet/requirements.html")),
    ("packet/requirement.html", include_str!("../../../templates/packet/requirement.html")),
    ("packet/records.html", include_str!("../../../templates/packet/records.html")),
    ("packet/record.html", include_str!("../../../templates/packet/record.html")),
    ("packet/registers.html", include_str!("../../../templates/packet/registers.html")),
    ("packet/entry.html", include_str!("../../../templates/packet/entry.html")),
    ("packet/hardware.html", include_str!("../../../templates/packet/hardware.html")),
    ("packet/item.html", include_str!("../../../templates/packet/item.html")),
    ("packet/slot.html", include_str!("../../../templates/packet/slot.html")),
    ("packet/life.html", include_str!("../../../templates/packet/life.html")),
    CHANGED,
    ("packet/changes.html", include_str!("../../../templates/packet/changes.html")),
    crate::report::worked::WORKING,
    ("packet/manifest.html", include_str!("../../../templates/packet/manifest.html")),
    ("packet/files.html", include_str!("../../../templates/packet/files.html")),
];

/// What changed, for the packet and for the page of `changes`.
pub(in crate::report) const CHANGED: (&str, &str) =
    ("packet/changed.html", include_str!("../../../templates/packet/changed.html"));

/// The pieces that templates share.
pub(in crate::report) const MACROS: (&str, &str) =
    ("packet/macros.html", include_str!("../../../templates/packet/macros.html"));

pub(in crate::report) const STYLE: &str = include_str!("../../../templates/packet/packet.css");

/// What every packet has near its start.
const GENERATOR: &str = "<meta name=\"generator\" content=\"slipmark packet";

/// Whether a file that starts with these bytes is a packet of ours, which may be written over.
pub fn is_packet(start: &[u8]) -> bool {
    String::from_utf8_lossy(&start[..start.len().min(2000)]).contains(GENERATOR)
}

/// Renders the packet; `running` stands at the foot of every printed page.
///
/// # Errors
/// If a template is at fault.
pub(super) fn render(whole: &Whole<'_>, running: &str) -> Result<String, ReportError> {
    fill(&[&[PACKET], PARTS].concat(), STYLE, running, minijinja::Value::from(Serde(whole)))
}

/// Fills the first of some templates with a view, and looks at every character once more; `running` stands at the foot of
/// every printed page. The page runs nothing and loads nothing.
///
/// # Errors
/// If a template is at fault.
pub(in crate::report) fn fill(
    templates: &[(&'static str, &'static str)],
    style: &str,
    running: &str,
    view: minijinja::Value,
) -> Result<String, ReportError> {
    let mut environment = environment()?;
    for (name, text) in templates {
        environment.add_template(name, text).map_err(|error| wrong(&error))?;
    }
    let first = templates.first().map_or("", |(name, _)| name);
    // The words for the foot of the page are spelt out so that they cannot end their string.
    let style = style.replace("\"RUNNING\"", &css_string(running));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{}'; img-src data:; base-uri 'none'; form-action 'none'",
        base64(&Sha256::digest(&style))
    );
    let style = minijinja::Value::from_safe_string(style);
    let policy = minijinja::Value::from_safe_string(policy);
    let template = environment.get_template(first).map_err(|error| wrong(&error))?;
    let page = template.render(context! { style, policy, ..view }).map_err(|error| wrong(&error))?;
    Ok(breakable(&visible(&page)))
}

/// An engine that escapes, and takes an unknown name for a mistake.
pub(in crate::report) fn environment() -> Result<Environment<'static>, ReportError> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    let syntax = SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build();
    environment.set_syntax(syntax.map_err(|error| wrong(&error))?);
    environment.add_filter("slug", |word: &str| word.replace(' ', "-"));
    environment.add_filter("digits", crate::report::pictures::short);
    Ok(environment)
}

pub(in crate::report) fn wrong(error: &minijinja::Error) -> ReportError {
    let place = error.name().map(|name| format!("{name}:{}: ", error.line().unwrap_or(0))).unwrap_or_default();
    ReportError { message: format!("{place}{error}") }
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
