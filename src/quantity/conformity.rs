//! Decides whether a result meets its limits (JCGM 106:2012), exactly.

use super::rounding::{plain, significant, truncated};
use super::{Kind, Measured, Quantity, QuantityError, Rational};

/// The limits of a criterion. A limit is part of what is permitted: on the limit is inside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits {
    /// The least that is permitted.
    pub min: Option<Quantity>,
    /// The most that is permitted.
    pub max: Option<Quantity>,
}

impl Limits {
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
        } else if tolerance.dimension == equals.dimension && tolerance.kind.difference() == unit.kind {
            tolerance.unit.span_to_si(&tolerance.unit.from_si(&tolerance.value))
        } else {
            let found = tolerance.kind.describe(&tolerance.dimension);
            return Err(wrong(format!("the tolerance `{}` is {found}", tolerance.show()), in_unit));
        };
        if half.is_negative() {
            return Err(wrong("a tolerance is not negative".to_owned(), "write it without its sign".to_owned()));
        }
        let exact = equals.exact && tolerance.exact;
        let limit = |value| Some(Quantity::computed(value, equals.unit.clone(), exact));
        Ok(Self { min: limit(&equals.value - &half), max: limit(&equals.value + &half) })
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Rule {
    /// The value alone decides.
    Simple,
    /// The value must be inside by at least the expanded uncertainty U; outside by at least U is not met.
    #[default]
    Guarded,
    /// The probability of being inside decides.
    Probability,
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
}

/// The smallest distance of a result to a limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Margin {
    /// The distance in coherent SI units: positive inside, negative outside.
    pub value: Rational,
    /// The limit it is the distance to.
    pub limit: Quantity,
    /// The expanded uncertainty U of the result, if stated.
    pub expanded: Option<Rational>,
    /// True if the result is a bound, so that the margin is at least this.
    pub at_least: bool,
}

impl Margin {
    /// The margin in the unit of the limit.
    pub fn in_unit(&self) -> String {
        let unit = &self.limit.unit;
        let number = plain(&unit.span_from_si(&self.value));
        // Beside its limit nobody takes a margin of 5 degC for a temperature.
        let symbol =
            if unit.kind == Kind::TemperaturePoint { unit.symbol.clone() } else { unit.as_difference().symbol };
        if symbol.is_empty() { number } else { format!("{number} {symbol}") }
    }

    /// The margin in percent of the limit; `None` where the limit is zero or a point on a scale with an offset.
    pub fn percent(&self) -> Option<String> {
        if self.limit.value.is_zero() || !self.limit.unit.offset.is_zero() {
            return None;
        }
        let percent = &self.value / self.limit.value.abs() * Rational::from_integer(100.into());
        Some(format!("{} %", significant(&percent, 3)))
    }

    /// The margin in multiples of U, cut to two digits; `None` without an uncertainty, or with one of zero.
    pub fn in_u(&self) -> Option<String> {
        self.multiple_of_u().map(|multiple| format!("{} U", truncated(&multiple)))
    }

    /// The margin divided by U, exactly; `None` without an uncertainty, or with one of zero.
    pub fn multiple_of_u(&self) -> Option<Rational> {
        self.expanded.as_ref().filter(|expanded| !expanded.is_zero()).map(|expanded| &self.value / expanded)
    }

    /// All of it in one line: `0.33 N·m (66 % of the limit, 3.0 U)`.
    pub fn show(&self) -> String {
        let percent = self.percent().map(|percent| format!("{percent} of the limit"));
        let details: Vec<String> = percent.into_iter().chain(self.in_u()).collect();
        let start = if self.at_least { "at least " } else { "" };
        let margin = self.in_unit();
        if details.is_empty() {
            format!("{start}{margin}")
        } else {
            format!("{start}{margin} ({})", details.join(", "))
        }
    }
}

/// Judges a result against its limits, and measures the margin to the nearest one.
///
/// Bounds need no uncertainty: `< x` meets a `max` that is not below x if there is no `min`, `> x` meets a `min` that is not
/// above x if there is no `max`; otherwise they are inconclusive.
///
/// # Errors
/// The result and a limit do not go together, see [`Quantity::compatible`].
pub fn judge(
    rule: Rule,
    result: &Measured,
    limits: &Limits,
    ambient: Option<&Quantity>,
) -> Result<(Conformity, Option<Margin>), QuantityError> {
    let Some(margin) = margin(result, limits, ambient)? else {
        return Ok((Conformity::CannotCompute("there is no limit to judge against".to_owned()), None));
    };
    let decision = match result {
        Measured::Value(quantity) => judge_value(rule, quantity, &margin),
        Measured::Below(_) | Measured::Above(_) if rule == Rule::Probability => not_yet(),
        Measured::Below(_) if limits.min.is_none() => judge_bound(&margin),
        Measured::Above(_) if limits.max.is_none() => judge_bound(&margin),
        Measured::Below(_) | Measured::Above(_) => Conformity::Inconclusive(Why::BoundUndecided),
    };
    let decided_bound = decision == Conformity::Met || matches!(result, Measured::Value(_));
    Ok((decision, Some(margin).filter(|_| decided_bound)))
}

fn not_yet() -> Conformity {
    Conformity::CannotCompute("the probability rule is not worked out yet; use `guarded` or `simple`".to_owned())
}

fn judge_bound(margin: &Margin) -> Conformity {
    if margin.value.is_negative() { Conformity::Inconclusive(Why::BoundUndecided) } else { Conformity::Met }
}

fn judge_value(rule: Rule, result: &Quantity, margin: &Margin) -> Conformity {
    match (rule, &result.uncertainty) {
        (Rule::Simple, _) if margin.value.is_negative() => Conformity::NotMet,
        (Rule::Simple, _) => Conformity::Met,
        (Rule::Guarded, None) => Conformity::Inconclusive(Why::NoUncertainty),
        (Rule::Guarded, Some(uncertainty)) if margin.value >= uncertainty.expanded => Conformity::Met,
        (Rule::Guarded, Some(uncertainty)) if -&margin.value >= uncertainty.expanded => Conformity::NotMet,
        (Rule::Guarded, Some(_)) => Conformity::Inconclusive(Why::Straddles),
        (Rule::Probability, _) => not_yet(),
    }
}

/// The smallest distance to a limit; `None` if there is no limit.
fn margin(result: &Measured, limits: &Limits, ambient: Option<&Quantity>) -> Result<Option<Margin>, QuantityError> {
    let quantity = result.quantity();
    let mut nearest: Option<(Rational, &Quantity)> = None;
    for (limit, is_min) in
        limits.min.iter().map(|limit| (limit, true)).chain(limits.max.iter().map(|limit| (limit, false)))
    {
        let value = quantity.on_scale_of(limit, ambient)?;
        let distance = if is_min { value - &limit.value } else { &limit.value - value };
        if nearest.as_ref().is_none_or(|(least, _)| distance < *least) {
            nearest = Some((distance, limit));
        }
    }
    Ok(nearest.map(|(value, limit)| Margin {
        value,
        limit: limit.clone(),
        expanded: quantity.uncertainty.as_ref().map(|uncertainty| uncertainty.expanded.clone()),
        at_least: !matches!(result, Measured::Value(_)),
    }))
}
