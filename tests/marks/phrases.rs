//! Marks on phrases: set, move, label, split, remove, the whole form, listing.

use super::support::{Desk, form_of};

const HEARD: &str =
    "intro 1+16, verse 17+32, chorus 49+36, verse 85+32, chorus 117+36, ending 153+56";

#[test]
fn the_list_shows_counts_eights_times_and_where_each_comes_from() {
    let desk = Desk::new();
    desk.did("label verse 2 as refrain");
    let answer = desk.mark("list");
    let row = |name: &str| answer.out.lines().find(|l| l.trim().starts_with(name)).unwrap();
    let fields = |name: &str| row(name).split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(fields("intro"), "intro 1-16 16 2 eights 0:01.86-0:09.86 heard");
    assert_eq!(fields("chorus 1"), "chorus 1 B 49-84 36 4 eights and 4 * 0:25.86-0:43.86 heard");
    assert_eq!(fields("refrain"), "refrain C 85-116 32 4 eights 0:43.86-0:59.86 set");
    assert!(answer.out.contains("* not whole eights"));
    assert!(answer.out.contains(
        "208 counts (26 eights) at 120 a minute, 4 to the bar, from 0:01.86 to 1:45.86; a wait of 16 \
         counts, until 0:09.86"
    ));
    assert_eq!(answer.out, desk.mark("").out, "nothing to mark is a list");
}

#[test]
fn the_list_changes_nothing() {
    let desk = Desk::new();
    let before = desk.text();
    desk.mark("list");
    assert_eq!(desk.text(), before);
}

#[test]
fn a_phrase_is_set_by_count() {
    Desk::new().marks(
        "phrase 33 fiddle",
        "intro 1+16, verse 17+16, fiddle 33+16, chorus 49+36, verse 85+32, chorus 117+36, ending 153+56",
    );
}

#[test]
fn a_phrase_is_set_by_time_at_the_nearest_count() {
    let desk = Desk::new();
    // Count 33 is at 0:17.86.
    assert_eq!(desk.did("phrase 0:17.8 verse 2"), "verse 2 starts on count 33, 0:17.86");
    assert!(desk.form().contains("verse 17+16, verse 2 33+16"));
}

#[test]
fn several_phrases_are_set_at_once_and_undone_at_once() {
    let desk = Desk::new();
    desk.marks(
        "phrase 33 fiddle, 69 banjo at the barn",
        "intro 1+16, verse 17+16, fiddle 33+16, chorus 49+20, banjo at the barn 69+16, verse 85+32, \
         chorus 117+36, ending 153+56",
    );
}

#[test]
fn a_set_phrase_takes_the_place_of_the_suggestion_beside_it() {
    Desk::new().marks(
        "phrase 86 verse",
        "intro 1+16, verse 17+32, chorus 49+37, verse 86+31, chorus 117+36, ending 153+56",
    );
}

#[test]
fn what_a_mark_takes_the_place_of_is_named() {
    let desk = Desk::new();
    let said = "bridge starts on count 86, 0:44.36, in place of verse 2";
    assert_eq!(desk.did("phrase 86 bridge"), said);
    let said = "verse moved from count 17 to count 49, 0:25.86, in place of chorus 1";
    assert_eq!(desk.did("move verse to 49"), said);
}

#[test]
fn very_short_phrases_are_pointed_out() {
    let desk = Desk::new();
    desk.did("phrase 33 a");
    let answer = desk.mark("phrase 35 b");
    assert!(answer.out.contains("note: a is only 2 counts long now"), "{}", answer.out);
}

#[test]
fn a_suggested_phrase_moves_by_name_and_does_not_come_back() {
    Desk::new().marks(
        "move verse 2 to 93",
        "intro 1+16, verse 17+32, chorus 49+44, verse 93+24, chorus 117+36, ending 153+56",
    );
}

#[test]
fn a_set_phrase_moves_by_count_and_by_time() {
    let desk = Desk::new();
    desk.did("phrase 33 fiddle");
    assert_eq!(desk.did("move 33 to 37"), "fiddle moved from count 33 to count 37, 0:19.86");
    assert_eq!(
        desk.did("move 0:20.1 to 0:15.86"),
        "fiddle moved from count 37 to count 29, 0:15.86"
    );
    assert!(desk.form().contains("verse 17+12, fiddle 29+20"));
}

