//! What has a limited life: how much of it each piece has used, by what, and what is left.

use serde::Serialize;

use super::html::Html;
use super::links::{Link, Linker};
use crate::analysis::Analysis;
use crate::model::SerialId;
use crate::report::view::lives;

/// One budget of one piece.
#[derive(Debug, Serialize)]
pub(in crate::report) struct LifePart {
    piece: Link,
    name: String,
    limit: Option<String>,
    counted: &'static str,
    note: Option<String>,
    stands: String,
    outlook: &'static str,
    lines: Vec<Html>,
}

/// Every life of the pieces that are wanted, by item, piece and name.
pub(in crate::report) fn parts(
    analysis: &Analysis,
    linker: &Linker,
    wanted: impl Fn(&SerialId) -> bool,
) -> Vec<LifePart> {
    let part = |life: crate::report::view::LifeView| LifePart {
        piece: linker.link(&life.piece),
        lines: life.lines().iter().map(|line| linker.text(line)).collect(),
        name: life.name,
        limit: life.limit,
        counted: life.counted,
        note: life.note,
        stands: life.text,
        outlook: life.outlook,
    };
    lives(analysis, wanted).into_iter().map(part).collect()
}
