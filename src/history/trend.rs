//! How the rows due before an event stood, commit by commit along the first parents.
//!
//! Each point is the project as that commit holds it, read and judged by the same code as an answer about that commit, on the
//! commit's own day. What a point comes to depends on the commit's files, the event and the day alone, and is kept between runs. A commit
//! that cannot be read, or holds no project or no such event, is a point that says so. Nothing is ordered by date.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use foldhash::{HashMap, HashMapExt};
use jiff::civil::Date;
use rayon::prelude::*;

use crate::analysis::{self, Analysis, Request};
use crate::diag::{Class, Finding, Place, catalogue};
use crate::git::{CommitInfo, GitError, Oid, Repo};
use crate::kept::{self, Kept, Taker, Writer};
use crate::model::kinds::DecisionStatus;
use crate::source::{PROJECT_FILE, Revision, SourceError};
use crate::state::State;
use crate::state::standing::{nonconformance_due, open_nonconformances};

use super::changes::CommitRef;
use super::folder::look_back;
use super::progress::Progress;
use super::then::breaks;

/// How many points there are at most, if nothing else is asked for: what fits across a terminal of 80 columns.
pub const MOST_POINTS: usize = 60;
/// How many points of one event are kept between runs.
const MOST_KEPT: usize = 50_000;

/// Which commits become points.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// Evenly by number, [`MOST_POINTS`] at most, the first and the last among them.
    #[default]
    Evenly,
    /// Every one.
    Commit,
    /// The last of each day, by its author's date.
    Day,
    /// The last of each week, which starts on a Monday.
    Week,
}

/// What is asked.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The event's name.
    pub event: &'a str,
    /// Which commits.
    pub pace: Pace,
    /// The day on which every point is asked about; none: each on its commit's own.
    pub today: Option<Date>,
    /// Moved on with every commit that is read.
    pub progress: &'a Progress,
}

/// How the rows due before an event stood.
#[derive(Clone, Debug)]
pub struct Trend {
    /// How many commits there are along the first parents.
    pub commits: usize,
    /// Every how many commits there is a point, where they are taken evenly.
    pub every: usize,
    /// Oldest first.
    pub points: Vec<Point>,
    /// Whether there are commits before the first that the repository does not have.
    pub cut_off: bool,
}

/// One commit.
#[derive(Clone, Debug)]
pub struct Point {
    /// The commit.
    pub commit: CommitRef,
    /// How many commits it stands for: itself, and those since the point before.
    pub stands_for: usize,
    /// Annotated tags on those commits.
    pub tags: Vec<String>,
    /// How things stood.
    pub stood: Stood,
}

/// How things stood at a commit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stood {
    /// Counted.
    Counted(Counts),
    /// The commit holds no project at this place.
    NoProject,
    /// Its project has no such event.
    NoEvent,
    /// The commit cannot be read, with the reason.
    Unreadable(String),
}

/// What is counted at a commit.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Rows due, for each of [`State::ALL`].
    pub rows: [usize; State::ALL.len()],
    /// Gaps of what is due, as the files of that commit show them; those that only history shows are not counted.
    pub gaps: usize,
    /// Open nonconformances due.
    pub nonconformances: usize,
    /// Faults in the files: what may make the other numbers wrong. Those that only history shows are not counted.
    pub faults: usize,
    /// Files that could not be read in full, whose rows may be missing.
    pub unread: usize,
    /// Accepted decisions.
    pub decisions: BTreeSet<String>,
}

impl Counts {
    /// Rows due.
    pub fn due(&self) -> usize {
        self.rows.iter().sum()
    }

    /// Of these, the open ones.
    pub fn open(&self) -> usize {
        State::ALL.iter().zip(self.rows).filter(|(state, _)| state.is_open()).map(|(_, count)| count).sum()
    }

    fn of(analysis: &Analysis, event: usize) -> Counts {
        let mut counts = Counts::default();
        for row in analysis.rows(Some(event)).iter().filter(|row| row.event <= event) {
            if let Some(at) = State::ALL.iter().position(|state| *state == row.state) {
                counts.rows[at] += 1;
            }
        }
        let (facts, model) = (analysis.facts(), &analysis.model);
        let due = |at: &usize| nonconformance_due(model, &model.nonconformances[*at]) <= event;
        counts.gaps = analysis.findings.of(Class::Gap).filter(|gap| gap.due.counts_before(event)).count();
        counts.nonconformances = open_nonconformances(&facts, Some(event)).iter().filter(|(at, _)| due(at)).count();
        counts.faults = analysis.findings.of(Class::Fault).count();
        let unread: BTreeSet<String> = analysis
            .findings
            .iter()
            .filter(|finding| breaks(finding) || catalogue::hides(finding.code))
            .filter_map(|finding| match &finding.place {
                Place::At(span) => Some(analysis.path(span.file).to_string()),
                Place::Path(path) => Some(path.to_string()),
                Place::Project => None,
            })
            .collect();
        counts.unread = unread.len();
        let accepted = model.decisions.iter().filter(|decision| decision.status == DecisionStatus::Accepted);
        counts.decisions = accepted.map(|decision| decision.head.id.value.to_string()).collect();
        counts
    }
}

