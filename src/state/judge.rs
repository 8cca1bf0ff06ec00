//! Holds one result against one criterion.

use std::sync::Arc;

use rayon::prelude::*;

mod statistical;

use crate::model::kinds::{
    Condition, Criterion, Expectation, Limit, LimitValue, Record, Requirement, ResultText, Verifies,
};
use crate::parse::{Scalar, plain_text};
use crate::quantity::{self, Conformity, Limits, Margin, Measured, Quantity, Rule, Why, parse_measured};
use crate::text::{Span, Spanned};

use super::{Facts, kept};

/// What a result says of a criterion.
#[derive(Clone, Debug)]
pub enum Verdict {
    /// Inside.
    Met,
    /// Outside.
    NotMet,
    /// Undecided, with the code of the reason.
    Inconclusive(&'static str),
    /// It cannot be told, and why.
    CannotTell(Trouble),
    /// The record names the requirement and is silent on the criterion.
    Missing,
    /// The limit itself is not settled, which is the requirement's matter and not the record's.
    Unsettled,
    /// It is computed, and came to something else when the record was signed.
    Moved {
        /// To what, then.
        then: String,
        /// To what it comes now.
        now: String,
    },
    /// It is computed, and what it came to was not written down when the record was signed.
    NotKept,
}

/// Why a result cannot be judged.
#[derive(Clone, Debug)]
pub struct Trouble {
    /// What was found.
    pub message: String,
    /// What to type.
    pub help: String,
    /// The finding's code, where it is the files' fault and not ours.
    pub fault: Option<&'static str>,
    /// Where.
    pub span: Option<Span>,
}

/// A verdict with what it was drawn from.
#[derive(Clone, Debug)]
pub struct Judgement {
    /// The verdict.
    pub verdict: Verdict,
    /// The result as written.
    pub result: Option<String>,
    /// The distance to the limit, for quantities.
    pub margin: Option<Arc<Margin>>,
    /// What more there is to say about the verdict.
    pub note: Option<String>,
    /// What is the matter with the conditions that the criterion asks for, as the record notes them. Of a result that is in no record
    /// nothing is said.
    pub conditions: Vec<String>,
}

impl Judgement {
    /// Whether the result was judged outside.
    pub fn fails(&self) -> bool {
        matches!(self.verdict, Verdict::NotMet)
    }

    /// Whether the value lies outside the limit, whatever its uncertainty.
    pub fn lies_outside(&self) -> bool {
        self.margin.as_ref().is_some_and(|margin| margin.value.is_negative())
    }

    /// What there is to say of a result that states no uncertainty where the decision rule needs one.
    pub fn no_uncertainty(&self) -> &'static str {
        match self.lies_outside() {
            true => "it lies outside, and no uncertainty is stated, which the decision rule needs",
            false => "no uncertainty is stated, and the decision rule needs one",
        }
    }

    fn plain(verdict: Verdict, result: &str) -> Judgement {
        Judgement { verdict, result: Some(result.to_string()), margin: None, note: None, conditions: Vec::new() }
    }
}

/// Every result of every record held against its criterion, worked out once.
#[derive(Debug, Default)]
pub struct Judgements {
    /// By record, by what it verifies, by the requirement's criteria; empty where the requirement is not known.
    all: Vec<Vec<Vec<Judgement>>>,
}

impl Judgements {
    /// Judges every result of the project; `facts` need hold no judgements yet.
    pub fn of(facts: &Facts<'_>) -> Judgements {
        let one = |(at, record): (usize, &Arc<Record>)| {
            let verifies = record.verifies.iter().enumerate().map(|(which, verifies)| {
                let requirement = facts.verified(at, which);
                let judge = |it: &Requirement| {
                    it.criteria.iter().map(|own| judge_signed(facts, it, own, record, verifies)).collect()
                };
                requirement.map_or_else(Vec::new, judge)
            });
            verifies.collect()
        };
        Judgements { all: facts.model.records.par_iter().enumerate().with_min_len(64).map(one).collect() }
    }

