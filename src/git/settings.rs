//! The few settings of a repository that bear on which files count and when two files are the same.

use std::path::PathBuf;

use super::Repo;

/// Settings, with git's defaults where nothing is said or what is said cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    /// Names are compared without regard to case (`core.ignoreCase`).
    pub ignore_case: bool,
    /// The executable bit counts (`core.fileMode`).
    pub file_mode: bool,
    /// Line endings are converted without being asked to by attributes (`core.autocrlf`).
    pub autocrlf: bool,
    /// The user's own ignore file, if there is one.
    pub excludes_file: Option<PathBuf>,
    /// The user's own attributes file, if there is one.
    pub attributes_file: Option<PathBuf>,
    /// The repository's own ignore file, shared by its work trees.
    pub info_exclude: PathBuf,
    /// The repository's own attributes file, likewise.
    pub info_attributes: PathBuf,
}

impl Repo {
    /// Reads the settings.
    pub fn settings(&self) -> Settings {
        self.with(|repo| {
            let config = repo.config().and_then(|mut config| config.snapshot()).ok();
            let flag = |key, default| config.as_ref().and_then(|config| config.get_bool(key).ok()).unwrap_or(default);
            let path = |key| config.as_ref().and_then(|config| config.get_path(key).ok());
            // `input` is no boolean, and converts as well.
            let autocrlf = config.as_ref().and_then(|config| config.get_str("core.autocrlf").ok().map(str::to_owned));
            let info = repo.commondir().join("info");
            Settings {
                ignore_case: flag("core.ignorecase", false),
                file_mode: flag("core.filemode", true),
                autocrlf: autocrlf
                    .is_some_and(|value| !["false", "no", "off", "0", ""].contains(&value.to_lowercase().as_str())),
                excludes_file: path("core.excludesfile").or_else(|| user_file("ignore")),
                attributes_file: path("core.attributesfile").or_else(|| user_file("attributes")),
                info_exclude: info.join("exclude"),
                info_attributes: info.join("attributes"),
            }
        })
    }
}

/// Where git looks without being told to.
fn user_file(name: &str) -> Option<PathBuf> {
    let folder = std::env::var_os("XDG_CONFIG_HOME")
        .filter(|value| !value.is_empty())
        .map(PathBuf::from)
        .or_else(|| std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".config")))?;
    Some(folder.join("git").join(name))
}
