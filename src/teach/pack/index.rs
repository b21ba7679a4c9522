//! The page that says what is in a pack.

use std::fmt::Write;

use crate::song::SongMap;
use crate::teach::sheet::{Look, Sheet, escaped, html_page};
use crate::units::clock;

use super::PackFile;

/// The index page; `files` are the others.
pub(super) fn page(
    sheet: &Sheet,
    map: &SongMap,
    recording: Option<&str>,
    files: &[PackFile],
) -> String {
    let of = &map.recording;
    let named = match (&of.title, &of.artist) {
        (Some(title), Some(artist)) => format!("{title}, {artist}"),
        (Some(title), None) => title.clone(),
        _ => of.file.clone(),
    };
    let length = clock(of.duration_s.round());
    let length = length.trim_end_matches(".00");
    let mut out = format!(
        "<header>\n<h1>{}</h1>\n<p>A pack for teaching it to {} ({length}).</p>\n</header>\n<main>\n",
        escaped(&sheet.title),
        escaped(&named)
    );
    out.push_str(
        "<section aria-labelledby=\"files\">\n<h2 id=\"files\">What is in it</h2>\n<table>\n\
         <caption>Files of this pack</caption>\n<thead>\n<tr><th scope=\"col\">File</th>\
         <th scope=\"col\">What it is</th></tr>\n</thead>\n<tbody>\n",
    );
    // Writing to a string cannot fail.
    for file in files {
        let _ = writeln!(
            out,
            "<tr><td><a href=\"{}\">{}</a></td><td>{}</td></tr>",
            address(&file.name),
            escaped(&file.name),
            escaped(file.what)
        );
    }
    if let Some(name) = recording {
        let _ = writeln!(
            out,
            "<tr><td><a href=\"{}\">{}</a></td><td>the recording</td></tr>",
            address(name),
            escaped(name)
        );
    }
    out.push_str("</tbody>\n</table>\n</section>\n");
    out.push_str(
        "<section aria-labelledby=\"own\">\n<h2 id=\"own\">On your own copy of the recording</h2>\n",
    );
    let _ = write!(
        out,
        "<p>Nothing has to be marked again. Put this pack beside your copy of the recording and type</p>\n\
         <p><code>hoofbeat open PACK {}</code></p>\n\
         <p>It is known by its sound, whatever its file is called and in whatever format it is. Of another \
         cut it says so; then <code>hoofbeat recut</code> carries the marks over.</p>\n</section>\n",
        escaped(&of.file)
    );
    let _ = write!(
        out,
        "<section aria-labelledby=\"rights\">\n<h2 id=\"rights\">The recording</h2>\n<p>{}</p>\n</section>\n</main>\n",
        match recording {
            Some(_) =>
                "The recording is in this pack because whoever made the pack asked for it. It may be under \
                 copyright: pass it on only if you may.",
            None =>
                "The recording is not in this pack. It may be under copyright: get your own copy from those \
                 who may give it.",
        }
    );
    let _ = writeln!(
        out,
        "<footer class=\"cautions\">\n<p>{}</p>\n</footer>",
        escaped(&sheet.cautions)
    );
    html_page(&format!("{}: a teaching pack", sheet.title), Look::default(), &out)
}

/// A file's name as an address beside the page.
fn address(name: &str) -> String {
    let mut out = String::from("./");
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.' | b'~') {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}
