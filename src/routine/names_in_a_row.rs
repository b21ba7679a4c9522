//! Steps one after another with nothing between them, `4 stomps 4 claps`, `triple triple`, `basic left basic right`.

use super::glossary::name_key;
use super::line::{Line, Piece};
use super::notation::read_movements;
use super::phrases::times_word;
use super::vocabulary::step_at;
use super::words::{foot, number, runs};

/// Fewest steps in full that stand in a row, and fewest letters of each.
const FEWEST: usize = 3;

/// Sets commas between steps in a row: each with a number or its foot, all of one name, or each a step in full in front of
/// counts or of how often they are danced.
pub(super) fn names_in_a_row(line: &mut Line<'_>) {
    let whole = line.text.clone();
    let end = names_end(&whole);
    let text = whole[..end].trim_end();
    let all = runs(text, |c| !c.is_whitespace());
    let said: Vec<&str> = all.iter().map(|&(from, to)| &text[from..to]).collect();
    let plain = |w: &&str| w.chars().all(|c| c.is_alphanumeric() || c == '-');
    if said.len() < 2 || !said.iter().all(plain) {
        return;
    }
    if text.len() < whole.trim_end().len() {
        let in_full = |w: &&str| w.len() > FEWEST && step_at(&[*w]) == Some(1);
        if said.len() >= FEWEST && said.iter().all(in_full) {
            set_in_full(line, &whole, &all);
        }
        return;
    }
    if read_movements(text).is_some() {
        return;
    }
    if let Some(starts) = starts(&said, &all) {
        let mut pieces = Vec::new();
        let ends = starts[1..].iter().copied().chain([text.len()]);
        for (n, (&from, to)) in starts.iter().zip(ends).enumerate() {
            if n > 0 {
                pieces.push(Piece::Put(", ", from));
            }
            pieces.push(Piece::Kept(if n == 0 { 0 } else { from }, to));
        }
        line.set(&pieces);
    }
}

/// Where names end: what stands behind a sign, or says how often, is none.
fn names_end(text: &str) -> usize {
    let end = text.find(['=', '(', '[', '"']).unwrap_or(text.len());
    let before = text[..end].trim_end();
    let last = before.rsplit(' ').next().unwrap_or("");
    if times_word(last).is_some() { before.len() - last.len() } else { end }
}

/// `stomp stomp clap clap = 4` with commas, and in braces where they are danced several times.
fn set_in_full(line: &mut Line<'_>, whole: &str, all: &[(usize, usize)]) {
    let (Some(&(first, _)), Some(&(_, last))) = (all.first(), all.last()) else { return };
    let behind = whole[last..].split_whitespace().next().unwrap_or("");
    let several = times_word(behind).is_some();
    let mut pieces = vec![Piece::Kept(0, first)];
    pieces.extend(several.then_some(Piece::Put("{", first)));
    for (n, &(from, to)) in all.iter().enumerate() {
        if n > 0 {
            pieces.push(Piece::Put(", ", from));
        }
        pieces.push(Piece::Kept(from, to));
    }
    pieces.extend(several.then_some(Piece::Put("}", last)));
    pieces.push(Piece::Kept(last, whole.len()));
    line.set(&pieces);
}

/// Where each step begins; `None` where they are no steps in a row.
fn starts(said: &[&str], all: &[(usize, usize)]) -> Option<Vec<usize>> {
    let (mut starts, mut names, mut numbered, mut on_feet) = (Vec::new(), Vec::new(), 0, 0);
    let mut i = 0;
    while i < said.len() {
        starts.push(all[i].0);
        let counted = usize::from(number(said[i]).is_some() && i + 1 < said.len());
        let used = step_at(&said[i + counted..])?;
        numbered += counted;
        names.push(name_key(&said[i + counted..i + counted + used].join(" ")));
        i += counted + used;
        let on_foot = usize::from(said.get(i).is_some_and(|w| foot(w).is_some()));
        on_feet += on_foot;
        i += on_foot;
    }
    let alike = names.windows(2).all(|w| w[0] == w[1]) && numbered + on_feet == 0;
    let each = [numbered, on_feet].contains(&names.len());
    (names.len() > 1 && (alike || each)).then_some(starts)
}

#[cfg(test)]
mod tests {
    use super::super::line::set_by;
    use super::*;

    fn set(texts: &[&str]) -> Vec<String> {
        set_by(|lines| lines.iter_mut().for_each(names_in_a_row), texts)
    }

    #[test]
    fn steps_in_full_stand_in_a_row() {
        assert_eq!(set(&["stomp stomp clap clap = 4"]), ["stomp, stomp, clap, clap = 4"]);
        assert_eq!(set(&["stomp clap clap x2"]), ["{stomp, clap, clap} x2"]);
        assert_eq!(set(&["Triple Lantern stomp (4)"]), ["Triple Lantern stomp (4)"]);
    }

    #[test]
    fn steps_in_a_row_are_parted() {
        assert_eq!(set(&["4 stomps 4 claps"]), ["4 stomps , 4 claps"]);
        assert_eq!(set(&["basic left basic right"]), ["basic left , basic right"]);
        assert_eq!(set(&["triple triple"]), ["triple , triple"]);
        assert_eq!(set(&["triple basic"]), ["triple basic"]);
    }
}
