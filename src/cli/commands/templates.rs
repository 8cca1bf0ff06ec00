//! `slipmark templates`.

use std::path::{Path, PathBuf};

use clap::Args;

use crate::cli::args::{NoProject, TextOrJson};
use crate::cli::{CliError, ExitStatus, Ui, document};
use crate::report::{json, text, view};
use crate::templates::{Template, our, ours};

/// The templates that pages are laid out by, to start your own from.
///
/// Lists their names, what each lays out and the names that it uses; with names, prints those templates. `--write` copies them, or all,
/// into a folder: name it in slipmark.toml, templates = "DIR", change what you want otherwise, and take the rest away. What is
/// left out, or left as it is, stays slipmark's own. Needs no project.
#[derive(Args, Debug)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Names of templates, such as packet/cover.html
    #[arg(value_name = "NAME")]
    pub names: Vec<String>,
    /// Copy them into this folder
    #[arg(long, value_name = "DIR", conflicts_with = "format")]
    pub write: Option<PathBuf>,
    /// Write over templates that were changed
    #[arg(long, requires = "write")]
    pub force: bool,
    /// How the list is written: text or json
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: TextOrJson,
    /// It needs no project.
    #[command(flatten)]
    pub none: NoProject,
}

const EXAMPLES: &str = "\
Examples:
  slipmark templates                                       # all names
  slipmark templates packet/cover.html                     # print one
  slipmark templates packet/cover.html --write templates   # to start from
  slipmark explain templates                               # how it is used";

const TEMPLATE: document::Sort = document::Sort { name: "template", ours: |_| false };

/// Lists, prints or copies templates.
///
/// # Errors
/// If a name is not known, or a file cannot or must not be written.
pub fn run(arguments: &Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let named = arguments.names.iter().map(|name| find(name)).collect::<Result<Vec<&Template>, CliError>>()?;
    if let Some(folder) = &arguments.write {
        let all = ours().iter().filter(|own| own.may_be_replaced());
        let chosen = if named.is_empty() { all.collect() } else { named };
        return copy(folder, &chosen, arguments.force, ui);
    }
    match arguments.format {
        TextOrJson::Json => ui.bytes(json::render(&view::templates())?.as_bytes()),
        TextOrJson::Text if named.is_empty() => ui.text(&text::templates::all(&view::templates(), ui.width())),
        TextOrJson::Text => named.iter().for_each(|own| ui.bytes(own.text.as_bytes())),
    }
    Ok(ExitStatus::Done)
}

fn find(name: &str) -> Result<&'static Template, CliError> {
    let known = ours().iter().filter(|own| own.may_be_replaced()).map(|own| own.name);
    our(name).filter(|own| own.may_be_replaced()).ok_or_else(|| CliError::unknown("no template is called", name, known))
}

/// Copies templates; one that stands there and is another stops all of them.
fn copy(folder: &Path, chosen: &[&Template], force: bool, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let place = |own: &Template| folder.join(own.name);
    let is_other = |own: &&&Template| {
        let path = place(own);
        path.symlink_metadata().is_ok() && std::fs::read(path).ok().as_deref() != Some(own.text.as_bytes())
    };
    if let Some(own) = chosen.iter().find(is_other).filter(|_| !force) {
        return Err(CliError::refused(
            format!("{} exists and was changed", place(own).display()),
            "name the templates that you want, another folder, or write over it with --force",
        ));
    }
    for own in chosen {
        let path = place(own);
        let below = path.parent().unwrap_or(folder);
        std::fs::create_dir_all(below).map_err(|error| CliError::write(below, error))?;
        document::write(&path, own.text.as_bytes(), true, TEMPLATE)?;
        ui.text(&format!("{}\n", path.display()));
    }
    Ok(ExitStatus::Done)
}
