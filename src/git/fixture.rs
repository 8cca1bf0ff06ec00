//! Throw-away repositories for tests, made with the library and with the git program as it comes.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

use super::{Oid, Repo};

/// A repository in a folder that goes away with it.
pub(crate) struct Fixture {
    folder: TempDir,
}

impl Fixture {
    /// An empty repository on an unborn branch.
    pub(crate) fn new() -> Fixture {
        let folder = tempfile::tempdir().unwrap();
        let fixture = Fixture { folder };
        let mut options = git2::RepositoryInitOptions::new();
        options.initial_head("main");
        git2::Repository::init_opts(fixture.path(), &options).unwrap();
        fixture
    }

    /// The top of the work tree, as the system names it.
    pub(crate) fn path(&self) -> PathBuf {
        self.folder.path().canonicalize().unwrap()
    }

    /// Writes a file, with the folders that it needs.
    pub(crate) fn write(&self, path: &str, bytes: impl AsRef<[u8]>) -> &Fixture {
        let path = self.path().join(path);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
        self
    }

    /// Adds everything that git does not ignore, and commits.
    pub(crate) fn commit(&self, message: &str) -> Oid {
        self.git(&["add", "--all"]);
        self.commit_index(message)
    }

    /// Commits what has been added.
    pub(crate) fn commit_index(&self, message: &str) -> Oid {
        self.git(&["commit", "--quiet", "--allow-empty", "-m", message]);
        Oid::from_hex(self.git(&["rev-parse", "HEAD"]).trim()).unwrap()
    }

    /// The library's view.
    pub(crate) fn repo(&self) -> Repo {
        Repo::discover(&self.path()).unwrap()
    }

    /// Runs git here and returns what it prints.
    pub(crate) fn git(&self, arguments: &[&str]) -> String {
        git_in(&self.path(), arguments)
    }
}

/// Runs git in a folder, with nobody's settings, and returns what it prints.
pub(crate) fn git_in(folder: &Path, arguments: &[&str]) -> String {
    let output = run(folder, arguments);
    assert!(output.status.success(), "git {arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    let identity = ["AUTHOR", "COMMITTER"].into_iter().flat_map(|who| {
        [
            (format!("GIT_{who}_NAME"), "Test conductor"),
            (format!("GIT_{who}_EMAIL"), "conductor@example.org"),
            (format!("GIT_{who}_DATE"), "2026-03-14T01:30:00+02:00"),
        ]
    });
    Command::new("git")
        .current_dir(folder)
        .args(["-c", "core.quotePath=false", "-c", "protocol.file.allow=always"])
        .args(arguments)
        .env_clear()
        .env("PATH", std::env::var_os("PATH").unwrap_or_default())
        .env("HOME", folder)
        .env("GIT_CONFIG_NOSYSTEM", "1")
        .envs(identity)
        .output()
        .unwrap()
}