/// Works out the points up to a commit.
///
/// # Errors
/// If git cannot walk the commits. One that cannot be read is a point.
pub fn trend(repo: &Repo, prefix: &str, end: Oid, asked: Asked<'_>, kept: &Kept) -> Result<Trend, GitError> {
    let mut line = repo.walk(end, None, true)?;
    line.reverse();
    let (chosen, every) = chosen(repo, &line, asked.pace)?;
    look_back(repo, prefix, Some(end))?;
    let mut tags: BTreeMap<Oid, Vec<String>> = BTreeMap::new();
    for (name, oid) in repo.annotated_tags()? {
        tags.entry(oid).or_default().push(name);
    }
    let name = kept::name("trend", &[prefix, asked.event]);
    let mut known = kept.read(&name).and_then(|bytes| read(&bytes)).unwrap_or_default();
    let mut wanted = Vec::with_capacity(chosen.len());
    for at in &chosen {
        let commit = repo.commit(line[*at])?;
        let today = asked.today.unwrap_or(commit.made_on);
        let tree = repo.project_tree(commit.oid, Repo::TOP).ok().flatten();
        let folder = repo.folder_in(commit.oid, prefix).into_owned();
        wanted.push(Wanted { key: Key { tree, folder, today }, commit });
    }
    // What git does not have now it may have later.
    if work_out(repo, &wanted, asked, &mut known) && !repo.has_missed() {
        kept.write(&name, &write(&known, &wanted));
    }
    let mut points = Vec::with_capacity(chosen.len());
    let mut from = 0;
    for (at, wanted) in chosen.iter().zip(&wanted) {
        let since = &line[from..=*at];
        from = at + 1;
        points.push(Point {
            // The day that it was asked about.
            commit: CommitRef { date: wanted.commit.made_on.to_string(), ..CommitRef::of(&wanted.commit) },
            stands_for: since.len(),
            tags: since.iter().filter_map(|oid| tags.get(oid)).flatten().cloned().collect(),
            stood: known.get(&wanted.key).cloned().unwrap_or(Stood::NoProject),
        });
    }
    Ok(Trend { commits: line.len(), every, points, cut_off: repo.is_cut_off() })
}

/// Positions of the commits that become points, and every how many there is one.
fn chosen(repo: &Repo, line: &[Oid], pace: Pace) -> Result<(Vec<usize>, usize), GitError> {
    let last = line.len().saturating_sub(1);
    let all = 0..line.len();
    let period = |commit: CommitInfo| match pace {
        Pace::Week => commit.made_on.first_of_its_week(),
        _ => commit.made_on,
    };
    match pace {
        Pace::Commit => Ok((all.collect(), 1)),
        Pace::Evenly => {
            // The first one is one of them, wherever the steps back from the last end.
            let every = if line.len() <= MOST_POINTS { 1 } else { last.div_ceil(MOST_POINTS - 2) };
            let mut chosen: Vec<usize> = all.rev().step_by(every).collect();
            chosen.reverse();
            if chosen.first().is_some_and(|first| *first > 0) {
                chosen.insert(0, 0);
            }
            Ok((chosen, every))
        }
        Pace::Day | Pace::Week => {
            let periods: Result<Vec<Date>, GitError> = line.iter().map(|oid| repo.commit(*oid).map(period)).collect();
            let periods = periods?;
            let ends = |at: &usize| periods.get(at + 1).is_none_or(|next| periods.get(*at) != Some(next));
            Ok((all.filter(ends).collect(), 1))
        }
    }
}

/// The Monday of a day's week.
trait Week {
    fn first_of_its_week(self) -> Date;
}

impl Week for Date {
    fn first_of_its_week(self) -> Date {
        let back = i64::from(self.weekday().to_monday_zero_offset());
        self.checked_sub(jiff::Span::new().days(back)).unwrap_or(self)
    }
}

/// What a point depends on: everything that the commit holds, where the project is in it, and the day.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Key {
    /// The commit's top folder; none if it cannot be read.
    tree: Option<Oid>,
    folder: String,
    today: Date,
}

struct Wanted {
    key: Key,
    commit: CommitInfo,
}

type Known = HashMap<Key, Stood>;

