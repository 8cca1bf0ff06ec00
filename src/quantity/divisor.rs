//! The greatest common divisor of whole numbers of any size.
//!
//! The library's takes one bit at a time, so that numbers of a thousand bits cost a thousand passes over them, even beside a one. Here a
//! small number costs one division, and of two long ones each pass takes some thirty bits: Lehmer's algorithm (Knuth, The Art of Computer
//! Programming, volume 2, 4.5.2, algorithm L).

use num_bigint::BigInt;
use num_integer::Integer;
use num_traits::{One, Signed, ToPrimitive};

/// The greatest common divisor, which is not negative; that of a number and zero is the number.
pub(super) fn common(a: &BigInt, b: &BigInt) -> BigInt {
    if a.magnitude().is_one() || b.magnitude().is_one() {
        return BigInt::one();
    }
    let (a, b) = (a.abs(), b.abs());
    let (mut a, mut b) = if a >= b { (a, b) } else { (b, a) };
    loop {
        if let Some(small) = b.to_u64() {
            return match small {
                0 => a,
                _ => small.gcd(&(&a % small).to_u64().unwrap_or(0)).into(),
            };
        }
        (a, b) = match leading(&a, &b) {
            Some(((p, q), (r, s))) => (&a * p + &b * q, &a * r + &b * s),
            None => {
                let rest = &a % &b;
                (b, rest)
            }
        };
    }
}

/// As many leading bits are looked at; the cofactors stay below as many.
const LEADING: u64 = 60;

/// What the steps of Euclid's algorithm that the leading bits decide come to: the multiples of both numbers that the next two are. None if they
/// decide not one.
fn leading(a: &BigInt, b: &BigInt) -> Option<((i64, i64), (i64, i64))> {
    let shift = a.bits() - LEADING;
    let (mut x, mut y) = ((a >> shift).to_i64()?, (b >> shift).to_i64()?);
    let (mut p, mut q, mut r, mut s) = (1i64, 0i64, 0i64, 1i64);
    while y + r != 0 && y + s != 0 {
        let quotient = (x + p) / (y + r);
        if quotient != (x + q) / (y + s) {
            break;
        }
        (p, r) = (r, p - quotient * r);
        (q, s) = (s, q - quotient * s);
        (x, y) = (y, x - quotient * y);
    }
    (q != 0).then_some(((p, q), (r, s)))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// A number of up to so many words.
    fn whole(words: usize) -> impl Strategy<Value = BigInt> {
        (any::<bool>(), prop::collection::vec(any::<u32>(), 0..words)).prop_map(|(negative, words)| {
            BigInt::from_slice(if negative { num_bigint::Sign::Minus } else { num_bigint::Sign::Plus }, &words)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// The library works it out a second time, of numbers that share a divisor and of any two.
        #[test]
        fn agrees_with_the_library(a in whole(40), b in whole(40), shared in whole(20)) {
            prop_assert_eq!(common(&a, &b), a.gcd(&b));
            let (a, b) = (a * &shared, b * &shared);
            prop_assert_eq!(common(&a, &b), a.gcd(&b));
        }
    }

    /// The worst that there is: every quotient is one.
    #[test]
    fn numbers_of_fibonacci() {
        let (mut a, mut b) = (BigInt::one(), BigInt::one());
        for _ in 0..1500 {
            (a, b) = (&a + &b, a);
            assert!(common(&a, &b).is_one());
            assert!(common(&(&a * 12), &(&b * 18)) == a.gcd(&BigInt::from(3)) * b.gcd(&BigInt::from(2)) * 6);
        }
    }

    /// Each pass takes many bits: two numbers of a thousand bits need some forty, where a bit at a time needs more than a thousand.
    #[test]
    fn a_pass_takes_many_bits() {
        let (a, b) = (BigInt::from(3).pow(650), BigInt::from(5).pow(440));
        let (mut a, mut b, mut passes) = (a, b, 0);
        while b.bits() > 64 {
            passes += 1;
            (a, b) = match leading(&a, &b) {
                Some(((p, q), (r, s))) => (&a * p + &b * q, &a * r + &b * s),
                None => (b.clone(), a % b),
            };
        }
        assert!((20..60).contains(&passes), "{passes}");
    }
}
