//! The page of one thing: the packet's part about it, the rows that it has to do with, and who names it.

use std::collections::BTreeSet;

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::Set;
use super::address::{SORTS, Thing, serial};
use super::engine::{Framed, Place, framed};
use super::named::{MADE_BY, Naming, SHOWN_BY};
use super::prepared::About;
use crate::model::kinds::Requirement;
use crate::model::{Id, Ref, SerialId};
use crate::report::ReportError;
use crate::report::packet::html::markdown;
use crate::report::packet::links::{Link, Linker};
use crate::report::packet::row::RowPart;
use crate::report::packet::steps::StepsPart;
use crate::report::packet::{hardware, life, record, registers, requirement};
use crate::report::view::RowsOf;

/// How many of those who name a thing are listed.
const NAMED: usize = 300;

/// What a page holds beside what all pages do.
struct Content {
    /// What the thing's own template takes.
    view: Value,
    /// Rows that it has to do with, where its part does not show them.
    rows: Vec<usize>,
    /// Who is shown to name it already.
    shown: BTreeSet<String>,
}

/// Somebody who names the thing.
#[derive(Debug, Serialize)]
struct NamedLine {
    link: Link,
    title: String,
    how: String,
}

/// A thing beside this one in its sort.
#[derive(Debug, Serialize)]
struct Beside {
    previous: Option<Link>,
    next: Option<Link>,
}

