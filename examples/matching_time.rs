//! How long matching takes beyond listening: `matching_time OLD.song.json NEW.song.json [ROUTINE]`, each map with its
//! `NAME.heard` beside it. Prints the median of five runs in seconds: match, new map, and the routine adapted.

use std::error::Error;
use std::path::Path;
use std::time::Instant;

use hoofbeat::song::{SongMap, kept};
use hoofbeat::{fit, recut, routine};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [old, new, sheet @ ..] = &args[..] else { return Err("two maps are wanted".into()) };
    let read = |path: &str| -> Result<_, Box<dyn Error>> {
        let map = SongMap::load(Path::new(path))?;
        let sound = kept::find(Path::new(path), &map.recording.fingerprint);
        Ok((map, sound.ok_or("no sound beside the map")?))
    };
    let (old, old_sound) = read(old)?;
    let (new, new_sound) = read(new)?;
    let new = SongMap::new(new.recording.clone(), new.heard_unaided().clone());
    let song = old.view()?;
    let sheet = sheet.first().map(|path| routine::read(Path::new(path))).transpose()?;
    let mut took: Vec<f64> = (0..5)
        .map(|_| {
            let start = Instant::now();
            let cut = recut::recut(&song, &old_sound.features, &new, &new_sound);
            if let Some(sheet) = &sheet {
                let laid = fit::fit(&song, &sheet.routine);
                std::hint::black_box(recut::adapt(&sheet.text, &laid, &cut));
            }
            start.elapsed().as_secs_f64()
        })
        .collect();
    took.sort_by(f64::total_cmp);
    println!("{:.3}", took[2]);
    Ok(())
}
