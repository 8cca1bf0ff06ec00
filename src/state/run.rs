//! What one run of a procedure is for: the plan entries that it could close on the pieces at hand.

use crate::model::kinds::{
    Criterion, Feed, Field, On, PlanEntry, Procedure, Requirement, RequirementStatus, SerialUse, Stage,
};
use crate::model::{Model, SerialId, fed};

use super::scope::{Target, event_of, in_scope, targets};
use super::{Facts, Subject};

/// A run of a procedure on a piece, still to be made.
#[derive(Clone, Debug)]
pub struct Run<'m> {
    /// The procedure.
    pub procedure: &'m Procedure,
    /// The piece that was named, and what it contains; none for the project as a whole.
    pub pieces: Vec<SerialId>,
    /// The stage of the run: a record has one.
    pub stage: Option<Stage>,
    /// Stages that this run leaves out though the plan has entries of them for these pieces.
    pub other_stages: Vec<Stage>,
    /// What the plan wants from it, in the order of requirements and entries.
    pub wanted: Vec<Wanted<'m>>,
}

/// One plan entry on one subject.
#[derive(Clone, Debug)]
pub struct Wanted<'m> {
    /// The requirement, by position.
    pub at: usize,
    /// The requirement.
    pub requirement: &'m Requirement,
    /// The position of the entry in its plan.
    pub index: usize,
    /// The entry.
    pub entry: &'m PlanEntry,
    /// What its row is about.
    pub subject: Subject,
    /// The piece that the run shows it on; none for the project.
    pub piece: Option<SerialId>,
}

impl<'m> Wanted<'m> {
    /// The criteria that the entry asks for.
    pub fn criteria(&self) -> impl Iterator<Item = &'m Criterion> + use<'m> {
        let (requirement, entry) = (self.requirement, self.entry);
        requirement.criteria.iter().filter(move |criterion| entry.asks_for(&criterion.name))
    }
}

impl<'m> Run<'m> {
    /// What a run is for; `stage` picks one where the plan has several, else the use of the piece does.
    pub fn of(facts: &Facts<'m>, procedure: &'m Procedure, piece: Option<&SerialId>, stage: Option<Stage>) -> Run<'m> {
        let pieces = piece
            .map_or_else(Vec::new, |piece| std::iter::once(piece).chain(facts.graph.inside(piece)).cloned().collect());
        let mut wanted = wanted(facts, procedure, &pieces);
        let mut stages: Vec<Stage> = wanted.iter().filter_map(|one| one.entry.stage).collect();
        stages.sort_unstable();
        stages.dedup();
        let usual = match piece.and_then(|piece| facts.model.serial(piece)).map(|(_, piece)| piece.purpose) {
            Some(SerialUse::Qualification) => Stage::Qualification,
            _ => Stage::Acceptance,
        };
        let usual = Some(usual).filter(|usual| stages.contains(usual)).or(stages.first().copied());
        let stage = stage.or(usual);
        wanted.retain(|one| one.entry.stage.is_none() || one.entry.stage == stage);
        stages.retain(|own| Some(*own) != stage);
        // A record without a stage counts for entries without one only, and so needs none here.
        Run { procedure, pieces, stage, other_stages: stages, wanted }
    }

    /// What a field is asked for on this run.
    pub fn asks(&self, model: &Model, field: &Field) -> Vec<Ask<'m>> {
        let mut found = Vec::new();
        for feed in &field.feeds {
            for one in &self.wanted {
                for criterion in one.criteria() {
                    match &feed.value {
                        Feed::Criterion(name) => {
                            let names = fed(model, name).is_some_and(|(requirement, own)| {
                                requirement.head.id.value == one.requirement.head.id.value && own.name == criterion.name
                            });
                            if names {
                                found.push(Ask { requirement: one.requirement, criterion, condition: None });
                            }
                        }
                        Feed::Condition(name) => {
                            let own = criterion.at.iter().position(|condition| condition.name == *name);
                            found.extend(own.map(|at| Ask {
                                requirement: one.requirement,
                                criterion,
                                condition: Some(at),
                            }));
                        }
                    }
                }
            }
        }
        found
    }
}

/// A criterion, or a condition of it, that a reading is held against.
#[derive(Clone, Copy, Debug)]
pub struct Ask<'m> {
    /// The requirement.
    pub requirement: &'m Requirement,
    /// The criterion.
    pub criterion: &'m Criterion,
    /// The position of the condition, if the reading is for one.
    pub condition: Option<usize>,
}

fn wanted<'m>(facts: &Facts<'m>, procedure: &'m Procedure, pieces: &[SerialId]) -> Vec<Wanted<'m>> {
    let mut found = Vec::new();
    for (at, requirement) in facts.model.requirements.iter().enumerate() {
        if requirement.status == RequirementStatus::Withdrawn {
            continue;
        }
        for (index, entry) in requirement.plan.iter().enumerate() {
            if entry.procedure.as_ref().is_none_or(|id| id.value != procedure.head.id.value) {
                continue;
            }
            for target in targets(facts, requirement) {
                let one = |subject, piece| Wanted { at, requirement, index, entry, subject, piece };
                match target {
                    Target::Project if pieces.is_empty() => found.push(one(Subject::Project, None)),
                    Target::Item(item) => {
                        let own = on_pieces(facts, requirement, entry, item, pieces);
                        found.extend(own.into_iter().map(|(subject, piece)| one(subject, Some(piece))));
                    }
                    _ => {}
                }
            }
        }
    }
    found
}

/// The pieces of an item that an entry can be shown on, with what the row is about.
fn on_pieces(
    facts: &Facts<'_>,
    requirement: &Requirement,
    entry: &PlanEntry,
    item: usize,
    pieces: &[SerialId],
) -> Vec<(Subject, SerialId)> {
    let item = &facts.model.items[item];
    let scope = in_scope(facts, item, entry, event_of(facts, requirement, Some(entry)));
    let own = pieces.iter().filter(|piece| piece.item == item.head.id.value);
    let scrapped = |piece: &&SerialId| facts.model.serial(piece).is_some_and(|(_, piece)| piece.scrapped);
    let fits = own.filter(|piece| if entry.on == On::Design { !scrapped(piece) } else { scope.contains(piece) });
    let subject = |piece: &SerialId| match entry.on {
        On::Each => Subject::Serial(piece.clone()),
        On::One | On::Design => Subject::Item(piece.item.clone()),
    };
    fits.map(|piece| (subject(piece), piece.clone())).collect()
}
