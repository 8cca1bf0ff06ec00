//! What a commit's ancestors held and it does not, and whether that is accounted for.

use std::collections::{BTreeMap, BTreeSet};

use foldhash::{HashMap, HashMapExt};

use crate::git::Oid;
use crate::model::Id;

use super::events::{Event, Happened, Key};
use super::ledger::Ledger;
use super::things::{Family, Standing};

/// How everything stands that once left, or may leave now and might not before.
#[derive(Debug, Default)]
pub(in crate::history) struct Left {
    /// What is gone, by id and sort.
    pub(in crate::history) gone: BTreeMap<(Id, Family), Gone>,
    /// Records that are gone, and never were anything but drafts.
    pub(in crate::history) drafts: BTreeMap<Id, Gone>,
    /// What was once guarded and is a draft now, or was when it left.
    pub(in crate::history) once_guarded: BTreeSet<(Id, Family)>,
    /// What a requirement that left stood in for.
    pub(in crate::history) replaced_by: BTreeMap<Id, BTreeSet<Id>>,
    /// Folders of other projects that this one may be a copy of.
    pub(in crate::history) twins: BTreeSet<String>,
    /// How many files and comparisons could not be told, since git does not have what is needed.
    pub(in crate::history) untold: usize,
}

/// A thing that is gone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::history) struct Gone {
    /// What it was, in words.
    pub(in crate::history) what: &'static str,
    /// How it stood when it left; of several ways, the one that best accounts for it.
    pub(in crate::history) standing: Standing,
    /// A commit that held it.
    pub(in crate::history) held: Oid,
    /// The project's folder there.
    pub(in crate::history) folder: String,
    /// Its file there.
    pub(in crate::history) path: crate::text::RepoPath,
    /// The commit after that, which does not hold it.
    pub(in crate::history) without: Oid,
}

impl Left {
    /// Works it out for a commit of the ledger.
    pub(super) fn of(ledger: &Ledger, from: Oid, folder: &str) -> Left {
        let reach = ledger.reach(from, folder);
        let mut left = Left { untold: ledger.untold, ..Left::default() };
        let mut by_key: BTreeMap<Key, Vec<(usize, &Event)>> = BTreeMap::new();
        for at in &reach {
            left.twins.extend(ledger.nodes[*at].twins.iter().cloned());
            for event in &ledger.nodes[*at].events {
                let key = event.key();
                match event.happened {
                    Happened::Loosened => {
                        left.once_guarded.insert(key.clone());
                    }
                    Happened::Left => {
                        if event.thing.standing > Standing::Draft {
                            left.once_guarded.insert(key.clone());
                        }
                        for replaced in event.thing.replaces.iter().filter(|id| **id != event.thing.id) {
                            left.replaced_by.entry(replaced.clone()).or_default().insert(event.thing.id.clone());
                        }
                    }
                    Happened::Came => {}
                }
                by_key.entry(key).or_default().push((*at, event));
            }
        }
        let runs = Runs::of(ledger, &reach);
        for (key, events) in by_key {
            if !events.iter().any(|(_, event)| event.happened == Happened::Left) {
                continue;
            }
            let ever = left.once_guarded.contains(&key);
            let gone = runs.state_at_end(ledger, &events, ever).and_then(|state| state.told(ledger));
            let Some(gone) = gone else { continue };
            if gone.standing > Standing::Draft {
                left.gone.insert(key, gone);
            } else if key.1 == Family::Record {
                left.drafts.insert(key.0, gone);
            }
        }
        left
    }

    /// Takes over what is gone from a project that this one goes on from.
    pub(in crate::history) fn take_over(&mut self, other: Left) {
        let Left { gone, drafts, once_guarded, replaced_by, twins: _, untold } = other;
        for (key, gone) in gone {
            self.gone.entry(key).or_insert(gone);
        }
        for (id, gone) in drafts {
            self.drafts.entry(id).or_insert(gone);
        }
        self.once_guarded.extend(once_guarded);
        for (id, by) in replaced_by {
            self.replaced_by.entry(id).or_default().extend(by);
        }
        self.untold += untold;
    }
}

