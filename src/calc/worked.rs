//! A value that was worked out, on its tape.

use std::sync::{Arc, OnceLock};

use super::budget::Combined;
use super::columns::Plan;
use super::derive::{Sensitivity, Sweep};
use super::evaluate::{Values, evaluate};
use super::tape::{Slot, Tape};
use super::{Budget, CalcError, Correlations, Source, curvature};
use crate::quantity::{Kind, Quantity, Rational, Shape, Uncertainty, Unit, rules};

/// A value that was worked out, with all that it rests on.
#[derive(Clone, Debug)]
pub struct Worked {
    /// The value, with its uncertainty where any source has one.
    pub quantity: Quantity,
    pub(super) tape: Arc<Tape>,
    pub(super) root: Slot,
    values: Arc<Values>,
    correlations: Arc<Correlations>,
    plan: OnceLock<Arc<Plan>>,
}

/// The unit in which a result is shown, and whether it rests on exact units only.
#[derive(Clone, Debug)]
pub(super) struct Form {
    pub unit: Arc<Unit>,
    pub exact: bool,
}

impl Worked {
    /// Puts a value together with its uncertainty.
    pub(super) fn new(
        tape: &Arc<Tape>,
        values: &Arc<Values>,
        root: Slot,
        form: &Form,
        correlations: &Arc<Correlations>,
        sweep: &mut Sweep,
    ) -> Result<Self, CalcError> {
        let number = values.number(root)?;
        let value = number.exact.clone().or_else(|| Rational::from_f64(number.double));
        let value = value.ok_or_else(|| beyond(tape, root))?;
        let mut quantity = Quantity::computed(value, Arc::clone(&form.unit), form.exact);
        quantity.approximate = number.exact.is_none();
        if values.moves(root, false) {
            let found = sweep.sensitivities(tape, values, root, false).ok_or_else(|| large(tape, root))?;
            let combined = Combined::of(tape, &found, correlations);
            let straight = values.is_straight(root);
            let (uncertainty, exact) = uncertainty(&combined, straight).ok_or_else(|| steep(tape, root))?;
            quantity.uncertainty = Some(uncertainty);
            quantity.approximate |= !exact;
        }
        Ok(Self {
            quantity,
            tape: Arc::clone(tape),
            root,
            values: Arc::clone(values),
            correlations: Arc::clone(correlations),
            plan: OnceLock::new(),
        })
    }

    fn reached(&self) -> Vec<Slot> {
        self.tape.reach(self.root)
    }

    /// Those of one result never cost too much.
    fn sensitivities(&self, all: bool) -> Vec<Sensitivity> {
        Sweep::new().sensitivities(&self.tape, &self.values, self.root, all).unwrap_or_default()
    }

    fn plan(&self) -> &Arc<Plan> {
        self.plan.get_or_init(|| Arc::new(Plan::new(&self.tape, &self.values, &self.reached())))
    }

    /// The sources that it rests on, in the order of the columns of [`Worked::columns`].
    pub fn sources(&self) -> Vec<Arc<Source>> {
        self.plan().sources.iter().map(|at| Arc::clone(&self.tape.sources[*at])).collect()
    }

    /// By how much it changes for a change of each of its sources by one SI unit, in the order of [`Worked::sources`].
    pub fn slopes(&self) -> Vec<f64> {
        let found = self.sensitivities(true);
        let slope = |source: &usize| found.iter().find(|own| own.source == *source).map_or(0.0, |own| own.double);
        self.plan().sources.iter().map(slope).collect()
    }

    /// Where its uncertainty comes from.
    pub fn budget(&self) -> Budget {
        Combined::of(&self.tape, &self.sensitivities(false), &self.correlations).budget()
    }

    /// The correlation coefficients that hold between its sources, in the order of [`Worked::sources`], what was assumed of shared
    /// instruments included.
    pub fn matrix(&self) -> Vec<Vec<f64>> {
        let found = self.sensitivities(false);
        let combined = Combined::of(&self.tape, &found, &self.correlations);
        let (coefficients, sources) = (combined.coefficients(), self.sources());
        let between = |a: &Source, b: &Source| match a.key == b.key {
            true => 1.0,
            false => coefficients.get(&(a.key.as_str(), b.key.as_str())).copied().unwrap_or(0.0),
        };
        sources.iter().map(|a| sources.iter().map(|b| between(a, b)).collect()).collect()
    }

