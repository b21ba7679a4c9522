//! What a file is, in a teacher's words, from its first bytes.

/// Names what a file holds. `head` is its beginning, some hundred bytes or more; may be empty.
pub fn what_is(head: &[u8]) -> &'static str {
    let starts = |magic: &[u8]| head.starts_with(magic);
    let holds =
        |at: usize, magic: &[u8]| head.get(at..).is_some_and(|rest| rest.starts_with(magic));
    if head.is_empty() {
        "the file is empty"
    } else if let Some(sound) = sound(head) {
        sound
    } else if starts(b"#!AMR") || starts(b"caff") || starts(b".snd") || starts(b"DSD ") {
        "it is audio in a format that is not read here"
    } else if starts(b"\x7fELF")
        || starts(b"MZ")
        || starts(b"#!")
        || starts(&[0xcf, 0xfa, 0xed, 0xfe])
    {
        "it is a program"
    } else if starts(b"MThd") {
        "it is a MIDI file: notes, not sound"
    } else if starts(b"%PDF") {
        "it is a PDF document"
    } else if starts(b"PK\x03\x04")
        || starts(b"\x1f\x8b")
        || starts(b"7z\xbc\xaf")
        || starts(b"Rar!")
    {
        "it is a packed archive"
    } else if starts(b"\x89PNG") || starts(b"\xff\xd8\xff") || starts(b"GIF8") {
        "it is a picture"
    } else if starts(&[0x1a, 0x45, 0xdf, 0xa3]) {
        "it is a Matroska or WebM file"
    } else if starts(&[0x30, 0x26, 0xb2, 0x75]) {
        "it is a Windows Media file"
    } else if starts(b"RIFF") && holds(8, b"AVI ") {
        "it is an AVI video"
    } else if starts(b"wvpk") || starts(b"MAC ") || starts(b"MPCK") || starts(b"TTA1") {
        "it is audio in a format that is not read here"
    } else if is_text(head) {
        "it is text"
    } else {
        "no audio format was recognised in it"
    }
}

/// The words for a file that starts as a format that is read here, but breaks off or is damaged.
fn sound(head: &[u8]) -> Option<&'static str> {
    let holds =
        |at: usize, magic: &[u8]| head.get(at..).is_some_and(|rest| rest.starts_with(magic));
    if holds(0, b"RIFF") && holds(8, b"WAVE") {
        Some("it starts as a WAV file, but is cut off or damaged")
    } else if holds(0, b"FORM") && (holds(8, b"AIFF") || holds(8, b"AIFC")) {
        Some("it starts as an AIFF file, but is cut off or damaged")
    } else if holds(0, b"fLaC") {
        Some("it starts as a FLAC file, but is cut off or damaged")
    } else if holds(0, b"OggS") {
        Some(
            "it starts as an Ogg file, but is cut off, damaged, or holds no sound that can be read",
        )
    } else if holds(4, b"ftyp") {
        Some("it starts as an M4A or MP4 file, but is cut off or damaged")
    } else if holds(0, b"ID3") || is_mpeg_sync(head) {
        Some("it starts as an MP3 file, but is cut off or damaged")
    } else {
        None
    }
}

/// Eleven set bits, with layer and version bits that MP3 and MP2 use.
fn is_mpeg_sync(head: &[u8]) -> bool {
    let [0xff, second, ..] = head else { return false };
    second & 0xe0 == 0xe0 && matches!(second >> 1 & 3, 1 | 2) && second >> 3 & 3 != 1
}

fn is_text(head: &[u8]) -> bool {
    if head.starts_with(&[0xff, 0xfe]) || head.starts_with(&[0xfe, 0xff]) {
        return true;
    }
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        // The end of the sample may cut a letter in two.
        Err(e) if e.valid_up_to() + 4 > head.len() => {
            std::str::from_utf8(&head[..e.valid_up_to()]).unwrap_or_default()
        }
        Err(_) => return false,
    };
    !text.is_empty() && !text.chars().any(|c| c.is_control() && !c.is_whitespace())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn common_mistakes_are_named() {
        assert_eq!(what_is(b""), "the file is empty");
        assert_eq!(what_is(b"Part A\r\n  brush step\r\n"), "it is text");
        assert_eq!(what_is("Tänze für Ältere ✓".as_bytes()), "it is text");
        assert_eq!(what_is(b"\x7fELF\x02\x01"), "it is a program");
        assert_eq!(what_is(b"\xff\xd8\xff\xe0"), "it is a picture");
        assert_eq!(what_is(b"%PDF-1.7"), "it is a PDF document");
        assert_eq!(what_is(b"MThd\0\0\0\x06"), "it is a MIDI file: notes, not sound");
        assert_eq!(what_is(&[0; 64]), "no audio format was recognised in it");
        assert!(what_is(b"RIFF\x24\0\0\0WAVEfmt ").contains("WAV file, but is cut off"));
        assert!(what_is(b"\xff\xfb\x90\x64").contains("MP3"));
    }
}
