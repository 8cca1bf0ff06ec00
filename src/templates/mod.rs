//! What pages are laid out by: the templates and styles that come with the program, and those that a project has in their place.
//!
//! In: the folder that `templates` of the project file names, and the files in it. Out: [`Templates`], which give each text by its
//! name, the project's own where there is one; and an engine that fills them. Names are those of the program's folder
//! `templates`; nothing else can be included, so that nothing leads out of the folder. What is wrong with one is [`Wrong`],
//! with its file, line and column.
//!
//! To add a template: its file under `templates`, and a line in `ours.rs`.

mod ours;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use minijinja::syntax::SyntaxConfig;
use minijinja::{AutoEscape, Environment, ErrorKind, UndefinedBehavior, escape_formatter};

use crate::source::{Snapshot, Source};
use crate::text::{LineColumn, LineIndex, RepoPath, Spanned};

/// A larger file is no template.
const LARGEST: usize = 1 << 20;

/// How many steps the engine takes for one page before it gives up, where a project's own templates are at work.
const STEPS: u64 = 500_000_000;

/// A template or a style that comes with the program.
#[derive(Clone, Copy, Debug)]
pub struct Template {
    /// Its path below the folder of templates.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
    /// What it lays out.
    pub about: &'static str,
}

impl Template {
    /// Whether a project may have its own in its place. Not those of `view` alone, which say that there is no answer and follow
    /// the files, and not the note on what a project set itself.
    pub fn may_be_replaced(&self) -> bool {
        !self.name.starts_with("live/") && !self.name.starts_with("set.")
    }

    /// Whether it is a style, which is not filled.
    pub fn is_style(&self) -> bool {
        self.name.ends_with(".css")
    }

    /// What it uses of what it is given, by name and in order; nothing for a style.
    pub fn takes(&self) -> Vec<String> {
        let Ok(mut engine) = engine() else { return Vec::new() };
        if self.is_style() || engine.add_template(self.name, self.text).is_err() {
            return Vec::new();
        }
        let names = engine.get_template(self.name).map(|own| own.undeclared_variables(false)).unwrap_or_default();
        let mut names: Vec<String> =
            names.into_iter().filter(|name| engine.globals().all(|(own, _)| own != name)).collect();
        names.sort();
        names
    }
}

/// All that come with the program, by name.
pub fn ours() -> &'static [Template] {
    ours::OURS
}

/// The program's own template of this name.
pub fn our(name: &str) -> Option<&'static Template> {
    ours::OURS.binary_search_by(|own| own.name.cmp(name)).ok().map(|at| &ours::OURS[at])
}

/// What is wrong with a template of a project, and where.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}: {message}", self.place())]
pub struct Wrong {
    /// The file.
    pub path: RepoPath,
    /// Where in it, if that can be told.
    pub at: Option<LineColumn>,
    /// What was found, and what was expected.
    pub message: String,
    /// What to do.
    pub help: String,
}

impl Wrong {
    /// File, line and column.
    pub fn place(&self) -> String {
        match self.at {
            Some(at) => format!("{}:{}:{}", self.path, at.line, at.column),
            None => self.path.to_string(),
        }
    }
}

/// A file of the project in place of one of the program's.
#[derive(Clone, Debug)]
struct Own {
    path: RepoPath,
    text: Result<Arc<str>, Wrong>,
}

/// The templates that pages of a project are set with.
#[derive(Clone, Debug, Default)]
pub struct Templates {
    own: BTreeMap<&'static str, Own>,
    /// Files of the folder that take the place of none.
    unknown: Vec<RepoPath>,
    /// Why the folder is none.
    no_folder: Option<String>,
}

