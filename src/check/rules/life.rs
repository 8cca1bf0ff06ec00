//! Pieces whose limited life does not last to an event, or of which that cannot be told.

use crate::check::{Check, Subject};
use crate::diag::{Due, Finding, Findings};
use crate::model::SerialId;
use crate::model::kinds::{Counted, RecordStatus, SerialUse};
use crate::state::Facts;
use crate::state::life::{By, Lives, Outlook, Shortage, Spent, Unknown, Use, total};
use crate::state::standing::item_dropped;

/// The check.
pub const CHECK: Check =
    Check { name: "life", codes: &["life-exceeded", "life-unknown", "limited-life-unwatched"], run };

/// How many of the uses are pointed at, the largest first.
const POINTED_AT: usize = 3;

fn run(subject: &Subject<'_>, findings: &mut Findings) {
    let facts = &subject.facts;
    let lives = Lives::of(facts);
    for shortage in lives.shortages() {
        findings.push(gap(facts, &shortage));
    }
    unwatched(facts, &lives, findings);
}

/// Pieces in service that are at no event: most often nobody has written down what they sit in.
fn unwatched(facts: &Facts<'_>, lives: &Lives<'_>, findings: &mut Findings) {
    let events = 0..facts.model.config.events.len();
    let mut told: Option<&SerialId> = None;
    for life in lives.all() {
        let piece = &life.piece;
        let in_use = life.serial.purpose == SerialUse::Service && !facts.graph.scrapped.contains(piece);
        let at_one = events.clone().any(|event| lives.is_at(event, piece));
        if !in_use || at_one || told == Some(piece) || item_dropped(facts, &piece.item) {
            continue;
        }
        told = Some(piece);
        let text = format!("the life of {piece} is limited, it is in service, and no event uses it");
        let help = "name it in `contains` of the piece that it sits in, or in `serials` of an event; on the shelf it has use = \"spare\"";
        findings.push(Finding::at("limited-life-unwatched", life.serial.number.span, text).help(help));
    }
}

fn gap(facts: &Facts<'_>, shortage: &Shortage<'_, '_>) -> Finding {
    let span = shortage.life.serial.number.span;
    let finding = match shortage.forecast.outlook {
        Outlook::Exceeded => Finding::at("life-exceeded", span, exceeded(facts, shortage)).help(renew(shortage)),
        Outlook::Unknown | Outlook::Lasts => {
            let help = unknown_help(shortage);
            Finding::at("life-unknown", span, unknown(facts, shortage)).help(help)
        }
    };
    pointed_at(shortage, finding).due(Due::Among(shortage.events.clone()))
}

fn event<'m>(facts: &Facts<'m>, shortage: &Shortage<'_, 'm>) -> &'m str {
    &facts.model.config.events[shortage.forecast.event].name.value
}

fn exceeded(facts: &Facts<'_>, shortage: &Shortage<'_, '_>) -> String {
    let (life, forecast) = (shortage.life, &shortage.forecast);
    let (piece, name, event) = (&life.piece, &life.budget.name.value, event(facts, shortage));
    if life.budget.counted == Counted::Age {
        let last = life.last_day().map(|day| day.to_string()).unwrap_or_default();
        let start = life.start().map_or("", |start| start.text.as_str());
        let limit = limit(shortage);
        return format!(
            "the {name} of {piece} ended on {last}, {limit} after {start}; {event} is not before {}",
            forecast.deadline
        );
    }
    let mut text =
        format!("{piece} is over its limit of {} {name} before {event}: {}", limit(shortage), sums(shortage));
    let unknown = unknowns(shortage).count();
    if unknown > 0 {
        text.push_str(&format!(", and {unknown} more not known"));
    }
    text
}

/// What was used and what will be, as far as it is known.
fn sums(shortage: &Shortage<'_, '_>) -> String {
    let budget = shortage.life.budget;
    let planned = total(&shortage.forecast.planned);
    format!("{} used, {} planned", budget.show(&shortage.life.used()), budget.show(&planned))
}

fn limit(shortage: &Shortage<'_, '_>) -> String {
    shortage.life.budget.limit().map_or("?".to_string(), |limit| limit.show())
}

fn renew(shortage: &Shortage<'_, '_>) -> String {
    let name = &shortage.life.budget.name.value;
    format!(
        "use another piece, or renew this one: [[serials.reworked]] with resets = [\"{name}\"]; raise `limit` only on evidence"
    )
}