#[test]
fn a_label_changes_a_suggestion_into_a_set_phrase() {
    let desk = Desk::new();
    desk.marks(
        "label 20 Barn Door",
        "intro 1+16, Barn Door 17+32, chorus 49+36, verse 85+32, chorus 117+36, ending 153+56",
    );
    let set = desk.load().set.phrases;
    assert_eq!((set.len(), set[0].start_s), (1, 9.86));
}

#[test]
fn the_intro_can_be_given_another_name() {
    let desk = Desk::new();
    desk.did("label intro as vamp");
    assert!(desk.form().starts_with("vamp 1+16, verse"));
    assert!(desk.mark("").out.contains("no wait"));
}

#[test]
fn a_split_makes_two_of_one() {
    let desk = Desk::new();
    desk.marks(
        "split ending at 201 as tag",
        "intro 1+16, verse 17+32, chorus 49+36, verse 85+32, chorus 117+36, ending 153+48, tag 201+8",
    );
    assert_eq!(
        desk.did("split 33"),
        "verse 1 split on count 33, 0:17.86: 16 counts, 2 eights and, as verse, 16 counts, 2 eights"
    );
}

#[test]
fn a_split_less_than_a_bar_in_keeps_both() {
    Desk::new().marks(
        "split 17 at 19 as run",
        "intro 1+16, verse 17+2, run 19+30, chorus 49+36, verse 85+32, chorus 117+36, ending 153+56",
    );
}

#[test]
fn a_removed_suggestion_stays_away() {
    Desk::new().marks(
        "remove chorus 2",
        "intro 1+16, verse 17+32, chorus 49+36, verse 85+68, ending 153+56",
    );
}

#[test]
fn a_removed_mark_takes_the_suggestion_under_it_along() {
    let desk = Desk::new();
    desk.did("phrase 87 refrain");
    desk.marks(
        "remove refrain",
        "intro 1+16, verse 17+32, chorus 49+68, chorus 117+36, ending 153+56",
    );
    desk.did("form as-heard");
    assert_eq!(desk.form(), HEARD);
}

#[test]
fn several_are_removed_by_the_names_in_the_list() {
    let desk = Desk::new();
    desk.marks("remove verse 1, verse 2", "intro 1+48, chorus 49+68, chorus 117+36, ending 153+56");
}

#[test]
fn the_form_is_a_list_of_lengths() {
    let desk = Desk::new();
    desk.marks(
        "form intro 16, verse 4 eights, chorus 4x8 and 4, bridge 2 eights, tag 2 bars, ending",
        "intro 1+16, verse 17+32, chorus 49+36, bridge 85+16, tag 101+8, ending 109+100",
    );
    assert!(desk.load().set.phrases_complete);
}

#[test]
fn counts_left_over_are_named_with_their_place() {
    let desk = Desk::new();
    let answer = desk.mark("form intro 16, verse 32, chorus 36, verse 32, chorus 36, ending 48");
    assert!(
        answer
            .out
            .contains("note: 8 counts of the song are left over after ending, from 1:41.86 on"),
        "{}",
        answer.out
    );
    assert_eq!(desk.form().split(", ").last().unwrap(), "ending 153+48");
    // A later form is laid on the whole song again.
    desk.did("form intro 16, ending");
    assert_eq!(desk.form(), "intro 1+16, ending 17+192");
}

#[test]
fn counts_missing_at_the_end_are_named() {
    let desk = Desk::new();
    let answer = desk.mark("form intro 16, verse 160, ending 64");
    assert!(
        answer.out.contains(
            "note: the song has 32 counts fewer than the list: ending gets 32 of its 64 counts"
        ),
        "{}",
        answer.out
    );
}

#[test]
fn a_form_past_the_end_is_refused_with_the_count() {
    let desk = Desk::new();
    assert_eq!(
        desk.refused("form intro 16, verse 200, ending 16"),
        "error: the list has 232 counts, the song only 208: 24 counts are missing, and ending would \
         start on count 217, past the end. Check the lengths\n"
    );
}

#[test]
fn a_form_of_twice_the_counts_points_at_the_pulse() {
    let desk = Desk::new();
    let words = desk.refused("form intro 32, verse 64, chorus 72, verse 64, chorus 72, ending 112");
    assert!(words.contains("perhaps the pulse is too slow; try \"double\" first"), "{words}");
    desk.did("double");
    desk.did("form intro 32, verse 64, chorus 72, verse 64, chorus 72, ending 112");
    assert_eq!(desk.form().split(", ").last().unwrap(), "ending 305+112");
}

#[test]
fn a_form_is_read_from_standard_input() {
    let desk = Desk::new();
    let answer = desk.run("mark", &["form", "-"], "intro 16\nverse 4 eights\r\nending\n");
    assert_eq!(answer.code, 0, "{}", answer.err);
    assert_eq!(desk.form(), "intro 1+16, verse 17+32, ending 49+160");
}

