//! `slipmark calc`.

use std::cell::OnceCell;
use std::sync::Arc;

use clap::{Args, ValueEnum};

use super::working;
use crate::calc::{CalcError, Correlations, Given, Scope, Step, parse_expression};
use crate::cli::args::Common;
use crate::cli::document::{self, Output};
use crate::cli::project::ambient_here;
use crate::cli::{CliError, ExitStatus, Project, Ui};
use crate::quantity::Quantity;
use crate::quantity::rules::NO_AMBIENT;
use crate::report::view::{mistakes, typed};
use crate::report::{json, text, worked};
use crate::table::Table;

/// Show what a record computes, step by step, with its uncertainty and what drives it; or work out one expression.
///
/// Exact where every operation is; the uncertainty is carried through to first order (JCGM 100). An expression needs no project, and
/// knows no names but its own; inside a project, gauge pressures go by its `ambient`. Several statements are joined by `;`, and the last one is the answer.
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Arguments {
    /// The record
    #[arg(required_unless_present = "expression", conflicts_with = "expression")]
    pub id: Option<String>,
    /// An expression, such as "12 lbf*in to N*m"
    #[arg(short, long, value_name = "EXPR", allow_hyphen_values = true, conflicts_with = "output")]
    pub expression: Option<String>,
    /// Work it out with another value of an input or a parameter; nothing is written. Several may be given
    #[arg(long, value_name = "NAME=VALUE", conflicts_with = "expression")]
    pub what_if: Vec<String>,
    /// Find the value of an input or a parameter at which each criterion is just met
    #[arg(long, value_name = "NAME", conflicts_with = "expression")]
    pub solve: Option<String>,
    /// How it is written: text or json; of a record also html
    #[arg(long, value_enum, default_value_t, hide_possible_values = true)]
    pub format: Format,
    /// Where it goes.
    #[command(flatten)]
    pub to: Output,
}

const EXAMPLES: &str = "\
Values: 4.2 MPa, 20 degC, 6 bar gauge, (1.32 ± 0.08 N*m), 1.320(15) s,
  [9.99, 10.02] mm, (4.0 ± 0.1 V (95 %, nu=9)). A bare ± is 2u.
Signs: + - * / ^, comparisons, and or not, if C then A else B, [a, b].
Functions: sqrt cbrt abs exp ln log10 log2 sin cos tan asin acos atan atan2
  sinh cosh tanh min max sum mean median sd count floor ceil round hypot
Constants: pi g_n R k_B N_A sigma

Examples:
  slipmark calc AN-003                                    # step by step
  slipmark calc AN-003 --what-if \"T_stem=18 ± 1.5 N·m\"
  slipmark calc AN-003 --solve T_stem                     # how far it holds
  slipmark calc AN-003 --format html -o ../an-003.html
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
    /// A page with pictures.
    Html,
}

/// Nothing but what the expression says, and the ambient pressure where somebody stands: looked for once it is needed.
struct Typed<'c> {
    common: &'c Common,
    here: OnceCell<Option<Option<Quantity>>>,
}

impl Typed<'_> {
    /// As [`ambient_here`].
    fn here(&self) -> &Option<Option<Quantity>> {
        self.here.get_or_init(|| ambient_here(self.common))
    }
}

impl Scope for Typed<'_> {
    fn given(&self, _: &str) -> Option<Given> {
        None
    }

    fn names(&self) -> Vec<String> {
        Vec::new()
    }

    fn ambient(&self) -> Option<Quantity> {
        self.here().clone().flatten()
    }

    fn table(&self, file: &str) -> Result<Arc<Table>, (String, String)> {
        let help = "put the calculation into a record, and attach the table to it".to_owned();
        Err((format!("`{file}` cannot be read here: a typed expression has no files"), help))
    }
}

/// Prints the working or the answer, or where the expression is wrong.
///
/// # Errors
/// If there is no project or record, a value that is supposed cannot be used, or the output cannot be made.
pub fn run(arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    match (&arguments.expression, &arguments.id) {
        (Some(expression), _) => answer(expression, arguments, common, ui),
        (None, Some(id)) => of_record(id, arguments, common, ui),
        (None, None) => Err(CliError::refused("there is nothing to work out", "name a record, or give -e EXPR")),
    }
}

fn of_record(id: &str, arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let project = Project::open(common)?;
    let view = working::of(project, id, &arguments.what_if, arguments.solve.as_deref())?;
    let bytes = match arguments.format {
        Format::Text if arguments.to.output.is_none() => {
            ui.text(&text::worked::render(&view, ui.width()));
            return Ok(ExitStatus::Done);
        }
        Format::Text => crate::report::style::render(&text::worked::render(&view, ui.width()), false).into_bytes(),
        Format::Json => json::render(&view)?.into_bytes(),
        Format::Html => worked::html(&view, &project.analysis.templates)?.into_bytes(),
    };
    document::put(&arguments.to, &bytes, PAGE, ui)?;
    Ok(ExitStatus::Done)
}

const PAGE: document::Sort = document::Sort { name: "page of a calculation", ours: worked::is_page };

fn answer(expression: &str, arguments: &Arguments, common: &Common, ui: &mut Ui) -> Result<ExitStatus, CliError> {
    let steps = match work_out(expression, common) {
        Ok(steps) => steps,
        Err(errors) => {
            let found = mistakes(expression, &errors);
            ui.aside(&text::calc::mistakes(&found, ui.width()));
            return Ok(ExitStatus::Failed);
        }
    };
    // Steps are in order of dependence; the answer is what stands last.
    let view = typed(&steps, steps.iter().max_by_key(|step| step.range.start));
    match arguments.format {
        Format::Json => ui.bytes(json::render(&view)?.as_bytes()),
        Format::Text => ui.text(&text::calc::answer(&view)),
        Format::Html => return Err(CliError::refused("an expression has no page", "write --format text or json")),
    }
    Ok(ExitStatus::Done)
}

fn work_out(expression: &str, common: &Common) -> Result<Vec<Step>, Vec<CalcError>> {
    let sheet = parse_expression(expression)?;
    let scope = Typed { common, here: OnceCell::new() };
    let worked = sheet.check(&scope).and_then(|sheet| sheet.work_out(&Correlations::none()));
    worked.map_err(|mut errors| {
        for error in errors.iter_mut().filter(|error| error.help == NO_AMBIENT && scope.here().is_none()) {
            error.help = WITHOUT_PROJECT.into();
        }
        errors
    })
}

/// Where there is no project file to add anything to.
const WITHOUT_PROJECT: &str = "add the pressure of your site yourself, as in `101.325 kPa abs + 6 MPa`; inside a project, the `ambient` of its \
                               slipmark.toml is taken";
