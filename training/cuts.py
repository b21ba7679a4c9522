"""Makes other cuts of rendered songs, with known maps, and measures how well `hoofbeat recut` carries marks over.

    python3 form_songs.py SONGS --per-kind 8
    python3 cuts.py SONGS CUTS --make [--part 0/2]
    python3 cuts.py SONGS CUTS --hoofbeat ../target/release/hoofbeat [--half tuning|apart] [--each] [--dtw]

Kinds: radio (phrases dropped, the intro halved, faded early), extended (a phrase repeated, an intro and a break of strange
music added), transposed, tempo, both (radio, transposed, at another tempo), worn (equalised, MP3 at 64 kb/s), take (played again by
other instruments in another key at a drifting tempo, with applause), radio_take (a radio cut of that), other (another song).
`both` and `radio_take` are kept out of tuning, as is the half of the songs that form_songs.py calls `apart`.

Right is a phrase whose label, first count and length in counts are those of the cut's true map; what is added is
carried wrongly when more than half of it is given to a phrase of the old song.
"""
import argparse
import hashlib
import json
import os
import subprocess
import tempfile

import numpy as np
import soundfile

SR = 22050
KINDS = ["radio", "extended", "transposed", "tempo", "both", "worn", "take", "radio_take", "other"]


def load(base):
    beats = np.array([float(line.split()[0]) for line in open(base + ".beats")])
    rows = [line.rstrip("\n").split("\t") for line in open(base + ".phrases")]
    phrases = [(float(t), label) for t, label in rows]
    return beats, phrases, json.load(open(base + ".json"))


def counted(beats, phrases):
    """[(first beat, label, beats)] of the phrases; the last line is where the last chord stands."""
    at = [int(np.argmin(abs(beats - t))) for t, _ in phrases]
    ends = at[1:] + [len(beats)]
    rows = [(a, label, b - a) for a, b, (_, label) in zip(at, ends, phrases)]
    if phrases[-1][1] == "end":
        rows = rows[:-1]
    return [r for r in rows if r[2] > 0]


def rng_of(*words):
    return np.random.default_rng(int(hashlib.sha256("/".join(map(str, words)).encode()).hexdigest()[:8], 16))


# ---------------------------------------------------------------- cuts of sound

def join(x, pieces):
    """Pieces of samples one after the other, 10 ms crossfades."""
    fade = SR // 100
    ramp = np.sin(np.linspace(0, np.pi / 2, fade)) ** 2
    out = np.zeros(0)
    for p in pieces:
        p = np.array(p, dtype=float)
        if len(out) >= fade and len(p) > fade:
            out[-fade:] = out[-fade:] * (1 - ramp) + p[:fade] * ramp
            p = p[fade:]
        out = np.concatenate([out, p])
    return out


