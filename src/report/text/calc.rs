//! Calculations for a terminal.

use crate::report::style::{BAD, OFF, QUIET, STRONG, columns};
use crate::report::view::{CalcView, MistakeView, ResultView};

use super::findings::quoted;
use super::{pad, wrap};

/// The answer of an expression that was typed, and where its uncertainty comes from.
pub fn answer(view: &CalcView) -> String {
    view.results.iter().map(result).collect()
}

fn result(result: &ResultView) -> String {
    let mut text = format!("{STRONG}{}{OFF}\n", result.text);
    if let (Some(standard), [_, ..]) = (result.standard_uncertainty, result.contributions.as_slice()) {
        let freedom =
            result.degrees_of_freedom.map_or_else(String::new, |freedom| format!(", {freedom:.1} degrees of freedom"));
        let unit = if result.unit.is_empty() { String::new() } else { format!(" {}", result.unit.replace('*', "·")) };
        text.push_str(&format!("  {QUIET}standard uncertainty u = {standard}{unit}{freedom}{OFF}\n"));
    }
    if let [_, _, ..] = result.contributions.as_slice() {
        // A value that stands in the expression has no other name.
        let named = result.contributions.iter().map(|own| match own.input.contains(['±', '(', '[']) {
            true => own.input.clone(),
            false => format!("{} = {}", own.input, own.value),
        });
        let names: Vec<String> = named.collect();
        let widest = names.iter().map(|name| columns(name)).max().unwrap_or(0).min(48);
        for (own, name) in result.contributions.iter().zip(&names) {
            text.push_str(&format!("  {QUIET}{}  {:>5.1} %{OFF}\n", pad(name, widest), own.percent));
        }
    }
    text
}

/// What is wrong with an expression: each place with a stroke under it.
pub fn mistakes(mistakes: &[MistakeView], width: usize) -> String {
    mistakes.iter().map(|mistake| one(mistake, width)).collect::<Vec<_>>().join("\n")
}

fn one(mistake: &MistakeView, width: usize) -> String {
    let place = format!("line {}, column {}", mistake.line, mistake.column);
    let mut text = format!("{BAD}error{OFF}: {}: {}\n", place, wrap(&mistake.message, width, 9 + place.len(), 2));
    text.push_str(&quoted(&mistake.excerpt, mistake.line, BAD, width));
    for (part, what) in &mistake.also {
        text.push_str(&format!("  {QUIET}see{OFF}: {}\n", wrap(&format!("`{part}`: {what}"), width, 7, 7)));
    }
    text.push_str(&format!("  {STRONG}do{OFF}: {}", wrap(&mistake.help, width, 6, 6)));
    text
}
