//! A value that was worked out, on its tape.

use std::sync::Arc;

use super::{Budget, CalcError, Source};
use crate::quantity::Quantity;

/// A value that was worked out, with all that it rests on.
#[derive(Clone, Debug)]
pub struct Worked {
    /// The value, with its uncertainty where any source has one.
    pub quantity: Quantity,
}

impl Worked {
    /// The sources that it rests on, in the order of the columns of [`Worked::columns`].
    pub fn sources(&self) -> Vec<Arc<Source>> {
        todo!()
    }

    /// Where its uncertainty comes from.
    pub fn budget(&self) -> Budget {
        todo!()
    }

    /// The correlation coefficients that hold between its sources, what was assumed of shared instruments included.
    pub fn matrix(&self) -> Vec<Vec<f64>> {
        todo!()
    }

    /// Works it out for many values of its sources at once: one column of SI values for each source, as long as `out`. What cannot be
    /// worked out is not a number.
    pub fn columns(&self, _columns: &[&[f64]], _out: &mut [f64]) {
        todo!()
    }

    /// Works it out anew with another value for the source that has the key.
    ///
    /// # Errors
    /// No such source, another sort of quantity, or whatever cannot be worked out with it.
    pub fn with(&self, _key: &str, _quantity: &Quantity) -> Result<Self, Vec<CalcError>> {
        todo!()
    }

    /// How far it departs from its straight-line form over two standard uncertainties of every source: the root mean square of the departure
    /// over fixed joint draws and over the axes, in standard uncertainties of the result. Infinite where only the curvature moves it.
    pub fn curvature(&self) -> f64 {
        todo!()
    }
}
