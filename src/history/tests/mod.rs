//! Tests of history, each in a throw-away repository.
#![expect(clippy::disallowed_methods, reason = "tests write the files that the program reads")]

mod account;
mod ancestors;
mod attribution;
mod changes;
mod comparison;
mod learnt;
mod leaving;
mod less;
#[cfg(unix)]
mod odd;
mod revisions;

use crate::analysis::{self, Analysis, Request};
use crate::git::fixture::Fixture;
use crate::history::{Guard, guard};
use crate::source::WorkTree;

/// A small project that every test changes in one way.
pub(super) const PROJECT: &[(&str, &str)] = &[
    (
        "slipmark.toml",
        "name = \"Stand\"\nambient = \"101.3 kPa abs\"\n[conformity]\nrule = \"guarded\"\n\
         [[events]]\nname = \"leak-check\"\nserials = [\"MOV/SN01\"]\nuses.strokes = 2\n[[events]]\nname = \"cold-flow\"\n[[events]]\nname = \"hot-fire\"\n\
         [[roles]]\nmethod = \"test\"\nbefore = \"cold-flow\"\nwitnessed_by = [\"pad chief\", \"safety lead\"]\n\
         [[roles]]\nprocedure = \"TP-1\"\nperformed_by = \"test conductor\"\n",
    ),
    ("parameters.toml", "[meop]\nvalue = \"4 MPa gauge\"\nsource = \"budget\"\n"),
    (
        "instruments.toml",
        "[PT-01]\nwhat = \"pressure\"\n[[PT-01.calibrations]]\non = 2026-01-10\ndue = 2027-01-10\n\
         [TQ-01]\nrange = \"0 to 5 N·m\"\nresolution = \"0.01 N·m\"\nuncertainty = [\"0.05 N·m\", \"1 %\"]\n\
         [[TQ-01.calibrations]]\non = 2026-01-05\ndue = 2027-01-05\n\
         [[TQ-01.calibrations]]\non = 2026-02-20\ndue = 2027-02-20\nas_found = \"out of tolerance\"\n",
    ),
    (
        "requirements/R-1.md",
        "+++\nkind = \"requirement\"\nid = \"R-1\"\ntitle = \"Torque margin\"\nsource = \"S\"\n\
         applies_to = [\"MOV\", \"PRG\"]\nsafety = true\n\
         [criteria.margin]\nmin = 0.5\nat.body = { min = \"80 K\", max = \"95 K\" }\n[criteria.gap]\nmax = \"25.4 mm\"\n\
         [criteria.state]\nexpect = [\"tight\"]\n[criteria.strokes]\ncount = 10\n\
         [[verify]]\nmethod = \"test\"\nstage = \"acceptance\"\nprocedure = \"TP-1\"\nbefore = \"leak-check\"\n\
         criteria = [\"margin\", \"gap\", \"state\", \"strokes\"]\nafter = [\"TP-2\"]\nagain_after = [\"cold-flow\"]\nvalid_for = \"30 d\"\n\
         [[verify]]\nmethod = \"analysis\"\nbefore = \"leak-check\"\n\
         +++\nThe valve shall have a torque margin of at least 0.5 at 95 K.\n",
    ),
    (
        "requirements/R-2.md",
        "+++\nkind = \"requirement\"\nid = \"R-2\"\ntitle = \"Proof\"\nsource = \"S\"\napplies_to = { tag = \"pressure\" }\n\
         min = \"1.5 * meop\"\n[[verify]]\nmethod = \"test\"\nprocedure = \"TP-2\"\non = \"each\"\n\
         +++\nThe valve shall withstand the proof pressure.\n",
    ),
    (
        "requirements/R-3.md",
        "+++\nkind = \"requirement\"\nid = \"R-3\"\ntitle = \"Whole\"\nsource = \"S\"\nverified_by = \"children\"\n\
         [by_children]\nmark = \"m1-000000000000\"\nlist = [\"R-1\", \"R-2\"]\njudged_by = \"lead\"\ndate = 2026-02-01\n\
         +++\nThe stand shall hold.\n",
    ),
    (
        "items/MOV.md",
        "+++\nkind = \"item\"\nid = \"MOV\"\ntitle = \"Valve\"\ntags = [\"pressure\"]\nrevision = \"B\"\n\
         [[revisions]]\nrevision = \"B\"\ndate = 2026-01-05\nkeeps_evidence = [\"R-1\"]\nreason = \"r\"\n\
         [[serials]]\nnumber = \"SN01\"\ncontains = [\"PRG/SN01\"]\n[[serials.reworked]]\ndate = 2026-02-02\nreason = \"r\"\n\
         [[serials]]\nnumber = \"SN02\"\n+++\n",
    ),
    (
        "items/PRG.md",
        "+++\nkind = \"item\"\nid = \"PRG\"\ntitle = \"Purge\"\n[life.strokes]\nlimit = \"100\"\n\
         [life.shelf]\nlimit = \"900 d\"\ncounted = \"age\"\n[[serials]]\nnumber = \"SN01\"\nbuilt = 2026-01-02\n\
         used.strokes = 5\n[[serials.reworked]]\ndate = 2026-01-20\nreason = \"cleaned\"\n+++\n",
    ),
    ("items/ACT.md", "+++\nkind = \"slot\"\nid = \"ACT\"\ntitle = \"Actuator\"\n+++\n"),
    (
        "items/ACT-P.md",
        "+++\nkind = \"item\"\nid = \"ACT-P\"\ntitle = \"P\"\nfills = \"ACT\"\nstatus = \"current\"\n+++\n",
    ),
    (
        "items/ACT-W.md",
        "+++\nkind = \"item\"\nid = \"ACT-W\"\ntitle = \"W\"\nfills = \"ACT\"\nstatus = \"candidate\"\n+++\n",
    ),
    (
        "procedures/TP-1.md",
        "+++\nkind = \"procedure\"\nid = \"TP-1\"\ntitle = \"Torque\"\nrevision = \"2\"\nstatus = \"released\"\n\
         instruments = [\"PT-01\"]\n\
         [[fields]]\nname = \"gap\"\nunit = \"mm\"\nfeeds = \"R-1.gap\"\ninstrument = \"PT-01\"\n+++\n",
    ),
    (
        "procedures/TP-2.md",
        "+++\nkind = \"procedure\"\nid = \"TP-2\"\ntitle = \"Proof\"\nrevision = \"1\"\nstatus = \"released\"\n\
         uses = [\"strokes\"]\n+++\n",
    ),
    (
        "records/TR-1.md",
        "+++\nkind = \"test\"\nid = \"TR-1\"\ntitle = \"Proof\"\ndate = 2026-02-10\nserial = \"MOV/SN01\"\n\
         procedure = \"TP-2\"\nprocedure_revision = \"1\"\ninstruments = [\"PT-01\"]\nuses.strokes = 4\n\
         status = \"signed\"\n[verifies.R-2]\nresult = \"5 MPa gauge\"\noutcome.value = \"not met\"\n+++\nNotes.\n",
    ),
    (
        "departures/NC-1.md",
        "+++\nkind = \"nonconformance\"\nid = \"NC-1\"\ntitle = \"Leak\"\ndate = 2026-02-11\nagainst = [\"MOV/SN01\", \"PRG\"]\n\
         requirements = [\"R-1\", \"R-2\"]\nfound_by = [\"TR-1\"]\nbefore = \"leak-check\"\n+++\n",
    ),
    (
        "events/EV-1.md",
        "+++\nkind = \"event\"\nid = \"EV-1\"\ntitle = \"Cold flow\"\nevent = \"cold-flow\"\ndate = 2026-02-05\n\
         outcome = \"aborted\"\nserials = [\"MOV/SN01\", \"MOV/SN02\"]\nuses.strokes = 3\n+++\n",
    ),
    (
        "departures/W-1.md",
        "+++\nkind = \"waiver\"\nid = \"W-1\"\ntitle = \"Proof\"\nrequirement = \"R-2\"\nmark = \"m1-000000000000\"\n\
         serials = [\"MOV/SN01\"]\naccepts.value = { min = \"4.5 MPa gauge\" }\nbefore = \"cold-flow\"\nexpires = 2026-12-31\n\
         status = \"approved\"\napproved_by = \"lead\"\napproved = 2026-02-12\nreason = \"r\"\n+++\n",
    ),
];

