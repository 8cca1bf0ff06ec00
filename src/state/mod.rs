//! The state of every row: one plan entry of one requirement on one subject.
//!
//! In: [`Facts`] (the model, its graph, what the attachments turned out to be, today). Out: [`Row`]s. Total: there is an
//! answer for every row, and whatever cannot be read, resolved or computed is an answer that counts as open. Findings
//! play no part in it.
//!
//! Where to look: `rows` makes the rows; [`scope`] says which pieces an entry is about; [`judge`] holds a result
//! against a criterion; [`standing`] says whether a record counts at all and whether it fails, [`accounted`] whether
//! somebody accounted for that; [`applies`] why a record
//! does not apply now, [`held`] what held events have to do with that, [`people`] who must have made and watched it; `decide`
//! which record decides and what that makes of a criterion; [`relief`] what waivers cover; [`reason`] lists every reason with
//! its state. Beside the rows: [`life`] says how long what wears out lasts.

pub mod accounted;
pub mod applies;
mod children;
mod closable;
mod decide;
mod facts;
pub mod fits;
pub mod held;
pub mod judge;
pub mod kept;
pub mod life;
pub mod people;
pub mod reason;
pub mod relief;
mod rows;
pub mod run;
pub mod scope;
pub mod standing;
pub mod stands;

pub use closable::is_closable;
pub use decide::matches_entry;
pub use facts::{AttachmentState, FETCH, Facts, pointer_words};
pub use reason::{REASONS, Reason, ReasonEntry, Since, State};
pub use rows::{CriterionState, EntryRef, Row, Subject, derive, of_requirement, on_piece, piece_for};
