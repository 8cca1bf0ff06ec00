//! Pages from one reading of the project.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use jiff::civil::Date;
use rayon::prelude::*;

use crate::cli::args::Common;
use crate::cli::commands::packet::dated;
use crate::cli::{CliError, Project};
#[cfg(test)]
use crate::git::Repo;
use crate::report::ReportError;
use crate::report::packet::{Dated, Made, Past};
use crate::report::pages::{Ahead, Homes, Prepared, Set, live};
use crate::report::view;
use crate::serve::{Asked, Reply, Site};
use crate::source::{Seen, Snapshot};
use crate::state::AttachmentState;
use crate::text::encoded;

use super::between;
use super::live::{Live, Now};
use super::told::{Lasting, Told};
use super::what_if;

const HTML: &str = "text/html; charset=utf-8";

/// What a reading was of: every text, and what became of every attached file.
#[derive(PartialEq)]
pub(super) struct Says {
    snapshot: Snapshot,
    attachments: Vec<Vec<AttachmentState>>,
}

/// A reading, with what was worked out of it so far.
pub(super) struct Loaded {
    number: u64,
    project: Result<Project, CliError>,
    told: Told,
    lasting: Lasting,
    dated: OnceLock<Result<Dated, String>>,
    /// The page to begin with.
    events: OnceLock<Reply>,
    /// Where every thing has its page.
    homes: OnceLock<Arc<Homes>>,
    /// By event.
    prepared: Mutex<BTreeMap<usize, Arc<Prepared>>>,
}

impl Loaded {
    /// The reading with this number.
    pub(super) fn of(project: Result<Project, CliError>, number: u64, lasting: Lasting) -> Loaded {
        let (dated, events, homes) = (OnceLock::new(), OnceLock::new(), OnceLock::new());
        Loaded { number, project, told: Told::new(&lasting), lasting, dated, events, homes, prepared: Mutex::default() }
    }

    /// The same with another number.
    pub(super) fn numbered(self, number: u64) -> Loaded {
        Loaded { number, ..self }
    }

    /// Lets go of it, on several threads.
    pub(super) fn take_apart(self) {
        let Loaded { mut project, prepared, homes, .. } = self;
        let requirements =
            project.as_mut().ok().map(|project| std::mem::take(&mut project.analysis.model.requirements));
        rayon::join(|| drop(project), || drop((prepared, homes, requirements)));
    }

    /// All that was read, if it hangs on files that are listed and on git alone.
    pub(super) fn says(&self) -> Option<Says> {
        let analysis = &self.project.as_ref().ok().filter(|_| self.hangs_on_files_alone())?.analysis;
        Some(Says { snapshot: analysis.snapshot.clone(), attachments: analysis.attachments.clone() })
    }

    pub(super) fn number(&self) -> u64 {
        self.number
    }

    /// The day that it is asked about.
    pub(super) fn day(&self) -> Option<Date> {
        self.project.as_ref().ok().map(|project| project.analysis.request.today)
    }

    /// Whether it could not be read at all.
    pub(super) fn is_failed(&self) -> bool {
        self.project.is_err()
    }

    /// Whether files that are listed are all that it was made from.
    pub(super) fn hangs_on_files_alone(&self) -> bool {
        self.seen().is_some()
    }

    /// By what to tell that all that it hangs on is still the same, as [`Project::seen`].
    pub(super) fn seen(&self) -> Option<Seen> {
        self.project.as_ref().ok()?.seen()
    }

    #[cfg(test)]
    pub(super) fn repo(&self) -> Option<&Arc<Repo>> {
        self.project.as_ref().ok().map(|project| &project.repo)
    }

    /// Whether there are pages about an event.
    fn has(&self, event: &str) -> bool {
        self.project.as_ref().is_ok_and(|project| at(project, event).is_some())
    }

    /// A page about an event; none if there is none.
    pub(super) fn page(&self, event: &str, address: &str, asked: &Asked, common: &Common) -> Option<Reply> {
        let project = self.project.as_ref().ok()?;
        let event = at(project, event)?;
        let html = |text: Result<String, ReportError>| text.map(|text| (HTML, text));
        let nothing = Past::default();
        let set = self.set(project, event, &nothing);
        let past = set.and_then(|set| self.past(project, &set, address, common));
        match past.as_ref().map_err(Clone::clone).and_then(|past| self.set(project, event, past)) {
            Ok(set) => match (address, address.strip_prefix("revisions/")) {
                ("rows", _) => Some(self.made(html(set.rows_chosen(&asked.fields)))),
                ("keys", _) => Some(self.made(html(set.keys()))),
                ("search", _) => Some(self.made(html(set.found(asked.value("q").unwrap_or(""))))),
                ("between", _) => Some(self.made(html(between::page(project, &set, asked)))),
                (_, Some(own)) => set.revisions(own, asked.value("at")).map(|page| self.made(html(page))),
                _ => self
                    .with_what_if(project, set, address, asked)
                    .page(address)
                    .map(|page| self.made(page.map(|page| (page.media.name(), page.text)))),
            },
            Err(why) => Some(self.failed("The pages cannot be made", &why, "")),
        }
    }

