//! The search. In a folder it is a page, its script, and what is searched, as a script that only assigns data: a page that is read from a
//! disk may load a script that lies beside it, but may not read a file. A live page is asked, and finds in the same way.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::Set;
use super::address::{SCRIPT as SCRIPT_FILE, SORTS, Thing, WORDS};
use super::engine::{Framed, Place, framed};
use super::prepared::{Prepared, standing};
use crate::analysis::Analysis;
use crate::model::Ref;
use crate::report::ReportError;
use crate::report::packet::Scheme;
use crate::report::packet::links::Linker;
use crate::report::style::acting;

/// The script, which only finds and lists: whatever it shows it sets as text.
pub(super) const SCRIPT: &str = include_str!("../../../templates/pages/search.js");

/// How many letters of a text are searched.
const LETTERS: usize = 600;

/// How many things that were found are listed.
const MOST: usize = 100;

/// A thing as it is searched.
#[derive(Debug)]
pub(super) struct Entry {
    address: String,
    name: String,
    sort: &'static str,
    title: String,
    standing: String,
    also: String,
    /// All of that but the address, as [`plain`] has it.
    plain: String,
}

/// Something that was found.
#[derive(Debug, Serialize)]
struct Hit<'e> {
    href: String,
    name: &'e str,
    title: &'e str,
    sort: &'e str,
    standing: &'e str,
}

impl Set<'_> {
    /// The page with the form, and on live pages what has these words.
    pub(super) fn search(&self, address: &str, asked: Option<&str>) -> Result<(String, String), ReportError> {
        let linker = self.prepared.linker(address);
        let title = "Search";
        let live = self.prepared.homes.scheme == Scheme::Live;
        let (hits, count) = asked.map_or((Vec::new(), 0), |asked| self.hits(&linker, asked));
        let view = context! {
            title,
            all => linker.page("all"),
            here => linker.page("search"),
            live,
            q => asked.unwrap_or(""),
            hits => Serde(&hits),
            count,
            total => if live { self.entries().len() } else { 0 },
        };
        let scripts: &[&str] = if live { &[] } else { &[WORDS, SCRIPT_FILE] };
        let own = Framed { title, place: Place::Search, template: "pages/search.html", view, scripts };
        Ok((title.to_string(), framed(&self.prepared, &linker, own)?))
    }

    /// The live page with what has all of these words.
    ///
    /// # Errors
    /// If a template is at fault.
    pub fn found(&self, asked: &str) -> Result<String, ReportError> {
        self.search("search", Some(asked)).map(|(_, page)| page)
    }

    /// The nearest of the things that have all words, and how many have.
    fn hits(&self, linker: &Linker, asked: &str) -> (Vec<Hit<'_>>, usize) {
        let asked = plain(asked);
        let terms: Vec<&str> = asked.split_whitespace().collect();
        if terms.is_empty() {
            return (Vec::new(), 0);
        }
        let all = self.entries();
        let mut near: Vec<(usize, usize)> =
            (0..all.len()).filter_map(|at| Some((distance(&all[at], &terms)?, at))).collect();
        near.sort_unstable();
        let hit = |(_, at): &(usize, usize)| {
            let own = &all[*at];
            Hit {
                href: linker.way(&own.address),
                name: &own.name,
                title: &own.title,
                sort: own.sort,
                standing: &own.standing,
            }
        };
        (near.iter().take(MOST).map(hit).collect(), near.len())
    }

    fn entries(&self) -> &[Entry] {
        self.prepared.entries.get_or_init(|| entries(self.from.analysis, &self.prepared))
    }

    /// What is searched: for each thing its address, id, sort, title, where it stands, and all else that finds it.
    pub(super) fn words(&self) -> String {
        let mut out = String::from("\"use strict\";\nvar slipmarkWords = [\n");
        for own in self.entries() {
            let fields = [own.address.as_str(), &own.name, own.sort, &own.title, &own.standing, &own.also];
            let fields: Vec<String> = fields.iter().map(|field| string(field)).collect();
            out.push_str(&format!("[{}],\n", fields.join(",")));
        }
        out.push_str("];\n");
        out
    }
}

/// Every thing as it is searched, in the order of the lists.
fn entries(analysis: &Analysis, prepared: &Prepared) -> Vec<Entry> {
    let entry = |thing: &Thing| {
        let name = thing.name(analysis);
        let address = prepared.homes.places.names.get(&name)?.clone();
        let (state, note) = standing(analysis, prepared, thing);
        let title = match thing {
            Thing::Instrument(id) => analysis.model.instruments.get(id).and_then(|own| own.what.clone()),
            _ => prepared.title(analysis, &name),
        };
        let (title, sort) = (title.unwrap_or_default(), SORTS[thing.sort()].key);
        let (standing, also) = ([state.unwrap_or_default(), &note].concat(), also(analysis, thing));
        let plain = plain(&[&name, sort, &title, &standing, &also].join(" "));
        Some(Entry { address, name, sort, title, standing, also, plain })
    };
    prepared.homes.things.iter().filter_map(entry).collect()
}

/// What else a thing is found by: its statement, its owner, and all that it names.
fn also(analysis: &Analysis, thing: &Thing) -> String {
    let model = &analysis.model;
    let mut words: Vec<String> = super::named::refers(analysis, thing);
    match thing {
        Thing::Of(Ref::Requirement(at)) => {
            let it = &model.requirements[*at];
            words.extend(it.owner.clone());
            words.push(it.plain.chars().take(LETTERS).collect());
        }
        Thing::Of(Ref::Record(at)) => words.extend(model.records[*at].performed_by.iter().map(|who| who.value.clone())),
        Thing::Of(Ref::Item(at)) => {
            let it = &model.items[*at];
            words.extend(it.tags.iter().chain(&it.hazards).map(|word| word.value.clone()));
        }
        _ => {}
    }
    words.join(" ")
}

/// A text without what tells letters apart that a reader takes for the same: case, accents, ligatures. As the script has it.
fn plain(text: &str) -> String {
    let lower = text.to_lowercase();
    if lower.is_ascii() { lower } else { lower.nfkd().filter(|own| !is_combining_mark(*own)).collect() }
}

/// How far a thing is from words: the id itself, its start, its middle, the title, anything else. None if it lacks one. As the
/// script has it.
fn distance(own: &Entry, terms: &[&str]) -> Option<usize> {
    if !terms.iter().all(|term| own.plain.contains(term)) {
        return None;
    }
    let (id, title) = (plain(&own.name), plain(&own.title));
    let one = |term: &&str| match id.find(term) {
        Some(0) if id == *term => 0,
        Some(0) => 1,
        Some(_) => 2,
        None if title.contains(term) => 3,
        None => 5,
    };
    Some(terms.iter().map(one).sum())
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
