//! Words that may have been meant.

/// The nearest of some words, if any is near enough to have been meant.
pub fn nearest<'w>(found: &str, words: impl Iterator<Item = &'w str>) -> Option<&'w str> {
    let scored = words.map(|word| (strsim::damerau_levenshtein(&found.to_lowercase(), &word.to_lowercase()), word));
    let (distance, word) = scored.min()?;
    (distance <= 1 + found.chars().count() / 4).then_some(word)
}

/// Asks whether one of the nearest words was meant: all that are as near, so that none of several pieces is put forward; none of
/// many.
pub fn did_you_mean<'w>(found: &str, words: impl Iterator<Item = &'w str>) -> Option<String> {
    let words: Vec<&str> = words.collect();
    let folded = found.to_lowercase();
    let distance = |word: &str| strsim::damerau_levenshtein(&folded, &word.to_lowercase());
    let least = distance(nearest(found, words.iter().copied())?);
    let mut as_near: Vec<&str> = words.into_iter().filter(|word| distance(word) == least).collect();
    as_near.sort_unstable();
    as_near.dedup();
    if as_near.len() > MOST {
        return None;
    }
    let quoted: Vec<String> = as_near.iter().map(|word| format!("`{word}`")).collect();
    let (last, others) = quoted.split_last()?;
    let others = if others.is_empty() { String::new() } else { format!("{} or ", others.join(", ")) };
    Some(format!("did you mean {others}{last}?"))
}

/// Where more are as near, none of them is.
const MOST: usize = 4;

#[cfg(test)]
mod tests {
    use super::did_you_mean;

    #[test]
    fn all_that_are_as_near_are_named() {
        let pieces = ["BV/SN01", "BV/SN02", "ACT/SN01"];
        let asked = |found: &str| did_you_mean(found, pieces.into_iter());
        assert_eq!(asked("BV/SN03").as_deref(), Some("did you mean `BV/SN01` or `BV/SN02`?"));
        assert_eq!(asked("BW/SN02").as_deref(), Some("did you mean `BV/SN02`?"));
        assert_eq!(asked("something else"), None);
    }
}
