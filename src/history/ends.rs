//! The two points of a comparison, as far as they differ.
//!
//! The later one is read in full, since what follows from the changes is asked of it; the earlier one too where it is asked what they
//! undid, else only what is not the same now.

use std::collections::BTreeSet;

use crate::analysis::Analysis;
use crate::config::{Config, Parameter};
use crate::diag::Findings;
use crate::git::{GitError, Oid, Repo};
use crate::model::kinds::Requirement;
use crate::model::{Id, Model, Ref};
use crate::parse::{Parsed, document};
use crate::source::{PARAMETERS_FILE, PROJECT_FILE};
use crate::text::FileId;

use super::alike::holds;
use super::then::{Alike, Then};
use super::versions::{Between, Content, Context, Version, compare};

/// The earlier point.
pub(super) enum Earlier<'a> {
    /// It holds no project.
    Nothing,
    /// What it holds otherwise than the later one.
    Part(Then<'a>),
    /// All of it.
    Whole(Whole<'a>),
}

/// The earlier point, read in full.
pub(super) struct Whole<'a> {
    pub(super) then: &'a Analysis,
    /// What it holds as the later one does; none: that holds no project.
    alike: Option<Alike>,
    /// What is written as it is now and came to something else.
    resting: Vec<Id>,
}

impl Whole<'_> {
    /// What the earlier point holds of a settings file; none: it could not be read.
    fn settings(&self, name: &str) -> Option<Option<FileId>> {
        let snapshot = &self.then.snapshot;
        let Some(at) = snapshot.position(name) else { return Some(None) };
        snapshot.files[at].content.text().map(|_| Some(FileId(at as u32)))
    }

    /// A thing as it was, where the later point has it in another file: one that was there as it is now is what it was, and one that
    /// still stands beside it is not what was copied from it.
    fn beside_now<'t>(&'t self, now: &'t Analysis, id: &str) -> Option<Option<Described<'t>>> {
        let (alike, then) = (self.alike.as_ref()?, self.then);
        let (was, is) = (then.model.find(id)?, now.model.find(id)?);
        let (was_in, is_in) = (then.model.head(was).file, now.model.head(is).file);
        if then.path(was_in) == now.path(is_in) {
            return None;
        }
        if !alike.differs(is_in) {
            let mut same = Described::in_full(now, is);
            if let Ref::Requirement(at) = was {
                same.requirement = Some(&then.model.requirements[at]);
            }
            return Some(Some(same));
        }
        alike.stayed(was_in).then_some(None)
    }

    /// Whether a file is in its place as it was.
    pub(super) fn stayed(&self, file: FileId) -> bool {
        self.alike.as_ref().is_some_and(|alike| alike.stayed(file))
    }
}

/// Both points.
pub(super) struct Ends<'a> {
    pub(super) then: Earlier<'a>,
    pub(super) now: Option<&'a Analysis>,
}

/// A thing at one of the points, ready to be compared.
#[derive(Clone, Copy)]
pub(super) struct Described<'a> {
    pub(super) kind: &'static str,
    /// The place of its kind in the order in which changes are told.
    pub(super) order: usize,
    pub(super) title: &'a str,
    pub(super) path: &'a str,
    pub(super) requirement: Option<&'a Requirement>,
    text: &'a str,
}

impl<'a> Described<'a> {
    pub(super) fn version(&self) -> Version<'a> {
        let content = Content::File { text: self.text, requirement: self.requirement };
        Version { kind: self.kind, path: self.path, content }
    }

    /// What stands below the front matter.
    pub(super) fn body(&self) -> &'a str {
        match document(FileId(0), self.text, &mut Findings::new()) {
            Parsed::Document(document) => document.body,
            Parsed::Other | Parsed::Broken => "",
        }
    }

    fn of(model: &'a Model, place: Ref, path: &'a str, text: &'a str) -> Described<'a> {
        let requirement = match place {
            Ref::Requirement(at) => Some(&*model.requirements[at]),
            _ => None,
        };
        let title = &model.head(place).title;
        Described { kind: model.kind(place), order: order(place), title, path, text, requirement }
    }

    fn in_full(analysis: &'a Analysis, place: Ref) -> Described<'a> {
        let file = analysis.sources.file(analysis.model.head(place).file);
        Described::of(&analysis.model, place, file.path.as_str(), &file.text)
    }
}

/// A thing that differs between the two points.
pub(super) struct Compared<'a> {
    pub(super) then: Option<Described<'a>>,
    pub(super) now: Option<Described<'a>>,
    /// The place of its kind in the order in which changes are told.
    pub(super) order: usize,
    pub(super) between: Between,
}

