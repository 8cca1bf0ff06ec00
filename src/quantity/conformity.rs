//! Decides whether a result meets its limits (JCGM 106:2012), exactly where all that decides is exact.
//!
//! On the line: a limit is part of what is permitted, and a value inside by exactly U is inside by U. That holds for what is exact.
//! Where a value was worked out in floating point, and for probabilities, which always are, nearer than a billionth to the
//! line decides nothing ([`Why::OnTheLimit`]): no verdict hangs on the last digits of a library.

use std::sync::Arc;

use super::rounding::{beside, significant, two_digits};
use super::{Kind, Measured, Quantity, QuantityError, Rational, Unit};

/// The limits of a criterion, shared with the criterion. A limit is part of what is permitted: on the limit is inside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits {
    /// The least that is permitted.
    pub min: Option<Arc<Quantity>>,
    /// The most that is permitted.
    pub max: Option<Arc<Quantity>>,
}

impl Limits {
    /// Limits of their own; none: there is none at that end.
    pub fn new(min: Option<Quantity>, max: Option<Quantity>) -> Self {
        Self { min: min.map(Arc::new), max: max.map(Arc::new) }
    }

    /// The least and the most in coherent SI units on the scale that a quantity is on: gauge for gauge, say.
    ///
    /// # Errors
    /// The quantity and a limit do not go together.
    pub fn on_scale_of(
        &self,
        quantity: &Quantity,
        ambient: Option<&Quantity>,
    ) -> Result<[Option<Rational>; 2], QuantityError> {
        let end = |limit: &Option<Arc<Quantity>>| {
            let shifted =
                |limit: &Arc<Quantity>| Ok(&limit.value - (quantity.on_scale_of(limit, ambient)? - &quantity.value));
            limit.as_ref().map(shifted).transpose()
        };
        Ok([end(&self.min)?, end(&self.max)?])
    }

    /// The limits `equals` ± `tolerance`. The tolerance is a difference, or a percentage of the value.
    ///
    /// # Errors
    /// A tolerance that is negative, is for another sort of quantity, or could be read in two ways.
    pub fn around(equals: &Quantity, tolerance: &Quantity) -> Result<Self, QuantityError> {
        let wrong = |message: String, help: String| QuantityError::new(0..tolerance.text.len(), message, help);
        let unit = equals.unit.as_difference();
        let in_unit = format!("write the tolerance in `{}`", unit.symbol);
        let percent = tolerance.unit.symbol == "%";
        if percent && (equals.dimension.is_none() || !equals.unit.offset.is_zero()) {
            return Err(wrong("a tolerance in percent can be read in two ways here".to_owned(), in_unit));
        }
        let half = if percent {
            &tolerance.value * equals.value.abs()
        } else if let Some(half) = tolerance.as_span_of(equals) {
            half
        } else {
            let found = tolerance.kind.describe(&tolerance.dimension);
            return Err(wrong(format!("the tolerance `{}` is {found}", tolerance.show()), in_unit));
        };
        if half.is_negative() {
            return Err(wrong("a tolerance is not negative".to_owned(), "write it without its sign".to_owned()));
        }
        let exact = equals.exact && tolerance.exact;
        let limit = |value| Some(Quantity::computed(value, equals.unit.clone(), exact));
        Ok(Self::new(limit(&equals.value - &half), limit(&equals.value + &half)))
    }

    /// Whether both limits go together and leave room for a value between them.
    ///
    /// # Errors
    /// Limits of different sorts, or a `min` above the `max`.
    pub fn check(&self, ambient: Option<&Quantity>) -> Result<(), QuantityError> {
        let (Some(min), Some(max)) = (&self.min, &self.max) else { return Ok(()) };
        if min.compare(max, ambient)? == std::cmp::Ordering::Greater {
            let message = format!("the least permitted, `{}`, is above the most, `{}`", min.show(), max.show());
            return Err(QuantityError::new(0..min.text.len(), message, "swap `min` and `max`, or correct one of them"));
        }
        Ok(())
    }

    /// Whether any value with this uncertainty could be inside by at least U of both limits. If not, the guarded rule never
    /// comes out as met.
    ///
    /// # Errors
    /// Those of [`Limits::check`].
    pub fn leave_room_for(&self, expanded: &Rational, ambient: Option<&Quantity>) -> Result<bool, QuantityError> {
        self.check(ambient)?;
        let (Some(min), Some(max)) = (&self.min, &self.max) else { return Ok(true) };
        let range = max.on_scale_of(min, ambient)? - &min.value;
        Ok(range >= expanded + expanded)
    }
}