    /// Works it out for many values of its sources at once: one column of SI values for each source, as long as `out`. What cannot be
    /// worked out is not finite.
    pub fn columns(&self, columns: &[&[f64]], out: &mut [f64]) {
        self.plan().run(&self.tape, columns, out);
    }

    /// Works it out anew with another value for the source that has the key. An uncertainty that is not stated stays as it was.
    ///
    /// # Errors
    /// No such source, another sort of quantity, or whatever cannot be worked out with it.
    pub fn with(&self, key: &str, quantity: &Quantity) -> Result<Self, Vec<CalcError>> {
        let plan = self.plan();
        let place = plan.sources.iter().copied().find(|at| self.tape.sources[*at].key == key);
        let Some(place) = place else {
            let names: Vec<&str> = plan.sources.iter().map(|at| self.tape.sources[*at].key.as_str()).collect();
            let message = format!("this result does not rest on `{key}`");
            return Err(vec![CalcError::new(0..0, message, format!("it rests on {}", names.join(", ")))]);
        };
        let mut tape = (*self.tape).clone();
        let source = Arc::make_mut(&mut tape.sources[place]);
        let (new, old) = (|| quantity.show(), || source.quantity.show());
        match rules::scales((&quantity.unit, &new), (&source.quantity.unit, &old)) {
            Ok(rules::Scales::Same) => {}
            Ok(_) => {
                let message =
                    format!("`{}` and `{}` are measured from different zeros", quantity.show(), source.quantity.show());
                return Err(vec![CalcError::new(0..0, message, "write it as the input is written")]);
            }
            Err(error) => return Err(vec![CalcError::of_quantity(error, 0)]),
        }
        let kept = source.quantity.uncertainty.take();
        source.quantity = quantity.clone();
        source.quantity.uncertainty = quantity.uncertainty.clone().or(kept);
        let tape = Arc::new(tape);
        let values = Arc::new(evaluate(&tape, Some(&self.reached())));
        let form = Form { unit: Arc::clone(&self.quantity.unit), exact: self.quantity.exact && quantity.exact };
        Self::new(&tape, &values, self.root, &form, &self.correlations, &mut Sweep::new()).map_err(|error| vec![error])
    }

    /// How far it departs from its straight-line form over two standard uncertainties of every source: the root mean square of the departure
    /// over fixed joint draws, or along one axis if that is more, in standard uncertainties of the result. Infinite where only the curvature
    /// moves it, or where somewhere there it cannot be worked out.
    pub fn curvature(&self) -> f64 {
        let blur = self.values.number(self.root).map_or(0.0, |number| number.blur);
        curvature::of(self, blur)
    }

    /// Its value in doubles.
    pub(super) fn double(&self) -> f64 {
        self.values.double(self.root)
    }
}

fn beyond(tape: &Tape, root: Slot) -> CalcError {
    CalcError::new(tape.entries[root].range.clone(), "this is beyond the largest number", "check the exponents")
}

fn large(tape: &Tape, root: Slot) -> CalcError {
    let range = tape.entries[root].range.clone();
    CalcError::new(
        range,
        "this calculation is too large to carry uncertainties through all of it",
        "divide it into several records",
    )
}

fn steep(tape: &Tape, root: Slot) -> CalcError {
    CalcError::new(
        tape.entries[root].range.clone(),
        "an uncertainty cannot be carried through this: here it is infinitely steep",
        "move away from the point, such as the zero of a square root, or leave the uncertainty out and bound it by hand",
    )
}

/// The uncertainty of a result and whether its digits are exact; none if it is infinite.
fn uncertainty(combined: &Combined<'_>, straight: bool) -> Option<(Uncertainty, bool)> {
    let (standard, mut exact) = match combined.exact_standard() {
        Some(known) => known,
        None => (Rational::from_f64(combined.standard())?, false),
    };
    // What is only scaled keeps its spread.
    if let Some(only) = combined.only()
        && only.shape != Shape::Normal
        && straight
    {
        let factor = &only.expanded / &only.standard;
        return Some((Uncertainty { expanded: &standard * factor, standard, shape: only.shape, freedom: None }, exact));
    }
    let freedom = combined.freedom().and_then(Rational::from_f64);
    let uncertainty = match freedom {
        Some(freedom) => {
            exact = false;
            Uncertainty::with_freedom(standard, freedom)
        }
        None => Uncertainty::from_standard(standard),
    };
    Some((uncertainty, exact))
}

/// Whether a unit measures from a zero of its own, so that scaling it means nothing.
pub(super) fn is_gauge(unit: &Unit) -> bool {
    unit.kind == Kind::GaugePressure
}
