//! The order to teach in, and the minutes.

use std::collections::HashSet;

use crate::fit::{Fit, Placement};
use crate::plain::clean;
use crate::routine::{Part, Routine};
use crate::song::SongView;
use crate::units::{clock, eights};

use super::needs::{Need, effort_of_part, needs, new_steps, step_key};
use super::{Item, ItemKind, Lesson, Names, Span};

/// Shares of a class, common practice: warming up, hearing the song, dancing through, cooling down. The
/// rest is for parts and joins.
const WARM_UP: f64 = 0.12;
const SONG: f64 = 0.05;
const THROUGH: f64 = 0.15;
const COOL_DOWN: f64 = 0.08;
/// Counts a minute at which a step is learnt; the slowest and the fastest first rung of the ladder, in
/// percent of the song's tempo. Common practice: walked practice is well under tempo.
const LEARNING_TEMPO: f64 = 85.0;
const FIRST_RUNG: (u32, u32) = (60, 90);
/// Minutes that a part takes at least: two, two more for each new step, one for each two eights.
const MINUTES_OF_PART: u32 = 2;
const MINUTES_OF_STEP: u32 = 2;
const COUNTS_A_MINUTE_MORE: u32 = 16;
/// Minutes that a join takes at least, and the counts danced on either side of it.
const MINUTES_OF_JOIN: u32 = 1;
const JOIN_COUNTS: u32 = 8;

const CAUTIONS: [&str; 6] = [
    "Warm up before the first shuffle: ankles, calves, knees and hips.",
    "Look at the floor and the shoes: even, not sticky, not slippery; taps tight.",
    "Start well under tempo and build it up; go back a rung when the sounds blur.",
    "Stop at pain, and let nobody dance on through it. Rest and water between repeats.",
    "Repeats add up: change the foot, change the part, walk one round in between.",
    "The plan only counts. What this class can do today is for its teacher to judge.",
];

/// Plans the class.
pub(super) fn plan(
    routine: &Routine,
    song: &SongView,
    fit: &Fit,
    minutes: u32,
    names: &Names,
) -> Lesson {
    let ladder = ladder(song.counts_per_minute);
    let share = |share: f64, least: u32| ((f64::from(minutes) * share).round() as u32).max(least);
    let (warm, hear, through, cool) =
        (share(WARM_UP, 3), share(SONG, 1), share(THROUGH, 3), share(COOL_DOWN, 2));
    let teach = minutes.saturating_sub(warm + hear + through + cool);
    let tracks = Tracks { names, ladder: &ladder };
    let (mut taught, next_class) = teaching(routine, song, fit, teach, &tracks);

    let mut items = vec![warm_up(warm), hear_song(song, fit, hear)];
    // Minutes that no part asks for are for dancing through.
    let spare = teach.saturating_sub(taught.iter().map(|i| i.minutes).sum());
    items.append(&mut taught);
    items.push(dance_through(fit, &ladder, through + spare, &tracks, next_class.is_empty()));
    items.push(cool_down(cool));
    let mut at = 0;
    for item in &mut items {
        item.at_minute = at;
        at += item.minutes;
    }
    Lesson {
        title: clean(&routine.title),
        song: match &song.artist {
            Some(artist) => format!("{}, {}", clean(&song.title), clean(artist)),
            None => clean(&song.title),
        },
        minutes,
        counts_per_minute: song.counts_per_minute,
        ladder,
        items,
        next_class,
        settle_first: fit.mismatches.iter().map(|m| clean(&m.message)).collect(),
        cautions: CAUTIONS.map(String::from).into(),
    }
}

/// From a tempo to learn at up to the song's own, in tens of percent.
fn ladder(counts_per_minute: f64) -> Vec<u32> {
    let share = (LEARNING_TEMPO / counts_per_minute.max(1.0) * 10.0).floor() as u32 * 10;
    let first = share.clamp(FIRST_RUNG.0, FIRST_RUNG.1);
    (first..=100).step_by(10).collect()
}

