//! Whether a packet still holds, for a terminal.

use std::fmt::Write;

use crate::report::style::{BAD, GOOD, OFF};
use crate::report::view::{AgainMadeView, FilesView, VerifyView};

/// How many names are listed of each sort.
const LISTED: usize = 100;

/// The answer.
pub fn render(view: &VerifyView) -> String {
    let mut said = Said::default();
    said.about(view);
    said.altered(&view.altered);
    if let Some(again) = &view.made_again {
        said.made_again(again);
    }
    if let Some(files) = &view.files {
        said.moved(files);
        let commit = view.made_from.as_ref().filter(|own| own.clean).and_then(|own| own.commit.as_deref());
        if let Some(commit) = commit.filter(|_| files.named && !files.same) {
            said.line(&format!("what that changed: slipmark changes {}", short(commit)));
        }
    }
    match view.matches {
        true => said.line(&format!("{GOOD}the packet matches{OFF}")),
        false => said.line(&format!("{BAD}the packet does not match{OFF}")),
    }
    said.text
}

#[derive(Default)]
struct Said {
    text: String,
}

impl Said {
    fn line(&mut self, line: &str) {
        let _ = writeln!(self.text, "{line}");
    }

    fn wrong(&mut self, line: &str) {
        self.line(&format!("{BAD}{line}{OFF}"));
    }

    fn about(&mut self, view: &VerifyView) {
        self.line(&view.path);
        let Some(own) = &view.made_from else { return };
        let commit = match &own.commit {
            Some(commit) => format!("commit {}", short(commit)),
            None => "files that no commit holds".to_string(),
        };
        let draft = if own.clean || own.commit.is_none() { "" } else { " and files not committed" };
        let (event, today) = (one_line(&own.event), one_line(&own.today));
        self.line(&format!("before {event}, made of {commit}{draft}, asked on {today}"));
    }

    fn altered(&mut self, altered: &[String]) {
        if altered.is_empty() {
            self.line("every part of it has the hash that it had when it was written");
            return;
        }
        self.wrong("it was altered since it was written:");
        self.list("", altered);
    }

    fn made_again(&mut self, again: &AgainMadeView) {
        let from = again.from.as_deref().unwrap_or_default();
        match (&again.why, again.outcome) {
            (Some(why), _) => self.wrong(&format!("it could not be made again: {}", one_line(why))),
            (None, "same") => self.line(&format!("made again from {from}, it is the same")),
            (None, _) => {
                self.wrong(&format!("made again from {from}, it is another:"));
                self.list("", &again.differences);
            }
        }
    }

    fn moved(&mut self, files: &FilesView) {
        let at = one_line(&files.at);
        if files.same {
            return self.line(&format!("the {} files of {at} are those that it was made of", files.count));
        }
        if !files.named {
            return self.wrong(&format!(
                "the files of {at} are others; it does not carry the names of those that it was made of"
            ));
        }
        self.wrong(&format!("since then the files have changed; beside those of {at}:"));
        self.list("changed  ", &files.changed);
        self.list("added    ", &files.added);
        self.list("removed  ", &files.removed);
    }

    fn list(&mut self, what: &str, lines: &[String]) {
        for line in lines.iter().take(LISTED) {
            self.line(&format!("  {what}{}", one_line(line)));
        }
        if lines.len() > LISTED {
            self.line(&format!("  {what}and {} more", lines.len() - LISTED));
        }
    }
}

/// A text that cannot end its line.
fn one_line(text: &str) -> String {
    text.replace(['\n', '\r'], " ")
}

fn short(commit: &str) -> String {
    let commit = one_line(commit);
    commit.get(..10).unwrap_or(&commit).to_string()
}
