//! Sheets that put a dance together by signs: `Aa (16) = Triple + Triple`, `A = Aa + Ab`, `all = A + B + A`. They are set
//! as headings with steps behind them, and an order.

use std::collections::HashMap;

use super::line::{Line, Piece};
use super::words::key;

/// One such line.
struct Equation {
    line: usize,
    /// What stands before the sign, from and to.
    name: (usize, usize),
    /// Its name without counts, as a key.
    key: String,
    /// What is put together, piece by piece.
    pieces: Vec<(usize, usize)>,
}

/// Words of ours to put in, or else a stretch of the line to keep, from and to.
type Spliced = (Option<String>, (usize, usize));

/// Sets such lines as headings and an order; other sheets stay as they are.
pub(super) fn set_compositions(lines: &mut [Line<'_>]) {
    let all: Vec<Equation> =
        lines.iter().enumerate().filter_map(|(i, l)| equation(i, &l.text)).collect();
    let names: Vec<&str> = all.iter().map(|e| e.key.as_str()).collect();
    let piece_key = |e: &Equation, &(from, to): &(usize, usize)| key(&lines[e.line].text[from..to]);
    let composed = |e: &Equation| {
        let pieces: Vec<String> = e.pieces.iter().map(|p| piece_key(e, p)).collect();
        (pieces.len() > 1 && pieces.iter().all(|p| names.contains(&p.as_str()))).then_some(pieces)
    };
    let of: HashMap<&str, Vec<String>> =
        all.iter().filter_map(|e| Some((e.key.as_str(), composed(e)?))).collect();
    let used = |name: &str| of.values().flatten().any(|p| p == name);
    let typed: HashMap<&str, String> = all
        .iter()
        .map(|e| (e.key.as_str(), lines[e.line].text[e.name.0..e.name.1].to_string()))
        .collect();
    let mut set: Vec<(usize, Vec<Spliced>)> = Vec::new();
    for e in &all {
        let put = |words: &str, at: usize| (Some(words.to_string()), (at, at));
        let mut out = Vec::new();
        if !of.contains_key(e.key.as_str()) {
            if !used(&e.key) {
                continue;
            }
            let end = lines[e.line].text.len();
            out.extend([put("Part ", e.name.0), (None, e.name), put(": ", e.name.1)]);
            out.push((None, (e.pieces.first().map_or(end, |p| p.0), end)));
        } else if used(&e.key) {
            out.extend([put("# ", e.name.0), (None, (e.name.0, lines[e.line].text.len()))]);
        } else {
            out.push(put("Order: ", e.name.0));
            for piece in &e.pieces {
                let name = piece_key(e, piece);
                match of.get(name.as_str()) {
                    Some(parts) => {
                        let plain =
                            |p: &String| typed.get(p.as_str()).map_or(p.clone(), |t| alone(t));
                        let names: Vec<String> = parts.iter().map(plain).collect();
                        out.push(put(&format!("{}, ", names.join(", ")), piece.0));
                    }
                    None => out.extend([(None, *piece), put(", ", piece.1)]),
                }
            }
        }
        set.push((e.line, out));
    }
    for (line, pieces) in set {
        let pieces: Vec<Piece<'_>> = pieces
            .iter()
            .map(|(put, (from, to))| match put {
                Some(words) => Piece::Put(words, *from),
                None => Piece::Kept(*from, *to),
            })
            .collect();
        lines[line].set(&pieces);
    }
}

/// A name without counts in brackets behind it.
fn alone(name: &str) -> String {
    name.split('(').next().unwrap_or("").trim().to_string()
}

fn equation(line: usize, text: &str) -> Option<Equation> {
    let sign = text.find('=')?;
    let indent = text.len() - text.trim_start().len();
    let to = text[..sign].trim_end().len();
    let name = alone(text.get(indent..to)?);
    if name.is_empty() || name.split_whitespace().count() > 3 || text[sign + 1..].contains('=') {
        return None;
    }
    let mut at = sign + 1;
    let mut pieces = Vec::new();
    for piece in text[sign + 1..].split('+') {
        let from = at + piece.len() - piece.trim_start().len();
        if !piece.trim().is_empty() {
            pieces.push((from, from + piece.trim().len()));
        }
        at += piece.len() + 1;
    }
    Some(Equation { line, name: (indent, to), key: key(&name), pieces })
}

#[cfg(test)]
mod tests {
    use super::super::parse::parse;

    #[test]
    fn a_dance_put_together_by_signs_is_read() {
        let sheet = "lantern blues\nwait 16\n\nAa (8) = Triple + Triple\nAb (8) = Basic + Basic + Chain\nA = Aa + Ab\n\n\
                     C (8) = 4 DS + 4 RS\n\nwhole thing = A + C + A\n";
        let (routine, findings) = parse(sheet);
        assert!(findings.iter().all(|f| !f.is_mistake()), "{findings:#?}");
        let names: Vec<&str> =
            routine.order.iter().map(|o| routine.parts[o.part].name.as_str()).collect();
        assert_eq!(names, ["Part Aa", "Part Ab", "Part C", "Part Aa", "Part Ab"]);
        assert_eq!(routine.counts(), 40);
    }
}
