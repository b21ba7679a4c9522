//! Timing lines, `&a1 &2 &3`: read, and held against movements.

use super::movement::{
    MovementUse, QUARTERS_PER_COUNT, Quarters, Timing, timing_mark, whole_counts,
};

/// Reads a timing line, `&a1 &2 &3`: each word's marks. `None` when it is something else. At least one
/// count must be in it.
pub fn read_timing(text: &str) -> Option<Vec<Vec<char>>> {
    let mut words = Vec::new();
    let mut number = false;
    for word in text.split(|c: char| c.is_whitespace() || matches!(c, ',' | '-' | '*' | '+')) {
        let word = if word.eq_ignore_ascii_case("and") { "&" } else { word };
        let mut marks = Vec::new();
        for c in word.chars() {
            match c {
                '1'..='8' => number = true,
                'e' | 'a' | 'E' | 'A' | '&' => {}
                '(' | ')' | '/' => continue,
                _ => return None,
            }
            marks.push(c.to_ascii_lowercase());
        }
        if !marks.is_empty() {
            words.push(marks);
        }
    }
    // `8` alone may be a count; `1 2 3` and `&1` are timing.
    let several = words.iter().map(Vec::len).sum::<usize>() > 1;
    (number && several).then_some(words)
}

/// Places of timing marks, in quarters from the start of the step, word by word. With `silent` counts may be left out:
/// nobody moves on them.
///
/// # Errors
/// The mark that does not follow from those before it.
pub fn timing_places(words: &[Vec<char>], silent: bool) -> Result<Vec<Vec<Quarters>>, String> {
    let marks: Vec<char> = words.iter().flatten().copied().collect();
    let first = marks.iter().find_map(|c| c.to_digit(10)).filter(|_| !silent).unwrap_or(1);
    // Where the marks of the count begin that is being filled.
    let (mut count_start, mut reached): (Quarters, Quarters) = (0, 0);
    let mut expected = first;
    let mut out = Vec::with_capacity(words.len());
    for word in words {
        let mut places = Vec::with_capacity(word.len());
        for &mark in word {
            let place = match mark.to_digit(10) {
                Some(number) => {
                    // Counts may begin again with each bar of four.
                    if number == 1 && expected == 5 {
                        expected = 1;
                    }
                    if silent && number > expected {
                        count_start += (number - expected) * QUARTERS_PER_COUNT;
                        expected = number;
                    }
                    if number != expected {
                        return Err(mark.to_string());
                    }
                    expected = expected % 8 + 1;
                    count_start + QUARTERS_PER_COUNT
                }
                None => {
                    count_start
                        + match mark {
                            'e' => 1,
                            '&' => 2,
                            _ => 3,
                        }
                }
            };
            if place <= reached {
                return Err(mark.to_string());
            }
            reached = place;
            if place % QUARTERS_PER_COUNT == 0 {
                count_start = place;
            }
            places.push(place);
        }
        out.push(places);
    }
    Ok(out)
}

/// How a timing line goes with movements.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TimingCheck {
    /// As the movements have it.
    Same,
    /// The line is sound, and places movements otherwise than they usually are: it is followed.
    Placed(Vec<Vec<Quarters>>, u32),
    /// It does not go with them.
    Differs,
    /// A mark does not follow from those before it.
    Order(String),
}

