//! `check` on the command line: exit codes and what it prints.

use assert_cmd::Command;

fn check(arguments: &[&str]) -> (i32, String, String) {
    let mut command = Command::cargo_bin("hoofbeat").unwrap();
    command.current_dir(env!("CARGO_MANIFEST_DIR")).arg("check").args(arguments);
    let output = command.output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn a_sound_sheet_exits_0_and_shows_feet_over_the_order() {
    let (code, out, err) = check(&["fixtures/routines/lantern-walk.txt"]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.starts_with("Lantern Walk\nwait 16 counts (2 eights)\n"), "{out}");
    assert!(out.contains("  Chorus   36 counts  starts left   leaves left  free\n"), "{out}");
    assert!(out.contains("188 counts danced (23 eights and 4)\n\nlevel and load\n"), "{out}");
    assert!(out.ends_with("\nno mistakes found\n"), "{out}");
    assert!(out.contains("stop at pain"), "{out}");
}

#[test]
fn mistakes_exit_1() {
    let (code, out, _) = check(&["fixtures/routines/ten-mistakes.txt"]);
    assert_eq!(code, 1);
    assert!(out.contains("\n7 mistakes\n  line 1, column 1: “Titel”"), "{out}");
    assert!(out.contains("\n4 questions\n  line 5, column 1: “Part A (32)”"), "{out}");
    // Level and load stand before what was found.
    let at = |words: &str| out.find(words).unwrap();
    assert!(at("level and load") < at("7 mistakes"), "{out}");
}

#[test]
fn what_is_no_sheet_exits_2_with_advice() {
    let (code, out, err) = check(&["fixtures"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("fixtures is a folder, not a file"), "{err}");
    let (code, _, err) = check(&["no such sheet.txt"]);
    assert_eq!(code, 2);
    assert!(err.contains("no such file"), "{err}");
}

#[test]
fn json_says_the_same_as_the_text() {
    let (code, out, _) = check(&["--json", "fixtures/routines/walls.txt"]);
    assert_eq!(code, 0, "{out}");
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(json["sound"], true);
    assert_eq!(json["wait"], 8);
    assert_eq!(json["order"][0]["part"], "Part A");
    assert_eq!(json["order"][0]["lead_foot"], "left");
    assert_eq!(json["order"][0]["wall_after"], "back");
    assert_eq!(json["counts_a_minute"], serde_json::Value::Null);
    assert!(json["longest_run"]["counts"].as_u64().unwrap() > 0, "{out}");
}
