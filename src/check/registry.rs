//! The list of checks.

use super::Check;
use super::rules;

/// Every check, by the name of its file.
pub const CHECKS: &[Check] = &[
    rules::attachments::CHECK,
    rules::calculations::CHECK,
    rules::certain::CHECK,
    rules::children::CHECK,
    rules::cycles::CHECK,
    rules::dates::CHECK,
    rules::decisions::CHECK,
    rules::departures::CHECK,
    rules::dispositions::CHECK,
    rules::dropped::CHECK,
    rules::events::CHECK,
    rules::failures::CHECK,
    rules::fields::CHECK,
    rules::hazards::CHECK,
    rules::inputs::CHECK,
    rules::instruments::CHECK,
    rules::life::CHECK,
    rules::limits::CHECK,
    rules::matching::CHECK,
    rules::not_run::CHECK,
    rules::options::CHECK,
    rules::orphans::CHECK,
    rules::passed_over::CHECK,
    rules::plan::CHECK,
    rules::prerequisites::CHECK,
    rules::readings::CHECK,
    rules::records::CHECK,
    rules::results::CHECK,
    rules::revisions::CHECK,
    rules::same_day::CHECK,
    rules::same_departure::CHECK,
    rules::scope::CHECK,
    rules::serials::CHECK,
    rules::statements::CHECK,
    rules::templates::CHECK,
    rules::uses::CHECK,
    rules::withdrawn::CHECK,
    rules::wording::CHECK,
];

#[cfg(test)]
#[expect(clippy::disallowed_methods, reason = "the source is held against the list")]
mod tests {
    use super::*;
    use crate::diag::catalogue;

    #[test]
    fn every_file_is_listed_in_order() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/check/rules");
        let names = folder.read_dir().unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap());
        let mut files: Vec<String> = names.map(|name| name.trim_end_matches(".rs").to_string()).collect();
        files.retain(|name| name != "mod");
        files.sort();
        let listed: Vec<&str> = CHECKS.iter().map(|check| check.name).collect();
        assert_eq!(files, listed);
    }

    #[test]
    fn every_code_of_a_check_is_in_the_catalogue_and_what_a_file_raises_is_among_its_codes() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/check/rules");
        for check in CHECKS {
            let text = std::fs::read_to_string(folder.join(check.name).with_extension("rs")).unwrap();
            for code in check.codes {
                assert!(catalogue::entry(code).is_some(), "{}: {code}", check.name);
            }
            for maker in ["Finding::new(", "Finding::at("] {
                for (at, _) in text.match_indices(maker) {
                    let Some(rest) = text[at + maker.len()..].trim_start().strip_prefix('"') else { continue };
                    let code = rest.split('"').next().unwrap();
                    assert!(check.codes.contains(&code), "{} raises {code}", check.name);
                }
            }
        }
    }
}
