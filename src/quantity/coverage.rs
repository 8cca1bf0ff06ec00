//! How an uncertainty was stated: what stands in the bracket behind it, and the standard uncertainty that follows
//! (JCGM 100:2008, 4.3 and G.3).
//!
//! | bracket | the half width is |
//! |---|---|
//! | none | of a `±` 2u, of an interval as `(rectangular)` |
//! | `(k=2.5)` | k·u |
//! | `(k=2.26, nu=9)` | k·u, where u has 9 degrees of freedom; also `ν` and `dof` |
//! | `(95 %)` | of the interval that holds 95 % of a normal distribution |
//! | `(95 %, nu=9)` | the same of Student's t distribution |
//! | `(rectangular)` | the bound of equally possible values: u = a/√3; also `uniform` |
//! | `(triangular)` | the bound of values of which the middle ones are more possible: u = a/√6 |
//! | `(u-shaped)` | the amplitude of what swings: u = a/√2; also `arcsine` |
//! | `(resolution 0.01 mm)` | none is written: half a step of a display, rectangular (JCGM 100:2008, F.2.2.1) |
//! | `(nu=9)` | behind a standard uncertainty, `1.320(15)`: that u has 9 degrees of freedom |

use std::ops::Range;

use super::number::{self, scan};
use super::{QuantityError, Rational, Shape, Uncertainty};
use crate::statistics::student_t_quantile;

/// The share of a normal distribution within two standard deviations, to the digits that are customary (JCGM 100:2008, G.3.2 and table
/// G.2): an uncertainty with degrees of freedom is expanded to it, since one without them is expanded by two.
const SHARE: (i64, u64) = (9545, 10_000);

impl Uncertainty {
    /// An uncertainty from its standard form and degrees of freedom, expanded by Student's t for 95.45 %. Fewer than one count as one
    /// there: what is worked out may come to less, and the factor soon has no end.
    pub fn with_freedom(standard: Rational, freedom: Rational) -> Self {
        let expanded = &standard * level_factor(&Rational::from_words(SHARE.0, SHARE.1), Some(&freedom));
        Self { expanded, standard, shape: Shape::Normal, freedom: Some(freedom) }
    }

    /// An uncertainty of values spread in this way, the bounds so far from the middle; a normal one reaches to 2u.
    pub fn within(half_width: &Rational, shape: Shape) -> Self {
        Self { shape, ..Self::from_standard(half_width / shape.half_width()) }
    }
}

impl Shape {
    /// The distance of the bounds from the middle in standard uncertainties: √3, √6, √2, to twenty digits; of a normal distribution 2,
    /// the customary one.
    pub fn half_width(self) -> Rational {
        let square = match self {
            Self::Normal => return Rational::from_words(2, 1),
            Self::Rectangular => 3,
            Self::Triangular => 6,
            Self::UShaped => 2,
        };
        Rational::from_words(square, 1).square_root()
    }

    /// The word in a bracket and in canonical text; empty for a normal distribution.
    pub fn word(self) -> &'static str {
        match self {
            Self::Normal => "",
            Self::Rectangular => "rectangular",
            Self::Triangular => "triangular",
            Self::UShaped => "u-shaped",
        }
    }
}

/// More degrees of freedom than these are written as infinitely many.
const MOST_FREEDOM: i64 = 1_000_000_000;

/// The half width, in standard uncertainties, of the interval that holds this share of a normal distribution, or of Student's t with
/// so many degrees of freedom; fewer than one count as one. To fifteen digits.
fn level_factor(share: &Rational, freedom: Option<&Rational>) -> Rational {
    let tail = (Rational::one() - share) / Rational::from_words(2, 1);
    let freedom = freedom.and_then(Rational::to_f64).unwrap_or(f64::INFINITY).max(1.0);
    let factor = -student_t_quantile(tail.to_f64().unwrap_or(f64::NAN), freedom);
    // Decimal digits instead of the double's own: short, and no less true.
    let digits = scan(&format!("{factor:.14e}"), 0).map(|scanned| scanned.value);
    digits.expect("a share from 1 % to 99.999999 % has a finite factor for one degree of freedom and more")
}

/// What a bracket behind a quantity says about its uncertainty.
pub(super) struct Coverage {
    how: How,
    /// Where it stands.
    pub range: Range<usize>,
}

enum How {
    Factor(Rational, Option<Rational>),
    /// A share, not a percentage.
    Level(Rational, Option<Rational>),
    Shape(Shape),
    Freedom(Rational),
    /// The step of a display and where its number and unit stand.
    Resolution(Range<usize>),
}

/// An uncertainty, and whether it was worked out in floating point.
pub(super) struct Worked {
    pub uncertainty: Uncertainty,
    pub approximate: bool,
}

