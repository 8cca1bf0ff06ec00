//! Data files: copied beside the record, with their hash in it.

use std::fs::File;
use std::path::Path;

use crate::analysis::hex;
use crate::cli::{After, Change, CliError, Project};
use crate::edit::{self, Place, Step, Toml, path};
use crate::model::kinds::Record;
use crate::source::{hash_to_be, in_pieces};
use crate::text::RepoPath;

/// Adds one file: its copy to `changes`, unless it lies there already, and its name and hash to the record's text. It is
/// read in pieces, whatever its size.
///
/// # Errors
/// If it cannot be read, or another file of its name is beside the record or named by it.
pub(super) fn one(
    project: &Project,
    record: &Record,
    from: &Path,
    text: String,
    changes: &mut Vec<Change>,
) -> Result<String, CliError> {
    let file = &project.analysis.sources.file(record.head.file).path;
    let (name, to) = target(file, from)?;
    let (stored, sha256) = hashes(project, &to, from)?;
    let full = project.root.join(to.as_str());
    match full.symlink_metadata() {
        Ok(there) => {
            let same = there.is_file() && hashes(project, &to, &full)?.1 == sha256;
            if !same {
                let help = format!("give the file another name; {to} stays as it is");
                return Err(CliError::refused(format!("{to} exists already and holds something else"), help));
            }
        }
        Err(_) => {
            let after = After::CopyOf { from: from.to_path_buf(), sha256 };
            changes.push(Change { path: to.clone(), before: None, after });
        }
    }
    named(record, &name, &hex(&stored), text).map_err(|error| {
        CliError::refused(format!("{file}: {error}"), format!("type this yourself: {}", error.type_this))
    })
}

/// The file's name, and its path beside the record.
fn target(record: &RepoPath, from: &Path) -> Result<(String, RepoPath), CliError> {
    let name = from.file_name().and_then(|name| name.to_str()).filter(|name| !name.contains(char::is_control));
    let Some(name) = name else {
        return Err(CliError::refused(
            format!("{} has no name that can stand in a record", from.display()),
            "rename it: letters, digits, `-` and `.`",
        ));
    };
    if name.to_lowercase().ends_with(".md") {
        let help = "a Markdown file beside the records would be read as one of the project's; rename it";
        return Err(CliError::refused(format!("{name} is Markdown"), help));
    }
    let to = record.beside(name);
    let to = to.ok_or_else(|| CliError::refused(format!("{name} cannot lie beside the record"), "rename it"))?;
    Ok((name.to_string(), to))
}

/// The hash of a file as git will store it at a path, and as it is.
fn hashes(project: &Project, to: &RepoPath, file: &Path) -> Result<([u8; 32], [u8; 32]), CliError> {
    let refused = |why: String| CliError::refused(format!("cannot read {}: {why}", file.display()), "name a data file");
    if !file.metadata().map_err(|error| refused(error.to_string()))?.is_file() {
        return Err(refused("it is no plain file".to_string()));
    }
    let pieces = |take: &mut dyn FnMut(&[u8])| in_pieces(&mut File::open(file)?, take);
    hash_to_be(&*project.source, to, &pieces).map_err(|error: std::io::Error| refused(error.to_string()))
}

/// The record's text with the file under `[[data]]`.
fn named(record: &Record, name: &str, hash: &str, text: String) -> Result<String, edit::EditError> {
    match record.data.iter().position(|own| own.file.value == name) {
        // What the record said of a file of that name is about these bytes now: it is a draft, and the file was given.
        Some(at) => {
            let at = [Step::Key("data".into()), Step::Index(at), Step::Key("sha256".into())];
            edit::put(&text, &at, &Toml::text(hash), Place::Last)
        }
        None => {
            edit::append_table(&text, &path(&["data"]), &[("file", Toml::text(name)), ("sha256", Toml::text(hash))])
        }
    }
}
