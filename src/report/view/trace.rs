//! What one requirement hangs from and what hangs from it, as nodes and lines.

use crate::analysis::Analysis;
use crate::graph::TraceGraph;
use crate::model::Ref;
use crate::state::State;

use super::RowView;

/// The most nodes: more cannot be read.
const NODES: usize = 60;

/// The surroundings of one requirement.
#[derive(Clone, Debug)]
pub struct TraceView {
    /// Its id.
    pub id: String,
    /// The nodes; the requirement itself is the first.
    pub nodes: Vec<TraceNode>,
    /// From what to what, by position: from what asks to what answers.
    pub lines: Vec<TraceLine>,
    /// How many nodes are left out.
    pub more: usize,
}

/// One thing.
#[derive(Clone, Debug)]
pub struct TraceNode {
    /// Its id; of a row how it is to be shown.
    pub name: String,
    /// What it is: requirement, parent, child, item, serial, row, or the method of a record.
    pub kind: &'static str,
    /// Its title, or what else is to be said of it in a few words.
    pub about: String,
    /// Where it stands, if it is a row or has some.
    pub state: Option<State>,
}

/// A line from one node to another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TraceLine {
    /// The start.
    pub from: usize,
    /// The end.
    pub to: usize,
    /// Whether it is only named: a record that decides no row.
    pub loose: bool,
}

/// Rows by requirement.
#[derive(Debug)]
pub struct RowsOf<'v>(Vec<&'v RowView>);

impl<'v> RowsOf<'v> {
    /// From rows in any order.
    pub fn of(rows: impl IntoIterator<Item = &'v RowView>) -> RowsOf<'v> {
        let mut of: Vec<&RowView> = rows.into_iter().collect();
        of.sort_by(|a, b| a.requirement.cmp(&b.requirement));
        RowsOf(of)
    }

    fn rows(&self, id: &str) -> &[&'v RowView] {
        let from = self.0.partition_point(|row| *row.requirement < *id);
        let to = self.0.partition_point(|row| *row.requirement <= *id);
        &self.0[from..to]
    }

    fn worst(&self, id: &str) -> Option<State> {
        self.rows(id).iter().map(|row| row.state).min()
    }
}

/// The surroundings of a requirement, with some of the rows; none if nothing that has this id is one.
pub fn trace(analysis: &Analysis, id: &str, rows: &RowsOf<'_>) -> Option<TraceView> {
    let at = TraceGraph::requirement_at(&analysis.model, id)?;
    let mut making =
        Making { analysis, rows, view: TraceView { id: id.into(), nodes: vec![], lines: vec![], more: 0 } };
    let it = &analysis.model.requirements[at];
    making.requirement(id, "requirement");
    let own = rows.rows(id);
    for parent in &it.parents {
        let parent = making.requirement(parent.value.as_str(), "parent");
        making.line(parent, Some(0), false);
    }
    for row in own {
        making.row(row);
    }
    for child in &analysis.graph.children[at] {
        let child = making.requirement(analysis.model.requirements[*child].head.id.as_str(), "child");
        making.line(Some(0), child, false);
    }
    for (record, _) in &analysis.graph.evidence[at] {
        let id = analysis.model.records[*record].head.id.as_str();
        if !own.iter().any(|row| row.records.iter().any(|own| own == id)) {
            let record = making.record(id);
            making.line(Some(0), record, true);
        }
    }
    making.bases();
    Some(making.view)
}

/// A view while it is being made.
struct Making<'a, 'v> {
    analysis: &'a Analysis,
    rows: &'a RowsOf<'v>,
    view: TraceView,
}

impl Making<'_, '_> {
    /// Adds a node unless it is there; none where there is no room.
    fn node(&mut self, node: TraceNode, shared: bool) -> Option<usize> {
        let same = |own: &TraceNode| own.name == node.name && own.kind == node.kind;
        if let Some(at) = self.view.nodes.iter().position(same).filter(|_| shared) {
            return Some(at);
        }
        if self.view.nodes.len() >= NODES {
            self.view.more += 1;
            return None;
        }
        self.view.nodes.push(node);
        Some(self.view.nodes.len() - 1)
    }

    fn line(&mut self, from: Option<usize>, to: Option<usize>, loose: bool) {
        let (Some(from), Some(to)) = (from, to) else { return };
        if from != to && !self.view.lines.iter().any(|own| (own.from, own.to) == (from, to)) {
            self.view.lines.push(TraceLine { from, to, loose });
        }
    }

    fn requirement(&mut self, id: &str, kind: &'static str) -> Option<usize> {
        let it = self.analysis.model.requirement(id);
        let about = it.map_or_else(|| "not there".into(), |it| it.head.title.clone());
        let state = self.rows.worst(id).filter(|_| kind != "requirement");
        self.node(TraceNode { name: id.into(), kind, about, state }, true)
    }

    /// A row hangs from what it is about, which hangs from the requirement; what decides it hangs from the row.
    fn row(&mut self, row: &RowView) {
        let subject = self.subject(&row.subject);
        self.line(Some(0), subject, false);
        let before = row.before.as_ref().map(|before| format!("before {before}")).unwrap_or_default();
        let node = TraceNode { name: row.how(), kind: "row", about: before, state: Some(row.state) };
        let own = self.node(node, false);
        self.line(subject.or(Some(0)), own, false);
        for record in &row.records {
            let record = self.record(record);
            self.line(own, record, false);
        }
    }

    fn subject(&mut self, subject: &str) -> Option<usize> {
        let model = &self.analysis.model;
        let (item, kind) = match subject.split_once('/') {
            Some((item, _)) => (item, "serial"),
            None => (subject, "item"),
        };
        let about = model.item(item).map(|item| item.head.title.clone()).unwrap_or_default();
        // What is asked of the project as a whole hangs from the requirement itself.
        if about.is_empty() && subject == "project" {
            return Some(0);
        }
        self.node(TraceNode { name: subject.into(), kind, about, state: None }, true)
    }

    fn record(&mut self, id: &str) -> Option<usize> {
        let model = &self.analysis.model;
        let Some(Ref::Record(at)) = model.find(id) else { return None };
        let it = &model.records[at];
        let mut about = it.status.value.word().to_string();
        if let Some(date) = &it.date {
            about.push_str(&format!(" {}", date.text));
        }
        self.node(TraceNode { name: id.into(), kind: it.method.word(), about, state: None }, true)
    }

    /// What the records of the view take values from.
    fn bases(&mut self) {
        for at in 0..self.view.nodes.len() {
            let Some(Ref::Record(record)) = self.analysis.model.find(&self.view.nodes[at].name) else { continue };
            let model = &self.analysis.model;
            for base in model.records[record].inputs.iter().filter_map(|input| input.record(model)) {
                let base = self.record(base);
                self.line(Some(at), base, false);
            }
        }
    }
}
