//! Movements and feet in the published notation.

use crate::units::Foot;

use super::movement::{
    Movement, MovementUse, QUARTERS_PER_COUNT, Quarters, find_movement, lay_out,
};
use super::phrases::is_pause_sign;
use super::token::{Piece, Token, tokens};

/// Movements read from a line, laid on the counts.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Moves {
    /// The movements.
    pub moves: Vec<MovementUse>,
    /// Index of the first movement of each full count that `*` divides off.
    beats: Vec<usize>,
}

impl Moves {
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.moves.is_empty()
    }

    fn push(&mut self, movement: &'static Movement, joined: bool) {
        let mut next = MovementUse::new(movement);
        next.joined = joined && !self.moves.is_empty();
        self.moves.push(next);
    }

    /// Takes the last movement away; a count that ended behind it ends before it.
    pub fn drop_last(&mut self) {
        self.moves.pop();
        let left = self.moves.len();
        self.beats.iter_mut().for_each(|beat| *beat = left.min(*beat));
    }

    /// Puts a direction behind the last movement.
    pub fn tag(&mut self, tag: &str) {
        if let Some(last) = self.moves.last_mut() {
            let tag = tag.trim().to_string();
            last.tag = Some(match last.tag.take() {
                Some(before) => format!("{before}, {tag}"),
                None => tag,
            });
        }
    }

    /// Takes a word such as `DS`, `DS-DS-RS`, `R/S`, `DS*DS*RS`. False, and nothing taken, when it is
    /// not made of movements.
    pub fn take_word(&mut self, word: &str) -> bool {
        let word = word.trim_end_matches(['.', ':']);
        if word.is_empty() || word.len() > 200 {
            return false;
        }
        if let Some(movement) = find_movement(word) {
            self.push(movement, false);
            return true;
        }
        let before = self.clone();
        let mut joined = false;
        let mut rest = word;
        while !rest.is_empty() {
            let sign = rest.chars().next().filter(|c| matches!(c, '-' | '*' | '/'));
            if let Some(sign) = sign {
                match sign {
                    '*' => self.beats.push(self.moves.len()),
                    '/' => joined = true,
                    _ => {}
                }
                rest = &rest[1..];
                continue;
            }
            let end = rest.find(['-', '*', '/']).unwrap_or(rest.len());
            // `R/S` is one movement; so the longer reading is tried first.
            let longer = rest[end..]
                .strip_prefix('/')
                .map(|after| end + 1 + after.find(['-', '*', '/']).unwrap_or(after.len()));
            let found = longer
                .and_then(|l| find_movement(&rest[..l]).map(|m| (m, l)))
                .or_else(|| find_movement(&rest[..end]).map(|m| (m, end)));
            let Some((movement, length)) = found else {
                *self = before;
                return false;
            };
            self.push(movement, joined);
            joined = false;
            rest = &rest[length..];
        }
        // A sign alone is no movement, but it may stand between movements.
        if self.moves.len() == before.moves.len() && before.moves.is_empty() {
            *self = before;
            return false;
        }
        true
    }

    /// Takes two words that are one movement: `Double Step`, `rock step`.
    pub fn take_two_words(&mut self, first: &str, second: &str) -> bool {
        if first.len() + second.len() > 20 {
            return false;
        }
        let code = match (first.to_lowercase().as_str(), second.to_lowercase().as_str()) {
            ("double" | "doubletoe", "step") => "DS",
            ("double", "toe") => "DT",
            ("rock", "step") => "RS",
            ("heel", "step") => "HS",
            _ => return false,
        };
        match find_movement(code) {
            Some(movement) => self.push(movement, false),
            None => return false,
        }
        true
    }

    /// Lays the movements on the counts: `*` ends a full count, everything else follows from the
    /// movements. Gives the number of counts.
    pub fn lay_out(&mut self) -> u32 {
        if self.beats.is_empty() {
            return lay_out(&mut self.moves);
        }
        let mut bounds = self.beats.clone();
        bounds.push(self.moves.len());
        let (mut from, mut counts) = (0, 0);
        for to in bounds {
            let group = &mut self.moves[from.min(to)..to];
            from = to;
            if group.is_empty() {
                continue;
            }
            let taken = lay_out(group);
            let taken = if taken > 1 && press_into_one_count(group) { 1 } else { taken };
            for sound in group.iter_mut().flat_map(|m| &mut m.sounds) {
                *sound += counts * QUARTERS_PER_COUNT;
            }
            counts += taken;
        }
        counts
    }
}

