//! How the rows due before an event stood over history.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::analysis::Analysis;
use crate::history::{Counts, Pace, Point, Stood, Trend};
use crate::state::State;

use super::Heading;

/// How the rows due before an event stood over history.
#[derive(Clone, Debug, Serialize)]
pub struct TrendView {
    /// Where it came from.
    #[serde(flatten)]
    pub heading: Heading,
    /// The event.
    pub event: String,
    /// By what the commits were chosen: evenly, commit, day or week.
    pub by: &'static str,
    /// How many commits there are along the first parents.
    pub commits: usize,
    /// Every how many of them there is a point, where they were chosen evenly; else 1.
    pub every: usize,
    /// The same in words.
    pub chosen: String,
    /// Whether the repository does not have the commits before the first.
    pub cut_off: bool,
    /// Oldest first.
    pub points: Vec<TrendPoint>,
}

/// One commit.
#[derive(Clone, Debug, Serialize)]
pub struct TrendPoint {
    /// The commit.
    pub oid: String,
    /// Its author's date, where the author was.
    pub date: String,
    /// What it says of itself.
    pub summary: String,
    /// How many commits it stands for: itself, and those since the point before.
    pub commits: usize,
    /// Why nothing is counted, if nothing is.
    pub problem: Option<String>,
    /// Rows due, by state.
    pub counts: Option<BTreeMap<&'static str, usize>>,
    /// Rows due.
    pub due: Option<usize>,
    /// Of these, the open ones.
    pub open: Option<usize>,
    /// Gaps of what is due, as the files of that commit show them; those that only history shows are not counted.
    pub gaps: Option<usize>,
    /// Open nonconformances due.
    pub nonconformances: Option<usize>,
    /// Faults in the files of that commit; those that only history shows are not counted.
    pub faults: Option<usize>,
    /// Files that could not be read in full.
    pub unread: Option<usize>,
    /// How many more rows are due than at the last point that was counted.
    pub scope: Option<i64>,
    /// Annotated tags on the commits that it stands for.
    pub tags: Vec<String>,
    /// Decisions accepted since the last point that was counted.
    pub decisions: Vec<String>,
}

impl TrendPoint {
    /// Rows due in a state; none where nothing is counted.
    pub fn count(&self, state: State) -> Option<usize> {
        self.counts.as_ref().map(|counts| counts.get(state.word()).copied().unwrap_or_default())
    }

    /// What happened here, in words; empty for nothing.
    pub fn happened(&self) -> Vec<String> {
        let mut words: Vec<String> = self.tags.iter().map(|tag| format!("tag {tag}")).collect();
        words.extend(self.decisions.iter().map(|id| format!("decision {id}")));
        match (self.scope, self.due) {
            (Some(scope), Some(due)) if scope != 0 => {
                words.push(format!("rows due: {} instead of {}", due, due as i64 - scope));
            }
            _ => {}
        }
        words.extend(self.problem.clone());
        let unread = self.unread.filter(|unread| *unread > 0);
        words.extend(unread.map(|unread| match unread {
            1 => "a file cannot be read, and rows may be missing".to_string(),
            _ => format!("{unread} files cannot be read, and rows may be missing"),
        }));
        words
    }
}

/// Makes the view.
pub fn trend(analysis: &Analysis, event: &str, trend: &Trend, pace: Pace) -> TrendView {
    let mut points = Vec::with_capacity(trend.points.len());
    let mut last: Option<&Counts> = None;
    for own in &trend.points {
        points.push(point(own, last));
        if let Stood::Counted(counts) = &own.stood {
            last = Some(counts);
        }
    }
    TrendView {
        heading: Heading::of(analysis),
        event: event.to_string(),
        by: match pace {
            Pace::Evenly => "evenly",
            Pace::Commit => "commit",
            Pace::Day => "day",
            Pace::Week => "week",
        },
        commits: trend.commits,
        every: trend.every,
        chosen: words(trend, pace),
        cut_off: trend.cut_off,
        points,
    }
}

fn words(trend: &Trend, pace: Pace) -> String {
    let all = match trend.commits {
        1 => "1 commit".to_string(),
        commits => format!("{commits} commits"),
    };
    match pace {
        Pace::Evenly if trend.every > 1 => {
            let ending = match (trend.every % 100, trend.every % 10) {
                (11..=13, _) => "th",
                (_, 1) => "st",
                (_, 2) => "nd",
                (_, 3) => "rd",
                _ => "th",
            };
            format!("every {}{ending} of {all}, and the first", trend.every)
        }
        Pace::Evenly | Pace::Commit => all,
        Pace::Day => format!("the last of each day, of {all}"),
        Pace::Week => format!("the last of each week, of {all}"),
    }
}

fn point(point: &Point, last: Option<&Counts>) -> TrendPoint {
    let counts = match &point.stood {
        Stood::Counted(counts) => Some(counts),
        _ => None,
    };
    let problem = match &point.stood {
        Stood::Counted(_) => None,
        Stood::NoProject => Some("the commit holds no project here".to_string()),
        Stood::NoEvent => Some("the project had no such event".to_string()),
        Stood::Unreadable(why) => Some(format!("it cannot be read: {why}")),
    };
    let decisions = counts.map(|counts| {
        let before = |id: &&String| !last.is_some_and(|last| last.decisions.contains(*id));
        counts.decisions.iter().filter(before).cloned().collect()
    });
    TrendPoint {
        oid: point.commit.oid.to_string(),
        date: point.commit.date.clone(),
        summary: point.commit.summary.clone(),
        commits: point.stands_for,
        problem,
        counts: counts.map(|counts| State::ALL.iter().map(|state| state.word()).zip(counts.rows).collect()),
        due: counts.map(Counts::due),
        open: counts.map(Counts::open),
        gaps: counts.map(|counts| counts.gaps),
        nonconformances: counts.map(|counts| counts.nonconformances),
        faults: counts.map(|counts| counts.faults),
        unread: counts.map(|counts| counts.unread),
        scope: counts.zip(last).map(|(counts, last)| counts.due() as i64 - last.due() as i64),
        tags: point.tags.clone(),
        decisions: decisions.unwrap_or_default(),
    }
}
