//! A parent that has moved since its child was last looked at.
//!
//! The child was looked at whenever anything of it was changed but its title, its owner and how it is written; when somebody
//! judged that the children suffice for the parent as it reads now; when a decision that came with the parent's move or after
//! it names the child; or when the child itself says which mark of the parent it was held against.

use std::collections::BTreeSet;

use crate::diag::Finding;
use crate::git::GitError;
use crate::history::less;
use crate::history::then::rests_on;
use crate::history::trail::Version;
use crate::history::versions::{Between, ChangeKind};
use crate::model::Id;
use crate::model::kinds::{DecisionStatus, Requirement, RequirementStatus};
use crate::quantity;
use crate::source::PARAMETERS_FILE;
use crate::text::{RepoPath, Spanned};

use super::book::Book;

/// Looks at every active requirement and its parents.
pub(super) fn check(book: &mut Book<'_>) -> Result<(), GitError> {
    let now = book.now;
    let active = |it: &Requirement| it.status == RequirementStatus::Active;
    for child in now.model.requirements.iter().filter(|it| active(it)) {
        for named in &child.parents {
            let Some(parent) = now.model.requirement(&named.value).filter(|it| active(it)) else { continue };
            match marked(child, parent) {
                Some(true) => {}
                Some(false) => say(book, child, named, parent, "it was last held against"),
                None if is_judged(parent, child) || !may_have_moved(book, parent)? => {}
                None => unmarked(book, child, named, parent)?,
            }
        }
    }
    Ok(())
}

/// Whether the child was held against the parent as it reads now; none if it does not say.
fn marked(child: &Requirement, parent: &Requirement) -> Option<bool> {
    let own = child.parent_marks.iter().find(|(id, _)| id.value == parent.head.id.value.as_str())?;
    Some(own.1.value == parent.mark)
}

/// Whether somebody judged, for the parent as it reads now, that its children suffice, this one among them.
fn is_judged(parent: &Requirement, child: &Requirement) -> bool {
    parent.by_children.as_ref().is_some_and(|judged| {
        judged.mark.as_ref().is_some_and(|mark| mark.value == parent.mark)
            && judged.list.iter().any(|own| own.value == child.head.id.value)
    })
}

/// Whether a parent's file, or a parameter that it may rest on, was ever touched after it came.
fn may_have_moved(book: &mut Book<'_>, parent: &Requirement) -> Result<bool, GitError> {
    if !book.is_untouched(&parent.head) {
        return Ok(true);
    }
    let limits = || parent.criteria.iter().flat_map(|own| own.limits());
    if !limits().any(|limit| !quantity::names(&limit.text.value).is_empty()) {
        return Ok(false);
    }
    let names: BTreeSet<String> = book.now.model.parameters.keys().cloned().collect();
    let parameters = RepoPath::new(PARAMETERS_FILE);
    Ok(rests_on(parent, &names) && book.trail.of(&parameters)?.len() > 1)
}

fn unmarked(
    book: &mut Book<'_>,
    child: &Requirement,
    named: &Spanned<Id>,
    parent: &Requirement,
) -> Result<(), GitError> {
    if !book.is_same(child.head.file) && is_looked_at_now(book, child)? {
        return Ok(());
    }
    let mut edits = book.versions(&child.head.id.value, child.head.file)?;
    edits.retain(Version::is_edit);
    let touched = touched(book, parent)?;
    // While it is only asked how the parent read then, it does not matter whether an edit was a look if the parent was not
    // touched between the first of them and that one: few versions are compared.
    let first = edits.first().map_or(0, |edit| edit.commit);
    let matters = |edit: &Version| touched.iter().any(|at| *at > first && *at <= edit.commit);
    let Some(about) = last_look(book, &edits, &matters)? else { return Ok(()) };
    let oid = book.trail.commits[edits[about].commit].oid;
    let Some(then) = book.requirement(parent, oid)? else { return Ok(()) };
    if then.requirement.mark == parent.mark {
        return Ok(());
    }
    // What came after that one was found to be none.
    let looked = if matters(&edits[about]) { Some(about) } else { last_look(book, &edits[..=about], &|_| true)? };
    let Some(looked) = looked.map(|at| edits[at].commit) else { return Ok(()) };
    if is_decided(book, child, parent, looked)? {
        return Ok(());
    }
    let commit = super::book::show(&book.commit(looked)?);
    say(book, child, named, parent, &format!("it was last looked at ({commit})"));
    Ok(())
}

/// The last edit, by position, that was a look at the child, those that do not matter taken for one.
fn last_look(
    book: &mut Book<'_>,
    edits: &[Version],
    matters: &dyn Fn(&Version) -> bool,
) -> Result<Option<usize>, GitError> {
    for (at, edit) in edits.iter().enumerate().rev() {
        if !matters(edit) || is_look(book, edit)? {
            return Ok(Some(at));
        }
    }
    Ok(None)
}

