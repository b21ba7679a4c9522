//! Reading what a teacher types: places, names, lengths, lists of times.
//!
//! Every function takes the words as typed and gives what they mean, or [`Error::BadMark`] with the
//! words quoted and an example that works.
//!
//! [`Error::BadMark`]: crate::error::Error::BadMark

use crate::error::Result;
use crate::units::{Count, parse_clock};

use super::form::{FormItem, Length};
use super::{At, Mark, Place, Which, bad};

/// Longest length that is read, in counts; over two hours.
const LONGEST: u32 = 50_000;

/// A count (`33`, `count 33`) or a time (`0:17.86`, `17.86`, `17.9s`).
///
/// # Errors
/// When it is neither.
pub fn place(typed: &str) -> Result<Place> {
    let typed = typed.trim();
    let lower = typed.to_lowercase();
    let mut rest = lower.as_str();
    for word in ["at ", "on ", "count "] {
        rest = rest.strip_prefix(word).unwrap_or(rest).trim_start();
    }
    let at = match rest.parse::<i32>() {
        Ok(count) if !rest.starts_with('+') => Some(At::Count(Count(count))),
        _ => parse_clock(rest).filter(|_| is_clock(rest)).map(At::Time),
    };
    at.map(|at| Place { typed: rest.to_string(), at }).ok_or_else(|| {
        bad(format!(
            "\"{typed}\" is neither a count nor a time; write a count as 33 and a time as 0:17.86"
        ))
    })
}

/// A bare whole number is a count; a time shows that it is one.
fn is_clock(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit() || c == '.')
        && text.contains([':', '.', ',', 's'])
}

/// A place in a phrase, or its name.
///
/// # Errors
/// When nothing was typed.
pub fn which(typed: &str) -> Result<Which> {
    let typed = typed.trim();
    if typed.is_empty() {
        return Err(bad("say which phrase: its name, as in verse 2, or its first count, as in 33"));
    }
    Ok(place(typed).map_or_else(|_| Which::Named(typed.to_string()), Which::At))
}

/// Several, with commas between them.
///
/// # Errors
/// As [`which`].
pub fn several(typed: &str) -> Result<Vec<Which>> {
    typed.split(',').map(which).collect()
}

/// `33 verse`, `0:17.86 verse`, `verse at 33`; several with commas between them.
///
/// # Errors
/// When a place or a name is missing.
pub fn phrases(typed: &str) -> Result<Vec<(Place, String)>> {
    // A decimal comma is no separator: it stands between digits.
    let mut items: Vec<String> = vec![String::new()];
    let chars: Vec<char> = typed.chars().collect();
    for (i, &c) in chars.iter().enumerate() {
        let digit = |c: Option<&char>| c.is_some_and(char::is_ascii_digit);
        let decimal = i > 0 && digit(chars.get(i - 1)) && digit(chars.get(i + 1));
        match items.last_mut() {
            Some(item) if (c != ',' && c != ';') || decimal => item.push(c),
            _ => items.push(String::new()),
        }
    }
    items.iter().map(|item| phrase(item)).collect()
}

fn phrase(typed: &str) -> Result<(Place, String)> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    // The place first, with as many words as it takes ("count 33"), or last behind "at" or "on".
    for taken in [2, 1] {
        if words.len() > taken
            && let Ok(place) = place(&words[..taken].join(" "))
        {
            return Ok((
                place,
                words[taken..].join(" ").trim_start_matches(['=', ':', ' ']).into(),
            ));
        }
    }
    let behind = words.iter().rposition(|word| matches!(word.to_lowercase().as_str(), "at" | "on"));
    if let Some(at) = behind.filter(|at| *at > 0 && at + 1 < words.len())
        && let Ok(place) = place(&words[at + 1..].join(" "))
    {
        return Ok((place, words[..at].join(" ")));
    }
    let typed = typed.trim();
    Err(bad(match place(typed) {
        Ok(_) => format!("\"{typed}\" has no name; write it as in \"{typed} verse\""),
        Err(_) => format!(
            "\"{typed}\" does not say where the phrase starts; write it as in \"33 verse\" or \
             \"0:17.86 verse\""
        ),
    }))
}

