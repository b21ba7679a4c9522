//! Sound sheets written by chance, and single mistakes in them.
//!
//! What is true of a sheet, its counts, feet, walls and order, is reckoned here and not by the reader: from the
//! table of steps below, whose feet and beats are those printed in Clogging 101, *Cue Sheets*, lessons 1-3, and
//! in *Forever Blue*, cue sheet by Narelle Williams, 1996.

/// A step as printed: movements, feet from the left, beats, and whether the other foot is free after it.
struct Printed(&'static str, &'static str, &'static str, u32, bool);

const STEPS: &[Printed] = &[
    Printed("Single Basic", "DS RS", "L RL", 2, true),
    Printed("Triple", "DS DS DS RS", "L R L RL", 4, true),
    Printed("Fancy Double", "DS DS RS RS", "L R LR LR", 4, false),
    Printed("Rocking Chair", "DS BR DS RS", "L R R LR", 4, false),
    Printed("Boogie Basic", "DS R(xib) S", "L R L", 2, true),
    Printed("Pivot Chain", "DS RS RS RS", "L RL RL RL", 4, true),
    Printed("Slur Brush", "DS SLR S(xib) DS BR H", "L R R L R L", 4, true),
];

/// Numbers by chance, the same on every machine (xorshift, Marsaglia 2003).
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as usize % n.max(1)
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    fn of<'t, T>(&mut self, all: &'t [T]) -> &'t T {
        &all[self.below(all.len())]
    }
}

const WALLS: [&str; 4] = ["front", "right", "back", "left"];