/// How the uncertainty of a result enters the decision.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub enum Rule {
    /// The value alone decides.
    Simple,
    /// The value must be inside by at least the expanded uncertainty U; outside by at least U is not met.
    #[default]
    Guarded,
    /// Met if the probability of being inside is at least this; not met if that of being outside is.
    Probability(Rational),
}

/// The decision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Conformity {
    /// Inside.
    Met,
    /// Outside.
    NotMet,
    /// Neither can be said.
    Inconclusive(Why),
    /// The decision could not be worked out, for the reason given.
    CannotCompute(String),
}

/// Why a result is inconclusive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// The uncertainty straddles a limit.
    Straddles,
    /// The rule needs an uncertainty and none is stated.
    NoUncertainty,
    /// A bound such as `< x` leaves it open on which side of the limit the value is.
    BoundUndecided,
    /// Trials show neither that a reliability is reached nor that it is not.
    TooFewTrials,
    /// What was worked out in floating point lies nearer to the deciding line than its digits can be trusted.
    OnTheLimit,
}

/// The smallest distance of a result to a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Margin {
    /// The distance in coherent SI units: positive inside, negative outside.
    pub value: Rational,
    /// The limit it is the distance to.
    pub limit: Arc<Quantity>,
    /// The expanded uncertainty U of the result, if stated.
    pub expanded: Option<Rational>,
    /// True if the result is a bound, so that the margin is at least this.
    pub at_least: bool,
    /// The consumer's risk: the probability that the value is outside one of its limits, as far as this measurement alone tells
    /// (JCGM 106:2012, 7). None without an uncertainty.
    pub risk: Option<f64>,
    /// Of so many trials the risk is the share that lies outside; none where it is worked out from U.
    pub trials: Option<usize>,
    /// True if the probability decided.
    pub by_risk: bool,
}

/// The symbol for a width beside a value in this unit: there nobody takes 5 degC for a temperature.
pub(super) fn symbol_of_span(unit: &Unit) -> &str {
    if unit.kind == Kind::TemperaturePoint { &unit.symbol } else { unit.difference_symbol() }
}

impl Quantity {
    /// The width that this text means beside a value, in coherent SI units: 2 degC beside a temperature is 2 K. `None` where it is for
    /// another sort of quantity.
    pub(super) fn as_span_of(&self, of: &Quantity) -> Option<Rational> {
        let fits = self.dimension == of.dimension && self.kind.difference() == of.unit.as_difference().kind;
        fits.then(|| self.unit.span_to_si(&self.unit.from_si(&self.value)))
    }
}

impl Margin {
    /// The distance of a value to the nearest limit, and nothing else; `None` if there is no limit.
    ///
    /// # Errors
    /// The value and a limit do not go together.
    pub(super) fn of(
        value: &Quantity,
        limits: &Limits,
        ambient: Option<&Quantity>,
    ) -> Result<Option<Self>, QuantityError> {
        let placed = Placed::new(value, limits, ambient)?;
        Ok(placed.map(|placed| Self {
            value: placed.nearest,
            limit: placed.limit.clone(),
            expanded: None,
            at_least: false,
            risk: None,
            trials: None,
            by_risk: false,
        }))
    }

    /// The margin in the unit of the limit, to no more digits than its uncertainty is stated to.
    pub fn in_unit(&self) -> String {
        let unit = &self.limit.unit;
        let expanded = self.expanded.as_ref().map(|expanded| unit.span_from_si(expanded));
        let mut number = beside(&unit.span_from_si(&self.value), expanded.as_ref());
        let symbol = symbol_of_span(unit);
        if !symbol.is_empty() {
            number.push(' ');
            number.push_str(symbol);
        }
        number
    }

    /// The margin in percent of the limit; `None` where the limit is zero or a point on a scale with an offset.
    pub fn percent(&self) -> Option<String> {
        if self.limit.value.is_zero() || !self.limit.unit.offset.is_zero() {
            return None;
        }
        let percent = &self.value / self.limit.value.abs() * Rational::from_integer(100.into());
        Some(significant(&percent, 3) + " %")
    }

