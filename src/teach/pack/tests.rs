//! Packs made, opened and tampered with.

use std::fs;
use std::io::Write;

use super::*;
use crate::routine::parse;
use crate::save::Overwrite;
use crate::song::testing::song;

const SHEET: &str = "Mill Walk\nWait: 8\n\nPart A (16)\n2 Triple\n4 Basic\n\nOrder: A A A A\n";

fn files() -> (SongMap, Vec<PackFile>) {
    let map = song(80);
    let (routine, _) = parse(SHEET);
    let source = Source {
        map: &map,
        map_name: "lamp oil.song.json",
        routine: &routine,
        routine_text: SHEET,
        routine_name: "mill-walk.txt",
        recording: None,
        minutes: 60,
    };
    let files = pack(source).unwrap();
    (map, files)
}

#[test]
fn a_pack_opens_as_it_was_made_from_a_folder_and_from_a_zip() {
    let (map, files) = files();
    let place = tempfile::tempdir().unwrap();
    let (folder, zip) = (place.path().join("pack"), place.path().join("pack.zip"));
    write_folder(&folder, &files, None).unwrap();
    write_zip(&zip, &files, None, Overwrite::No).unwrap();
    for path in [&folder, &zip] {
        let opened = open(path).unwrap();
        assert_eq!(opened.map.set, map.set);
        assert_eq!(opened.map.recording, map.recording);
        assert_eq!(opened.map.heard.grid.beats_s, map.heard.grid.beats_s);
        assert_eq!(
            (opened.routine_text.as_str(), opened.routine_name.as_str()),
            (SHEET, "mill-walk.txt")
        );
    }
    // The index names every file, and none of them is the recording.
    let index = fs::read_to_string(folder.join("index.html")).unwrap();
    for file in &files {
        assert!(
            index.contains(&format!(">{}<", file.name)) || file.name == "index.html",
            "{}",
            file.name
        );
        assert!(folder.join(&file.name).is_file());
        assert!(!file.name.ends_with(".mp3"));
    }
    assert!(index.contains("not in this pack"));
    let again = place.path().join("again.zip");
    write_zip(&again, &files, None, Overwrite::No).unwrap();
    assert_eq!(fs::read(zip).unwrap(), fs::read(again).unwrap(), "the same bytes");
}

#[test]
fn a_recording_goes_along_only_when_it_is_given() {
    let (_, files) = files();
    let place = tempfile::tempdir().unwrap();
    let audio = place.path().join("a.mp3");
    fs::write(&audio, b"sound").unwrap();
    write_folder(&place.path().join("p"), &files, Some((&audio, "a.mp3"))).unwrap();
    assert_eq!(fs::read(place.path().join("p/a.mp3")).unwrap(), b"sound");
}

#[test]
fn nothing_is_left_of_a_pack_that_cannot_be_finished() {
    let (_, mut files) = files();
    let place = tempfile::tempdir().unwrap();
    let missing = place.path().join("none.mp3");
    for (name, ending) in [("pack", ""), ("pack.zip", ".zip")] {
        let path = place.path().join(name);
        let along = Some((missing.as_path(), "none.mp3"));
        let error = match ending {
            "" => write_folder(&path, &files, along).unwrap_err(),
            _ => write_zip(&path, &files, along, Overwrite::No).unwrap_err(),
        };
        assert!(matches!(error, Error::Io { .. }), "{error}");
    }
    files[3].name = "no/such/place.txt".into();
    assert!(write_folder(&place.path().join("pack"), &files, None).is_err());
    assert_eq!(fs::read_dir(place.path()).unwrap().count(), 0, "leftovers");
}

#[test]
fn what_is_there_is_kept() {
    let (_, files) = files();
    let place = tempfile::tempdir().unwrap();
    let zip = place.path().join("pack.zip");
    fs::write(&zip, "mine").unwrap();
    assert!(matches!(write_zip(&zip, &files, None, Overwrite::No), Err(Error::Exists(_))));
    assert!(matches!(write_folder(place.path(), &files, None), Err(Error::Exists(_))));
    assert_eq!(fs::read(&zip).unwrap(), b"mine");
}

fn zip_of(entries: &[(&str, &[u8])]) -> tempfile::NamedTempFile {
    let file = tempfile::NamedTempFile::new().unwrap();
    let mut zip = zip::ZipWriter::new(file.reopen().unwrap());
    for (name, bytes) in entries {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
    file
}

#[test]
fn a_pack_that_was_tampered_with_is_refused() {
    let page = |map: &str, routine: &str| {
        serde_json::json!({
            "format": "hoofbeat-pack", "version": 1, "made_with": "x", "map": map, "routine": routine
        })
        .to_string()
    };
    let escapes = [
        "../out.song.json",
        "/etc/passwd.song.json",
        "..\\out.song.json",
        "C:\\out.song.json",
        "a/b.song.json",
        ".song.json",
        "sheet.txt",
    ];
    for name in escapes {
        let zip = zip_of(&[("pack.json", page(name, "r.txt").as_bytes()), (name, b"{}")]);
        let error = open(zip.path()).unwrap_err();
        assert!(matches!(error, Error::BadPack { .. }), "{name}: {error}");
    }
    let big = vec![b' '; 3 << 20];
    let whole = page("a.song.json", "r.txt");
    let cut = &whole.as_bytes()[..30];
    let newer = whole.replace(":1", ":9");
    for page in [&b""[..], b"{}", b"[]", b"\xff\xfe", cut, &big, newer.as_bytes()] {
        let zip = zip_of(&[("pack.json", page)]);
        assert!(matches!(open(zip.path()), Err(Error::BadPack { .. })));
    }
    // Named but not there; there but no map.
    let zip = zip_of(&[("pack.json", whole.as_bytes())]);
    assert!(matches!(open(zip.path()), Err(Error::BadPack { .. })));
    let zip = zip_of(&[("pack.json", whole.as_bytes()), ("a.song.json", b"{}"), ("r.txt", b"")]);
    assert!(matches!(open(zip.path()), Err(Error::BadMap { .. })));
    let none = tempfile::NamedTempFile::new().unwrap();
    assert!(matches!(open(none.path()), Err(Error::BadPack { .. })));
    assert!(matches!(open(tempfile::tempdir().unwrap().path()), Err(Error::BadPack { .. })));
}

#[test]
fn names_are_safe_and_stay_what_they_are() {
    for (name, own) in [
        ("mill.txt", "mill.txt"),
        ("mill", "mill.txt"),
        ("../mill.txt", "mill.txt"),
        ("a:b?.txt", "a-b-.txt"),
        ("sheet.txt", "routine-sheet.txt"),
        ("", "routine.txt"),
        ("...", "routine.txt"),
        ("שיר.txt", "שיר.txt"),
    ] {
        assert_eq!(own_name(name, "routine", ".txt"), own);
        assert_eq!(own_name(own, "routine", ".txt"), own, "given twice");
    }
}