/// Works out what is not known yet, on every thread; whether there was anything.
fn work_out(repo: &Repo, wanted: &[Wanted], asked: Asked<'_>, known: &mut Known) -> bool {
    let mut missing: BTreeMap<&Key, Oid> = BTreeMap::new();
    for wanted in wanted.iter().filter(|wanted| !known.contains_key(&wanted.key)) {
        missing.insert(&wanted.key, wanted.commit.oid);
    }
    let missing: Vec<(&Key, Oid)> = missing.into_iter().collect();
    asked.progress.begin(missing.len());
    let piece = missing.len().div_ceil(rayon::current_num_threads()).max(1);
    let pieces = missing.par_chunks(piece).map(|chunk| {
        let own = repo.reopen().map(Arc::new).map_err(|error| error.to_string());
        let one = |(key, oid): &(&Key, Oid)| {
            let stood = own.clone().map_or_else(Stood::Unreadable, |repo| stood(repo, *oid, key, asked.event));
            asked.progress.step();
            ((*key).clone(), stood)
        };
        chunk.iter().map(one).collect::<Vec<_>>()
    });
    let found: Vec<Vec<(Key, Stood)>> = pieces.collect();
    let any = !missing.is_empty();
    known.extend(found.into_iter().flatten());
    any
}

/// How things stood at a commit, through the same lines as every answer about it.
fn stood(repo: Arc<Repo>, oid: Oid, key: &Key, event: &str) -> Stood {
    let read = Revision::open(repo, oid, &key.folder).and_then(|source| analysis::run(&source, Request::on(key.today)));
    match read {
        Ok(analysis) => match analysis.model.config.event_index(event) {
            Some(event) => Stood::Counted(Counts::of(&analysis, event)),
            None => unreadable_settings(&analysis).map_or(Stood::NoEvent, Stood::Unreadable),
        },
        Err(SourceError::NoProjectInCommit { .. }) => Stood::NoProject,
        Err(error) => Stood::Unreadable(error.to_string()),
    }
}

/// Why the project file, which names the events, could not be read.
fn unreadable_settings(analysis: &Analysis) -> Option<String> {
    let own = |finding: &&Finding| matches!(&finding.place, Place::Path(path) if path.as_str() == PROJECT_FILE);
    analysis.findings.of(Class::Fault).find(own).map(|finding| finding.message.clone())
}

/// As bytes to be kept: what is wanted now, and of the rest what there is room for. What could not be read is tried again.
fn write(known: &Known, wanted: &[Wanted]) -> Vec<u8> {
    let now: BTreeSet<&Key> = wanted.iter().map(|wanted| &wanted.key).collect();
    let mut rest: Vec<&Key> = known.keys().filter(|key| !now.contains(key)).collect();
    rest.sort_unstable();
    rest.truncate(MOST_KEPT.saturating_sub(now.len()));
    let firm = |key: &&Key| key.tree.is_some() && !matches!(known.get(*key), None | Some(Stood::Unreadable(_)));
    let keys: Vec<&Key> = now.into_iter().chain(rest).filter(firm).collect();
    let mut out = Writer::default();
    out.number(keys.len());
    for key in keys {
        let (Some(tree), Some(stood)) = (key.tree, known.get(key)) else { continue };
        out.bytes(tree.as_bytes());
        out.text(&key.folder);
        out.text(&key.today.to_string());
        match stood {
            Stood::NoProject => out.number(0),
            Stood::NoEvent => out.number(1),
            Stood::Counted(counts) => {
                out.number(2);
                counts.rows.iter().for_each(|count| out.number(*count));
                for count in [counts.gaps, counts.nonconformances, counts.faults, counts.unread] {
                    out.number(count);
                }
                out.number(counts.decisions.len());
                counts.decisions.iter().for_each(|id| out.text(id));
            }
            Stood::Unreadable(_) => {}
        }
    }
    out.finish()
}

/// From bytes; none if they are anything else.
fn read(bytes: &[u8]) -> Option<Known> {
    let mut from = Taker::new(bytes);
    let mut known = Known::new();
    for _ in 0..from.count()? {
        let tree = Some(Oid::from_bytes(from.bytes(20)?)?);
        let folder = from.text()?.to_string();
        let today = from.text()?.parse().ok()?;
        let stood = match from.number()? {
            0 => Stood::NoProject,
            1 => Stood::NoEvent,
            2 => Stood::Counted(counts(&mut from)?),
            _ => return None,
        };
        known.insert(Key { tree, folder, today }, stood);
    }
    from.is_done().then_some(known)
}

fn counts(from: &mut Taker<'_>) -> Option<Counts> {
    let mut counts = Counts::default();
    for count in &mut counts.rows {
        *count = from.number()?;
    }
    for count in [&mut counts.gaps, &mut counts.nonconformances, &mut counts.faults, &mut counts.unread] {
        *count = from.number()?;
    }
    for _ in 0..from.count()? {
        counts.decisions.insert(from.text()?.to_string());
    }
    Some(counts)
}