/// How a thing is gone at a commit.
#[derive(Clone, Copy)]
struct State<'l> {
    /// The commit that does not hold it any more, and what happened there.
    at: usize,
    event: &'l Event,
    standing: Standing,
}

impl<'l> State<'l> {
    fn of(at: usize, event: &'l Event, ever: bool) -> State<'l> {
        let standing = match event.thing.standing {
            Standing::Draft if ever => Standing::Guarded,
            other => other,
        };
        State { at, event, standing }
    }

    fn held(&self, ledger: &'l Ledger) -> Option<&'l (Oid, String)> {
        ledger.places.get(*ledger.nodes.get(self.at)?.parents.get(self.event.parent)?)
    }

    /// What accounts best comes first; the rest makes the choice the same in whatever order the ledger was written.
    fn order(&self, ledger: &Ledger) -> (Standing, Option<Oid>, Option<Oid>) {
        (self.standing, ledger.places.get(self.at).map(|(oid, _)| *oid), self.held(ledger).map(|(oid, _)| *oid))
    }

    fn told(&self, ledger: &Ledger) -> Option<Gone> {
        let (held, folder) = self.held(ledger)?.clone();
        let (what, standing, path) = (self.event.thing.sort.words(), self.standing, self.event.path.clone());
        Some(Gone { what, standing, held, folder, path, without: ledger.places.get(self.at)?.0 })
    }
}

/// Commits cut into runs, in each of which every commit is the only parent that the next one has: within a run a state can only
/// change by an event.
struct Runs {
    /// For each position of the ledger, where its run starts.
    start_of: Vec<usize>,
    /// Where runs start.
    starts: Vec<usize>,
    last: Option<usize>,
}

impl Runs {
    fn of(ledger: &Ledger, reach: &[usize]) -> Runs {
        let last = reach.last().copied();
        let mut start_of: Vec<usize> = (0..last.map_or(0, |last| last + 1)).collect();
        let mut goes_on = vec![false; start_of.len()];
        let mut starts = Vec::new();
        for at in reach {
            match ledger.nodes[*at].parents[..] {
                [parent] if !goes_on[parent] => {
                    goes_on[parent] = true;
                    start_of[*at] = start_of[parent];
                }
                _ => starts.push(*at),
            }
        }
        Runs { start_of, starts, last }
    }

    /// How a thing is gone from the last commit; none if it is not.
    fn state_at_end<'l>(&self, ledger: &'l Ledger, events: &[(usize, &'l Event)], ever: bool) -> Option<State<'l>> {
        let first = events.first()?.0;
        let mut stops: Vec<usize> = self.starts.iter().copied().filter(|at| *at > first).collect();
        stops.extend(events.iter().map(|(at, _)| at));
        stops.sort_unstable();
        stops.dedup();
        // For each run, the state from some of its commits on.
        let mut states: HashMap<usize, Vec<(usize, Option<State<'l>>)>> = HashMap::new();
        let mut rest = events;
        for at in stops {
            let (own, after) = rest.split_at(rest.iter().take_while(|(own, _)| *own == at).count());
            rest = after;
            let is_back = own.iter().any(|(_, event)| event.happened != Happened::Left);
            let inherited = ledger.nodes[at].parents.iter().filter_map(|parent| self.state(&states, *parent));
            let now = own.iter().map(|(_, event)| State::of(at, event, ever));
            let best = now.chain(inherited).min_by_key(|state| state.order(ledger)).filter(|_| !is_back);
            states.entry(self.start_of[at]).or_default().push((at, best));
        }
        self.last.and_then(|last| self.state(&states, last))
    }

    fn state<'l>(&self, states: &HashMap<usize, Vec<(usize, Option<State<'l>>)>>, at: usize) -> Option<State<'l>> {
        let run = states.get(&self.start_of[at])?;
        run.iter().rev().find(|(from, _)| *from <= at).and_then(|(_, state)| *state)
    }
}
