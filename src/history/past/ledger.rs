//! Every commit with what it did to the things that must not leave silently.

use foldhash::{HashMap, HashMapExt, HashSet, HashSetExt};

use crate::git::{GitError, Oid, Repo};
use crate::model::Id;
use crate::source::PROJECT_FILE;

use super::events::{self, Event, Happened};
use super::steps::{Edge, edges};
use super::things::{Family, Thing};

/// A commit, with the folder that the project has in it.
pub(super) type Place = (Oid, String);

/// What a commit did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Node {
    /// Positions of its parents in the ledger, in their order.
    pub(super) parents: Vec<usize>,
    /// Folders in it that are projects of their own.
    pub(super) nested: Vec<String>,
    /// Folders of other projects that it may be a copy of, if it begins in this commit.
    pub(super) twins: Vec<String>,
    /// What came, went, or stands otherwise.
    pub(super) events: Vec<Event>,
}

/// Commits, parents always before their children.
#[derive(Debug, Default)]
pub(super) struct Ledger {
    pub(super) places: Vec<Place>,
    pub(super) nodes: Vec<Node>,
    /// What a file holds that cannot be read: what it held before.
    pub(super) carried: HashMap<Oid, Thing>,
    /// Files and comparisons for which git does not have what is needed.
    pub(super) untold: usize,
    known: HashMap<Place, usize>,
}

impl Ledger {
    /// Puts together what was written down.
    pub(super) fn new(places: Vec<Place>, nodes: Vec<Node>, carried: HashMap<Oid, Thing>) -> Ledger {
        let known = places.iter().enumerate().map(|(at, place)| (place.clone(), at)).collect();
        Ledger { places, nodes, carried, untold: 0, known }
    }

    /// Whether a commit is in it, and with it all of its ancestors.
    pub(super) fn has(&self, oid: Oid, folder: &str) -> bool {
        self.find(oid, folder).is_some()
    }

    pub(super) fn find(&self, oid: Oid, folder: &str) -> Option<usize> {
        self.known.get(&(oid, folder.to_string())).copied()
    }

    /// Adds a commit and whichever of its ancestors are not in it yet, of the project that stands in `prefix`. Where it stood
    /// in each of them the repository must have been told.
    pub(super) fn extended(mut self, repo: &Repo, from: Oid, prefix: &str) -> Result<Ledger, GitError> {
        let mut found = self.edges_from(repo, from, prefix)?;
        let from = (from, repo.folder_in(from, prefix).into_owned());
        let order = self.parents_first(&from, &found);
        let first = self.places.len();
        for place in order {
            self.known.insert(place.clone(), self.places.len());
            self.places.push(place);
            self.nodes.push(Node::default());
        }
        let mut own: Vec<Vec<Edge>> =
            self.places[first..].iter().map(|place| found.remove(place).unwrap_or_default()).collect();
        for (at, edges) in own.iter_mut().enumerate().map(|(at, edges)| (first + at, edges)) {
            let known = |edge: &Edge| self.find(edge.parent, &edge.folder);
            self.nodes[at].parents = edges.iter().filter_map(known).collect();
            self.nodes[at].twins = edges.iter().flat_map(|edge| edge.twins.iter().cloned()).collect();
            self.nodes[at].nested = self.nested(repo, at, edges)?;
            let (oid, folder) = &self.places[at];
            for edge in edges.iter_mut().filter(|edge| !edge.toggled.is_empty()) {
                edge.told &= edge.add_toggled(repo, (*oid, folder)).is_ok();
            }
        }
        events::write(&mut self, repo, first, &own)?;
        Ok(self)
    }

    /// The edges of every commit that is not known yet.
    fn edges_from(&self, repo: &Repo, from: Oid, prefix: &str) -> Result<HashMap<Place, Vec<Edge>>, GitError> {
        let mut seen = HashSet::new();
        let mut waiting = vec![from];
        let mut new: Vec<Place> = Vec::new();
        while let Some(oid) = waiting.pop() {
            let place = (oid, repo.folder_in(oid, prefix).into_owned());
            if !self.known.contains_key(&place) && seen.insert(oid) {
                waiting.extend(repo.parents(oid)?);
                new.push(place);
            }
        }
        let found = edges(repo, prefix, &new)?;
        Ok(new.into_iter().zip(found).collect())
    }

