//! `slipmark explain`.

use clap::Args;
use serde::Serialize;

use crate::cli::args::{NoProject, TextOrJson};
use crate::cli::{CliError, ExitStatus, Ui};
use crate::parse::nearest;
use crate::report::view::{TopicView, explain, topics};
use crate::report::{json, text};

/// What a code, state or word means, why it matters and where it is from.
///
/// Takes the code of any finding or reason, a state, method or stage, or a word of the guide; several at once. Without
/// one, lists them all. Needs no project.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// Codes, states or words, such as seal-broken, "not met", waiver
    #[arg(value_name = "NAME")]
    pub names: Vec<String>,
    /// How the explanation is written: text or json
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: TextOrJson,
    /// It needs no project.
    #[command(flatten)]
    pub none: NoProject,
}

const EXAMPLES: &str = "\
Examples:
  slipmark explain                    # everything that can be explained
  slipmark explain slipped            # a state
  slipmark explain seal-broken        # a code
  slipmark explain \"not met\" waiver";

/// What the JSON says.
#[derive(Serialize)]
struct Topics {
    slipmark: &'static str,
    topics: Vec<TopicView>,
}

/// Prints the explanations.
///
/// # Errors
/// If a name is not known; then none is explained.
pub fn run(arguments: &Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let mut found: Vec<TopicView> = Vec::new();
    for name in &arguments.names {
        let own = explain(name);
        if own.is_empty() {
            let known: Vec<&str> = topics().iter().map(|topic| topic.topic).collect();
            let all = "slipmark explain lists all that can be explained";
            let help = nearest(name, known.into_iter()).map_or(all.into(), |meant| format!("did you mean `{meant}`?"));
            return Err(CliError::Unknown { what: "nothing to explain is called".into(), name: name.clone(), help });
        }
        found.extend(own);
    }
    let list = arguments.names.is_empty();
    if list {
        found = topics();
    }
    match arguments.format {
        TextOrJson::Json => {
            ui.bytes(json::render(&Topics { slipmark: env!("CARGO_PKG_VERSION"), topics: found })?.as_bytes())
        }
        TextOrJson::Text if list => ui.text(&text::explain::all(&found, ui.width())),
        TextOrJson::Text => {
            let pages: Vec<String> = found.iter().map(|topic| text::explain::one(topic, ui.width())).collect();
            ui.text(&pages.join("\n"));
        }
    }
    Ok(ExitStatus::Done)
}
