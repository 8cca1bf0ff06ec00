//! The page to begin with: what is open before the event, put together by what closes it, faults first.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use super::Set;
use super::address::front;
use super::engine::{Framed, Place, framed_saying};
use super::lists::{Leaves, leaves};
use super::prepared::OPEN_ROWS;
use crate::report::ReportError;
use crate::report::finished::{Must, beside_rows, of_rows};
use crate::report::packet::cover::{Cover, less_asked};
use crate::report::packet::html::Html;
use crate::report::packet::links::{Link, Linker};
use crate::report::packet::row::RowPart;
use crate::report::packet::{Lapsing, Problem, lapsing, problem};
use crate::report::pictures;
use crate::report::view::{ClosedBy, Closer};

/// What closes some rows, and those of them that this page lists.
#[derive(Debug, Serialize)]
struct CloserPart {
    /// Its number among all, from 1.
    number: usize,
    how: Link,
    title: String,
    /// How many open rows it has to do with, wherever they are listed.
    total: usize,
    /// How many of them it closes as things are, in words.
    said: String,
    /// Whether an earlier page began it.
    continued: bool,
    /// The way to where it begins.
    href: String,
    rows: Vec<RowPart>,
}

/// The first page beside its rows.
#[derive(Debug, Serialize)]
struct FrontPart {
    cover: Cover,
    less_asked: Vec<crate::report::packet::cover::LessAsked>,
    faults: Vec<Problem>,
    gaps: Vec<Problem>,
    nonconformances: Vec<Link>,
    waivers: Vec<Link>,
    withdrawn: Vec<Link>,
    lapsing: Vec<Lapsing>,
    /// All that closes anything, without rows.
    closers: Vec<CloserPart>,
    open_total: usize,
    /// A picture of all margins of what is due, if any result has one.
    margins: Option<Html>,
    /// The same for a narrow screen.
    margins_narrow: Option<Html>,
}

impl Set<'_> {
    /// A page of what is open: the first, with all that is said of the event, or a further one with more rows.
    pub(super) fn front(&self, address: &str, at: usize) -> Result<(String, String), ReportError> {
        let prepared = &*self.prepared;
        let linker = prepared.linker(address);
        let before = &prepared.before;
        let title = format!("Open before {}", before.event);
        let listed = self.listed(&linker, at);
        let first = (at == 0).then(|| self.first(&linker));
        let details = context! {
            nonconformance_details => Serde(&before.nonconformance_details),
            waiver_details => Serde(&before.waiver_details),
            withdrawn_details => Serde(&before.withdrawn_details),
            verdict => Serde(&before.verdict),
        };
        let view = context! {
            title => &title,
            event => &before.event,
            before => details,
            listed => Serde(&listed),
            leaves => Serde(&self.open_leaves(&linker, at)),
            first => at == 0,
            ..minijinja::Value::from(Serde(&first))
        };
        let own = Framed { title: &title, place: Place::Open, template: "pages/front.html", view, scripts: &[] };
        let page = framed_saying(prepared, &linker, own, || self.must(at))?;
        Ok((title, page))
    }

    /// What the page must say: its rows, and the first all that is open beside rows.
    fn must(&self, at: usize) -> Vec<Must> {
        let prepared = &*self.prepared;
        let open = prepared.open.iter().flat_map(|closer| &closer.rows);
        let rows = of_rows(open.skip(at * OPEN_ROWS).take(OPEN_ROWS).map(|at| prepared.row(*at)));
        let beside = if at == 0 { beside_rows(&prepared.before) } else { Vec::new() };
        [beside, vec![rows]].concat()
    }

    fn open_leaves(&self, linker: &Linker, at: usize) -> Leaves {
        let total = self.prepared.open.iter().map(|closer| closer.rows.len()).sum();
        leaves(linker, front, (total, OPEN_ROWS), at)
    }

    fn first(&self, linker: &Linker) -> FrontPart {
        let prepared = &*self.prepared;
        let before = &prepared.before;
        let mut began = 0;
        let closers = prepared.open.iter().zip(1..).map(|(closer, number)| {
            let part = self.closer(linker, closer, (number, began), Vec::new());
            began += closer.rows.len();
            part
        });
        FrontPart {
            cover: Cover::of(self.from.analysis, linker, before, self.from.dated, prepared.event),
            less_asked: less_asked(linker, before).collect(),
            faults: before.faults.iter().map(|fault| problem(linker, fault)).collect(),
            gaps: before.gaps.iter().map(|gap| problem(linker, gap)).collect(),
            nonconformances: linker.links(&before.nonconformances),
            waivers: linker.links(&before.waivers),
            withdrawn: linker.links(&before.withdrawn),
            lapsing: before.lapsing.iter().map(|own| lapsing(linker, own)).collect(),
            closers: closers.collect(),
            open_total: prepared.open.iter().map(|closer| closer.rows.len()).sum(),
            margins: pictures::margins(before, "margins", pictures::Layout::WIDE).map(Html::trusted),
            margins_narrow: pictures::margins(before, "margins-narrow", pictures::Layout::NARROW).map(Html::trusted),
        }
    }

    /// The rows of one page, under what closes them.
    fn listed(&self, linker: &Linker, at: usize) -> Vec<CloserPart> {
        let (from, to) = (at * OPEN_ROWS, (at + 1) * OPEN_ROWS);
        let mut began = 0;
        let mut parts = Vec::new();
        for (closer, number) in self.prepared.open.iter().zip(1..) {
            let own = from.max(began)..to.min(began + closer.rows.len());
            if own.start < own.end {
                let rows = closer.rows[own.start - began..own.end - began].iter();
                let rows = rows.map(|at| RowPart::of(self.from.analysis, linker, self.prepared.row(*at), at + 1));
                parts.push(self.closer(linker, closer, (number, began), rows.collect()));
            }
            began += closer.rows.len();
        }
        if let Some(first) = parts.first_mut() {
            let starts_here = self.prepared.open.iter().take(first.number - 1).map(|it| it.rows.len()).sum::<usize>();
            first.continued = starts_here < from;
        }
        parts
    }

    fn closer(
        &self,
        linker: &Linker,
        closer: &Closer,
        (number, began): (usize, usize),
        rows: Vec<RowPart>,
    ) -> CloserPart {
        let plain = |words: &str| Link { text: words.to_string(), href: None };
        let (how, title) = match &closer.what {
            ClosedBy::Procedure(id) => (
                linker.link(id),
                self.prepared.title(self.from.analysis, id).unwrap_or_else(|| "no such procedure".into()),
            ),
            ClosedBy::Method(word) => (plain(word), String::new()),
            ClosedBy::Children => (plain("children"), "closed when these are".to_string()),
            ClosedBy::Plan => (plain("a plan"), "nothing says how it will be shown".to_string()),
        };
        let href = format!("{}#closes-{number}", linker.page(&front(began / OPEN_ROWS)));
        CloserPart { number, how, title, total: closer.rows.len(), said: closer.said(), continued: false, href, rows }
    }
}
