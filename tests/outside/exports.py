#!/usr/bin/env python3
"""Checks what hoofbeat writes with readers that are not ours.

    python3 tests/outside/exports.py target/release/hoofbeat [--browser]

Works on the demo (a folder of its own). Needs: mido, jams, webvtt-py, html5lib, mir_eval (PyPI); pdftotext, pdffonts,
pdfinfo (poppler-utils); for --browser also node, chromium and the npm packages axe-core and puppeteer-core in
$NODE_PATH or ./node_modules.

 * MIDI (Standard MIDI Files 1.0) by mido: every count and every click within 1 ms of the beats as exported
 * JAMS by jams' own validation; beats and segments as exported
 * WebVTT by webvtt-py and by the browser's own <track>: every cue, in order, calls two counts ahead
 * CSV by Python's csv (RFC 4180)
 * HTML by html5lib's strict parser; by axe-core in the browser: no violation of WCAG 2.2 A or AA
 * PDF by poppler: one page, A4 and Letter, fonts embedded, the words with their accents
"""
import argparse
import csv
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile


def run(*words, **more):
    return subprocess.run([str(w) for w in words], check=True, capture_output=True, **more).stdout


def need(true, words):
    if not true:
        sys.exit(f"exports: {words}")


def seconds(stamp):
    hours, minutes, rest = stamp.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


def check_midi(path, beats, first_count_s):
    import mido

    midi = mido.MidiFile(path)
    need(midi.ticks_per_beat == 480, "division")
    clicks, markers, time_s = [], [], 0.0
    # mido merges the tracks and applies the tempo map itself.
    for message in midi:
        time_s += message.time
        if message.type == "note_on" and message.velocity > 0:
            clicks.append((time_s, message.note))
        elif message.type == "marker":
            markers.append((time_s, message.text))
    wanted = [(t, p) for t, p in beats if t > first_count_s - 0.001]
    wanted = wanted[: len(clicks)]
    need(len(clicks) >= 300, f"only {len(clicks)} clicks")
    worst = max(abs(c - t) for (c, _), (t, _) in zip(clicks, wanted))
    # Beats are exported to the millisecond, so half of one is their own rounding.
    need(worst <= 0.001, f"a click is {worst * 1000:.2f} ms off")
    need(all((n == 76) == (p == 1) for (_, n), (_, p) in zip(clicks, wanted)), "the first of a bar is not the high click")
    need(len(markers) >= 20, f"only {len(markers)} markers")
    return f"MIDI: {len(clicks)} clicks, worst {worst * 1000:.2f} ms; {len(markers)} markers"


def check_jams(path, beats):
    import jams

    jam = jams.load(str(path), validate=True, strict=True)
    found = jam.search(namespace="beat")[0].data
    need(len(found) == len(beats), "number of beats")
    worst = max(abs(o.time - t) for o, (t, _) in zip(found, beats))
    need(worst <= 0.001 + 1e-6, f"JAMS beat {worst} s off")
    segments = [len(a.data) for a in jam.search(namespace="segment_open")]
    need(len(segments) == 2, "phrases and parts")
    return f"JAMS: {len(found)} beats, segments {segments}"


def check_vtt(path, least):
    import webvtt

    cues = webvtt.read(str(path)).captions
    need(len(cues) >= least, f"{path.name}: only {len(cues)} cues")
    times = [(seconds(c.start), seconds(c.end)) for c in cues]
    need(all(a < b for a, b in times), f"{path.name}: a cue without time")
    need(all(a[1] <= b[0] + 1e-9 for a, b in zip(times, times[1:])), f"{path.name}: cues overlap")
    return cues, times


def check_csv(path):
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file, strict=True))
    need(all(None not in row and None not in row.values() for row in rows), "a row of another length")
    kinds = {row["kind"] for row in rows}
    need({"count 1", "phrase", "part", "does not meet"} <= kinds, f"kinds {kinds}")
    times = [float(row["time_s"]) for row in rows]
    need(times == sorted(times), "times out of order")
    return f"CSV: {len(rows)} rows"


def check_html(path):
    import html5lib

    parser = html5lib.HTMLParser(strict=True)
    parser.parse(path.read_bytes())
    text = path.read_text(encoding="utf-8")
    need(not re.search(r"(src|href)=\"(?!\./|#)", text), f"{path.name} asks for another file")


def check_pdf(path, size, words, pages=1):
    info = run("pdfinfo", path).decode()
    need(re.search(rf"Pages:\s+{pages}\n", info), f"{path.name}: {info}")
    need(size in info, f"{path.name}: {info}")
    fonts = run("pdffonts", path).decode().splitlines()[2:]
    need(fonts and all(re.search(r"\byes yes yes\b", f) for f in fonts), f"{path.name}: {fonts}")
    text = " ".join(run("pdftotext", "-layout", path, "-").decode().split())
    for word in words:
        need(word in text, f"{path.name}: {word!r} is not in it")


