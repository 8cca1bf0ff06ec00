//! Every file that the packet rests on, with what git and anybody else can check it by.

use rayon::prelude::*;
use serde::Serialize;
use sha2::{Digest, Sha256};

use crate::analysis::{Analysis, hex};
use crate::git::Oid;
use crate::source::{ReadError, Source};
use crate::text::RepoPath;

/// The list of files.
#[derive(Debug, Serialize)]
pub(in crate::report) struct Manifest {
    pub(in crate::report) files: Vec<FileLine>,
    passed_over: Vec<(String, &'static str)>,
    /// The SHA-256 of the lines `SHA-256, two spaces, path`, each with a line feed.
    pub(in crate::report) digest: String,
}

impl Manifest {
    /// Paths that were not read, each with what it is.
    pub(in crate::report) fn passed_over(&self) -> &[(String, &'static str)] {
        &self.passed_over
    }

    /// SHA-256 and path of every file; no hash of one that cannot be read.
    pub(in crate::report) fn hashes(&self) -> Vec<(Option<String>, String)> {
        self.files.iter().map(|file| (file.sha256.clone(), file.path.clone())).collect()
    }
}

/// One file.
#[derive(Debug, Serialize)]
pub(in crate::report) struct FileLine {
    number: usize,
    pub(in crate::report) path: String,
    pub(in crate::report) blob: Option<String>,
    pub(in crate::report) sha256: Option<String>,
    pub(in crate::report) trouble: Option<String>,
    pub(in crate::report) tracked: bool,
}

/// Every file of the project: path, blob id as far as it is known, whether git tracks it. In the order in which git
/// lists them, so that anybody can make the list again.
pub(in crate::report) fn files(analysis: &Analysis) -> Vec<(&RepoPath, Option<Oid>, bool)> {
    let files = analysis.snapshot.files.iter().map(|file| (&file.path, file.blob, file.tracked));
    let others = analysis.snapshot.others.iter().map(|file| (&file.path, file.blob, file.tracked));
    let mut all: Vec<(&RepoPath, Option<Oid>, bool)> = files.chain(others).collect();
    all.sort();
    all
}

/// How many files the project has.
pub(in crate::report) fn file_count(analysis: &Analysis) -> usize {
    analysis.snapshot.files.len() + analysis.snapshot.others.len()
}

/// Hashes every file of the project.
pub(in crate::report) fn manifest(analysis: &Analysis, source: &dyn Source) -> Manifest {
    let all = files(analysis);
    let one = |(at, (path, blob, tracked)): (usize, &(&RepoPath, Option<Oid>, bool))| {
        let (blob, hash) = hashes(source, path, *blob);
        FileLine {
            number: at + 1,
            path: path.to_string(),
            blob: blob.map(|blob| blob.to_string()),
            trouble: hash.as_ref().err().map(ToString::to_string),
            sha256: hash.ok().map(|hash| hex(&hash)),
            tracked: *tracked,
        }
    };
    let files: Vec<FileLine> = all.par_iter().enumerate().map(one).collect();
    let passed_over = analysis.snapshot.passed_over.iter().map(|own| (own.path.to_string(), own.what)).collect();
    let digest = digest(&files);
    Manifest { files, passed_over, digest }
}

/// Both names of a file's bytes. A blob id that the source does not know is worked out.
fn hashes(source: &dyn Source, path: &RepoPath, blob: Option<Oid>) -> (Option<Oid>, Result<[u8; 32], ReadError>) {
    (blob.or_else(|| source.blob_id(path)), source.sha256(path))
}

fn digest(files: &[FileLine]) -> String {
    let mut sum = Sha256::new();
    for file in files {
        sum.update(file.sha256.as_deref().unwrap_or("unreadable"));
        sum.update("  ");
        sum.update(&file.path);
        sum.update("\n");
    }
    hex(&sum.finalize())
}
