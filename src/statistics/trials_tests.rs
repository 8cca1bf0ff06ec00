use super::*;

fn draw(middle: f64, standard: f64, distribution: Distribution) -> Draw {
    Draw { middle, standard, distribution }
}

fn settings(trials: Trials) -> Settings {
    Settings { seed: 7, trials, coverage: 0.95 }
}

fn sum(columns: &[&[f64]], out: &mut [f64]) {
    for (at, cell) in out.iter_mut().enumerate() {
        *cell = columns.iter().map(|column| column[at]).sum();
    }
}

const EACH: [Distribution; 5] = [
    Distribution::Normal,
    Distribution::StudentT { freedom: 5.0 },
    Distribution::Rectangular,
    Distribution::Triangular,
    Distribution::UShaped,
];

/// Draws are distributed as they should be: the greatest distance between the two shares is that of Kolmogorov and Smirnov.
#[test]
fn draws_follow_their_distribution() {
    let count = 200_000;
    for distribution in
        [&EACH[..], &[Distribution::StudentT { freedom: 0.7 }, Distribution::StudentT { freedom: 40.0 }]].concat()
    {
        let of = simulate(&sum, &[draw(3.0, 2.0, distribution)], &[], &settings(Trials::Fixed(count))).unwrap();
        let mut greatest = 0.0_f64;
        for step in 1..4000 {
            let share = f64::from(step) / 4000.0;
            let value = of.quantile(share).unwrap();
            greatest = greatest.max((1.0 - distribution.beyond((value - 3.0) / 2.0) - share).abs());
        }
        // Greater than this once in ten million times, if the draws are right.
        assert!(greatest < 2.9 / f64::from(count as u32).sqrt(), "{distribution:?}: {greatest}");
    }
}

#[test]
fn any_number_of_threads_gives_the_same_digits() {
    let draws: Vec<Draw> = EACH.iter().map(|distribution| draw(1.0, 0.5, *distribution)).collect();
    let run = |threads: usize, trials| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let of = pool.install(|| simulate(&sum, &draws, &[], &settings(trials)).unwrap());
        (of.mean.to_bits(), of.standard.to_bits(), of.symmetric, of.shortest, of.trials, of.histogram(40))
    };
    for trials in [Trials::Fixed(50_001), Trials::Adaptive { digits: 1, most: 1_000_000 }] {
        let one = run(1, trials);
        for threads in [2, 3, 7, 8] {
            assert_eq!(one, run(threads, trials), "{threads}");
        }
    }
}

/// The beginning of a stream is frozen: a record sealed with the digits of a simulation must find them again.
#[test]
fn the_digits_of_a_seed_stay() {
    let draws: Vec<Draw> = EACH.iter().map(|distribution| draw(0.0, 1.0, *distribution)).collect();
    let first = std::sync::Mutex::new(Vec::new());
    let model = |columns: &[&[f64]], out: &mut [f64]| {
        first.lock().unwrap().push(columns.iter().map(|column| column[0]).collect::<Vec<f64>>());
        sum(columns, out);
    };
    simulate(&model, &draws, &[], &settings(Trials::Fixed(1))).unwrap();
    insta::assert_snapshot!(format!("{:?}", first.into_inner().unwrap()), @"[[-0.7753719332177972, -1.128375243026674, 0.3507715183935477, -1.365776948273878, -1.2586379998763109]]");
}

#[test]
fn batches_go_on_until_the_digits_stand() {
    let normal = [draw(10.0, 1.0, Distribution::Normal)];
    let one = simulate(&sum, &normal, &[], &settings(Trials::Adaptive { digits: 1, most: 5_000_000 })).unwrap();
    assert!(one.stable && one.trials >= 2 * 10_000 && one.trials < 200_000, "{}", one.trials);
    let two = simulate(&sum, &normal, &[], &settings(Trials::Adaptive { digits: 3, most: 5_000_000 })).unwrap();
    // Ends of the interval to 0.005 need a hundred times as many as to 0.05.
    assert!(two.stable && two.trials > 20 * one.trials, "{} {}", one.trials, two.trials);
    assert!((two.symmetric.0 - 8.040_036).abs() < 0.01 && (two.symmetric.1 - 11.959_964).abs() < 0.01);
    let cut = simulate(&sum, &normal, &[], &settings(Trials::Adaptive { digits: 3, most: 60_000 })).unwrap();
    assert!(!cut.stable && cut.trials <= 60_000, "{}", cut.trials);
    assert!(cut.few, "fewer than 2·10^5 trials for 95 %");
    // Nothing is uncertain: no digit to wait for, and no end without a bound.
    let still = [draw(10.0, 0.0, Distribution::Normal)];
    let still = simulate(&sum, &still, &[], &settings(Trials::Adaptive { digits: 2, most: 30_000 })).unwrap();
    assert!(still.stable && still.trials <= 30_000);
    assert_eq!((still.mean, still.standard, still.symmetric), (10.0, 0.0, (10.0, 10.0)));
    assert_eq!(still.histogram(10), None);
    let all = simulate(&sum, &normal, &[], &settings(Trials::Fixed(usize::MAX))).unwrap();
    assert_eq!(all.trials, MOST_TRIALS);
}

