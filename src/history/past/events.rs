//! What a commit did to the things that must not leave silently.

use std::collections::BTreeMap;

use foldhash::{HashMap, HashMapExt, HashSet};

use crate::git::{GitError, Oid, Repo};
use crate::model::Id;
use crate::text::RepoPath;

use super::super::trail::side_by_side;
use super::ledger::Ledger;
use super::steps::{Edge, Step};
use super::things::{Family, Reading, Standing, Thing, read};

/// What happened to a thing between a commit and one of its parents.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Happened {
    /// It was there, and is not.
    Left,
    /// It is there again.
    Came,
    /// It is there, and may leave now: a draft.
    Loosened,
}

/// One such happening.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Event {
    /// The thing as the parent held it; of one that came, as the commit holds it.
    pub(super) thing: Thing,
    pub(super) happened: Happened,
    /// Which of the commit's parents it is seen from.
    pub(super) parent: usize,
    /// Its file there.
    pub(super) path: RepoPath,
}

/// What tells things apart: the id and the sort.
pub(super) type Key = (Id, Family);

impl Event {
    pub(super) fn key(&self) -> Key {
        key(&self.thing)
    }
}

fn key(thing: &Thing) -> Key {
    (thing.id.clone(), thing.sort.family())
}

/// Writes the events of all commits from `first` on.
pub(super) fn write(ledger: &mut Ledger, repo: &Repo, first: usize, edges: &[Vec<Edge>]) -> Result<(), GitError> {
    let steps = || edges.iter().flatten().flat_map(|edge| &edge.steps);
    let mut files = Files { repo, read: HashMap::new() };
    let changed = steps().filter(|step| step.old.is_some());
    files.fetch(changed.flat_map(|step| [step.old, step.new]).flatten().collect())?;
    let mut left = ledger.ever_left();
    let mut added_too = false;
    for (at, edges) in edges.iter().enumerate() {
        for (which, edge) in edges.iter().enumerate() {
            if !edge.told {
                ledger.untold += 1;
                continue;
            }
            // What comes need only be known once something has left that it could be; from there on, all of it.
            if !left.is_empty() && !added_too {
                added_too = true;
                files.fetch(steps().filter_map(|step| step.new).collect())?;
            }
            carry(ledger, &mut files, edge);
            let events = Between { ledger, node: first + at, which, edge }.events(&mut files, &left);
            left.extend(events.iter().filter(|event| event.happened == Happened::Left).map(Event::key));
            ledger.nodes[first + at].events.extend(events);
        }
    }
    ledger.untold += files.read.values().filter(|reading| **reading == Reading::Missing).count();
    Ok(())
}

/// Files of past commits, each read once.
struct Files<'r> {
    repo: &'r Repo,
    read: HashMap<Oid, Reading>,
}

impl Files<'_> {
    /// Reads those that have not been, on every thread.
    fn fetch(&mut self, oids: HashSet<Oid>) -> Result<(), GitError> {
        let mut oids: Vec<Oid> = oids.into_iter().filter(|oid| !self.read.contains_key(oid)).collect();
        oids.sort_unstable();
        let readings = side_by_side(self.repo, &oids, |repo, oid| read(repo, *oid))?;
        self.read.extend(oids.into_iter().zip(readings));
        Ok(())
    }

    fn of(&mut self, oid: Oid) -> &Reading {
        let repo = self.repo;
        self.read.entry(oid).or_insert_with(|| read(repo, oid))
    }

    /// The thing in a file; in one that cannot be read, what it held before, or what can be made out.
    fn thing(&mut self, oid: Oid, carried: &HashMap<Oid, Thing>) -> Option<Thing> {
        match self.of(oid) {
            Reading::Nothing => None,
            Reading::Whole(thing) => Some(thing.clone()),
            Reading::Broken(made_out) => carried.get(&oid).or(made_out.as_ref()).cloned(),
            Reading::Missing => carried.get(&oid).cloned(),
        }
    }
}

/// What a file held before it could not be read any more.
fn carry(ledger: &mut Ledger, files: &mut Files<'_>, edge: &Edge) {
    for step in &edge.steps {
        let (Some(old), Some(new)) = (step.old, step.new) else { continue };
        let unread = matches!(files.of(new), Reading::Broken(_) | Reading::Missing);
        if unread
            && !ledger.carried.contains_key(&new)
            && let Some(thing) = files.thing(old, &ledger.carried)
        {
            ledger.carried.insert(new, thing);
        }
    }
}

