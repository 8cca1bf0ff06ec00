//! Axes: from where to where they go, and the round numbers on them.

/// Marks on an axis, about.
const TICKS: f64 = 7.0;

/// From where to where an axis goes, and what it is called.
#[derive(Clone, Debug, Default)]
pub(super) struct Axis {
    pub(super) name: String,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Axis {
    /// An axis that holds all of some values; none if there are none, or if they are too far apart for a double.
    pub(super) fn over(name: String, values: impl Iterator<Item = f64>) -> Option<Self> {
        let ends = values.fold(None, |ends: Option<(f64, f64)>, value| {
            let (low, high) = ends.unwrap_or((value, value));
            Some((low.min(value), high.max(value)))
        });
        let (from, to) = ends?;
        let (from, to) =
            if from < to { (from, to) } else { (from - from.abs().max(1.0) / 2.0, to + to.abs().max(1.0) / 2.0) };
        (to - from).is_finite().then_some(Self { name, from, to })
    }

    /// A little more to both sides, so that nothing lies on the frame.
    pub(super) fn wider(mut self) -> Self {
        let more = (self.to - self.from) * 0.06;
        (self.from, self.to) = (self.from - more, self.to + more);
        self
    }

    /// Which part of the axis a value is from its start.
    pub(super) fn part(&self, value: f64) -> f64 {
        ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0)
    }

    /// Where round numbers stand, and how they are written.
    pub(super) fn ticks(&self) -> Vec<(f64, String)> {
        let rough = (self.to - self.from) / TICKS;
        let size = format!("{rough:e}").rsplit('e').next().and_then(|size| size.parse::<i32>().ok()).unwrap_or(0);
        let unit: f64 = format!("1e{size}").parse().unwrap_or(1.0);
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|times| times * unit).find(|step| *step >= rough);
        let Some(step) = step.filter(|step| *step > 0.0 && step.is_finite()) else { return Vec::new() };
        let first = (self.from / step).ceil();
        let all = (0..12).map(|i| (first + f64::from(i)) * step).take_while(|value| *value <= self.to);
        // A step of rounded numbers shows twelve digits of what it is and no rounding.
        let written = |value: f64| plain(format!("{value:.11e}").parse().unwrap_or(value));
        all.map(|value| (self.part(value), written(if value.abs() < step / 2.0 { 0.0 } else { value }))).collect()
    }
}

/// A number as short as it is.
pub(super) fn plain(value: f64) -> String {
    if value != 0.0 && !(1e-4..1e7).contains(&value.abs()) { format!("{value:e}") } else { format!("{value}") }
}

/// A number to three digits.
pub(in crate::report) fn short(value: f64) -> String {
    let plain = format!("{value:.2e}").parse::<f64>().unwrap_or(value);
    if plain != 0.0 && !(1e-4..1e6).contains(&plain.abs()) { format!("{plain:e}") } else { format!("{plain}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_digits_are_shown() {
        assert_eq!(short(0.099_512), "0.0995");
        assert_eq!(short(16.656_06), "16.7");
        assert_eq!(short(0.0), "0");
        assert_eq!(short(1.234e-7), "1.23e-7");
    }

    #[test]
    fn ticks_are_round() {
        let axis = Axis { name: String::new(), from: -0.31, to: 0.72 };
        let words: Vec<String> = axis.ticks().into_iter().map(|(_, word)| word).collect();
        // A seventh of the width is 0.147; the next of 1, 2, 5 is 0.2.
        assert_eq!(words, ["-0.2", "0", "0.2", "0.4", "0.6"]);
        let axis = Axis { name: String::new(), from: 0.0, to: 1.0 };
        let words: Vec<String> = axis.ticks().into_iter().map(|(_, word)| word).collect();
        assert_eq!(words, ["0", "0.2", "0.4", "0.6", "0.8", "1"]);
    }
}
