//! Numbers in words, in Roman figures and as ordinals: `two`, `IV`, `2nd`, `second`.

const WORDS: [&str; 21] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
    "twenty",
];

/// Counts of several eights.
const EIGHTS: [(&str, u32); 5] = [
    ("twenty-four", 24),
    ("thirty-two", 32),
    ("forty", 40),
    ("forty-eight", 48),
    ("sixty-four", 64),
];

const ORDINALS: [&str; 8] =
    ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth"];

/// The largest Roman figure that is read.
const MOST_ROMAN: u32 = 20;

/// A whole number in digits or in words up to twenty. `None` for anything else, and beyond a million.
pub fn number(word: &str) -> Option<u32> {
    if !word.is_empty() && word.len() <= 7 && word.bytes().all(|b| b.is_ascii_digit()) {
        return word.parse().ok();
    }
    if word.len() > 11 {
        return None;
    }
    let lower = word.to_lowercase();
    if let Some((_, n)) = EIGHTS.iter().find(|(name, _)| *name == lower) {
        return Some(*n);
    }
    WORDS.iter().position(|w| *w == lower).map(|n| n as u32)
}

/// A whole number above 0 in digits.
pub(super) fn in_figures(word: &str) -> Option<u32> {
    number(word).filter(|n| *n > 0 && word.bytes().all(|b| b.is_ascii_digit()))
}

/// `IV`, `iv`: a Roman figure up to twenty.
pub(super) fn roman(word: &str) -> Option<u32> {
    let value = |c: char| match c.to_ascii_uppercase() {
        'I' => Some(1),
        'V' => Some(5),
        'X' => Some(10),
        _ => None,
    };
    if word.len() > 5 {
        return None;
    }
    let digits: Vec<i32> = word.chars().map(value).collect::<Option<_>>()?;
    let mut sum = 0;
    for (i, digit) in digits.iter().enumerate() {
        let before_larger = digits.get(i + 1).is_some_and(|next| next > digit);
        sum += if before_larger { -digit } else { *digit };
    }
    u32::try_from(sum).ok().filter(|n| (1..=MOST_ROMAN).contains(n))
}

/// A Roman figure in capitals: small letters may be a word.
pub(super) fn capital_roman(word: &str) -> Option<u32> {
    roman(word).filter(|_| word.chars().all(|c| c.is_ascii_uppercase()))
}

/// `2nd`, `second`.
pub(super) fn ordinal(word: &str) -> Option<u32> {
    let lower = word.to_lowercase();
    let digits = lower.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let ending = matches!(&lower[digits.len()..], "st" | "nd" | "rd" | "th");
    let spelled = ORDINALS.iter().position(|o| *o == lower).map(|n| n as u32 + 1);
    spelled.or_else(|| number(digits).filter(|_| ending))
}

/// `2`, `2nd`, `second`, `two`.
pub(super) fn ways_to_write(n: u32) -> Vec<String> {
    let ending = match n {
        1 => "st",
        2 => "nd",
        3 => "rd",
        _ => "th",
    };
    let mut out = vec![n.to_string(), format!("{n}{ending}")];
    let index = n as usize;
    out.extend(index.checked_sub(1).and_then(|at| ORDINALS.get(at)).map(|o| o.to_string()));
    out.extend(WORDS.get(index).filter(|_| n > 0).map(|w| w.to_string()));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_in_any_dress() {
        let romans = [("I", 1), ("iv", 4), ("VIII", 8), ("XIX", 19), ("xx", 20)];
        for (word, n) in romans {
            assert_eq!(roman(word), Some(n), "{word}");
        }
        assert_eq!((roman("XXI"), roman("A"), roman("")), (None, None, None));
        assert_eq!((capital_roman("IX"), capital_roman("ix")), (Some(9), None));
        for word in ["2nd", "second", "Second"] {
            assert_eq!(ordinal(word), Some(2), "{word}");
        }
        assert_eq!(ordinal("two"), None);
        assert_eq!(ways_to_write(12), ["12", "12th", "twelve"]);
        assert_eq!(ways_to_write(3), ["3", "3rd", "third", "three"]);
        assert_eq!((number("Twelve"), number("31"), number("dozen")), (Some(12), Some(31), None));
    }
}
