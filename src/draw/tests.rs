//! The timeline as a whole, on songs and routines made here.

use std::path::Path;

use proptest::prelude::*;
use resvg::{tiny_skia, usvg};

use super::samples::*;
use super::*;
use crate::fit::MismatchKind;
use crate::song::CountLine;
use crate::units::Count;

#[test]
#[ignore = "writes pictures to look at into target/gallery"]
fn gallery() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/gallery");
    std::fs::create_dir_all(&folder).unwrap();
    let save = |name: &str, svg: String| std::fs::write(folder.join(name), svg).unwrap();
    let letter = Options { paper: Paper::Letter };
    let (song, routine, fit) = three_minutes();
    save("three-minutes.svg", timeline(&song, Some((&routine, &fit)), &Options::default()));
    save("three-minutes-letter.svg", timeline(&song, Some((&routine, &fit)), &letter));
    save("no-routine.svg", timeline(&song, None, &Options::default()));
    let (song, routine, fit) = awkward_names();
    save("awkward-names.svg", timeline(&song, Some((&routine, &fit)), &Options::default()));
    let (song, routine, fit) = six_minutes();
    save("six-minutes.svg", timeline(&song, Some((&routine, &fit)), &Options::default()));
    let (song, routine, fit) = sixty_parts_in_six_minutes();
    save("sixty-parts.svg", timeline(&song, Some((&routine, &fit)), &Options::default()));
    let (song, routine, fit) = ten_minutes();
    save("ten-minutes.svg", timeline(&song, Some((&routine, &fit)), &Options::default()));
}

/// All texts of a page.
fn texts(groups: &[scene::Group]) -> Vec<&scene::Text> {
    let shapes = groups.iter().flat_map(|g| &g.shapes);
    shapes
        .filter_map(|s| match s {
            scene::Shape::Text(text) => Some(text),
            _ => None,
        })
        .collect()
}

/// Texts that lie on each other or off the page.
fn collisions(scene: &scene::Scene) -> Vec<String> {
    let mut found = Vec::new();
    for groups in &scene.pages {
        let texts = texts(groups);
        for (index, one) in texts.iter().enumerate() {
            let a = one.room();
            if a.x < 5.0
                || a.y < 5.0
                || a.right() > scene.page.0 - 5.0
                || a.bottom() > scene.page.1 - 4.0
            {
                found.push(format!("off the page: {one:?}"));
            }
            for other in &texts[index + 1..] {
                let b = other.room();
                let apart = a.right() <= b.x + 1e-6
                    || b.right() <= a.x + 1e-6
                    || a.bottom() <= b.y + 1e-6
                    || b.bottom() <= a.y + 1e-6;
                if !apart {
                    found.push(format!("{one:?} lies on {other:?}"));
                }
            }
        }
    }
    found
}

fn all_cases() -> Vec<(SongView, Routine, Fit)> {
    vec![
        three_minutes(),
        six_minutes(),
        sixty_parts_in_six_minutes(),
        ten_minutes(),
        awkward_names(),
    ]
}

#[test]
fn no_label_lies_on_another_at_sixty_parts() {
    for paper in [Paper::A4, Paper::Letter] {
        for (song, routine, fit) in all_cases() {
            let options = Options { paper };
            for routine in [Some((&routine, &fit)), None] {
                let found = collisions(&scene_of(&song, routine, &options));
                assert!(found.is_empty(), "{}", found.join("\n"));
            }
        }
    }
}

#[test]
fn songs_to_six_minutes_take_one_page() {
    for (song, routine, fit) in
        [three_minutes(), six_minutes(), sixty_parts_in_six_minutes(), awkward_names()]
    {
        assert!(song.duration_s <= 360.0);
        for paper in [Paper::A4, Paper::Letter] {
            let scene = scene_of(&song, Some((&routine, &fit)), &Options { paper });
            assert_eq!(scene.pages.len(), 1, "{}", routine.title);
        }
    }
}

