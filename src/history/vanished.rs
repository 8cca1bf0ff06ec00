//! Nothing leaves silently: ids that were held must still be there, or be accounted for.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::diag::{Class, Finding, Place};
use crate::model::kinds::{Decision, DecisionStatus};
use crate::model::{Id, Model, Ref};
use crate::state::standing::is_closed;
use crate::text::{RepoPath, shell_word};

use super::past::{Family, Gone, Left, Standing, held, standing};
use super::then::Then;

/// Says what is gone, each thing once.
pub(super) struct Vanished<'v> {
    now: &'v Analysis,
    /// The project's folder.
    prefix: &'v str,
    left: &'v Left,
    /// What stands in other projects that go on from where it was: they account for it.
    carried: BTreeSet<Id>,
    said: BTreeSet<Id>,
}

impl<'v> Vanished<'v> {
    pub(super) fn new(now: &'v Analysis, prefix: &'v str, left: &'v Left, carried: BTreeSet<Id>) -> Vanished<'v> {
        Vanished { now, prefix, left, carried, said: BTreeSet::new() }
    }

    /// What the work tree does not hold of the commit that is checked out, known as `name`.
    pub(super) fn since_head(&mut self, then: &Then<'_>, name: &str) -> Vec<Finding> {
        let mut found = Vec::new();
        for (id, place) in then.part.ids() {
            let (Some(family), Some(standing)) = (Family::of(place), standing(&then.part, place)) else { continue };
            let loosened = self.left.once_guarded.contains(&(id.clone(), family));
            let standing = if standing == Standing::Draft && loosened { Standing::Guarded } else { standing };
            let there = is_there(&self.now.model, id, place) || self.is_mended(then, id, place);
            if !there && !self.is_accounted_for(id, (family, standing)) {
                found.extend(self.held_then(then, name, id, place));
            }
        }
        found
    }

    /// What no ancestor's account explains. Where one of the tags that are looked back to held it, that is what is named.
    pub(super) fn since_ever(&mut self, tags: &[(&Then<'_>, &str)]) -> Vec<Finding> {
        let mut found = Vec::new();
        for ((id, family), gone) in &self.left.gone {
            let there = self.now.model.find(id).and_then(Family::of) == Some(*family);
            if there || self.carried.contains(id) || self.is_accounted_for(id, (*family, gone.standing)) {
                continue;
            }
            let at_tag = tags.iter().find_map(|(then, name)| {
                let place = then.part.find(id).filter(|place| Family::of(*place) == Some(*family))?;
                standing(&then.part, place).filter(|own| *own >= Standing::Guarded)?;
                Some((*then, *name, place))
            });
            match at_tag {
                Some((then, name, place)) => found.extend(self.held_then(then, name, id, place)),
                None => found.extend(self.held_by_ancestor(id, *family, gone)),
            }
        }
        found
    }

    /// Whether a thing that stood so when it left is accounted for: by itself, by what is there now, or by what stood in for it
    /// and is accounted for in its turn.
    fn is_accounted_for(&self, id: &Id, (family, standing): (Family, Standing)) -> bool {
        let itself = match standing {
            Standing::Draft | Standing::Withdrawn => true,
            Standing::Unsettled => self.is_settled(id),
            Standing::Guarded | Standing::Failed => false,
        };
        // Only a requirement has others that can stand in for it; and a failure is not undone by who decides that it is.
        let settled = standing != Standing::Failed || self.is_settled(id);
        let withdrawn = || settled && withdrawn_by(&self.now.model, id).next().is_some();
        let named = || match family {
            Family::Requirement => self.is_named(id, &mut BTreeSet::new()),
            _ => withdrawn(),
        };
        itself || named()
    }

    /// Whether the id was none, and the file holds a thing of that sort under one that is.
    fn is_mended(&self, then: &Then<'_>, id: &Id, place: Ref) -> bool {
        let now = &self.now.model;
        let same_sort = |own: &Ref| std::mem::discriminant(own) == std::mem::discriminant(&place);
        let path = then.path(then.part.head(place).file);
        let in_its_file = |own: Ref| same_sort(&own) && path == Some(self.now.path(now.head(own).file));
        !Id::is_valid(id.as_str()) && now.ids().any(|(other, own)| other != id && in_its_file(own))
    }

    fn is_named(&self, id: &Id, asked: &mut BTreeSet<Id>) -> bool {
        let now = &self.now.model;
        if replaced_by(now, id).next().is_some() || withdrawn_by(now, id).next().is_some() {
            return true;
        }
        self.left.replaced_by.get(id).into_iter().flatten().any(|other| {
            let gone = self.left.gone.get(&(other.clone(), Family::Requirement));
            let itself = gone.is_some_and(|gone| gone.standing == Standing::Withdrawn);
            asked.insert(other.clone()) && (itself || self.is_named(other, asked))
        })
    }

    /// Whether a closed nonconformance names a record as what found it.
    fn is_settled(&self, record: &Id) -> bool {
        let facts = self.now.facts();
        let named = facts.model.nonconformances.iter().filter(|it| it.found_by.iter().any(|id| id.value == *record));
        named.into_iter().any(|it| is_closed(&facts, it))
    }

    /// The fault, of a thing that a commit of that name held.
    fn held_then(&mut self, then: &Then<'_>, name: &str, id: &Id, place: Ref) -> Option<Finding> {
        let what = held(&then.part, place)?;
        let path = then.path(then.part.head(place).file)?;
        let message = format!("{id} was {what} at {name}");
        let failed = standing(&then.part, place) == Some(Standing::Failed);
        self.say(&Was { id, what: message, name, folder: &then.prefix, path, failed }, Family::of(place)?)
    }

    fn held_by_ancestor(&mut self, id: &Id, family: Family, gone: &Gone) -> Option<Finding> {
        let (name, without) = (gone.held.short(), gone.without.short());
        let message = format!("{id} was {} until {without}", gone.what);
        let failed = gone.standing == Standing::Failed;
        self.say(&Was { id, what: message, name: &name, folder: &gone.folder, path: &gone.path, failed }, family)
    }

    fn say(&mut self, was: &Was<'_>, family: Family) -> Option<Finding> {
        self.said.insert(was.id.clone()).then(|| was.finding(self.now, self.prefix, family))
    }
}

/// What git calls a file of a project as a commit holds it, as one word for a shell: from wherever in the repository.
pub(super) fn in_commit(name: &str, folder: &str, path: &str) -> String {
    shell_word(format!("{name}:{}", from_top(folder, path)).as_ref())
}

/// A file of a project from the top of the repository.
fn from_top(folder: &str, path: &str) -> String {
    if folder.is_empty() { path.to_string() } else { format!("{folder}/{path}") }
}

/// A thing that is gone.
struct Was<'w> {
    id: &'w Id,
    /// What it was and where, in words.
    what: String,
    /// A commit that holds it, as git knows it.
    name: &'w str,
    /// The project's folder there.
    folder: &'w str,
    path: &'w RepoPath,
    /// Whether it shows a failure.
    failed: bool,
}

impl Was<'_> {
    fn finding(&self, now: &Analysis, prefix: &str, family: Family) -> Finding {
        let Was { id, what, name, folder, path, failed } = self;
        if is_unread(now, path) {
            // Whoever brought the old file back would lose what stands in this one.
            let message = format!("{what}, and {path}, where it stood, cannot be read");
            return Finding::new("vanished", Place::Project, message)
                .help(format!("mend {path}; it has a fault of its own"));
        }
        let old = in_commit(name, folder, path.as_str());
        let back = match in_its_place(now, path) {
            // Whoever brought the old file back would lose what stands there now.
            Some(other) => {
                let place = shell_word(free_beside(now, path, id).as_ref());
                format!("{path} holds {other} now: bring it back beside that: git show {old} > {place}; ")
            }
            // From wherever in the repository.
            None if *folder == prefix => {
                let place = shell_word(format!(":/{}", from_top(folder, path.as_str())).as_ref());
                format!("bring it back: git checkout {name} -- {place}; ")
            }
            None => format!("bring it back: git show {old} > {}; ", shell_word(path.as_str().as_ref())),
        };
        let otherwise = match family {
            Family::Requirement => format!(
                "or set its status to \"withdrawn\" with a reason, or name {id} in the `replaces` of the requirement that \
                 stands in for it"
            ),
            // A nonconformance cannot name what is gone.
            _ if *failed => format!(
                "it failed: to withdraw it write status = \"withdrawn\" and a reason in it, and have a closed nonconformance name {id} in `found_by`"
            ),
            _ => format!("or name {id} in the `withdraws` of a decision that says why"),
        };
        let message = match now.model.find(id) {
            Some(place) => format!("{what}, and now names another thing: {}", now.model.kind(place)),
            None => format!("{what}, and is gone"),
        };
        Finding::new("vanished", Place::Project, message).help(format!("{back}{otherwise}"))
    }
}

/// Whether the id still names a thing of that sort; a record that became an item is a record that is gone.
fn is_there(now: &Model, id: &Id, then: Ref) -> bool {
    now.find(id).is_some_and(|place| std::mem::discriminant(&place) == std::mem::discriminant(&then))
}

/// The requirements that stand in for this id.
pub(super) fn replaced_by<'m>(now: &'m Model, id: &'m Id) -> impl Iterator<Item = &'m Id> {
    let names = |ids: &[crate::text::Spanned<Id>]| ids.iter().any(|named| named.value == *id);
    now.requirements.iter().filter(move |it| it.head.id.value != *id && names(&it.replaces)).map(|it| &it.head.id.value)
}

/// The accepted decisions that withdraw this id.
pub(super) fn withdrawn_by<'m>(now: &'m Model, id: &'m Id) -> impl Iterator<Item = &'m Id> {
    let names = move |decision: &&Decision| {
        decision.status == DecisionStatus::Accepted && decision.withdraws.iter().any(|named| named.value == *id)
    };
    now.decisions.iter().filter(names).map(|decision| &decision.head.id.value)
}

/// What stands now in the file that a thing stood in.
fn in_its_place<'n>(now: &'n Analysis, path: &RepoPath) -> Option<&'n Id> {
    let mut all = now.model.ids().map(|(id, place)| (id, now.path(now.model.head(place).file)));
    all.find(|(_, own)| *own == path).map(|(id, _)| id)
}

