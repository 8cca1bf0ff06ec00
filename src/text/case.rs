//! Texts that differ only in case.

use rayon::prelude::*;

/// Positions of those whose texts are the same or differ only in case, two or more together, each list in ascending order.
pub fn same_but_for_case<T: Sync>(all: &[T], text: impl Fn(&T) -> &str + Sync) -> Vec<Vec<usize>> {
    // Lower-casing every text costs an allocation each; most are told apart by a hash of it alone.
    let hashed = all.par_iter().with_min_len(512).enumerate();
    let mut hashes: Vec<(u64, usize)> = hashed.map(|(at, own)| (folded_hash(text(own)), at)).collect();
    hashes.par_sort_unstable();
    let alike = hashes.chunk_by(|(a, _), (b, _)| a == b).filter(|alike| alike.len() > 1);
    let mut found = Vec::new();
    for alike in alike {
        let mut folded: Vec<(String, usize)> =
            alike.iter().map(|(_, at)| (text(&all[*at]).to_lowercase(), *at)).collect();
        folded.sort_unstable();
        let same = folded.chunk_by(|(a, _), (b, _)| a == b).filter(|same| same.len() > 1);
        found.extend(same.map(|same| same.iter().map(|(_, at)| *at).collect()));
    }
    found
}

/// FNV-1a over the lower-case form.
fn folded_hash(text: &str) -> u64 {
    let step = |hash: u64, byte: u8| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    let start = 0xcbf2_9ce4_8422_2325;
    if text.is_ascii() {
        return text.bytes().fold(start, |hash, byte| step(hash, byte.to_ascii_lowercase()));
    }
    text.to_lowercase().bytes().fold(start, step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_differs_in_nothing_but_case_is_put_together() {
        let all = ["b", "Ä", "a", "B", "ä", "b", "ba"];
        let mut found = same_but_for_case(&all, |own| own);
        found.sort();
        assert_eq!(found, [vec![0, 3, 5], vec![1, 4]]);
        assert!(same_but_for_case(&["a", "b"], |own| own).is_empty());
    }
}