/// A name of anything: letters wide and narrow, other scripts, marks, emoji, control characters.
fn any_name() -> impl Strategy<Value = String> {
    prop_oneof![
        "[A-Z][a-z]{0,12}( [a-z]{1,9}){0,6}",
        "[WMil. ]{0,60}",
        "\\PC{0,40}",
        any::<String>(),
        Just("Part A".to_string()),
        Just("Fill".to_string()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn no_labels_collide_whatever_names_and_lengths(
        phrases in prop::collection::vec((any_name(), 1u32..80), 1..40),
        parts in prop::collection::vec((any_name(), 1u32..70), 1..60),
        marks in prop::collection::vec((0i32..1200, 0usize..7, any_name()), 0..30),
        wait in 0u32..40,
        tempo in 60.0f64..220.0,
        title in any_name(),
        letter in any::<bool>(),
    ) {
        let phrases: Vec<(&str, u32)> = phrases.iter().map(|(n, c)| (n.as_str(), *c)).collect();
        let parts: Vec<(&str, u32)> = parts.iter().map(|(n, c)| (n.as_str(), *c)).collect();
        let mut song = song(&phrases, tempo);
        song.title = title;
        let (routine, mut fit) = laid(&song, wait, &parts);
        for (at, kind, words) in &marks {
            amiss(&mut fit, KINDS[*kind], *at, at % 9 - 4, words, (at % 3 == 0).then_some(words));
        }
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        let scene = scene_of(&song, Some((&routine, &fit)), &Options { paper });
        let found = collisions(&scene);
        prop_assert!(found.is_empty(), "{}", found.join("\n"));
        let svg = svg::write(&scene);
        let tree = usvg::Tree::from_str(&svg, &usvg::Options::default());
        prop_assert!(tree.is_ok(), "{:?}", tree.err());
    }
}

const KINDS: [MismatchKind; 7] = [
    MismatchKind::PartTooShort,
    MismatchKind::PartTooLong,
    MismatchKind::OffPhrase,
    MismatchKind::WaitDiffers,
    MismatchKind::FillWithoutGap,
    MismatchKind::SongEndsFirst,
    MismatchKind::SongLeftOver,
];

#[test]
fn text_and_graphics_stand_out_as_wcag_asks() {
    // WCAG 2.2: 1.4.3 text 4.5:1; 1.4.11 graphics needed to understand the content 3:1 against what
    // is next to them. Blocks are bounded by black lines; marks have black borders.
    for (song, routine, fit) in all_cases() {
        for routine in [Some((&routine, &fit)), None] {
            let scene = scene_of(&song, routine, &Options::default());
            for text in scene.pages.iter().flat_map(|groups| texts(groups)) {
                let contrast = text.ink.contrast(text.on);
                assert!(contrast >= 4.5, "{contrast:.2}:1 for {text:?}");
            }
        }
    }
    let grounds = ink::PART_INKS.iter().flat_map(|i| [*i, i.thinned(0.4)]);
    for ground in grounds.chain([ink::WHITE, ink::PALE, ink::VERMILLION]) {
        let line = ink::BLACK.contrast(ground);
        assert!(line >= 3.0, "black lines on {ground:?} have {line:.2}:1");
    }
    for ground in [ink::WHITE, ink::PALE] {
        assert!(ink::GREY.contrast(ground) >= 4.5, "grey on {ground:?}");
    }
}

#[test]
fn texts_say_truly_what_they_stand_on() {
    // The contrast above rests on it: here the last shape filled under the middle of a text is found.
    let within = |shape: &scene::Shape, (x, y): scene::Point| match shape {
        scene::Shape::Box(r, ink) => {
            (r.x <= x && x <= r.right() && r.y <= y && y <= r.bottom()).then_some(*ink)
        }
        scene::Shape::Area(points, ink) => {
            // Diamonds only.
            let (middle, half) = ((points[0].0, points[1].1), points[1].0 - points[0].0);
            ((x - middle.0).abs() + (y - middle.1).abs() <= half).then_some(*ink)
        }
        scene::Shape::Disc(centre, radius, ink) => {
            ((x - centre.0).hypot(y - centre.1) <= *radius).then_some(*ink)
        }
        _ => None,
    };
    for (song, routine, fit) in all_cases() {
        let scene = scene_of(&song, Some((&routine, &fit)), &Options::default());
        for groups in &scene.pages {
            let shapes: Vec<&scene::Shape> = groups.iter().flat_map(|g| &g.shapes).collect();
            for (index, shape) in shapes.iter().enumerate() {
                let scene::Shape::Text(text) = shape else { continue };
                let room = text.room();
                let middle = (room.x + room.w / 2.0, room.y + room.h / 2.0);
                let under = shapes[..index].iter().rev().find_map(|s| within(s, middle));
                assert_eq!(under.unwrap_or(ink::WHITE), text.on, "{text:?}");
            }
        }
    }
}

/// The document drawn without fonts, as pixels that are not white.
fn inked_pixels(svg: &str) -> usize {
    let tree = usvg::Tree::from_str(svg, &usvg::Options::default()).unwrap();
    let size = tree.size().to_int_size();
    let mut pixels = tiny_skia::Pixmap::new(size.width(), size.height()).unwrap();
    resvg::render(&tree, tiny_skia::Transform::identity(), &mut pixels.as_mut());
    pixels.pixels().iter().filter(|p| p.red() < 250 || p.green() < 250 || p.blue() < 250).count()
}

#[test]
fn it_renders_at_the_size_of_the_paper_and_is_not_blank() {
    let (song, routine, fit) = three_minutes();
    for (paper, width, height) in
        [(Paper::A4, "297mm", "210mm"), (Paper::Letter, "279.4mm", "215.9mm")]
    {
        let svg = timeline(&song, Some((&routine, &fit)), &Options { paper });
        assert!(svg.contains(&format!("width=\"{width}\" height=\"{height}\"")), "{}", &svg[..300]);
        // Lines and colours alone, no fonts being loaded: a twentieth of the page at least.
        let tree = usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
        let all = f64::from(tree.size().width() * tree.size().height());
        let inked = inked_pixels(&svg) as f64;
        assert!(inked > all / 20.0 && inked < all * 0.9, "{inked} of {all}");
    }
}

#[test]
fn title_and_description_say_what_the_picture_shows() {
    let (song, routine, fit) = three_minutes();
    let svg = timeline(&song, Some((&routine, &fit)), &Options::default());
    assert!(
        svg.contains("<title id=\"timeline-title\">Sawmill Stomp on Mill Lane: timeline</title>")
    );
    assert!(svg.contains("role=\"img\" aria-labelledby=\"timeline-title timeline-desc\""));
    let description = svg.split("<desc").nth(1).unwrap().split("</desc>").next().unwrap();
    for said in [
        "a count to each beat",
        "wait 16 counts (2 eights), to 0:09.86",
        "- chorus 1: 4 eights and 4 (36 counts), counts 49 to 84, 0:25.86 to 0:43.86.",
        "- Part B: 4 eights (32 counts), counts 49 to 80",
        "- No steps for 4 counts, counts 81 to 84, 0:41.86 to 0:43.86; fill of 4?.",
        "2 places do not meet.",
        "1. 0:41.86, count 81: Part B and its phrase differ by 4 counts here",
        "To mend it: a fill of 4",
    ] {
        assert!(description.contains(said), "{said:?} is not in {description}");
    }
}

#[test]
fn names_cannot_break_out_of_the_document() {
    let evil = "</text><script>alert(1)</script>\u{0}\u{1b}]]>\" onload=\"x\u{fffe}\u{202e}";
    let mut song = song(&[(evil, 64), ("verse", 64)], 120.0);
    song.title = evil.into();
    song.artist = Some(evil.into());
    let (mut routine, mut fit) = laid(&song, 8, &[(evil, 32), (evil, 60)]);
    routine.title = evil.into();
    amiss(&mut fit, MismatchKind::PartTooLong, 60, 4, evil, Some(evil));
    let svg = timeline(&song, Some((&routine, &fit)), &Options::default());
    usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
    assert!(!svg.contains("<script"));
    assert!(!svg.contains("onload=\"x"));
    let forbidden = |c: char| c.is_control() && c != '\n' || "\u{fffe}\u{202e}".contains(c);
    assert!(!svg.contains(forbidden));
}

#[test]
fn the_same_input_gives_the_same_document() {
    let (song, routine, fit) = ten_minutes();
    let draw = || timeline(&song, Some((&routine, &fit)), &Options::default());
    assert_eq!(draw(), draw());
}

#[test]
fn a_song_without_counts_or_phrases_still_gives_a_page() {
    let mut song = song(&[("verse", 32)], 120.0);
    song.phrases.clear();
    let svg = timeline(&song, None, &Options::default());
    assert!(inked_pixels(&svg) > 1000);
    song.counts = CountLine { times_s: vec![], bar_positions: vec![], end_s: 0.0 };
    song.counts_per_beat = f64::NAN;
    song.counts_per_minute = 0.0;
    let svg = timeline(&song, None, &Options::default());
    assert!(svg.contains("no counts yet"));
    usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
}

#[test]
fn absurd_numbers_are_cut_and_not_drawn_for_ever() {
    let song = song(&[("verse", 64)], 120.0);
    let (routine, mut fit) = laid(&song, 0, &[("Part A", 32), ("Part B", 32)]);
    fit.wait.counts = u32::MAX;
    fit.placements[0].start_count = Count(i32::MIN);
    fit.placements[1].counts = u32::MAX;
    fit.placements[1].start_s = f64::INFINITY;
    amiss(&mut fit, MismatchKind::PartTooLong, i32::MAX, i32::MIN, "Part B", None);
    let svg = timeline(&song, Some((&routine, &fit)), &Options::default());
    assert!(svg.len() < 4_000_000, "{} bytes", svg.len());
    usvg::Tree::from_str(&svg, &usvg::Options::default()).unwrap();
}

#[test]
fn a_small_timeline_is_drawn_so() {
    let song = song(&[("intro", 8), ("verse", 16), ("chorus", 20)], 120.0);
    let (routine, mut fit) = laid(&song, 8, &[("Part A", 16), ("Part B", 16)]);
    amiss(&mut fit, MismatchKind::PartTooShort, 41, 4, "Part B", Some("a fill of 4"));
    let svg = timeline(&song, Some((&routine, &fit)), &Options::default());
    crate::golden::check("timelines/small.svg", &svg);
}