impl Coverage {
    /// The uncertainty of a half width in SI.
    pub(super) fn of_half_width(&self, half: &Rational) -> Result<Worked, QuantityError> {
        let (standard, freedom, approximate) = match &self.how {
            How::Shape(shape) => {
                return Ok(Worked { uncertainty: Uncertainty::within(half, *shape), approximate: false });
            }
            How::Factor(factor, freedom) => (half / factor, freedom, freedom.is_some()),
            How::Level(share, freedom) => (half / level_factor(share, freedom.as_ref()), freedom, true),
            How::Freedom(freedom) => {
                let help = format!("write `(k=2, nu={0})` or `(95 %, nu={0})`", super::rounding::plain(freedom));
                return Err(self.wrong("how far the uncertainty was expanded is not said", help));
            }
            How::Resolution(_) => {
                return Err(self.wrong(
                    "the uncertainty is already stated",
                    "write the resolution alone, `1.32 mm (resolution 0.01 mm)`, or one combined uncertainty",
                ));
            }
        };
        let uncertainty = match freedom {
            Some(freedom) => Uncertainty::with_freedom(standard, freedom.clone()),
            None => Uncertainty::from_standard(standard),
        };
        Ok(Worked { uncertainty, approximate })
    }

    /// The uncertainty of one that was written as a standard one.
    pub(super) fn of_standard(&self, standard: Rational) -> Result<Worked, QuantityError> {
        match &self.how {
            How::Freedom(freedom) => {
                let uncertainty = Uncertainty::with_freedom(standard, freedom.clone());
                Ok(Worked { uncertainty, approximate: true })
            }
            How::Factor(factor, None) if factor.is_one() => {
                Ok(Worked { uncertainty: Uncertainty::from_standard(standard), approximate: false })
            }
            _ => Err(self.wrong(
                "an uncertainty in a bracket is a standard one, k = 1",
                "write an expanded one with `±`: `1.32 ± 0.08 N·m (k=2)`",
            )),
        }
    }

    /// Where the step of a display stands, if that is what is said.
    pub(super) fn resolution(&self) -> Option<Range<usize>> {
        match &self.how {
            How::Resolution(range) => Some(range.clone()),
            _ => None,
        }
    }

    fn wrong(&self, message: &str, help: impl Into<String>) -> QuantityError {
        QuantityError::new(self.range.clone(), message, help)
    }
}

/// Takes the bracket off the end. Other brackets there belong to the unit, or are refused.
pub(super) fn split(text: &str, whole: Range<usize>) -> Result<(Range<usize>, Option<Coverage>), QuantityError> {
    let body = &text[whole.clone()];
    let Some(open) = body.rfind('(').filter(|_| body.ends_with(')')) else { return Ok((whole, None)) };
    let range = whole.start + open..whole.end;
    let Some(parts) = read_parts(text, &range)? else { return Ok((whole, None)) };
    let how = parts.joined(&range)?;
    let rest = whole.start..whole.start + body[..open].trim_end().len();
    Ok((rest, Some(Coverage { how, range })))
}

/// What the parts of a bracket say, one by one.
#[derive(Default)]
struct Parts {
    factor: Option<Rational>,
    share: Option<Rational>,
    freedom: Option<Rational>,
    shape: Option<Shape>,
    resolution: Option<Range<usize>>,
}

/// Reads the parts of a bracket; none if the bracket is about something else.
fn read_parts(text: &str, range: &Range<usize>) -> Result<Option<Parts>, QuantityError> {
    let mut parts = Parts::default();
    let mut start = range.start + 1;
    let mut foreign = false;
    let content = &text[start..range.end - 1];
    for part in content.split(',') {
        let place = start + part.len() - part.trim_start().len();
        foreign |= !parts.read(part.trim(), place, range)?;
        start += part.len() + 1;
    }
    let none = parts.is_empty();
    if foreign && (!none || content.contains('%')) {
        return Err(unreadable(content, range));
    }
    Ok(Some(parts).filter(|_| !none))
}

/// Keeps what a part says; what is said twice is an error.
fn keep<T>(slot: &mut Option<T>, value: T, range: &Range<usize>) -> Result<bool, QuantityError> {
    match slot.replace(value) {
        Some(_) => Err(QuantityError::new(range.clone(), "this is said twice", "write it once, as in `(95 %, nu=9)`")),
        None => Ok(true),
    }
}

