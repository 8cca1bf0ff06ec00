//! Which record decides a criterion, and what that makes of it.

use crate::model::kinds::{Criterion, LimitValue, PlanEntry, Record, Requirement, RequirementStatus, Verifies};
use crate::model::{Id, SerialId};

use super::accounted::{account, is_accounted_for};
use super::applies::{Subject, voids};
use super::judge::{Judgement, Verdict, is_unsettled};
use super::kept::moved_inputs;
use super::relief::{self, When, Where};
use super::rows::CriterionState;
use super::scope::{choices, event_of};
use super::standing::{Standing, failures, lines_up, standing};
use super::stands::{Fares, Still, still};
use super::{Facts, Reason, State, people};

/// One entry of a requirement, looked at on one thing.
#[derive(Clone, Copy)]
pub(super) struct Look<'a> {
    pub facts: &'a Facts<'a>,
    pub at: usize,
    pub requirement: &'a Requirement,
    pub entry: &'a PlanEntry,
    pub place: Where<'a>,
    pub when: When,
}

/// That of several records which none is known to be newer of, others come out better, and how it is told which is newer.
fn which_is_newer(states: &[(&Id, State)], collected: &mut Collected) {
    // A failure stands whatever is newer.
    let lifts = |reason: &Reason| reason.state != State::NotMet && reason.newer_evidence_lifts();
    for reason in &mut collected.reasons {
        let Some(own) = reason.record.as_ref().filter(|_| lifts(reason)) else { continue };
        let Some((_, state)) = states.iter().find(|(id, _)| *id == own) else { continue };
        let better: Vec<&str> = states.iter().filter(|(_, other)| other > state).map(|(id, _)| id.as_str()).collect();
        if better.is_empty() {
            continue;
        }
        let (come, others) = (if better.len() == 1 { "comes" } else { "come" }, better.join(", "));
        reason.help.push_str(&format!(
            "; {others} of the same day {come} out better, and no hours tell which is newer: write the hour in `date` of each, then \
             sign each again"
        ));
    }
}

/// What to do about a value outside the limit that states no uncertainty.
const OUTSIDE: &str = "find out why it lies outside; an uncertainty, written as \"VALUE ± U UNIT\", will not make it met: \
                       make new evidence, or ask for a waiver with a relief that the result meets";

/// What decided a criterion: the reasons against it, and what to show.
#[derive(Default)]
struct Collected {
    reasons: Vec<Reason>,
    record: Option<Id>,
    judgement: Option<Judgement>,
}

impl Collected {
    fn add(&mut self, look: &Look<'_>, reason: Reason) {
        if !look.facts.switch.is_off(reason.code) {
            self.reasons.push(reason);
        }
    }
}

impl<'a> Look<'a> {
    /// The states of the entry's criteria. `item` adds the failures that stand anywhere on that item.
    pub fn criteria(&self, item: Option<&Id>) -> Vec<CriterionState> {
        let asked = self.requirement.criteria.iter().filter(|criterion| self.entry.asks_for(&criterion.name));
        // Most entries ask for all criteria, and most requirements have one: no more room than that.
        let mut states = Vec::with_capacity(self.requirement.criteria.len());
        states.extend(asked.map(|criterion| self.criterion(criterion, item)));
        states
    }

    /// The states of the entry's criteria where no piece is in scope: a failure on the item stands all the same.
    pub fn without_pieces(&self, reason: Reason, item: &Id) -> Vec<CriterionState> {
        let asked = self.requirement.criteria.iter().filter(|criterion| self.entry.asks_for(&criterion.name));
        let states = asked.map(|criterion| {
            let mut collected = Collected::default();
            collected.add(self, reason.clone());
            self.standing_failures(criterion, Some(item), &mut collected);
            for reason in unsettled(self.requirement, criterion) {
                collected.add(self, reason);
            }
            self.finish(criterion, Some(item), collected)
        });
        states.collect()
    }

    fn criterion(&self, criterion: &Criterion, item: Option<&Id>) -> CriterionState {
        let mut collected = Collected::default();
        self.evidence(criterion, item, &mut collected);
        self.standing_failures(criterion, item, &mut collected);
        for reason in unsettled(self.requirement, criterion) {
            collected.add(self, reason);
        }
        self.finish(criterion, item, collected)
    }

