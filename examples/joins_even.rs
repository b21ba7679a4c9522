//! How even beats are across joins: joins phrase starts of songs whose beats are known with each other, and cuts them to
//! lengths. Reads lines of `AUDIO<TAB>SONG.song.json<TAB>BEATS`, the map's `NAME.heard` beside it; prints for each join
//! how many milliseconds the beats across it are from even, by the true beats.

use std::error::Error;
use std::io::{BufRead, stdin};
use std::path::Path;

use hoofbeat::audio::Full;
use hoofbeat::cut::{self, Ending, Join, Joints, Limit, Piece, Plan};
use hoofbeat::song::form::BeatSounds;
use hoofbeat::song::{SongMap, SongView, kept};
use hoofbeat::units::Count;

type Failure = Box<dyn Error>;

/// Most joins of a song that are tried, of phrase starts and of cuts to a length.
const MOST: usize = 60;

fn main() -> Result<(), Failure> {
    let (mut pairs, mut cuts) = (Vec::new(), Vec::new());
    for line in stdin().lock().lines() {
        let line = line?;
        let [audio, map, beats] = line.split('\t').collect::<Vec<_>>()[..] else {
            return Err("a recording, a map and true beats are wanted".into());
        };
        let mut song = Song::read(audio, map, beats)?;
        for (sort, plans, of) in
            [("starts", song.of_starts(), &mut pairs), ("length", song.of_lengths(), &mut cuts)]
        {
            for plan in plans {
                for (join, off_ms) in song.uneven_ms(&plan)? {
                    println!(
                        "{map}\t{sort}\t{}\t{}\t{:.2}\t{off_ms:+.1}",
                        join.leave.0, join.enter.0, join.unlike
                    );
                    of.push(off_ms.abs());
                }
            }
        }
    }
    summary("phrase starts", pairs);
    summary("cuts to a length", cuts);
    Ok(())
}

fn summary(of: &str, mut off_ms: Vec<f64>) {
    if off_ms.is_empty() {
        return;
    }
    off_ms.sort_by(f64::total_cmp);
    let n = off_ms.len();
    let at = |share: f64| off_ms[((n - 1) as f64 * share) as usize];
    let within = off_ms.iter().filter(|off| **off <= 5.0).count() as f64 / n as f64;
    println!(
        "{of}: {n} joins, median {:.1} ms, 90 % {:.1}, 95 % {:.1}, most {:.1}; within 5 ms: {:.1} %",
        at(0.5),
        at(0.9),
        at(0.95),
        at(1.0),
        100.0 * within
    );
}

struct Song {
    view: SongView,
    joints: Joints,
    audio: Full,
    /// True time of each count, where there is one.
    truth_s: Vec<Option<f64>>,
}

impl Song {
    fn read(audio: &str, map: &str, beats: &str) -> Result<Song, Failure> {
        let path = Path::new(map);
        let map = SongMap::load(path)?;
        let sound =
            kept::find(path, &map.recording.fingerprint).ok_or("no sound beside the map")?;
        let view = map.view()?;
        let joints = Joints::new(&view, &BeatSounds::new(&sound.features, &view.counts.times_s));
        let beats = std::fs::read_to_string(beats)?;
        let beats_s = beats.lines().filter_map(|line| line.split('\t').next()?.parse::<f64>().ok());
        let beats_s: Vec<f64> = beats_s.collect();
        let near = |at_s: &f64| {
            let apart = |beat: &f64| (beat - at_s).abs();
            let best = beats_s.iter().copied().min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
            (apart(&best) < 0.06).then_some(best)
        };
        let truth_s = view.counts.times_s.iter().map(near).collect();
        let audio = Full::decode(Path::new(audio), &mut |_| {})?;
        Ok(Song { view, joints, audio, truth_s })
    }

    /// Each phrase start joined to each other.
    fn of_starts(&self) -> Vec<Plan> {
        let starts: Vec<usize> =
            self.view.phrases.iter().filter_map(|phrase| phrase.start.index()).collect();
        let n = self.view.counts.len();
        let mut plans = Vec::new();
        for &leave in starts.iter().filter(|leave| (4..n - 4).contains(*leave)) {
            for &enter in starts.iter().filter(|enter| (1..n - 4).contains(*enter)) {
                let place = |count: usize| self.view.counts.bar_positions.get(count);
                if leave != enter && place(leave) == place(enter) {
                    plans.push(self.joined(leave, enter));
                }
            }
        }
        let every = plans.len().div_ceil(MOST).max(1);
        plans.into_iter().step_by(every).collect()
    }

    fn joined(&self, leave: usize, enter: usize) -> Plan {
        let unlike = self.joints.targets(leave).iter().find(|to| to.enter == enter);
        let count = Count::from_index;
        let at_s = self.view.counts.times_s[leave];
        let join = Join {
            at_count: count(leave),
            at_s,
            leave: count(leave),
            enter: count(enter),
            unlike: unlike.map_or(1.0, |to| to.unlike),
        };
        let stop = (enter + 4).min(self.view.counts.len());
        Plan {
            pieces: vec![
                Piece { from: count(leave - 4), to: count(leave) },
                Piece { from: count(enter), to: count(stop) },
            ],
            joins: vec![join],
            ending: Ending::Faded,
            duration_s: 8.0,
            lead_s: 0.0,
        }
    }

    /// Cuts to lengths from a fifth of the song up.
    fn of_lengths(&self) -> Vec<Plan> {
        let most = self.view.duration_s;
        (4..19)
            .map(|twentieth| f64::from(twentieth) / 20.0 * most)
            .filter_map(|most_s| {
                let limit = Limit { least_s: 0.9 * most_s, most_s };
                cut::shorten(&self.view, &self.joints, limit).ok()
            })
            .collect()
    }

    /// How far the beats across each join are from even, milliseconds: the true interval across it less the mean of
    /// the true intervals before both places.
    fn uneven_ms(&mut self, plan: &Plan) -> Result<Vec<(Join, f64)>, Failure> {
        let made = cut::splice(&self.view, plan, &mut self.audio, &mut |_| Ok(()), &mut |_| {})?;
        let mut found = Vec::new();
        let mut played = 0;
        for (piece, (join, before)) in
            plan.pieces.iter().skip(1).zip(made.joins.iter().zip(&plan.pieces))
        {
            let first = played;
            played += before.counts() as usize;
            let truth = |count: Count| self.truth_s.get(count.index()?).copied().flatten();
            // How far each piece was moved: its second count tells, for its first is laid by ear.
            let moved = |from: Count, place: usize| {
                Some(self.view.counts.time_s(from + 1)? - made.played_s.get(place + 1)?)
            };
            let off = || {
                let (last, left) = (truth(join.leave + -1)?, truth(join.leave)?);
                let (lead, entered) = (truth(join.enter + -1)?, truth(join.enter)?);
                let across =
                    (entered - moved(piece.from, played)?) - (last - moved(before.from, first)?);
                Some(1000.0 * (across - ((left - last) + (entered - lead)) / 2.0))
            };
            found.extend(off().map(|off_ms| (*join, off_ms)));
        }
        Ok(found)
    }
}
