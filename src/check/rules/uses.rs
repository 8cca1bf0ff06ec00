//! Use of limited life that counts for nothing: of no piece, under a name that nothing has, or in another sort of unit.

use std::collections::BTreeMap;

use crate::check::{Check, Subject};
use crate::diag::{Finding, Findings};
use crate::model::kinds::{Budget, Counted, Item, Serial};
use crate::model::{Id, SerialId};
use crate::parse::{Amount, nearest};
use crate::state::Facts;
use crate::state::life::{budgets, is_kept, pieces_of, touched};
use crate::text::{Span, Spanned};

/// The check.
pub const CHECK: Check =
    Check { name: "uses", codes: &["units-do-not-match", "unknown-name", "uses-without-piece"], run };

type Uses = [(Spanned<String>, Spanned<Amount>)];

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let mut uses = Named { facts: &subject.facts, findings };
    uses.records();
    uses.held();
    let model = subject.facts.model;
    uses.events();
    for name in model.procedures.iter().flat_map(|procedure| &procedure.uses) {
        uses.one(name, None, &budgets(model, &name.value), "no item has");
    }
    for item in &model.items {
        item.serials.iter().for_each(|serial| uses.piece(item, serial));
    }
}

struct Named<'s, 'f> {
    facts: &'s Facts<'s>,
    findings: &'f mut Findings,
}

impl Named<'_, '_> {
    fn records(&mut self) {
        let model = self.facts.model;
        let any_owed = model.procedures.iter().any(|procedure| !procedure.uses.is_empty());
        for record in model.records.iter().filter(|record| any_owed || !record.uses.is_empty()) {
            let id = &record.head.id.value;
            let procedure = record.procedure.as_ref().and_then(|id| model.procedure(&id.value));
            let owed = procedure.and_then(|procedure| procedure.uses.first());
            if record.uses.is_empty() && owed.is_none() {
                continue;
            }
            if !record.serials.is_empty() {
                self.known(&record.uses, touched(self.facts, record).iter(), id);
            } else if let Some((name, _)) = record.uses.first() {
                self.without_piece(name.span, id, "names no piece that it used", "serial = \"ITEM/NUMBER\"");
            } else if let (Some(ran), Some(owed)) = (&record.procedure, owed) {
                let what = format!("ran {}, which uses {}, and names no piece", ran.value, owed.value);
                self.without_piece(ran.span, id, &what, "serial = \"ITEM/NUMBER\"");
            }
        }
    }

    fn held(&mut self) {
        for (held, with) in self.facts.model.held.iter().zip(&self.facts.graph.held_with) {
            let id = &held.head.id.value;
            match held.uses.first() {
                Some((name, _)) if held.serials.is_empty() => {
                    let help = "serials = [\"ITEM/NUMBER\"]";
                    self.without_piece(name.span, id, "names no piece that it used", help);
                }
                _ => self.known(&held.uses, with.touched.iter(), id),
            }
        }
    }

    fn events(&mut self) {
        let model = self.facts.model;
        for event in model.config.events.iter().filter(|event| !event.uses.is_empty()) {
            // An event that names pieces uses these; of what is in service otherwise, none need be there yet.
            if !event.serials.is_empty() {
                self.known(&event.uses, pieces_of(self.facts, event).iter(), &event.name.value);
                continue;
            }
            for (name, amount) in &event.uses {
                self.one(name, Some(amount), &budgets(model, &name.value), "no item has");
            }
        }
    }

    fn without_piece(&mut self, span: Span, id: &Id, what: &str, help: &str) {
        let finding = Finding::at("uses-without-piece", span, format!("{id} {what}"));
        self.findings.push(finding.help(format!("write {help} in {id}")));
    }

    /// What something used must be a budget of its pieces, or of what was or may have been in them.
    fn known<'i>(&mut self, uses: &Uses, pieces: impl Iterator<Item = &'i SerialId> + Clone, id: &str) {
        let whose = format!("no piece of {id}, and nothing in one, has");
        for (name, amount) in uses {
            let own = pieces.clone().filter_map(|piece| self.facts.model.item(&piece.item));
            let own = own.filter_map(|item| Some((&item.head.id.value, item.budget(&name.value)?)));
            let known = own.filter(|(_, budget)| budget.counted == Counted::Use).collect();
            self.one(name, Some(amount), &known, &whose);
        }
    }

    /// What a piece is said to have used, and what of it began anew.
    fn piece(&mut self, item: &Item, serial: &Serial) {
        let own = |name: &str| item.budget(name).map(|budget| (&item.head.id.value, budget));
        let whose = format!("{} does not have", item.head.id.value);
        for (name, amount) in &serial.used {
            let known = own(&name.value).into_iter().filter(|(_, budget)| budget.counted == Counted::Use).collect();
            self.one(name, Some(amount), &known, &whose);
        }
        for name in serial.reworked.iter().flat_map(|rework| &rework.resets) {
            self.one(name, None, &own(&name.value).into_iter().collect(), &whose);
        }
    }

    /// One name, with the budgets that it can mean, and how much of each is said to be used.
    fn one(
        &mut self,
        name: &Spanned<String>,
        amount: Option<&Spanned<Amount>>,
        known: &BTreeMap<&Id, &Budget>,
        whose: &str,
    ) {
        if known.is_empty() {
            return self.unknown(name, whose);
        }
        let Some(amount) = amount else { return };
        for budget in known.values() {
            let Some(limit) = budget.limit() else { continue };
            let Err(Some(error)) = amount.value.most(limit) else { continue };
            let text = format!("this is not in the unit of {}: {}", name.value, error.message);
            let finding = Finding::at("units-do-not-match", amount.span, text).also(budget.span(), "the limit");
            return self.findings.push(finding.help(error.help));
        }
    }

    fn unknown(&mut self, name: &Spanned<String>, whose: &str) {
        let all = self.facts.model.items.iter().flat_map(|item| &item.life);
        if all.clone().any(|own| own.name.value == name.value && own.counted == Counted::Age) {
            let text = format!("`{}` is counted by age, and no use wears it", name.value);
            self.findings.push(Finding::at("unknown-name", name.span, text).help("remove it here"));
            return;
        }
        let meant = nearest(&name.value, all.map(|own| own.name.value.as_str()).filter(|own| *own != name.value));
        let help = match meant {
            Some(meant) => format!("did you mean `{meant}`?"),
            None if is_kept(self.facts.model) => "name the piece that has it, or correct the name".to_string(),
            None => format!("add [life.{}] with its limit to the item", name.value),
        };
        let text = format!("{whose} a limited life called `{}`", name.value);
        self.findings.push(Finding::at("unknown-name", name.span, text).help(help));
    }
}