/// The uses of which it cannot be told how much they are.
fn unknowns<'s, 'm>(shortage: &'s Shortage<'_, 'm>) -> impl Iterator<Item = (&'s Use<'m>, Unknown)> {
    let all = shortage.life.uses.iter().chain(&shortage.forecast.planned);
    all.filter_map(|one| match one.spent {
        Spent::Unknown(why) => Some((one, why)),
        Spent::Known(..) => None,
    })
}

fn unknown(facts: &Facts<'_>, shortage: &Shortage<'_, '_>) -> String {
    let life = shortage.life;
    let (piece, name, event) = (&life.piece, &life.budget.name.value, event(facts, shortage));
    let what = format!("whether the {name} of {piece} last to {event} cannot be told");
    if life.limit().is_none() {
        return format!("{what}: their limit is not known");
    }
    if life.budget.counted == Counted::Age {
        return format!("{what}: the day on which it was built is not stated");
    }
    let mut why: Vec<String> = unknowns(shortage).take(POINTED_AT).map(|(one, why)| because(one.by, why)).collect();
    let more = unknowns(shortage).count().saturating_sub(POINTED_AT);
    if more > 0 {
        why.push(format!("{more} more do not either"));
    }
    format!("{what}: {}; the limit is {}, {}", why.join(", "), limit(shortage), sums(shortage))
}

fn because(by: By<'_>, why: Unknown) -> String {
    let name = by.name();
    match (by, why) {
        (_, Unknown::NotReadable) => format!("what {name} says cannot be held against the limit"),
        (_, Unknown::NoPieces) => format!("{name} does not say which pieces were there"),
        (By::Event(_), Unknown::NotSaid) => format!("{name} does not say how much it will use"),
        (_, Unknown::NotSaid) => format!("{name} does not say how much it used"),
    }
}

fn unknown_help(shortage: &Shortage<'_, '_>) -> String {
    let (life, name) = (shortage.life, &shortage.life.budget.name.value);
    let first = unknowns(shortage).next();
    match first {
        _ if life.limit().is_none() => "correct its limit first".to_string(),
        None => format!("write built = YYYY-MM-DD in the table of {}", life.piece),
        Some((_, Unknown::NotReadable)) => "correct it first: a fault says how".to_string(),
        Some((one, Unknown::NoPieces)) => {
            format!("write serials = [\"…\"] in {}: the pieces that were there", one.by.name())
        }
        Some((Use { by: By::Event(event), .. }, Unknown::NotSaid)) => {
            let event = &event.name.value;
            format!(
                "in slipmark.toml, under [[events]] with name = \"{event}\": uses.{name} = …, for one holding; 0 if it uses none"
            )
        }
        Some((one, Unknown::NotSaid)) => {
            let id = one.by.name();
            match one.by {
                By::Record(record) if record.status.value == RecordStatus::Draft => {
                    format!("slipmark fill {id} uses.{name}=…; 0 if it used none")
                }
                By::Record(_) => {
                    format!(
                        "write uses.{name} = … in {id}, above its first [table], and sign it again; 0 if it used none"
                    )
                }
                _ => format!("write uses.{name} = … in {id}, above its first [table]; 0 if it used none"),
            }
        }
    }
}

/// Points at the limit, and at what weighs most: what is not known before what is.
fn pointed_at(shortage: &Shortage<'_, '_>, finding: Finding) -> Finding {
    let (life, forecast) = (shortage.life, &shortage.forecast);
    let mut finding = finding.also(life.budget.span(), "the limit");
    if life.budget.counted == Counted::Age {
        return match life.start() {
            Some(start) => finding.also(start.span, "it began here"),
            None => finding,
        };
    }
    let mut uses: Vec<&Use<'_>> = life.uses.iter().chain(&forecast.planned).collect();
    uses.retain(|one| !matches!(&one.spent, Spent::Known(_, most) if most.is_zero()));
    uses.sort_by(|a, b| weight(b).cmp(&weight(a)));
    for one in uses.into_iter().take(POINTED_AT) {
        let will = if matches!(one.by, By::Event(_)) { "will use" } else { "used" };
        let label = match &one.spent {
            Spent::Known(amount, _) => format!("{} {will} {}", one.by.name(), amount.text),
            Spent::Unknown(_) => format!("{}: how much is not known", one.by.name()),
        };
        finding = finding.also(one.span, label);
    }
    finding
}

fn weight<'u>(one: &'u Use<'_>) -> (bool, Option<&'u crate::quantity::Rational>) {
    match &one.spent {
        Spent::Known(_, most) => (false, Some(most)),
        Spent::Unknown(_) => (true, None),
    }
}
