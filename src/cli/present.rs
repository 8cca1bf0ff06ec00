//! What a project's files come to, as far as an answer about the past of one thing needs it.
//!
//! Kept from run to run, so that a question about another thing need not read and judge thousands of files that are as they were.

use crate::kept::{Taker, Writer};
use crate::report::view::Carried;

use super::Project;

/// What the files of a project come to that are all as the commit holds them.
#[derive(Debug, PartialEq)]
pub struct Present {
    /// How many faults there are that make an answer about the past wrong.
    pub faults: usize,
    /// Which evidence carries which mark.
    pub carried: Carried,
}

impl Present {
    /// Of a project; none where some of it is not committed, which would have to be told.
    pub fn of(project: &Project) -> Option<Present> {
        let plain = project.holds_a_commit() && !project.past && !project.analysis.request.wording;
        plain.then(|| Present { faults: project.faults_of_files(), carried: Carried::of(&project.analysis) })
    }

    /// Writes it down.
    pub fn write(&self, out: &mut Writer) {
        out.number(self.faults);
        self.carried.write(out);
    }

    /// From what was written down; none if that is anything else.
    pub fn read(from: &mut Taker<'_>) -> Option<Present> {
        let (faults, carried) = (from.number()?, Carried::read(from)?);
        from.is_done().then_some(Present { faults, carried })
    }
}
