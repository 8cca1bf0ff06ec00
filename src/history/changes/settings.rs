//! What changed in the settings files: parameters and instruments one by one, the project file as a whole.

use std::collections::{BTreeMap, BTreeSet};

use crate::history::commits::{instrument, parameter};
use crate::history::keys::{self, Flat};
use crate::history::versions::{Content, Context, Version, compare};
use crate::model::Id;
use crate::model::kinds::{Relief, Waiver, WaiverStatus};
use crate::quantity;
use crate::source::{INSTRUMENTS_FILE, PARAMETERS_FILE, PROJECT_FILE};

use super::things::Things;
use super::told::{Change, CommitRef};

/// A part of a settings file.
#[derive(Clone, Copy)]
struct Setting<'s> {
    id: &'s str,
    kind: &'static str,
    file: &'static str,
    thing: &'s str,
}

impl Things<'_> {
    /// The settings files: parameters and instruments one by one, the project file as a whole.
    pub(super) fn settings(&self, context: Context<'_>) -> Vec<Change> {
        let mut list = Vec::new();
        for (file, kind) in [(PARAMETERS_FILE, "parameter"), (INSTRUMENTS_FILE, "instrument")] {
            let Some((old, new)) = self.ends.settings(file) else { continue };
            let entries = |text: Option<&str>| text.map(keys::entries).unwrap_or_default();
            let (old, new): (BTreeMap<String, Flat>, BTreeMap<String, Flat>) = (entries(old), entries(new));
            let names: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
            for id in names {
                let thing = if kind == "parameter" { parameter(id) } else { instrument(id) };
                let setting = Setting { id, kind, file, thing: &thing };
                list.extend(self.setting(setting, (old.get(id), new.get(id)), context));
            }
        }
        if let Some((old, new)) = self.ends.settings(PROJECT_FILE) {
            let (old, new) = (old.map(keys::settings), new.map(keys::settings));
            let setting = Setting { id: PROJECT_FILE, kind: "project", file: PROJECT_FILE, thing: PROJECT_FILE };
            list.extend(self.setting(setting, (old.as_ref(), new.as_ref()), context));
        }
        list
    }

    fn setting(&self, it: Setting<'_>, sides: (Option<&Flat>, Option<&Flat>), context: Context<'_>) -> Option<Change> {
        let version = |flat| Version { kind: it.kind, path: it.file, content: Content::Settings(flat) };
        let mut between = compare(sides.0.map(version), sides.1.map(version), context)?;
        if it.kind == "parameter" && between.keys.iter().any(|key| key.top() == "value") {
            between.reach = self.accepted_by(it.id);
        }
        let commits = self.touched.of(&[it.thing.to_string()], false);
        let title = sides.1.or(sides.0).and_then(|flat| flat.get("note").or(flat.get("what"))).cloned();
        Some(Change {
            id: it.id.to_string(),
            kind: it.kind.to_string(),
            title: title.unwrap_or_default(),
            safety: false,
            applies_to: None,
            path_from: sides.0.map(|_| it.file.to_string()),
            path_to: sides.1.map(|_| it.file.to_string()),
            decisions: self.decisions(&Id::new(it.id), &commits),
            uncommitted: self.uncommitted.has(it.thing),
            commits: commits.into_iter().map(CommitRef::of).collect(),
            accounted: None,
            parameters: Vec::new(),
            evidence: Vec::new(),
            undone: Vec::new(),
            between,
        })
    }

    /// The waivers of the later point that accept more or less with a parameter: their own files do not show it.
    fn accepted_by(&self, parameter: &str) -> Vec<String> {
        let waivers = self.ends.now.iter().flat_map(|now| &now.model.waivers);
        let rests = |relief: &Relief| {
            let names = relief.limits().into_iter().flat_map(|limit| quantity::names(&limit.text.value));
            names.into_iter().any(|name| name == parameter)
        };
        let one = |waiver: &Waiver| {
            let id = waiver.head.id.value.clone();
            let resting = waiver.accepts.iter().filter(|(_, relief)| rests(relief));
            let told = resting.map(|(name, relief)| format!("{id} accepts {} {}", name.value, relief.show_whole()));
            told.collect::<Vec<_>>()
        };
        waivers.filter(|waiver| waiver.status != WaiverStatus::Withdrawn).flat_map(one).collect()
    }
}