/// `verse 2 to 37`, `33 to 37`, `33 37`.
///
/// # Errors
/// When one of the two is missing.
pub fn movement(typed: &str) -> Result<Mark> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let to = words.iter().rposition(|word| word.eq_ignore_ascii_case("to"));
    let (from, to) = match (to, words.as_slice()) {
        (Some(at), _) => (words[..at].join(" "), words[at + 1..].join(" ")),
        (None, [from, to]) if place(from).is_ok() => (from.to_string(), to.to_string()),
        _ => {
            return Err(bad(format!(
                "\"{typed}\" does not say where to move; write it as in \"verse 2 to 37\" or \"33 to 37\""
            )));
        }
    };
    Ok(Mark::Move { which: which(&from)?, to: place(&to)? })
}

/// `33 chorus`, `verse 2 as chorus`.
///
/// # Errors
/// When one of the two is missing.
pub fn renaming(typed: &str) -> Result<Mark> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let link = words.iter().position(|w| matches!(w.to_lowercase().as_str(), "as" | "to"));
    if let Some(at) = link.filter(|at| *at > 0 && at + 1 < words.len()) {
        let label = words[at + 1..].join(" ");
        return Ok(Mark::Label { which: which(&words[..at].join(" "))?, label });
    }
    match words.split_first() {
        Some((first, label)) if !label.is_empty() && place(first).is_ok() => {
            Ok(Mark::Label { which: which(first)?, label: label.join(" ") })
        }
        _ => Err(bad(format!(
            "\"{typed}\" does not say which phrase is to be called what; write it as in \"33 chorus\" \
             or \"verse 2 as chorus\""
        ))),
    }
}

/// `33 at 49`, `verse 2 at 49 as tag`, `49`, `at 49 tag`.
///
/// # Errors
/// When it does not say where.
pub fn splitting(typed: &str) -> Result<Mark> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let at = words.iter().rposition(|word| word.eq_ignore_ascii_case("at"));
    let (before, behind) =
        at.map_or((&words[..0], &words[..]), |at| (&words[..at], &words[at + 1..]));
    let example = || {
        bad(format!(
            "\"{typed}\" does not say where to split; write it as in \"33 at 49\" or \"verse 2 at 49 \
             as tag\""
        ))
    };
    let (spot, label) = behind.split_first().ok_or_else(example)?;
    let at = place(spot).map_err(|_| example())?;
    let label = match label.split_first() {
        Some((word, rest)) if word.eq_ignore_ascii_case("as") => rest.join(" "),
        _ => label.join(" "),
    };
    let which = if before.is_empty() { None } else { Some(which(&before.join(" "))?) };
    Ok(Mark::Split { which, at, label: Some(label).filter(|label| !label.is_empty()) })
}

/// `+1`, `-2`: counts later or earlier; `17`, `0:10.1`: a bar starts there.
///
/// # Errors
/// When it is none of these.
pub fn bar(typed: &str) -> Result<Mark> {
    let typed = typed.trim();
    if typed.starts_with(['+', '-']) {
        let counts = typed.parse().ok().filter(|n: &i32| n.unsigned_abs() <= 64);
        return counts.map(Mark::BarShift).ok_or_else(|| {
            bad(format!(
                "\"{typed}\" is no number of counts; write +1 for one count later, -1 for one earlier"
            ))
        });
    }
    Ok(Mark::BarAt(place(typed)?))
}

