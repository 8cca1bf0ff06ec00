//! Effective degrees of freedom (JCGM 100:2008, G.4).

/// The effective degrees of freedom of a combined uncertainty, by the formula of Welch and Satterthwaite: of each contribution
/// `|c|·u` its size and degrees of freedom, `None` for infinitely many. Gives `None` where they are infinite.
///
/// It holds for independent contributions only: where inputs are correlated, the degrees of freedom are not defined, and this is not
/// to be called.
pub fn welch_satterthwaite(contributions: &[(f64, Option<f64>)]) -> Option<f64> {
    // Divided by the greatest first: fourth powers soon leave what a double can hold.
    let greatest = contributions.iter().map(|(size, _)| size.abs()).fold(0.0, f64::max);
    if greatest == 0.0 || !greatest.is_finite() {
        return None;
    }
    let share = |size: f64| (size / greatest) * (size / greatest);
    let variance: f64 = contributions.iter().map(|(size, _)| share(*size)).sum();
    let doubt: f64 = contributions
        .iter()
        .filter_map(|(size, freedom)| freedom.map(|freedom| share(*size) * share(*size) / freedom))
        .sum();
    let effective = variance * variance / doubt;
    effective.is_finite().then_some(effective)
}

/// The degrees of freedom of an uncertainty that is itself known to the relative accuracy `doubt` (JCGM 100:2008, G.4.2): 0.25, a
/// quarter, is 8.
pub fn freedom_of_doubt(doubt: f64) -> f64 {
    1.0 / (2.0 * doubt * doubt)
}
