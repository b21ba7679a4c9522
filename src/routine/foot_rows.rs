//! Movements written on two rows, one for each foot, as some cue sheets have them:
//!
//! ```text
//! L: DS    DS    S
//! R:    DS    R
//! ```

use crate::units::Foot;

use super::line::Line;
use super::lines::Kind;
use super::movement::find_movement;

/// A row's movements with the column of each, and the foot.
type Row<'t> = (Foot, Vec<(usize, &'t str)>);

/// Turns each pair of such rows into a line of movements and a line of feet.
pub(super) fn join_foot_rows(lines: &[Line<'_>], kinds: &mut [Kind]) {
    let mut i = 0;
    while i + 1 < lines.len() {
        let rows = (row(&lines[i].text), row(&lines[i + 1].text));
        if let (Some((first, above)), Some((second, below))) = rows
            && first != second
        {
            let mut all: Vec<(usize, &str, Foot)> = above
                .iter()
                .map(|(at, code)| (*at, *code, first))
                .chain(below.iter().map(|(at, code)| (*at, *code, second)))
                .collect();
            all.sort_by_key(|(at, ..)| *at);
            let feet = all.iter().map(|(.., foot)| *foot).collect();
            let mut written = String::new();
            for (n, (_, code, foot)) in all.iter().enumerate() {
                // A rock on one foot and a step on the other are a rock step.
                let rocked = n
                    .checked_sub(1)
                    .and_then(|b| all.get(b))
                    .is_some_and(|(_, before, f)| *code == "S" && *before == "R" && f != foot);
                written.push_str(if written.is_empty() || rocked { "" } else { " " });
                written.push_str(code);
            }
            kinds[i] = Kind::FootRows(written);
            kinds[i + 1] = Kind::Feet(feet);
            i += 1;
        }
        i += 1;
    }
}

/// `L: DS    DS    S`.
fn row(text: &str) -> Option<Row<'_>> {
    let (name, rest) = text.split_once(':')?;
    let foot = match name.trim().to_lowercase().as_str() {
        "l" | "left" | "lf" | "left foot" => Foot::Left,
        "r" | "right" | "rf" | "right foot" => Foot::Right,
        _ => return None,
    };
    let base = name.chars().count() + 1;
    let mut out = Vec::new();
    let mut at = 0;
    for word in rest.split_whitespace() {
        let place = at + rest[at..].find(word)?;
        find_movement(word)?;
        out.push((base + rest[..place].chars().count(), word));
        at = place + word.len();
    }
    (!out.is_empty()).then_some((foot, out))
}
