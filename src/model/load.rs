//! From texts to entities, each file on its own and all at once.

use std::cell::RefCell;
use std::ops::Range;
use std::sync::Arc;

use rayon::prelude::*;

use crate::diag::{Finding, Findings, Place};
use crate::parse::{Body, Document, Parsed, Reader, document, nearest};
use crate::text::{FileId, SourceMap, Span, Spanned};

use super::kinds::{Entity, Head, KINDS, Raw};
use super::seal;
use crate::id::Id;

/// The entity in one file, if it holds one, and what is wrong with the file.
pub type Loaded = (Option<Entity>, Findings);

/// Reads every Markdown file among `files`, in their order.
pub fn load(sources: &SourceMap, files: &[FileId]) -> Vec<Loaded> {
    files.par_iter().with_min_len(32).map(|file| load_one(*file, &sources.file(*file).text)).collect()
}

/// What files were read as, for whoever reads a project again and again: a text that stands where it stood says the same.
#[derive(Debug, Default)]
pub struct Read(Vec<Option<(Arc<str>, Loaded)>>);

/// Reads every Markdown file among `files`, in their order; those that are as they were the last time are not read again.
pub fn load_again(sources: &SourceMap, files: &[FileId], read: &mut Read) -> Vec<Loaded> {
    let one = |file: &FileId| {
        let text = &sources.file(*file).text;
        // Places in it are those in a file of this number, so that the number has to be the same too.
        let same = |then: &Arc<str>| Arc::ptr_eq(then, text) || then == text;
        let known = read.0.get(file.0 as usize).and_then(Option::as_ref).filter(|(then, _)| same(then));
        known.map_or_else(|| load_one(*file, text), |(_, loaded)| loaded.clone())
    };
    let all: Vec<Loaded> = files.par_iter().with_min_len(32).map(one).collect();
    let mut anew = vec![None; sources.files().count()];
    for (file, loaded) in files.iter().zip(&all) {
        if let Some(place) = anew.get_mut(file.0 as usize) {
            *place = Some((sources.file(*file).text.clone(), loaded.clone()));
        }
    }
    read.0 = anew;
    all
}

/// Reads one Markdown file.
pub fn load_one(file: FileId, text: &str) -> Loaded {
    let mut findings = Findings::new();
    let entity = match document(file, text, &mut findings) {
        Parsed::Document(document) => entity(&document, text, &mut findings),
        Parsed::Other => {
            findings.extend(fenced_otherwise(text).map(|kind| not_toml(Span::new(file, kind))));
            None
        }
        Parsed::Broken => None,
    };
    (entity, findings)
}

/// The line with the kind, in a front matter as other programs have it: YAML between `---`, with one of our kinds and an id.
fn fenced_otherwise(text: &str) -> Option<Range<usize>> {
    let text_at = if text.starts_with('\u{feff}') { 3 } else { 0 };
    let (mut at, mut kind, mut has_id) = (text_at, None, false);
    for (number, line) in text[text_at..].split_inclusive('\n').enumerate() {
        let (start, trimmed) = (at, line.trim_end());
        at += line.len();
        match (number, trimmed) {
            (0, "---") => {}
            (0, _) => return None,
            (_, "---" | "...") => return kind.filter(|_| has_id),
            _ => {}
        }
        has_id |= trimmed.starts_with("id:");
        let word = trimmed.strip_prefix("kind:").map(|word| word.trim().trim_matches(['"', '\'']));
        if word.is_some_and(is_kind) {
            kind = Some(start..start + trimmed.len());
        }
    }
    None
}

fn not_toml(kind: Span) -> Finding {
    let text = "this file looks like one of the project's, but its front matter is YAML between `---`, so nothing in it was read";
    Finding::at("front-matter-not-at-start", kind, text)
        .help("write it as TOML between two lines of `+++`: kind = \"…\"; slipmark new shows how")
}

/// Whether a word names a kind of thing.
pub fn is_kind(word: &str) -> bool {
    KINDS.iter().any(|kind| kind.word == word)
}

