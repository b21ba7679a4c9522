//! Exports, as the files say.

use super::support::Desk;

fn exported(desk: &Desk, format: &str) -> String {
    let answer = desk.run("export", &["--as", format], "");
    assert_eq!(answer.code, 0, "{}", answer.err);
    answer.out
}

#[test]
fn beats_are_seconds_and_place_in_the_bar() {
    let desk = Desk::new();
    let text = exported(&desk, "beats");
    assert!(text.starts_with("0.860\t3\n1.360\t4\n1.860\t1\n2.360\t2\n"));
    assert_eq!(text.lines().count(), 210);
    desk.did("half");
    assert!(exported(&desk, "beats").starts_with("0.860\t2\n1.860\t1\n2.860\t2\n"));
}

#[test]
fn phrases_are_start_end_label_and_counts() {
    let desk = Desk::new();
    desk.did("label chorus 1 as my chorus");
    let text = exported(&desk, "phrases");
    assert!(text.starts_with(
        "1.860\t9.860\tintro\t16\n9.860\t25.860\tverse\t32\n25.860\t43.860\tmy chorus\t36\n"
    ));
    assert_eq!(text.lines().last().unwrap(), "77.860\t105.860\tending\t56");
}

#[test]
fn a_file_that_is_there_is_kept_unless_forced() {
    let desk = Desk::new();
    let to = desk.folder.path().join("beats.txt");
    std::fs::write(&to, "mine").unwrap();
    let answer = desk.run("export", &["--as", "beats", "-o", "beats.txt"], "");
    assert_eq!(answer.code, 2);
    assert_eq!(std::fs::read_to_string(&to).unwrap(), "mine");
    desk.run("export", &["--as", "beats", "-o", "beats.txt", "--force"], "");
    assert!(std::fs::read_to_string(&to).unwrap().starts_with("0.860\t3\n"));
}