    /// The pages, with what other values would come to on that of a record which works anything out.
    fn with_what_if<'a>(&self, project: &Project, set: Set<'a>, address: &str, asked: &Asked) -> Set<'a> {
        let record = set.record_at(address);
        set.supposing(record.and_then(|at| what_if::of(&project.analysis, at, &asked.fields)))
    }

    /// As much of the past as the page at an address tells: those of requirements and of what changed do, and no other.
    fn past(&self, project: &Project, set: &Set<'_>, address: &str, common: &Common) -> Result<Past, String> {
        let requirement = match address.strip_prefix("revisions/") {
            Some(own) => set.requirement_at(&format!("requirement/{own}")),
            None => set.requirement_at(address),
        };
        match requirement {
            Some(id) => self.told.requirement(project, id),
            None if address == "changes" => self.told.since(project, common),
            None => Ok(Past::default()),
        }
    }

    fn set<'a>(&'a self, project: &'a Project, event: usize, past: &'a Past) -> Result<Set<'a>, String> {
        let dated = self.dated.get_or_init(|| dated(project, None).map_err(|error| error.in_words()));
        let dated = dated.as_ref().map_err(Clone::clone)?;
        let known = self.prepared.lock().unwrap_or_else(PoisonError::into_inner).get(&event).cloned();
        // History is looked through beside all that does not hang on it.
        let ready = || known.ok_or_else(|| Ahead::of(&project.analysis, event));
        // Nothing of it is spread over threads: a thread that waited for its share could be handed another's wait for this.
        let homes = || self.homes.get_or_init(|| self.lasting.homes(&project.analysis));
        let (guard, (ready, homes)) = rayon::join(|| project.guard(), || rayon::join(ready, homes));
        let guard = guard.map_err(|error| error.in_words())?;
        let from = Made { analysis: &project.analysis, guard, past, source: &*project.source, dated };
        let prepared = match ready {
            Ok(prepared) => prepared,
            Err(ahead) => {
                let made = Prepared::with(from, event, Arc::clone(homes), ahead).map_err(|error| error.in_words())?;
                let mut all = self.prepared.lock().unwrap_or_else(PoisonError::into_inner);
                all.entry(event).or_insert_with(|| Arc::new(made)).clone()
            }
        };
        Ok(Set::with(from, prepared))
    }

    /// The page to begin with: every event, and how it stands.
    pub(super) fn events(&self) -> Reply {
        self.events.get_or_init(|| self.make_events()).clone()
    }

    fn make_events(&self) -> Reply {
        let project = match &self.project {
            Ok(project) => project,
            Err(error) => return self.unreadable(error),
        };
        let guard = match project.guard() {
            Ok(guard) => guard,
            Err(error) => return self.unreadable(&error),
        };
        let events = project.analysis.model.config.events.len();
        if events == 0 {
            return self.unreadable(&project.no_events());
        }
        let event = |event| (folder(project, event), view::before_counts(&project.analysis, guard, event));
        let all: Vec<_> = (0..events).into_par_iter().map(event).collect();
        self.made(live::events(&all).map(|text| (HTML, text)))
    }

    fn unreadable(&self, error: &CliError) -> Reply {
        self.failed("The project cannot be read", &error.to_string(), &error.help().unwrap_or_default())
    }

    fn failed(&self, what: &str, why: &str, help: &str) -> Reply {
        let reply = self.made(live::failed(what, why, help).map(|text| (HTML, text)));
        Reply { status: 500.max(reply.status), ..reply }
    }

    /// What was made, with the number of the reading that it was made from.
    fn made(&self, made: Result<(&'static str, String), ReportError>) -> Reply {
        match made {
            Ok((sort, text)) => Reply::of(200, sort, text.replacen(live::SEEN, &live::seen(self.number), 1)),
            Err(error) => {
                let help = error.help.as_deref().unwrap_or_default();
                match live::failed("The page cannot be made", &error.message, help) {
                    Ok(page) => Reply::page(500, page.replacen(live::SEEN, &live::seen(self.number), 1)),
                    Err(error) => Reply::of(500, "text/plain; charset=utf-8", format!("{}\n", error.message)),
                }
            }
        }
    }

    fn missing(&self) -> Reply {
        let reply = self.made(live::missing().map(|text| (HTML, text)));
        Reply { status: 404, ..reply }
    }
}

/// The folder of the pages about an event: its name, or its number where a name cannot be a part of an address.
fn folder(project: &Project, event: usize) -> String {
    let name = &project.analysis.model.config.events[event].name.value;
    let odd = |c: char| c.is_control() || matches!(c, '/' | '\\');
    let plain = !name.is_empty() && !name.starts_with(['~', '.', '-']) && !name.contains(odd);
    if plain { name.clone() } else { format!("~{}", event + 1) }
}

fn at(project: &Project, name: &str) -> Option<usize> {
    (0..project.analysis.model.config.events.len()).find(|event| folder(project, *event) == name)
}

impl Site for Live {
    fn reply(&self, asked: &Asked) -> Reply {
        let address = asked.address();
        match address.as_str() {
            live::SCRIPT_ADDRESS => return Reply::of(200, "text/javascript; charset=utf-8", live::SCRIPT),
            live::STYLE_ADDRESS => return Reply::of(200, "text/css; charset=utf-8", live::style()),
            live::BASE_ADDRESS => return Reply::of(200, "text/css; charset=utf-8", live::base()),
            _ => {}
        }
        let Now::Read(loaded) = self.now() else {
            let page = live::failed(
                "Files have changed, and reading them takes long",
                "There is no answer yet.",
                "read this page again in a while",
            );
            return Reply::page(503, page.unwrap_or_else(|error| error.message));
        };
        let Some((event, rest)) = asked.parts.split_first() else { return loaded.events() };
        if let Err(error) = &loaded.project {
            return loaded.unreadable(error);
        }
        match (rest.is_empty(), asked.folder) {
            (true, false) if loaded.has(event) => Reply::elsewhere(format!("/{}/", encoded(event))),
            (true, false) | (false, true) => loaded.missing(),
            _ => loaded.page(event, &rest.join("/"), asked, self.common()).unwrap_or_else(|| loaded.missing()),
        }
    }
}
