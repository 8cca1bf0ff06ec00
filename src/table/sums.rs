//! Sums of cells and of their products, exactly.

use num_bigint::BigInt;

use super::cells::Decimal;
use crate::quantity::Rational;

/// Cells as whole numbers of one power of ten, so that adding them is adding whole numbers.
pub(super) struct Aligned {
    units: Units,
    power: i16,
}

enum Units {
    Small(Vec<i128>),
    Big(Vec<BigInt>),
}

/// Digits that all the aligned numbers of a column may have together, where they do not fit machine words.
const MAX_WORK: usize = 20_000_000;

impl Aligned {
    /// Aligns cells; none where they lie so far apart that it would take too long.
    pub fn new(cells: &[Decimal]) -> Option<Self> {
        let written = || cells.iter().filter(|cell| cell.digits != 0).map(|cell| cell.power);
        let power = written().min().unwrap_or(0);
        let shift = |cell: &Decimal| if cell.digits == 0 { Some(0) } else { cell.small_units_of(power) };
        if let Some(small) = cells.iter().map(shift).collect::<Option<Vec<i128>>>() {
            return Some(Self { units: Units::Small(small), power });
        }
        let most = written().max().unwrap_or(0);
        let digits = usize::try_from(i32::from(most) - i32::from(power)).ok()? + 18;
        if digits.checked_mul(cells.len())? > MAX_WORK {
            return None;
        }
        let big = cells.iter().map(|cell| if cell.digits == 0 { BigInt::ZERO } else { cell.units_of(power) });
        Some(Self { units: Units::Big(big.collect()), power })
    }

    /// The sum of all.
    pub fn sum(&self) -> Rational {
        let mut total = Total::default();
        match &self.units {
            Units::Small(units) => units.iter().for_each(|unit| total.add(*unit)),
            Units::Big(units) => units.iter().for_each(|unit| total.big += unit),
        }
        total.scaled(self.power)
    }

    /// The sum of products with another column, row by row.
    pub fn sum_of_products(&self, other: &Self) -> Rational {
        let mut total = Total::default();
        match (&self.units, &other.units) {
            (Units::Small(a), Units::Small(b)) => a.iter().zip(b).for_each(|(a, b)| total.add_product(*a, *b)),
            (Units::Small(a), Units::Big(b)) => a.iter().zip(b).for_each(|(a, b)| total.big += BigInt::from(*a) * b),
            (Units::Big(a), Units::Small(b)) => a.iter().zip(b).for_each(|(a, b)| total.big += a * BigInt::from(*b)),
            (Units::Big(a), Units::Big(b)) => a.iter().zip(b).for_each(|(a, b)| total.big += a * b),
        }
        total.scaled(self.power + other.power)
    }

    /// From each cell to the next: the sums, or the differences.
    pub fn neighbours(&self, difference: bool) -> Self {
        let units = match &self.units {
            // Aligned numbers have some digits to spare only below this; above, they become big.
            Units::Small(units) => {
                let each = units.windows(2).map(|pair| match pair {
                    [a, b] if difference => b.checked_sub(*a),
                    [a, b] => a.checked_add(*b),
                    _ => None,
                });
                match each.collect::<Option<Vec<i128>>>() {
                    Some(small) => Units::Small(small),
                    None => {
                        Units::Big(pairs(&units.iter().map(|unit| BigInt::from(*unit)).collect::<Vec<_>>(), difference))
                    }
                }
            }
            Units::Big(units) => Units::Big(pairs(units, difference)),
        };
        Self { units, power: self.power }
    }
}

fn pairs(units: &[BigInt], difference: bool) -> Vec<BigInt> {
    let each = units.windows(2).filter_map(|pair| match pair {
        [a, b] => Some(if difference { b - a } else { a + b }),
        _ => None,
    });
    each.collect()
}

/// A sum that goes over to a big number only when it must.
#[derive(Default)]
struct Total {
    small: i128,
    big: BigInt,
}

impl Total {
    fn add(&mut self, term: i128) {
        match self.small.checked_add(term) {
            Some(sum) => self.small = sum,
            None => {
                self.big += BigInt::from(self.small) + BigInt::from(term);
                self.small = 0;
            }
        }
    }

    fn add_product(&mut self, a: i128, b: i128) {
        match a.checked_mul(b) {
            Some(product) => self.add(product),
            None => self.big += BigInt::from(a) * BigInt::from(b),
        }
    }

    fn scaled(self, power: i16) -> Rational {
        let whole = self.big + BigInt::from(self.small);
        let size = BigInt::from(10u8).pow(u32::from(power.unsigned_abs()));
        if power >= 0 { Rational::from_integer(whole * size) } else { Rational::new(whole, size) }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn cell() -> impl Strategy<Value = Decimal> {
        let size = prop_oneof![-9i64..9, -999_999_999_999_999_999i64..999_999_999_999_999_999];
        (size, prop_oneof![-3i16..3, -40i16..40]).prop_map(|(digits, power)| Decimal { digits, power })
    }

    proptest! {
        /// Rational arithmetic, term by term, gives the same.
        #[test]
        fn agrees_with_rationals(pairs in prop::collection::vec((cell(), cell()), 1..20)) {
            let (a, b): (Vec<Decimal>, Vec<Decimal>) = pairs.into_iter().unzip();
            let (x, y) = (Aligned::new(&a).expect("few"), Aligned::new(&b).expect("few"));
            let total = |terms: &mut dyn Iterator<Item = Rational>| terms.fold(Rational::zero(), |sum, term| sum + term);
            prop_assert_eq!(x.sum(), total(&mut a.iter().map(|cell| cell.exact())));
            prop_assert_eq!(x.sum_of_products(&y), total(&mut a.iter().zip(&b).map(|(a, b)| a.exact() * b.exact())));
            let steps = x.neighbours(true).sum_of_products(&y.neighbours(false));
            let each = (1..a.len()).map(|i| (a[i].exact() - a[i - 1].exact()) * (b[i].exact() + b[i - 1].exact()));
            prop_assert_eq!(steps, total(&mut each.into_iter()));
        }
    }

    #[test]
    fn what_lies_too_far_apart() {
        let mut cells = vec![Decimal { digits: 1, power: 300 }; 100_000];
        cells.push(Decimal { digits: 1, power: -300 });
        assert!(Aligned::new(&cells).is_none());
    }
}
