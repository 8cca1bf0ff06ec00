//! Explanations for a terminal.

use crate::report::style::{BAD, GOOD, NAME, OFF, QUIET, STRONG, columns};
use crate::report::view::{SORTS, TopicView};

use super::{pad, wrap};

/// One topic in full.
pub fn one(topic: &TopicView, width: usize) -> String {
    let mut text = format!("{STRONG}{}{OFF} {QUIET}({}){OFF}\n", topic.topic, topic.sort);
    text.push_str(&format!("  {}\n", wrap(topic.summary, width, 2, 2)));
    if let Some(why) = &topic.why {
        text.push_str(&format!("  {}\n", wrap(why, width, 2, 2)));
    }
    if let (Some(bad), Some(good)) = (topic.bad, topic.good) {
        text.push_str(&format!("  {BAD}not{OFF}:    {}\n", wrap(bad, width, 10, 10)));
        text.push_str(&format!("  {GOOD}but{OFF}:    {}\n", wrap(good, width, 10, 10)));
    }
    if let Some(help) = topic.help {
        text.push_str(&format!("  {NAME}do{OFF}:     {}\n", wrap(help, width, 10, 10)));
    }
    text.push_str(&format!("  {QUIET}source: {}{OFF}\n", wrap(topic.source, width, 10, 10)));
    text
}

/// Columns for a name; one that is longer pushes its line.
const NAMES: usize = 32;

/// All topics by sort, a line or two each.
pub fn all(topics: &[TopicView], width: usize) -> String {
    let mut text = String::new();
    for (sort, heading) in SORTS {
        text.push_str(&format!("{STRONG}{heading}{OFF}\n"));
        for topic in topics.iter().filter(|topic| topic.sort == sort) {
            let lead = format!("  {} ", pad(topic.topic, NAMES - 3));
            text.push_str(&format!("{lead}{}\n", wrap(topic.summary, width, columns(&lead), NAMES)));
        }
        text.push('\n');
    }
    text.push_str("slipmark explain NAME says more.\n");
    text
}
