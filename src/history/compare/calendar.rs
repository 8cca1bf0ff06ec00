//! Which of two events comes first, when the list of events may have changed in between.

use crate::config::Config;

/// The events then and now.
#[derive(Clone, Copy)]
pub(in crate::history) struct Calendar<'c> {
    pub(in crate::history) then: &'c Config,
    pub(in crate::history) now: &'c Config,
}

/// How a due date moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::history) enum Shift {
    Same,
    Earlier,
    Later,
    Unknown,
}

impl Calendar<'_> {
    /// What an event of then is called now: its own name, or the new name at its place if it was merely renamed.
    pub(in crate::history) fn name_now(&self, event: &str) -> Option<&str> {
        let name = |config: &Config, at: usize| config.events.get(at).map(|event| event.name.value.clone());
        if let Some(at) = self.now.event_index(event) {
            return Some(&self.now.events[at].name.value);
        }
        let at = self.then.event_index(event)?;
        let as_many = self.then.events.len() == self.now.events.len();
        let others_stay = (0..self.then.events.len()).all(|i| i == at || name(self.then, i) == name(self.now, i));
        let new = self.now.events.get(at).filter(|_| as_many && others_stay)?;
        Some(&new.name.value)
    }

    /// Whether a due event moved, from one of then to one of now.
    pub(in crate::history) fn shift(&self, from: &str, to: &str) -> Shift {
        if self.name_now(from) == Some(to) || from == to {
            return Shift::Same;
        }
        let place_now = self.name_now(from).and_then(|name| self.now.event_index(name));
        let places = match (place_now, self.now.event_index(to)) {
            (Some(from), Some(to)) => Some((from, to)),
            _ => self.then.event_index(from).zip(self.then.event_index(to)),
        };
        match places {
            Some((from, to)) if to > from => Shift::Later,
            Some((from, to)) if to < from => Shift::Earlier,
            _ => Shift::Unknown,
        }
    }
}

/// The event before which things are due that name none.
pub(in crate::history) fn first(config: &Config) -> &str {
    config.events.first().map_or("the first event", |event| event.name.value.as_str())
}