/// Lays movements of one sound each into one count, since `*` says that they fill it. False when there
/// are too many, or some have sounds of their own.
fn press_into_one_count(group: &mut [MovementUse]) -> bool {
    let places: &[Quarters] = match group.iter().filter(|m| !m.joined).count() {
        2 => &[2, 4],
        3 => &[2, 3, 4],
        4 => &[1, 2, 3, 4],
        _ => return false,
    };
    if group.iter().any(|m| m.movement.timing.sounds().len() != 1) {
        return false;
    }
    let mut next = 0;
    for movement in group {
        if !movement.joined || next == 0 {
            next += 1;
        }
        movement.sounds = places.get(next - 1).copied().into_iter().collect();
    }
    true
}

/// Reads a whole text as movements, `DS BR(xif) DS RS`. `None` when anything in it is something else.
pub fn read_movements(text: &str) -> Option<(Vec<MovementUse>, u32)> {
    let (tokens, _) = tokens(text, 0);
    let mut moves = Moves::default();
    let used = take_movements(&tokens, &mut moves);
    if used < tokens.len() || moves.is_empty() {
        return None;
    }
    let counts = moves.lay_out();
    Some((moves.moves, counts))
}

/// Takes movements that stand together in brackets. False, and nothing taken, when anything else is in.
pub fn take_group(inner: &str, moves: &mut Moves) -> bool {
    let (inside, _) = tokens(inner, 0);
    let mut within = moves.clone();
    let before = within.moves.len();
    let whole = take_movements(&inside, &mut within) == inside.len() && within.moves.len() > before;
    if whole {
        *moves = within;
    }
    whole
}

