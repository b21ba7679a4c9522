//! Marks on beats: first count, end, pulse, bars, tapping.

use super::support::Desk;

const HEARD: &str =
    "intro 1+16, verse 17+32, chorus 49+36, verse 85+32, chorus 117+36, ending 153+56";

fn first_count_s(desk: &Desk) -> f64 {
    desk.load().view().unwrap().counts.times_s[0]
}

#[test]
fn the_first_count_is_set_by_time() {
    let desk = Desk::new();
    desk.marks(
        "first 0:03.9",
        "intro 1+12, verse 13+32, chorus 45+36, verse 81+32, chorus 113+36, ending 149+56",
    );
    assert_eq!(first_count_s(&desk), 3.86);
    assert_eq!(desk.did("first 5"), "counting starts at 0:05.86; that was count 5");
    assert_eq!(desk.did("first -3"), "counting starts at 0:03.86; that was count -3");
    desk.did("first as-heard");
    assert_eq!(desk.form(), HEARD);
}

#[test]
fn the_end_is_the_last_count_or_the_time_when_it_is_over() {
    let desk = Desk::new();
    let cut = "intro 1+16, verse 17+32, chorus 49+36, verse 85+32, chorus 117+36, ending 153+48";
    desk.marks("end 200", cut);
    desk.did("end as-heard");
    assert_eq!(desk.did("end 1:41.86"), "the last count is 200; it is over at 1:41.86");
    assert_eq!(desk.form(), cut);
    assert!(desk.refused("phrase 201 tag").contains("the last count is 200"));
    // A later end counts from the whole song.
    desk.did("end 204");
    assert_eq!(desk.form().split(", ").last().unwrap(), "ending 153+52");
}

#[test]
fn halving_keeps_the_first_count_and_halves_lengths() {
    let desk = Desk::new();
    desk.marks(
        "half",
        "intro 1+8, verse 9+16, chorus 25+18, verse 43+16, chorus 59+18, ending 77+28",
    );
    assert_eq!(first_count_s(&desk), 1.86);
    desk.did("double");
    assert_eq!(desk.form(), HEARD);
    desk.marks(
        "double",
        "intro 1+32, verse 33+64, chorus 97+72, verse 169+64, chorus 233+72, ending 305+112",
    );
    desk.did("pulse as-heard");
    assert_eq!(desk.form(), HEARD);
}

#[test]
fn halving_goes_by_the_first_count_that_was_set() {
    let desk = Desk::new();
    desk.did("first 0:02.36");
    desk.did("half");
    assert_eq!(first_count_s(&desk), 2.36);
    assert_eq!(desk.load().view().unwrap().counts.times_s[1], 3.36);
}

#[test]
fn the_pulse_is_set_by_counts_a_minute() {
    let desk = Desk::new();
    assert_eq!(desk.did("pulse 61"), "counts are one to 2 beats, 60 a minute");
    assert_eq!(desk.did("pulse 360"), "counts are 3 to a beat, 360 a minute");
    assert_eq!(desk.did("pulse 40"), "counts are one to 3 beats, 40 a minute");
    let words = desk.refused("pulse 90");
    assert!(words.contains("90 counts a minute do not go with the beats"), "{words}");
    assert!(words.contains("60, 120, 240"), "{words}");
    assert!(desk.refused("pulse fast").contains("\"fast\" is no pulse"));
}

#[test]
fn no_pulse_is_halved_for_ever() {
    let desk = Desk::new();
    desk.did("half");
    desk.did("half");
    assert!(desk.refused("half").contains("no pulse further from the beats"));
}

#[test]
fn bars_shift_by_counts_and_carry_the_first_count() {
    let desk = Desk::new();
    desk.marks(
        "bar +1",
        "intro 1+16, verse 17+32, chorus 49+36, verse 85+32, chorus 117+36, ending 153+55",
    );
    assert_eq!(first_count_s(&desk), 2.36);
    desk.did("bar -1");
    assert_eq!((desk.form().as_str(), first_count_s(&desk)), (HEARD, 1.86));
    assert!(desk.did("bar +4").starts_with("nothing changed"));
    desk.did("bar -1");
    assert_eq!(first_count_s(&desk), 1.36);
    desk.did("bar as-heard");
    assert_eq!(first_count_s(&desk), 1.86);
}