impl<'a> Compared<'a> {
    /// How what has an id differs: two things if it became one of another sort, none if it says the same.
    pub(super) fn all(ends: &'a Ends<'_>, id: &Id, context: Context<'_>) -> Vec<Compared<'a>> {
        let (then, now) = (ends.before(id), ends.after(id));
        let pairs = match (then, now) {
            (Some(a), Some(b)) if a.order != b.order => vec![(then, None), (None, now)],
            _ => vec![(then, now)],
        };
        let one = |(then, now): (Option<Described<'a>>, Option<Described<'a>>)| {
            let order = now.or(then)?.order;
            let between = compare(then.map(|it| it.version()), now.map(|it| it.version()), context)?;
            Some(Compared { then, now, order, between })
        };
        pairs.into_iter().filter_map(one).collect()
    }
}

impl<'a> Ends<'a> {
    /// Lays the earlier point, which was read in full, beside the later one.
    pub(super) fn whole(then: &'a Analysis, now: Option<&'a Analysis>) -> Ends<'a> {
        let alike = now.map(|now| Alike::of(then, now));
        let mut whole = Whole { then, alike, resting: Vec::new() };
        if let Some((alike, now)) = whole.alike.as_ref().zip(now)
            && whole.settings(PARAMETERS_FILE).is_some()
        {
            whole.resting = alike.resting_on_moved(then, now);
        }
        Ends { then: Earlier::Whole(whole), now }
    }

