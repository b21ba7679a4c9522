"""Makes songs and their cuts and measures `hoofbeat recut` on them, many side by side; no sound is kept.

    python3 cuts_stream.py OUT --hoofbeat ../target/release/hoofbeat [--beside OTHER] --half tuning --round m --per-kind 8 --workers 2
    python3 cuts_stream.py OUT --hoofbeat … --songs SONGS                    songs that lie there already (make_recorded.py --cuts)
    python3 cuts_stream.py OUT --hoofbeat … --keep all --matcher ../target/release/examples/recut_kept
    python3 cuts_stream.py OUT --again --matcher … [--each]                  those kept, matched once more without listening
    python3 cuts_stream.py OUT --table                                       of the rows alone

OUT/NAME.rows holds a line of JSON for every cut and program. `--keep failed` or `all` keeps what was heard of a cut
(its map, the sound's features, what is true), in OUT/kept, so that it can be matched again in a moment. Names and seeds are those of form_songs.py, kinds
and measures those of cuts.py.
"""
import argparse
import json
import os
import shutil
import subprocess
import tempfile
import time
import traceback
from collections import defaultdict

import soundfile

import cuts
import form_songs
from cut_kinds import KINDS, REFUSED, SR, Maker
from stream import side_by_side


def names(a):
    """(name, kind) of the songs, one of every kind first."""
    if a.songs_ready:
        about = sorted(f[:-5] for f in os.listdir(a.songs) if f.endswith(".json"))
        return [(name, None) for name in about]
    kinds = form_songs.KINDS
    return [(f"{kind}_{a.round}{i}", kind) for i in range(a.first, a.first + a.per_kind) for kind in kinds]


def over(a):
    return a.until and time.time() > a.until


def render_some(k, a):
    for name, kind in names(a)[k::a.workers]:
        if os.path.exists(os.path.join(a.songs, name + ".json")) or over(a):
            continue
        try:
            form_songs.render_song(a.songs, name, kind, a.half)
        except Exception:
            traceback.print_exc()


def wrong(row):
    if row["kind"] in REFUSED:
        return not row["same"]
    return row["right"] < row["of"] or row["false"] or not all(row[k] for k in ("same", "key", "tempo", "verdict", "sort"))


def keep(a, name, old, audio, facts):
    """What was heard of the cut and of its song."""
    to = os.path.join(a.out, "kept")
    os.makedirs(to, exist_ok=True)
    base = os.path.join(to, name)
    subprocess.run([a.hoofbeat, "listen", audio, "-o", base + ".song.json"], check=True, stdout=subprocess.DEVNULL)
    json.dump(facts, open(base + ".facts", "w"))
    for end in (".song.json", ".heard", ".txt"):
        shutil.copy(old.replace(".song.json", end), to)
    for end in (".beats", ".phrases", ".json"):
        shutil.copy(os.path.join(a.songs, facts["song"] + end), to)


def one_song(a, name, about, scratch):
    """Every cut of a song, measured by every program."""
    old = cuts.true_map(a.hoofbeat, a.songs, name, scratch)
    maker = Maker(a.songs, name, about)
    if len(maker.rows) < 3:
        return
    done = {(r["song"], r["kind"]) for r in rows_of(a, name)}
    with open(os.path.join(a.out, name + ".rows"), "a") as out:
        for kind in a.kind or KINDS:
            if over(a) or (name, kind) in done:
                continue
            made = maker.with_facts(kind)
            if made is None:
                continue
            audio = os.path.join(scratch, f"{name}.{kind}.flac")
            soundfile.write(audio, made[0], SR)
            for program in [a.hoofbeat] + a.beside:
                answer, refused, took = cuts.asked(program, old, audio, scratch)
                row = cuts.judged(answer, made[1], a.songs)
                row |= dict(song=name, kind=kind, program=os.path.basename(program), refused=refused[:200])
                out.write(json.dumps(row) + "\n")
                out.flush()
                if a.each:
                    print(cuts.told(f"{name}.{kind}", row, answer, refused), flush=True)
                if program == a.hoofbeat and (a.keep == "all" or a.keep == "failed" and wrong(row)):
                    keep(a, f"{name}.{kind}", old, audio, made[1])
            os.remove(audio)