    /// The margin in multiples of U, cut to two digits; `None` without an uncertainty, or with one of zero.
    pub fn in_u(&self) -> Option<String> {
        self.multiple_of_u().map(|multiple| two_digits(&multiple) + " U")
    }

    /// The margin divided by U, exactly; `None` without an uncertainty, or with one of zero.
    pub fn multiple_of_u(&self) -> Option<Rational> {
        self.expanded.as_ref().filter(|expanded| !expanded.is_zero()).map(|expanded| &self.value / expanded)
    }

    /// The consumer's risk in percent, two digits; `None` without an uncertainty.
    pub fn show_risk(&self) -> Option<String> {
        self.risk.map(|risk| match risk {
            // Nothing is said to be certain: no curve is known so far out, and no trials show what none of them met.
            _ if let (true, Some(trials)) = (risk <= 0.0, self.trials) => format!("less than 1 in {trials}"),
            _ if risk < 1e-4 => "less than 0.01 %".to_owned(),
            _ if risk >= 0.9995 => "more than 99.9 %".to_owned(),
            _ => Rational::from_f64(risk * 100.0).map_or_else(String::new, |percent| significant(&percent, 2) + " %"),
        })
    }

    /// The risk as a number; none where no trial lies outside, which says only that it is small.
    pub fn risk_number(&self) -> Option<f64> {
        self.risk.filter(|risk| *risk > 0.0 || self.trials.is_none())
    }

    /// The same with the share of trials that lies outside as the risk; not where a risk from U decided.
    pub fn with_trials(self, outside: f64, trials: usize) -> Margin {
        match self.by_risk {
            true => self,
            false => Margin { risk: Some(outside), trials: Some(trials), ..self },
        }
    }

    /// All of it in one line: `0.33 N·m (66 % of the limit, 3.0 U)`, with the risk where that decided.
    pub fn show(&self) -> String {
        let percent = self.percent().map(|percent| percent + " of the limit");
        let risk = self.show_risk().filter(|_| self.by_risk).map(|risk| risk + " risk of being outside");
        let mut text = String::with_capacity(64);
        text.push_str(if self.at_least { "at least " } else { "" });
        text.push_str(&self.in_unit());
        let mut end = "";
        for detail in percent.into_iter().chain(self.in_u()).chain(risk) {
            text.push_str(if end.is_empty() { " (" } else { ", " });
            text.push_str(&detail);
            end = ")";
        }
        text + end
    }
}

/// Judges a result against its limits, and measures the margin to the nearest one.
///
/// Bounds need no uncertainty: `< x` meets a `max` that is not below x if there is no `min`, and is outside a `min` that is not below
/// x, whatever `max` says; `> x` meets a `min` that is not above x if there is no `max`, and is outside a `max` that is not above x;
/// otherwise they are inconclusive.
///
/// # Errors
/// The result and a limit do not go together, see [`Quantity::compatible`].
pub fn judge(
    rule: &Rule,
    result: &Measured,
    limits: &Limits,
    ambient: Option<&Quantity>,
) -> Result<(Conformity, Option<Margin>), QuantityError> {
    let Some(placed) = Placed::new(result.quantity(), limits, ambient)? else {
        return Ok((Conformity::CannotCompute("there is no limit to judge against".to_owned()), None));
    };
    let decision = match result {
        Measured::Value(quantity) => placed.value(rule, quantity),
        Measured::Below(_) => placed.bound(true, limits.min.is_none()),
        Measured::Above(_) => placed.bound(false, limits.max.is_none()),
    };
    let is_value = matches!(result, Measured::Value(_));
    let margin = (decision == Conformity::Met || is_value).then(|| Margin {
        value: placed.nearest,
        limit: placed.limit.clone(),
        expanded: result.quantity().uncertainty.as_ref().map(|uncertainty| uncertainty.expanded.clone()),
        at_least: !is_value,
        risk: placed.risk.filter(|_| is_value),
        trials: None,
        by_risk: matches!(rule, Rule::Probability(_)) && is_value,
    });
    Ok((decision, margin))
}

/// A value beside its limits.
struct Placed<'a> {
    /// The smallest distance to a limit, positive inside.
    nearest: Rational,
    /// The limit it is to.
    limit: &'a Arc<Quantity>,
    /// Whether that is the lower one.
    is_min: bool,
    /// How near to a line is on it, where something was worked out in floating point.
    blur: Option<Rational>,
    /// The probability of being outside.
    risk: Option<f64>,
}

