//! What the argument parser says below an argument that it does not know.

use std::ffi::OsString;
use std::path::Path;

use clap::builder::StyledStr;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::text::shell_word;

/// Puts the tip right. The parser's own, to write `-- --id` so that it is taken for a value, helps nobody with a word that begins
/// with two strokes: no id, event or file is called that. Whoever wrote `--id` meant the id, which stands by itself.
pub(super) fn put_right(error: &mut clap::Error, command: &clap::Command, arguments: &[OsString]) {
    let invalid = match error.get(ContextKind::InvalidArg) {
        Some(ContextValue::String(invalid)) if error.kind() == ErrorKind::UnknownArgument => invalid.clone(),
        _ => return,
    };
    if !invalid.starts_with("--") {
        return;
    }
    if error.get(ContextKind::SuggestedArg).is_none() {
        error.remove(ContextKind::Suggested);
    }
    if invalid.eq_ignore_ascii_case("--id")
        && let Some(typed) = with_id(command, arguments)
    {
        error.remove(ContextKind::SuggestedArg);
        let tip = StyledStr::from(format!("the id is written by itself: {typed}"));
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![tip]));
    }
}

/// The command with the id where it belongs; none if it takes no id.
fn with_id(command: &clap::Command, arguments: &[OsString]) -> Option<String> {
    let words: Vec<String> = arguments.iter().skip(1).map(|word| word.to_string_lossy().into_owned()).collect();
    let own = words.iter().find_map(|word| command.find_subcommand(word))?;
    let named = |arg: &clap::Arg| arg.get_value_names().into_iter().flatten().any(|name| name == "ID");
    if !own.get_positionals().any(named) {
        return None;
    }
    let is_id = |word: &str| word.split('=').next().is_some_and(|name| name.eq_ignore_ascii_case("--id"));
    let at = words.iter().position(|word| is_id(word))?;
    let value = match words[at].split_once('=') {
        Some((_, value)) => Some(value),
        None => words.get(at + 1).map(String::as_str).filter(|next| !next.starts_with('-')),
    };
    let id = value.filter(|value| !value.is_empty()).map_or("ID".to_string(), |value| shell_word(Path::new(value)));
    let kind = own.get_name() == "new";
    let kind = kind.then(|| words.iter().find(|word| is_kind(word)).map_or("KIND", String::as_str));
    let all = ["slipmark", own.get_name()].into_iter().chain(kind).chain([id.as_str()]);
    Some(all.collect::<Vec<_>>().join(" "))
}

fn is_kind(word: &str) -> bool {
    crate::model::kinds::KINDS.iter().any(|kind| kind.word == word)
}