/// Compares a timing line with laid-out movements. A double step may be written `&1` or `&a1`.
pub fn check_timing(moves: &[MovementUse], words: &[Vec<char>]) -> TimingCheck {
    let silent = moves.iter().any(|m| m.movement.timing == Timing::SilentCount);
    let places = match timing_places(words, silent) {
        Ok(places) => places,
        Err(mark) => return TimingCheck::Order(mark),
    };
    let flat: Vec<Quarters> = places.iter().flatten().copied().collect();
    let own: Vec<Quarters> = sounds(moves);
    // The `a` of a double toe goes often unwritten.
    let optional = |q: &Quarters| q % QUARTERS_PER_COUNT == 3;
    let silent = silent_upbeats(moves);
    let all_known = flat.iter().all(|q| own.contains(q) || silent.contains(q));
    if all_known && own.iter().all(|q| flat.contains(q) || optional(q)) {
        return TimingCheck::Same;
    }
    let sounding: Vec<&MovementUse> =
        moves.iter().filter(|m| !m.joined && !m.sounds.is_empty()).collect();
    let fits = sounding.len() == places.len()
        && sounding.iter().zip(&places).all(|(m, p)| match m.movement.timing {
            Timing::OnBeat | Timing::Upbeat => p.len() == 1,
            // A brush may be written as it swings, `&2`.
            Timing::Either => (1..=2).contains(&p.len()),
            Timing::UpbeatAndBeat | Timing::DoubleToe => p.len() == 2,
            Timing::DoubleStep => p.len() == 2 || p.len() == 3,
            Timing::SilentCount | Timing::SilentUpbeat => false,
        });
    if !fits {
        return TimingCheck::Differs;
    }
    let mut laid = Vec::with_capacity(moves.len());
    let mut next = places.into_iter();
    for m in moves {
        if m.joined {
            laid.push(laid.last().cloned().unwrap_or_default());
        } else if m.sounds.is_empty() {
            laid.push(Vec::new());
        } else {
            laid.push(next.next().unwrap_or_default());
        }
    }
    let counts = whole_counts(flat.last().copied().unwrap_or(0));
    TimingCheck::Placed(laid, counts)
}

/// Upbeats that a `(p)` lets go by; a timing line may write them.
fn silent_upbeats(moves: &[MovementUse]) -> Vec<Quarters> {
    let pauses =
        moves.iter().enumerate().filter(|(_, m)| m.movement.timing == Timing::SilentUpbeat);
    pauses
        .filter_map(|(i, _)| {
            let next = moves.get(i + 1)?.sounds.first()?;
            Some(next.saturating_sub(1) / QUARTERS_PER_COUNT * QUARTERS_PER_COUNT + 2)
        })
        .collect()
}

fn sounds(moves: &[MovementUse]) -> Vec<Quarters> {
    moves.iter().filter(|m| !m.joined).flat_map(|m| m.sounds.iter().copied()).collect()
}

/// The timing line of laid-out movements: `&a1 &a2 &3`.
pub fn timing_line(moves: &[MovementUse]) -> String {
    let words: Vec<String> = moves
        .iter()
        .filter(|m| !m.joined && !m.sounds.is_empty())
        .map(|m| m.sounds.iter().map(|q| timing_mark(*q)).collect())
        .collect();
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::super::notation::read_movements;
    use super::*;

    #[test]
    fn timing_is_checked_against_movements() {
        let (moves, _) = read_movements("DS DS RS").unwrap();
        let check = |t: &str| check_timing(&moves, &read_timing(t).unwrap());
        assert_eq!(timing_line(&moves), "&a1 &a2 &3");
        assert_eq!(check("&a1 &a2 &3"), TimingCheck::Same);
        assert_eq!(check("&1 &2 &3"), TimingCheck::Same);
        assert_eq!(check("&5 &6 &7"), TimingCheck::Same);
        assert_eq!(check("&7 &8 &1"), TimingCheck::Same);
        assert_eq!(check("&1 &2 &4"), TimingCheck::Order("4".into()));
        assert_eq!(check("&1 &2 3"), TimingCheck::Differs);
        assert_eq!(check("&1 &2 &3 &4"), TimingCheck::Differs);
    }

    #[test]
    fn a_sound_timing_line_places_single_sounds() {
        let (moves, counts) = read_movements("S S").unwrap();
        assert_eq!(counts, 2);
        let check = check_timing(&moves, &read_timing("& 1").unwrap());
        assert_eq!(check, TimingCheck::Placed(vec![vec![2], vec![4]], 1));
    }
}
