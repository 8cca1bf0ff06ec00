//! Curves through tables.

use proptest::prelude::*;

use super::*;

fn curve(points: &[(f64, f64)], between: Between) -> Curve {
    let mut text = "x [m],y [K]\n".to_owned();
    for (x, y) in points {
        text.push_str(&format!("{x},{y}\n"));
    }
    table(&text).interpolate(0, 1, between).expect("a curve")
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs()).max(1.0)
}

/// Thermal conductivity of 304 stainless steel, 90 to 290 K in steps of 20 K, from the NIST cryogenic fit; its trapezoid is 2443.780 W/m (worked
/// out with SciPy 1.17.1 from more digits: the rounding of these is 0.1 at most).
#[test]
fn a_heat_leak_is_integrated() {
    let k =
        ["8.705", "9.685", "10.482", "11.165", "11.780", "12.355", "12.907", "13.447", "13.981", "14.513", "15.044"];
    let mut text = "T [K],k [W/(m·K)]\n".to_owned();
    for (i, k) in k.iter().enumerate() {
        text.push_str(&format!("{},{k}\n", 90 + 20 * i));
    }
    let curve = table(&text).interpolate(0, 1, Between::Linear).expect("a curve");
    let whole = curve.integral(90.0, 290.0).expect("inside");
    assert!((whole - 2443.780).abs() < 0.1, "{whole}");
    let exact = curve.exact_integral(curve.ends().0, curve.ends().1).expect("linear");
    assert_eq!(exact, Rational::new(2_443_790.into(), 1000.into()));
    assert_eq!(curve.span_text(), "90 K to 290 K");
    assert_eq!(curve.value(89.9), None);
    assert_eq!(curve.value(290.1), None);
    assert_eq!(curve.value(f64::NAN), None);
    assert!(near(curve.value(100.0).expect("inside"), 9.195));
    assert!(near(curve.derivative(100.0).expect("inside"), 0.049));
    let smooth = table(&text).interpolate(0, 1, Between::Monotone).expect("a curve");
    let whole = smooth.integral(90.0, 290.0).expect("inside");
    // The fit itself gives 2444.733.
    assert!((whole - 2444.733).abs() < 0.2, "{whole}");
}

/// The data set RPN 14 of Fritsch and Carlson (1980), table 1, from memory: a cubic spline overshoots it, a monotone curve must not.
#[test]
fn data_that_overshoot_stay_inside() {
    let points = [
        (7.99, 0.0),
        (8.09, 2.76429e-5),
        (8.19, 4.37498e-2),
        (8.7, 0.169183),
        (9.2, 0.469428),
        (10.0, 0.943740),
        (12.0, 0.998636),
        (15.0, 0.999919),
        (20.0, 0.999994),
    ];
    let curve = curve(&points, Between::Monotone);
    let mut before = 0.0;
    for i in 0..=12_010 {
        let y = curve.value(7.99 + f64::from(i) / 1000.0).expect("inside");
        assert!(y >= before - 1e-15 && y <= 0.999994 + 1e-15, "at {i}: {y} after {before}");
        before = y;
    }
}

#[test]
fn a_scale_with_a_zero_of_its_own() {
    let table = table("T [degC],p [bar gauge]\n0,1\n10,3\n20,4\n");
    let curve = table.interpolate(0, 1, Between::Linear).expect("a curve");
    // 278.15 K is 5 degC; gauge pressures are kept from ambient.
    let at = Rational::new(27_815.into(), 100.into());
    assert_eq!(curve.exact_value(&at), Some(Rational::from_integer(200_000.into())));
    assert!(near(curve.value(278.15).expect("inside"), 2e5));
    let back = table.interpolate(1, 0, Between::Linear).expect("a curve");
    let exact = back.exact_integral(&Rational::from_integer(100_000.into()), &Rational::from_integer(400_000.into()));
    // (273.15 + 283.15)/2 · 2e5 + (283.15 + 293.15)/2 · 1e5 Pa·K
    assert_eq!(exact, Some(Rational::from_integer(84_445_000.into())));
    assert!(near(back.integral(1e5, 4e5).expect("inside"), 84_445_000.0));
    // What is off by rounding of a conversion is the end itself.
    assert_eq!(curve.value(293.15 + 1e-13), curve.value(293.15));
}

