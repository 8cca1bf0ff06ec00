//! What must hold for any calculation.

use proptest::prelude::*;

use super::*;
use crate::quantity::Rational;

/// An expression over a, b and c that can be worked out wherever they are near 3, 5 and 7.
fn expression() -> impl Strategy<Value = String> {
    let leaf = prop::sample::select(vec!["a", "b", "c", "2", "0.5"]).prop_map(str::to_owned);
    leaf.prop_recursive(5, 40, 3, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone(), prop::sample::select(vec!["+", "-", "*"]))
                .prop_map(|(x, y, sign)| format!("({x} {sign} {y})")),
            (inner.clone(), inner.clone()).prop_map(|(x, y)| format!("({x} / (1 + abs({y})))")),
            (inner.clone(), prop::sample::select(vec!["sin", "cos", "atan", "tanh"]))
                .prop_map(|(x, f)| format!("{f}({x})")),
            inner.clone().prop_map(|x| format!("sqrt(1 + ({x})^2)")),
            inner.clone().prop_map(|x| format!("exp(-abs({x})/10)")),
            (inner.clone(), inner.clone(), inner.clone()).prop_map(|(x, y, z)| format!("mean({x}, {y}, {z})")),
            (inner.clone(), inner).prop_map(|(x, y)| format!("(if a > 1 then {x} else {y})")),
        ]
    })
}

fn inputs() -> Inputs {
    Inputs::of(&[("a", "3.000(10)"), ("b", "5.000(20)"), ("c", "7.000(30)")])
}

