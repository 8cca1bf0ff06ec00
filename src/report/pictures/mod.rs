//! Pictures, for where people would rather look than read: each a function from a view to a text of SVG.
//!
//! The packet, the page of a calculation, the trend and whatever else shows one use the same function; a picture needs nothing from the
//! page around it. Black, white and few greys: it must be read from a copy of a copy. States have a pattern or a mark and their word,
//! never a colour alone. A picture is bounded in size, whatever the project holds, and says what it left out; its title and description
//! say in words what it shows. What has nothing to draw is no picture: its function says so by giving none.
//!
//! Numbers in a picture are for the eye, and are doubles; nothing is decided here.

pub mod data;
mod events;
mod layers;
mod margins;
mod options;
mod product;
mod scale;
mod states;
mod svg;
mod timeline;
mod trace;
mod trend;
mod uncertainty;
mod widths;

pub use self::events::{events, events_narrow};
pub use self::margins::{Layout, margins};
pub use self::options::options;
pub use self::product::product;
pub(in crate::report) use self::scale::short;
pub use self::timeline::timeline;
pub use self::trace::trace;
pub use self::trend::trend;
pub use self::uncertainty::{spread, tornado};

#[cfg(test)]
pub(in crate::report) mod tests {
    use crate::analysis::{self, Analysis, Request};
    use crate::history::Guard;
    use crate::report::view::{self, BeforeView};
    use crate::source::WorkTree;

    /// The example, read and judged.
    pub(super) fn example() -> Analysis {
        let folder = tempfile::tempdir().unwrap();
        crate::example::build(&folder.path().join("demo")).unwrap();
        let tree = WorkTree::open(&folder.path().join("demo")).unwrap();
        analysis::run(&tree, Request::on(jiff::civil::date(2026, 6, 16))).unwrap()
    }

    /// What is open in it before its last event.
    pub(super) fn demo() -> BeforeView {
        let analysis = example();
        let last = analysis.model.config.events.len() - 1;
        view::before(&analysis, &Guard::default(), last)
    }

    /// Fails unless every tag of a picture is closed, in order, and every attribute is in quotes; no reader of XML takes more.
    #[track_caller]
    pub(in crate::report) fn well_formed(picture: &str) {
        let mut open: Vec<&str> = Vec::new();
        let mut rest = picture;
        while let Some((words, tag)) = rest.split_once('<') {
            assert!(!words.contains('>'), "a stray > in {words:?}");
            let (tag, after) = tag.split_once('>').unwrap();
            rest = after;
            if let Some(name) = tag.strip_prefix('/') {
                assert_eq!(open.pop(), Some(name));
                continue;
            }
            assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
            let outside: String = tag.split('"').step_by(2).collect();
            assert!(!outside.contains('&'), "{tag}");
            if !tag.ends_with('/') {
                open.push(tag.split_whitespace().next().unwrap());
            }
        }
        assert!(open.is_empty(), "{open:?}");
        assert!(picture.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\"") && !picture.contains("NaN"));
    }
}
