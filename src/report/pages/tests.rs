//! The pages as a whole.

use std::collections::BTreeMap;

use super::*;
use crate::analysis::{self, Analysis, Request};
use crate::history::Guard;
use crate::report::packet::{Dated, Past};
use crate::source::{Source, WorkTree};

fn read(source: &dyn Source) -> Analysis {
    analysis::run(source, Request::on(jiff::civil::date(2026, 7, 1))).unwrap()
}

/// Every page about an event, by address.
fn made(source: &dyn Source, event: &str, scheme: Scheme) -> BTreeMap<String, Page> {
    let analysis = read(source);
    let event = analysis.model.config.event_index(event).unwrap();
    let (guard, past) = (Guard::default(), Past::default());
    let dated = Dated { date: None, from: "there is no commit", subject: None };
    let from = Made { analysis: &analysis, guard: &guard, past: &past, source, dated: &dated };
    all(&Set::of(from, event, scheme).unwrap())
}

fn all(set: &Set<'_>) -> BTreeMap<String, Page> {
    set.names().map(|name| (name.to_string(), set.page(name).unwrap().unwrap())).collect()
}

/// The example, in a folder that goes away with the value.
fn example() -> (tempfile::TempDir, WorkTree) {
    let folder = tempfile::tempdir().unwrap();
    crate::example::build(&folder.path().join("demo")).unwrap();
    let tree = WorkTree::open(&folder.path().join("demo")).unwrap();
    (folder, tree)
}

#[test]
fn every_page_is_there() {
    let (_folder, tree) = example();
    for scheme in [Scheme::Folder, Scheme::Live] {
        assert!(made(&tree, "hot-fire", scheme).len() > 80);
    }
}
