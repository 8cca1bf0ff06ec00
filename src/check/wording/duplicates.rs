//! Finds statements that say nearly the same in nearly the same words.
//!
//! Every pair of 10,000 statements would be 50 million comparisons. Two sets of words that overlap by 90 % cannot avoid sharing one of
//! their few rarest words, and the first that they share cannot stand late among the words of either; so each statement is compared
//! only with earlier ones that have one of its rare words at a place early enough, and most of those are dismissed by a signature of
//! 128 bits.

use std::borrow::Cow;

use foldhash::{HashMap, HashMapExt};

use rayon::prelude::*;

/// Words that change nothing about what is demanded.
const EMPTY: &[&str] =
    &["the", "a", "an", "be", "is", "are", "shall", "of", "and", "to", "its", "their", "that", "which", "will"];

/// A statement as a set of words, each a number: the rarer the word, the smaller the number.
struct WordSet {
    index: usize,
    words: Vec<u32>,
    /// Which ids and other words with digits or capitals it holds in which order, as a number: if these differ, the statements are
    /// about different things.
    names: usize,
    signature: u128,
}

/// Pairs of statements whose word sets overlap by 90 % or more (shared words over all words of both), as the caller's indexes.
///
/// Articles and forms of "be" do not count, nor do the endings of words; ids, numbers with letters and abbreviations must be the same. Each statement is
/// paired at most once, with the first before it that it repeats, so that many copies of one statement give as many pairs and not their square. The pairs
/// are in the order of the second statement, which is the order given.
pub fn near_duplicates(statements: &[(usize, &str)]) -> Vec<(usize, usize)> {
    let sets = word_sets(statements);
    let mut pairs = Vec::new();
    let mut index = Index::default();
    for (position, set) in sets.iter().enumerate() {
        if let Some(earlier) = index.first_near(&sets, set) {
            pairs.push((sets[earlier].index, set.index));
            // A copy stands behind the one that it repeats: later copies are found by that one.
            if sets[earlier].words == set.words {
                continue;
            }
        }
        index.add(position, set);
    }
    pairs
}

/// The statements so far, by rare word: where the word stands among all words, how many there are, and the names.
#[derive(Default)]
struct Index {
    /// Looked up in, never iterated over; positions in each list ascend.
    lists: HashMap<Key, Vec<(usize, u128)>>,
}

#[derive(PartialEq, Eq, Hash)]
struct Key {
    word: u32,
    place: usize,
    count: usize,
    names: usize,
}

impl Index {
    fn add(&mut self, position: usize, set: &WordSet) {
        let (count, names) = (set.words.len(), set.names);
        for (place, word) in set.words[..rare(count)].iter().enumerate() {
            let list = self.lists.entry(Key { word: *word, place, count, names }).or_default();
            list.push((position, set.signature));
        }
    }

    /// The first statement that says nearly the same as this one.
    fn first_near(&self, sets: &[WordSet], set: &WordSet) -> Option<usize> {
        let own = set.words.len();
        let mut first: Option<usize> = None;
        for (place, word) in set.words[..rare(own)].iter().enumerate() {
            for count in (own * 9 / 10)..=(own * 10).div_ceil(9) {
                let allowed = allowed(own, count);
                let early = |other: &usize| {
                    let shared_at_most = (own - place).min(count - other);
                    own + count <= allowed + 2 * shared_at_most
                };
                for other in (0..rare(count)).filter(early) {
                    let key = Key { word: *word, place: other, count, names: set.names };
                    let list = self.lists.get(&key).map_or(&[][..], Vec::as_slice);
                    let before = list.iter().take_while(|(earlier, _)| first.is_none_or(|first| *earlier < first));
                    let mut alike =
                        before.filter(|(_, signature)| (signature ^ set.signature).count_ones() as usize <= allowed);
                    first = alike.find(|(earlier, _)| is_near(&sets[*earlier], set)).map(|(at, _)| *at).or(first);
                }
            }
        }
        first
    }
}

/// How many of so many words, the rarest, must include one that is shared with any set that overlaps by 90 %: all but 90 % of them,
/// and one more.
fn rare(count: usize) -> usize {
    (count - (count * 9).div_ceil(10) + 1).min(count)
}

/// |A and B| / |A or B| >= 9/10 allows (|A| + |B|) / 19 words that only one of them has.
fn allowed(one: usize, other: usize) -> usize {
    (one + other) / 19
}

/// Whether two sets of words under the same names overlap by 90 %.
fn is_near(a: &WordSet, b: &WordSet) -> bool {
    let total = a.words.len() + b.words.len();
    let (mut left, mut right, mut shared) = (0, 0, 0);
    while left < a.words.len() && right < b.words.len() {
        match a.words[left].cmp(&b.words[right]) {
            std::cmp::Ordering::Less => left += 1,
            std::cmp::Ordering::Greater => right += 1,
            std::cmp::Ordering::Equal => {
                shared += 1;
                left += 1;
                right += 1;
            }
        }
    }
    shared > 0 && total - 2 * shared <= allowed(a.words.len(), b.words.len())
}