    /// Turns what was collected into a state, with the waiver that covers it, if one does.
    fn finish(&self, criterion: &Criterion, item: Option<&Id>, collected: Collected) -> CriterionState {
        let mut reasons = collected.reasons;
        reasons.sort_by_key(|reason| reason.state);
        let found = reasons.first().map_or(State::Closed, |reason| reason.state);
        let Look { requirement, place, when, .. } = *self;
        let asked = relief::Asked { requirement, criterion, place, item, when };
        let waiver = relief::covering(self.facts, &asked, &reasons);
        if let (None, Some(first)) = (waiver, reasons.first().cloned()) {
            // Whoever is told to ask for a waiver should know of the one that is there.
            let said = relief::not_covering(self.facts, &asked, &reasons);
            reasons[0].help = std::iter::once(first.help).chain(said).collect::<Vec<_>>().join("; ");
        }
        let judgement = collected.judgement;
        CriterionState {
            name: criterion.name.clone(),
            state: if waiver.is_some() { State::Waived } else { found },
            covers: waiver.map(|_| found),
            waiver: waiver.map(|waiver| waiver.head.id.value.clone()),
            record: collected.record,
            result: judgement.as_ref().and_then(|judgement| judgement.result.clone()),
            limit: criterion.show(),
            margin: judgement.and_then(|judgement| judgement.margin),
            reasons,
        }
    }

