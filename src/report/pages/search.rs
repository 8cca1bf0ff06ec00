//! The search: a page, its script, and what is searched, as a script that only assigns data. A page that is read from a
//! disk may load a script that lies beside it, but may not read a file.

use minijinja::context;

use super::Set;
use super::address::{SCRIPT as SCRIPT_FILE, SORTS, Thing, WORDS};
use super::engine::{Framed, Place, framed};
use super::prepared::standing;
use crate::model::Ref;
use crate::report::ReportError;
use crate::report::style::acting;

/// The script, which only finds and lists: whatever it shows it sets as text.
pub(super) const SCRIPT: &str = include_str!("../../../templates/pages/search.js");

/// How many letters of a text are searched.
const LETTERS: usize = 600;

impl Set<'_> {
    /// The page with the form.
    pub(super) fn search(&self, address: &str) -> Result<(String, String), ReportError> {
        let linker = self.prepared.linker(address);
        let title = "Search";
        let view = context! { title, all => linker.page("all"), here => linker.page("search") };
        let scripts = [WORDS, SCRIPT_FILE];
        let own = Framed { title, place: Place::Search, template: "pages/search.html", view, scripts: &scripts };
        Ok((title.to_string(), framed(&self.prepared, &linker, own)?))
    }

    /// What is searched: for each thing its address, id, sort, title, where it stands, and all else that finds it.
    pub(super) fn words(&self) -> String {
        let analysis = self.from.analysis;
        let mut out = String::from("\"use strict\";\nvar slipmarkWords = [\n");
        for thing in &self.prepared.things {
            let name = thing.name(analysis);
            let Some(address) = self.prepared.places.names.get(&name) else { continue };
            let (state, note) = standing(analysis, &self.prepared, thing);
            let title = match thing {
                Thing::Instrument(id) => analysis.model.instruments.get(id).and_then(|own| own.what.clone()),
                _ => self.prepared.title(analysis, &name),
            };
            let standing = [state.unwrap_or_default(), &note].concat();
            let fields = [
                address.as_str(),
                &name,
                SORTS[thing.sort()].key,
                &title.unwrap_or_default(),
                &standing,
                &self.also(thing),
            ];
            let fields: Vec<String> = fields.iter().map(|field| string(field)).collect();
            out.push_str(&format!("[{}],\n", fields.join(",")));
        }
        out.push_str("];\n");
        out
    }

    /// What else a thing is found by: its statement, its owner, and all that it names.
    fn also(&self, thing: &Thing) -> String {
        let model = &self.from.analysis.model;
        let mut words: Vec<String> = super::named::refers(self.from.analysis, thing);
        match thing {
            Thing::Of(Ref::Requirement(at)) => {
                let it = &model.requirements[*at];
                words.extend(it.owner.clone());
                words.push(it.plain.chars().take(LETTERS).collect());
            }
            Thing::Of(Ref::Record(at)) => {
                words.extend(model.records[*at].performed_by.iter().map(|who| who.value.clone()))
            }
            Thing::Of(Ref::Item(at)) => {
                let it = &model.items[*at];
                words.extend(it.tags.iter().chain(&it.hazards).map(|word| word.value.clone()));
            }
            _ => {}
        }
        words.join(" ")
    }
}

/// A text as a string of a script. What acts on a reader or ends a line is spelt out.
fn string(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for character in text.chars() {
        match character {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push(' '),
            // No tag can begin in it, wherever it is put.
            '<' => out.push_str("\\u003c"),
            other if acting(other).is_some() => {
                for unit in other.encode_utf16(&mut [0; 2]) {
                    out.push_str(&format!("\\u{unit:04x}"));
                }
            }
            other => out.push(other),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_leaves_its_string_or_acts_on_a_reader() {
        assert_eq!(string("a\"];alert(1)//\\\n</script>"), "\"a\\\"];alert(1)//\\\\ \\u003c/script>\"");
        assert_eq!(string("\u{202e}\u{1b}\u{2028}\u{e0001}µ"), "\"\\u202e\\u001b\\u2028\\udb40\\udc01µ\"");
    }
}