/// The commands that make practice tracks.
struct Tracks<'a> {
    names: &'a Names,
    ladder: &'a [u32],
}

impl Tracks<'_> {
    /// The track of a part, `--part NAME`, a join, `--join "A > B"`, or, for `None`, the whole song. `file`
    /// is what it is called.
    fn of(&self, what: Option<(&str, &str)>, file: &str) -> String {
        let rungs: Vec<String> = self.ladder.iter().map(u32::to_string).collect();
        let what = what.map_or(String::new(), |(how, name)| format!(" {how} {}", quoted(name)));
        let file: String = file
            .chars()
            .map(|c| if c.is_alphanumeric() { c } else { '-' })
            .flat_map(char::to_lowercase)
            .collect();
        format!(
            "hoofbeat practice {} {}{what} --tempo {} -o {}",
            quoted(&self.names.map),
            quoted(&self.names.routine),
            rungs.join(","),
            quoted(&format!("{}.wav", file.trim_matches('-')))
        )
    }
}

/// A word of a command line, in quotes where it needs them.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.' | '/' | ',');
    if !word.is_empty() && word.chars().all(plain) {
        return word.to_string();
    }
    format!("\"{}\"", word.replace(['"', '\\', '$', '`'], "'"))
}

/// Parts and joins with their minutes, and the names of the parts that no time is left for.
fn teaching(
    routine: &Routine,
    song: &SongView,
    fit: &Fit,
    minutes: u32,
    tracks: &Tracks<'_>,
) -> (Vec<Item>, Vec<String>) {
    let order = order(routine, song, needs(routine, fit));
    let joins = joins(routine, fit);
    let mut known: HashSet<String> = HashSet::new();
    let mut taught: Vec<usize> = Vec::new();
    let mut made: HashSet<(usize, usize)> = HashSet::new();
    let mut items: Vec<Item> = Vec::new();
    let mut weights: Vec<f64> = Vec::new();
    let mut least = 0;
    let mut next_class = Vec::new();
    for need in &order {
        let Some(part) = routine.parts.get(need.part) else { continue };
        let new = new_steps(part, &known);
        let mut here = vec![part_item(part, need, new.len(), fit, tracks)];
        here[0].minutes = MINUTES_OF_PART
            + MINUTES_OF_STEP * new.len() as u32
            + part.counts() / COUNTS_A_MINUTE_MORE;
        here[0].new_steps = new;
        let mut with = taught.clone();
        with.push(need.part);
        let open = joins.iter().filter(|j| {
            !made.contains(&j.between) && with.contains(&j.between.0) && with.contains(&j.between.1)
        });
        let open: Vec<&Join> = open.collect();
        here.extend(open.iter().map(|join| join_item(routine, join, tracks)));
        let needed: u32 = here.iter().map(|i| i.minutes).sum();
        // One part is taught in any class.
        if !next_class.is_empty() || (least + needed > minutes && !items.is_empty()) {
            next_class.push(clean(&part.name));
            continue;
        }
        least += needed;
        made.extend(open.iter().map(|j| j.between));
        weights.push(effort_of_part(part, need, &known));
        weights.extend(open.iter().map(|_| 1.0));
        known.extend(part.steps().map(step_key));
        taught = with;
        items.append(&mut here);
    }
    share_out(&mut items, &weights, minutes);
    (items, next_class)
}

/// Minutes left over go where the effort is; where there are too few, the longest items give.
fn share_out(items: &mut [Item], weights: &[f64], minutes: u32) {
    loop {
        let used: u32 = items.iter().map(|i| i.minutes).sum();
        if used == minutes || items.is_empty() {
            return;
        }
        if used > minutes {
            let Some(longest) = items.iter_mut().max_by_key(|i| i.minutes) else { return };
            if longest.minutes <= 1 {
                return;
            }
            longest.minutes -= 1;
            continue;
        }
        let hungriest = (0..items.len()).max_by(|&a, &b| {
            let want = |i: usize| {
                weights.get(i).copied().unwrap_or(1.0) / f64::from(items[i].minutes.max(1))
            };
            want(a).total_cmp(&want(b)).then(b.cmp(&a))
        });
        match hungriest {
            Some(index) => items[index].minutes += 1,
            None => return,
        }
    }
}