    fn record(&self, at: usize) -> &'a Record {
        &self.facts.model.records[at]
    }

    /// The records that count for this entry here, with where they name the requirement.
    fn matching(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.facts.graph.evidence[self.at].iter().copied().filter(|(at, _)| {
            let record = self.record(*at);
            matches_entry(record, self.entry) && self.is_here(record)
        })
    }

    fn is_here(&self, record: &Record) -> bool {
        let lists = |wanted: &dyn Fn(&SerialId) -> bool| record.serials.iter().any(|own| wanted(&own.value));
        match self.place {
            Where::Project => record.serials.is_empty() && record.item.is_none(),
            Where::Piece(serial) => lists(&|own| own == serial),
            Where::Design(item) => {
                record.item.as_ref().is_some_and(|own| own.value == *item)
                    || (record.method != crate::model::kinds::Method::Analysis && lists(&|own| own.item == *item))
            }
        }
    }

    /// The pieces of a record that matter here.
    fn subject<'r>(&self, record: &'r Record) -> Subject<'r> {
        let serials = record.serials.iter().map(|serial| &serial.value).filter(|serial| match self.place {
            Where::Project => true,
            Where::Piece(own) => *serial == own,
            Where::Design(item) => serial.item == *item,
        });
        Subject { serials: serials.collect(), item: record.item.as_ref().map(|item| &item.value) }
    }

    fn evidence(&self, criterion: &Criterion, item: Option<&Id>, collected: &mut Collected) {
        let mut signed: Vec<(usize, usize)> = Vec::new();
        let mut drafts: Vec<usize> = Vec::new();
        for (at, which) in self.matching() {
            let record = self.record(at);
            let verifies = &record.verifies[which];
            let only = self.requirement.only_criterion();
            let reports = verifies.result_for(&criterion.name, only).is_some();
            let left_out = verifies.not_judged_because(&criterion.name).is_some();
            match standing(self.facts, at) {
                Standing::Signed if record.date.is_some() && !left_out => signed.push((at, which)),
                Standing::Draft if reports => drafts.push(at),
                _ => {}
            }
        }
        let deciding = self.newest(&signed);
        self.unsigned(&deciding, &drafts, collected);
        if deciding.is_empty() && drafts.is_empty() {
            collected.add(self, self.no_record(criterion, item));
        }
        let mut worst = None;
        let states: Vec<(&Id, State)> = deciding
            .into_iter()
            .map(|(at, which)| (&self.record(at).head.id.value, self.one(at, which, criterion, collected, &mut worst)))
            .collect();
        if states.len() > 1 {
            which_is_newer(&states, collected);
        }
    }

    /// That nothing shows it, and what would: a draft that was begun for it, else a new record.
    fn no_record(&self, criterion: &Criterion, item: Option<&Id>) -> Reason {
        let text = match &self.entry.procedure {
            Some(procedure) => format!("no record of {} shows it", procedure.value),
            None => "no record shows it".to_string(),
        };
        let id = &self.requirement.head.id.value;
        let begun = self.begun(criterion, item);
        if let Some(draft) = begun.last() {
            let (are, have) = if begun.len() == 1 { ("is a draft", "has") } else { ("are drafts", "have") };
            let drafts = begun.iter().map(|(draft, _)| draft.as_str()).collect::<Vec<_>>().join(", ");
            let partly = begun.iter().any(|(_, partly)| *partly).then_some(criterion.name.as_str());
            let name = partly.or(self.requirement.only_criterion()).unwrap_or("NAME");
            let what = partly.map(|name| format!(" for {name}")).unwrap_or_default();
            let text = format!("{text}; {drafts} {are} for it and {have} no result{what} yet");
            let (draft, _) = draft;
            return Reason::new("no-record", text).help(format!(
                "fill it in: slipmark fill {draft} {id}.{name}=\"…\"; then slipmark sign {draft} --by ROLE"
            ));
        }
        let kind = self.entry.method.map_or("test", crate::model::kinds::Method::word);
        let subject = match self.place {
            Where::Project => String::new(),
            Where::Piece(serial) => format!(" --serial {serial}"),
            Where::Design(item) => format!(" --item {item}"),
        };
        Reason::new("no-record", text).help(format!("make the evidence, then: slipmark new {kind} --for {id}{subject}"))
    }

    /// Drafts for this entry that report nothing of a criterion yet, in the order of the records, and whether they report others of the
    /// requirement. Where one piece of an item is enough, those on any piece that it could be shown on.
    fn begun(&self, criterion: &Criterion, item: Option<&Id>) -> Vec<(&'a Id, bool)> {
        let event = event_of(self.facts, self.requirement, Some(self.entry));
        let item = item.and_then(|item| self.facts.model.item(item));
        let pieces = item.map(|item| choices(self.facts, item, self.entry.stage, event)).unwrap_or_default();
        let for_it = self.facts.graph.evidence[self.at].iter().filter(|(at, which)| {
            let record = self.record(*at);
            standing(self.facts, *at) == Standing::Draft
                && matches_entry(record, self.entry)
                && (self.is_here(record) || record.serials.iter().any(|own| pieces.contains(&own.value)))
                && record.verifies[*which].not_judged_because(&criterion.name).is_none()
        });
        let partly = |(at, which): &(usize, usize)| {
            let verifies = &self.record(*at).verifies[*which];
            self.requirement.criteria.iter().any(|own| verifies.result_for(&own.name, None).is_some())
        };
        for_it.map(|own| (&self.record(own.0).head.id.value, partly(own))).collect()
    }

    /// What lifts a standing failure.
    fn close_failure(&self, at: usize, item: Option<&Id>) -> String {
        let (record, requirement) = (&self.record(at).head.id.value, &self.requirement.head.id.value);
        let on = |piece: &SerialId| is_here(piece, self.place, item);
        account(self.facts, at, requirement, on).help(self.facts, record, requirement)
    }

    /// Those that no other is certainly newer than.
    fn newest(&self, signed: &[(usize, usize)]) -> Vec<(usize, usize)> {
        let older = |a: usize, b: usize| match (&self.record(a).date, &self.record(b).date) {
            (Some(mine), Some(theirs)) => mine.before(theirs),
            _ => false,
        };
        signed.iter().copied().filter(|(a, _)| !signed.iter().any(|(b, _)| older(*a, *b))).collect()
    }

    /// Drafts that report the criterion and are not certainly older than what decides.
    fn unsigned(&self, deciding: &[(usize, usize)], drafts: &[usize], collected: &mut Collected) {
        for draft in drafts {
            let record = self.record(*draft);
            let id = &record.head.id.value;
            let older = |at: usize| match (&record.date, &self.record(at).date) {
                (Some(mine), Some(theirs)) => mine.before(theirs),
                _ => false,
            };
            if deciding.iter().any(|(at, _)| older(*at)) {
                continue;
            }
            let reason = match deciding.is_empty() {
                true => Reason::new("only-unsigned", format!("{id} is a draft")),
                false => Reason::new("newer-unsigned", format!("{id} is a newer draft")),
            };
            let help = format!("complete {id}, then run slipmark sign {id} --by ROLE");
            collected.add(self, reason.help(help).record(id));
            if deciding.is_empty() {
                collected.record.get_or_insert_with(|| id.clone());
            }
        }
    }

    /// Everything that one deciding record says.
    fn one(
        &self,
        at: usize,
        which: usize,
        criterion: &Criterion,
        collected: &mut Collected,
        worst: &mut Option<State>,
    ) -> State {
        let record = self.record(at);
        let id = &record.head.id.value;
        let verifies = &record.verifies[which];
        let place = self.requirement.criteria.iter().position(|own| own.name == criterion.name);
        let judgements = self.facts.judgements.get(at, which);
        let Some(judgement) = place.and_then(|place| judgements.get(place)) else {
            return State::Closed;
        };
        let mut reasons = Vec::new();
        let lined_up = lines_up(&self.requirement.mark, verifies);
        let again = |reason: Reason| match reason.code {
            "recomputed" => {
                let help =
                    format!("see slipmark calc {id}; if it is right now: slipmark sign {id} --by ROLE --because \"…\"");
                match moved_inputs(self.facts, at) {
                    moved if moved.is_empty() => reason.help(help),
                    moved => Reason { text: format!("{}: {moved}", reason.text), ..reason }.help(help),
                }
            }
            "not-kept-when-signed" => reason.help(format!("slipmark sign {id} --by ROLE --because \"…\"")),
            _ => reason,
        };
        reasons.extend(self.judged(judgement, criterion, lined_up).map(again));
        if verifies.outcome(&criterion.name) == Some("not met") && !(lined_up && judgement.fails()) {
            reasons.push(Reason::new(
                "result-outside",
                format!("{} was not met when the record was signed", criterion.name),
            ));
        }
        if verifies.mark.is_none() || !lined_up {
            reasons.push(self.slipped((at, which), verifies));
        }
        let subject = self.subject(record);
        let conditions = judgement.conditions.iter().cloned();
        reasons.extend(conditions.map(|why| Reason::new("conditions-not-shown", why)));
        reasons.extend(voids(
            self.facts,
            at,
            &self.requirement.head.id.value,
            self.entry,
            &subject,
            self.when.deadline,
        ));
        if self.requirement.safety && record.seal.is_none() {
            reasons.push(
                Reason::new("safety-without-seal", "it is signed without a seal")
                    .help(format!("run slipmark sign {id} --by ROLE")),
            );
        }
        reasons.extend(people::amiss(self.facts, self.requirement, self.entry, record));
        reasons.extend(self.left_behind(record));
        let state = reasons.iter().map(|reason| reason.state).min().unwrap_or(State::Closed);
        if worst.is_none_or(|worst| state < worst) {
            *worst = Some(state);
            collected.record = Some(id.clone());
            collected.judgement = Some(judgement.clone());
        }
        for mut reason in reasons {
            reason.text = format!("{id}: {}", reason.text);
            collected.add(self, reason.record(id));
        }
        state
    }

    /// Deviations that nobody accepted, actions that are still to be done.
    fn left_behind(&self, record: &Record) -> Vec<Reason> {
        let id = &record.head.id.value;
        let unaccepted = record.deviations.iter().filter(|deviation| deviation.accepted_by.is_none());
        let deviations = unaccepted.map(|deviation| {
            let reason = Reason::new("deviation-not-accepted", format!("deviation: {}", deviation.text));
            match record.seal {
                // The acceptance is under the seal: see the canonical text there.
                Some(_) => reason.help(format!(
                    "add accepted_by to the deviation, then run slipmark sign {id} --by ROLE --because \"…\""
                )),
                None => reason,
            }
        });
        let today = self.facts.today;
        let open = record.actions.iter().filter(|action| action.closed.as_ref().is_none_or(|on| on.date > today));
        let actions = open.map(|action| {
            let still = action.closed.as_ref().map_or(String::new(), |on| format!(", to be closed on {}", on.text));
            Reason::new("action-open", format!("action: {}{still}", action.text))
        });
        deviations.chain(actions).collect()
    }

    /// What the judgement of a result gives reason for.
    fn judged(&self, judgement: &Judgement, criterion: &Criterion, lined_up: bool) -> Option<Reason> {
        let against = || format!("{} against {}", judgement.result.as_deref().unwrap_or(""), criterion.show());
        match &judgement.verdict {
            Verdict::Met | Verdict::Unsettled => None,
            Verdict::NotMet => lined_up.then(|| Reason::new("result-outside", against())),
            Verdict::Inconclusive(code) => {
                let why = match *code {
                    "no-uncertainty" => judgement.no_uncertainty(),
                    "bound-undecided" => "the bound leaves open on which side of the limit it is",
                    "on-the-limit" => "it lies on the deciding line, nearer than floating point can tell",
                    _ => "it is nearer to the limit than its uncertainty",
                };
                let why = judgement.note.as_deref().unwrap_or(why);
                let reason = Reason::new(code, format!("{}: {why}", against()));
                Some(match *code == "no-uncertainty" && judgement.lies_outside() {
                    true => reason.help(OUTSIDE),
                    false => reason,
                })
            }
            // The limit's own reason says it already.
            Verdict::CannotTell(_) if is_unsettled(&criterion.expects) => None,
            Verdict::CannotTell(trouble) => {
                Some(Reason::new("cannot-compute", trouble.message.clone()).help(trouble.help.clone()))
            }
            Verdict::Moved { then, now } => {
                let name = &criterion.name;
                let text = format!("{name} came to {then} when it was signed, and comes to {now} now");
                Some(Reason::new("recomputed", text))
            }
            Verdict::NotKept => {
                let text = format!("what {} came to was not written down when it was signed", criterion.name);
                Some(Reason::new("not-kept-when-signed", text))
            }
            Verdict::Missing => Some(Reason::new("result-missing", format!("no result for {}", criterion.name))),
        }
    }

    /// That the mark is not the requirement's. It says the same under each criterion, of all that the record says of the
    /// requirement: a mark is of the whole, and one result that would not do refuses it.
    fn slipped(&self, (at, which): (usize, usize), verifies: &Verifies) -> Reason {
        let (id, record) = (&self.requirement.head.id.value, &self.record(at).head.id.value);
        if verifies.mark.is_none() {
            return Reason::new("mark-missing", format!("it carries no mark of {id}"));
        }
        let all = still(self.facts, self.requirement, at, which);
        let of = |wanted: &dyn Fn(&Still<'_>) -> bool| -> Vec<&str> {
            all.iter().filter(|own| wanted(own)).map(|own| own.criterion.name.as_str()).collect()
        };
        let results = |names: &[&str]| match names {
            _ if self.requirement.criteria.len() == 1 => "its result".to_string(),
            [name] => format!("its result for {name}"),
            names => format!("its results for {}", names.join(", ")),
        };
        let outside = of(&|own| own.fares() == Fares::NotMet);
        let unknown = of(&|own| own.hinders(verifies) && own.fares() != Fares::NotMet);
        let as_then = of(&|own| !own.hinders(verifies) && own.fares() != Fares::Met);
        let mut still = Vec::new();
        if !outside.is_empty() {
            still.push(format!("{} would not meet the text of now", results(&outside)));
        }
        if !unknown.is_empty() {
            let meet = if unknown.len() == 1 { "meets" } else { "meet" };
            still.push(format!("whether {} {meet} the text of now cannot be told", results(&unknown)));
        }
        let read = format!("read slipmark history {id}");
        let (still, help) = match still.is_empty() {
            false => (still.join(", and "), format!("{read}, then make new evidence")),
            true => {
                let mark = format!("slipmark mark {record} --by ROLE --because \"…\"");
                let would = match as_then.is_empty() {
                    true if all.len() == 1 => "its result would meet the text of now".to_string(),
                    true => "its results would meet the text of now".to_string(),
                    false => format!("{} would be inconclusive, as when it was signed", results(&as_then)),
                };
                (would, format!("{read}; if the evidence still stands: {mark}"))
            }
        };
        Reason::new("mark-slipped", format!("{id} has been reworded since; {still}")).help(help)
    }

    /// Failures on this thing that no closed nonconformance accounts for.
    fn standing_failures(&self, criterion: &Criterion, item: Option<&Id>, collected: &mut Collected) {
        for (at, which) in &self.facts.graph.evidence[self.at] {
            let record = self.record(*at);
            if !failure_touches(record, self.entry, self.place, item) || standing(self.facts, *at) != Standing::Signed {
                continue;
            }
            let failed = failures(self.facts, self.at, *at, *which);
            let hits = failed
                .iter()
                .any(|name| *name == criterion.name || !self.requirement.criteria.iter().any(|own| own.name == *name));
            let on = |piece: &SerialId| is_here(piece, self.place, item);
            if hits && !is_accounted_for(self.facts, *at, &self.requirement.head.id.value, on) {
                let id = &record.head.id.value;
                let reason = Reason::new("failure-stands", format!("{id} failed"));
                collected.add(self, reason.help(self.close_failure(*at, item)).record(id));
                collected.record.get_or_insert_with(|| id.clone());
            }
        }
    }
}

