//! One case: what it changes, and what must be found.

use crate::analysis;
use crate::diag::{Class, Place, Switch};

use super::world::World;

/// A project and what must be found in it.
pub(super) struct Case {
    /// The path of its file below `tests/checks`, without `.md`.
    pub(super) name: String,
    pub(super) world: World,
    findings: Vec<String>,
    rows: Vec<RowText>,
}

/// One row in words.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct RowText {
    /// `R-1 on MOV/SN01`.
    pub(super) of: String,
    /// `void (seal-broken)`.
    pub(super) text: String,
}

impl Case {
    /// Reads a case; one without a base starts from nothing.
    pub(super) fn read(name: &str, text: &str, base: Option<&Case>) -> Case {
        let world = base.map(|base| base.world.clone()).unwrap_or_default();
        let mut case = Case { name: name.to_string(), world, findings: Vec::new(), rows: Vec::new() };
        let mut lines = text.lines();
        let mut says = false;
        while let Some(line) = lines.next() {
            let ticks = line.chars().take_while(|c| *c == '`').count();
            if ticks < 3 {
                continue;
            }
            let fence = "`".repeat(ticks);
            let body: String =
                lines.by_ref().take_while(|line| *line != fence).map(|line| format!("{line}\n")).collect();
            says |= line[ticks..].trim() == "expect";
            case.block(line[ticks..].trim(), &body);
        }
        assert!(says, "{name} does not say what must be found; that nothing is, an empty `expect` block says");
        case
    }

    /// Another case, made by the program.
    pub(super) fn made(name: String, world: World, finding: String) -> Case {
        Case { name, world, findings: vec![finding], rows: Vec::new() }
    }

    fn block(&mut self, info: &str, body: &str) {
        match info.split_once(' ') {
            Some(("diff", path)) => self.world.change(path, body).unwrap_or_else(|why| panic!("{}: {why}", self.name)),
            Some((_, path)) => self.world.put(path, body),
            None if info == "world" => body.lines().for_each(|line| self.world.set(line)),
            None if info == "expect" => body.lines().filter(|line| !line.is_empty()).for_each(|line| self.expect(line)),
            None => {}
        }
    }

    fn expect(&mut self, line: &str) {
        match line.split_once(": ") {
            Some((of, text)) if of.contains(" on ") => self.rows.push(RowText { of: of.into(), text: text.into() }),
            _ => self.findings.push(line.to_string()),
        }
    }

    /// Whether the case expects this code, of a finding or a reason.
    pub(super) fn expects(&self, code: &str) -> bool {
        let finding = self.findings.iter().any(|line| line.split(' ').nth(1) == Some(code));
        let reasons = self.rows.iter().filter_map(|row| Some(row.text.split_once('(')?.1.trim_end_matches(')')));
        finding || reasons.flat_map(|codes| codes.split(", ")).any(|own| own == code)
    }

    /// Whether the case expects a finding of this class.
    pub(super) fn expects_class(&self, class: Class) -> bool {
        self.findings.iter().any(|line| line.starts_with(class.word()))
    }

    /// What is found: `class code path:line`, and every row.
    pub(super) fn outcome(&self, switch: Switch) -> (Vec<String>, Vec<RowText>) {
        let analysis = analysis::run(&self.world.filled(), self.world.request(switch)).unwrap();
        let findings = analysis.findings.iter().map(|finding| {
            let place = match &finding.place {
                Place::At(span) => format!(" {}:{}", analysis.path(span.file), analysis.sources.locate(*span).line),
                Place::Path(path) => format!(" {path}"),
                Place::Project => String::new(),
            };
            format!("{} {}{place}", finding.class().word(), finding.code)
        });
        let rows = analysis.rows(None).into_iter().map(|row| {
            let requirement = &analysis.model.requirements[row.requirement].head.id.value;
            let mut codes: Vec<&str> = row.reasons().map(|reason| reason.code).collect();
            codes.sort_unstable();
            codes.dedup();
            let why = if codes.is_empty() { String::new() } else { format!(" ({})", codes.join(", ")) };
            RowText { of: format!("{requirement} on {}", row.subject), text: format!("{}{why}", row.state.word()) }
        });
        (findings.collect(), rows.collect())
    }

    /// What differs from what must be found, if anything does.
    ///
    /// Faults, gaps and warnings must be those of the case and no others; notes those of the case and maybe more. Rows that
    /// the case does not list must be closed.
    pub(super) fn wrong(&self, switch: Switch) -> Option<String> {
        let (mut findings, rows) = self.outcome(switch);
        findings.retain(|line| !line.starts_with("note ") || self.findings.contains(line));
        findings.dedup();
        let mut expected = self.findings.clone();
        findings.sort();
        expected.sort();
        let mut open: Vec<RowText> =
            rows.into_iter().filter(|row| row.text != "closed" || self.rows.contains(row)).collect();
        let mut listed = self.rows.clone();
        open.sort();
        listed.sort();
        let differs = findings != expected || open != listed;
        differs.then(|| {
            format!(
                "{}:\n  found    {findings:?}\n  expected {expected:?}\n  rows     {:?}\n  expected {:?}",
                self.name,
                open.iter().map(|row| format!("{}: {}", row.of, row.text)).collect::<Vec<_>>(),
                listed.iter().map(|row| format!("{}: {}", row.of, row.text)).collect::<Vec<_>>()
            )
        })
    }
}