    /// Reads of the earlier point what is not as it is at the later one.
    ///
    /// # Errors
    /// If git cannot answer.
    pub(super) fn read(
        repo: &Repo,
        prefix: &str,
        from: Option<Oid>,
        now: Option<&'a Analysis>,
    ) -> Result<Ends<'a>, GitError> {
        let then = match (from, now) {
            (Some(oid), Some(now)) if holds(repo, oid, prefix)? => Earlier::Part(Then::read(repo, prefix, oid, now)?),
            _ => Earlier::Nothing,
        };
        Ok(Ends { then, now })
    }

    /// Lets go of what was read, on another thread: to take it apart takes as long as a tenth of a large comparison.
    pub(super) fn let_go(self) {
        if let Earlier::Part(then) = self.then {
            then.let_go();
        }
    }

    /// Whether neither point holds the project.
    pub(super) fn are_nothing(&self) -> bool {
        matches!(self.then, Earlier::Nothing) && self.now.is_none()
    }

    /// The ids of everything that may differ.
    pub(super) fn ids(&self) -> BTreeSet<&Id> {
        let mut ids: BTreeSet<&Id> = BTreeSet::new();
        match &self.then {
            Earlier::Nothing => {}
            Earlier::Part(then) => {
                ids.extend(then.part.ids().map(|(id, _)| id));
                let moved: BTreeSet<FileId> = then.moved.iter().map(|(_, file)| *file).collect();
                let differs = |file: FileId| !then.is_same(file) || moved.contains(&file);
                ids.extend(then.now.ids().filter(|(_, place)| differs(then.now.head(*place).file)).map(|(id, _)| id));
                return ids;
            }
            Earlier::Whole(whole) => {
                let held = &whole.then.model;
                ids.extend(held.ids().filter(|(_, place)| !whole.stayed(held.head(*place).file)).map(|(id, _)| id));
                if let Some((alike, now)) = whole.alike.as_ref().zip(self.now) {
                    let model = &now.model;
                    let own = model.ids().filter(|(_, place)| alike.differs(model.head(*place).file));
                    ids.extend(own.map(|(id, _)| id));
                    ids.extend(&whole.resting);
                    return ids;
                }
            }
        }
        ids.extend(self.now.into_iter().flat_map(|now| now.model.ids()).map(|(id, _)| id));
        ids
    }

    /// A thing as it was.
    pub(super) fn before(&self, id: &str) -> Option<Described<'_>> {
        match &self.then {
            Earlier::Nothing => None,
            Earlier::Whole(whole) => {
                let elsewhere = self.now.and_then(|now| whole.beside_now(now, id));
                elsewhere.unwrap_or_else(|| Some(Described::in_full(whole.then, whole.then.model.find(id)?)))
            }
            Earlier::Part(then) => self.before_now(then, id),
        }
    }

    fn before_now<'t>(&'t self, then: &'t Then<'a>, id: &str) -> Option<Described<'t>> {
        let present = self.now.and_then(|now| {
            let place = now.model.find(id)?;
            let file = now.model.head(place).file;
            then.is_same(file).then(|| (Described::in_full(now, place), file))
        });
        let Some((mut same, file)) = present else {
            let place = then.part.find(id)?;
            let file = then.part.head(place).file;
            return Some(Described::of(&then.part, place, then.path(file)?.as_str(), then.text(file)?));
        };
        if let Some((path, _)) = then.moved.iter().find(|(_, own)| *own == file) {
            same.path = path.as_str();
        }
        // Written as it is now, it may come to something else by a parameter.
        if let Some(Ref::Requirement(at)) = then.part.find(id) {
            same.requirement = Some(&then.part.requirements[at]);
        }
        Some(same)
    }

    /// A thing as it is.
    pub(super) fn after(&self, id: &str) -> Option<Described<'_>> {
        let now = self.now?;
        Some(Described::in_full(now, now.model.find(id)?))
    }

    /// The settings then and now; where one point has none, those of the other.
    pub(super) fn configs(&self) -> (Config, Config) {
        let now = self.now.map(|now| now.model.config.clone());
        let then = match &self.then {
            Earlier::Nothing => None,
            Earlier::Part(then) => Some(then.part.config.clone()),
            Earlier::Whole(whole) if whole.settings(PROJECT_FILE).is_none() => None,
            Earlier::Whole(whole) => Some(whole.then.model.config.clone()),
        };
        let none = || Config::read(FileId(0), "", &mut Findings::new());
        let either = then.clone().or(now.clone()).unwrap_or_else(none);
        (then.unwrap_or(either.clone()), now.unwrap_or(either))
    }

    /// A parameter then and now.
    pub(super) fn parameters(&self, name: &str) -> (Option<&Parameter>, Option<&Parameter>) {
        let then = match &self.then {
            Earlier::Nothing => None,
            Earlier::Part(then) => then.part.parameters.get(name),
            // What cannot be read may have said the same.
            Earlier::Whole(whole) if whole.settings(PARAMETERS_FILE).is_none() => {
                self.now.and_then(|now| now.model.parameters.get(name))
            }
            Earlier::Whole(whole) => whole.then.model.parameters.get(name),
        };
        (then, self.now.and_then(|now| now.model.parameters.get(name)))
    }

    /// The texts of a settings file then and now, unless they are the same, or one of them cannot be read: what that said is neither
    /// new nor gone.
    pub(super) fn settings(&self, name: &str) -> Option<(Option<&str>, Option<&str>)> {
        let held = |analysis: &'_ Analysis| analysis.snapshot.position(name).map(|at| FileId(at as u32));
        let now = self.now.and_then(|now| Some((held(now)?, now)));
        let text_now = match now {
            Some((file, now)) => Some(&**now.snapshot.files[file.0 as usize].content.text()?),
            None => None,
        };
        match &self.then {
            Earlier::Nothing => Some((None, text_now)),
            Earlier::Whole(whole) => {
                let file = whole.settings(name)?;
                let same = file.is_some_and(|file| whole.stayed(file));
                (!same).then(|| (file.map(|file| &*whole.then.sources.file(file).text), text_now))
            }
            Earlier::Part(then) if now.is_some_and(|(file, _)| then.is_same(file)) => None,
            Earlier::Part(then) => {
                let text = then.text_at(name);
                let hidden = text.is_none() && then.unreadable.iter().any(|(path, _)| path.as_str() == name);
                (!hidden).then_some((text, text_now))
            }
        }
    }
}

/// Kinds in the order in which changes are told.
fn order(place: Ref) -> usize {
    match place {
        Ref::Requirement(_) => 0,
        Ref::Decision(_) => 1,
        Ref::Item(_) | Ref::Slot(_) => 2,
        Ref::Procedure(_) => 3,
        Ref::Record(_) => 4,
        Ref::Nonconformance(_) => 5,
        Ref::Waiver(_) => 6,
        Ref::Held(_) => 7,
    }
}