/// A line of a sheet and the false lines that could stand in its place.
#[derive(Clone, Default)]
struct Row {
    text: String,
    wrong: Vec<(&'static str, String)>,
}

impl Row {
    fn plain(text: &str) -> Row {
        Row { text: text.into(), wrong: Vec::new() }
    }
}

/// A part's steps: which, how often, and quarters turned right by each (`each`) or all of them.
struct Danced {
    step: usize,
    times: u32,
    turn: i32,
    each: bool,
}

impl Danced {
    fn counts(&self) -> u32 {
        STEPS[self.step].3 * self.times
    }
    fn swaps(&self) -> bool {
        STEPS[self.step].4 && self.times % 2 == 1
    }
    fn turned(&self) -> i32 {
        if self.each { self.turn * self.times as i32 } else { self.turn }
    }
}

/// A sheet by chance, and each way to put one mistake into it: what sort, and the text.
pub struct Written {
    pub text: String,
    pub wrong: Vec<(&'static str, String)>,
    /// Whether some part comes back on the other foot.
    pub other_foot: bool,
    /// Whether the dance ends facing another wall than the front.
    pub ends_away: bool,
}

/// How an author types.
#[derive(Clone, Copy, PartialEq)]
enum Habit {
    /// `2 Triple (8)`.
    Behind,
    /// `8  2 Triple` under names of columns.
    Columns,
    /// Movements and feet under each name.
    Rows,
    /// Capitals, and `X2` behind.
    Capitals,
}

fn feet(step: &Printed, left_free: bool) -> String {
    let turn = |c: char| match (c, left_free) {
        ('L', false) => 'R',
        ('R', false) => 'L',
        (c, _) => c,
    };
    step.2.chars().map(turn).collect()
}

fn other(c: char) -> char {
    if c == 'L' { 'R' } else { 'L' }
}

pub fn write(seed: u64) -> Written {
    let mut chance = Chance::new(seed);
    let habit = *chance.of(&[Habit::Behind, Habit::Columns, Habit::Rows, Habit::Capitals]);
    let names: Vec<&str> = match chance.below(3) {
        0 => vec!["Part A", "Part B", "Break"],
        1 => vec!["Verse", "Chorus", "Bridge"],
        _ => vec!["Part A", "Part B", "Part C", "Ending"],
    };
    let parts: Vec<Vec<Danced>> = names.iter().map(|_| part(&mut chance)).collect();
    // Every part once, then some again.
    let mut order: Vec<usize> = (0..parts.len()).collect();
    for _ in 0..2 + chance.below(4) {
        let next = chance.below(parts.len() - 1);
        order.insert(1 + chance.below(order.len() - 1), next);
    }
    let mut rows = vec![
        Row::plain(&format!(
            "Title: {} {}",
            chance.of(&["Mill", "Lark", "Tin"]),
            chance.of(&["Lane", "Reel", "Rag"])
        )),
        Row::plain("Wait: 16"),
        Row::default(),
    ];
    let effect = |p: &[Danced]| {
        (p.iter().filter(|d| d.swaps()).count() % 2 == 1, p.iter().map(Danced::turned).sum::<i32>())
    };
    let (mut left, mut wall) = (true, 0i32);
    let mut starts: Vec<Option<(bool, i32)>> = vec![None; parts.len()];
    let mut other_foot = false;
    for &p in &order {
        let first = *starts[p].get_or_insert((left, wall));
        other_foot |= first.0 != left;
        let (swaps, turned) = effect(&parts[p]);
        left ^= swaps;
        wall = (wall + turned).rem_euclid(4);
    }
    let ends_away = wall != 0;
    for (p, steps) in parts.iter().enumerate() {
        let (left, wall) = starts[p].unwrap();
        heading(&mut rows, habit, names[p], steps);
        body(&mut rows, habit, steps, left, wall, &mut chance);
        rows.push(Row::default());
    }
    let short = |p: &usize| names[*p].trim_start_matches("Part ").to_string();
    let listed: Vec<String> = order.iter().map(short).collect();
    let order_line = |names: &[String]| match habit {
        Habit::Capitals => format!("SEQUENCE: {}", names.join(" - ").to_uppercase()),
        Habit::Columns => format!("Order: {}", names.join(", ")),
        _ => format!("Order: {}", names.join(" ")),
    };
    let mut last = Row { text: order_line(&listed), wrong: Vec::new() };
    for at in 0..listed.len() {
        let mut unknown = listed.clone();
        unknown[at] = (*chance.of(&["Q", "Zither", "D9"])).to_string();
        last.wrong.push(("order: no such part", order_line(&unknown)));
    }
    for p in 0..parts.len() {
        let without: Vec<String> =
            listed.iter().zip(&order).filter(|(_, o)| **o != p).map(|(n, _)| n.clone()).collect();
        last.wrong.push(("order: part left out", order_line(&without)));
    }
    rows.push(last);
    let text = |rows: &[Row]| rows.iter().map(|r| format!("{}\n", r.text)).collect::<String>();
    let mut wrong = Vec::new();
    for i in 0..rows.len() {
        for (what, line) in rows[i].wrong.clone() {
            let mut changed = rows.clone();
            changed[i].text = line;
            wrong.push((what, text(&changed)));
        }
    }
    // A part named twice.
    let heads: Vec<usize> = (0..rows.len())
        .filter(|&i| rows[i].wrong.iter().any(|(w, _)| *w == "counts: heading"))
        .collect();
    for pair in heads.windows(2) {
        let mut changed = rows.clone();
        let first_name =
            typed_name(habit, names[heads.iter().position(|h| h == &pair[0]).unwrap()]);
        let second_name =
            typed_name(habit, names[heads.iter().position(|h| h == &pair[1]).unwrap()]);
        changed[pair[1]].text = changed[pair[1]].text.replacen(&second_name, &first_name, 1);
        wrong.push(("order: named twice", text(&changed)));
    }
    Written { text: text(&rows), wrong, other_foot, ends_away }
}

fn part(chance: &mut Chance) -> Vec<Danced> {
    let mut out = Vec::new();
    let mut counts = 0;
    while counts < 16 {
        let step = chance.below(STEPS.len());
        let times = 1 + chance.below(4) as u32;
        if counts + STEPS[step].3 * times > 32 {
            continue;
        }
        let turns = chance.one_in(3);
        let each = turns && times > 1 && chance.one_in(2);
        let turn = if turns { *chance.of(&[-1, 1, 2, -1]) } else { 0 };
        counts += STEPS[step].3 * times;
        out.push(Danced { step, times, turn, each });
    }
    out
}

fn typed_name(habit: Habit, name: &str) -> String {
    if habit == Habit::Capitals { name.to_uppercase() } else { name.to_string() }
}

fn heading(rows: &mut Vec<Row>, habit: Habit, name: &str, steps: &[Danced]) {
    let counts: u32 = steps.iter().map(Danced::counts).sum();
    let name = typed_name(habit, name);
    let typed = |n: u32| match habit {
        Habit::Behind | Habit::Rows => format!("{name} ({n})"),
        Habit::Columns => format!("{name} - {n} beats"),
        Habit::Capitals => format!("{name} ({n} COUNTS)"),
    };
    let mut row = Row { text: typed(counts), wrong: Vec::new() };
    for off in [2, 4, 8] {
        row.wrong.push(("counts: heading", typed(counts + off)));
        row.wrong.push(("counts: heading", typed(counts - off.min(counts - 2))));
    }
    row.wrong.retain(|(_, t)| *t != row.text);
    rows.push(row);
    if habit == Habit::Columns {
        rows.push(Row::plain("Beats   Step"));
    }
}

/// A turn in words: quarters right, and whether on each.
fn turned(turn: i32, each: bool) -> String {
    let side = if turn < 0 { "L" } else { "R" };
    let size = ["", "1/4", "1/2", "3/4"][turn.unsigned_abs() as usize];
    format!("turn {size} {side}{}", if each { " on each" } else { "" })
}

fn body(
    rows: &mut Vec<Row>,
    habit: Habit,
    steps: &[Danced],
    left: bool,
    wall: i32,
    chance: &mut Chance,
) {
    let (mut left, mut wall) = (left, wall);
    for d in steps {
        let step = &STEPS[d.step];
        wall = (wall + d.turned()).rem_euclid(4);
        // The wall is claimed after each turn, so that a false turn shows.
        let claims = d.turn != 0;
        let line = |times: u32, counts: u32, turn: i32, faced: usize, lead: Option<char>| {
            let mut turns =
                if turn == 0 { String::new() } else { format!(", {}", turned(turn, d.each)) };
            if claims {
                turns.push_str(&format!(", facing {}", WALLS[faced]));
            }
            let lead = lead.map_or(String::new(), |l| format!(" {l}"));
            match habit {
                Habit::Behind => format!("{times} {}{lead} ({counts}){turns}", step.0),
                Habit::Columns => format!("  {counts}     {times} {}{lead}{turns}", step.0),
                Habit::Rows => format!("{times} {}{lead}{turns}", step.0),
                Habit::Capitals => {
                    format!("{}{lead} X{times} ({counts}){turns}", step.0).to_uppercase()
                }
            }
        };
        let (times, counts, faced) = (d.times, d.counts(), wall as usize);
        let lead = chance.one_in(3).then_some(if left { 'L' } else { 'R' });
        let mut row = Row { text: line(times, counts, d.turn, faced, lead), wrong: Vec::new() };
        row.wrong.push(("counts: times", line(times + 1, counts, d.turn, faced, lead)));
        if habit != Habit::Rows {
            row.wrong.push(("counts: line", line(times, counts + 2, d.turn, faced, lead)));
        }
        if let Some(lead) = lead {
            row.wrong.push(("feet: lead", line(times, counts, d.turn, faced, Some(other(lead)))));
        }
        if claims {
            for off in 1..4 {
                row.wrong
                    .push(("walls: facing", line(times, counts, d.turn, (faced + off) % 4, lead)));
            }
            if d.turn.rem_euclid(4) != 2 {
                // The other way round by a quarter is another wall, unless they come to half turns together.
                let differs = (d.turned() * 2).rem_euclid(4) != 0;
                if differs {
                    row.wrong.push(("walls: side", line(times, counts, -d.turn, faced, lead)));
                }
            }
        }
        rows.push(row);
        if habit == Habit::Rows && chance.one_in(2) {
            rows.push(Row::plain(&format!("    {}", step.1)));
            let typed = feet(step, left);
            let mut row = Row { text: format!("    {typed}"), wrong: Vec::new() };
            for (at, c) in typed.char_indices().filter(|(_, c)| *c != ' ') {
                let mut wrong = typed.clone();
                wrong.replace_range(at..=at, &other(c).to_string());
                row.wrong.push(("feet: one", format!("    {wrong}")));
            }
            rows.push(row);
        }
        left ^= d.swaps();
    }
}
