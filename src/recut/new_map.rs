//! The new cut's map: what is set in it, and what is heard under that.

use super::carry::Carried;
use super::counting::missed_beats;
use super::reading::Reading;
use super::way::Way;
use crate::rhythm;
use crate::song::{Pulse, SetPhrase, SongMap, SongView, UserSet};

/// The map of the new cut with the marks of the old one.
pub(super) fn carried_over(
    old: &SongView,
    way: &Way,
    reading: &Reading,
    sound: &rhythm::Heard,
) -> SongMap {
    let mut map = way.map.clone();
    map.set = set(old, way, reading);
    keep_bars(&mut map, old);
    hear_again(&mut map, sound, &reading.carried);
    map
}

/// What is set in the new map: where counting starts, the pulse, the bar line, and the phrases.
fn set(old: &SongView, way: &Way, reading: &Reading) -> UserSet {
    let Way { map: new, counting, shape, .. } = way;
    let Reading { path, carried, counted, .. } = reading;
    let (first, end) = (counted.start, counted.end);
    let at_s = |j: usize| counting.beats_s.get(j).copied();
    let grid_bpm = new.heard.grid.tempo_bpm;
    let otherwise = counting.ratio != 1.0;
    let pulse = otherwise.then_some(Pulse { counts_per_minute: grid_bpm * counting.ratio });
    let phrases = carried.iter().filter_map(|phrase| {
        let label = match phrase.of {
            Some(source) => old.phrases[source.phrase].label.clone(),
            None if phrase.start == 0 => "intro".into(),
            None => "new".into(),
        };
        Some(SetPhrase { label, start_s: at_s(first + phrase.start)? })
    });
    // Bars as in the old cut, where most counts say that they were heard elsewhere.
    let pairs = path.pairs();
    let old_bar = &old.counts.bar_positions;
    let agree = pairs.clone().filter(|&(j, i)| shape.new_bar[j] == old_bar[i]).count();
    let disagree = 2 * agree < pairs.clone().count();
    let bar_line = pairs.clone().find(|&(_, i)| old_bar[i] == 1).and_then(|(j, _)| at_s(j));
    UserSet {
        first_count_s: at_s(first),
        pulse: new.set.pulse.or(pulse),
        bar_line_s: bar_line.filter(|_| disagree),
        phrases: phrases.collect(),
        phrases_complete: true,
        // What rings on after the last count of the old cut is not counted.
        end_s: at_s(end),
        tapped: missed_beats(counting, first, end),
        ..UserSet::default()
    }
}

/// Where every bar of the old cut has as many counts, the bars of the new one have so too.
fn keep_bars(map: &mut SongMap, old: &SongView) {
    let per_bar = old.counts_per_bar;
    let places = &old.counts.bar_positions;
    let even = places.windows(2).all(|pair| pair[1] == pair[0] % per_bar.max(1) + 1);
    if even && map.view().is_ok_and(|view| view.counts_per_bar != per_bar) {
        map.set.beats_per_bar = Some(per_bar);
    }
}

/// Follows the sound anew under what is set, as every correction does, where that carries the same phrases.
fn hear_again(map: &mut SongMap, sound: &rhythm::Heard, carried: &[Carried]) {
    let UserSet { pulse, beats_per_bar, tapped, .. } = &map.set;
    if pulse.is_none() && beats_per_bar.is_none() && tapped.is_empty() {
        return;
    }
    let mut again = map.clone();
    again.hear_again(Some(sound));
    let as_carried = again.view().is_ok_and(|view| {
        view.phrases.len() == carried.len()
            && view.phrases.iter().zip(carried).all(|(a, b)| a.counts == b.counts)
    });
    if as_carried {
        *map = again;
    } else if map.unaided.is_some() {
        // Of the pulse alone, then: its beats are known, its phrases are not.
        let set = std::mem::take(&mut map.set);
        map.set.pulse = set.pulse;
        map.hear_again(Some(sound));
        map.set = set;
    }
}
