//! What everything is, beside how it looks: headings, tables, lists, links. Readers that speak a page, or set it anew, go by it.

use std::num::{NonZeroU16, NonZeroU32};

use krilla::tagging::{Identifier, ListNumbering, Node, TableHeaderScope, Tag, TagGroup, TagKind, TagTree};

/// What something is.
#[derive(Clone, Debug)]
pub(super) enum Sort {
    /// All of it.
    Whole,
    /// A part of the packet, or one thing in it.
    Section,
    /// A paragraph.
    Paragraph,
    /// A heading of a level, from 1, and what it says.
    Heading(u16, String),
    /// A list.
    List,
    /// One of a list.
    Entry,
    /// The name of one of a list.
    Label,
    /// What one of a list says.
    Body,
    /// A table.
    Table,
    /// What stands above a table.
    Caption,
    /// The head of a table.
    Head,
    /// The rest of a table.
    Rows,
    /// A row.
    Row,
    /// A cell over so many columns that is a heading.
    Title(u32),
    /// A cell over so many columns.
    Cell(u32),
    /// Words that lead somewhere.
    Link,
    /// A picture, and what it shows.
    Figure(String),
    /// Text of a file.
    Code,
    /// The list of contents.
    Contents,
    /// A line of it.
    Line,
}

enum Child {
    Own(usize),
    Leaf(Identifier),
}

struct Branch {
    sort: Sort,
    above: usize,
    attached: bool,
    inside: Vec<Child>,
}

/// The tree of what everything is. Branches come in the order in which they are first written.
pub(super) struct Tags(Vec<Branch>);

impl Tags {
    /// With nothing in it.
    pub(super) fn new() -> Tags {
        Tags(vec![Branch { sort: Sort::Whole, above: 0, attached: true, inside: Vec::new() }])
    }

    /// Something in something.
    pub(super) fn add(&mut self, above: usize, sort: Sort) -> usize {
        self.0.push(Branch { sort, above, attached: false, inside: Vec::new() });
        self.0.len() - 1
    }

    /// Says that something is there, in this order, whether anything is written in it or not.
    pub(super) fn attach(&mut self, own: usize) {
        let (above, attached) = (self.0[own].above, self.0[own].attached);
        if !attached {
            self.attach(above);
            self.0[own].attached = true;
            self.0[above].inside.push(Child::Own(own));
        }
    }

    /// Puts what was written into something.
    pub(super) fn leaf(&mut self, own: usize, leaf: Identifier) {
        self.attach(own);
        self.0[own].inside.push(Child::Leaf(leaf));
    }

    /// The tree, for the file.
    pub(super) fn tree(&self) -> TagTree {
        let mut tree = TagTree::new();
        if let Node::Group(whole) = self.group(0) {
            tree.push(whole);
        }
        tree
    }

    fn group(&self, own: usize) -> Node {
        let branch = &self.0[own];
        let mut group = TagGroup::new(kind(&branch.sort));
        for child in &branch.inside {
            match child {
                Child::Own(own) => group.push(self.group(*own)),
                Child::Leaf(leaf) => group.push(*leaf),
            }
        }
        Node::Group(group)
    }
}

fn kind(sort: &Sort) -> TagKind {
    let span = |columns: &u32| NonZeroU32::new(*columns).filter(|columns| columns.get() > 1);
    match sort {
        Sort::Whole => Tag::Part.into(),
        Sort::Section => Tag::Section.into(),
        Sort::Paragraph => Tag::P.into(),
        Sort::Heading(level, title) => {
            Tag::Hn(NonZeroU16::new(*level).unwrap_or(NonZeroU16::MIN), Some(title.clone())).into()
        }
        Sort::List => Tag::L(ListNumbering::None).into(),
        Sort::Entry => Tag::LI.into(),
        Sort::Label => Tag::Lbl.into(),
        Sort::Body => Tag::LBody.into(),
        Sort::Table => Tag::Table.into(),
        Sort::Caption => Tag::Caption.into(),
        Sort::Head => Tag::THead.into(),
        Sort::Rows => Tag::TBody.into(),
        Sort::Row => Tag::TR.into(),
        Sort::Title(columns) => Tag::TH(TableHeaderScope::Column).with_col_span(span(columns)).into(),
        Sort::Cell(columns) => Tag::TD.with_col_span(span(columns)).into(),
        Sort::Link => Tag::Link.into(),
        Sort::Figure(shows) => Tag::Figure(Some(shows.clone())).into(),
        Sort::Code => Tag::Code.into(),
        Sort::Contents => Tag::TOC.into(),
        Sort::Line => Tag::TOCI.into(),
    }
}
