//! Inputs that are correlated: a matrix taken apart so that independent draws can be mixed.

/// A correlation between two inputs, by their places.
pub type Correlation = (usize, usize, f64);

/// Why inputs cannot be drawn together.
#[derive(Clone, Debug, PartialEq)]
pub enum Uncorrelatable {
    /// There is no such input, or it is correlated with itself.
    Misplaced(usize),
    /// It is not between −1 and 1.
    OutOfRange(f64),
    /// Only normal distributions are drawn together: what else would be meant by a correlation is not known.
    NotNormal(usize),
    /// No variables can be correlated like this: the matrix is not positive semidefinite.
    Impossible,
}

/// How to mix independent normal draws so that they are correlated.
#[derive(Debug)]
pub(super) struct Mixing {
    /// The inputs that are correlated with any other, in their order.
    pub members: Vec<usize>,
    /// The lower triangle by rows, the diagonal last: each member is the sum of the draws before it and its own, so weighted.
    pub rows: Vec<Vec<f64>>,
}

impl Mixing {
    /// By Cholesky's decomposition of the matrix of correlations among the inputs that are correlated at all. `is_normal` by input.
    pub fn new(correlations: &[Correlation], is_normal: &[bool]) -> Result<Self, Uncorrelatable> {
        for (one, other, r) in correlations {
            if let Some(place) = [*one, *other].into_iter().find(|place| *place >= is_normal.len() || one == other) {
                return Err(Uncorrelatable::Misplaced(place));
            }
            if !(-1.0..=1.0).contains(r) {
                return Err(Uncorrelatable::OutOfRange(*r));
            }
        }
        let real = correlations.iter().filter(|(.., r)| *r != 0.0);
        let mut members: Vec<usize> = real.flat_map(|(one, other, _)| [*one, *other]).collect();
        members.sort_unstable();
        members.dedup();
        if let Some(place) = members.iter().find(|place| !is_normal[**place]) {
            return Err(Uncorrelatable::NotNormal(*place));
        }
        let between = |one: usize, other: usize| {
            let found = correlations.iter().rfind(|(i, j, _)| (*i, *j) == (one, other) || (*j, *i) == (one, other));
            found.map_or(0.0, |(.., r)| *r)
        };
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(members.len());
        for (at, member) in members.iter().enumerate() {
            let mut row: Vec<f64> = Vec::with_capacity(at + 1);
            for (before, other) in rows.iter().zip(&members) {
                let rest = between(*member, *other) - dot(&row, before);
                row.push(divide(rest, before.last().copied().unwrap_or(0.0))?);
            }
            let left = 1.0 - dot(&row, &row);
            // What rounding leaves of a full correlation is none.
            if left < -ROUNDING {
                return Err(Uncorrelatable::Impossible);
            }
            row.push(if left <= ROUNDING { 0.0 } else { libm::sqrt(left) });
            rows.push(row);
        }
        Ok(Self { members, rows })
    }

    /// Mixes the members' columns in place, from the last to the first, so that what is still needed is still there.
    pub fn apply(&self, columns: &mut [Vec<f64>]) {
        for (at, row) in self.rows.iter().enumerate().rev() {
            let Some((own, before)) = row.split_last() else { continue };
            let mut column = std::mem::take(&mut columns[self.members[at]]);
            column.iter_mut().for_each(|cell| *cell *= own);
            for (weight, member) in before.iter().zip(&self.members) {
                column.iter_mut().zip(&columns[*member]).for_each(|(cell, other)| *cell += weight * other);
            }
            columns[self.members[at]] = column;
        }
    }
}

/// How far rounding may leave a correlation of exactly 1, or a matrix on the edge of what is possible.
const ROUNDING: f64 = 1e-12;

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

/// What follows wholly from others leaves nothing to divide by, and must leave nothing to be divided.
fn divide(rest: f64, own: f64) -> Result<f64, Uncorrelatable> {
    match own == 0.0 {
        false => Ok(rest / own),
        true if rest.abs() <= libm::sqrt(ROUNDING) => Ok(0.0),
        true => Err(Uncorrelatable::Impossible),
    }
}
