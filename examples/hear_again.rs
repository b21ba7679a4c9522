//! Hears songs again from what was kept beside their maps, so that a change to beats or phrases is measured without decoding:
//! `hear_again OUT MAP…` writes a map of each name into the folder OUT.

use std::error::Error;
use std::path::Path;

use hoofbeat::rhythm::{Constraints, solve};
use hoofbeat::song::{Heard, SongMap, heard_of, kept};

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [out, maps @ ..] = &args[..] else { return Err("hear_again OUT MAP…".into()) };
    for map in maps.iter().map(Path::new) {
        let old = SongMap::load(map)?;
        let sound = kept::find(map, &old.recording.fingerprint).ok_or("no sound beside the map")?;
        let heard = match solve(&sound.activations, &sound.features, &Constraints::default()) {
            Ok(grid) => heard_of(&sound.features, grid),
            Err(_) => Heard::default(),
        };
        let name = map.file_name().ok_or("no name")?;
        let map = SongMap::new(old.recording, heard);
        map.save(&Path::new(out).join(name), hoofbeat::save::Overwrite::Yes)?;
    }
    Ok(())
}
