//! Whether first order is enough: how far a result departs from its straight-line form.

use super::Worked;

/// Joint draws; with more sources than [`MAX_AXES`] these alone are looked at.
const DRAWS: usize = 64;

/// Most sources along each of which it is looked at by itself.
const MAX_AXES: usize = 250;

/// Where it is looked at along an axis, in standard uncertainties.
const STEPS: [f64; 4] = [-2.0, -1.0, 1.0, 2.0];

/// See [`Worked::curvature`]; `blur` is what rounding may do to the value.
pub(super) fn of(worked: &Worked, blur: f64) -> f64 {
    let (sources, slopes) = (worked.sources(), worked.slopes());
    let spread = |at: usize| {
        let uncertainty = sources[at].quantity.uncertainty.as_ref();
        uncertainty.and_then(|uncertainty| uncertainty.standard.to_f64()).unwrap_or(0.0)
    };
    let spreads: Vec<f64> = (0..sources.len()).map(spread).collect();
    let uncertain: Vec<usize> = (0..sources.len()).filter(|at| spreads[*at] > 0.0).collect();
    if uncertain.is_empty() {
        return 0.0;
    }
    let axes: &[usize] = if uncertain.len() <= MAX_AXES { &uncertain } else { &[] };
    let rows = DRAWS + axes.len() * STEPS.len();
    let mut columns: Vec<Vec<f64>> = sources.iter().map(|source| vec![source.quantity.si_f64(); rows]).collect();
    let mut straight = vec![worked.double(); rows];
    let mut shift = |row: usize, at: usize, steps: f64| {
        let by = steps * spreads[at];
        columns[at][row] += by;
        straight[row] += slopes[at] * by;
    };
    for row in 0..DRAWS {
        uncertain.iter().for_each(|&at| shift(row, at, 4.0 * draw(row, at) - 2.0));
    }
    for (axis, &at) in axes.iter().enumerate() {
        STEPS.iter().enumerate().for_each(|(step, steps)| shift(DRAWS + axis * STEPS.len() + step, at, *steps));
    }
    let mut out = vec![0.0; rows];
    let columns: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    worked.columns(&columns, &mut out);
    let departures: Vec<f64> = out.iter().zip(&straight).map(|(value, line)| departure(*value, *line, blur)).collect();
    let (joint, along) = departures.split_at(DRAWS);
    let largest = along.chunks(STEPS.len()).map(mean_square).fold(mean_square(joint), f64::max);
    let standard = worked.budget().standard;
    match largest.sqrt() {
        0.0 => 0.0,
        departure if standard > 0.0 => departure / standard,
        _ => f64::INFINITY,
    }
}

/// How far apart two numbers are, beyond what rounding does.
fn departure(value: f64, line: f64, blur: f64) -> f64 {
    if !value.is_finite() {
        return f64::INFINITY;
    }
    let rounding = 100.0 * blur + 256.0 * f64::EPSILON * value.abs().max(line.abs());
    let departure = (value - line).abs();
    if departure <= rounding { 0.0 } else { departure }
}

fn mean_square(departures: &[f64]) -> f64 {
    departures.iter().map(|departure| departure * departure).sum::<f64>() / departures.len().max(1) as f64
}

/// A number from 0 to 1 that is the same every time, spread evenly over rows and axes: the mixing step of `SplitMix64` (Steele, Lea and
/// Flood, OOPSLA 2014) on the pair.
fn draw(row: usize, axis: usize) -> f64 {
    let mut bits =
        (row as u64).wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ (axis as u64 + 1).wrapping_mul(0xd1b5_4a32_d192_ed03);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^= bits >> 31;
    (bits >> 11) as f64 / (1u64 << 53) as f64
}
