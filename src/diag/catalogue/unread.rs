//! Faults that hide something: files, folders and front matter that cannot be read, would go unseen, or
//! have left.

use super::{CodeEntry, PRACTICE, codes};

const TOML: &str = "TOML 1.0 (toml.io)";

/// Faults of files and of the form of what is in them.
pub(super) const UNREAD: &[CodeEntry] = codes! { Fault;
    "bad-toml", "a front matter or settings file is not TOML",
        "Keys after the fault may not have been read, so that anything could be missing.",
        "correct the line; quantities, ids and texts stand in quotes, dates do not", TOML;
    "case-clash", "two paths differ only in case",
        "On systems that do not tell case apart they are one file, and one of the two is lost on checkout.",
        "rename one of them", PRACTICE;
    "conflict-markers", "a merge conflict was left in a file",
        "Both sides of the conflict are in the file; neither can be taken for what was meant.",
        "resolve the conflict, then delete the marker lines", PRACTICE;
    "duplicate-key", "a key is given twice in one table",
        "Only one of the two values can be used, and which one was meant cannot be told.",
        "keep one of the two and delete the other", TOML;
    "file-too-large", "a Markdown or settings file is larger than is read",
        "What it holds is not known, and it may be evidence of a failure.",
        "split it; large tables belong in an attached CSV file", PRACTICE;
    "front-matter-not-at-start", "a Markdown file has a `kind` line but does not start with `+++`",
        "It looks like one of the project's files, and nothing in it was read: a requirement or a failed test may be missing.",
        "make `+++` the very first line, or remove the `kind` line if this is ordinary Markdown", PRACTICE;
    "front-matter-not-closed", "a front matter is opened and never closed",
        "Nothing in the file was read.",
        "put a line of `+++` after its last key", PRACTICE;
    "ignored-project-file", "git ignores a file that looks like one of the project's",
        "It is here today and in no commit: whoever clones the project gets another answer.",
        "add it with git add --force, or remove it", PRACTICE;
    "instruments-elsewhere", "a list of instruments with calibrations lies below the top of the project",
        "Only the one at the top is read: a calibration that found an instrument out of tolerance would go unseen.",
        "put what it lists into instruments.toml at the top of the project, and remove it", PRACTICE;
    "nested-project", "a project lies inside this one that slipmark.toml does not list",
        "Its files are not read here, so that something could hide in it by mistake.",
        "list it under `projects` in slipmark.toml, or move it out", PRACTICE;
    "nested-repository", "another git repository lies inside the project",
        "Git sees none of its files, so that they are in no commit of this project.",
        "list it under `projects` in slipmark.toml, or move it out", PRACTICE;
    "not-named-md", "a file begins as one of the project's does, and its name does not end in .md",
        "Only files whose names end in .md are read: an editor that saved NC-005.md.txt has hidden what it says.",
        "rename it so that its name ends in .md, or take its `kind` line out if it is none of the project's", PRACTICE;
    "not-utf8", "a Markdown or settings file is not UTF-8, or holds zero bytes",
        "It cannot be read as text, so that nothing in it counts.",
        "save it as UTF-8", "TOML 1.0 (toml.io): a document is UTF-8";
    "path-not-utf8", "the name of a file or folder is not UTF-8",
        "It cannot be named in an answer, and is not read.",
        "rename it in UTF-8", PRACTICE;
    "second-in-file", "a second thing begins in a file",
        "A file holds one thing. What was put below it, by hand or by a merge that kept both, was not read: it may be a failed test.",
        "move it, from its `+++` on, into a file of its own; an example belongs in a block of code", PRACTICE;
    "shallow-history", "the repository does not have its full history",
        "Whether a failed test or a requirement was deleted cannot be told.",
        "fetch the rest; type: git fetch --unshallow --tags", PRACTICE;
    "sparse-missing", "a tracked file is left out by sparse checkout",
        "It may be a requirement or a failed test, and an answer without it would be about another project.",
        "bring the files back; type: git sparse-checkout disable", PRACTICE;
    "submodule", "a submodule lies in the project that slipmark.toml does not list",
        "Its files are not read here, so that something could hide in it by mistake.",
        "list it under `projects` in slipmark.toml, or move it out", PRACTICE;
    "symlinked-folder", "a symlink leads to a folder",
        "Symlinks are not followed, so that the files behind it are not read.",
        "put the files themselves there", PRACTICE;
    "symlinked-markdown", "a symlink stands where a Markdown file is expected",
        "Symlinks are not followed, so that the file behind it is not read.",
        "put the file itself there", PRACTICE;
    "too-deep", "folders lie deeper inside one another than is read",
        "What is below is not read.",
        "make the folders flatter", PRACTICE;
    "too-many-files", "the project holds more files than are read",
        "The rest is not read.",
        "make the project's folder smaller; large data can lie beside it", PRACTICE;
    "too-many-ignored", "ignored folders hold more than is looked through",
        "A forgotten record could lie in the part that was not looked at.",
        "move the folder out of the project, or look through it yourself for forgotten records", PRACTICE;
    "unreadable-baseline", "an earlier commit that is looked back to holds a file that cannot be read",
        "Whether something left the project since cannot be told.",
        "commit the file in a form that can be read, then tag that commit: git tag -a NAME", PRACTICE;
    "unreadable-file", "a file cannot be read",
        "What it holds is not known.",
        "give yourself permission to read it, or put a regular file there", PRACTICE;
    "unreadable-folder", "a folder cannot be listed",
        "What it holds is not known.",
        "give yourself permission to read it", PRACTICE;
    "vanished", "a signed record, nonconformance, waiver or active requirement that an earlier commit held is gone",
        "With a deleted failure or requirement nothing would be open, and nobody would know.",
        "restore the file; or name the id in `replaces`, or in `withdraws` of a decision; next time withdraw it, with a reason, before its file goes", PRACTICE;
};