/// Times of beats: seconds or clock times with blanks, commas or new lines between them. A line with
/// tabs counts by its first column, so an exported list of beats can be read; `#` starts a remark.
///
/// # Errors
/// With the place in the list of the first that is no time.
pub fn times(typed: &str) -> Result<Vec<f64>> {
    let mut times = Vec::new();
    for line in typed.trim_start_matches('\u{feff}').lines() {
        let line = line.split('#').next().unwrap_or("");
        let line = line.split('\t').find(|column| !column.trim().is_empty()).unwrap_or("");
        for word in line.split([' ', ';', '\r']).filter(|word| !word.is_empty()) {
            let word = word.trim_matches(',');
            let commas = word.matches(',').count();
            let decimal_comma = commas == 1 && !word.contains('.');
            let parts: Vec<&str> =
                if decimal_comma { vec![word] } else { word.split(',').collect() };
            for part in parts.into_iter().filter(|part| !part.is_empty()) {
                let time = parse_clock(part).filter(|time| time.is_finite() && *time < 1e6);
                times.push(time.ok_or_else(|| {
                    bad(format!(
                        "\"{}\", number {} of the list, is no time; write times as 0:10.1 or 10.1",
                        part.chars().take(40).collect::<String>(),
                        times.len() + 1
                    ))
                })?);
            }
        }
    }
    Ok(times)
}

/// `intro 16, verse 4 eights, chorus 4x8, bridge 2 eights and 4, tag 2 bars, ending`. The last may
/// have no length and takes the rest.
///
/// # Errors
/// With the item that has no name or a length that cannot be read.
pub fn form(typed: &str) -> Result<Vec<FormItem>> {
    let items: Vec<&str> =
        typed.split([',', ';', '\n']).map(str::trim).filter(|item| !item.is_empty()).collect();
    let read = |(place, item): (usize, &&str)| form_item(item, place + 1, place + 1 == items.len());
    items.iter().enumerate().map(read).collect()
}

