//! How the limited life of a piece stands: what used it, what will, and what is left.

use serde::Serialize;

use crate::analysis::Analysis;
use crate::model::SerialId;
use crate::model::kinds::Counted;
use crate::quantity::Rational;
use crate::state::life::{By, Life, Lives, Outlook, Spent, Unknown, Use, total};

/// One budget of one piece.
#[derive(Clone, Debug, Serialize)]
pub struct LifeView {
    /// The piece.
    pub piece: String,
    /// The name of the budget.
    pub name: String,
    /// `use` or `age`.
    pub counted: &'static str,
    /// How much there is, as written; none if it cannot be read.
    pub limit: Option<String>,
    /// A note of the item's.
    pub note: Option<String>,
    /// The day from which it is counted: of its last renewal, or for age of its building.
    pub since: Option<String>,
    /// What was used since, oldest first.
    pub uses: Vec<LifeUse>,
    /// All that is known of it together; none for age.
    pub used: Option<String>,
    /// What events that are not done with the piece will use, in their order.
    pub planned: Vec<LifeUse>,
    /// What is left now; none where that is not known, and for age. Below zero it is over.
    pub left_now: Option<String>,
    /// What will be left after those events; the same.
    pub left: Option<String>,
    /// The last day of a life that is counted by age.
    pub last_day: Option<String>,
    /// `lasts`, `unknown` or `exceeded`, through the last of those events.
    pub outlook: &'static str,
    /// In a sentence without the piece.
    pub text: String,
    /// The same without what is to come.
    #[serde(skip)]
    pub so_far: String,
    /// Whether nothing is left to use, or that cannot be told.
    #[serde(skip)]
    pub is_spent: bool,
    /// The unit in which it is counted; none for a plain number.
    #[serde(skip)]
    pub unit: Option<String>,
}

/// Something that used up a part, or will.
#[derive(Clone, Debug, Serialize)]
pub struct LifeUse {
    /// A record, a held event, an event to come; `before the first record`.
    pub by: String,
    /// When, as far as that is known.
    pub date: Option<String>,
    /// How much, as written; none where it cannot be told.
    pub used: Option<String>,
    /// Why it cannot be told.
    pub why: Option<&'static str>,
}

/// The lives of the pieces that are wanted, by item, piece and name.
pub fn lives(analysis: &Analysis, wanted: impl Fn(&SerialId) -> bool) -> Vec<LifeView> {
    let lives = Lives::of(&analysis.facts());
    let own = lives.all().iter().filter(|life| wanted(&life.piece));
    own.map(|life| LifeView::of(analysis, &lives, life)).collect()
}

/// What one holding of an event would use of one budget of one piece.
#[derive(Clone, Debug, Serialize)]
pub struct HoldingView {
    /// The piece.
    pub piece: String,
    /// The name of the budget.
    pub name: String,
    /// How much there is, as written; none if it cannot be read.
    pub limit: Option<String>,
    /// How much it would use; none where that cannot be told.
    pub used: Option<String>,
    /// Why it cannot be told.
    pub why: Option<&'static str>,
    /// What is left now; none where that is not known. Below zero it is over.
    pub left_now: Option<String>,
    /// What would be left then; the same.
    pub left_then: Option<String>,
    /// Whether what is known to be used would be more than there is.
    pub exceeded: bool,
}

impl HoldingView {
    /// `MOV/SN02 cold_strokes: 10, then 12 of 50 left (22 today)`.
    pub fn says(&self) -> String {
        let used = match (&self.used, self.why) {
            (Some(used), _) => used.clone(),
            (None, why) => format!("not known, {}", why.unwrap_or_default()),
        };
        let left = |left: &Option<String>| left.clone().unwrap_or_else(|| "not known".into());
        let limit = self.limit.as_deref().unwrap_or("a limit that cannot be read");
        let (now, then) = (left(&self.left_now), left(&self.left_then));
        let over = if self.exceeded { "; more than there is" } else { "" };
        format!("{} {}: uses {used} of {limit}; left {now} → {then}{over}", self.piece, self.name)
    }
}

/// What one holding of an event, by position, would use of the lives of the pieces that are there.
pub fn holding(analysis: &Analysis, event: usize) -> Vec<HoldingView> {
    let lives = Lives::of(&analysis.facts());
    let one = |life: &Life<'_>| {
        let used = lives.one_holding(life, event)?;
        let shown = LifeUse::of(&used);
        Some(HoldingView {
            piece: life.piece.to_string(),
            name: life.budget.name.value.clone(),
            limit: life.budget.limit().map(|limit| limit.show()),
            used: shown.used,
            why: shown.why,
            left_now: left(life, &[]),
            left_then: left(life, std::slice::from_ref(&used)),
            exceeded: life.limit().is_some_and(|limit| life.used() + total(std::slice::from_ref(&used)) > *limit),
        })
    };
    lives.all().iter().filter_map(one).collect()
}

