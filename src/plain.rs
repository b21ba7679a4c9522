//! Names and sentences as they can be shown anywhere: on one line, with nothing in them that is not to
//! be read, and measured in columns of a fixed-width type.

/// Marks, joiners and selectors that stand on the character before them and take no width.
pub(crate) fn rides_along(c: char) -> bool {
    matches!(c as u32,
        0x0300..=0x036f | 0x0483..=0x0489 | 0x0591..=0x05bd | 0x05bf | 0x05c1..=0x05c2
        | 0x0610..=0x061a | 0x064b..=0x065f | 0x0670 | 0x06d6..=0x06dc | 0x06df..=0x06e4
        | 0x1ab0..=0x1aff | 0x1dc0..=0x1dff | 0x200c..=0x200d | 0x20d0..=0x20ff
        | 0xfe00..=0xfe0f | 0xfe20..=0xfe2f | 0xe_0020..=0xe_007f | 0xe_0100..=0xe_01ef)
}

/// Marks on one character that are kept; more would climb into the line above.
const MARKS_KEPT: usize = 4;

/// The text on one line and without anything that is not a character to be read: control characters
/// (which XML forbids), overrides of the writing direction (which would turn what stands around), and
/// piles of marks. Blanks are joined.
pub(crate) fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut marks = 0;
    for c in text.chars() {
        if c.is_whitespace() || c.is_control() {
            if !out.is_empty() && !out.ends_with(' ') {
                out.push(' ');
            }
            continue;
        }
        let turns_direction =
            matches!(c as u32, 0x200e..=0x200f | 0x202a..=0x202e | 0x2066..=0x206f);
        let invisible = matches!(c as u32, 0x00ad | 0x061c | 0x200b | 0x2060..=0x2064 | 0xfeff);
        let no_character = (c as u32) & 0xfffe == 0xfffe || matches!(c as u32, 0xfdd0..=0xfdef);
        marks = if rides_along(c) { marks + 1 } else { 0 };
        if !(turns_direction || invisible || no_character || marks > MARKS_KEPT) {
            out.push(c);
        }
    }
    out.truncate(out.trim_end().len());
    out
}

/// Ends of the characters as read: a letter with its marks, an emoji with its joined parts.
pub(crate) fn boundaries(text: &str) -> Vec<usize> {
    let mut ends: Vec<usize> = Vec::new();
    let mut joined = false;
    let mut flag_open = false;
    for (at, c) in text.char_indices() {
        let end = at + c.len_utf8();
        let flag = matches!(c as u32, 0x1_f1e6..=0x1_f1ff);
        let skin_tone = matches!(c as u32, 0x1_f3fb..=0x1_f3ff);
        let goes_on = joined || rides_along(c) || skin_tone || (flag && flag_open);
        match ends.last_mut() {
            Some(last) if goes_on => *last = end,
            _ => ends.push(end),
        }
        flag_open = flag && !flag_open;
        joined = c == '\u{200d}';
    }
    ends
}

/// Columns that the text takes in a fixed-width type.
pub(crate) fn columns(text: &str) -> usize {
    let one = |c: char| match c as u32 {
        _ if rides_along(c) => 0,
        // Hangul, Chinese, Japanese and full-width forms; emoji.
        0x1100..=0x115f
        | 0x2e80..=0x303e
        | 0x3041..=0xa4cf
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0xffe0..=0xffe6
        | 0x1_f300..=0x1_faff
        | 0x2_0000..=0x3_fffd => 2,
        _ => 1,
    };
    text.chars().map(one).sum()
}

/// The text in lines of at most `most` columns, broken at blanks; longer words are broken inside.
pub(crate) fn wrapped_columns(text: &str, most: usize) -> Vec<String> {
    let most = most.max(2);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let blank = usize::from(!line.is_empty());
        if columns(&line) + blank + columns(word) <= most {
            if blank == 1 {
                line.push(' ');
            }
            line.push_str(word);
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        let mut start = 0;
        for end in boundaries(word) {
            let character = &word[start..end];
            if columns(&line) + columns(character) > most && !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line.push_str(character);
            start = end;
        }
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cleaning_leaves_one_safe_line() {
        assert_eq!(clean("  Part\tA\r\n<b>\u{0}\u{7}& "), "Part A <b> &");
        assert_eq!(clean("a\u{202e}b\u{2066}c\u{feff}\u{ffff}"), "abc");
        assert_eq!(clean("שיר 🎶"), "שיר 🎶");
        let pile = format!("e{}", "\u{301}".repeat(50));
        assert_eq!(clean(&pile).chars().count(), 1 + MARKS_KEPT);
        assert_eq!(clean("\u{1}\u{2}"), "");
    }

    #[test]
    fn columns_count_wide_and_riding_characters() {
        assert_eq!(columns("Part A"), 6);
        assert_eq!(columns("e\u{301}"), 1);
        assert_eq!(columns("歌🎶"), 4);
    }

    #[test]
    fn lines_are_never_wider_than_asked() {
        let text =
            "four counts are left over at averyveryverylongwordwithoutblanks 歌歌歌歌歌歌歌歌歌歌";
        for most in [2, 7, 20, 80] {
            let lines = wrapped_columns(text, most);
            assert!(lines.iter().all(|l| columns(l) <= most), "{lines:?}");
            let joined = lines.concat().replace(' ', "");
            assert_eq!(joined, text.replace(' ', ""));
        }
    }
}