impl Templates {
    /// Reads the files of a project's folder; `named` is what its settings say of it. A file that is, letter by letter, the program's
    /// own takes the place of nothing.
    pub fn read(source: &dyn Source, snapshot: &Snapshot, named: Option<&Spanned<String>>) -> Templates {
        let Some(named) = named else { return Templates::default() };
        let Some(folder) = folder(&named.value) else {
            let why = format!("`{}` is no folder inside the project, beside its other files", named.value);
            return Templates { no_folder: Some(why), ..Templates::default() };
        };
        let mut templates = Templates::default();
        let mut any = false;
        for file in &snapshot.others {
            let Some(name) = file.path.as_str().strip_prefix(&folder) else { continue };
            any = true;
            match our(name).filter(|ours| ours.may_be_replaced()) {
                None => templates.unknown.push(file.path.clone()),
                Some(ours) => {
                    let text = text_of(source, &file.path, ours.is_style());
                    if text.as_deref() != Ok(ours.text) {
                        templates.own.insert(ours.name, Own { path: file.path.clone(), text });
                    }
                }
            }
        }
        if !any {
            templates.no_folder = Some(format!("there is no file in `{}` that git does not ignore", named.value));
        }
        templates
    }

    /// Files of the folder that take the place of none of the program's.
    pub fn unknown(&self) -> &[RepoPath] {
        &self.unknown
    }

    /// Why the folder that the settings name is none.
    pub fn no_folder(&self) -> Option<&str> {
        self.no_folder.as_deref()
    }

    /// What is wrong with the project's own as far as can be told without filling them.
    pub fn wrong(&self) -> Vec<Wrong> {
        let wrong = |(name, own): (&&'static str, &Own)| {
            let text = match &own.text {
                Ok(text) => text,
                Err(wrong) => return Some(wrong.clone()),
            };
            let mut engine = engine().ok()?;
            let added = if name.ends_with(".html") { engine.add_template(name, text) } else { Ok(()) };
            added.err().map(|error| self.located(&error))
        };
        self.own.iter().filter_map(wrong).collect()
    }