/// A file that is not there yet, beside another, called as an id.
fn free_beside(now: &Analysis, path: &RepoPath, id: &Id) -> String {
    let names = std::iter::once(format!("{id}.md")).chain((2..).map(|at| format!("{id}-{at}.md")));
    let names = names.map(|name| from_top(path.folder(), &name));
    let is_free = |name: &String| !now.sources.files().any(|(_, file)| file.path.as_str().eq_ignore_ascii_case(name));
    names.into_iter().find(is_free).unwrap_or_default()
}

/// Whether a file is there and nothing could be read from it.
fn is_unread(now: &Analysis, path: &RepoPath) -> bool {
    let Some((file, _)) = now.sources.files().find(|(_, file)| file.path == *path) else { return false };
    let empty = !now.model.ids().any(|(_, place)| now.model.head(place).file == file);
    let at_fault = |finding: &Finding| match &finding.place {
        Place::At(span) => span.file == file,
        Place::Path(own) => own == path,
        Place::Project => false,
    };
    empty && now.findings.of(Class::Fault).any(at_fault)
}

#[cfg(test)]
mod tests {
    use super::in_commit;

    #[test]
    fn a_file_of_a_commit_is_named_from_the_top_of_the_repository_and_is_one_word() {
        assert_eq!(in_commit("TRR-1", "", "records/TR-1.md"), "TRR-1:records/TR-1.md");
        assert_eq!(in_commit("TRR-1", "unit 2", "records/TR-1.md"), "\"TRR-1:unit 2/records/TR-1.md\"");
    }
}