/// What holds whatever the evidence: limits not settled, a requirement not agreed.
pub(super) fn unsettled(requirement: &Requirement, criterion: &Criterion) -> Vec<Reason> {
    let mut reasons = Vec::new();
    if requirement.status == RequirementStatus::Draft {
        reasons.push(Reason::new("requirement-draft", format!("{} is a draft", requirement.head.id.value)));
    }
    for limit in criterion.limits() {
        match limit.value {
            LimitValue::Placeholder => {
                let text = format!("the limit of {} is {}", criterion.name, limit.text.value);
                reasons.push(Reason::new("limit-tbd", text));
            }
            LimitValue::Failed | LimitValue::Pending => {
                let text = format!("the limit {} of {} cannot be worked out", limit.text.value, criterion.name);
                reasons.push(Reason::new("cannot-compute", text));
            }
            LimitValue::Known(_) => {}
        }
    }
    reasons
}

/// Whether a record is of an entry's method, procedure and stage.
pub fn matches_entry(record: &Record, entry: &PlanEntry) -> bool {
    entry.method == Some(record.method)
        && entry
            .procedure
            .as_ref()
            .is_none_or(|wanted| record.procedure.as_ref().is_some_and(|own| own.value == wanted.value))
        && (entry.stage.is_none() || entry.stage == record.stage)
}

