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

#[test]
fn captions_count_each_eight_along() {
    let desk = Desk::new();
    let text = exported(&desk, "captions");
    // WebVTT, W3C Recommendation: the file begins with the word, cues are parted by empty lines.
    assert!(
        text.starts_with(
            "WEBVTT\n\n00:00:01.860 --> 00:00:05.860\nintro, 1 of 2\n1 <00:00:02.360>2 "
        )
    );
    let cues: Vec<&str> = text.trim_end().split("\n\n").skip(1).collect();
    assert_eq!(cues.len(), 2 + 4 + 5 + 4 + 5 + 7);
    // The chorus of 36 counts ends with an eight of four.
    let short = cues.iter().find(|cue| cue.contains("chorus 1, 5 of 5")).unwrap();
    assert!(short.starts_with("00:00:41.860 --> 00:00:43.860\n"));
    assert!(short.ends_with(">4"));
    assert!(cues.windows(2).all(|pair| pair[0][17..29] == pair[1][..12]), "cues meet");
}

#[test]
fn a_midi_tempo_map_puts_every_count_at_its_time() {
    let desk = Desk::new();
    // Uneven beats, an odd bar and a pickup.
    desk.did("tap 10.1 10.55 11.1 11.6 12.17 12.6");
    let to = desk.folder.path().join("song.mid");
    let answer = desk.run("export", &["--as", "midi", "-o", "song.mid"], "");
    assert_eq!(answer.code, 0, "{}", answer.err);
    let bytes = std::fs::read(to).unwrap();
    let smf = midly::Smf::parse(&bytes).unwrap();
    // Standard MIDI Files 1.0: division in ticks to a quarter note, tempo in microseconds to one.
    let midly::Timing::Metrical(division) = smf.header.timing else { panic!("no ticks") };
    let (mut time_s, mut tempo_us) = (0.0, 500_000.0);
    let (mut markers, mut signatures, mut quarters) = (Vec::new(), Vec::new(), Vec::new());
    let ticks = f64::from(division.as_int());
    let mut tick = 0;
    for event in &smf.tracks[0] {
        for _ in 0..event.delta.as_int() {
            if tick % u32::from(division.as_int()) == 0 {
                quarters.push(time_s);
            }
            time_s += tempo_us / ticks / 1e6;
            tick += 1;
        }
        match event.kind {
            midly::TrackEventKind::Meta(midly::MetaMessage::Tempo(us)) => {
                tempo_us = f64::from(us.as_int())
            }
            midly::TrackEventKind::Meta(midly::MetaMessage::Marker(name)) => {
                markers.push((String::from_utf8(name.to_vec()).unwrap(), time_s));
            }
            midly::TrackEventKind::Meta(midly::MetaMessage::TimeSignature(beats, 2, ..)) => {
                signatures.push((beats, time_s));
            }
            _ => {}
        }
    }
    let map = desk.load();
    for beat_s in map.corrected_grid().beats_s {
        let off = quarters.iter().map(|q| (q - beat_s).abs()).fold(f64::MAX, f64::min);
        assert!(off < 0.001, "beat at {beat_s} is {off} s off");
    }
    let view = map.view().unwrap();
    assert_eq!(markers.len(), view.phrases.len());
    for ((name, at), (phrase, expected)) in
        markers.iter().zip(view.phrases.iter().zip(view.names()))
    {
        assert_eq!(*name, expected);
        assert!((at - phrase.start_s).abs() < 0.001);
    }
    // Two quarters lead in and two beats of pickup: one bar of four. The taps make one bar of five.
    let grid = map.corrected_grid();
    let five = grid.downbeats.windows(2).find(|pair| pair[1].0 - pair[0].0 == 5).unwrap();
    let at = grid.beats_s[five[0].0];
    assert_eq!(signatures.iter().map(|(beats, _)| *beats).collect::<Vec<_>>(), [4, 5, 4]);
    assert!(signatures[0].1 == 0.0 && (signatures[1].1 - at).abs() < 0.001);
}

#[test]
fn jams_hold_beats_and_segments() {
    let desk = Desk::new();
    let value: serde_json::Value = serde_json::from_str(&exported(&desk, "jams")).unwrap();
    let annotations = value["annotations"].as_array().unwrap();
    let named = |name: &str| annotations.iter().find(|a| a["namespace"] == name).unwrap();
    let beats = named("beat")["data"].as_array().unwrap();
    assert_eq!(
        (beats.len(), &beats[2]["value"], &beats[2]["time"]),
        (210, &1.into(), &1.86.into())
    );
    let segments = named("segment_open")["data"].as_array().unwrap();
    assert_eq!(segments[1]["value"], "verse");
    assert_eq!(
        (segments[1]["time"].as_f64(), segments[1]["duration"].as_f64()),
        (Some(9.86), Some(16.0))
    );
    assert_eq!(value["file_metadata"]["duration"], 107.0);
}

#[test]
fn every_format_is_written_for_odd_songs_and_refused_without_beats() {
    use hoofbeat::song::Mark;
    use hoofbeat::teach::Format;
    let mut empty = super::support::lamp_oil();
    empty.heard = hoofbeat::song::Heard::default();
    let mut one_hole = empty.clone();
    one_hole.recording.duration_s = 7000.0;
    one_hole.mark(&Mark::Tap(vec![0.0, 40.0, 40.5, 6000.0])).unwrap();
    for format in Format::ALL {
        let routine = hoofbeat::routine::Routine::default();
        let laid = hoofbeat::fit::fit(&one_hole.view().unwrap(), &routine);
        let dance = Some((&routine, &laid));
        let none = format.bytes(&empty, dance);
        assert!(matches!(none, Err(hoofbeat::Error::NoPulse { .. })), "{format:?}");
        assert!(!format.bytes(&one_hole, dance).unwrap().is_empty(), "{format:?}");
    }
    let calls = Format::Calls.bytes(&one_hole, None);
    assert!(matches!(calls, Err(hoofbeat::Error::Usage(_))));
    let bytes = Format::Midi.bytes(&one_hole, None).unwrap();
    let smf = midly::Smf::parse(&bytes).unwrap();
    assert_eq!(smf.tracks.len(), 2);
}