def measure_some(k, a):
    os.environ["OMP_NUM_THREADS"] = os.environ["RAYON_NUM_THREADS"] = "1"
    about = {f[:-5]: json.load(open(os.path.join(a.songs, f))) for f in os.listdir(a.songs) if f.endswith(".json")}
    for name, _ in names(a)[k::a.workers]:
        scratch = tempfile.mkdtemp()
        try:
            if name in about and not over(a):
                one_song(a, name, about, scratch)
        except Exception:
            traceback.print_exc()
        shutil.rmtree(scratch)


def rows_of(a, name=None):
    for f in sorted(os.listdir(a.out)):
        if f.endswith(".rows") and name in (None, f[:-5]):
            yield from map(json.loads, open(os.path.join(a.out, f)))


def tables(rows):
    """A table for every program."""
    programs = defaultdict(lambda: {k: [] for k in KINDS})
    for row in rows:
        programs[row["program"]][row["kind"]].append(row)
    for program, of_kinds in programs.items():
        print(f"\n{program}: {len({r['song'] for some in of_kinds.values() for r in some})} songs\n")
        cuts.table(of_kinds)


def again(a):
    """Those kept, matched by another matcher."""
    kept = os.path.join(a.out, "kept")
    todo = sorted(f[:-6] for f in os.listdir(kept) if f.endswith(".facts"))
    todo = [n for n in todo if (not a.kind or n.split(".")[1] in a.kind) and (not a.only or n.split(".")[0] in a.only)]
    lines = "".join("\t".join(os.path.join(kept, f) for f in (f"{n.split('.')[0]}.song.json", f"{n}.song.json", f"{n.split('.')[0]}.txt")) + "\n"
                    for n in todo)
    run = subprocess.Popen([a.matcher], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    answers = run.communicate(lines)[0].splitlines()
    rows = []
    for name, line in zip(todo, answers, strict=True):
        answer, facts = json.loads(line), json.load(open(os.path.join(kept, name + ".facts")))
        row = cuts.judged(answer, facts, kept) | dict(took=answer["took_s"], song=facts["song"], kind=facts["kind"], program="kept")
        rows.append(row)
        if a.each and wrong(row):
            print(cuts.told(name, row, answer))
    tables(rows)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out"), ap.add_argument("--hoofbeat"), ap.add_argument("--beside", nargs="*", default=[])
    ap.add_argument("--half", choices=["tuning", "apart"]), ap.add_argument("--round", default="m")
    ap.add_argument("--per-kind", type=int, default=8), ap.add_argument("--first", type=int, default=0)
    ap.add_argument("--songs"), ap.add_argument("--kind", nargs="*"), ap.add_argument("--only", nargs="*")
    ap.add_argument("--workers", type=int, default=2), ap.add_argument("--minutes", type=float)
    ap.add_argument("--forms"), ap.add_argument("--corpus", help="the music21 corpus folder")
    ap.add_argument("--keep", choices=["failed", "all"]), ap.add_argument("--matcher"), ap.add_argument("--again", action="store_true")
    ap.add_argument("--table", action="store_true"), ap.add_argument("--each", action="store_true")
    a = ap.parse_args()
    if a.table:
        return tables(rows_of(a))
    if a.again:
        return again(a)
    os.makedirs(a.out, exist_ok=True)
    a.until = a.minutes and time.time() + 60 * a.minutes
    a.songs_ready = a.songs is not None
    if not a.songs_ready:
        a.songs = os.path.join(a.out, "songs")
        os.makedirs(a.songs, exist_ok=True)
        form_songs.sources(a.forms, a.corpus)
        side_by_side(render_some, a)
    side_by_side(measure_some, a)
    tables(rows_of(a))


if __name__ == "__main__":
    main()
