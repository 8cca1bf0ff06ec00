//! Where things stand: paths inside the project, byte spans, and the texts they point into.
//!
//! Every later stage carries a [`Span`] instead of a line and a column; lines and columns are worked out only when
//! something is printed. Offsets count bytes of the file as it is on disk, byte order mark included.

mod case;
mod line_index;
mod near;
mod path;
mod span;

pub use case::same_but_for_case;
pub use line_index::{LineColumn, LineIndex};
pub use near::{did_you_mean, nearest};
pub use path::{RepoPath, encoded, shell_word};
pub use span::{FileId, Span, Spanned};

mod source_map;
pub use source_map::{SourceMap, SourceText};
