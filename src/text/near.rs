//! Words that may have been meant.

/// The nearest of some words, if any is near enough to have been meant.
pub fn nearest<'w>(found: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let scored = words.map(|word| (strsim::damerau_levenshtein(&found.to_lowercase(), &word.to_lowercase()), word));
    let (distance, word) = scored.min()?;
    (distance <= 1 + found.chars().count() / 4).then_some(word)
}