impl Parts {
    /// Reads one part, which stands at byte `place`; false if it says nothing about an uncertainty.
    fn read(&mut self, part: &str, place: usize, range: &Range<usize>) -> Result<bool, QuantityError> {
        let lower = part.to_ascii_lowercase();
        let shape = match lower.as_str() {
            "normal" => Some(Shape::Normal),
            "rectangular" | "uniform" => Some(Shape::Rectangular),
            "triangular" => Some(Shape::Triangular),
            "u-shaped" | "arcsine" => Some(Shape::UShaped),
            "trapezoidal" => return Err(trapezoidal(range)),
            _ => None,
        };
        if let Some(shape) = shape {
            return keep(&mut self.shape, shape, range);
        }
        if let Some(step) = lower.strip_prefix("resolution") {
            let step = step.trim_start().trim_start_matches('=').trim_start();
            if !step.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
                return Err(unreadable(part, range));
            }
            let end = place + part.len();
            return keep(&mut self.resolution, end - step.len()..end, range);
        }
        if let Some(percent) = part.strip_suffix('%').and_then(|number| read_all(number.trim_end())) {
            return keep(&mut self.share, share(&percent, range)?, range);
        }
        match lower.split_once('=').map(|(name, number)| (name.trim_end(), read_all(number.trim()))) {
            Some(("k", factor)) => keep(&mut self.factor, positive(factor, range)?, range),
            Some(("nu" | "ν" | "dof", freedom)) => keep(&mut self.freedom, degrees(freedom, range)?, range),
            _ => Ok(false),
        }
    }

    fn is_empty(&self) -> bool {
        self.factor.is_none()
            && self.share.is_none()
            && self.freedom.is_none()
            && self.shape.is_none()
            && self.resolution.is_none()
    }

    /// The one thing that the parts say together.
    fn joined(self, range: &Range<usize>) -> Result<How, QuantityError> {
        let clash = |message: &str, help: &str| Err(QuantityError::new(range.clone(), message, help));
        let scaled = self.factor.is_some() || self.share.is_some() || self.freedom.is_some();
        if let Some(place) = self.resolution {
            return match scaled || self.shape.is_some() {
                true => clash("a resolution says all of it by itself", "write `(resolution 0.01 mm)` alone"),
                false => Ok(How::Resolution(place)),
            };
        }
        match (self.factor, self.share, self.freedom, self.shape) {
            (_, _, _, Some(shape)) if shape != Shape::Normal && scaled => clash(
                "a spread between two bounds has no coverage factor, level or degrees of freedom",
                "write the bounds, as in `± 0.5 degC (rectangular)`, or a standard uncertainty, `± 0.29 degC (k=1)`",
            ),
            (Some(_), Some(_), _, _) => {
                clash("a coverage factor and a level say the same thing", "write one of them: `(k=2)` or `(95 %)`")
            }
            (Some(factor), None, freedom, _) => Ok(How::Factor(factor, freedom)),
            (None, Some(share), freedom, _) => Ok(How::Level(share, freedom)),
            (None, None, Some(freedom), _) => Ok(How::Freedom(freedom)),
            (None, None, None, shape) => Ok(How::Shape(shape.unwrap_or_default())),
        }
    }
}

/// The share of a level in percent. Outside these bounds nobody can know it, and the factor soon leaves what a double can tell apart.
fn share(percent: &Rational, range: &Range<usize>) -> Result<Rational, QuantityError> {
    let within = *percent >= Rational::one() && *percent <= Rational::from_words(99_999_999, 1_000_000);
    match within {
        true => Ok(percent / Rational::from_words(100, 1)),
        false => Err(QuantityError::new(range.clone(), "a level is from 1 to 99.999999 %", "write `(95 %)`")),
    }
}

fn positive(factor: Option<Rational>, range: &Range<usize>) -> Result<Rational, QuantityError> {
    let wrong = || QuantityError::new(range.clone(), "a coverage factor is a positive number", "write `(k=2)`");
    factor.filter(Rational::is_positive).ok_or_else(wrong)
}

fn degrees(freedom: Option<Rational>, range: &Range<usize>) -> Result<Rational, QuantityError> {
    let most = Rational::from_words(MOST_FREEDOM, 1);
    let wrong = || {
        let message = format!("degrees of freedom are from 1 to {MOST_FREEDOM}");
        let help = "write `(95 %, nu=9)`, of n readings n − 1; leave them out where they are infinitely many";
        QuantityError::new(range.clone(), message, help)
    };
    freedom.filter(|freedom| *freedom >= Rational::one() && *freedom <= most).ok_or_else(wrong)
}

/// A text that is one number and nothing else.
fn read_all(text: &str) -> Option<Rational> {
    let scanned = scan(text, 0).ok().filter(|scanned| scanned.end == text.len())?;
    (!number::is_absurd(&scanned.value)).then_some(scanned.value)
}

fn unreadable(content: &str, range: &Range<usize>) -> QuantityError {
    QuantityError::new(
        range.clone(),
        format!("`({content})` does not say how the uncertainty was stated"),
        "write `(k=2)`, `(95 %)`, `(95 %, nu=9)`, `(rectangular)`, `(triangular)`, `(u-shaped)` or `(resolution 0.01 mm)`",
    )
}

fn trapezoidal(range: &Range<usize>) -> QuantityError {
    QuantityError::new(
        range.clone(),
        "a trapezoidal spread is not read",
        "write `(rectangular)`, which is wider; or the standard uncertainty a·√((1+β²)/6) with `(k=1)`, where β is the top's part of the base (JCGM 100:2008, 4.3.9)",
    )
}
