//! The last look at a page that a project's own templates set: whether it still says what it must.
//!
//! A template may lay a page out as it likes; it may not leave out what is open. So the finished page is read as a browser would,
//! as far as that goes without one: only elements that are known here may stand in it, what no browser shows is passed over, and
//! what it must say is looked for in what is left. Before everything else a note is put into it that no template writes. What a style hides is
//! not seen here, which is why the note has a style of its own that others cannot undo.

mod must;
mod read;

use minijinja::context;

use super::ReportError;
use crate::templates::Templates;
use crate::text::LineColumn;

pub(in crate::report) use self::must::{Must, beside_rows, of_answer, of_rows};
use self::read::{BODY, Read};

/// A page that was set, and what with.
pub(in crate::report) struct Finished<'a> {
    pub(in crate::report) templates: &'a Templates,
    /// The templates and styles that it starts from.
    pub(in crate::report) roots: &'a [&'static str],
    /// What may run and be loaded.
    pub(in crate::report) policy: &'a str,
    /// What the note says first: the verdict, if the page has one, and the caution.
    pub(in crate::report) words: &'a str,
}

/// The style that keeps the note where it is, if there is a note.
pub(in crate::report) fn guard(templates: &Templates, roots: &[&'static str]) -> &'static str {
    let set = !templates.own_of(roots).is_empty();
    crate::templates::our("set.css").filter(|_| set).map_or("", |own| own.text)
}

impl Finished<'_> {
    /// Looks at the page, and puts the note into it; a page of the program's own templates alone goes through as it is.
    ///
    /// # Errors
    /// If it does not say what it must, or holds what it may not.
    pub(in crate::report) fn look(
        &self,
        page: String,
        must: impl FnOnce() -> Vec<Must>,
    ) -> Result<String, ReportError> {
        let own = self.templates.own_of(self.roots);
        if own.is_empty() {
            return Ok(page);
        }
        self.says(&page, must)?;
        let at = page.find(BODY).map_or(0, |at| at + BODY.len());
        let files: Vec<String> = own.iter().map(|(_, path)| path.to_string()).collect();
        let engine = self.templates.engine(&["set.html"])?;
        let template = engine.get_template("set.html").map_err(|error| self.templates.located(&error))?;
        let note = template.render(context! { words => self.words, files });
        let note = note.map_err(|error| self.templates.located(&error))?;
        Ok(format!("{}\n{note}{}", &page[..at], &page[at..]))
    }

    /// Holds a page against what it must say, and what may be in it.
    fn says(&self, page: &str, must: impl FnOnce() -> Vec<Must>) -> Result<(), ReportError> {
        let read = Read::of(page, self.policy).map_err(|fault| self.fault(&fault.message, &fault.words))?;
        match must().iter().find_map(|must| must.missed(&read)) {
            Some(lacking) => Err(self.fault(&format!("the page does not say {}", lacking.what()), "")),
            None => Ok(()),
        }
    }

    /// A complaint about the templates, at the place that mentions the words, if one does.
    pub(in crate::report) fn fault(&self, message: &str, words: &str) -> ReportError {
        let own = self.templates.own_of(self.roots);
        let found = self.templates.mentions(&own, words).filter(|_| !words.is_empty());
        let place = match found {
            Some((path, LineColumn { line, column })) => format!("{path}:{line}:{column}"),
            None => own.iter().map(|(_, path)| path.as_str()).collect::<Vec<_>>().join(", "),
        };
        ReportError {
            message: format!("{place}: {message}"),
            help: Some("mend the template, or take it away to have slipmark's own; `slipmark explain templates` says what a page must hold".into()),
        }
    }
}

#[cfg(test)]
mod tests;
