//! Exact rational numbers of any size, fast while they are small.
//!
//! Nearly every number of a project has a numerator and a denominator of a few digits. Those are kept in machine words and
//! worked on without touching the heap; whatever does not fit goes over to big integers, and comes back when it fits again. There is one
//! form for each number, so equality is that of the parts.

use std::borrow::Cow;
use std::cmp::Ordering;
use std::ops::{Add, Div, Mul, MulAssign, Neg, Sub};

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive, Zero};

use super::divisor;

/// An exact rational number of any size.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Rational(Form);

/// Lowest terms, the denominator positive; `Big` only where a part does not fit (`i64::MIN` does not, so that signs can change).
#[derive(Clone, PartialEq, Eq, Hash)]
enum Form {
    Small(i64, i64),
    Big(Box<BigRational>),
}

impl Rational {
    /// The quotient of two whole numbers.
    ///
    /// # Panics
    /// If the denominator is zero.
    pub fn new(numerator: BigInt, denominator: BigInt) -> Self {
        assert!(!denominator.is_zero(), "a quotient by zero is asked for only after the divisor was looked at");
        let shared = divisor::common(&numerator, &denominator);
        let shared = if denominator.is_negative() { -shared } else { shared };
        Self::from_coprime(divided(&numerator, &shared), divided(&denominator, &shared))
    }

    /// A whole number.
    pub fn from_integer(whole: BigInt) -> Self {
        match small(&whole) {
            Some(whole) => Self(Form::Small(whole, 1)),
            None => Self(Form::Big(Box::new(BigRational::from_integer(whole)))),
        }
    }

    /// Zero.
    pub const fn zero() -> Self {
        Self(Form::Small(0, 1))
    }

    /// One.
    pub const fn one() -> Self {
        Self(Form::Small(1, 1))
    }

    /// How many bits the longer of numerator and denominator has.
    pub fn bits(&self) -> u64 {
        match &self.0 {
            Form::Small(n, d) => u64::from(64 - n.unsigned_abs().max(d.unsigned_abs()).leading_zeros()),
            Form::Big(big) => big.numer().bits().max(big.denom().bits()),
        }
    }

    /// The root of this degree where it is rational; that of an odd degree has the sign of the number.
    pub fn exact_root(&self, degree: u32) -> Option<Self> {
        if degree == 0 || (self.is_negative() && degree.is_multiple_of(2)) {
            return None;
        }
        let (n, d) = (self.numer(), self.denom());
        let (n_root, d_root) = (n.nth_root(degree), d.nth_root(degree));
        // The roots of parts in lowest terms are so too.
        (n_root.pow(degree) == n && d_root.pow(degree) == d).then(|| Self::from_coprime(n_root, d_root))
    }

    /// A numerator and a denominator that is not zero, both in machine words.
    pub(super) fn from_words(numerator: i64, denominator: u64) -> Self {
        Self::reduced(i128::from(numerator), u128::from(denominator))
    }

    /// Numerator and denominator, where both fit machine words.
    pub(super) fn words(&self) -> Option<(i64, u64)> {
        match &self.0 {
            Form::Small(n, d) => Some((*n, d.unsigned_abs())),
            Form::Big(_) => None,
        }
    }

    /// The numerator in lowest terms; it has the sign.
    pub fn numer(&self) -> BigInt {
        match &self.0 {
            Form::Small(n, _) => BigInt::from(*n),
            Form::Big(big) => big.numer().clone(),
        }
    }

    /// The denominator in lowest terms; it is positive.
    pub fn denom(&self) -> BigInt {
        match &self.0 {
            Form::Small(_, d) => BigInt::from(*d),
            Form::Big(big) => big.denom().clone(),
        }
    }

    /// Whether it is zero.
    pub fn is_zero(&self) -> bool {
        matches!(self.0, Form::Small(0, _))
    }

    /// Whether it is one.
    pub fn is_one(&self) -> bool {
        matches!(self.0, Form::Small(1, 1))
    }

    /// Whether it is below zero.
    pub fn is_negative(&self) -> bool {
        match &self.0 {
            Form::Small(n, _) => *n < 0,
            Form::Big(big) => big.is_negative(),
        }
    }

    /// Whether it is above zero.
    pub fn is_positive(&self) -> bool {
        !self.is_negative() && !self.is_zero()
    }

    /// Without its sign.
    pub fn abs(&self) -> Self {
        if self.is_negative() { -self } else { self.clone() }
    }

