//! Comparing what is written with files under `fixtures`.

use std::path::Path;

/// Checks `actual` against a file under `fixtures`. With `HOOFBEAT_BLESS=1` the file is written anew:
/// look at the difference before it is kept.
pub(crate) fn check(name: &str, actual: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name);
    if std::env::var_os("HOOFBEAT_BLESS").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, actual).unwrap();
    }
    let expected = std::fs::read_to_string(&path).unwrap().replace("\r\n", "\n");
    let differs = expected.lines().zip(actual.lines()).position(|(e, a)| e != a);
    if let Some(line) = differs {
        let of = |text: &str| text.lines().nth(line).unwrap_or_default().to_string();
        panic!("{name}, line {}:\n  was {}\n  now {}", line + 1, of(&expected), of(actual));
    }
    assert_eq!(expected.len(), actual.len(), "{name}: one goes on where the other ends");
}