/// Whether a piece is what is looked at here, or one of the item that is.
fn is_here(piece: &SerialId, place: Where<'_>, item: Option<&Id>) -> bool {
    match (place, item) {
        (_, Some(item)) | (Where::Design(item), None) => piece.item == *item,
        (Where::Piece(serial), None) => piece == serial,
        (Where::Project, None) => true,
    }
}

/// Whether a failure on what a record is about touches an entry looked at here.
fn failure_touches(record: &Record, entry: &PlanEntry, place: Where<'_>, item: Option<&Id>) -> bool {
    use crate::model::kinds::Stage::Development;
    if record.stage == Some(Development) && !matches!(entry.stage, None | Some(Development)) {
        return false;
    }
    let on_item = |wanted: &Id| {
        record.item.as_ref().is_some_and(|own| own.value == *wanted)
            || record.serials.iter().any(|own| own.value.item == *wanted)
    };
    match (place, item) {
        (_, Some(item)) => on_item(item),
        (Where::Design(item), None) => on_item(item),
        (Where::Piece(serial), None) => record.serials.iter().any(|own| own.value == *serial),
        (Where::Project, None) => record.serials.is_empty() && record.item.is_none(),
    }
}

/// The pieces of an item on which a failure of a requirement stands: they stay in scope whatever becomes of them.
pub(super) fn failed_serials(facts: &Facts<'_>, at: usize, item: &Id, entry: &PlanEntry) -> Vec<SerialId> {
    let mut serials = Vec::new();
    for (record_at, which) in &facts.graph.evidence[at] {
        let record = &facts.model.records[*record_at];
        let own: Vec<&SerialId> =
            record.serials.iter().map(|serial| &serial.value).filter(|serial| serial.item == *item).collect();
        if own.is_empty() || standing(facts, *record_at) != Standing::Signed {
            continue;
        }
        let requirement = &facts.model.requirements[at];
        let criteria = &requirement.criteria;
        let asked = |name: &&str| entry.asks_for(name) || !criteria.iter().any(|own| own.name == **name);
        let failed = failures(facts, at, *record_at, *which).iter().any(asked);
        let touches = own.first().is_some_and(|serial| failure_touches(record, entry, Where::Piece(serial), None));
        if failed && touches {
            let id = &requirement.head.id.value;
            let stands = |serial: &&SerialId| !is_accounted_for(facts, *record_at, id, |own| own == *serial);
            serials.extend(own.into_iter().filter(stands).cloned());
        }
    }
    serials
}
