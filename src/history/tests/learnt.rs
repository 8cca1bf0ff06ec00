//! What looking back has taught is kept, and changes no answer.

use std::sync::Arc;

use super::Stand;
use crate::git::{Oid, Repo};
use crate::history::learnt::{Facts, name, read, write};
use crate::history::{Range, changes, held_ids, keep, revisions, take_up};
use crate::kept::Kept;

const R_1: &str = "requirements/R-1.md";
const R_2: &str = "requirements/R-2.md";

/// Everything that is told of a commit, with what is kept in one place.
fn told(stand: &Stand, kept: impl Fn(&Repo) -> Kept, end: Oid) -> String {
    // Opened anew, so that nothing is known but what was kept.
    let repo = Arc::new(stand.0.repo());
    let kept = kept(&repo);
    take_up(&repo, "", &kept);
    let mut told = String::new();
    for id in held_ids(&repo, "", end).unwrap() {
        told.push_str(&format!("{:?}\n", revisions(&repo, "", &id, end).unwrap()));
    }
    let now = stand.analysis();
    let from = repo.walk(end, None, false).unwrap().last().copied();
    let range = Range { from, from_name: "A".into(), from_before: false, to: Some(end), to_name: "B".into() };
    told.push_str(&format!("{:?}", changes(&repo, "", range, Some(&now), now.request).unwrap()));
    keep(&repo, "", Some(end), &kept);
    told
}

fn facts(repo: &Repo) -> Option<Facts> {
    Kept::beside(repo).read(&name("")).and_then(|bytes| read(&bytes))
}

/// With nothing kept, and with what was kept before: both must say the same.
#[track_caller]
fn same(stand: &Stand) -> String {
    let end = stand.0.repo().head().unwrap().unwrap();
    let (anew, usual) = (told(stand, |_| Kept::nothing(), end), told(stand, Kept::beside, end));
    assert_eq!(usual, anew);
    anew
}

#[test]
fn whatever_happens_in_between_the_answers_are_the_same() {
    let stand = Stand::committed();
    let mut all = vec![same(&stand)];
    let steps: [&dyn Fn(); 8] = [
        &|| {
            stand.edit(R_2, "1.5 *", "1.6 *").0.commit("Tighten");
        },
        &|| {
            stand.0.git(&["mv", R_2, "proof.md"]);
            stand.edit(R_1, "min = 0.5", "min = 0.6").0.commit("Move\n\nDecision: D-3");
        },
        // A folder becomes a project of its own, and ceases to be one.
        &|| {
            stand.0.write("records/slipmark.toml", "name = \"Other\"\n").commit("Nest");
        },
        &|| {
            stand.edit("records/TR-1.md", "5 MPa", "6 MPa").0.commit("Another project's");
        },
        &|| {
            stand.delete("records/slipmark.toml").0.commit("Unnest");
        },
        &|| {
            stand.edit("proof.md", "title = ", "title = = ").0.commit("Break");
        },
        &|| {
            stand.0.git(&["checkout", "--quiet", "-b", "side", "HEAD~3"]);
            stand.edit("proof.md", "1.6 *", "1.7 *").0.commit("Aside");
            stand.0.git(&["checkout", "--quiet", "main"]);
            stand.0.git(&["merge", "--quiet", "-X", "theirs", "-m", "Merge", "side"]);
        },
        // Another history in the place of the last commits.
        &|| {
            stand.0.git(&["reset", "--quiet", "--hard", "HEAD~1"]);
            stand.edit(R_1, "min = 0.6", "min = 0.7").0.commit("Otherwise");
        },
    ];
    for step in steps {
        step();
        all.push(same(&stand));
        assert_eq!(same(&stand), *all.last().unwrap());
    }
    all.sort();
    all.dedup();
    assert_eq!(all.len(), 1 + steps.len(), "each step is told");
}

#[test]
fn answers_come_from_what_is_kept_and_only_new_commits_are_read() {
    let stand = Stand::committed();
    stand.edit(R_2, "1.5 *", "1.6 *").0.commit("Tighten");
    let right = same(&stand);
    let repo = stand.0.repo();
    let kept = facts(&repo).expect("something is kept");
    assert_eq!((kept.commits.len(), kept.differences.len()), (2, 1));

    let newest = stand.edit(R_2, "1.6 *", "1.7 *").0.commit("Again");
    take_up(&repo, "", &Kept::beside(&repo));
    assert_eq!(repo.known_counts(), (2, 1));
    revisions(&repo, "", "R-2", newest).unwrap();
    assert_eq!(repo.known_counts(), (3, 2));
    stand.0.git(&["reset", "--quiet", "--hard", "HEAD~1"]);

    // With another difference in the place of the one that is kept, another answer comes.
    let Facts { commits, differences, fronts } = kept;
    let differences = differences.into_iter().map(|(trees, _)| (trees, [].into())).collect();
    Kept::beside(&repo).write(&name(""), &write(&Facts { commits, differences, fronts }));
    let end = repo.head().unwrap().unwrap();
    assert_ne!(told(&stand, Kept::beside, end), right);
    // Damaged, it is as if it were not there.
    let folder = repo.common_dir().join("slipmark-kept").read_dir().unwrap().next().unwrap().unwrap().path();
    let path = folder.join(name(""));
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() - 1]).unwrap();
    assert_eq!(told(&stand, Kept::beside, end), right);
}

#[test]
fn commits_that_nothing_leads_to_are_forgotten() {
    let stand = Stand::committed();
    for number in 0..70 {
        stand
            .edit(R_1, "margin", &format!("margin {number}"))
            .0
            .git(&["commit", "--quiet", "--all", "--amend", "-m", "x"]);
        let repo = stand.0.repo();
        let end = repo.head().unwrap().unwrap();
        take_up(&repo, "", &Kept::beside(&repo));
        revisions(&repo, "", "R-1", end).unwrap();
        keep(&repo, "", Some(end), &Kept::beside(&repo));
    }
    let count = facts(&stand.0.repo()).unwrap().commits.len();
    assert!((1..67).contains(&count), "{count}");
}

#[test]
fn nothing_is_kept_of_a_history_that_is_cut_off() {
    let stand = Stand::committed();
    stand.edit(R_2, "1.5 *", "1.6 *").0.commit("Tighten");
    let repo = stand.0.repo();
    std::fs::write(repo.common_dir().join("shallow"), format!("{}\n", repo.head().unwrap().unwrap())).unwrap();
    same(&stand);
    assert!(facts(&stand.0.repo()).is_none());
}
