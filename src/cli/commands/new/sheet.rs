//! A file being written, line by line, with what is still to be filled in as comments.

use crate::edit::{Toml, key};

/// Front matter and body in the making.
#[derive(Default)]
pub(super) struct Sheet {
    lines: Vec<(String, String)>,
}

/// Where comments start, unless the line is longer.
const COMMENT_AT: usize = 30;

impl Sheet {
    /// `name = value`.
    pub fn set(&mut self, name: &str, value: &Toml) {
        self.noted(name, value, "");
    }

    /// `name = value   # note`.
    pub fn noted(&mut self, name: &str, value: &Toml, note: &str) {
        self.lines.push((format!("{name} = {}", value.written()), note.to_string()));
    }

    /// A line to fill in: it stands as a comment, so that the file reads without it.
    pub fn open(&mut self, line: &str, note: &str) {
        self.lines.push((format!("# {line}"), note.to_string()));
    }

    /// A line as it is.
    pub fn line(&mut self, line: &str, note: &str) {
        self.lines.push((line.to_string(), note.to_string()));
    }

    /// An empty line.
    pub fn gap(&mut self) {
        self.line("", "");
    }

    /// The whole file.
    pub fn finish(self, body: &str) -> String {
        let mut text = "+++\n".to_string();
        for (line, note) in self.lines {
            text.push_str(&line);
            if !note.is_empty() {
                // Whatever a title or a limit holds, a comment ends with its line.
                let note: String = note.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
                text.push_str(&" ".repeat(COMMENT_AT.saturating_sub(line.chars().count()).max(2)));
                text.push_str(&format!("# {note}"));
            }
            text.push('\n');
        }
        format!("{text}+++\n{body}")
    }
}

/// Texts as a bare string if there is one, else as a list.
pub(super) fn one_or_list(texts: &[String]) -> Toml {
    match texts {
        [one] => Toml::text(one),
        many => Toml::Texts(many.to_vec()),
    }
}

/// A dotted key of two parts.
pub(super) fn dotted(table: &str, name: &str) -> String {
    format!("{table}.{}", key(name))
}