    /// One over it.
    ///
    /// # Panics
    /// If it is zero.
    pub fn recip(&self) -> Self {
        Self::one() / self
    }

    /// A whole power.
    ///
    /// # Panics
    /// If it is zero and the exponent negative.
    pub fn pow(&self, exponent: i32) -> Self {
        Self::from_big(self.to_big().pow(exponent))
    }

    /// The square root: exact where it is rational, else cut behind twenty digits or more. Zero of what is negative.
    pub fn square_root(&self) -> Self {
        if !self.is_positive() {
            return Self::zero();
        }
        // The root of n/d is that of n·d, divided by d.
        let scale = BigInt::from(10u8).pow(20);
        let (product, denominator) = (self.numer() * self.denom(), self.denom());
        let exact = product.sqrt();
        match &exact * &exact == product {
            true => Self::new(exact, denominator),
            false => Self::new((product * &scale * &scale).sqrt(), denominator * scale),
        }
    }

    /// The whole number next to it towards zero.
    pub fn to_integer(&self) -> BigInt {
        match &self.0 {
            Form::Small(n, d) => BigInt::from(n / d),
            Form::Big(big) => big.to_integer(),
        }
    }

    /// The largest whole number that is not above it.
    pub fn floor(&self) -> BigInt {
        match &self.0 {
            Form::Small(n, d) => BigInt::from(n.div_floor(d)),
            Form::Big(big) => big.floor().to_integer(),
        }
    }

    /// The exact value of a double; none of what is not finite.
    pub fn from_f64(value: f64) -> Option<Self> {
        BigRational::from_float(value).map(Self::from_big)
    }

    /// The nearest double; none beyond its range.
    pub fn to_f64(&self) -> Option<f64> {
        // Whole numbers up to here are exact doubles, so that the quotient is rounded once.
        const EXACT: u64 = 1 << f64::MANTISSA_DIGITS;
        match &self.0 {
            Form::Small(n, d) if n.unsigned_abs() <= EXACT && d.unsigned_abs() <= EXACT => Some(*n as f64 / *d as f64),
            _ => self.to_big().to_f64(),
        }
    }

    fn to_big(&self) -> BigRational {
        match &self.0 {
            Form::Small(n, d) => BigRational::new_raw(BigInt::from(*n), BigInt::from(*d)),
            Form::Big(big) => (**big).clone(),
        }
    }

    fn from_big(big: BigRational) -> Self {
        match (small(big.numer()), small(big.denom())) {
            (Some(n), Some(d)) => Self(Form::Small(n, d)),
            _ => Self(Form::Big(Box::new(big))),
        }
    }

    /// From big parts in lowest terms, the denominator positive.
    fn from_coprime(n: BigInt, d: BigInt) -> Self {
        Self::from_big(BigRational::new_raw(n, d))
    }

    /// Numerator and denominator.
    fn parts(&self) -> (Cow<'_, BigInt>, Cow<'_, BigInt>) {
        match &self.0 {
            Form::Small(n, d) => (Cow::Owned(BigInt::from(*n)), Cow::Owned(BigInt::from(*d))),
            Form::Big(big) => (Cow::Borrowed(big.numer()), Cow::Borrowed(big.denom())),
        }
    }

    /// The sum of two numbers of any size; only what both denominators share is looked for in the sum of the crosswise products
    /// (Knuth, The Art of Computer Programming, volume 2, 4.5.1).
    fn big_sum(&self, other: &Self) -> Self {
        let ((a, b), (c, d)) = (self.parts(), other.parts());
        let shared = divisor::common(&b, &d);
        if shared.is_one() {
            return Self::from_coprime(&*a * &*d + &*c * &*b, &*b * &*d);
        }
        let (b, rest) = (&*b / &shared, &*d / &shared);
        let sum = &*a * rest + &*c * &b;
        let left = divisor::common(&sum, &shared);
        Self::from_coprime(divided(&sum, &left), b * divided(&d, &left))
    }

    /// The product of two numbers of any size, crosswise first as that of small ones.
    fn big_product(&self, other: &Self) -> Self {
        let ((a, b), (c, d)) = (self.parts(), other.parts());
        let (left, right) = (divisor::common(&a, &d), divisor::common(&c, &b));
        let n = divided(&a, &left) * divided(&c, &right);
        Self::from_coprime(n, divided(&b, &right) * divided(&d, &left))
    }

    /// One over a big number.
    fn turned(big: &BigRational) -> Self {
        let (n, d) = (big.numer(), big.denom());
        if n.is_negative() { Self::from_coprime(-d, -n) } else { Self::from_coprime(d.clone(), n.clone()) }
    }

