//! Changes between two points that somebody chose.

use crate::cli::commands::changes::compare;
use crate::cli::{CliError, Project};
use crate::git::GitError;
use crate::history::{Range, WORK_TREE};
use crate::report::ReportError;
use crate::report::packet::Since;
use crate::report::pages::{Compared, Point, Set};
use crate::report::view;
use crate::serve::Asked;

/// How many commits are offered; any other may be typed.
const COMMITS: usize = 60;

/// The page, with what changed if two points were named.
pub(super) fn page(project: &Project, set: &Set<'_>, asked: &Asked) -> Result<String, ReportError> {
    let points = points(project).unwrap_or_default();
    let (from, to) = (asked.value("from").unwrap_or(""), asked.value("to").unwrap_or(""));
    let found = (!from.is_empty()).then(|| compared(project, from, to).map_err(|error| error.in_words()));
    set.between(&points, &Compared { ends: (from, to), found })
}

fn compared(project: &Project, from: &str, to: &str) -> Result<Since, CliError> {
    let repo = &project.repo;
    // Nothing named is what is asked about: the files, or the commit that the program was asked to look at.
    let end = match (to, project.past) {
        ("", true) => project.commit,
        ("", false) => None,
        (name, _) => Some(repo.resolve(name)?),
    };
    let to_name = if end.is_some() { to } else { WORK_TREE };
    let (commit, from_name) = (Some(repo.resolve(from)?), from.into());
    let range = Range { from: commit, from_name, from_before: false, to: end, to_name: to_name.into() };
    Ok(Since::Changes(view::changes(&project.analysis.model.config.name, &compare(project, range)?)))
}

/// Annotated tags, and the last commits along the first parents.
fn points(project: &Project) -> Result<Vec<Point>, GitError> {
    let repo = &project.repo;
    let words = |oid| repo.commit(oid).map(|commit| format!("{}, {}", commit.author_date, commit.summary));
    let mut points = Vec::new();
    for (name, oid) in repo.annotated_tags()? {
        points.push(Point { name, words: words(oid)? });
    }
    let Some(head) = project.commit else { return Ok(points) };
    for oid in repo.walk(head, None, true)?.into_iter().take(COMMITS) {
        points.push(Point { name: oid.short(), words: words(oid)? });
    }
    Ok(points)
}
