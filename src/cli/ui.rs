//! The only writer to the terminal.
//!
//! Text comes with the style marks of [`crate::report::style`]; everything else that a terminal could act upon is made
//! visible here, whatever file it came from. A pipe that is closed ends the writing, never changes the verdict. Output
//! that is lost in any other way (a full disk) is an answer that nobody got.

use std::io::{IsTerminal, Write};

use rayon::prelude::*;

use crate::report::style;

use super::CliError;

/// Where a run's output goes.
pub struct Ui {
    width: usize,
    colour_out: bool,
    colour_err: bool,
    /// Why not all of the result was written, if somebody was still reading.
    lost: Option<std::io::Error>,
    /// What was said since somebody listens.
    said: Option<Vec<Said>>,
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
            lost: None,
            said: None,
        }
    }

    /// Columns to lay text out for.
    pub fn width(&self) -> usize {
        self.width
    }

    /// How things are said here, in words: the same words, the same bytes.
    pub(super) fn manner(&self) -> String {
        format!("{} {} {}", self.width, self.colour_out, self.colour_err)
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

    /// Says something beside the result.
    pub fn aside(&mut self, text: &str) {
        let shown = format!("{}\n", style::render(text, self.colour_err));
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
