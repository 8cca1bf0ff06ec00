//! `slipmark calc`.

use std::sync::Arc;

use clap::{Args, ValueEnum};

use crate::calc::{CalcError, Correlations, Given, Scope, Step, parse_expression};
use crate::cli::args::NoProject;
use crate::cli::{CliError, ExitStatus, Ui};
use crate::report::view::{mistakes, typed};
use crate::report::{json, text};
use crate::table::Table;

/// Work an expression out, with its units and its uncertainty, at full precision.
///
/// Exact where every operation is; the uncertainty is carried through to first order (JCGM 100). Several statements are joined by `;`,
/// and the last one is the answer. Needs no project, and knows no names but those that the expression defines.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The expression, such as "12 lbf*in to N*m"
    #[arg(short, long, value_name = "EXPR", allow_hyphen_values = true)]
    pub expression: String,
    /// How the answer is written: text or json
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// It needs no project.
    #[command(flatten)]
    pub none: NoProject,
}

const EXAMPLES: &str = "\
Values: 4.2 MPa, 20 degC, 6 bar gauge, (1.32 ± 0.08 N*m), 1.320(15) s,
  [9.99, 10.02] mm, (4.0 ± 0.1 V (95 %, nu=9)). A bare ± is 2u.
Signs: + - * / ^, comparisons, and or not, if C then A else B, [a, b].
Functions: sqrt cbrt abs exp ln log10 log2 sin cos tan asin acos atan atan2
  sinh cosh tanh min max sum mean median sd count floor ceil round hypot
Constants: pi g_n R k_B N_A sigma

Examples:
  slipmark calc -e \"12 lbf*in to N*m\"                     # 1.3558179483314004
  slipmark calc -e \"(1.32 ± 0.08 N*m) * 40 / 2\"           # 26.4 ± 1.6 N·m
  slipmark calc -e \"sqrt(2*g_n*3 m) to ft/s\"
  slipmark calc -e \"T = (1.32 ± 0.08 N*m); T / (2.1 ± 0.2 N*m) - 1\"
  slipmark calc -e \"20 degC - 5 degF to K\" --format json";

/// How an answer is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a terminal.
    #[default]
    Text,
    /// For programs.
    Json,
}

/// Nothing but what the expression says.
struct Nothing;

impl Scope for Nothing {
    fn given(&self, _: &str) -> Option<Given> {
        None
    }

    fn names(&self) -> Vec<String> {
        Vec::new()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        let help = "put the calculation into a record, and attach the table to it".to_owned();
        Err((format!("`{file}` cannot be read here: a typed expression has no files"), help))
    }
}

/// Prints the answer, or where the expression is wrong.
///
/// # Errors
/// If the output cannot be made.
pub fn run(arguments: &Arguments, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let steps = match work_out(&arguments.expression) {
        Ok(steps) => steps,
        Err(errors) => {
            let found = mistakes(&arguments.expression, &errors);
            ui.aside(&text::calc::mistakes(&found, ui.width()));
            return Ok(ExitStatus::Failed);
        }
    };
    // Steps are in order of dependence; the answer is what stands last.
    let view = typed(&steps, steps.iter().max_by_key(|step| step.range.start));
    match arguments.format {
        Format::Json => ui.bytes(json::render(&view)?.as_bytes()),
        Format::Text => ui.text(&text::calc::answer(&view)),
    }
    Ok(ExitStatus::Done)
}

fn work_out(expression: &str) -> Result<Vec<Step>, Vec<CalcError>> {
    parse_expression(expression)?.check(&Nothing)?.work_out(&Correlations::none())
}
