//! What cannot be done: a clear error, exit 2, nothing changed on disk.

use super::support::{Desk, lamp_oil};

#[test]
fn marks_outside_the_song_are_refused() {
    let desk = Desk::new();
    assert_eq!(
        desk.refused("phrase 300 verse"),
        "error: count 300 is past the end: the last count is 208, at 1:45.36\n"
    );
    assert!(desk.refused("phrase 0 verse").contains("the first count is 1, at 0:01.86"));
    assert!(desk.refused("phrase 2:00 verse").contains("2:00 is past the end"));
    assert!(
        desk.refused("phrase 0:00.5 verse")
            .contains("before counting starts: count 1 is at 0:01.86")
    );
    assert!(desk.refused("first 3:00").contains("beats are known from 0:00.86 to 1:45.36"));
    assert!(desk.refused("first 999").contains("there is no beat at 999"));
    assert!(desk.refused("end 999").contains("past the end"));
}

#[test]
fn two_phrases_on_one_count_are_refused() {
    let desk = Desk::new();
    desk.did("phrase 33 fiddle");
    let words = desk.refused("phrase 33 banjo");
    assert!(words.contains("fiddle is marked on count 33 already"), "{words}");
    assert!(words.contains("label 33 banjo"), "{words}");
    assert!(desk.refused("phrase 40 a, 40 b").contains("two phrases cannot start on count 40"));
    desk.did("label 49 as refrain");
    assert!(desk.refused("move fiddle to 49").contains("refrain starts on count 49"));
    assert!(desk.refused("move verse 1 to 40").contains("fiddle starts on count 33"));
    assert!(desk.refused("move fiddle to 90").contains("refrain starts on count 49"));
}

#[test]
fn unknown_phrases_are_answered_with_the_nearest() {
    let desk = Desk::new();
    assert!(
        desk.refused("move vrse 2 to 90").contains("\"vrse 2\"; did you mean verse 2 on count 85?")
    );
    assert!(desk.refused("remove 90").contains("no phrase starts at 90; the nearest is verse 2"));
    let words = desk.refused("label chorus as refrain");
    assert!(
        words.contains("could be 2 phrases: chorus 1 on count 49, chorus 2 on count 117"),
        "{words}"
    );
}

#[test]
fn what_cannot_be_moved_or_removed_says_why() {
    let desk = Desk::new();
    assert!(desk.refused("remove 1").contains("where something always starts"));
    assert!(desk.refused("move intro to 9").contains("always starts on count 1"));
    assert!(desk.refused("split 17 at 17").contains("it has counts 17 to 48"));
    assert!(desk.refused("split verse 1 at 49").contains("it has counts 17 to 48"));
}

#[test]
fn words_that_mean_nothing_are_quoted_with_an_example() {
    let desk = Desk::new();
    assert!(desk.refused("phrase verse").contains("\"33 verse\""));
    assert!(desk.refused("phrase 33").contains("\"33\" has no name"));
    assert!(desk.refused("phrase 33 49").contains("\"49\" is a count or a time, not a name"));
    assert!(desk.refused("move verse 2").contains("\"verse 2\" does not say where to move"));
    assert!(desk.refused("label verse 2").contains("as in \"33 chorus\""));
    assert!(desk.refused("first now").contains("\"now\" is neither a count nor a time"));
    assert!(desk.refused("bar sideways").contains("\"sideways\""));
    assert!(
        desk.refused("form intro 16, verse, chorus 32").contains("item 2 of the form, \"verse\"")
    );
    let long = "x".repeat(200);
    assert!(desk.refused(&format!("phrase 33 {long}")).contains("too long"));
}

#[test]
fn nothing_to_undo_says_so() {
    assert!(Desk::new().refused("undo").contains("there is no change to take back"));
}

#[test]
fn a_map_without_beats_asks_for_taps() {
    let mut map = lamp_oil();
    map.heard = hoofbeat::song::Heard::default();
    let desk = Desk::with(&map);
    for words in ["phrase 33 verse", "half", "first 1", "bar +1", "form intro 16", "end 8", "bar 1"]
    {
        let err = desk.refused(words);
        assert!(err.contains("no pulse found: its song map holds no beats"), "{words}: {err}");
        assert!(err.contains("mark MAP tap"), "{words}: {err}");
    }
    assert!(desk.mark("list").out.contains("no counts yet"));
    assert_eq!(desk.run("export", &["--as", "beats"], "").code, 2);
    desk.did("tap 1 1.5 2 2.5 3 3.5 4 4.5");
    assert_eq!(desk.form(), "intro 1+8");
}

#[test]
fn damaged_maps_are_refused_with_the_place() {
    let whole = Desk::new().text();
    let cases: [(&str, String, &str); 9] = [
        ("cut short", whole[..whole.len() / 2].into(), "it ends too soon"),
        ("a comma gone", whole.replacen("120,", "120", 1), "line 15, column"),
        ("NaN", whole.replacen("0.86,", "NaN,", 1), "line "),
        ("not ascending", whole.replacen("0.86, 1.36", "1.36, 0.86", 1), "does not come after"),
        ("index", whole.replacen("2, 6, 10", "2, 6, 9999", 1), "there are only 210 beats"),
        ("absurd", whole.replacen("0.86, 1.36", "0.86, 1e30", 1), "no time in a recording"),
        ("empty", String::new(), "it is empty"),
        ("other JSON", "{\"tempo\": 1}".into(), "\"format\": \"hoofbeat-song\" is missing"),
        ("text", "verse 32\n".into(), "does not start as a song map does"),
    ];
    for (name, text, expected) in cases {
        assert_ne!(text, whole, "{name}");
        let desk = Desk::with_text(text.as_bytes());
        for words in ["list", "phrase 33 verse", "undo"] {
            let err = desk.refused(words);
            assert!(err.contains(expected), "{name}, {words}: {err}");
            assert!(err.contains("not a song map that can be read"), "{name}: {err}");
        }
    }
}

#[test]
fn a_newer_map_is_left_alone() {
    let text = Desk::new().text().replacen("\"version\": 1", "\"version\": 7", 1);
    let desk = Desk::with_text(text.as_bytes());
    let err = desk.refused("phrase 33 verse");
    assert!(err.contains("song map is version 7; this release reads up to version 1"), "{err}");
    assert!(err.contains("install a newer release"), "{err}");
}

#[test]
fn bytes_that_are_no_text_and_missing_files_are_named() {
    let desk = Desk::with_text(&[0xff, 0xfb, 0x90, 0x64, 0, 1]);
    assert!(desk.refused("list").contains("it is not text"));
    std::fs::remove_file(&desk.map).unwrap();
    let answer = desk.mark("list");
    assert_eq!(answer.code, 2);
    assert!(answer.err.contains("no such file"), "{}", answer.err);
    std::fs::create_dir(&desk.map).unwrap();
    assert!(desk.mark("half").err.contains("is a folder"));
}