#[test]
fn a_bar_starts_at_a_time_and_a_set_first_count_stays() {
    let desk = Desk::new();
    desk.did("first 0:01.86");
    desk.did("bar 0:10.9");
    let view = desk.load().view().unwrap();
    assert_eq!(view.counts.times_s[0], 1.86);
    // 10.86 is count 19; so count 3 starts a bar too.
    assert_eq!(view.counts.bar_positions[..4], [3, 4, 1, 2]);
}

#[test]
fn beats_to_the_bar_are_laid_from_count_1() {
    let desk = Desk::new();
    desk.marks("beats-per-bar 3", HEARD);
    let view = desk.load().view().unwrap();
    assert_eq!(view.counts_per_bar, 3);
    assert_eq!(view.counts.bar_positions[..7], [1, 2, 3, 1, 2, 3, 1]);
    assert!(desk.refused("beats-per-bar 0").contains("0 counts to the bar cannot be"));
    assert!(desk.refused("beats-per-bar many").contains("\"many\""));
}

#[test]
fn a_stretch_is_tapped_anew() {
    let desk = Desk::new();
    // Three beats where five were heard, from 0:09.86 to 0:11.86.
    desk.marks(
        "tap 0:09.86 10.86 0:11.86",
        "intro 1+16, verse 17+30, chorus 47+36, verse 83+32, chorus 115+36, ending 151+56",
    );
    desk.did("tap as-heard");
    assert_eq!(desk.form(), HEARD);
}

#[test]
fn times_are_tapped_from_a_file_and_from_standard_input() {
    let desk = Desk::new();
    std::fs::write(desk.folder.path().join("taps.txt"), "9.86\t1\n10.86\t2\n11.86\t3\n").unwrap();
    desk.did("tap taps.txt");
    let from_file = desk.load().set.tapped;
    desk.did("undo");
    let answer = desk.run("mark", &["tap", "-"], "9.86 10.86\n0:11.86\n");
    assert_eq!(answer.code, 0, "{}", answer.err);
    assert_eq!(desk.load().set.tapped, from_file);
}

#[test]
fn exported_beats_can_be_tapped_back() {
    let desk = Desk::new();
    let answer = desk.run("export", &["--as", "beats", "-o", "beats.txt"], "");
    assert_eq!(answer.code, 0, "{}", answer.err);
    desk.did("tap beats.txt");
    assert_eq!(desk.load().view().unwrap().counts.len(), 208);
    assert_eq!(desk.form(), HEARD);
}

#[test]
fn a_missed_tap_is_pointed_out() {
    let desk = Desk::new();
    let answer = desk.mark("tap 10 10.5 11 12 12.5");
    assert!(answer.out.contains("note: a tap may be missing between 0:11.00 and 0:12.00"));
}

#[test]
fn taps_at_half_the_pace_are_pointed_out() {
    let desk = Desk::new();
    let answer = desk.mark("tap 9.86 10.86 11.86 12.86");
    assert!(
        answer.out.contains("note: the taps go half as fast as the beats heard"),
        "{}",
        answer.out
    );
}

#[test]
fn taps_that_are_no_beats_are_refused() {
    let desk = Desk::new();
    assert!(desk.refused("tap 10").contains("only one time was typed"));
    assert!(
        desk.refused("tap 10 11 10.5").contains("time 3 of the list, 0:10.50, does not come after")
    );
    assert!(desk.refused("tap 10 10.02").contains("less than 0.1 s apart"));
    assert!(desk.refused("tap 10 110").contains("past the end of the recording, which is 1:47.00"));
    assert!(desk.refused("tap 10 soon").contains("\"soon\", number 2 of the list, is no time"));
    assert!(desk.refused("tap missing.txt").contains("\"missing.txt\""));
}

#[test]
fn a_later_tap_replaces_an_earlier_one_under_it() {
    let desk = Desk::new();
    desk.did("tap 10.1 10.6 11.1");
    desk.did("tap 9.9 10.4 10.9 11.4");
    assert_eq!(desk.load().set.tapped.len(), 1);
}