    /// What a record's results come to, by the criteria of the requirement, in their order.
    pub fn get(&self, record: usize, which: usize) -> &[Judgement] {
        self.all.get(record).and_then(|record| record.get(which)).map_or(&[], Vec::as_slice)
    }
}

/// As [`judge`], where what the record computes is still what it was signed for.
fn judge_signed(
    facts: &Facts<'_>,
    requirement: &Requirement,
    criterion: &Criterion,
    record: &Record,
    verifies: &Verifies,
) -> Judgement {
    let noted = |condition: &Condition| {
        record.conditions.iter().find(|(name, _)| name.value == condition.name).map(|(_, value)| value)
    };
    let wrong = |condition: &Condition| condition_holds(facts, condition, noted(condition)).err();
    let conditions = criterion.at.iter().filter_map(wrong).collect();
    let judgement = Judgement { conditions, ..judge(facts, requirement, criterion, verifies) };
    let only = requirement.only_criterion();
    match kept::otherwise(facts, record, verifies, &criterion.name, only) {
        Some(verdict) => Judgement { verdict, ..judgement },
        None => judgement,
    }
}

/// Judges what a record says of a criterion, under the project's rule.
///
/// States take what [`Judgements`] hold; this is for results that are not in the files, or not yet.
pub fn judge(facts: &Facts<'_>, requirement: &Requirement, criterion: &Criterion, verifies: &Verifies) -> Judgement {
    let only = requirement.only_criterion();
    match verifies.result_for(&criterion.name, only) {
        None => Judgement { result: None, ..Judgement::plain(Verdict::Missing, "") },
        Some(result) => judge_result(facts, &criterion.expects, result),
    }
}

/// Judges a result against what is expected, under the project's rule.
pub fn judge_result(facts: &Facts<'_>, expects: &Expectation, result: &Spanned<ResultText>) -> Judgement {
    judge_by(facts, &facts.model.config.rule, expects, result)
}

/// The same under another rule.
pub(super) fn judge_by(
    facts: &Facts<'_>,
    rule: &Rule,
    expects: &Expectation,
    result: &Spanned<ResultText>,
) -> Judgement {
    let shown = result.value.show();
    let scalar = match &result.value {
        ResultText::Written(scalar) => scalar,
        ResultText::Calculation(_) | ResultText::Reduction(_) => {
            return judge_computed(facts, rule, expects, result.span, &shown);
        }
        ResultText::Readings(_) | ResultText::Summary { .. } => {
            return statistical::judge_sample(facts, expects, result);
        }
    };
    match expects {
        Expectation::Limits { min, max } => {
            judge_quantity(facts, rule, min.as_ref(), max.as_ref(), scalar, result.span)
        }
        Expectation::Words(words) => Judgement::plain(judge_word(words, scalar, result.span), &shown),
        Expectation::Count(least) => Judgement::plain(judge_count(*least, scalar, result.span), &shown),
        Expectation::Trials { reliability, confidence } => {
            statistical::judge_trials(reliability, confidence, scalar, result.span)
        }
        Expectation::Sample { .. } => statistical::judge_sample(facts, expects, result),
    }
}

/// Judges what the record's calculation or data come to.
fn judge_computed(facts: &Facts<'_>, rule: &Rule, expects: &Expectation, span: Span, shown: &str) -> Judgement {
    let cannot = |message: String, help: String| {
        Judgement::plain(Verdict::CannotTell(Trouble { message, help, fault: None, span: None }), shown)
    };
    let quantity = match facts.computed.at(span) {
        Some(Ok(quantity)) => quantity,
        // What is wrong is said where it is wrong; here it only keeps the row open.
        Some(Err(trouble)) => return cannot(format!("{shown}: {}", trouble.message), trouble.help.clone()),
        None => return cannot(format!("{shown} was not computed"), "write the result as a quantity".into()),
    };
    match expects {
        Expectation::Limits { min, max } => {
            let measured = Measured::Value(quantity.clone());
            let shown = quantity.show();
            let judged = judge_measured(facts, rule, (min.as_ref(), max.as_ref()), &measured, &shown, span);
            match known_limits(min.as_ref(), max.as_ref()) {
                Some(limits) => by_trials(facts, &limits, quantity, span, judged),
                None => judged,
            }
        }
        Expectation::Words(_) | Expectation::Count(_) | Expectation::Trials { .. } | Expectation::Sample { .. } => {
            Judgement::plain(
                trouble(
                    "unknown-result-word",
                    span,
                    format!("{shown} is a quantity, and the criterion expects none"),
                    "write what was found",
                ),
                shown,
            )
        }
    }
}

