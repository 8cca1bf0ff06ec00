//! What changed, grouped for a reader: by the decision behind it, then by what it is about.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    ChangeView, ChangesView, CriterionChangeView, DecidedView, EvidenceView, FromTo, RedoRowView, RedoView, UndoneView,
};
use crate::state::stands::Fares;

/// Changes by decision.
pub struct Changelog<'v> {
    /// Each decision with what it changed, by id; at the end what no decision is named for.
    pub groups: Vec<Group<'v>>,
    /// Files that only moved, and looks, where they are not listed.
    pub small: Vec<&'v ChangeView>,
    /// What must be done again because of nothing that is in a group.
    pub rest: Vec<Again<'v>>,
}

/// What one decision changed.
pub struct Group<'v> {
    /// The decision; none: no commit names one, and none names the things.
    pub decision: Option<&'v DecidedView>,
    /// What happened to the decision itself.
    pub own: Option<&'v ChangeView>,
    /// The changes, by what they are about.
    pub parts: Vec<Part<'v>>,
    /// Things that it changed too, with the decision under which they are told.
    pub elsewhere: Vec<(&'v str, &'v str)>,
    /// What must be done again because of these changes.
    pub again: Vec<Again<'v>>,
}

/// Changes about one thing.
pub struct Part<'v> {
    /// The item, or the sort of thing.
    pub name: String,
    /// The changes.
    pub changes: Vec<&'v ChangeView>,
}

/// What would show rows again.
pub struct Again<'v> {
    /// The procedure, or the kind of record, and what is in the way of it.
    pub redo: &'v RedoView,
    /// The rows.
    pub rows: Vec<&'v RedoRowView>,
}

/// Groups the changes; `all` lists what only moved, and looks, too.
pub fn changelog(view: &ChangesView, all: bool) -> Changelog<'_> {
    let (small, told): (Vec<&ChangeView>, Vec<&ChangeView>) =
        view.changes.iter().partition(|change| !all && change.is_small());
    let mut by_decision: BTreeMap<Option<&str>, Vec<&ChangeView>> = BTreeMap::new();
    for change in told {
        by_decision.entry(leading(view, change)).or_default().push(change);
    }
    let known: BTreeSet<&str> = view.decided.iter().map(|it| it.id.as_str()).collect();
    let mut keys: Vec<Option<&str>> = known.into_iter().map(Some).collect();
    keys.push(None);
    let groups = keys.into_iter().map(|key| group(view, key, by_decision.remove(&key).unwrap_or_default(), all));
    let groups: Vec<Group<'_>> =
        groups.filter(|group| group.own.is_some() || !group.parts.is_empty() || !group.elsewhere.is_empty()).collect();
    let told: BTreeSet<&str> = view.changes.iter().map(|change| change.id.as_str()).collect();
    Changelog { groups, small, rest: again(view, |row| !row.because_of.iter().any(|id| told.contains(id.as_str()))) }
}

/// The decision under which a change is told: the first that is behind it; of a decision that is behind others, itself.
fn leading<'v>(view: &'v ChangesView, change: &'v ChangeView) -> Option<&'v str> {
    let own = view.decided.iter().find(|it| it.id == change.id && change.kind == "decision");
    own.map(|it| it.id.as_str()).or(change.decisions.first().map(String::as_str))
}

fn group<'v>(view: &'v ChangesView, key: Option<&'v str>, changes: Vec<&'v ChangeView>, all: bool) -> Group<'v> {
    let (own, changes): (Vec<&ChangeView>, Vec<&ChangeView>) =
        changes.into_iter().partition(|change| key == Some(change.id.as_str()));
    let too = view.changes.iter().filter_map(|change| {
        let leading = leading(view, change)?;
        let named = change.decisions.iter().any(|id| Some(id.as_str()) == key);
        let told = all || !change.is_small();
        (named && told && Some(leading) != key && leading != change.id).then_some((change.id.as_str(), leading))
    });
    let ids: BTreeSet<&str> = changes.iter().chain(&own).map(|change| change.id.as_str()).collect();
    Group {
        decision: key.and_then(|key| view.decided.iter().find(|it| it.id == key)),
        own: own.into_iter().next(),
        elsewhere: too.collect(),
        again: again(view, |row| row.because_of.iter().any(|id| ids.contains(id.as_str()))),
        parts: parts(changes),
    }
}

fn again<'v>(view: &'v ChangesView, wanted: impl Fn(&RedoRowView) -> bool) -> Vec<Again<'v>> {
    let own = view.redo.iter().map(|redo| Again { redo, rows: redo.rows.iter().filter(|row| wanted(row)).collect() });
    own.filter(|own| !own.rows.is_empty()).collect()
}

/// Requirements and items by item; after them everything else by its sort.
fn parts(changes: Vec<&ChangeView>) -> Vec<Part<'_>> {
    let mut parts: BTreeMap<(usize, String), Vec<&ChangeView>> = BTreeMap::new();
    for change in changes {
        let key = match (&change.applies_to, change.kind.as_str()) {
            (Some(applies_to), _) => (0, applies_to.clone()),
            (None, "item" | "slot") => (0, change.id.clone()),
            (None, kind) => sort(kind),
        };
        parts.entry(key).or_default().push(change);
    }
    parts.into_iter().map(|((_, name), changes)| Part { name, changes }).collect()
}