fn form_item(item: &str, number: usize, is_last: bool) -> Result<FormItem> {
    let spaced = item.replace(['×', '*'], "x").replace('+', " + ").replace([':', '='], " ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let found = (0..words.len()).find_map(|at| Some((at, length(&words[at..])?)));
    match found {
        Some((0, _)) => Err(bad(format!(
            "item {number} of the form, \"{item}\", has no name; write it as in \"verse {item}\""
        ))),
        Some((at, length)) => Ok(FormItem { label: words[..at].join(" "), length }),
        None if is_last => Ok(FormItem { label: words.join(" "), length: Length::Rest }),
        None => Err(bad(format!(
            "item {number} of the form, \"{item}\", has no length that can be read; write it as in \
             \"verse 32\", \"verse 4 eights\" or \"verse 4x8\", with commas between the phrases"
        ))),
    }
}

/// A length, when the words are one and nothing else.
fn length(words: &[&str]) -> Option<Length> {
    let lower: Vec<String> = words.iter().map(|word| word.to_lowercase()).collect();
    let lower: Vec<&str> = lower.iter().map(String::as_str).collect();
    if let ["rest"] | ["the", "rest"] = lower.as_slice() {
        return Some(Length::Rest);
    }
    if let [number, "bar" | "bars"] = lower.as_slice() {
        return Some(Length::Bars(number_word(number)?));
    }
    let is_and = |word: &&str| matches!(*word, "and" | "+" | "&" | "plus");
    let (first, more) = match lower.iter().position(is_and) {
        Some(at) => (&lower[..at], Some(&lower[at + 1..])),
        None => (&lower[..], None),
    };
    let eights = in_eights(first);
    let counts = match more {
        // "and 4" goes with eights alone: "32 and 4" could be a name's number and a length.
        Some(more) => eights?.checked_add(in_counts(more)?)?,
        None => eights.or_else(|| in_counts(first))?,
    };
    (counts <= LONGEST).then_some(Length::Counts(counts))
}

/// `4 eights`, `4 8s`, `4x8`, `4 x 8`, `an eight`, in counts.
fn in_eights(words: &[&str]) -> Option<u32> {
    let eights = |word: &str| matches!(word, "eight" | "eights" | "8s" | "8's" | "8’s");
    let number = match words {
        [number, word] if eights(word) => number_word(number)?,
        [number, "x", size] => return number_word(number)?.checked_mul(digits(size)?),
        [product] => {
            let (number, size) = product.split_once('x')?;
            return digits(number)?.checked_mul(digits(size)?);
        }
        _ => return None,
    };
    number.checked_mul(8)
}

/// `32`, `32 counts`, `32c`, in counts.
fn in_counts(words: &[&str]) -> Option<u32> {
    match words {
        [number, "c" | "ct" | "cts" | "count" | "counts" | "beats"] => number_word(number),
        [number] => {
            let unit =
                ["counts", "cts", "ct", "c"].into_iter().find_map(|u| number.strip_suffix(u));
            digits(unit.unwrap_or(number))
        }
        _ => None,
    }
}

fn digits(text: &str) -> Option<u32> {
    text.parse().ok().filter(|_| text.bytes().all(|b| b.is_ascii_digit()))
}

fn number_word(text: &str) -> Option<u32> {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    if matches!(text, "a" | "an") {
        return Some(1);
    }
    let spelled = WORDS.iter().position(|word| *word == text).map(|n| n as u32);
    spelled.or_else(|| digits(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counts(typed: &str) -> Vec<(String, Length)> {
        form(typed).unwrap().into_iter().map(|item| (item.label, item.length)).collect()
    }

    #[test]
    fn lengths_are_read_as_teachers_say_them() {
        // An eight is 8 counts; 32 counts are 4 eights (widely taught).
        for (typed, expected) in [
            ("32", 32),
            ("32 counts", 32),
            ("32c", 32),
            ("4 eights", 32),
            ("four eights", 32),
            ("an eight", 8),
            ("one eight", 8),
            ("2 eights and 4", 20),
            ("2 eights + 4 counts", 20),
            ("4x8", 32),
            ("4 x 8", 32),
            ("4×8", 32),
            ("4x8+4", 36),
            ("4x8 and 4", 36),
            ("4 8s", 32),
            ("2 8's and 4", 20),
        ] {
            let items = counts(&format!("verse {typed}, end 8"));
            assert_eq!(items[0], ("verse".into(), Length::Counts(expected)), "{typed}");
        }
        assert_eq!(counts("tag 2 bars, end 8")[0].1, Length::Bars(2));
    }

    #[test]
    fn names_may_hold_numbers_colons_and_and() {
        assert_eq!(counts("verse 2 32")[0], ("verse 2".into(), Length::Counts(32)));
        assert_eq!(counts("Verse 1: 4 eights")[0], ("Verse 1".into(), Length::Counts(32)));
        assert_eq!(
            counts("fiddle and banjo 32")[0],
            ("fiddle and banjo".into(), Length::Counts(32))
        );
        assert_eq!(counts("intro 16\nverse = 32\n").len(), 2);
        assert_eq!(counts("verse 8, ending")[1], ("ending".into(), Length::Rest));
        assert_eq!(counts("verse 8, ending rest")[1], ("ending".into(), Length::Rest));
    }

    #[test]
    fn an_item_that_cannot_be_read_is_quoted() {
        let words = |typed: &str| form(typed).unwrap_err().to_string();
        assert!(
            words("intro 16, verse, chorus 32")
                .contains("item 2 of the form, \"verse\", has no length")
        );
        assert!(words("16, verse 32").contains("item 1 of the form, \"16\", has no name"));
        assert!(words("verse 99999999999, x 8").contains("\"verse 99999999999\""));
        assert!(words("verse -8, x 8").contains("\"verse -8\""));
    }

    #[test]
    fn counts_and_times_are_told_apart() {
        assert_eq!(place("33").unwrap().at, At::Count(Count(33)));
        assert_eq!(place("count 33").unwrap().at, At::Count(Count(33)));
        assert_eq!(place("-3").unwrap().at, At::Count(Count(-3)));
        assert_eq!(place("0:09.91").unwrap().at, At::Time(9.91));
        assert_eq!(place("9.91").unwrap().at, At::Time(9.91));
        assert_eq!(place("9,91").unwrap().at, At::Time(9.91));
        assert_eq!(place("9s").unwrap().at, At::Time(9.0));
        for nonsense in ["", "verse", "+3", "1:75", "1e5", "NaN", "inf", "99999999999", "-0:03"] {
            assert!(place(nonsense).is_err(), "{nonsense}");
        }
    }

    #[test]
    fn phrases_are_read_either_way_round() {
        let read = |typed: &str| -> Vec<(String, String)> {
            phrases(typed).unwrap().into_iter().map(|(p, label)| (p.typed, label)).collect()
        };
        let pair = |a: &str, b: &str| (a.to_string(), b.to_string());
        assert_eq!(read("33 verse"), [pair("33", "verse")]);
        assert_eq!(read("count 33 verse 2"), [pair("33", "verse 2")]);
        assert_eq!(read("verse 2 at 33"), [pair("33", "verse 2")]);
        assert_eq!(
            read("0:17,86 verse, 49 chorus"),
            [pair("0:17,86", "verse"), pair("49", "chorus")]
        );
        assert!(phrases("33").unwrap_err().to_string().contains("has no name"));
        assert!(phrases("verse").unwrap_err().to_string().contains("where the phrase starts"));
    }

    #[test]
    fn lists_of_times_are_read_from_many_hands() {
        let same = [10.1, 10.6, 71.1];
        for typed in [
            "0:10.1 0:10.6 1:11.1",
            "10.1,10.6,71.1",
            "10.1, 10.6, 71.1",
            "10,1 10,6 71,1",
            "10.1\n10.6\r\n71.1\n",
            "\u{feff}# by hand\n10.1\t1\n10.6\t2\n71.1\t3\n",
            "10.1; 10.6; 71.1",
        ] {
            assert_eq!(times(typed).unwrap(), same, "{typed:?}");
        }
        assert!(times("10.1 soon").unwrap_err().to_string().contains("\"soon\", number 2"));
        assert_eq!(times("").unwrap(), [0.0; 0]);
    }

    #[test]
    fn moves_labels_and_splits_are_read() {
        let named = |name: &str| Which::Named(name.into());
        let at = |typed: &str| place(typed).unwrap();
        assert_eq!(
            movement("verse 2 to 37").unwrap(),
            Mark::Move { which: named("verse 2"), to: at("37") }
        );
        assert_eq!(
            movement("33 37").unwrap(),
            Mark::Move { which: Which::At(at("33")), to: at("37") }
        );
        assert!(movement("verse 2").is_err());
        let label = |which, label: &str| Mark::Label { which, label: label.into() };
        assert_eq!(renaming("33 chorus").unwrap(), label(Which::At(at("33")), "chorus"));
        assert_eq!(renaming("verse 2 as my chorus").unwrap(), label(named("verse 2"), "my chorus"));
        assert!(renaming("verse 2").is_err());
        let split = |which, label: Option<&str>| Mark::Split {
            which,
            at: at("49"),
            label: label.map(Into::into),
        };
        assert_eq!(splitting("33 at 49").unwrap(), split(Some(Which::At(at("33"))), None));
        assert_eq!(
            splitting("verse 2 at 49 as tag").unwrap(),
            split(Some(named("verse 2")), Some("tag"))
        );
        assert_eq!(splitting("49").unwrap(), split(None, None));
        assert!(splitting("verse 2").is_err());
        assert_eq!(bar("+1").unwrap(), Mark::BarShift(1));
        assert_eq!(bar("-2").unwrap(), Mark::BarShift(-2));
        assert_eq!(bar("0:10.1").unwrap(), Mark::BarAt(at("0:10.1")));
        assert!(bar("+x").is_err());
    }
}
