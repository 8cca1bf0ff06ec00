//! Mean, standard deviation and coverage intervals of readings.

/// The mean of the values; `None` without any.
///
/// Twice over: the mean of what is left after the first mean is taken off corrects its rounding.
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let count = values.len() as f64;
    let first = values.iter().sum::<f64>() / count;
    let rest = values.iter().map(|value| value - first).sum::<f64>() / count;
    Some(if rest.is_finite() { first + rest } else { first })
}

/// The standard deviation of the values as a sample, with n − 1; `None` for fewer than two.
///
/// Two passes with the correction of Chan, Golub and LeVeque (1983, their equation 1.7), which takes off what the rounding of
/// the mean put in.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    let middle = mean(values)?;
    if values.len() < 2 {
        return None;
    }
    let (squares, rest) = values.iter().fold((0.0, 0.0), |(squares, rest), value| {
        let away = value - middle;
        (squares + away * away, rest + away)
    });
    let count = values.len() as f64;
    Some(libm::sqrt(((squares - rest * rest / count) / (count - 1.0)).max(0.0)))
}

/// The standard deviation that several samples have in common: each `s` with its degrees of freedom (JCGM 100:2008, H.3.6 note).
/// Gives it with its own degrees of freedom; `None` where none has any.
pub fn pooled(samples: &[(f64, f64)]) -> Option<(f64, f64)> {
    let freedom: f64 = samples.iter().map(|(_, freedom)| freedom).sum();
    let squares: f64 = samples.iter().map(|(s, freedom)| s * s * freedom).sum();
    (freedom > 0.0).then(|| (libm::sqrt(squares / freedom), freedom))
}

/// The value below which the share `p` of the sorted values lies, straight between neighbours.
pub fn quantile(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = (p * sorted.len() as f64 - 0.5).clamp(0.0, last as f64);
    let below = place as usize;
    let rest = place - below as f64;
    let (low, high) = (sorted.get(below)?, sorted.get((below + 1).min(last))?);
    Some(if rest == 0.0 { *low } else { low + rest * (high - low) })
}

/// How many of `count` sorted values a coverage interval spans: `q` of JCGM 101:2008, 7.7.1.
fn span(count: usize, coverage: f64) -> Option<usize> {
    let q = (coverage * count as f64 + 0.5) as usize;
    (q >= 1 && q < count).then_some(q)
}

/// The coverage interval that leaves as much below as above (JCGM 101:2008, 7.7.2). `None` where there are too few values.
pub fn symmetric_interval(sorted: &[f64], coverage: f64) -> Option<(f64, f64)> {
    let count = sorted.len();
    let q = span(count, coverage)?;
    let rest = count - q;
    // The standard takes (M − q)/2, or (M − q + 1)/2 rounded down, as the first of the ordered values, counted from 1.
    let first = if rest.is_multiple_of(2) { rest / 2 } else { rest.div_ceil(2) };
    let low = first.saturating_sub(1);
    Some((*sorted.get(low)?, *sorted.get(low + q)?))
}

/// The shortest coverage interval (JCGM 101:2008, 7.7.4); of several as short the first. `None` where there are too few values.
pub fn shortest_interval(sorted: &[f64], coverage: f64) -> Option<(f64, f64)> {
    let q = span(sorted.len(), coverage)?;
    let ends = sorted.iter().zip(sorted.get(q..)?);
    ends.map(|(low, high)| (*low, *high)).min_by(|one, other| (one.1 - one.0).total_cmp(&(other.1 - other.0)))
}