/// Takes movements with their directions from the start of `tokens`; gives how many tokens it used.
pub fn take_movements(tokens: &[Token<'_>], moves: &mut Moves) -> usize {
    let mut i = 0;
    while let Some(token) = tokens.get(i) {
        match token.piece {
            Piece::Word(word) => {
                let next = tokens.get(i + 1).and_then(Token::word);
                if next.is_some_and(|n| moves.take_two_words(word, n)) {
                    i += 2;
                    continue;
                }
                if !moves.take_word(word) {
                    break;
                }
            }
            Piece::Round(inner) => {
                // `(p)` is a pause on the upbeat, not a direction.
                let pause = is_pause_sign(inner) && moves.take_word("P");
                if !pause && moves.is_empty() {
                    break;
                }
                if !pause && !is_direction(inner) {
                    break;
                }
                if !pause {
                    moves.tag(inner);
                }
            }
            // A spaced dash separates movements only where a movement follows.
            Piece::Dash
                if !moves.is_empty()
                    && tokens
                        .get(i + 1)
                        .and_then(Token::word)
                        .is_some_and(|w| Moves::default().take_word(w)) => {}
            _ => break,
        }
        i += 1;
    }
    i
}

/// `S(L) S(R)`: the feet where each movement has one beside it, with the movements' numbers. Where only some have one
/// it may say a side.
pub(super) fn feet_beside(tokens: &[Token<'_>]) -> Vec<(usize, Foot, (usize, usize))> {
    const MOST_TOKENS: usize = 64;
    let words = tokens.iter().filter(|t| t.word().is_some()).count();
    if tokens.len() > MOST_TOKENS || tokens.len() != 2 * words || words < 2 {
        return Vec::new();
    }
    let mut moves = Moves::default();
    let mut out = Vec::with_capacity(words);
    for pair in tokens.chunks_exact(2) {
        let [Token { piece: Piece::Word(word), .. }, Token { piece: Piece::Round(foot), at, end }] =
            pair
        else {
            return Vec::new();
        };
        let foot = match foot.trim() {
            "L" => Foot::Left,
            "R" => Foot::Right,
            _ => return Vec::new(),
        };
        out.push((moves.moves.len(), foot, (*at, *end)));
        if !moves.take_word(word) {
            return Vec::new();
        }
    }
    out
}

/// Whether brackets behind a movement hold a direction: `xif`, `ots`, `b`, `L`.
pub fn is_direction(inner: &str) -> bool {
    let inner = inner.trim().to_lowercase();
    let words =
        ["xif", "xib", "ots", "if", "ib", "f", "b", "bk", "fwd", "back", "front", "bs", "os", "is"];
    let more = [
        "x", "xf", "xb", "side", "diag", "up", "in", "out", "l", "r", "lift", "heel", "toe", "unx",
        "i", "o", "fr",
    ];
    !inner.is_empty()
        && inner
            .split(|c: char| c.is_whitespace() || matches!(c, ',' | '/' | '-' | '.'))
            .filter(|w| !w.is_empty())
            .all(|w| words.contains(&w) || more.contains(&w))
}

/// Reads a feet line, `L R L RL`: the feet in order. `None` when it is something else.
pub fn read_feet(text: &str) -> Option<Vec<Foot>> {
    let mut feet = Vec::new();
    for word in text.split(|c: char| c.is_whitespace() || matches!(c, ',' | '-' | '*' | '(' | ')'))
    {
        for c in word.chars() {
            match c {
                'L' | 'l' => feet.push(Foot::Left),
                'R' | 'r' => feet.push(Foot::Right),
                '/' => {}
                _ => return None,
            }
        }
    }
    (!feet.is_empty()).then_some(feet)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(text: &str) -> u32 {
        read_movements(text).unwrap_or_else(|| panic!("{text}")).1
    }

    #[test]
    fn separators_of_the_published_notation_are_read() {
        // Southern California Clogging Association, Reading and Writing Cue Sheets: `-` separates
        // movements, `*` full beats, `/` joins movements that sound together.
        assert_eq!(counts("DS-DS-RS"), 3);
        assert_eq!(counts("DS*DS*RS"), 3);
        assert_eq!(counts("DS * DS * R-S"), 3);
        assert_eq!(counts("S-S*S*S-S"), 3);
        assert_eq!(counts("DS BR/SL DS RS"), 4);
        assert_eq!(counts("DS R/S"), 2);
    }

    #[test]
    fn counts_end_no_later_than_the_movements_left() {
        let mut moves = Moves::default();
        assert!(moves.take_word("DS*DS*R*"));
        moves.drop_last();
        assert_eq!((moves.moves.len(), moves.lay_out()), (2, 2));
    }

    #[test]
    fn movements_in_words_are_read() {
        // Clogging 101, Cue Sheets, lesson 1: the basics without the double toe.
        assert_eq!(counts("Step Rock Step"), 2);
        assert_eq!(counts("Step Step Step Rock Step"), 4);
        assert_eq!(counts("Double Step, Rock Step".replace(',', "").as_str()), 2);
    }

    #[test]
    fn other_words_are_no_movements() {
        for text in ["Triple", "", "DS XX", "-", "(xif)", "DS (smile)"] {
            assert_eq!(read_movements(text), None, "{text}");
        }
    }

    #[test]
    fn feet_lines_are_read() {
        use Foot::{Left as L, Right as R};
        assert_eq!(read_feet("L R L RL"), Some(vec![L, R, L, R, L]));
        assert_eq!(read_feet("L   R/L"), Some(vec![L, R, L]));
        assert_eq!(read_feet("DS L"), None);
        assert_eq!(read_feet("  "), None);
    }
}
