//! At what value of an input a criterion is just met.

use crate::calc::Worked;
use crate::quantity::{Quantity, Rational};

/// How many halvings narrow a crossing down; doubles hold no more.
const HALVINGS: usize = 200;
/// How many doublings of the step are tried in each direction before it is said that there is no crossing.
const DOUBLINGS: usize = 60;

/// Where a criterion stops, or begins, to be met as one source changes.
#[derive(Clone, Debug)]
pub struct Crossing {
    /// The value of the source there.
    pub at: Quantity,
    /// Whether it is met below that value, and not above.
    pub met_below: bool,
}

/// The nearest value on each side of the present one, of the source with this key, at which `met` changes; `met` says whether a value of
/// the result meets the criterion, none if that cannot be told.
pub fn crossings(worked: &Worked, key: &str, met: impl Fn(&Quantity) -> Option<bool>) -> Vec<Crossing> {
    let sources = worked.sources();
    let Some(source) = sources.iter().find(|source| source.key == key) else { return Vec::new() };
    let now = source.quantity.si_f64();
    let with = |value: f64| {
        let quantity = Quantity { value: Rational::from_f64(value)?, ..source.quantity.clone() };
        worked.with(key, &quantity).ok().and_then(|worked| met(&worked.quantity))
    };
    let own = source.quantity.uncertainty.as_ref().and_then(|own| own.standard.to_f64()).unwrap_or(0.0);
    let step = [own, now.abs() * 1e-3].into_iter().fold(0.0, f64::max);
    let step = if step > 0.0 { step } else { source.quantity.unit.factor.to_f64().unwrap_or(1.0) * 1e-3 };
    let Some(here) = with(now) else { return Vec::new() };
    let sides = [-1.0, 1.0].into_iter().filter_map(|side| {
        let (inner, outer) = bracket(&with, now, side * step, here)?;
        let at = narrowed(&with, inner, outer, here);
        let mut quantity = Quantity::computed(Rational::from_f64(at)?, source.quantity.unit.clone(), false);
        quantity.approximate = true;
        Some(Crossing { at: quantity, met_below: here == (side > 0.0) })
    });
    sides.collect()
}

/// Two values between which it changes, searched for in steps that double.
fn bracket(with: &impl Fn(f64) -> Option<bool>, from: f64, step: f64, met: bool) -> Option<(f64, f64)> {
    let (mut inner, mut step) = (from, step);
    for _ in 0..DOUBLINGS {
        let outer = inner + step;
        // Where it cannot be worked out any more there is nothing beyond.
        if with(outer)? != met {
            return Some((inner, outer));
        }
        inner = outer;
        step *= 2.0;
    }
    None
}

fn narrowed(with: &impl Fn(f64) -> Option<bool>, mut inner: f64, mut outer: f64, met: bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = inner + (outer - inner) / 2.0;
        if middle == inner || middle == outer {
            break;
        }
        match with(middle) {
            Some(own) if own == met => inner = middle,
            _ => outer = middle,
        }
    }
    inner
}