/// The risk of being outside, where trials decided what the result is: the share of them that lies there. U is then a half width on both
/// sides of what is not the same on both, and no curve is known that goes with it.
fn by_trials(facts: &Facts<'_>, limits: &Limits, quantity: &Quantity, span: Span, judged: Judgement) -> Judgement {
    let Some(tried) = facts.computed.tried(span) else { return judged };
    let Some(margin) = judged.margin else { return judged };
    let Ok(ends) = limits.on_scale_of(quantity, facts.model.config.ambient.as_ref()) else {
        return Judgement { margin: Some(margin), ..judged };
    };
    let [least, most] = ends.map(|end| end.and_then(|end| end.to_f64()));
    let below = least.map_or(0.0, |least| tried.simulation.share_below(least));
    let above = most.map_or(0.0, |most| tried.simulation.share_above(most));
    let margin = Arc::unwrap_or_clone(margin).with_trials((below + above).min(1.0), tried.simulation.trials);
    Judgement { margin: Some(Arc::new(margin)), ..judged }
}

fn trouble(fault: &'static str, span: Span, message: String, help: impl Into<String>) -> Verdict {
    Verdict::CannotTell(Trouble { message, help: help.into(), fault: Some(fault), span: Some(span) })
}

fn judge_word(expected: &[String], scalar: &Scalar, span: Span) -> Verdict {
    let Scalar::Text(text) = scalar else {
        let message = format!("{} is a number, and the criterion expects a word", scalar.text());
        return trouble(
            "unknown-result-word",
            span,
            message,
            format!("write \"{}\" or what was found instead", expected.join("\" or \"")),
        );
    };
    let found = plain_text(text);
    if expected.contains(&found) {
        return Verdict::Met;
    }
    let yes_or_no = expected.len() == 1 && expected[0] == "pass";
    if yes_or_no && found != "fail" {
        let message = format!("\"{found}\" is neither \"pass\" nor \"fail\"");
        return trouble("unknown-result-word", span, message, "write \"pass\" or \"fail\"");
    }
    Verdict::NotMet
}

fn judge_count(least: u64, scalar: &Scalar, span: Span) -> Verdict {
    match scalar.text().replace('_', "").parse::<u64>() {
        Ok(count) if count >= least => Verdict::Met,
        Ok(_) => Verdict::NotMet,
        Err(_) => {
            let message = format!("\"{}\" is no whole number, and the criterion counts", scalar.text());
            trouble("count-expected", span, message, "write a whole number")
        }
    }
}

fn judge_quantity(
    facts: &Facts<'_>,
    rule: &Rule,
    min: Option<&Limit>,
    max: Option<&Limit>,
    scalar: &Scalar,
    span: Span,
) -> Judgement {
    let shown = scalar.text().to_string();
    let word = plain_text(scalar.text());
    if word == "pass" || word == "fail" {
        let message = format!("\"{word}\" says nothing about a limit in numbers");
        return Judgement::plain(
            trouble("word-for-quantity", span, message, "write the measured value with its unit and uncertainty"),
            &shown,
        );
    }
    let measured = match parse_measured(scalar.text()) {
        Ok(measured) => measured,
        Err(error) => {
            let message = format!("this result is no quantity: {}", error.message);
            return Judgement::plain(trouble("bad-quantity", span, message, error.help), &shown);
        }
    };
    judge_measured(facts, rule, (min, max), &measured, &shown, span)
}