    /// Brings a quotient to lowest terms; the denominator is not zero.
    fn reduced(n: i128, d: u128) -> Self {
        let size = n.unsigned_abs();
        let divisor = match (u64::try_from(size), u64::try_from(d)) {
            (Ok(size), Ok(d)) => u128::from(size.gcd(&d)),
            _ => size.gcd(&d),
        };
        Self::coprime(n < 0, size / divisor, d / divisor)
    }

    /// From parts in lowest terms.
    fn coprime(negative: bool, n: u128, d: u128) -> Self {
        match (i64::try_from(n), i64::try_from(d)) {
            (Ok(n), Ok(d)) => Self(Form::Small(if negative { -n } else { n }, d)),
            _ => {
                let n = BigInt::from(n);
                let big = BigRational::new_raw(if negative { -n } else { n }, BigInt::from(d));
                Self(Form::Big(Box::new(big)))
            }
        }
    }

    fn sum(&self, other: &Self) -> Self {
        match (&self.0, &other.0) {
            (Form::Small(a, 1), Form::Small(b, 1)) => Self::reduced(i128::from(*a) + i128::from(*b), 1),
            (Form::Small(a, b), Form::Small(c, d)) => {
                // Each product is below 2^126, so that their sum fits.
                let n = i128::from(*a) * i128::from(*d) + i128::from(*c) * i128::from(*b);
                Self::reduced(n, u128::from(b.unsigned_abs()) * u128::from(d.unsigned_abs()))
            }
            _ => self.big_sum(other),
        }
    }

    fn product(&self, other: &Self) -> Self {
        match (&self.0, &other.0) {
            (Form::Small(a, b), Form::Small(c, d)) => {
                let negative = (*a < 0) != (*c < 0);
                let (a, b, c, d) = (a.unsigned_abs(), b.unsigned_abs(), c.unsigned_abs(), d.unsigned_abs());
                // Crosswise first: what remains has no divisor in common.
                let (left, right) = (a.gcd(&d), c.gcd(&b));
                let n = u128::from(a / left) * u128::from(c / right);
                Self::coprime(negative, n, u128::from(b / right) * u128::from(d / left))
            }
            _ => self.big_product(other),
        }
    }

    fn quotient(&self, other: &Self) -> Self {
        match &other.0 {
            Form::Small(0, _) => panic!("a quotient by zero is asked for only after the divisor was looked at"),
            Form::Small(n, d) => self.product(&Self(Form::Small(if *n < 0 { -d } else { *d }, n.abs()))),
            Form::Big(big) => self.product(&Self::turned(big)),
        }
    }
}

/// A quotient without a remainder; nearly always by one.
fn divided(whole: &BigInt, divisor: &BigInt) -> BigInt {
    if divisor.is_one() { whole.clone() } else { whole / divisor }
}

/// A whole number in a machine word, if it fits and its opposite does.
fn small(whole: &BigInt) -> Option<i64> {
    whole.to_i64().filter(|whole| *whole != i64::MIN)
}

impl Ord for Rational {
    fn cmp(&self, other: &Self) -> Ordering {
        match (&self.0, &other.0) {
            (Form::Small(a, b), Form::Small(c, d)) => {
                (i128::from(*a) * i128::from(*d)).cmp(&(i128::from(*c) * i128::from(*b)))
            }
            _ => {
                let ((a, b), (c, d)) = (self.parts(), other.parts());
                (&*a * &*d).cmp(&(&*c * &*b))
            }
        }
    }
}

impl PartialOrd for Rational {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl std::fmt::Display for Rational {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.to_big().fmt(f)
    }
}

impl std::fmt::Debug for Rational {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{self}")
    }
}

impl Neg for &Rational {
    type Output = Rational;
    fn neg(self) -> Rational {
        match &self.0 {
            Form::Small(n, d) => Rational(Form::Small(-n, *d)),
            Form::Big(big) => Rational(Form::Big(Box::new(-&**big))),
        }
    }
}

impl Neg for Rational {
    type Output = Rational;
    fn neg(self) -> Rational {
        -&self
    }
}

