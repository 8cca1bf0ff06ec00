#![allow(clippy::excessive_precision, clippy::unreadable_literal, reason = "as worked out elsewhere")]

use super::*;

/// The rows of one table of the published values.
fn rows(table: &str) -> Vec<toml::Table> {
    let all: toml::Table = include_str!("../../tests/published/statistics.toml").parse().unwrap();
    all[table].as_array().unwrap().iter().map(|row| row.as_table().unwrap().clone()).collect()
}

fn number(value: &toml::Value) -> f64 {
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).unwrap()
}

fn close(id: &str, ours: f64, theirs: f64, tolerance: f64) {
    let away = (ours - theirs).abs() / theirs.abs().max(1e-300);
    assert!(ours == theirs || away <= tolerance, "{id}: {ours:?}, published {theirs:?}, {away:e} apart");
}

#[test]
fn students_t_of_table_g2() {
    let shares = [libm::erf(0.5_f64.sqrt()), 0.9, 0.95, libm::erf(2_f64.sqrt()), 0.99, libm::erf(4.5_f64.sqrt())];
    for row in rows("t_table") {
        let id = row["id"].as_str().unwrap();
        let freedom = number(&row["nu"]);
        let published = row["published"].as_array().unwrap();
        for ((share, computed), printed) in shares.iter().zip(row["computed"].as_array().unwrap()).zip(published) {
            let t = student_t_quantile(0.5 + share / 2.0, freedom);
            assert!((t - number(computed)).abs() < 6e-7, "{id}: {t} {computed:?}");
            close(id, student_t_cdf(t, freedom), 0.5 + share / 2.0, 2e-15);
            let printed = printed.as_str().unwrap();
            let digits = printed.len() - printed.find('.').unwrap() - 1;
            // The one printed value that is off by a digit.
            if !(freedom == 35.0 && printed == "1.70") {
                assert_eq!(format!("{t:.digits$}"), printed, "{id}");
            }
        }
    }
}

#[test]
fn one_sided_factors() {
    for row in rows("k_one_sided") {
        let id = row["id"].as_str().unwrap();
        let count = row["n"].as_integer().unwrap() as u64;
        for (key, value) in row.iter().filter(|(key, _)| key.starts_with("k_")) {
            let parts: Vec<f64> = key[2..].split('_').map(|digits| format!("0.{digits}").parse().unwrap()).collect();
            let ours = one_sided_factor(count, parts[0], parts[1]).unwrap();
            assert!((ours - number(value)).abs() < 6e-7, "{id} {key}: {ours} {value:?}");
        }
    }
}

