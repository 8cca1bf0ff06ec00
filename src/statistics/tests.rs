#![allow(clippy::excessive_precision, clippy::unreadable_literal, reason = "as worked out elsewhere")]

use super::*;

fn close(id: &str, ours: f64, theirs: f64, tolerance: f64) {
    let away = (ours - theirs).abs() / theirs.abs().max(1e-300);
    assert!(ours == theirs || away <= tolerance, "{id}: {ours:?}, published {theirs:?}, {away:e} apart");
}

/// Worked out with mpmath 1.4.1 at 40 digits.
#[test]
fn every_digit_of_the_distributions() {
    let normal = [
        (1e-300, -37.047096299361199237),
        (1e-20, -9.2623400897984075796),
        (1e-5, -4.2648907939228246102),
        (0.02, -2.0537489106318230443),
        (0.3, -0.52440051270804081597),
        (0.4999999, -2.5066282747031065135e-7),
        (0.5000001, 2.5066282733116483012e-7),
        (0.75, 0.6744897501960817432),
        (0.975, 1.9599639845400538556),
        (0.999, 3.0902323061678132778),
    ];
    for (p, z) in normal {
        close(&format!("z of {p}"), normal_quantile(p), z, 1e-15);
        close(&format!("share below {z}"), normal_cdf(z), p, 2e-13);
    }
    let student = [
        (-2.0, 0.5, 0.22275744509156561559),
        (-0.001, 3.0, 0.499632447484730469),
        (-37.0, 2.5, 0.000086230187226447036826),
        (-2.13, 9.0, 0.031010742296194890489),
        (-1e6, 1.0, 3.1830988618368456824e-7),
        (-4.0, 1000.0, 0.000034004959604390788799),
        (-5.0, 1e6, 2.8669989354453707845e-7),
        (-1.5, 38.58, 0.070877116700411923801),
        (1.5, 38.58, 0.9291228832995880762),
    ];
    for (t, freedom, share) in student {
        close(&format!("share below {t} with {freedom}"), student_t_cdf(t, freedom), share, 1e-13);
        close(&format!("t of {share} with {freedom}"), student_t_quantile(share, freedom), t, 1e-12);
    }
    let quantiles = [
        (0.975, 1.5, 6.0166631044279282546),
        (0.97725, 9.0, 2.3198094410224310827),
        (0.6, 2.0, 0.28867513459481281549),
        (1e-9, 1.0, -318309886.18379065067),
        (1e-9, 3.0, -1033.109674503807708),
        (0.975, 1e5, 1.9599877075346092587),
    ];
    for (p, freedom, t) in quantiles {
        close(&format!("t of {p} with {freedom}"), student_t_quantile(p, freedom), t, 1e-13);
    }
    let factors = [
        (2, 0.95, 0.95, 26.2596739830344698),
        (5, 0.9, 0.95, 3.40663326280080881),
        (10, 0.95, 0.95, 2.91096341307816638),
        (43, 0.9, 0.99, 1.87395360585119975),
        (100, 0.99, 0.95, 2.68395785569127786),
    ];
    for (count, covers, confidence, k) in factors {
        let ours = one_sided_factor(count, covers, confidence).unwrap();
        close(&format!("k of {count}, {covers}, {confidence}"), ours, k, 1e-12);
    }
}

#[test]
fn there_is_no_answer_without_sense() {
    assert!(normal_quantile(-0.1).is_nan() && normal_quantile(1.1).is_nan() && normal_quantile(f64::NAN).is_nan());
    assert_eq!((normal_quantile(0.0), normal_quantile(1.0)), (f64::NEG_INFINITY, f64::INFINITY));
    assert!(student_t_quantile(0.9, 0.0).is_nan() && student_t_quantile(0.9, -1.0).is_nan());
    assert!(student_t_cdf(f64::NAN, 3.0).is_nan() && student_t_cdf(1.0, f64::NAN).is_nan());
    assert_eq!(student_t_quantile(0.5, 3.0), 0.0);
    assert_eq!((student_t_cdf(f64::INFINITY, 3.0), student_t_cdf(f64::NEG_INFINITY, 3.0)), (1.0, 0.0));
    assert_eq!(student_t_cdf(1e200, 0.1), 1.0);
    for (count, covers, confidence) in [(1, 0.9, 0.9), (0, 0.9, 0.9), (5, 0.0, 0.9), (5, 1.0, 0.9), (5, 0.9, 1.0)] {
        assert_eq!(one_sided_factor(count, covers, confidence), None);
    }
    assert_eq!(success_run(1.0, 0.9), None);
    assert_eq!(reliability_lower_limit(3, 2, 0.9), None);
    assert_eq!(mean(&[]), None);
    assert_eq!(standard_deviation(&[1.0]), None);
}

fn fraction(text: &str) -> num_rational::BigRational {
    let digits = text.split('.').nth(1).unwrap();
    num_rational::BigRational::new(digits.parse().unwrap(), num_bigint::BigInt::from(10).pow(digits.len() as u32))
}

#[test]
fn coverage_intervals_count_as_the_standard_does() {
    let values: Vec<f64> = (1..=100).map(f64::from).collect();
    // q = 95, r = (100 − 95 + 1)/2 = 3: from the third to the 98th.
    assert_eq!(symmetric_interval(&values, 0.95), Some((3.0, 98.0)));
    // q = 90, r = 5.
    assert_eq!(symmetric_interval(&values, 0.90), Some((5.0, 95.0)));
    let mut skew = values.clone();
    skew[99] = 1000.0;
    assert_eq!(shortest_interval(&skew, 0.95), Some((1.0, 96.0)));
    skew[0] = -1000.0;
    assert_eq!(shortest_interval(&skew, 0.95), Some((2.0, 97.0)));
    assert_eq!(shortest_interval(&[1.0], 0.95), None);
    assert_eq!(symmetric_interval(&[], 0.95), None);
    assert_eq!(quantile(&values, 0.5), Some(50.5));
    assert_eq!((quantile(&values, 0.0), quantile(&values, 1.0)), (Some(1.0), Some(100.0)));
}

#[test]
fn what_trials_show_is_decided_in_whole_numbers() {
    let (r, c) = (fraction("0.95"), fraction("0.95"));
    for (failures, n) in [(0, 59), (1, 93), (2, 124)] {
        assert_eq!(trials_show(n - failures, n, &r, &c), Some(true));
        assert_eq!(trials_show(n - 1 - failures, n - 1, &r, &c), Some(false));
        assert_eq!(further_trials(0, failures, 0.95, 0.95, 10_000), Some(n - failures));
    }
    assert_eq!(further_trials(0, 40, 0.95, 0.95, 59), None);
    // On the line is inside: one success shows a reliability of a half with a confidence of a half.
    assert_eq!(trials_show(1, 1, &fraction("0.5"), &fraction("0.5")), Some(true));
    assert_eq!(trials_show(1_000_000_000, 2_000_000_000, &r, &c), None);
    // The limit in floating point agrees wherever it is not on the line.
    for trials in [1, 2, 5, 30, 93, 200] {
        for successes in 0..=trials {
            let limit = reliability_lower_limit(successes, trials, 0.95).unwrap();
            let shown = trials_show(successes, trials, &r, &c).unwrap();
            assert!((limit - 0.95).abs() < 1e-9 || shown == (limit >= 0.95), "{successes} of {trials}: {limit}");
        }
    }
}
