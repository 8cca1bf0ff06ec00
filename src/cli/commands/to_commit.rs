//! The git command that a command leaves to be typed.

use std::path::Path;

use crate::cli::Project;
use crate::cli::args::Common;
use crate::text::{RepoPath, shell_word};

/// What commits these files of a project, where whoever asked stands: paths are those in the project's folder, and git is told where that is if it
/// is elsewhere.
pub(super) fn to_commit<'p>(
    project: &Project,
    common: &Common,
    paths: impl IntoIterator<Item = &'p RepoPath>,
    message: &str,
) -> String {
    let git = git_here(project, common);
    let paths: Vec<String> = paths.into_iter().map(|path| shell_word(path.as_str().as_ref())).collect();
    format!("{git} add {} && {git} commit -m {}", paths.join(" "), shell_word(message.as_ref()))
}

/// Git, told where the project is unless whoever asked stands there.
pub(super) fn git_here(project: &Project, common: &Common) -> String {
    let is_root = |folder: &Path| folder.canonicalize().is_ok_and(|folder| folder == project.root);
    match &common.project {
        _ if is_root(Path::new(".")) => "git".to_string(),
        Some(named) if is_root(named) => format!("git -C {}", shell_word(named)),
        _ => format!("git -C {}", shell_word(&project.root)),
    }
}