#[test]
fn effective_degrees_of_freedom() {
    let of = |pairs: &[(f64, f64)]| {
        welch_satterthwaite(&pairs.iter().map(|(u, nu)| (*u, nu.is_finite().then_some(*nu))).collect::<Vec<_>>())
    };
    let inf = f64::INFINITY;
    let cases: &[(&str, &[(f64, f64)])] = &[
        ("WS-04", &[(1.0, 3.0), (1.0, 3.0)]),
        ("WS-05", &[(1.0, 4.0), (1.0, inf)]),
        ("WS-06", &[(3.0, 5.0), (4.0, inf)]),
        ("WS-07", &[(1.0, 2.0), (10.0, 50.0)]),
        ("WS-08", &[(10.0, 2.0), (1.0, 50.0)]),
        ("WS-09", &[(1.0, 9.0); 4]),
    ];
    for row in rows("welch") {
        let id = row["id"].as_str().unwrap();
        let Some((_, pairs)) = cases.iter().find(|(case, _)| *case == id) else { continue };
        let effective = of(pairs).unwrap();
        close(id, effective, number(&row["expect_full"]["nu_eff"]), 1e-14);
        close(id, student_t_quantile(0.975, effective), number(&row["expect_full"]["t95"]), 1e-12);
        let cut = student_t_quantile(0.975, effective.floor());
        // Where rounding left it just above or below a whole number, cutting says nothing.
        if (effective - effective.round()).abs() > 1e-9 {
            close(id, cut, number(&row["expect_full"]["t95_truncated"]), 1e-12);
        }
    }
    close("WS-02", of(&[(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)]).unwrap(), 18.998742314267954, 1e-14);
    assert_eq!(of(&[(1.0, inf), (2.0, inf)]), None);
    assert_eq!(of(&[]), None);
    for (doubt, freedom) in [(0.25, 8.0), (0.5, 2.0), (0.1, 50.0)] {
        close("WS-10 to 12", freedom_of_doubt(doubt), freedom, 1e-14);
    }
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
fn what_trials_show() {
    for row in rows("binomial") {
        let id = row["id"].as_str().unwrap();
        let share = |key: &str| row.get(key).map(number);
        if let (Some(n), Some(reliability), Some(confidence)) = (row.get("n"), share("R"), share("C")) {
            let n = n.as_integer().unwrap() as u64;
            assert_eq!(success_run(reliability, confidence), Some(n), "{id}");
            let (r, c) = (fraction(&reliability.to_string()), fraction(&confidence.to_string()));
            assert_eq!(trials_show(n, n, &r, &c), Some(true), "{id}");
            assert_eq!(trials_show(n - 1, n - 1, &r, &c), Some(false), "{id}");
            assert_eq!(further_trials(0, 0, &r, &c, 10_000), Some(n), "{id}");
            close(id, 1.0 - reliability.powi(n as i32), number(&row["attained"]), 1e-12);
        } else if let (Some(failures), Some(trials)) = (row.get("failures"), row.get("trials")) {
            let (failures, trials) = (failures.as_integer().unwrap() as u64, trials.as_integer().unwrap() as u64);
            let ours = reliability_lower_limit(trials - failures, trials, share("C").unwrap()).unwrap();
            close(id, ours, number(&row["expect"]), 1e-12);
        } else if let (Some(successes), Some(expected)) = (row.get("successes"), row.get("expect")) {
            let (successes, trials) =
                (successes.as_integer().unwrap() as u64, row["trials"].as_integer().unwrap() as u64);
            let low = reliability_lower_limit(successes, trials, 0.975).unwrap();
            let high = 1.0 - reliability_lower_limit(trials - successes, trials, 0.975).unwrap();
            for (ours, theirs) in [low, high].iter().zip(expected.as_array().unwrap()) {
                close(id, *ours, number(theirs), 1e-12);
            }
        }
    }
    // B-25 and B-26: the smallest numbers with one and with two failures.
    let (r, c) = (fraction("0.95"), fraction("0.95"));
    for (failures, n) in [(1, 93), (2, 124)] {
        assert_eq!(trials_show(n - failures, n, &r, &c), Some(true));
        assert_eq!(trials_show(n - 1 - failures, n - 1, &r, &c), Some(false));
        assert_eq!(further_trials(0, failures, &r, &c, 10_000), Some(n - failures));
    }
    assert_eq!(further_trials(0, 40, &r, &c, 59), None);
    // On the line is inside: one success shows a reliability of a half with a confidence of a half.
    assert_eq!(trials_show(1, 1, &fraction("0.5"), &fraction("0.5")), Some(true));
    assert_eq!(trials_show(1_000_000_000, 2_000_000_000, &r, &c), None);
}

#[test]
fn means_and_deviations() {
    let readings = |first: f64, pairs: &[f64]| [&[first][..], &pairs.repeat(500)].concat();
    let (two, three, four) = (
        readings(1.2, &[1.1, 1.3]),
        readings(1_000_000.2, &[1_000_000.1, 1_000_000.3]),
        readings(10_000_000.2, &[10_000_000.1, 10_000_000.3]),
    );
    // The certified values are those of the decimals. What a double cannot hold of the readings themselves shows in the deviation:
    // half a unit in the last place of 1e7 is 1e-9, of which 0.1 is 1e8 times as much.
    let certified: &[(&str, &[f64], f64, f64, f64)] = &[
        ("NumAcc1", &[10_000_001.0, 10_000_003.0, 10_000_002.0], 10_000_002.0, 1.0, 1e-15),
        ("NumAcc2", &two, 1.2, 0.1, 1e-14),
        ("NumAcc3", &three, 1_000_000.2, 0.1, 1.2e-9),
        ("NumAcc4", &four, 10_000_000.2, 0.1, 2e-8),
    ];
    for (name, values, middle, deviation, tolerance) in certified {
        close(name, mean(values).unwrap(), *middle, 1e-15);
        close(name, standard_deviation(values).unwrap(), *deviation, *tolerance);
    }
    close("M-02", standard_deviation(&[1.30, 1.34]).unwrap(), 0.0282842712474619, 1e-14);
    assert_eq!(standard_deviation(&[5.0; 3]), Some(0.0));
    let (s, freedom) = pooled(&[(0.013, 24.0), (0.010, 5.0)]).unwrap();
    close("M-15", s, 0.012534091441977837, 1e-15);
    assert_eq!(freedom, 29.0);
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