/// Whether an edit changed more than what is only written otherwise, the title, or whose it is. What cannot be compared did.
fn is_look(book: &mut Book<'_>, edit: &Version) -> Result<bool, GitError> {
    let (Some(old), Some(new), Some(before)) = (&edit.old, &edit.new, book.trail.before(edit.commit)) else {
        return Ok(true);
    };
    let oid = book.trail.commits[edit.commit].oid;
    let (old, new) = (book.worked_out(old.clone(), before)?, book.worked_out(new.clone(), oid)?);
    let (Some(old), Some(new)) = (old, new) else { return Ok(true) };
    // What most edits change, told without comparing.
    if old.requirement.mark != new.requirement.mark {
        return Ok(true);
    }
    Ok(book.between(&old, &new)?.is_some_and(|between| says_else(&between)))
}

/// The same of what is not committed.
fn is_looked_at_now(book: &mut Book<'_>, child: &Requirement) -> Result<bool, GitError> {
    let Some(then) = book.requirement(child, book.head)? else { return Ok(true) };
    Ok(book.between_now(&then, child)?.is_some_and(|between| says_else(&between)))
}

/// Whoever rewrites why a requirement is there, or what is said around it, has read it.
fn says_else(between: &Between) -> bool {
    let marks = || between.keys.iter().any(|key| key.top() == "parent_marks");
    !matches!(between.kind, ChangeKind::Moved | ChangeKind::Cosmetic) || between.reworded().next().is_some() || marks()
}

/// The commits that touched a parent's file, or any parameter: it may have rested on some that it does not name now.
fn touched(book: &mut Book<'_>, parent: &Requirement) -> Result<Vec<usize>, GitError> {
    let mut touched = book.touched(&parent.head)?;
    touched.extend(book.trail.of(&RepoPath::new(PARAMETERS_FILE))?.iter().map(|step| step.commit));
    Ok(touched)
}

/// Whether a decision made with the parent's last move, or after it, names the child.
fn is_decided(book: &mut Book<'_>, child: &Requirement, parent: &Requirement, looked: usize) -> Result<bool, GitError> {
    let now = book.now;
    let (own, above) = (&child.head.id.value, &parent.head.id.value);
    let naming = now.model.decisions.iter().filter(|it| {
        let kept = it.keeps.iter().any(|kept| kept.value == *own);
        it.status == DecisionStatus::Accepted && (kept || less::names(it, own))
    });
    let naming: Vec<_> = naming.collect();
    if naming.is_empty() {
        return Ok(false);
    }
    let moved = moves(book, parent, looked)?;
    for decision in naming {
        let since = book.accepted(decision)?.place();
        let later = moved.iter().filter(|at| **at > since).count();
        // What the decision itself does to the parent it has looked at.
        let itself = usize::from(less::names(decision, above));
        if since > looked && later <= itself {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Where the parent's mark moved after a commit.
fn moves(book: &mut Book<'_>, parent: &Requirement, after: usize) -> Result<Vec<usize>, GitError> {
    let versions = book.versions(&parent.head.id.value, parent.head.file)?;
    let mut at: BTreeSet<usize> = versions.iter().map(|version| version.commit).collect();
    at.extend(book.trail.of(&RepoPath::new(PARAMETERS_FILE))?.iter().map(|step| step.commit));
    let mut last: Option<String> = None;
    let mut moved = Vec::new();
    for commit in at {
        let version = versions.iter().rev().find(|version| version.commit <= commit);
        let Some(placed) = version.and_then(|version| version.new.clone()) else { continue };
        let oid = book.trail.commits[commit].oid;
        let Some(then) = book.worked_out(placed, oid)? else { continue };
        let mark = then.requirement.mark;
        if last.as_ref().is_some_and(|last| *last != mark) && commit > after {
            moved.push(commit);
        }
        last = Some(mark);
    }
    if last.is_some_and(|last| last != parent.mark) {
        moved.push(usize::MAX);
    }
    Ok(moved)
}

fn say(book: &mut Book<'_>, child: &Requirement, named: &Spanned<Id>, parent: &Requirement, when: &str) {
    let (own, above) = (&child.head.id.value, &parent.head.id.value);
    let text = format!("{above}, which {own} hangs from, asks something else than when {when}");
    let help = format!(
        "read slipmark history {above}, then look at {own}: change it; or if it still follows, write \
         parent_marks.{above} = \"{}\" into it",
        parent.mark
    );
    let finding = Finding::at("parent-moved", named.span, text).also(parent.head.id.span, "the parent");
    book.account.findings.push(finding.help(help));
}
