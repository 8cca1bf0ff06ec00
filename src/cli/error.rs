//! Why no answer could be made.

use std::path::{Path, PathBuf};

use crate::git::GitError;
use crate::source::{PROJECT_FILE, SourceError};
use crate::text::did_you_mean;

/// An error that ends the run with exit code 2, and what to type next.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// The project cannot be read as a whole.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// Git cannot answer.
    #[error(transparent)]
    Git(#[from] GitError),
    /// A name that nothing has.
    #[error("{what} `{name}`")]
    Unknown {
        /// `no event is called`, `nothing has the id`, …
        what: String,
        /// What was asked for.
        name: String,
        /// What to type.
        help: String,
    },
    /// The command cannot be carried out on the files as they are.
    #[error("{message}")]
    Refused {
        /// Why.
        message: String,
        /// What to type.
        help: String,
    },
    /// A file cannot be written.
    #[error("cannot write {}: {reason}", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// In the system's words.
        reason: String,
    },
    /// The program could not make its own output.
    #[error("cannot make the output: {0}")]
    Output(String),
}

impl From<crate::report::ReportError> for CliError {
    fn from(error: crate::report::ReportError) -> CliError {
        match error.help {
            Some(help) => CliError::Refused { message: error.message, help },
            None => CliError::Output(error.message),
        }
    }
}

impl CliError {
    /// An unknown name, with the nearest known ones.
    pub fn unknown<'w>(what: &str, name: &str, known: impl Iterator<Item = &'w str> + Clone) -> CliError {
        let help = did_you_mean(name, known.clone()).unwrap_or_else(|| {
            let some: Vec<&str> = known.take(12).collect();
            if some.is_empty() { "there is none yet".into() } else { format!("known: {}", some.join(", ")) }
        });
        CliError::Unknown { what: what.into(), name: name.into(), help }
    }

    /// Adds what else may be done about it, if there is anything.
    #[must_use]
    pub fn or(mut self, more: Option<String>) -> CliError {
        if let (CliError::Unknown { help, .. } | CliError::Refused { help, .. }, Some(more)) = (&mut self, more) {
            help.push_str(if help.ends_with('?') { " or " } else { "; or " });
            help.push_str(&more);
        }
        self
    }

    /// A refusal.
    pub fn refused(message: impl Into<String>, help: impl Into<String>) -> CliError {
        CliError::Refused { message: message.into(), help: help.into() }
    }

    /// A file that cannot be written.
    pub fn write(path: &Path, reason: impl std::fmt::Display) -> CliError {
        CliError::Write { path: path.to_path_buf(), reason: reason.to_string() }
    }

    /// What is wrong and what to do about it, in one line.
    pub fn in_words(&self) -> String {
        match self.help() {
            Some(help) => format!("{self}; {help}"),
            None => self.to_string(),
        }
    }

    /// What to type next, where the message does not say so itself.
    pub fn help(&self) -> Option<String> {
        match self {
            CliError::Unknown { help, .. } | CliError::Refused { help, .. } => Some(help.clone()),
            CliError::Source(SourceError::NotInGit { start }) if start.join(PROJECT_FILE).is_file() => {
                Some("git init".into())
            }
            CliError::Source(error) => error.help().or_else(|| {
                Some("slipmark init makes a project here; slipmark demo makes an example to look at".into())
            }),
            CliError::Git(error) => Some(error.help()),
            CliError::Write { .. } => Some("make room, give yourself permission, or choose another place".into()),
            CliError::Output(_) => {
                Some("this is a fault of slipmark: report it, with the command that you typed".into())
            }
        }
    }
}
