//! The example as a real git repository, the same down to the commit ids on every machine.

use std::path::Path;

use git2::build::CheckoutBuilder;
use git2::{Commit, Index, IndexEntry, IndexTime, Oid, Repository, RepositoryInitOptions, Signature, Time};
use jiff::Timestamp;
use jiff::fmt::temporal::Pieces;

use super::{ExampleError, Step, steps};

/// An ordinary file that cannot be executed, as git writes its mode.
const REGULAR_FILE: u32 = 0o100_644;

/// Makes the example's repository in `dir`, with branch `main`, all commits, both tags, and the newest files on disk.
///
/// Author, committer and tagger are the example's own, and no file passes through a filter, so the result does not depend
/// on who runs this or how their git is set up. Hooks and signing belong to the `git` program and play no part here.
///
/// # Errors
/// [`ExampleError::NotEmpty`] if `dir` holds something; otherwise what git or the system said.
pub fn build(dir: &Path) -> Result<(), ExampleError> {
    refuse_occupied(dir)?;
    let repo = create(dir)?;
    let mut index = Index::new()?;
    let mut parent: Option<Oid> = None;
    for step in steps()? {
        parent = Some(commit(&repo, &mut index, &step, parent)?);
    }
    repo.checkout_head(Some(CheckoutBuilder::new().force().disable_filters(true)))?;
    Ok(())
}

/// Files already there would be overwritten or would show up as changes of the example's.
fn refuse_occupied(dir: &Path) -> Result<(), ExampleError> {
    match dir.read_dir() {
        Ok(mut entries) => match entries.next() {
            Some(_) => Err(ExampleError::NotEmpty(dir.to_owned())),
            None => Ok(()),
        },
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(()),
        Err(source) => Err(ExampleError::Folder { path: dir.to_owned(), source }),
    }
}

fn create(dir: &Path) -> Result<Repository, ExampleError> {
    let mut options = RepositoryInitOptions::new();
    options.initial_head("main").mkpath(true).no_reinit(true).external_template(false);
    let repo = Repository::init_opts(dir, &options)?;
    let mut config = repo.config()?;
    // Set here, for this repository only: a user's own setting would make unchanged files look changed.
    config.set_bool("core.autocrlf", false)?;
    config.set_str("core.eol", "lf")?;
    Ok(repo)
}

fn commit(repo: &Repository, index: &mut Index, step: &Step, parent: Option<Oid>) -> Result<Oid, ExampleError> {
    for path in &step.removes {
        index.remove(Path::new(path), 0)?;
    }
    for (path, bytes) in &step.writes {
        index.add(&entry(path, repo.blob(bytes)?))?;
    }
    let tree = repo.find_tree(index.write_tree_to(repo)?)?;
    let who = Signature::new(&step.author_name, &step.author_email, &git_time(&step.date)?)?;
    let parent: Option<Commit<'_>> = parent.map(|id| repo.find_commit(id)).transpose()?;
    let parents: Vec<&Commit<'_>> = parent.iter().collect();
    let id = repo.commit(Some("HEAD"), &who, &who, &step.message, &tree, &parents)?;
    if let Some((name, message)) = &step.tag {
        repo.tag(name, repo.find_commit(id)?.as_object(), &who, message, false)?;
    }
    Ok(id)
}

fn entry(path: &str, id: Oid) -> IndexEntry {
    IndexEntry {
        ctime: IndexTime::new(0, 0),
        mtime: IndexTime::new(0, 0),
        dev: 0,
        ino: 0,
        mode: REGULAR_FILE,
        uid: 0,
        gid: 0,
        file_size: 0,
        id,
        flags: 0,
        flags_extended: 0,
        path: path.as_bytes().to_vec(),
    }
}

fn git_time(date: &str) -> Result<Time, ExampleError> {
    let unreadable = || ExampleError::Date { date: date.to_owned() };
    let instant: Timestamp = date.parse().map_err(|_| unreadable())?;
    let offset = Pieces::parse(date).ok().and_then(|pieces| pieces.to_numeric_offset()).ok_or_else(unreadable)?;
    Ok(Time::new(instant.as_second(), offset.seconds() / 60))
}