    /// The project's own among what pages that start from `roots` are made of: by name, with the file of each.
    pub fn own_of(&self, roots: &[&'static str]) -> Vec<(&'static str, &RepoPath)> {
        if self.own.is_empty() {
            return Vec::new();
        }
        let own = self.needed(roots).into_iter().filter_map(|name| self.own.get(name).map(|own| (name, &own.path)));
        own.collect()
    }

    /// Where the project's own one of a name mentions something, for complaints about what it made.
    pub fn mentions(&self, names: &[(&'static str, &RepoPath)], words: &str) -> Option<(RepoPath, LineColumn)> {
        names.iter().find_map(|(name, path)| {
            let text = self.own.get(name)?.text.as_deref().ok()?;
            Some(((*path).clone(), place(text, text.find(words)?)))
        })
    }

    /// A style.
    ///
    /// # Errors
    /// If the project's own cannot be used.
    pub fn style(&self, name: &'static str) -> Result<Arc<str>, Wrong> {
        self.text(name)
    }

    fn text(&self, name: &str) -> Result<Arc<str>, Wrong> {
        match self.own.get(name) {
            Some(own) => own.text.clone(),
            None => Ok(our(name).map_or("", |own| own.text).into()),
        }
    }

    /// Everything that templates with these names include, and what that includes, by name.
    fn needed(&self, roots: &[&'static str]) -> BTreeSet<&'static str> {
        let mut needed = BTreeSet::new();
        let mut next: Vec<&'static str> = roots.to_vec();
        while let Some(name) = next.pop() {
            if needed.insert(name) {
                let text = self.text(name).unwrap_or_else(|_| "".into());
                // A name counts wherever it is quoted: too many do no harm.
                next.extend(text.split(['"', '\'']).filter_map(our).map(|own| own.name));
            }
        }
        needed
    }

    /// An engine that knows the templates `roots` and all that these include.
    ///
    /// # Errors
    /// If one of the project's own cannot be used.
    pub fn engine(&self, roots: &[&'static str]) -> Result<Environment<'static>, Wrong> {
        let mut filling = engine().map_err(|error| self.located(&error))?;
        if !self.own_of(roots).is_empty() {
            filling.set_debug(true);
            filling.set_fuel(Some(STEPS));
        }
        for name in self.needed(roots).into_iter().filter(|name| name.ends_with(".html")) {
            let added = match self.own.get(name) {
                Some(own) => filling.add_template_owned(name, own.text.clone()?.to_string()),
                None => filling.add_template(name, our(name).map_or("", |own| own.text)),
            };
            added.map_err(|error| self.located(&error))?;
        }
        Ok(filling)
    }

    /// What the engine complains of, as something about a file of the project. What it meets in a template of the program's
    /// comes from what one of the project's gave it, or did not.
    pub fn located(&self, error: &minijinja::Error) -> Wrong {
        let error = innermost(error);
        let name = error.name().unwrap_or_default();
        let what =
            error.detail().map_or_else(|| error.kind().to_string(), |detail| format!("{}: {detail}", error.kind()));
        let what = if error.kind() == ErrorKind::OutOfFuel { "it goes on and on".to_string() } else { what };
        let help = |name: &str| {
            format!(
                "correct it; `slipmark templates {name}` shows the one that it stands for, with the names that it may use"
            )
        };
        match self.own.get(name) {
            Some(own) => {
                let text = own.text.clone().unwrap_or_default();
                let start = error
                    .range()
                    .map(|range| place(&text, range.start))
                    .or(error.line().map(|line| LineColumn { line, column: 1 }));
                Wrong { path: own.path.clone(), at: start, message: what, help: help(name) }
            }
            None => {
                let path = self.own.values().next().map_or_else(|| RepoPath::new(name), |own| own.path.clone());
                let line = error.line().map_or(String::new(), |line| format!(", line {line}"));
                let all: Vec<&str> = self.own.keys().copied().collect();
                let message =
                    format!("slipmark's own {name}{line}, cannot be filled with templates of the project: {what}");
                Wrong {
                    path,
                    at: None,
                    message,
                    help: format!("give what it needs, such as a macro; the project's own are {}", all.join(", ")),
                }
            }
        }
    }
}

/// An engine that escapes, and takes an unknown name for a mistake. Nothing can be handed past the escaping: the filter for that is
/// gone, and where a template turns it off nothing is written.
fn engine() -> Result<Environment<'static>, minijinja::Error> {
    let mut engine = Environment::new();
    engine.set_undefined_behavior(UndefinedBehavior::Strict);
    engine.set_syntax(SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?);
    engine.remove_filter("safe");
    engine.set_formatter(|out, state, value| match state.auto_escape() {
        AutoEscape::Html => escape_formatter(out, state, value),
        _ => Err(minijinja::Error::new(ErrorKind::InvalidOperation, "escaping cannot be turned off")),
    });
    Ok(engine)
}

/// An error in what is included comes wrapped in one about the including.
fn innermost(error: &minijinja::Error) -> &minijinja::Error {
    let mut found = error;
    let mut next = std::error::Error::source(error);
    while let Some(inner) = next {
        match inner.downcast_ref::<minijinja::Error>() {
            Some(own) if own.name().is_some() => found = own,
            _ => {}
        }
        next = inner.source();
    }
    found
}

/// The folder with a `/` behind it; none if it is not below the project.
fn folder(named: &str) -> Option<String> {
    let parts: Vec<&str> = named.split('/').filter(|part| !part.is_empty() && *part != ".").collect();
    let out = named.starts_with('/') || named.contains(['\\', ':']) || parts.contains(&"..") || parts.is_empty();
    (!out).then(|| format!("{}/", parts.join("/")))
}

/// The text of a file, with line feeds alone.
fn text_of(source: &dyn Source, path: &RepoPath, style: bool) -> Result<Arc<str>, Wrong> {
    let wrong = |at, message: String, help: &str| Wrong { path: path.clone(), at, message, help: help.into() };
    let bytes =
        source.read(path).map_err(|error| wrong(None, error.to_string(), "make it a plain file that can be read"))?;
    if bytes.len() > LARGEST {
        return Err(wrong(
            None,
            format!("it has {} bytes, and a template has at most {LARGEST}", bytes.len()),
            "make it smaller",
        ));
    }
    let text = std::str::from_utf8(&bytes).map_err(|error| {
        let before = String::from_utf8_lossy(&bytes[..error.valid_up_to()]);
        wrong(Some(place(&before, before.len())), "it is not UTF-8".into(), "save it as UTF-8")
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    match text.find("</").filter(|_| style) {
        Some(at) => Err(wrong(
            Some(place(&text, at)),
            "`</` would end the style".into(),
            "take it out, or write it as `<\\/` in a string",
        )),
        None => Ok(text.into()),
    }
}

/// Where a byte of a text stands.
fn place(text: &str, offset: usize) -> LineColumn {
    LineIndex::new(text).locate(text, offset)
}

#[cfg(test)]
mod tests;