def edit(x, beats, rows, order, strange, rng):
    """Plays phrases in an order: an index, ("from", index, n) for its last n beats, ("new", n) for n beats of strange music.
    Returns sound and the true map [(seconds, label, counts, old phrase or None)] with the beats' times."""
    def sound(a, b):
        end = beats[b] if b < len(beats) else beats[-1] + (beats[-1] - beats[-2])
        return x[int(beats[a] * SR):int(end * SR)], end - beats[a], beats[a:b] - beats[a]

    at, out, truth, times = 0.0, [], [], []
    lead = x[:int(beats[rows[0][0]] * SR)] if order[0] == 0 else np.zeros(SR // 2)
    out.append(lead)
    at = len(lead) / SR
    for step in order:
        if isinstance(step, tuple) and step[0] == "new":
            period = float(np.median(np.diff(beats)))
            n = int(step[1] * period * SR)
            start = int(rng.uniform(20, len(strange) / SR - 20 - n / SR) * SR)
            piece, long_s, own = strange[start:start + n], n / SR, np.arange(step[1]) * period
            truth.append((at, "new", step[1], None))
        else:
            p, keep = (step[1], step[2]) if isinstance(step, tuple) else (step, rows[step][2])
            first, label, counts = rows[p]
            keep = min(keep, counts)
            piece, long_s, own = sound(first + counts - keep, first + counts)
            truth.append((at, label, keep, p))
        times += [at + t for t in own]
        out.append(piece)
        at += long_s
    # The join is made after the piece that is left, so that no time is lost.
    fade = SR // 100
    pieces = [out[0]]
    for before, piece in zip(out, out[1:]):
        pieces.append(np.concatenate([np.zeros(fade) if len(before) < fade else before[-fade:], piece]))
    return join(x, pieces), truth, times


def through_ffmpeg(x, filters, codec=None):
    with tempfile.TemporaryDirectory() as d:
        soundfile.write(d + "/a.wav", x, SR)
        end = d + ("/b.mp3" if codec else "/b.wav")
        subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", d + "/a.wav", "-af", filters] + (codec or []) + [end], check=True)
        if codec:
            subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", end, d + "/c.wav"], check=True)
            end = d + "/c.wav"
        return soundfile.read(end)[0]


def radio(rows, rng):
    n = len(rows)
    order = list(range(n))
    for p in sorted(rng.choice(np.arange(1, n), size=min(int(rng.integers(1, 4)), max(1, n - 3)), replace=False), reverse=True):
        order.remove(int(p))
    if rows[0][1] in ("intro", "instrumental") and rows[0][2] >= 8 and rng.uniform() < .7:
        order[0] = ("from", 0, rows[0][2] // 2 // 4 * 4)
    return order


def extended(rows, rng):
    order = list(range(len(rows)))
    p = int(rng.integers(1, len(rows)))
    order.insert(p + 1, p)
    order.insert(int(rng.integers(2, len(order))), ("new", int(rng.choice([8, 16, 16, 32]))))
    return [("new", int(rng.choice([8, 16, 32])))] + order


def make(songs, out, part, of):
    os.makedirs(out, exist_ok=True)
    names = sorted(f[:-5] for f in os.listdir(songs) if f.endswith(".json"))
    for k, name in enumerate(names):
        if k % of != part:
            continue
        base = os.path.join(songs, name)
        x = soundfile.read(base + ".wav")[0]
        beats, phrases, facts = load(base)
        rows = counted(beats, phrases)
        others = [m for m in names if m != name and json.load(open(os.path.join(songs, m + ".json")))["half"] == facts["half"]]
        for kind in KINDS:
            to = os.path.join(out, f"{name}.{kind}")
            if os.path.exists(to + ".json") or len(rows) < 3:
                continue
            rng = rng_of("cut", name, kind)
            strange = soundfile.read(os.path.join(songs, others[int(rng.integers(len(others)))] + ".wav"))[0]
            order = list(range(len(rows)))
            semis, ratio = 0, 1.0
            source, source_beats = x, beats
            if kind in ("radio", "both", "radio_take"):
                order = radio(rows, rng)
            if kind == "extended":
                order = extended(rows, rng)
            if kind in ("transposed", "both"):
                semis = int(rng.choice([-4, -3, -2, -1, 1, 2, 3, 4]))
            if kind in ("tempo", "both"):
                ratio = float(rng.choice([.8, .85, .9, .95, 1.05, 1.1, 1.18, 1.25]))
            if kind in ("take", "radio_take"):
                source, source_beats, semis, ratio = second_take(songs, name, facts, rng)
                if source is None:
                    continue
            if kind == "other":
                mate = others[int(rng.integers(len(others)))]
                y, truth = soundfile.read(os.path.join(songs, mate + ".wav"))[0], []
            elif kind in ("transposed", "tempo", "worn", "take"):
                ends = lambda p: rows[p][0]
                y = source
                truth = [(source_beats[ends(p)], rows[p][1], rows[p][2], p) for p in order]
            else:
                y, truth, _ = edit(source, source_beats, rows, order, strange, rng)
                if kind == "radio" and rng.uniform() < .5:
                    y, truth = faded(y, truth, source_beats, rng)
            if semis and kind not in ("take", "radio_take") or ratio != 1.0 and kind not in ("take", "radio_take"):
                y = through_ffmpeg(y, f"rubberband=pitch={2 ** (semis / 12)}:tempo={ratio}")
                truth = [(t / ratio, label, n, p) for t, label, n, p in truth]
            if kind == "worn":
                gain = rng.uniform(-9, 9, 3)
                y = through_ffmpeg(y, f"bass=g={gain[0]},treble=g={gain[1]},equalizer=f=1200:t=o:w=2:g={gain[2]},volume=-3dB", ["-b:a", "64k"])
            soundfile.write(to + ".flac", np.clip(y * .9 / max(abs(y).max(), 1e-6), -1, 1), SR)
            json.dump(dict(song=name, kind=kind, half=facts["half"], semitones=semis, ratio=ratio, truth=truth,
                           same_form=[p for _, _, _, p in truth] == list(range(len(rows))) and all(
                               n == rows[p][2] for _, _, n, p in truth)), open(to + ".json", "w"))


def faded(y, truth, beats, rng):
    """Faded out over 8 s, from 70 to 90 % of it; what starts in the second half of the fade is not judged."""
    end = len(y) / SR * rng.uniform(.7, .9)
    n, f = int(end * SR), 8 * SR
    y = y[:n].copy()
    y[-f:] *= np.linspace(1, 0, f)
    period = float(np.median(np.diff(beats)))
    out = []
    for t, label, counts, p in truth:
        if t < end - 4 - 8 * period:
            out.append((t, label, counts if t + counts * period < end - 4 else -1, p))
    return y, out


def second_take(songs, name, facts, rng):
    """The same song played again: other instruments, another key, a tempo that drifts, applause at both ends."""
    import arrange
    import form_songs
    import render
    import tunes
    kind = facts["kind"]
    if not hasattr(second_take, "pools"):
        every_second = [json.loads(line) for line in open(os.environ.get("FORMS", "../../shared/forms/forms.jsonl"))][::2]
        all_tunes = tunes.load()
        second_take.pools = {}
        for i, half in enumerate(("tuning", "apart")):
            forms = [s for s in every_second[i::2] if form_songs.plan_of(s)]
            curves = [c for c in map(arrange.real_drift, every_second[i::2]) if c is not None and c.std() > .008]
            pool = [t for t in all_tunes if t.half == ("dev", "held")[i]]
            second_take.pools[half] = (forms, pool, curves)
    forms, pool, curves = second_take.pools[facts["half"]]
    seed = int(hashlib.sha256(f"form/{name}".encode()).hexdigest()[:8], 16)
    song = form_songs.song_for(kind, np.random.default_rng(seed), facts["half"], forms, pool, curves)
    beats = np.array([t for t, _ in song.beats])
    if len(beats) != len(load(os.path.join(songs, name))[0]):
        return None, None, 0, 1.0
    semis, ratio = int(rng.integers(-3, 4)), float(rng.uniform(.88, 1.12))
    # A tempo that wanders by some per cent over half a minute.
    n = len(beats)
    wander = np.cumsum(rng.normal(0, .006, n))
    wander = np.clip(wander - np.linspace(0, wander[-1], n), -.05, .05)
    steps = np.diff(beats) / ratio * (1 + wander[1:])
    moved = np.concatenate([[beats[0]], beats[0] + np.cumsum(steps)])
    warp = lambda t: float(np.interp(t, beats, moved)) if beats[0] <= t <= beats[-1] else (
        t if t < beats[0] else moved[-1] + (t - beats[-1]) / ratio)
    swap = {24: 26, 25: 0, 26: 25, 27: 4, 28: 27, 29: 30, 30: 29, 0: 24, 4: 0, 32: 33, 33: 34, 34: 33, 40: 73, 73: 40, 105: 24, 48: 50, 16: 48}
    for stem in song.stems:
        pitched = stem.role != "drums"
        stem.notes = [(warp(a), warp(b), p + semis, v) if pitched and len(note) == 4 else (warp(note[0]),) + tuple(note[1:])
                      for note in stem.notes for a, b, p, v in [note if len(note) == 4 else (note[0], 0, 0, 0)]]
        if stem.sound[0] == "sf":
            stem.sound = ("sf", swap.get(stem.sound[1], (stem.sound[1] + 2) % 8 + stem.sound[1] // 8 * 8))
    song.duration = warp(song.duration)
    font = {"tuning": "/usr/share/sounds/sf2/TimGM6mb.sf2", "apart": "/usr/share/sounds/sf2/sf_GMbank.sf2"}[facts["half"]]
    y = np.asarray(render.mix(song, rng, SR, [("tiny", font)], rough=.6), dtype=float)
    clap = rng.normal(0, .05, len(y)) * np.clip(np.interp(np.arange(len(y)) / SR, [0, 3, 6, song.duration - 6, song.duration - 3, song.duration],
                                                          [1, 1, 0, 0, 1, 1]), 0, 1)
    return y + clap, moved, semis, ratio


# ---------------------------------------------------------------- measuring

def true_map(hoofbeat, songs, name, work):
    """The song as the program hears it, marked by what is true."""
    to = os.path.join(work, name + ".song.json")
    if not os.path.exists(to):
        subprocess.run([hoofbeat, "listen", os.path.join(songs, name + ".wav"), "-o", to], check=True, stdout=subprocess.DEVNULL)
        beats, phrases, _ = load(os.path.join(songs, name))
        rows = counted(beats, phrases)
        m = json.load(open(to))
        last = rows[-1][0] + rows[-1][2]
        m["set"] = dict(first_count_s=beats[rows[0][0]], phrases_complete=True,
                        end_s=beats[last] if last < len(beats) else beats[-1] + .5,
                        pulse=dict(counts_per_minute=60 / float(np.median(np.diff(beats)))),
                        phrases=[dict(label=label, start_s=beats[a]) for a, label, _ in rows])
        json.dump(m, open(to, "w"))
        labels = sorted({label for _, label, _ in rows})
        sheet = [f"Title: {name}\nWait: 0\n"]
        counts = {(label, n) for _, label, n in rows}
        part = {c: f"Part {chr(65 + i)}" for i, c in enumerate(sorted(counts))}
        sheet += [f"{part[c]}: {c[1]} counts\n" for c in sorted(counts)]
        sheet.append("Order: " + ", ".join(part[(label, n)] for _, label, n in rows) + "\n")
        open(os.path.join(work, name + ".txt"), "w").write("\n".join(sheet))
    return to


def judge(answer, truth):
    """(right, of, false carries, added, lengths) of one cut."""
    right = of = false = added = 0
    told = answer.get("phrases", []) if answer.get("same_song") else []
    for t, label, counts, p in truth:
        if p is None:
            added += 1
            period = None
            span = (t, t + counts * answer.get("period_s", .5))
            covered = sum(max(0, min(span[1], q["end_s"]) - max(span[0], q["start_s"])) for q in told if q["of"])
            false += covered > .5 * (span[1] - span[0])
            continue
        if counts != -1 and counts < 8:
            continue
        of += 1
        for q in told:
            half = (q["end_s"] - q["start_s"]) / max(q["counts"], 1) / 2
            if q["of"] and q["of"]["label"] == label and abs(q["start_s"] - t) <= half and (counts == -1 or q["counts"] == counts):
                right += 1
                break
    return right, of, false, added


def true_ratio(facts, songs):
    """Tempo of the cut over the song's, from phrases that follow one another in both."""
    beats, phrases, _ = load(os.path.join(songs, facts["song"]))
    starts = [beats[a] for a, _, _ in counted(beats, phrases)]
    pairs = [((starts[q] - starts[p]) / (u - t)) for (t, _, _, p), (u, _, _, q) in zip(facts["truth"], facts["truth"][1:])
             if p is not None and q == p + 1]
    return float(np.median(pairs)) if pairs else facts["ratio"]


def measure(a):
    work = tempfile.mkdtemp() if not a.work else a.work
    os.makedirs(work, exist_ok=True)
    rows = {k: [] for k in KINDS}
    for f in sorted(os.listdir(a.cuts)):
        if not f.endswith(".json"):
            continue
        facts = json.load(open(os.path.join(a.cuts, f)))
        if a.half and facts["half"] != a.half or a.kind and facts["kind"] not in a.kind:
            continue
        old = true_map(a.hoofbeat, a.songs, facts["song"], work)
        audio = os.path.join(a.cuts, f[:-5] + ".flac")
        beats = load(os.path.join(a.songs, facts["song"]))[0]
        run = subprocess.run([a.hoofbeat, "recut", old, audio, "--json", "--force", "-o", os.path.join(work, "new.song.json"),
                              "--routine", old.replace(".song.json", ".txt")], capture_output=True, text=True)
        answer = json.loads(run.stdout) if run.stdout.strip() else {}
        answer["period_s"] = float(np.median(np.diff(beats))) / facts["ratio"]
        right, of, false, added = judge(answer, facts["truth"])
        same = answer.get("same_song", False)
        row = dict(name=f[:-5], right=right, of=of, false=false, added=added, same=same,
                   key=answer.get("shift_semitones") == facts["semitones"],
                   tempo=abs(answer.get("tempo_ratio", 0) / true_ratio(facts, a.songs) - 1) < .03,
                   fits=answer.get("fit", {}).get("fits"), should_fit=facts["same_form"], share=answer.get("matches", 0),
                   share_old=answer.get("matches_of_old", 0), same_sound=answer.get("same_sound"))
        rows[facts["kind"]].append(row)
        if a.each:
            print(f"{row['name']:28} {right}/{of} false {false}/{added} same {same} key {row['key']} tempo {row['tempo']} "
                  f"share {row['share']:.2f}/{row['share_old']:.2f} sound {row['same_sound'] or 0:.2f} fits {row['fits']}/{row['should_fit']} {run.stderr.strip()[:80] if run.returncode == 2 else ''}", flush=True)
    print(f"| {'kind':10} | n | phrases right | carried wrongly | key | tempo | same song told | verdict right |")
    print("|---|---|---|---|---|---|---|---|")
    for kind, some in rows.items():
        if not some:
            continue
        total = lambda k: sum(r[k] for r in some)
        share = lambda k: f"{100 * np.mean([r[k] for r in some]):.0f} %"
        told = 100 * np.mean([r["same"] == (kind != "other") for r in some])
        verdict = [r["fits"] == r["should_fit"] for r in some if r["fits"] is not None]
        print(f"| {kind} | {len(some)} | {100 * total('right') / max(total('of'), 1):.1f} % of {total('of')} | "
              f"{total('false')} of {total('added')} | {share('key') if kind != 'other' else ''} | {share('tempo') if kind != 'other' else ''} | {told:.0f} % | "
              f"{100 * np.mean(verdict) if verdict else float('nan'):.0f} % |")


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("songs"), ap.add_argument("cuts"), ap.add_argument("--make", action="store_true")
    ap.add_argument("--part", default="0/1"), ap.add_argument("--hoofbeat"), ap.add_argument("--half")
    ap.add_argument("--kind", nargs="*"), ap.add_argument("--each", action="store_true"), ap.add_argument("--work")
    a = ap.parse_args()
    if a.make:
        make(a.songs, a.cuts, *map(int, a.part.split("/")))
    else:
        measure(a)


if __name__ == "__main__":
    main()