fn entity(document: &Document<'_>, text: &str, findings: &mut Findings) -> Option<Entity> {
    let collected = RefCell::new(Findings::new());
    let reader = Reader::new(&document.table, document.fence, document.base, "file", &collected);
    let word = reader.required_text("kind");
    let kind = word.as_ref().and_then(|word| KINDS.iter().find(|kind| kind.word == word.value));
    let head = head(&reader, document, text);
    if let (Some(word), None) = (&word, kind) {
        reader.report(unknown_kind(&word.value, word.span));
    }
    let (Some(kind), Some(head)) = (kind, head) else {
        keep(collected, document.clean, findings);
        return None;
    };
    let is_record = matches!(kind.word, "analysis" | "test" | "inspection" | "demonstration");
    let body = match kind.word {
        "requirement" => Body::read(document.body),
        _ if is_record && document.body.contains("calc") => Body::read(document.body),
        _ => Body::default(),
    };
    let seal = if is_record { seal::seal(&document.table, &body.calculations) } else { String::new() };
    let raw =
        Raw { reader: reader.named_as(kind.word), head, body, text: document.body, body_at: document.body_at, seal };
    let entity = (kind.read)(raw);
    keep(collected, document.clean, findings);
    Some(entity)
}

/// After a syntax fault half the keys may be gone: what is missing then says nothing. A date that TOML refused is not
/// refused once more.
fn keep(collected: RefCell<Findings>, clean: bool, findings: &mut Findings) {
    let said: Vec<Place> =
        findings.iter().filter(|own| own.code == "no-such-date").map(|own| own.place.clone()).collect();
    let again = |finding: &Finding| finding.code == "no-such-date" && said.contains(&finding.place);
    let worth = |finding: &Finding| (clean || finding.code != "missing-key") && !again(finding);
    findings.extend(collected.into_inner().into_iter().filter(worth));
}

fn head(reader: &Reader<'_>, document: &Document<'_>, text: &str) -> Option<Head> {
    let id = reader.required_text("id");
    let title = reader.required_text("title").map(|title| title.value).unwrap_or_default();
    let id = id?;
    if !Id::is_valid(&id.value) {
        reader.report(
            Finding::at("bad-id", id.span, format!("\"{}\" cannot be an id", id.value))
                .help("start with a letter, and use only letters, digits, `.`, `_` and `-`"),
        );
    }
    Some(Head {
        id: Spanned::new(Id::new(&id.value), id.span),
        title,
        file: document.file,
        fence: document.fence,
        body: Span::new(document.file, document.body_at..text.len()),
    })
}

fn unknown_kind(word: &str, span: Span) -> Finding {
    let help = match nearest(word, KINDS.iter().map(|kind| kind.word)) {
        Some(meant) => format!("did you mean \"{meant}\"?"),
        None => {
            let words: Vec<&str> = KINDS.iter().map(|kind| kind.word).collect();
            format!("write one of: {}", words.join(", "))
        }
    };
    Finding::at("unknown-kind", span, format!("there is no kind \"{word}\"")).help(help)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::RepoPath;

    #[test]
    fn yaml_with_a_kind_of_ours_is_not_passed_over() {
        let code = |text: &str| load_one(FileId(0), text).1.iter().map(|finding| finding.code).collect::<Vec<_>>();
        let own = "---\nid: NC-5\nkind: nonconformance\n---\nA crack.\n";
        for text in [
            own.to_owned(),
            own.replace('\n', "\r\n"),
            format!("\u{feff}{own}"),
            own.replace("nonconformance", "'test'"),
        ] {
            assert_eq!(code(&text), ["front-matter-not-at-start"], "{text:?}");
        }
        for other in ["nonconformance", "id: NC-5", "---\n"].map(|part| own.replace(part, "x")) {
            assert!(code(&other).is_empty(), "{other:?}");
        }
    }

    const ONE: &str = "+++\nkind = \"requirement\"\nid = \"A-1\"\ntitle = \"One\"\n+++\nIt shall be one.\n";

    fn sources(texts: &[(&str, &str)]) -> (SourceMap, Vec<FileId>) {
        let mut sources = SourceMap::default();
        texts.iter().for_each(|(path, text)| {
            sources.add(RepoPath::new(*path), (*text).into());
        });
        let files = sources.files().map(|(file, _)| file).collect();
        (sources, files)
    }

    #[test]
    fn what_is_read_again_is_what_it_is_read_as_alone() {
        let mut read = Read::default();
        let (two, broken) = (ONE.replace("A-1", "A-2"), ONE.replace("+++\nkind", "+++\nwhat\nkind"));
        let steps: &[&[(&str, &str)]] = &[
            &[("a.md", ONE), ("b.md", &two)],
            &[("a.md", ONE), ("b.md", &broken)],
            // The same text in a file of another number.
            &[("0.md", "nothing"), ("a.md", ONE), ("b.md", &broken)],
            &[("b.md", &two)],
            &[],
        ];
        for texts in steps {
            let (sources, files) = sources(texts);
            let (again, alone) = (load_again(&sources, &files, &mut read), load(&sources, &files));
            assert_eq!(format!("{again:?}"), format!("{alone:?}"));
        }
    }
}