fn sort(kind: &str) -> (usize, String) {
    let (place, name) = match kind {
        "decision" => (1, "decisions"),
        "procedure" => (2, "procedures"),
        "analysis" | "test" | "inspection" | "demonstration" => (3, "records"),
        "nonconformance" => (4, "nonconformances"),
        "waiver" => (5, "waivers"),
        "event" => (6, "held events"),
        _ => (7, "settings"),
    };
    (place, name.to_string())
}

/// One way in which a thing differs, in the order in which they are told.
pub enum Said<'v> {
    /// A text that says something else: what it is called, if not the statement; then and now.
    Reworded(Option<&'static str>, FromTo),
    /// A criterion.
    Criterion(&'v CriterionChangeView),
    /// Anything else, in words.
    Plain(String),
}

impl ChangeView {
    /// Everything that differs.
    pub fn said(&self) -> Vec<Said<'_>> {
        let mut said: Vec<Said<'_>> = Vec::new();
        said.extend(self.statement.iter().map(|it| Said::Reworded(None, it.clone())));
        said.extend(self.criteria.iter().map(Said::Criterion));
        said.extend(self.parameters.iter().map(|it| {
            let text = |value: &Option<String>| value.clone().unwrap_or_else(|| "nothing".into());
            Said::Plain(format!("moved by {}: {} → {}", it.name, text(&it.from), text(&it.to)))
        }));
        said.extend(self.reach.iter().chain(&self.plan).chain(&self.keys).cloned().map(Said::Plain));
        said.extend(self.rationale.iter().map(|it| Said::Reworded(Some("rationale"), it.clone())));
        said.extend(self.body.iter().map(|it| Said::Reworded(Some("text"), it.clone())));
        match (&self.path.from, &self.path.to) {
            (Some(from), Some(to)) => said.push(Said::Plain(format!("file: {from} → {to}"))),
            (Some(from), None) => said.push(Said::Plain(format!("was in {from}"))),
            _ => {}
        }
        said.extend(self.accounted.iter().cloned().map(Said::Plain));
        said
    }
}

impl CriterionChangeView {
    /// What it was and what it is.
    pub fn values(&self) -> String {
        match (&self.from, &self.to) {
            // One that was only renamed.
            (Some(from), Some(to)) if from == to => to.clone(),
            (from, to) => [from, to].into_iter().flatten().map(String::as_str).collect::<Vec<_>>().join(" → "),
        }
    }

    /// What more there is to say than its direction and its values.
    pub fn notes(&self) -> Vec<String> {
        let mut notes: Vec<String> = self.was.iter().map(|was| format!("it was called {was}")).collect();
        if self.tells_sides() {
            notes.extend(self.sides.iter().map(|side| {
                let values = [&side.from, &side.to].into_iter().flatten().map(String::as_str).collect::<Vec<_>>();
                let how = match (&side.from, &side.to) {
                    (None, Some(_)) => "new: ",
                    (Some(_), None) => "no longer ",
                    _ => "",
                };
                format!("{} {}: {how}{}", side.side, side.direction, values.join(" → "))
            }));
        }
        notes.extend(self.elsewhere.iter().map(|id| match self.to {
            Some(_) => format!("it was in {id}"),
            None => format!("it is in {id} now"),
        }));
        notes
    }
}

impl EvidenceView {
    /// The record, and what each of its results says against what is asked now.
    pub fn says(&self) -> Vec<(&'static str, String)> {
        let on = if self.subjects.is_empty() { String::new() } else { format!(" on {}", self.subjects.join(", ")) };
        let lead = format!("{}{on}", self.record);
        if self.criteria.is_empty() {
            return vec![(self.verdict.word(), format!("{lead}: nothing that it says is asked now"))];
        }
        let one = |it: &super::changes::StillView| {
            let held = it.result.as_ref().map(|result| format!(": {result} against {}", it.limit)).unwrap_or_default();
            let margin = it.margin.as_ref().map(|margin| format!(", margin {margin}")).unwrap_or_default();
            let conditions: String = it.conditions.iter().map(|why| format!("; {why}")).collect();
            (it.verdict.word(), format!("{lead}: {} {}{held}{margin}{conditions}", it.name, would(it.verdict)))
        };
        self.criteria.iter().map(one).collect()
    }
}

impl RedoRowView {
    /// `ACT-010 on ACT-W/SN01: TR-006 would be inconclusive`.
    pub fn says(&self) -> String {
        let slipped = self.verdict.map(|verdict| format!("{} {}", self.records.join(", "), would(verdict)));
        let why: Vec<&str> = self.undone.iter().chain(&slipped).map(String::as_str).collect();
        format!("{} on {}: {}", self.requirement, self.subject, why.join("; "))
    }
}

impl UndoneView {
    /// `TR-006 for ACT-010 on ACT-W/SN01: run by revision 1 of TP-03, which is at revision 2`.
    pub fn says(&self) -> String {
        let record = self.record.as_ref().map(|record| format!("{record} for ")).unwrap_or_default();
        let rows: Vec<String> = self.rows.iter().map(|row| format!("{} on {}", row.requirement, row.subject)).collect();
        format!("{record}{}: {}", rows.join(", "), self.why())
    }

    /// What was found, without the record that it begins with.
    pub fn why(&self) -> &str {
        let rest = self.record.as_deref().and_then(|record| self.text.strip_prefix(record)?.strip_prefix(": "));
        rest.unwrap_or(&self.text)
    }
}

/// How a result would fare, as what it does.
fn would(verdict: Fares) -> &'static str {
    match verdict {
        Fares::Met => "would still be met",
        Fares::Inconclusive => "would be inconclusive",
        Fares::CannotTell => "cannot be told",
        Fares::NotMet => "would not be met",
    }
}