impl Set<'_> {
    /// The page of one thing.
    pub(super) fn thing(&self, address: &str, at: usize) -> Result<(String, String), ReportError> {
        let prepared = &*self.prepared;
        let thing = &prepared.homes.things[at];
        let analysis = self.from.analysis;
        let linker = prepared.linker(address);
        let name = thing.name(analysis);
        let content = self.content(&linker, thing, &name);
        let heading = match thing {
            Thing::Of(place) => analysis.model.head(*place).title.clone(),
            Thing::Instrument(id) => {
                analysis.model.instruments.get(id).and_then(|own| own.what.clone()).unwrap_or_default()
            }
            Thing::Serial(..) => prepared.title(analysis, &name).unwrap_or_default(),
        };
        let rows: Vec<(RowPart, bool)> =
            content.rows.iter().map(|at| (self.row(&linker, *at), prepared.is_due(*at))).collect();
        let (named, more) = self.named_by(&linker, &name, &content.shown);
        let sort = SORTS[thing.sort()];
        let title = format!("{name} {heading}").trim().to_string();
        let view = context! {
            sort => sort.key,
            h => 1,
            section => linker.page(sort.key),
            words => sort.many.to_lowercase(),
            event => &prepared.before.event,
            rows => Serde(&rows),
            named => Serde(&named),
            more,
            beside => Serde(&self.beside(&linker, at)),
            what_if => Serde(&self.what_if.as_deref()),
            as_it_read => self.revisions_of(&linker, address, thing),
            ..content.view
        };
        let own = Framed { title: &title, place: Place::Elsewhere, template: "pages/thing.html", view, scripts: &[] };
        let page = framed(prepared, &linker, own)?;
        Ok((title, page))
    }

    /// Where a requirement stands as it read before, on live pages.
    fn revisions_of(&self, linker: &Linker, address: &str, thing: &Thing) -> Option<String> {
        let live = linker.scheme() == super::Scheme::Live && matches!(thing, Thing::Of(Ref::Requirement(_)));
        let own = address.strip_prefix("requirement/").filter(|_| live)?;
        Some(linker.page(&format!("revisions/{own}")))
    }

    fn row(&self, linker: &Linker, at: usize) -> RowPart {
        RowPart::of(self.from.analysis, linker, self.prepared.row(at), at + 1)
    }

    fn content(&self, linker: &Linker, thing: &Thing, name: &str) -> Content {
        let analysis = self.from.analysis;
        let model = &analysis.model;
        let event = self.prepared.event;
        let none = BTreeSet::new;
        let entry = |it: registers::Entry, rows: Vec<usize>| Content {
            view: context! { it => Serde(&it) },
            rows,
            shown: none(),
        };
        match thing {
            Thing::Of(Ref::Requirement(at)) => self.requirement(linker, *at, name),
            Thing::Of(Ref::Record(at)) => {
                let rows: Vec<RowPart> =
                    self.prepared.rows_about(About::Record, name).iter().map(|at| self.row(linker, *at)).collect();
                let part = record::whole(analysis, linker, *at, &rows, self.from.source);
                Content { view: context! { it => Serde(&part) }, rows: Vec::new(), shown: none() }
            }
            Thing::Of(Ref::Item(at)) => {
                let part = hardware::item(analysis, linker, *at, event);
                let item = &model.items[*at];
                let lives = life::parts(analysis, linker, |piece| piece.item == item.head.id.value);
                let mut rows = self.prepared.rows_about(About::Subject, name);
                for piece in &item.serials {
                    rows.extend(self.prepared.rows_about(About::Subject, &format!("{name}/{}", piece.number.value)));
                }
                rows.sort_unstable();
                rows.dedup();
                Content { view: context! { it => Serde(&part), lives => Serde(&lives) }, rows, shown: none() }
            }
            Thing::Of(Ref::Slot(at)) => {
                let part = hardware::slot(analysis, linker, *at);
                let rows = self.prepared.rows_about(About::Subject, name);
                Content { view: context! { it => Serde(&part) }, rows, shown: none() }
            }
            Thing::Of(Ref::Procedure(at)) => {
                let part = registers::procedure(analysis, linker, *at);
                let steps = StepsPart::of(&model.procedures[*at], linker);
                let view = context! { it => Serde(&part), steps => Serde(&steps) };
                // Its own part lists what is planned with it and its runs.
                let listed = |own: &&Naming| own.how == SHOWN_BY || own.how == MADE_BY;
                let naming = self.prepared.naming(self.from.analysis, name);
                let shown = naming.iter().filter(listed).map(|own| own.by.clone()).collect();
                Content { view, rows: self.prepared.rows_about(About::Procedure, name), shown }
            }
            Thing::Of(Ref::Decision(at)) => {
                entry(registers::decision(analysis, linker, &model.decisions[*at]), Vec::new())
            }
            Thing::Of(Ref::Nonconformance(at)) => entry(registers::nonconformance(analysis, linker, *at), Vec::new()),
            Thing::Of(Ref::Waiver(at)) => entry(registers::waiver(analysis, linker, *at), self.waived(name)),
            Thing::Of(Ref::Held(at)) => entry(registers::held(analysis, linker, &model.held[*at]), Vec::new()),
            Thing::Serial(item, at) => self.serial(linker, *item, *at),
            Thing::Instrument(id) => self.instrument(linker, id),
        }
    }

    fn requirement(&self, linker: &Linker, at: usize, name: &str) -> Content {
        let analysis = self.from.analysis;
        let rows = self.prepared.rows_about(About::Requirement, name);
        let parts: Vec<RowPart> = rows.iter().map(|at| self.row(linker, *at)).collect();
        let later: Vec<usize> = rows.into_iter().filter(|at| !self.prepared.is_due(*at)).map(|at| at + 1).collect();
        let mut part = requirement::whole(analysis, linker, at, parts, &self.prepared.worst, self.from.past);
        part.draw(analysis, &RowsOf::of(&self.prepared.before.rows));
        let shown = part.shown_to_name_it();
        let it: &Requirement = &analysis.model.requirements[at];
        let status = it.status.word();
        let rationale = it.reason.clone();
        Content { view: context! { part => Serde(&part), later, status, reason => rationale }, rows: Vec::new(), shown }
    }

    /// Rows that a waiver covers.
    fn waived(&self, id: &str) -> Vec<usize> {
        (0..self.prepared.row_count()).filter(|at| self.prepared.row(*at).waiver.as_deref() == Some(id)).collect()
    }

    fn serial(&self, linker: &Linker, item: usize, at: usize) -> Content {
        let analysis = self.from.analysis;
        let it = &analysis.model.items[item];
        let id: SerialId = serial(analysis, item, at);
        let part = hardware::serial(analysis, linker, it, &it.serials[at], self.prepared.event);
        let lives = life::parts(analysis, linker, |piece| *piece == id);
        let view = context! {
            it => Serde(&part),
            name => id.to_string(),
            of => Serde(&linker.link(&it.head.id.value)),
            title => &it.head.title,
            scrapped => analysis.graph.scrapped.contains(&id),
            note => Serde(&markdown("", analysis.path(it.head.file), linker)),
            file => Serde(&linker.whole(analysis, it.head.file)),
            lives => Serde(&lives),
        };
        Content { view, rows: self.prepared.rows_about(About::Subject, &id.to_string()), shown: BTreeSet::new() }
    }

    fn instrument(&self, linker: &Linker, id: &Id) -> Content {
        let part = registers::instrument(self.from.analysis, linker, id);
        Content { view: context! { it => Serde(&part) }, rows: Vec::new(), shown: BTreeSet::new() }
    }

    /// Who names it, beside those that are shown already; and how many more there are than are listed.
    fn named_by(&self, linker: &Linker, name: &str, shown: &BTreeSet<String>) -> (Vec<NamedLine>, usize) {
        let naming = self.prepared.naming(self.from.analysis, name);
        let all = naming.iter().filter(|own| !shown.contains(&own.by));
        let line = |own: &Naming| NamedLine {
            link: linker.link(&own.by),
            title: self.prepared.title(self.from.analysis, &own.by).unwrap_or_default(),
            how: own.how.clone(),
        };
        let count = all.clone().count();
        (all.take(NAMED).map(line).collect(), count.saturating_sub(NAMED))
    }

    /// The things before and after it in its sort.
    fn beside(&self, linker: &Linker, at: usize) -> Beside {
        let things = &self.prepared.homes.things;
        let sort = things[at].sort();
        let link = |at: Option<usize>| {
            let other = things.get(at?).filter(|other| other.sort() == sort)?;
            Some(linker.link(other.name(self.from.analysis)))
        };
        Beside { previous: link(at.checked_sub(1)), next: link(Some(at + 1)) }
    }
}
