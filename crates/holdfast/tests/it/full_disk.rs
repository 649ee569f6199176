//! A disk that is really full: a small memory file system, where the test may mount one. (The
//! journal's own test makes the database believe it everywhere.)

use std::process::Command;

use crate::run::{Desk, logger};

#[test]
fn a_full_disk_is_one_line_and_loses_nothing() {
    let d = Desk::new();
    let small = d.path().join("small");
    std::fs::create_dir(&small).unwrap();
    let mounted = Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=3m", "tmpfs"])
        .arg(&small)
        .status()
        .is_ok_and(|s| s.success());
    if !mounted {
        println!("not allowed to mount here; only the journal's own test covers a full disk");
        return;
    }
    d.file("some.csv", logger(0, 2000));
    d.file("many.csv", logger(100, 80_000));
    let voyage = small.join("v.holdfast").display().to_string();
    d.json(&["take", "some.csv", "--voyage", &voyage]);
    let root = d.json(&["verify", &voyage])["root"].clone();
    let message = d.refused(&["take", "many.csv", "--voyage", &voyage]);
    let after = d.json(&["verify", &voyage]);
    let again = d.json(&["take", "some.csv", "--voyage", &voyage]);
    Command::new("umount").arg(&small).status().unwrap();
    assert!(message.contains("no room left on the disk"), "{message}");
    assert_eq!((&after["intact"], &after["root"]), (&true.into(), &root));
    assert_eq!(again["already_held"], 2000);
}