impl LifeView {
    fn of(analysis: &Analysis, lives: &Lives<'_>, life: &Life<'_>) -> LifeView {
        let events = 0..analysis.model.config.events.len();
        let last = events.rev().find(|event| lives.is_at(*event, &life.piece) && !lives.is_done(*event, &life.piece));
        let forecast = last.map(|event| lives.forecast(life, event));
        let outlook = forecast.as_ref().map_or_else(|| lives.so_far(life), |forecast| forecast.outlook);
        let planned = forecast.map(|forecast| forecast.planned).unwrap_or_default();
        let by_use = life.budget.counted == Counted::Use;
        let mut view = LifeView {
            piece: life.piece.to_string(),
            name: life.budget.name.value.clone(),
            counted: life.budget.counted.word(),
            limit: life.budget.limit().map(|limit| limit.show()),
            note: life.budget.note.clone(),
            since: if by_use { life.reset } else { life.start() }.map(|day| day.text.clone()),
            uses: life.uses.iter().map(LifeUse::of).collect(),
            used: by_use.then(|| life.budget.show(&life.used())),
            planned: planned.iter().map(LifeUse::of).collect(),
            left_now: left(life, &[]),
            left: left(life, &planned),
            last_day: life.last_day().map(|day| day.to_string()).filter(|_| !by_use),
            outlook: match outlook {
                Outlook::Lasts => "lasts",
                Outlook::Unknown => "unknown",
                Outlook::Exceeded => "exceeded",
            },
            text: String::new(),
            so_far: String::new(),
            is_spent: by_use && !(lives.so_far(life) == Outlook::Lasts && life.limit() != Some(&life.used())),
            unit: life.budget.limit().map(|limit| limit.unit.symbol.clone()).filter(|unit| !unit.is_empty()),
        };
        view.so_far = view.sentence();
        view.text = format!("{}{}", view.so_far, view.to_come());
        view
    }

    /// What stands behind the piece and the name.
    fn sentence(&self) -> String {
        let limit = self.limit.as_deref().unwrap_or("a limit that cannot be read");
        if self.counted == "age" {
            return match (&self.last_day, &self.since) {
                (Some(last), Some(since)) => format!("{limit} from {since}, up to {last}"),
                (_, Some(since)) => format!("{limit} from {since}"),
                (_, None) => format!("{limit}, from a day that is not known"),
            };
        }
        let now =
            self.left_now.as_deref().map_or("what is left is not known".to_string(), |left| format!("{left} left"));
        format!("{} of {limit} used, {now}", self.used.as_deref().unwrap_or("0"))
    }

    /// What will be left after what is planned.
    fn to_come(&self) -> String {
        if self.planned.is_empty() {
            return String::new();
        }
        let names: Vec<&str> = self.planned.iter().map(|one| one.by.as_str()).collect();
        format!("; after {}: {}", names.join(", "), self.left.as_deref().unwrap_or("not known"))
    }

    /// What was used and what is planned, a line for each.
    pub fn lines(&self) -> Vec<String> {
        let renewed = self.since.iter().filter(|_| self.counted == "use").map(|day| format!("{day}: begun anew"));
        let uses = self.uses.iter().map(|one| match &one.date {
            Some(date) => format!("{date}: {}: {}", one.by, one.amount()),
            None => format!("{}: {}", one.by, one.amount()),
        });
        let planned = self.planned.iter().map(|one| format!("to come: {}: {}", one.by, one.amount()));
        renewed.chain(uses).chain(planned).collect()
    }
}

/// What is left of a life that is counted by use; none where that is not known.
fn left(life: &Life<'_>, planned: &[Use<'_>]) -> Option<String> {
    let limit = life.limit().filter(|_| life.budget.counted == Counted::Use)?;
    if life.uses.iter().chain(planned).any(Use::is_unknown) {
        return None;
    }
    let left: Rational = limit - &(life.used() + total(planned));
    Some(life.budget.show(&left))
}

impl LifeUse {
    fn of(one: &Use<'_>) -> LifeUse {
        let (used, why) = match &one.spent {
            Spent::Known(amount, _) => (Some(amount.text.clone()), None),
            Spent::Unknown(Unknown::NotSaid) => (None, Some("it does not say how much")),
            Spent::Unknown(Unknown::NotReadable) => (None, Some("what it says cannot be held against the limit")),
            Spent::Unknown(Unknown::NoPieces) => (None, Some("it does not say which pieces were there")),
        };
        let by = match one.by {
            By::Earlier => "before the first record",
            _ => one.by.name(),
        };
        LifeUse { by: by.to_string(), date: one.date.map(|date| date.text.clone()), used, why }
    }

    /// How much, or why that cannot be told.
    pub fn amount(&self) -> String {
        match (&self.used, self.why) {
            (Some(used), _) => used.clone(),
            (None, why) => format!("not known, {}", why.unwrap_or_default()),
        }
    }
}