#[test]
fn what_is_no_curve() {
    let wrong = |text: &str, x, y| {
        let error = table(text).interpolate(x, y, Between::Linear).expect_err("no curve");
        format!("{}:{} {}", error.line, error.column, error.message)
    };
    assert_eq!(wrong("x [m],y\n1,2\n1,3\n", 0, 1), "3:1 `1 m` is not above `1 m` in the row before");
    assert_eq!(wrong("x [m],y\n1,2\n0.5,3\n", 0, 1), "3:1 `0.5 m` is not above `1 m` in the row before");
    assert_eq!(wrong("x [m],y\n1,2\n2,\n", 0, 1), "3:3 `y` has a gap here");
    assert_eq!(wrong("x [m],y\n1,2\n", 0, 1), "1:1 a curve needs two rows or more");
    assert_eq!(wrong("x,y\na,2\nb,3\n", 0, 1), "1:1 column `x` holds no numbers to look up");
    assert_eq!(wrong("x,y\n1,2\n2,3\n", 0, 7), "1:1 column `` holds no numbers to look up");
}

fn points() -> impl Strategy<Value = Vec<(f64, f64)>> {
    prop::collection::vec((1u32..50, -40i32..40), 2..200).prop_map(|steps| {
        let mut x = -100;
        let point = |(step, y): (u32, i32)| {
            x += i64::from(step);
            (x as f64 / 8.0, f64::from(y) / 4.0)
        };
        steps.into_iter().map(point).collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Doubles agree with the exact numbers, which are the definition.
    #[test]
    fn doubles_agree_with_rationals(points in points(), at in 0.0f64..1.0, to in 0.0f64..1.0) {
        let curve = curve(&points, Between::Linear);
        let (first, last) = (points[0].0, points[points.len() - 1].0);
        let inside = |part: f64| ((first + part * (last - first)) * 1024.0).round() / 1024.0;
        let exact = |x: f64| Rational::new((x * 1024.0).round().to_string().parse().expect("whole"), 1024.into());
        let (a, b) = (inside(at), inside(to));
        prop_assume!(a >= first && a <= last && b >= first && b <= last);
        let same = |double: Option<f64>, exact: Option<Rational>| {
            let (double, exact) = (double.expect("inside"), exact.and_then(|exact| exact.to_f64()).expect("inside"));
            (double - exact).abs() <= 1e-12 * (1.0 + exact.abs()) * (1.0 + last - first)
        };
        prop_assert!(same(curve.value(a), curve.exact_value(&exact(a))));
        prop_assert!(same(curve.derivative(a), curve.exact_derivative(&exact(a))));
        prop_assert!(same(curve.integral(a, b), curve.exact_integral(&exact(a), &exact(b))));
        prop_assert_eq!(curve.integral(a, b), curve.integral(b, a).map(|integral| -integral));
    }

    /// A smooth curve goes through the points, stays between neighbours, and its slope and integral are those of its values.
    #[test]
    fn monotone_between_neighbours(points in points(), part in 0.01f64..0.99) {
        let curve = curve(&points, Between::Monotone);
        for pair in points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            prop_assert!(near(curve.value(x0).expect("inside"), y0));
            prop_assert!(near(curve.value(x1).expect("inside"), y1));
            let x = x0 + part * (x1 - x0);
            let y = curve.value(x).expect("inside");
            prop_assert!(y >= y0.min(y1) - 1e-12 && y <= y0.max(y1) + 1e-12, "{} between {} and {}", y, y0, y1);
            let slope = curve.derivative(x).expect("inside");
            prop_assert!(slope * (y1 - y0) >= -1e-9);
            let h = 1e-5 * (x1 - x0);
            let by_difference = (curve.value(x + h).expect("inside") - curve.value(x - h).expect("inside")) / (2.0 * h);
            prop_assert!((slope - by_difference).abs() < 1e-4 * (1.0 + slope.abs()), "{} {}", slope, by_difference);
            // Simpson's rule is exact for a cubic.
            let simpson = (x - x0) / 6.0 * (y0 + 4.0 * curve.value(x0.midpoint(x)).expect("inside") + y);
            let integral = curve.integral(x0, x).expect("inside");
            prop_assert!((integral - simpson).abs() < 1e-9 * (1.0 + simpson.abs()), "{} {}", integral, simpson);
        }
    }

    /// A straight line is met by both.
    #[test]
    fn lines_stay_lines(points in points(), slope in -5i32..5) {
        let points: Vec<(f64, f64)> = points.iter().map(|(x, _)| (*x, 1.5 + f64::from(slope) * x)).collect();
        let x = points[0].0.midpoint(points[points.len() - 1].0);
        for between in [Between::Linear, Between::Monotone] {
            let y = curve(&points, between).value(x).expect("inside");
            prop_assert!((y - 1.5 - f64::from(slope) * x).abs() < 1e-9);
        }
    }
}