fn word_sets(statements: &[(usize, &str)]) -> Vec<WordSet> {
    let split: Vec<Words<'_>> = statements.par_iter().with_min_len(256).map(|(_, text)| words(text)).collect();
    let mut counts: HashMap<&str, u32> = HashMap::new();
    for word in split.iter().flat_map(|split| &split.words) {
        *counts.entry(word).or_default() += 1;
    }
    // The order of equally rare words must not depend on the hash.
    let mut ranked: Vec<(u32, &str)> = counts.into_iter().map(|(word, count)| (count, word)).collect();
    ranked.sort_unstable();
    let rank: HashMap<&str, u32> = (0..).zip(&ranked).map(|(rank, (_, word))| (*word, rank)).collect();
    let mut named: HashMap<&[Cow<'_, str>], usize> = HashMap::new();
    for split in &split {
        let next = named.len();
        named.entry(&split.names).or_insert(next);
    }
    let set = |(split, (index, _)): (&Words<'_>, &(usize, &str))| {
        let mut words: Vec<u32> = split.words.iter().filter_map(|word| rank.get(word.as_ref()).copied()).collect();
        words.sort_unstable();
        let signature = words.iter().fold(0u128, |bits, word| bits ^ (1 << (word.wrapping_mul(0x9E37_79B9) >> 25)));
        WordSet { index: *index, words, names: named[split.names.as_slice()], signature }
    };
    split.par_iter().zip(statements).with_min_len(256).map(set).collect()
}

/// The words of a statement without their endings, sorted, each once; and in order those that name something.
struct Words<'t> {
    words: Vec<Cow<'t, str>>,
    names: Vec<Cow<'t, str>>,
}

fn words(text: &str) -> Words<'_> {
    let mut words = Vec::with_capacity(text.len() / 6);
    let mut names = Vec::new();
    for chunk in text.split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | ':' | '(' | ')' | '"' | '*')) {
        let chunk = chunk.trim_matches(['.', '!', '?', '`', '_', '[', ']']);
        if chunk.is_empty() {
            continue;
        }
        let lower = lower(chunk);
        if is_name(chunk) {
            names.push(lower.clone());
        }
        if !EMPTY.contains(&lower.as_ref()) {
            words.push(stem(lower));
        }
    }
    words.sort_unstable();
    words.dedup();
    Words { words, names }
}

/// The word in lower case, as it is where it is written so.
fn lower(word: &str) -> Cow<'_, str> {
    let is_lower = word.bytes().all(|byte| byte.is_ascii() && !byte.is_ascii_uppercase());
    if is_lower { Cow::Borrowed(word) } else { Cow::Owned(word.to_lowercase()) }
}

/// Whether a word names something: an abbreviation, an id, a number with letters.
fn is_name(word: &str) -> bool {
    let letters = word.chars().any(char::is_alphabetic);
    let capitals = || word.chars().filter(|c| c.is_uppercase()).count() >= 2;
    letters && (word.bytes().any(|byte| byte.is_ascii_digit()) || capitals())
}

/// The word without the commonest endings: close, closes, closed are one.
fn stem(word: Cow<'_, str>) -> Cow<'_, str> {
    let rest = |ending: &&str| word.strip_suffix(*ending).map(str::len).filter(|rest| *rest >= 3);
    let length = ["ing", "ed", "es", "s", "e"].iter().find_map(rest).unwrap_or(word.len());
    match word {
        Cow::Borrowed(word) => Cow::Borrowed(&word[..length]),
        Cow::Owned(mut word) => {
            word.truncate(length);
            Cow::Owned(word)
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    fn pairs(statements: &[&str]) -> Vec<(usize, usize)> {
        near_duplicates(&statements.iter().copied().enumerate().collect::<Vec<_>>())
    }

    #[test]
    fn a_reworded_copy_is_found_and_a_different_item_is_not() {
        let close = "The valve shall close within 2 s.";
        assert_eq!(pairs(&[close, "The valve shall open.", "The valve shall be closed within 2 s."]), [(0, 2)]);
        assert_eq!(
            pairs(&[
                "PT-01 shall be read at 1 kHz within 2 s of the start.",
                "PT-02 shall be read at 1 kHz within 2 s of the start."
            ]),
            []
        );
        assert_eq!(pairs(&[close, "The valve shall not close within 2 s."]), []);
        assert_eq!(pairs(&["", "", "."]), []);
    }

    #[test]
    fn indexes_are_the_callers() {
        let close = "The valve shall close within 2 s.";
        assert_eq!(near_duplicates(&[(7, close), (3, close), (9, close)]), [(7, 3), (7, 9)]);
    }

    /// The filters may only save work: the plain comparison of all pairs is the oracle.
    #[test]
    fn filters_lose_nothing() {
        let mut state = 1u64;
        let mut next = |bound: u64| {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 33) % bound
        };
        let base: Vec<Vec<u64>> = (0..12).map(|_| (0..24).map(|_| next(60)).collect()).collect();
        let texts: Vec<String> = (0..300)
            .map(|_| {
                let mut words = base[next(12) as usize].clone();
                for _ in 0..next(4) {
                    let at = next(24) as usize;
                    words[at] = next(60);
                }
                words.iter().map(|word| "q".repeat(3 + *word as usize) + " ").collect::<String>()
            })
            .collect();
        let statements: Vec<(usize, &str)> = texts.iter().map(String::as_str).enumerate().collect();
        let sets = word_sets(&statements);
        let near = |a: &WordSet, b: &WordSet| {
            let (left, right): (BTreeSet<u32>, BTreeSet<u32>) =
                (a.words.iter().copied().collect(), b.words.iter().copied().collect());
            let shared = left.intersection(&right).count();
            a.names == b.names && shared > 0 && 10 * shared >= 9 * left.union(&right).count()
        };
        let expected: Vec<(usize, usize)> = (0..sets.len())
            .filter_map(|later| {
                (0..later).find(|earlier| near(&sets[*earlier], &sets[later])).map(|earlier| (earlier, later))
            })
            .collect();
        assert!(expected.len() > 20, "the texts must hold near copies for this to test anything");
        assert_eq!(near_duplicates(&statements), expected);
    }
}
