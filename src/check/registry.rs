//! The list of checks.

use super::{Check, rules};

/// Every check, by the name of its file.
pub const CHECKS: &[Check] = &[
    rules::dates::CHECK,
    rules::entries::CHECK,
    rules::failures::CHECK,
    rules::plans::CHECK,
    rules::practice::CHECK,
    rules::results::CHECK,
    rules::statements::CHECK,
    rules::structure::CHECK,
    rules::wording::CHECK,
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_a_check_is_listed() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/check/rules");
        let files = folder.read_dir().expect("the folder of checks can be listed").count() - 1;
        assert_eq!(files, CHECKS.len());
    }

    #[test]
    fn every_code_of_a_check_is_in_the_catalogue() {
        for code in CHECKS.iter().flat_map(|check| check.codes) {
            assert!(crate::diag::catalogue::entry(code).is_some(), "{code}");
        }
    }
}