    /// New commits that are reached by those edges, each after its parents.
    fn parents_first(&self, from: &Place, found: &HashMap<Place, Vec<Edge>>) -> Vec<Place> {
        let mut order = Vec::with_capacity(found.len());
        let mut seen: HashSet<Place> = HashSet::new();
        // A place and how many of its parents have been entered; histories are too long to recurse.
        let mut stack: Vec<(Place, usize)> = Vec::new();
        let mut enter = Some(from.clone());
        loop {
            if let Some(place) = enter.take()
                && !self.known.contains_key(&place)
                && seen.insert(place.clone())
            {
                stack.push((place, 0));
            }
            let Some((place, next)) = stack.last_mut() else { return order };
            match found.get(place).and_then(|edges| edges.get(*next)) {
                Some(edge) => {
                    *next += 1;
                    enter = Some((edge.parent, edge.folder.clone()));
                }
                None => order.extend(stack.pop().map(|(place, _)| place)),
            }
        }
    }

    /// Which folders of a commit are projects of their own: those of its first parent, as far as they did not change.
    fn nested(&self, repo: &Repo, at: usize, edges: &[Edge]) -> Result<Vec<String>, GitError> {
        let (oid, folder) = &self.places[at];
        let Some((first, parent)) = edges.first().zip(self.nodes[at].parents.first()) else {
            let Ok(files) = repo.tree_files(*oid, folder) else { return Ok(Vec::new()) };
            let inside = files.iter().filter(|file| file.path.file_name() == PROJECT_FILE);
            let folders = inside.map(|file| file.path.folder().to_string()).filter(|folder| !folder.is_empty());
            return Ok(folders.collect());
        };
        let mut nested = self.nodes[*parent].nested.clone();
        for toggled in &first.toggled {
            match nested.iter().position(|own| own == toggled) {
                Some(own) => {
                    nested.remove(own);
                }
                None => nested.push(toggled.clone()),
            }
        }
        Ok(nested)
    }

    /// Positions of a commit and all of its ancestors, parents first.
    pub(super) fn reach(&self, from: Oid, folder: &str) -> Vec<usize> {
        let Some(from) = self.find(from, folder) else { return Vec::new() };
        let mut reached = vec![false; from + 1];
        reached[from] = true;
        for at in (0..=from).rev() {
            if reached[at] {
                self.nodes[at].parents.iter().for_each(|parent| reached[*parent] = true);
            }
        }
        (0..=from).filter(|at| reached[*at]).collect()
    }

    /// Drops the commits that are no ancestors of this one, once they are the greater part: branches that were given up, history that
    /// was rewritten.
    pub(super) fn forget_others(&mut self, from: Oid, folder: &str) {
        let reach = self.reach(from, folder);
        if self.nodes.len() <= 2 * reach.len() + 64 {
            return;
        }
        let mut place_of: HashMap<usize, usize> = HashMap::new();
        let mut nodes = Vec::with_capacity(reach.len());
        for (new, old) in reach.iter().enumerate() {
            place_of.insert(*old, new);
            let mut node = std::mem::take(&mut self.nodes[*old]);
            node.parents = node.parents.iter().filter_map(|parent| place_of.get(parent).copied()).collect();
            nodes.push(node);
        }
        let places = reach.iter().map(|old| self.places[*old].clone()).collect();
        *self = Ledger::new(places, nodes, std::mem::take(&mut self.carried));
    }

    /// Everything that ever left.
    pub(super) fn ever_left(&self) -> HashSet<(Id, Family)> {
        let left = self.nodes.iter().flat_map(|node| &node.events).filter(|event| event.happened == Happened::Left);
        left.map(Event::key).collect()
    }
}