/// A repository with the project in it.
pub(super) struct Stand(pub(super) Fixture);

impl Stand {
    /// The project, committed and tagged `TRR-1`.
    pub(super) fn tagged() -> Stand {
        let stand = Stand::committed();
        stand.0.git(&["tag", "-a", "TRR-1", "-m", "review"]);
        stand
    }

    /// The project, committed.
    pub(super) fn committed() -> Stand {
        Stand::begun(&[])
    }

    /// The project with more files, in one commit.
    pub(super) fn begun(more: &[(&str, &str)]) -> Stand {
        let fixture = Fixture::new();
        for (path, text) in PROJECT.iter().chain(more) {
            fixture.write(path, text);
        }
        fixture.commit("Start");
        Stand(fixture)
    }

    /// Replaces a text in a file; it must be there.
    pub(super) fn edit(&self, path: &str, from: &str, to: &str) -> &Stand {
        let full = self.0.path().join(path);
        let text = std::fs::read_to_string(&full).unwrap();
        assert!(text.contains(from), "{path} does not hold {from:?}");
        std::fs::write(full, text.replacen(from, to, 1)).unwrap();
        self
    }

    /// Deletes a file.
    pub(super) fn delete(&self, path: &str) -> &Stand {
        std::fs::remove_file(self.0.path().join(path)).unwrap();
        self
    }

    /// The project as it is on disk.
    pub(super) fn analysis(&self) -> Analysis {
        let tree = WorkTree::find(&self.0.path()).unwrap();
        let today = jiff::civil::date(2026, 6, 1);
        analysis::run(&tree, Request::on(today)).unwrap()
    }

    /// The guard over it.
    pub(super) fn guard(&self) -> Guard {
        let repo = self.0.repo();
        guard(&repo, "", repo.head().unwrap(), &crate::history::Look::default(), &self.analysis()).unwrap()
    }

    /// What is asked less, as `id: text`.
    pub(super) fn less(&self) -> Vec<String> {
        self.guard().less_asked.into_iter().map(|less| format!("{}: {}", less.id, less.text)).collect()
    }

    /// The faults of the guard, as `code: message`.
    pub(super) fn faults(&self) -> Vec<String> {
        self.guard().findings.into_iter().map(|finding| format!("{}: {}", finding.code, finding.message)).collect()
    }
}
