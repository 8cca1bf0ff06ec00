//! Open rows put together by what closes them, and how many of them that closes as things are.

use crate::state::EntryRef;

use super::RowView;

/// What would close some open rows, and which.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Closer {
    /// What it is.
    pub what: ClosedBy,
    /// The rows, by position, in the order in which they were given.
    pub rows: Vec<usize>,
    /// How many of them it closes as things are; the others wait for something else too.
    pub closes: usize,
    /// Whether it is a procedure that is still a draft: runs count once it is released as it was run.
    pub draft: bool,
}

/// A way to close rows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ClosedBy {
    /// Runs of a procedure.
    Procedure(String),
    /// Records made without one.
    Method(&'static str),
    /// The children.
    Children,
    /// A plan, before anything else.
    Plan,
}

impl ClosedBy {
    fn of(row: &RowView) -> ClosedBy {
        match (row.entry, &row.procedure, row.method) {
            (EntryRef::Children, ..) => ClosedBy::Children,
            (_, Some(procedure), _) => ClosedBy::Procedure(procedure.clone()),
            (_, None, Some(method)) => ClosedBy::Method(method),
            _ => ClosedBy::Plan,
        }
    }
}

impl Closer {
    /// How many of its rows wait for something else too.
    pub fn waits(&self) -> usize {
        self.rows.len() - self.closes
    }

    /// What it does for its rows, in words that follow its name.
    pub fn said(&self) -> String {
        let (rows, verb) = (self.rows.len(), if self.rows.len() == 1 { "waits" } else { "wait" });
        match self.what {
            ClosedBy::Children => return format!("{rows} of these {verb} for children"),
            ClosedBy::Plan => return format!("{rows} of these {verb} for a plan"),
            ClosedBy::Procedure(_) | ClosedBy::Method(_) => {}
        }
        let waits = match self.waits() {
            0 => String::new(),
            1 => "; 1 waits for something else too".to_string(),
            many => format!("; {many} wait for something else too"),
        };
        let draft = if self.draft { format!("; {DRAFT}") } else { String::new() };
        match self.closes {
            0 => format!("closes none of these as things are{waits}{draft}"),
            some => format!("closes {some} of these{waits}{draft}"),
        }
    }
}

/// What is said of a procedure that is not released.
pub const DRAFT: &str = "it is still a draft, to be released first";

/// Open rows, by position, put together by what closes them, in the order in which that is first met. `drafts` are the procedures that are not
/// released.
pub fn closers(rows: &[RowView], open: impl IntoIterator<Item = usize>, drafts: &[String]) -> Vec<Closer> {
    let mut all: Vec<Closer> = Vec::new();
    for at in open {
        let (what, closes) = (ClosedBy::of(&rows[at]), usize::from(rows[at].closable));
        match all.iter_mut().find(|closer| closer.what == what) {
            Some(closer) => {
                closer.rows.push(at);
                closer.closes += closes;
            }
            None => {
                let draft = matches!(&what, ClosedBy::Procedure(id) if drafts.contains(id));
                all.push(Closer { what, rows: vec![at], closes, draft });
            }
        }
    }
    all
}

/// The procedures among what closes the open rows, those that close most first, with their ids.
pub fn procedures(rows: &[RowView], drafts: &[String]) -> Vec<(String, Closer)> {
    let open = (0..rows.len()).filter(|at| rows[*at].state.is_open());
    let of_procedure = |closer: Closer| match &closer.what {
        ClosedBy::Procedure(id) => Some((id.clone(), closer)),
        _ => None,
    };
    let mut all: Vec<(String, Closer)> = closers(rows, open, drafts).into_iter().filter_map(of_procedure).collect();
    all.sort_by_key(|(id, own)| (std::cmp::Reverse((own.closes, own.waits())), id.clone()));
    all
}
