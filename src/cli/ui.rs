//! The only writer to the terminal.
//!
//! Text comes with the style marks of [`crate::report::style`]; everything else that a terminal could act upon is made
//! visible here, whatever file it came from. A pipe that is closed ends the writing, never changes the verdict. Output
//! that is lost in any other way (a full disk) is an answer that nobody got.

use std::io::{IsTerminal, Write};
use std::sync::Arc;

use rayon::prelude::*;

use crate::history::Progress;
use crate::report::style;
use crate::report::text::wrap;

use super::CliError;
use super::waiting::Waiting;

/// Where a run's output goes.
pub struct Ui {
    width: usize,
    colour_out: bool,
    colour_err: bool,
    /// Whether somebody sees what is said beside the result: a line in a file or a pipe is whole, so that it can be looked for.
    seen_err: bool,
    /// Why not all of the result was written, if somebody was still reading.
    lost: Option<std::io::Error>,
    /// What was said since somebody listens.
    said: Option<Vec<Said>>,
    /// Says that the program is still at it, until something else is said.
    waiting: Option<Waiting>,
    progress: Arc<Progress>,
}

/// Something that was written to one of the streams.
#[derive(Clone, Debug)]
pub(super) struct Said {
    pub(super) to_error: bool,
    pub(super) bytes: Vec<u8>,
}

impl Default for Ui {
    fn default() -> Self {
        Ui::new()
    }
}

/// Widths beyond this are hard to read.
const WIDEST: usize = 140;
/// Narrower than this nothing fits.
const NARROWEST: usize = 40;
/// The width where there is no terminal.
const USUAL: usize = 100;

impl Ui {
    /// Looks at the terminal and the environment.
    pub fn new() -> Ui {
        let told = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse::<usize>().ok());
        let seen = || terminal_size::terminal_size().map(|(width, _)| usize::from(width.0));
        let width = told.or_else(seen).unwrap_or(USUAL).clamp(NARROWEST, WIDEST);
        let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
            || std::env::var("TERM").is_ok_and(|term| term == "dumb");
        let colour = |terminal: bool| terminal && !plain;
        Ui {
            width,
            colour_out: colour(std::io::stdout().is_terminal()),
            colour_err: colour(std::io::stderr().is_terminal()),
            seen_err: std::io::stderr().is_terminal(),
            lost: None,
            said: None,
            waiting: None,
            progress: Arc::default(),
        }
    }

    /// Columns to lay text out for.
    pub fn width(&self) -> usize {
        self.width
    }

    /// How things are said here, in words: the same words, the same bytes.
    pub(super) fn manner(&self) -> String {
        format!("{} {} {} {}", self.width, self.colour_out, self.colour_err, self.seen_err)
    }

    /// Says from the first second on that the program is at work, if somebody sees it and the line can be taken back.
    pub(super) fn wait(&mut self) {
        let dumb = std::env::var("TERM").is_ok_and(|term| term == "dumb");
        if std::io::stderr().is_terminal() && !dumb {
            self.waiting = Some(Waiting::start(self.progress.clone(), std::io::stderr()));
        }
    }

    /// How far the command has come, for those that take long.
    pub(super) fn progress(&self) -> &Progress {
        &self.progress
    }

    /// Remembers from now on what is said.
    pub(super) fn listen(&mut self) {
        self.said = Some(Vec::new());
    }

    /// What was said since.
    pub(super) fn heard(&mut self) -> Vec<Said> {
        self.said.take().unwrap_or_default()
    }

    /// Says something again that was heard.
    pub(super) fn repeat(&mut self, to_error: bool, bytes: &[u8]) {
        if to_error {
            self.waiting = None;
            let _ = Self::put(&mut std::io::stderr().lock(), bytes);
        } else {
            self.bytes(bytes);
        }
    }

    fn hear(&mut self, to_error: bool, bytes: &[u8]) {
        if let Some(said) = &mut self.said {
            said.push(Said { to_error, bytes: bytes.to_vec() });
        }
    }

    /// Prints text for people.
    pub fn text(&mut self, text: &str) {
        let shown = style::render(text, self.colour_out);
        self.bytes(shown.as_bytes());
    }

    /// Prints text for people that comes in pieces.
    pub fn texts(&mut self, pieces: &[String]) {
        let colour = self.colour_out;
        let shown: Vec<String> = pieces.par_iter().map(|piece| style::render(piece, colour)).collect();
        self.bytes(shown.concat().as_bytes());
    }

    /// Prints bytes as they are: JSON, CSV, documents.
    pub fn bytes(&mut self, bytes: &[u8]) {
        self.waiting = None;
        self.hear(false, bytes);
        if let Err(error) = Self::put(&mut std::io::stdout().lock(), bytes)
            && error.kind() != std::io::ErrorKind::BrokenPipe
        {
            self.lost.get_or_insert(error);
        }
    }

    /// Whether all of the result was written, or its reader went away first.
    ///
    /// # Errors
    /// If some of it was lost.
    pub fn all_written(&mut self) -> Result<(), CliError> {
        match self.lost.take() {
            Some(error) => Err(CliError::write(std::path::Path::new("the output"), error)),
            None => Ok(()),
        }
    }

    /// Says something beside the result: as wide as the terminal if there is one.
    pub fn aside(&mut self, text: &str) {
        let text = if self.seen_err { fitted(text, self.width) } else { text.to_string() };
        let shown = format!("{}\n", style::render(&text, self.colour_err));
        self.waiting = None;
        self.hear(true, shown.as_bytes());
        // There is nowhere left to say that this could not be said.
        let _ = Self::put(&mut std::io::stderr().lock(), shown.as_bytes());
    }

    /// Says why there is no answer.
    pub fn error(&mut self, error: &CliError) {
        let mut text = format!("{}error{}: {error}", style::BAD, style::OFF);
        if let Some(help) = error.help() {
            text.push_str(&format!("\n  {}do{}: {help}", style::STRONG, style::OFF));
        }
        self.aside(&text);
    }

    /// Prints what the argument parser has to say.
    pub(super) fn clap_message(&mut self, error: &clap::Error, wrong: bool) {
        let rendered = error.render();
        let colour = if wrong { self.colour_err } else { self.colour_out };
        let plain = rendered.to_string();
        // An argument is quoted in the message, and may be the name of somebody else's file.
        let acts = plain.contains(|c: char| c != '\n' && style::acting(c).is_some());
        let text = if colour && !acts { rendered.ansi().to_string() } else { style::render(&plain, false) };
        if wrong {
            let _ = Self::put(&mut std::io::stderr().lock(), text.as_bytes());
        } else {
            self.bytes(text.as_bytes());
        }
    }

    fn put(stream: &mut dyn Write, bytes: &[u8]) -> std::io::Result<()> {
        stream.write_all(bytes).and_then(|()| stream.flush())
    }
}

