//! The few lines of a file that tell what it is, found without reading all of it as TOML.
//!
//! Most files of the past are looked at for one line only. Where that line is not written as people and the program write it, the
//! file is read in full.

use std::sync::Arc;

use crate::model::kinds::{Entity, RecordStatus};

use super::blobs::Parsed;

/// What a look at a file tells.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Glance {
    /// The id of the thing in it.
    pub(super) id: Option<Arc<str>>,
    /// The seal, if it is a record that somebody stood by: signed, or withdrawn after that.
    pub(super) seal: Option<Arc<str>>,
    /// Whether it may name things that it decides on or stands in for: a decision, or a requirement that replaces another. At a glance
    /// this holds of a few that do not.
    pub(super) names: bool,
}

impl Glance {
    /// What a file tells at a glance; none if it must be read in full.
    pub(super) fn at(text: &str) -> Option<Glance> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let Some(rest) = text.strip_prefix("+++\n") else {
            return (!text.starts_with("+++")).then(Glance::default);
        };
        let (front, _) = rest.split_once("\n+++\n").or_else(|| rest.split_once("\n+++"))?;
        // What is inside a text over several lines is no key, a carriage return or an escape is for the reader proper.
        if front.contains("\"\"\"") || front.contains("'''") || front.contains(['\r', '\\']) {
            return None;
        }
        let top = front.lines().take_while(|line| !line.trim_start().starts_with('['));
        let (mut id, mut seal, mut status) = (None, None, None);
        for line in top {
            let Some((key, value)) = line.split_once('=') else { continue };
            let slot = match key.trim().trim_matches(['"', '\'']) {
                "id" => &mut id,
                "seal" => &mut seal,
                "status" => &mut status,
                _ => continue,
            };
            if slot.replace(plain(value)?).is_some() {
                return None;
            }
        }
        let stood_by = matches!(status, Some("signed" | "withdrawn"));
        let names = front.contains("decision") || front.contains("replaces");
        Some(Glance { id: Some(id?.into()), seal: seal.filter(|_| stood_by).map(Into::into), names })
    }

    /// The same of a file that was read in full.
    pub(super) fn of(file: &Parsed) -> Glance {
        let Some(entity) = &file.entity else { return Glance::default() };
        let seal = match entity {
            Entity::Record(it) if it.status.value != RecordStatus::Draft => it.seal.as_ref(),
            _ => None,
        };
        let seal = seal.map(|seal| seal.value.as_str().into());
        Glance { id: Some(entity.head().id.value.as_str().into()), seal, names: names_others(entity) }
    }
}

/// Whether a thing is a decision, or a requirement that stands in for others.
pub(super) fn names_others(entity: &Entity) -> bool {
    match entity {
        Entity::Decision(_) => true,
        Entity::Requirement(it) => !it.replaces.is_empty(),
        _ => false,
    }
}

/// What stands between two plain double quotes, if that is all that stands there.
fn plain(value: &str) -> Option<&str> {
    let inner = value.trim().strip_prefix('"')?;
    let (text, rest) = inner.split_once('"')?;
    let rest = rest.trim_start();
    (rest.is_empty() || rest.starts_with('#')).then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn glance(front: &str) -> Option<Glance> {
        Glance::at(&format!("+++\n{front}+++\nid = \"X\"\n"))
    }

    #[test]
    fn plain_lines_are_enough_and_anything_else_is_read_in_full() {
        let one = |id: &str, seal: Option<&str>| {
            Some(Glance { id: Some(id.into()), seal: seal.map(Into::into), names: false })
        };
        assert_eq!(
            glance("kind = \"test\"\nid = \"T-1\"  # the first\nstatus = \"signed\"\nseal=\"s1-a\"\n"),
            one("T-1", Some("s1-a"))
        );
        assert_eq!(glance("id = \"T-1\"\nseal = \"s1-a\"\n"), one("T-1", None));
        assert_eq!(glance("id = \"T-1\"\n[verifies.X]\nid = \"Y\"\n"), one("T-1", None));
        let names = |front: &str| glance(front).is_some_and(|glance| glance.names);
        assert!(names("id = \"D-1\"\nkind = \"decision\"\n") && names("id = \"R-2\"\nreplaces = [\n\"R-1\"]\n"));
        assert!(names("id = \"R-2\"\ntags = [\n[\"a\"]]\nreplaces = \"R-1\"\n"), "below what looks like a table");
        assert_eq!(Glance::at("# Notes\nid = \"X\"\n"), Some(Glance::default()));
        let in_full = [
            "id = 'T-1'\n",
            "id = \"T-1\"\nid = \"T-2\"\n",
            "id = \"T\\u002d1\"\n",
            "note = \"\"\"\nid = \"T-2\"\n\"\"\"\nid = \"T-1\"\n",
            "title = \"x\"\n",
        ];
        for front in in_full {
            assert_eq!(glance(front), None, "{front}");
        }
        assert_eq!(Glance::at("+++\r\nid = \"T-1\"\r\n+++\r\n"), None);
    }
}
