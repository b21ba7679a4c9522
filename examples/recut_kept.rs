//! Matches cuts that were listened to before: reads lines of `OLD.song.json<TAB>NEW.song.json<TAB>ROUTINE`, each map with its
//! `NAME.heard` beside it, and prints a line of JSON for each, with the seconds that matching took.

use std::error::Error;
use std::io::{BufRead, stdin};
use std::path::Path;
use std::time::Instant;

use hoofbeat::rhythm::Heard;
use hoofbeat::song::{SongMap, kept};
use hoofbeat::{fit, recut, routine};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn Error>> {
    for line in stdin().lock().lines() {
        println!("{}", matched(&line?)?);
    }
    Ok(())
}

fn read(path: &str) -> Result<(SongMap, Heard), Box<dyn Error>> {
    let map = SongMap::load(Path::new(path))?;
    let sound = kept::find(Path::new(path), &map.recording.fingerprint);
    Ok((map, sound.ok_or("no sound beside the map")?))
}

fn matched(line: &str) -> Result<Value, Box<dyn Error>> {
    let [old, new, sheet] = line.split('\t').collect::<Vec<_>>()[..] else {
        return Err("two maps and a routine are wanted".into());
    };
    let ((old, old_sound), (new, new_sound)) = (read(old)?, read(new)?);
    let (song, sheet) = (old.view()?, routine::read(Path::new(sheet))?);
    let start = Instant::now();
    let cut = recut::recut(&song, &old_sound.features, &new, &new_sound);
    let laid = fit::fit(&song, &sheet.routine);
    let adapted = cut.same().then(|| recut::adapt(&sheet.text, &sheet.steps, &laid, &cut));
    let took_s = start.elapsed().as_secs_f64();
    let phrases = cut.song.phrases.iter().zip(&cut.phrases).map(|(phrase, carried)| {
        json!({
            "label": phrase.label, "start_s": phrase.start_s, "end_s": phrase.end_s, "counts": phrase.counts,
            "of": carried.of.map(|p| json!({"label": song.phrases[p].label, "index": p, "from": carried.from})),
        })
    });
    Ok(json!({
        "same_song": cut.same(), "what": cut.what, "shift_semitones": cut.semitones, "tempo_ratio": cut.tempo_ratio,
        "matches": cut.share, "matches_of_old": cut.share_of_old, "same_sound": cut.same_sound,
        "phrases": if cut.same() { phrases.collect() } else { Vec::new() },
        "fit": adapted.map(|adapted| json!({"fits": adapted.as_is.fits})), "took_s": took_s,
    }))
}