/// Lines that are too wide broken, what follows below where the text began; those that fit stay as they are.
fn fitted(text: &str, width: usize) -> String {
    let line = |line: &str| {
        if style::columns(line) <= width {
            return line.to_string();
        }
        let own = line.trim_start_matches(' ');
        let lead = line.len() - own.len();
        let indent = lead + if style::render(own, false).starts_with("do: ") { "do: ".len() } else { 2 };
        format!("{}{}", &line[..lead], wrap(own, width, lead, indent))
    };
    text.split('\n').map(line).collect::<Vec<_>>().join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(seen_err: bool, error: &CliError) -> String {
        let mut ui = Ui { width: 60, seen_err, colour_err: false, ..Ui::new() };
        ui.listen();
        ui.error(error);
        let heard = ui.heard();
        String::from_utf8(heard.into_iter().flat_map(|own| own.bytes).collect()).unwrap()
    }

    #[test]
    fn what_is_to_be_done_about_an_error_fits_the_terminal_and_can_be_copied() {
        let message =
            format!("TR-1 cannot be signed:\n  - it has no result\n    {}do{}: write it", style::NAME, style::OFF);
        let help = "write the result that the run gave, or \
                    type slipmark new inspection --for R-1 --serial MOV/SN02, then sign it";
        let error = CliError::refused(message, help);
        let whole = said(false, &error);
        assert_eq!(whole.lines().count(), 4, "a line that nobody sees is whole: {whole}");
        let shown = said(true, &error);
        assert_eq!(
            shown,
            "error: TR-1 cannot be signed:\n  - it has no result\n    do: write it\n  do: write the result that the run gave, or type\n      \
             slipmark new inspection --for R-1 --serial MOV/SN02,\n      then sign it\n"
        );
    }
}