/// What is danced most and soonest first, the easier of two alike first. Steps taught make the parts that
/// use them easier.
fn order(routine: &Routine, song: &SongView, mut left: Vec<Need>) -> Vec<Need> {
    let total = f64::from(left.iter().map(|n| n.danced).sum::<u32>().max(1));
    let length = song.counts.len().max(1) as f64;
    let mut known: HashSet<String> = HashSet::new();
    let mut out = Vec::new();
    while !left.is_empty() {
        let score = |need: &Need| {
            let Some(part) = routine.parts.get(need.part) else { return 0.0 };
            let often = f64::from(need.danced) / total;
            let soon = 1.0 - f64::from(need.first_count) / length;
            (often + 0.5 * soon) / (4.0 + effort_of_part(part, need, &known))
        };
        let best = (0..left.len())
            .max_by(|&a, &b| score(&left[a]).total_cmp(&score(&left[b])).then(b.cmp(&a)));
        let Some(best) = best else { break };
        let need = left.remove(best);
        if let Some(part) = routine.parts.get(need.part) {
            known.extend(part.steps().map(step_key));
        }
        out.push(need);
    }
    out
}

/// Two parts that meet.
struct Join {
    between: (usize, usize),
    spans: Vec<Span>,
    foot: crate::units::Foot,
}

/// The joins of the dance, in the order in which they come first.
fn joins(routine: &Routine, fit: &Fit) -> Vec<Join> {
    let danced: Vec<&Placement> =
        fit.placements.iter().filter(|p| !p.left_out && p.danced > 0).collect();
    let mut joins: Vec<Join> = Vec::new();
    for pair in danced.windows(2) {
        let part = |p: &Placement| routine.order.get(p.order_index).map(|o| o.part);
        let (Some(a), Some(b)) = (part(pair[0]), part(pair[1])) else { continue };
        let per_count = |p: &Placement| (p.end_s - p.start_s) / f64::from(p.danced.max(1));
        let reach = |p: &Placement| f64::from(JOIN_COUNTS.min(p.danced)) * per_count(p);
        let span = Span {
            start_s: pair[0].end_s - reach(pair[0]),
            end_s: pair[1].start_s + reach(pair[1]),
        };
        match joins.iter_mut().find(|j| j.between == (a, b)) {
            Some(join) => join.spans.push(span),
            None => {
                joins.push(Join { between: (a, b), spans: vec![span], foot: pair[1].lead_foot })
            }
        }
    }
    joins
}

fn item(kind: ItemKind, title: &str, minutes: u32, why: &str, doing: &[&str]) -> Item {
    Item {
        kind,
        title: title.to_string(),
        at_minute: 0,
        minutes,
        why: why.to_string(),
        doing: doing.iter().map(ToString::to_string).collect(),
        new_steps: Vec::new(),
        in_song: Vec::new(),
        practice: None,
    }
}

fn warm_up(minutes: u32) -> Item {
    item(
        ItemKind::WarmUp,
        "Warm up",
        minutes,
        "cold ankles and calves are hurt first",
        &[
            "Walk, march and roll the feet; ankles, calves, knees and hips; no stamping yet.",
            "Look at the floor and at everybody's shoes.",
            "End with single steps on the count, softly, left and right alike.",
        ],
    )
}