#[test]
fn correlated_inputs_go_together() {
    let pair = [
        draw(0.0, 1.0, Distribution::Normal),
        draw(0.0, 1.0, Distribution::Rectangular),
        draw(0.0, 1.0, Distribution::Normal),
    ];
    let difference = |columns: &[&[f64]], out: &mut [f64]| {
        out.iter_mut().zip(columns[0].iter().zip(columns[2])).for_each(|(cell, (one, other))| *cell = one - other);
    };
    for (r, expected) in [(1.0, 0.0), (0.5, 1.0), (0.0, 2_f64.sqrt()), (-1.0, 2.0)] {
        let of = simulate(&difference, &pair, &[(0, 2, r)], &settings(Trials::Fixed(200_000))).unwrap();
        assert!((of.standard - expected).abs() < 0.012, "{r}: {}", of.standard);
    }
    let three = [pair[0]; 3];
    let refuse = |correlations: &[Correlation], draws: &[Draw]| {
        simulate(&sum, draws, correlations, &settings(Trials::Fixed(10))).unwrap_err()
    };
    assert_eq!(refuse(&[(0, 1, 0.5)], &pair), Uncorrelatable::NotNormal(1));
    assert_eq!(refuse(&[(0, 3, 0.5)], &pair), Uncorrelatable::Misplaced(3));
    assert_eq!(refuse(&[(2, 2, 0.5)], &pair), Uncorrelatable::Misplaced(2));
    assert_eq!(refuse(&[(0, 2, 1.1)], &pair), Uncorrelatable::OutOfRange(1.1));
    assert!(matches!(refuse(&[(0, 2, f64::NAN)], &pair), Uncorrelatable::OutOfRange(_)));
    assert_eq!(refuse(&[(0, 1, 0.9), (1, 2, 0.9), (0, 2, -0.9)], &three), Uncorrelatable::Impossible);
    assert_eq!(refuse(&[(0, 1, 1.0), (1, 2, 1.0), (0, 2, 0.9)], &three), Uncorrelatable::Impossible);
    let together =
        simulate(&sum, &three, &[(0, 1, 1.0), (1, 2, 1.0), (0, 2, 1.0)], &settings(Trials::Fixed(200_000))).unwrap();
    assert!((together.standard - 3.0).abs() < 0.03);
}

#[test]
fn trials_that_give_no_number_are_counted() {
    let root = |columns: &[&[f64]], out: &mut [f64]| {
        out.iter_mut().zip(columns[0]).for_each(|(cell, x)| *cell = x.sqrt());
    };
    let of =
        simulate(&root, &[draw(0.0, 1.0, Distribution::Rectangular)], &[], &settings(Trials::Fixed(100_000))).unwrap();
    assert!((of.not_finite as f64 - 50_000.0).abs() < 1000.0, "{}", of.not_finite);
    assert_eq!(of.trials, 100_000);
    assert_eq!(of.share_below(0.0), 0.0);
    for freedom in [0.0, -3.0, f64::NAN] {
        let of =
            simulate(&sum, &[draw(0.0, 1.0, Distribution::StudentT { freedom })], &[], &settings(Trials::Fixed(100)))
                .unwrap();
        assert_eq!(of.not_finite, 100);
        assert!(of.mean.is_nan() && of.quantile(0.5).is_none() && of.histogram(5).is_none());
    }
    let many = Distribution::StudentT { freedom: f64::INFINITY };
    assert_eq!(simulate(&sum, &[draw(0.0, 1.0, many)], &[], &settings(Trials::Fixed(100))).unwrap().not_finite, 0);
}

#[test]
fn every_value_is_in_the_histogram_or_outside() {
    let of = simulate(&sum, &[draw(5.0, 1.0, Distribution::Normal)], &[], &settings(Trials::Fixed(100_000))).unwrap();
    let histogram = of.histogram(40).unwrap();
    assert_eq!(histogram.counts.len(), 40);
    assert_eq!(histogram.counts.iter().sum::<u64>() + histogram.outside, 100_000);
    assert!(histogram.outside < 110, "{}", histogram.outside);
    assert!(histogram.counts[20] > 5 * histogram.counts[2]);
    assert_eq!(of.histogram(usize::MAX).unwrap().counts.len(), 1000);
    assert!((of.share_below(6.0) - 0.841_344_7).abs() < 0.006);
}

#[test]
fn a_numerical_tolerance_is_half_the_last_digit() {
    for (standard, digits, tolerance) in
        [(0.035, 2, 0.0005), (0.0999, 1, 0.05), (0.0999, 2, 0.005), (123.0, 1, 50.0), (99.6, 2, 5.0), (5e-9, 1, 5e-10)]
    {
        assert_eq!(numerical_tolerance(standard, digits), Some(tolerance), "{standard} to {digits}");
    }
    for (standard, digits) in [(0.0, 2), (-1.0, 2), (f64::NAN, 2), (f64::INFINITY, 2), (1.0, 0), (1.0, 99)] {
        assert_eq!(numerical_tolerance(standard, digits), None);
    }
}