fn judge_measured(
    facts: &Facts<'_>,
    rule: &Rule,
    (min, max): (Option<&Limit>, Option<&Limit>),
    measured: &Measured,
    shown: &str,
    span: Span,
) -> Judgement {
    let Some(limits) = known_limits(min, max) else {
        return Judgement::plain(Verdict::Unsettled, shown);
    };
    match quantity::judge(rule, measured, &limits, facts.model.config.ambient.as_ref()) {
        Ok((conformity, margin)) => Judgement {
            verdict: verdict(conformity),
            result: Some(shown.to_string()),
            margin: margin.map(Arc::new),
            note: None,
            conditions: Vec::new(),
        },
        Err(error) => Judgement::plain(trouble("units-do-not-match", span, error.message, error.help), shown),
    }
}

fn verdict(conformity: Conformity) -> Verdict {
    match conformity {
        Conformity::Met => Verdict::Met,
        Conformity::NotMet => Verdict::NotMet,
        Conformity::Inconclusive(Why::Straddles) => Verdict::Inconclusive("straddles-limit"),
        Conformity::Inconclusive(Why::NoUncertainty) => Verdict::Inconclusive("no-uncertainty"),
        Conformity::Inconclusive(Why::BoundUndecided) => Verdict::Inconclusive("bound-undecided"),
        Conformity::Inconclusive(Why::TooFewTrials) => Verdict::Inconclusive("too-few-trials"),
        Conformity::Inconclusive(Why::OnTheLimit) => Verdict::Inconclusive("on-the-limit"),
        Conformity::CannotCompute(message) => {
            Verdict::CannotTell(Trouble { message, help: "give the criterion a limit".into(), fault: None, span: None })
        }
    }
}

/// Whether a limit is still to be settled.
pub(super) fn is_unsettled(expects: &Expectation) -> bool {
    let (min, max) = expects.ends();
    [min, max].into_iter().flatten().any(|limit| !matches!(limit.value, LimitValue::Known(_)))
}

/// The limits as quantities, unless one of them is not settled.
pub fn known_limits(min: Option<&Limit>, max: Option<&Limit>) -> Option<Limits> {
    let known = |limit: Option<&Limit>| -> Option<Option<Arc<Quantity>>> {
        match limit {
            None => Some(None),
            Some(Limit { value: LimitValue::Known(quantity), .. }) => Some(Some(quantity.clone())),
            Some(_) => None,
        }
    };
    Some(Limits { min: known(min)?, max: known(max)? })
}

/// Whether a recorded condition lies inside what the criterion asks; the error says what is the matter.
///
/// # Errors
/// A sentence: the condition is not recorded, cannot be read, or is not shown to be inside.
pub fn condition_holds(
    facts: &Facts<'_>,
    condition: &Condition,
    recorded: Option<&Spanned<Scalar>>,
) -> Result<(), String> {
    let asked = || crate::model::kinds::requirement::show_limits(condition.min.as_ref(), condition.max.as_ref());
    let Some(recorded) = recorded else {
        return Err(format!("condition `{}` ({}) is not recorded", condition.name, asked()));
    };
    let text = recorded.value.text();
    let measured =
        parse_measured(text).map_err(|error| format!("condition `{}`: {}", condition.name, error.message))?;
    let limits = known_limits(condition.min.as_ref(), condition.max.as_ref())
        .ok_or_else(|| format!("the limit of condition `{}` is not settled", condition.name))?;
    let certain = matches!(&measured, Measured::Value(value) if value.uncertainty.is_none());
    let rule = if certain { &Rule::Simple } else { &facts.model.config.rule };
    match quantity::judge(rule, &measured, &limits, facts.model.config.ambient.as_ref()) {
        Ok((Conformity::Met, _)) => Ok(()),
        Ok(_) => Err(format!("condition `{}` was {text}, and {} is asked", condition.name, asked())),
        Err(error) => Err(format!("condition `{}`: {}", condition.name, error.message)),
    }
}