#[test]
fn a_dry_run_shows_and_changes_nothing() {
    let desk = Desk::new();
    let before = desk.text();
    let answer = desk.mark("phrase 33 fiddle --dry-run");
    assert!(answer.out.starts_with("would be: fiddle starts on count 33, 0:17.86\n"));
    assert!(answer.out.contains("fiddle"));
    assert_eq!(desk.text(), before);
}

#[test]
fn json_answers_are_json() {
    let desk = Desk::new();
    let answer = desk.mark("phrase 33 fiddle --json");
    let value: serde_json::Value = serde_json::from_str(&answer.out).unwrap();
    assert_eq!(value["changed"], true);
    assert_eq!(value["song"]["wait"], 16);
    assert_eq!(value["phrases"][2]["label"], "fiddle");
    assert_eq!(value["phrases"][2]["start_count"], 33);
    assert_eq!(value["phrases"][2]["start_s"], 17.86);
    assert_eq!(value["phrases"][2]["set"], true);
}

#[test]
fn marking_the_same_twice_changes_nothing_and_keeps_undo() {
    let desk = Desk::new();
    desk.did("phrase 33 fiddle");
    let before = desk.text();
    assert!(desk.did("phrase 33 fiddle").starts_with("nothing changed: "));
    assert_eq!(desk.text(), before);
    desk.did("undo");
    assert_eq!(desk.form(), HEARD);
}

#[test]
fn marks_survive_listening_again_with_other_beats() {
    let desk = Desk::new();
    desk.did("form intro 16, verse 32, chorus 36, ending");
    let mut map = desk.load();
    // Heard at twice the level next time, a beat earlier, and nothing suggested.
    let mut heard = map.heard.clone();
    heard.grid.beats_s = (0..420).map(|b| 0.36 + 0.25 * f64::from(b)).collect();
    heard.grid.downbeats = (6..420).step_by(4).map(hoofbeat::units::Beat).collect();
    heard.first_count_beat = hoofbeat::units::Beat(6);
    heard.phrases.clear();
    let recording = map.recording.clone();
    map.listen_again(heard, recording);
    assert_eq!(form_of(&map), "intro 1+32, verse 33+64, chorus 97+72, ending 169+246");
    map.mark(&hoofbeat::song::Mark::Half).unwrap();
    assert_eq!(form_of(&map), "intro 1+16, verse 17+32, chorus 49+36, ending 85+123");
}

#[test]
fn a_changed_map_can_be_saved_elsewhere() {
    let desk = Desk::new();
    let before = desk.text();
    let answer = desk.mark("phrase 33 fiddle -o other.song.json");
    assert_eq!(answer.code, 0, "{}", answer.err);
    assert_eq!(desk.text(), before);
    let other = hoofbeat::song::SongMap::load(&desk.folder.path().join("other.song.json")).unwrap();
    assert!(form_of(&other).contains("fiddle 33+16"));
    assert_eq!(desk.mark("phrase 33 fiddle -o other.song.json").code, 2, "it is there already");
    assert_eq!(desk.mark("phrase 33 fiddle -o other.song.json --force").code, 0);
    let printed = desk.mark("phrase 33 fiddle -o -").out;
    assert_eq!(serde_json::from_str::<hoofbeat::song::SongMap>(&printed).unwrap(), other);
}

#[test]
fn marks_made_by_several_programs_at_once_are_all_kept() {
    let desk = Desk::new();
    std::thread::scope(|scope| {
        for place in 0..8 {
            let desk = &desk;
            scope.spawn(move || desk.did(&format!("phrase {} x{place}", 25 + 20 * place)));
        }
    });
    let labels: Vec<String> = desk.load().set.phrases.into_iter().map(|p| p.label).collect();
    assert_eq!(labels, ["x0", "x1", "x2", "x3", "x4", "x5", "x6", "x7"]);
    assert_eq!(std::fs::read_dir(desk.folder.path()).unwrap().count(), 1, "nothing is left behind");
}

#[test]
fn names_in_any_script_keep_the_columns() {
    let desk = Desk::new();
    desk.did("label 17 as \u{5e9}\u{5d9}\u{5e8} \u{1f3b6}");
    desk.did("label 49 as \u{202e}refrain");
    assert!(desk.form().contains("\u{5e9}\u{5d9}\u{5e8} \u{1f3b6} 17+32, refrain 49+36"));
}