/// By name of the line: its value, and its sources with how it depends on them.
type Told = std::collections::BTreeMap<String, (String, Vec<(String, String)>)>;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// A column of one value is that value, and a step along an axis is what the derivative says.
    #[test]
    fn columns_and_derivatives_agree(text in expression()) {
        let inputs = inputs();
        let Ok(worked) = last(&text, &inputs) else { return Ok(()) };
        let sources = worked.sources();
        let at: Vec<f64> = sources.iter().map(|source| source.quantity.si_f64()).collect();
        let value = |point: &[f64]| {
            let columns: Vec<&[f64]> = point.chunks(1).collect();
            let mut out = [0.0];
            worked.columns(&columns, &mut out);
            out[0]
        };
        let size = value(&at).abs().max(1.0);
        prop_assert!((value(&at) - worked.quantity.si_f64()).abs() <= 1e-12 * size);
        for (axis, slope) in worked.slopes().into_iter().enumerate() {
            let moved = |by: f64| { let mut point = at.clone(); point[axis] += by; value(&point) };
            let (small, large) = ((moved(1e-5) - moved(-1e-5)) / 2e-5, (moved(1e-3) - moved(-1e-3)) / 2e-3);
            let (before, after) = ((value(&at) - moved(-1e-5)) / 1e-5, (moved(1e-5) - value(&at)) / 1e-5);
            let near = |one: f64, other: f64| (one - other).abs() < 1e-3 * (1.0 + small.abs());
            // Near a kink, and on one, the differences disagree, and say nothing.
            if near(small, large) && near(before, after) {
                prop_assert!((small - slope).abs() <= 1e-4 * (size + slope.abs() + small.abs()), "{} by {}: {} {}", text, sources[axis].key, slope, small);
            }
        }
    }

    /// What is taken from itself is certain, and independent parts add up to the whole.
    #[test]
    fn parts_add_up(text in expression()) {
        let inputs = inputs();
        let Ok(worked) = last(&text, &inputs) else { return Ok(()) };
        let nothing = last(&format!("x = {text}; x - x"), &inputs).expect("the same");
        if let Some(uncertainty) = &nothing.quantity.uncertainty {
            prop_assert!(uncertainty.standard.to_f64() == Some(0.0));
        }
        let budget = worked.budget();
        if budget.standard > 0.0 {
            let all: f64 = budget.contributions.iter().map(|own| own.percent).sum();
            prop_assert!((all - 100.0).abs() < 1e-9);
        }
        prop_assert!(budget.worst_case >= 2.0 * budget.standard * (1.0 - 1e-12));
    }

    /// Inputs restated in other units give the same: exactly where the calculation is exact.
    #[test]
    fn units_do_not_matter(force in 1u32..1000, arm in 1u32..1000, factor in 1u32..50) {
        let formula = "k * F * r + T";
        let text = |force: String, arm: String, torque: &str| {
            let inputs = Inputs::of(&[("F", &force), ("r", &arm), ("T", torque), ("k", &factor.to_string())]);
            worked(formula, &inputs).quantity.clone()
        };
        let metric = text(format!("{force}.0(3) N"), format!("{arm}.0(2) mm"), "25.4(1) N*m");
        let other = text(format!("{:.4}(0.0003) kN", f64::from(force) / 1000.0), format!("{:.1}(2) cm", f64::from(arm) / 10.0).replace("(2)", "(0.02)"), "25400(100) N*mm");
        prop_assert_eq!(&metric.value, &other.value);
        let standard = |quantity: &Quantity| quantity.uncertainty.as_ref().expect("u").standard.to_f64().expect("finite");
        prop_assert!((standard(&metric) / standard(&other) - 1.0).abs() < 1e-10);
    }

    /// Of a sum of multiples first order is all there is: u² is Σ(c·u)², and with everything fully correlated u is |Σ c·u|, exactly; and no trial has
    /// anything to add.
    #[test]
    fn straight_lines_are_exact(terms in prop::collection::vec((-999i64..1000, -99_999i64..100_000, 1i64..10_000), 2..7)) {
        let (mut inputs, mut text, mut all) = (Inputs::default(), "0 m".to_owned(), Correlations::none());
        for (at, (factor, value, standard)) in terms.iter().enumerate() {
            inputs.add(&format!("x{at}"), &format!("{} ± {} mm (k=1)", value * 10, *standard), None);
            text.push_str(&format!(" + ({factor}) * x{at}"));
            for before in 0..at {
                all.state(&format!("x{before}"), &format!("x{at}"), Rational::one()).expect("a coefficient");
            }
        }
        let found = worked(&text, &inputs);
        let milli = |number: i64| Rational::new(number.into(), 1000.into());
        let value = terms.iter().fold(Rational::zero(), |sum, (factor, value, _)| sum + milli(factor * value * 10));
        prop_assert_eq!(&found.quantity.value, &value);
        let square = terms.iter().fold(Rational::zero(), |sum, (factor, _, standard)| {
            sum + milli(factor * standard) * milli(factor * standard)
        });
        let own = |found: &Worked| found.quantity.uncertainty.as_ref().expect("an uncertainty").standard.clone();
        let off = own(&found) * own(&found) - &square;
        // A root that is not rational is worked out to twenty digits.
        prop_assert!(off.abs() <= &square * Rational::new(1.into(), 10i64.pow(18).into()), "{}", text);
        // What rounding leaves is no bend.
        prop_assert!(found.curvature() < 1e-9);
        let together = parse_expression(&text).expect("it reads").check(&inputs).expect("it fits").work_out(&all).expect("a value");
        let sum = terms.iter().fold(Rational::zero(), |sum, (factor, _, standard)| sum + milli(factor * standard));
        prop_assert_eq!(own(together.last().and_then(Step::worked).expect("a quantity")), sum.abs());
    }

    /// In whatever order inputs are given and lines are written, the same comes out, and from the same sources.
    #[test]
    fn order_does_not_matter(text in expression(), turn in 0usize..4, mirrored: bool) {
        let mut lines = vec![format!("p = {text}"), "q = a * b - c".to_owned(), "r = p + q / 7".to_owned(), "s = p * 2 - r".to_owned()];
        let mut given = [("a", "3.000(10)"), ("b", "5.000(20)"), ("c", "7.000(30)")];
        let named = |lines: &[String], given: &[(&str, &str)]| -> Option<Told> {
            let steps = parse(&lines.join("\n")).ok()?.check(&Inputs::of(given)).ok()?.work_out(&Correlations::none()).ok()?;
            // Sums may be rounded in another order.
            let digits = |number: f64| format!("{:.9e}", number + 0.0);
            let one = |step: &Step| {
                let worked = step.worked().expect("a quantity");
                let parts = worked.budget().contributions.iter().map(|own| (own.source.key.clone(), digits(own.sensitivity))).collect();
                (step.name.clone(), (digits(worked.quantity.si_f64()), parts))
            };
            Some(steps.iter().map(one).collect())
        };
        let before = named(&lines, &given);
        lines.rotate_left(turn);
        if mirrored {
            lines.reverse();
            given.reverse();
        }
        given.rotate_left(turn % 3);
        prop_assert_eq!(before, named(&lines, &given));
    }
}