/// A commit beside one of its parents.
struct Between<'l> {
    ledger: &'l Ledger,
    node: usize,
    which: usize,
    edge: &'l Edge,
}

/// Things on one side, with their files.
type Things = BTreeMap<Key, (Thing, RepoPath)>;

impl Between<'_> {
    fn events(&self, files: &mut Files<'_>, left: &HashSet<Key>) -> Vec<Event> {
        let steps = self.own_steps();
        let carried = &self.ledger.carried;
        let mut things = |side: Vec<(Oid, &RepoPath)>| -> Things {
            let found = side.into_iter().filter_map(|(oid, path)| Some((files.thing(oid, carried)?, path.clone())));
            found.map(|(thing, path)| (key(&thing), (thing, path))).collect()
        };
        let changed = |step: &&Side<'_>| step.old.is_some();
        let old = things(steps.iter().filter_map(|step| Some((step.old?, step.path))).collect());
        let mut new = things(steps.iter().filter(changed).filter_map(Side::now).collect());
        if !left.is_empty() || old.keys().any(|key| !new.contains_key(key)) {
            new.extend(things(steps.iter().filter(|step| step.old.is_none()).filter_map(Side::now).collect()));
        }
        let mut events = Vec::new();
        let mut say = |happened, (thing, path): &(Thing, RepoPath)| {
            events.push(Event { thing: thing.clone(), happened, parent: self.which, path: path.clone() });
        };
        // One whose id was none, and is one now, is still there.
        let mended = |(thing, path): &(Thing, RepoPath)| {
            let here = |(is, own): &(Thing, RepoPath)| own == path && is.sort.family() == thing.sort.family();
            !Id::is_valid(thing.id.as_str()) && new.values().any(here)
        };
        for (key, was) in &old {
            match new.get(key) {
                None if mended(was) => {}
                None => say(Happened::Left, was),
                Some((is, _)) if is.standing == Standing::Draft && was.0.standing != Standing::Draft => {
                    say(Happened::Loosened, was);
                }
                Some(_) => {}
            }
        }
        for (_, is) in new.iter().filter(|(key, _)| left.contains(*key) && !old.contains_key(*key)) {
            say(Happened::Came, is);
        }
        events
    }

    /// The files that differ and are the project's own, without those that were only moved.
    fn own_steps(&self) -> Vec<Side<'_>> {
        let nested_now = &self.ledger.nodes[self.node].nested;
        let parent = self.ledger.nodes[self.node].parents.get(self.which);
        let nested_then = parent.map(|parent| &self.ledger.nodes[*parent].nested);
        let mut sides: Vec<Side<'_>> =
            self.edge.steps.iter().map(|step| Side::of(step, nested_then, nested_now)).collect();
        let mut arrived: HashMap<Oid, usize> = HashMap::new();
        for oid in sides.iter().filter_map(|side| side.new) {
            *arrived.entry(oid).or_default() += 1;
        }
        let mut moved: HashMap<Oid, usize> = HashMap::new();
        for side in &mut sides {
            let Some(old) = side.old else { continue };
            let Some(count) = arrived.get_mut(&old).filter(|count| **count > 0) else { continue };
            *count -= 1;
            *moved.entry(old).or_default() += 1;
            side.old = None;
        }
        for side in &mut sides {
            let Some(count) = side.new.and_then(|new| moved.get_mut(&new)).filter(|count| **count > 0) else {
                continue;
            };
            *count -= 1;
            side.new = None;
        }
        sides.retain(|side| side.old.is_some() || side.new.is_some());
        sides
    }
}

/// A file that differs, as far as it is the project's own on either side.
struct Side<'s> {
    path: &'s RepoPath,
    old: Option<Oid>,
    new: Option<Oid>,
}

impl<'s> Side<'s> {
    fn now(&self) -> Option<(Oid, &'s RepoPath)> {
        self.new.map(|oid| (oid, self.path))
    }

    fn of(step: &'s Step, then: Option<&Vec<String>>, now: &[String]) -> Side<'s> {
        let foreign = |nested: &[String]| {
            let below = |folder: &String| {
                step.path.as_str().strip_prefix(folder.as_str()).is_some_and(|rest| rest.starts_with('/'))
            };
            nested.iter().any(below)
        };
        let old = step.old.filter(|_| !then.is_some_and(|nested| foreign(nested)));
        let new = step.new.filter(|_| !foreign(now));
        Side { path: &step.path, old, new }
    }
}
