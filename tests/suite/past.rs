use crate::support::TestRepo;

/// Every command that reads answers as of a commit what it answers where that commit is checked out.
#[test]
fn at_a_commit_is_as_if_it_were_checked_out() {
    let repo = TestRepo::demo();
    let asked: &[&[&str]] = &[
        &["before", "hot-fire", "--all"],
        &["before", "hot-fire", "--next"],
        &["check", "--notes"],
        &["matrix"],
        &["show", "ACT-010"],
        &["show", "MOV/SN02"],
        &["show", "cold-flow"],
        &["show", "TQ-01"],
        &["changes", "PDR..TRR-1"],
        &["history", "ACT-010"],
        &["trend", "hot-fire"],
        &["packet", "hot-fire"],
        &["concepts", "MOV-ACT"],
        &["impact", "ACT-010"],
        &["impact", "MOV", "--revision", "Z"],
        &["calc", "AN-003"],
        &["sheet", "TP-03", "--serial", "MOV/SN02"],
    ];
    for commit in ["PDR", "TRR-1"] {
        let there = TestRepo::demo();
        there.git(&["checkout", "--quiet", "--detach", commit]);
        for arguments in asked {
            let formats: &[&[&str]] = match arguments[0] {
                "packet" => &[&["-o", "-"]],
                _ => &[&[], &["--format", "json"]],
            };
            for format in formats {
                let arguments = [*arguments, *format].concat();
                let (past, now) = (repo.run(&[&arguments[..], &["--at", commit]].concat()), there.run(&arguments));
                assert_eq!(past.code, now.code, "{arguments:?} at {commit}: {}\n{}", past.err, now.err);
                let pair = past.out.lines().zip(now.out.lines()).find(|(a, b)| a != b);
                assert!(past.out == now.out, "{arguments:?} at {commit}: {pair:#?}");
            }
        }
    }
}