/// The same operation for owned and borrowed operands.
macro_rules! operator {
    ($trait:ident, $method:ident, |$a:ident, $b:ident| $work:expr) => {
        impl $trait<&Rational> for &Rational {
            type Output = Rational;
            fn $method(self, other: &Rational) -> Rational {
                let ($a, $b) = (self, other);
                $work
            }
        }
        impl $trait<Rational> for &Rational {
            type Output = Rational;
            fn $method(self, other: Rational) -> Rational {
                self.$method(&other)
            }
        }
        impl $trait<&Rational> for Rational {
            type Output = Rational;
            fn $method(self, other: &Rational) -> Rational {
                (&self).$method(other)
            }
        }
        impl $trait<Rational> for Rational {
            type Output = Rational;
            fn $method(self, other: Rational) -> Rational {
                (&self).$method(&other)
            }
        }
    };
}

operator!(Add, add, |a, b| a.sum(b));
operator!(Sub, sub, |a, b| a.sum(&-b));
operator!(Mul, mul, |a, b| a.product(b));
operator!(Div, div, |a, b| a.quotient(b));

impl MulAssign<&Rational> for Rational {
    fn mul_assign(&mut self, other: &Rational) {
        *self = self.product(other);
    }
}

impl MulAssign<Rational> for Rational {
    fn mul_assign(&mut self, other: Rational) {
        *self = self.product(&other);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Numbers near every border: small, at the edge of a word, beyond it.
    fn part() -> impl Strategy<Value = BigInt> {
        prop_oneof![
            (-50i64..50).prop_map(BigInt::from),
            any::<i64>().prop_map(BigInt::from),
            prop_oneof![Just(i64::MAX), Just(i64::MIN), Just(i64::MIN + 1), Just(1), Just(-1)].prop_map(BigInt::from),
            any::<i128>().prop_map(BigInt::from),
            // Long ones, with divisors in common.
            (any::<i128>(), 0u32..40, 0u32..60).prop_map(|(n, two, five)| {
                BigInt::from(n)
                    * BigInt::from(10u8).pow(two)
                    * BigInt::from(25u8).pow(five)
                    * BigInt::from(21u8).pow(two)
            }),
        ]
    }

    fn pair() -> impl Strategy<Value = (Rational, BigRational)> {
        (part(), part().prop_filter("a denominator", |d| !d.is_zero()))
            .prop_map(|(n, d)| (Rational::new(n.clone(), d.clone()), BigRational::new(n, d)))
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// The library's big rationals work everything out a second time.
        #[test]
        fn agrees_with_big_rationals((a, big_a) in pair(), (b, big_b) in pair()) {
            let same = |mine: Rational, big: BigRational| mine == Rational::from_big(big.clone()) && mine.to_big() == big;
            prop_assert!(same(&a + &b, &big_a + &big_b));
            prop_assert!(same(&a - &b, &big_a - &big_b));
            prop_assert!(same(&a * &b, &big_a * &big_b));
            if !b.is_zero() {
                prop_assert!(same(&a / &b, &big_a / &big_b));
            }
            prop_assert!(same(-&a, -&big_a));
            prop_assert!(same(a.abs(), big_a.abs()));
            prop_assert_eq!(a.cmp(&b), big_a.cmp(&big_b));
            prop_assert_eq!(a == b, big_a == big_b);
            prop_assert_eq!(a.to_integer(), big_a.to_integer());
            prop_assert_eq!(a.floor(), big_a.floor().to_integer());
            prop_assert_eq!((a.numer(), a.denom()), (big_a.numer().clone(), big_a.denom().clone()));
            prop_assert_eq!((a.is_negative(), a.is_positive(), a.is_zero()), (big_a.is_negative(), big_a.is_positive(), big_a.is_zero()));
        }

        #[test]
        fn powers_agree(n in -99i64..99, d in 1i64..99, exponent in -9i32..9) {
            prop_assume!(n != 0);
            let big = BigRational::new(n.into(), d.into());
            prop_assert_eq!(Rational::new(n.into(), d.into()).pow(exponent).to_big(), big.pow(exponent));
        }

        /// What fits machine words is always in them, whichever way it came about.
        #[test]
        fn comes_back_to_small((a, _) in pair(), (b, _) in pair()) {
            let back = &(&a * &b) + &(&a - &(&a * &b));
            prop_assert_eq!(&back, &a);
            prop_assert_eq!(matches!(back.0, Form::Small(..)), matches!(a.0, Form::Small(..)));
        }
    }

    #[test]
    fn the_nearest_double() {
        assert_eq!(Rational::new(1.into(), 10.into()).to_f64(), Some(0.1));
        assert_eq!(Rational::new((-2).into(), 3.into()).to_f64(), Some(-2.0 / 3.0));
    }
}
