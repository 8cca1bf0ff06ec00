//! The templates that come with the program, as a list.

use serde::Serialize;

use crate::templates::{Template, ours};

/// All of them that a project may have its own in place of.
#[derive(Clone, Debug, Serialize)]
pub struct TemplatesView {
    /// The program's version.
    pub slipmark: &'static str,
    /// By name.
    pub templates: Vec<TemplateView>,
}

/// One of them.
#[derive(Clone, Debug, Serialize)]
pub struct TemplateView {
    /// Its path below the folder of templates.
    pub name: &'static str,
    /// What it lays out.
    pub about: &'static str,
    /// The names that it uses, in order; none for a style.
    pub uses: Vec<String>,
}

/// The list.
pub fn templates() -> TemplatesView {
    let one = |own: &Template| TemplateView { name: own.name, about: own.about, uses: own.takes() };
    let all = ours().iter().filter(|own| own.may_be_replaced());
    TemplatesView { slipmark: env!("CARGO_PKG_VERSION"), templates: all.map(one).collect() }
}