impl<'a> Placed<'a> {
    /// `None` if there is no limit.
    fn new(
        quantity: &Quantity,
        limits: &'a Limits,
        ambient: Option<&Quantity>,
    ) -> Result<Option<Placed<'a>>, QuantityError> {
        let mut nearest: Option<(Rational, &Arc<Quantity>, bool)> = None;
        let mut risk = quantity.uncertainty.as_ref().map(|_| 0.0);
        let mut approximate = quantity.approximate;
        for (limit, is_min) in
            limits.min.iter().map(|limit| (limit, true)).chain(limits.max.iter().map(|limit| (limit, false)))
        {
            let value = quantity.on_scale_of(limit, ambient)?;
            let distance = if is_min { value - &limit.value } else { &limit.value - value };
            // Outside one limit and outside the other exclude each other.
            if let (Some(sum), Some(uncertainty)) = (&mut risk, &quantity.uncertainty) {
                *sum += uncertainty.beyond(&distance);
            }
            approximate |= limit.approximate;
            if nearest.as_ref().is_none_or(|(least, ..)| distance < *least) {
                nearest = Some((distance, limit, is_min));
            }
        }
        Ok(nearest.map(|(nearest, limit, is_min)| {
            let blur = approximate.then(|| blur(quantity, limit));
            Placed { nearest, limit, is_min, blur, risk: risk.map(|risk: f64| risk.min(1.0)) }
        }))
    }

    fn is_on(&self, line: &Rational) -> bool {
        self.blur.as_ref().is_some_and(|blur| (&self.nearest - line).abs() <= *blur)
    }

    /// A value that is less than this one (else more), where no limit stands on that side or one does.
    fn bound(&self, below: bool, is_open: bool) -> Conformity {
        let (is_outside, is_inside) = (!self.nearest.is_positive(), !self.nearest.is_negative());
        if self.is_on(&Rational::zero()) {
            Conformity::Inconclusive(Why::OnTheLimit)
        } else if self.is_min == below && is_outside {
            // All that is beyond the bound is beyond the limit too.
            Conformity::NotMet
        } else if is_open && is_inside {
            Conformity::Met
        } else {
            Conformity::Inconclusive(Why::BoundUndecided)
        }
    }

    fn value(&self, rule: &Rule, result: &Quantity) -> Conformity {
        let guard = match (rule, &result.uncertainty) {
            (Rule::Simple, _) => &Rational::zero(),
            (_, None) => return Conformity::Inconclusive(Why::NoUncertainty),
            // What is certain is inside or outside.
            (Rule::Probability(_), Some(uncertainty)) if uncertainty.standard.is_zero() => &Rational::zero(),
            (Rule::Probability(asked), Some(_)) => return self.by_risk(asked),
            (Rule::Guarded, Some(uncertainty)) => &uncertainty.expanded,
        };
        if self.is_on(guard) || self.is_on(&-guard) {
            Conformity::Inconclusive(Why::OnTheLimit)
        } else if self.nearest >= *guard {
            Conformity::Met
        } else if self.nearest.is_negative() && -&self.nearest >= *guard {
            Conformity::NotMet
        } else {
            Conformity::Inconclusive(Why::Straddles)
        }
    }

    fn by_risk(&self, asked: &Rational) -> Conformity {
        let (asked, risk) = (asked.to_f64().unwrap_or(f64::NAN), self.risk.unwrap_or(f64::NAN));
        // A probability has no scale of its own: the distance itself is held against a billionth.
        if [risk, 1.0 - risk].iter().any(|share| (share - asked).abs() <= A_BILLIONTH) {
            Conformity::Inconclusive(Why::OnTheLimit)
        } else if 1.0 - risk >= asked {
            Conformity::Met
        } else if risk >= asked {
            Conformity::NotMet
        } else {
            Conformity::Inconclusive(Why::Straddles)
        }
    }
}

/// What was worked out in floating point says nothing about distances smaller than this share of what it is a distance between.
const A_BILLIONTH: f64 = 1e-9;

/// How near to a line is on it: a billionth of the greatest of what decides.
fn blur(quantity: &Quantity, limit: &Quantity) -> Rational {
    let expanded =
        quantity.uncertainty.as_ref().map_or_else(Rational::zero, |uncertainty| uncertainty.expanded.clone());
    quantity.value.abs().max(limit.value.abs()).max(expanded) * Rational::from_words(1, 1_000_000_000)
}