fn hear_song(song: &SongView, fit: &Fit, minutes: u32) -> Item {
    let mut hear = item(
        ItemKind::Song,
        "Hear the song",
        minutes,
        "who knows where it starts is not left behind",
        &[],
    );
    hear.doing.push(match fit.wait.counts {
        0 => format!("No wait: the first step is on count 1, at {}.", clock(fit.wait.end_s)),
        n => format!(
            "Count the wait aloud: {n} counts{}, from {} to the first step at {}.",
            if n >= 8 { format!(" ({})", eights(n)) } else { String::new() },
            clock(fit.wait.start_s),
            clock(fit.wait.end_s)
        ),
    });
    let names = song.names();
    if names.len() > 1 {
        hear.doing.push(format!("Name what is heard: {}.", names.join(", ")));
    }
    hear
}

fn part_item(part: &Part, need: &Need, new: usize, fit: &Fit, tracks: &Tracks<'_>) -> Item {
    let name = clean(&part.name);
    let all: u32 = fit.placements.iter().map(|p| p.danced).sum();
    let times = match need.in_song.len() {
        1 => "danced once".to_string(),
        2 => "danced twice".to_string(),
        n => format!("danced {n} times"),
    };
    let why = format!(
        "{times}, {} of {all} counts, first at {}",
        need.danced,
        clock(need.in_song.first().map_or(0.0, |s| s.start_s))
    );
    let mut made = item(ItemKind::Part, &name, 0, &why, &[]);
    if new > 0 {
        made.doing.push("Show each new step slowly, walk its feet, then its sounds.".into());
    }
    made.doing.push(format!(
        "Put the {} together without music, by eights, at a walking count.",
        eights(part.counts())
    ));
    if part.steps().any(|s| s.eighths() != 0) {
        made.doing.push("First facing front; the turns when the feet are sure.".into());
    }
    if need.both_feet {
        made.doing.push("It comes back on the other foot: dance it on both.".into());
    }
    made.doing.push("Then to the music, rung by rung.".into());
    made.in_song = need.in_song.clone();
    made.practice = Some(tracks.of(Some(("--part", &name)), &name));
    made
}

fn join_item(routine: &Routine, join: &Join, tracks: &Tracks<'_>) -> Item {
    let name = |index: usize| routine.parts.get(index).map_or(String::new(), |p| clean(&p.name));
    let (a, b) = (name(join.between.0), name(join.between.1));
    let title = format!("End of {a} into {b}");
    let mut made = item(
        ItemKind::Join,
        &title,
        MINUTES_OF_JOIN,
        "both sides are known now; joins are where dances come apart",
        &[],
    );
    made.doing.push(format!(
        "The last {JOIN_COUNTS} counts of {a} and the first {JOIN_COUNTS} of {b}, over and over; {b} starts on the {} foot.",
        join.foot
    ));
    made.in_song = join.spans.clone();
    made.practice =
        Some(tracks.of(Some(("--join", &format!("{a} > {b}"))), &format!("{a} into {b}")));
    made
}

fn dance_through(fit: &Fit, ladder: &[u32], minutes: u32, tracks: &Tracks<'_>, all: bool) -> Item {
    let mut made = item(
        ItemKind::Through,
        if all { "Dance it through" } else { "Dance through what is known" },
        minutes,
        "it is one dance only when it is danced as one",
        &[],
    );
    let first = ladder.first().copied().unwrap_or(100);
    made.doing.push("Walk it once, calling every part ahead of time.".into());
    made.doing.push(format!("With the song at {first}%, then as fast as the sounds stay clear."));
    if let (Some(from), Some(to)) = (fit.placements.first(), fit.placements.last()) {
        made.in_song = vec![Span { start_s: from.start_s, end_s: to.end_s }];
    }
    made.practice = Some(tracks.of(None, "whole dance"));
    made
}

fn cool_down(minutes: u32) -> Item {
    item(
        ItemKind::CoolDown,
        "Cool down",
        minutes,
        "calves and shins that worked want easing",
        &[
            "Walk slower and slower; stretch calves, shins and feet, gently.",
            "Say again what was learnt, and what to practise until next time.",
        ],
    )
}