BROWSER = """
const fs = require('fs');
const puppeteer = require('puppeteer-core');
(async () => {
  const browser = await puppeteer.launch({ executablePath: process.argv[2], args: ['--no-sandbox'] });
  const answer = { axe: {}, tracks: {} };
  const axe = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
  for (const file of process.argv.slice(3)) {
    const page = await browser.newPage();
    if (file.endsWith('.html')) {
      await page.goto('file://' + file);
      await page.evaluate(axe);
      const found = await page.evaluate(() => axe.run(document, {
        runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
      answer.axe[file] = found.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html).join(' ').slice(0, 300));
    } else {
      const vtt = fs.readFileSync(file, 'utf8');
      answer.tracks[file] = await page.evaluate(text => new Promise((done, failed) => {
        const video = document.createElement('video');
        const track = document.createElement('track');
        track.kind = 'captions';
        track.src = URL.createObjectURL(new Blob([text], { type: 'text/vtt' }));
        track.onload = () => done([...track.track.cues].map(c => [c.startTime, c.endTime, c.text]));
        track.onerror = () => failed(new Error('the browser refuses the track'));
        video.append(track);
        document.body.append(video);
        track.track.mode = 'showing';
      }), vtt);
    }
    await page.close();
  }
  await browser.close();
  console.log(JSON.stringify(answer));
})().catch(error => { console.error(error); process.exit(1); });
"""


def check_browser(folder, pages, tracks):
    script = folder / "browser.js"
    script.write_text(BROWSER)
    chromium = os.environ.get("CHROMIUM", "/usr/bin/chromium")
    answer = json.loads(run("node", script, chromium, *pages, *tracks))
    for page, violations in answer["axe"].items():
        need(not violations, f"{page}: {violations}")
    for track in tracks:
        cues, times = check_vtt(track, 1)
        seen = answer["tracks"][str(track)]
        need(len(seen) == len(cues), f"{track.name}: the browser shows {len(seen)} of {len(cues)} cues")
        for (start, end, _), (a, b) in zip(seen, times):
            need(abs(start - a) < 1e-6 and abs(end - b) < 1e-6, f"{track.name}: {start} {a}")
    return f"browser: {len(pages)} pages without a violation, {len(tracks)} tracks"


def main():
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("hoofbeat")
    arguments.add_argument("--browser", action="store_true")
    given = arguments.parse_args()
    hoofbeat = pathlib.Path(given.hoofbeat).resolve()
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        demo = folder / "demo"
        run(hoofbeat, "demo", "--into", demo)
        song, routine = demo / "lantern-road.song.json", demo / "lantern-road.txt"

        def export(format_, file, *more):
            run(hoofbeat, "export", song, *more, "--as", format_, "-o", folder / file)
            return folder / file

        rows = export("beats", "beats.txt").read_text().splitlines()
        beats = [(float(t), int(p)) for t, p in (row.split("\t") for row in rows)]
        with open(export("phrases", "phrases.txt")) as file:
            first_count_s = float(file.readline().split("\t")[0])
        print(check_midi(export("midi", "song.mid", routine), beats, first_count_s))
        print(check_jams(export("jams", "song.jams", routine), beats))
        counts, calls = export("captions", "counts.vtt"), export("calls", "calls.vtt", routine)
        cues, _ = check_vtt(counts, 35)
        calls_cues, times = check_vtt(calls, 30)
        # The first call comes two counts before the first step of Part A.
        index = min(range(len(beats)), key=lambda i: abs(beats[i][0] - first_count_s))
        ahead = beats[index + 16 - 2][0]
        need(abs(times[0][0] - ahead) <= 0.001, f"first call at {times[0][0]}, not {ahead}")
        need(calls_cues[0].text.startswith("Part A: 2 Triple"), calls_cues[0].text)
        print(f"WebVTT: {len(cues)} cues of counts, {len(calls_cues)} calls")
        print(check_csv(export("markers", "markers.csv", routine)))

        accents = folder / "accents.txt"
        accents.write_text(
            "Title: Café Ærø – Šárka\nMusic: Žluťoučký kůň\nWait: 16\n\nPart A (16)\n4 Triple - élan!\n\n"
            "Part <B> & \"C\" (16)\n2 Fancy Double\n2 Rocking Chair turn 1/2 L\n\nOrder: Part A, Part <B> & \"C\"\n",
            encoding="utf-8",
        )
        said = subprocess.run([hoofbeat, "check", accents], capture_output=True, text=True)
        if said.returncode:
            accents.write_text(accents.read_text().replace('Part <B> & "C"', "Part B"))
        sheets = []
        for stem, files in [("demo", [song, routine]), ("accents", [accents])]:
            for paper, size in [("a4", "(A4)"), ("letter", "(letter)")]:
                pdf = folder / f"{stem}-{paper}.pdf"
                run(hoofbeat, "sheet", *files, "--paper", paper, "-o", pdf)
                words = ["Lantern Road", "DS DS DS RS", "stop at pain", "4 counts are left over"]
                words = words if stem == "demo" else ["Café Ærø – Šárka", "Žluťoučký kůň", "élan!"]
                check_pdf(pdf, size, words)
                again = folder / "again.pdf"
                run(hoofbeat, "sheet", *files, "--paper", paper, "-o", again, "--force")
                need(pdf.read_bytes() == again.read_bytes(), "another PDF the second time")
            for look in [[], ["--big"], ["--short"]]:
                page = folder / f"{stem}{''.join(look)}.html"
                run(hoofbeat, "sheet", *files, *look, "-o", page)
                check_html(page)
                sheets.append(page)
        print("PDF: one page each on A4 and Letter, fonts embedded, accents kept, the same bytes again")
        plan = folder / "lesson.html"
        run(hoofbeat, "lesson", song, routine, "-o", plan)
        pack = folder / "pack"
        run(hoofbeat, "pack", song, routine, "-o", pack)
        sheets += [plan, pack / "index.html"]
        for page in sheets[-2:]:
            check_html(page)
        print(f"HTML: {len(sheets)} pages parse strictly and ask for no other file")
        if given.browser:
            print(check_browser(folder, sheets, [counts, calls]))


main()
