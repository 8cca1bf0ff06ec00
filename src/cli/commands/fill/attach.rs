//! Data files: copied beside the record, with their hash in it.

use std::io::Read;
use std::path::Path;

use crate::analysis::hex;
use crate::cli::{Change, CliError, Project};
use crate::edit::{self, Place, Step, Toml, path};
use crate::model::kinds::Record;
use crate::source::{Limits, hash_to_be};
use crate::text::RepoPath;

/// Adds one file: its copy to `changes`, unless it lies there already, and its name and hash to the record's text.
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
    let bytes = read(from)?;
    let hash = hex(&hash_to_be(&*project.source, &to, &bytes));
    let there = std::fs::symlink_metadata(project.root.join(to.as_str()));
    if there.is_ok() {
        let full = project.root.join(to.as_str());
        let same = full.symlink_metadata().is_ok_and(|data| data.is_file()) && read(&full)? == bytes;
        if !same {
            let help = format!("give the file another name; {to} stays as it is");
            return Err(CliError::refused(format!("{to} exists already and holds something else"), help));
        }
    } else {
        changes.push(Change { path: to.clone(), before: None, after: bytes });
    }
    named(record, &name, &hash, text).map_err(|error| {
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

fn read(path: &Path) -> Result<Vec<u8>, CliError> {
    let refused = |why: String| CliError::refused(format!("cannot read {}: {why}", path.display()), "name a data file");
    let file = std::fs::File::open(path).map_err(|error| refused(error.to_string()))?;
    if !file.metadata().is_ok_and(|data| data.is_file()) {
        return Err(refused("it is no plain file".to_string()));
    }
    let mut bytes = Vec::new();
    let most = Limits::ATTACHMENT_BYTES;
    file.take(most + 1).read_to_end(&mut bytes).map_err(|error| refused(error.to_string()))?;
    if bytes.len() as u64 > most {
        let help = "copy it beside the record yourself, and add [[data]] with file; sign writes its sha256";
        return Err(CliError::refused(format!("{} holds more than {} MiB", path.display(), most >> 20), help));
    }
    Ok(bytes)
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
