"""Renders full-length songs whose form is known, to measure and to tune the suggestion of phrases.

    python3 form_songs.py OUT [--per-kind 8] [--half tuning|apart] [--round b] [--part 0/1] [--forms ../../shared/forms/forms.jsonl]

For every song: NAME.wav (mono, 22 050 Hz), NAME.beats (`seconds<TAB>place in bar`), NAME.phrases (`seconds<TAB>label`,
the last line `end`: where the last chord stands) and NAME.json (kind, half). The forms of pop songs are those of every
second song of the set (Harmonix, Nieto et al., ISMIR 2019); the others are never read here. Half of the songs is for
tuning, half is kept apart; the halves share no form, no tune and no soundfont.
"""
import argparse
import hashlib
import json
import os
import sys

import numpy as np

import arrange
import render
import tunes

SR = 22050
SF2 = "/usr/share/sounds/sf2/"
FONTS = {"tuning": [("tiny", SF2 + "sf_GMbank.sf2")], "apart": [("tiny", SF2 + "TimGM6mb.sf2")]}
KINDS = ["pop", "odd", "tune", "loop", "waltz", "live"]
PLAIN = dict(tempo_change=False, odd_bars=False, pickup=False)
SORTS = {"outro": "closing", "inst": "instrumental", "gtr": "instrumental", "solo": "instrumental", "silence": "intro"}


def plan_of(song):
    """A form as [(label, [beats of each bar])], boundaries at the nearest bar line; None where it is no song of 2-4 minutes."""
    beats, places = np.array(song["beats_s"]), song["position_in_bar"]
    lines = [i for i, p in enumerate(places) if p == 1]
    if song["time_signature"] != "4/4" or len(lines) < 40:
        return None
    starts = []
    for p in song["phrases"]:
        i = min(range(len(lines)), key=lambda k: abs(beats[lines[k]] - p["start_s"]))
        label = p["label"].rstrip("0123456789")
        if starts and starts[-1][0] == i:
            starts.pop()
        starts.append((i, SORTS.get(label, label)))
    bars = [b - a for a, b in zip(lines, lines[1:])]
    plan = [(label, bars[i:j]) for (i, label), (j, _) in zip(starts, starts[1:])]
    n = sum(sum(b) for _, b in plan)
    return plan if len(plan) >= 4 and 100 < n * 60 / song["bpm"] < 250 and max(bars) <= 8 else None


def with_odd_lengths(rng, plan):
    """Choruses of 36, verses of 30, pre-choruses of 14: what makes a dancer count."""
    odd = {"chorus": [4] * 9, "verse": [4] * 7 + [2], "prechorus": [4] * 3 + [2]}
    chosen = rng.choice(sorted(odd), size=2, replace=False)
    out = []
    for i, (label, bars) in enumerate(plan):
        if label == "chorus" and i and plan[i - 1][0] == "verse" and "prechorus" in chosen:
            out.append(("prechorus", odd["prechorus"]))
        out.append((label, odd[label] if label in chosen and rng.uniform() < .7 else bars))
    return out


def waltz_plan(rng):
    plan = [("intro", [3] * int(rng.choice([4, 8])))]
    for label in "verse chorus verse chorus instrumental verse chorus chorus".split():
        plan.append((label, [3] * int(rng.choice([16, 16, 16, 8, 12, 18]))))
    return plan


def loop_plan(rng):
    plan = [("intro", [4] * int(rng.choice([4, 8])))]
    for label in "verse build chorus break verse build chorus chorus closing".split():
        plan.append((label, [4] * int(rng.choice([8, 8, 16, 4, 12]))))
    return plan


LENGTHS = [(8, .43), (4, .13), (16, .13), (12, .05), (9, .04), (6, .03), (7, .03), (10, .03), (11, .02), (13, .02), (14, .02), (15, .02), (17, .02),
           (18, .02), (20, .01), (5, .01), (2, .01), (3, .01), (24, .01)]        # shares in real songs, see src/song/form/lengths.rs
FOLLOWS = dict(intro="verse", verse="chorus chorus prechorus verse", prechorus="chorus", chorus="verse bridge instrumental break chorus postchorus",
               postchorus="verse bridge", bridge="chorus chorus verse", instrumental="chorus verse bridge", **{"break": "chorus verse"})


def invented_plan(rng, per_bar=4):
    """A form that nobody wrote: what tends to follow what, each label with a length of its own and now and then another."""
    bars, shares = zip(*LENGTHS)
    draw = lambda: int(rng.choice(bars, p=np.array(shares) / sum(shares)))
    usual, plan, total = {}, [], 0
    label = "intro" if rng.uniform() < .8 else str(rng.choice(["verse", "chorus"]))
    while total < rng.uniform(200, 420) and len(plan) < 24:
        n, tail = usual.setdefault(label, (min(draw(), 12 if label == "intro" else 99), short_bar(rng, per_bar)))
        n, tail = (draw(), []) if rng.uniform() < .12 else (n, tail)
        odd = [per_bar] * n + tail
        if rng.uniform() < .06:
            odd[-1] = 2 if per_bar == 4 else per_bar
        plan.append((label, odd))
        total += sum(odd)
        label = str(rng.choice(FOLLOWS[label].split()))
    if rng.uniform() < .5:
        plan.append(("closing", [per_bar] * int(rng.choice([2, 4, 4, 8]))))
    return plan


def short_bar(rng, per_bar=4):
    """What now and then is over in every phrase of a label: two beats of a bar, or nothing."""
    return [2] if per_bar == 4 and rng.uniform() < .1 else []


def with_other_lengths(rng, plan):
    """A real form with some lengths changed: of all phrases of a label, or of one."""
    bars, shares = zip(*LENGTHS)
    draw = lambda: [4] * int(rng.choice(bars, p=np.array(shares) / sum(shares))) + short_bar(rng)
    everywhere = {label: draw() for label, _ in plan if rng.uniform() < .3}
    out = []
    for label, b in plan:
        b = everywhere.get(label, b)
        r = rng.uniform()
        b = b + [4] if r < .08 else b[:-1] if r < .11 and len(b) > 3 else b + [2] if r < .14 else draw() if r < .18 else b
        out.append((label, b))
    return out


def with_short_first_bar(rng, plan):
    """As some songs begin: in the middle of a bar."""
    (label, bars), *rest = plan
    whole = bars[0]
    return [(label, [int(rng.integers(1, whole))] + list(bars[rng.uniform() < .5:])), *rest]


def song_for_training(rng, forms, pool, curves):
    """A song of any kind, as various as can be: what is learned from must not be one band's ways."""
    u, ch = rng.uniform, lambda *names: str(rng.choice(names))
    kind = str(rng.choice(["pop", "invented", "tune", "loop", "waltz", "live"], p=[.28, .3, .14, .1, .08, .1]))
    real = curves[int(rng.integers(len(curves)))]
    opening = ch("talk", "talk", "countin", "none") if kind == "live" else ch(*["none"] * 4, "countin", "silence", "talk")
    common = dict(PLAIN, opening=opening, tempo_shape=[[["steady"], ["human"], ["drift"], ["real"]][int(
        rng.choice(4, p=[.35, .35, .1, .2]))], ["real"]][kind == "live"], real=real, ending=ch("end", "end", "fade"), synth_share=.25,
        habits=arrange.draw_habits(rng), pickup=bool(u() < (.6 if kind == "live" else .2)))
    begun = lambda plan: with_short_first_bar(rng, plan) if u() < .07 else plan
    if kind == "tune":
        song = song_for("tune", rng, "training", forms, pool, curves, common)
    elif kind == "waltz":
        plan = invented_plan(rng, 3) if u() < .5 else waltz_plan(rng)
        song = arrange.compose(rng, ch("waltz", "waltz", "jazzwaltz"), plan=begun(plan), bpm=u(90, 180), one_loop=bool(u() < .2), **common)
    elif kind == "loop":
        plan = loop_plan(rng) if u() < .5 else invented_plan(rng)
        song = arrange.compose(rng, ch("edm", "edm", "hiphop", "latin", "reggae"), plan=begun(plan), one_loop=True, **common)
    else:
        form = forms[int(rng.integers(len(forms)))]
        plan = invented_plan(rng) if kind == "invented" else plan_of(form)
        plan = with_other_lengths(rng, plan) if kind != "invented" and u() < .6 else plan
        style = ch("rock", "rock", "pop", "pop", "country", "country", "hiphop", "shuffle", "slowband", "swing16", "swing", "punk", "latin", "ballad",
                   "voices", "fingerstyle", "pianosolo", "march", "halfdouble", "metal")
        bpm = float(np.clip(form["bpm"], 72, 160)) if u() < .5 else None
        song = arrange.compose(rng, style, plan=begun(plan), bpm=bpm, one_loop=bool(u() < .2), **common)
    return kind, song


def song_for(kind, rng, half, forms, pool, curves, common=None):
    u, ch = rng.uniform, lambda *names: str(rng.choice(names))
    if common and kind == "tune":
        return tune_song(rng, pool, common)
    opening = ch("none", "none", "none", "countin", "silence")
    tempo = [["steady"], ["human"]][int(rng.integers(2))]
    common = dict(PLAIN, opening=opening, tempo_shape=tempo, ending="end", synth_share=.15)
    if kind == "tune":
        return tune_song(rng, pool, common)
    if kind == "waltz":
        return arrange.compose(rng, "waltz", plan=waltz_plan(rng), bpm=u(96, 150), **common)
    if kind == "loop":
        return arrange.compose(rng, ch("edm", "edm", "hiphop"), plan=loop_plan(rng), one_loop=True, **common)
    form = forms[int(rng.integers(len(forms)))]
    plan, bpm = plan_of(form), form["bpm"]
    if kind == "odd":
        plan = with_odd_lengths(rng, plan)
    style = ch("rock", "pop", "country", "hiphop", "shuffle", "slowband", "swing16")
    if kind == "live":
        curve = curves[int(rng.integers(len(curves)))]
        common.update(tempo_shape=["real"] if u() < .6 else ["drift"], real=curve, opening=ch("talk", "talk", "countin"), pickup=True)
    return arrange.compose(rng, style, plan=plan, bpm=float(np.clip(bpm, 72, 160)), **common)


def tune_song(rng, pool, common):
    while True:
        t = pool[int(rng.integers(len(pool)))]
        style = arrange.tune_style(t, rng)
        if t.aabb and t.bars == 32 and style and t.meter != (3, 4):
            break
    song = arrange.compose(rng, style[0], tune=t, bpm=style[1], seconds=130, drumless=bool(rng.uniform() < .5), **common)
    letters, k = tune_letters(t), 0
    for i, (at, label) in enumerate(song.phrases):
        if label == "tune":
            song.phrases[i] = (at, letters[k % len(letters)])
            k += 1
    return song


def tune_letters(t):
    """A letter for each 8 bars of a tune: the same when most of their notes are."""
    parts = []
    for k in range(t.bars // 8):
        at = k * 8 * t.bar_q
        parts.append({(round((on - at) * 4), p) for on, _, p in t.notes if at <= on < at + 7 * t.bar_q})
    letters = []
    for i, part in enumerate(parts):
        same = [j for j in range(i) if len(part & parts[j]) > .6 * max(len(part), len(parts[j]))]
        letters.append(letters[same[0]] if same else f"tune {'ABCDEFGH'[len(set(letters))]}")
    return letters


_SOURCES = {}


def sources(forms=None, corpus=None):
    """Of each half: forms, tunes and tempo curves that its songs are drawn from."""
    if not _SOURCES:
        path = forms or os.environ.get("FORMS", "../../shared/forms/forms.jsonl")
        every_second = [json.loads(line) for line in open(path)][::2]
        all_tunes = tunes.load(corpus)
        for i, half in enumerate(("tuning", "apart")):
            curves = [c for c in map(arrange.real_drift, every_second[i::2]) if c is not None and c.std() > .008]
            pool = [t for t in all_tunes if t.half == ("dev", "held")[i]]
            _SOURCES[half] = ([s for s in every_second[i::2] if plan_of(s)], pool, curves)
    return _SOURCES


def from_seed(name, kind, half):
    """The song of a name, as notes, and the generator as it stands then."""
    rng = np.random.default_rng(int(hashlib.sha256(f"form/{name}".encode()).hexdigest()[:8], 16))
    return song_for(kind, rng, half, *sources()[half]), rng


def render_song(out, name, kind, half):
    """Writes a song and what is true of it."""
    import soundfile
    song, rng = from_seed(name, kind, half)
    x = render.mix(song, rng, SR, FONTS[half], rough=.6)
    base = os.path.join(out, name)
    soundfile.write(base + ".wav", x, SR, subtype="PCM_16")
    with open(base + ".beats", "w") as f:
        f.writelines(f"{t:.4f}\t{p}\n" for t, p in song.beats)
    with open(base + ".phrases", "w") as f:
        f.writelines(f"{t:.4f}\t{'end' if label == 'ending' else label}\n" for t, label in song.phrases)
    json.dump(dict(kind=kind, half=half, style=song.style, seconds=song.duration, **song.meta), open(base + ".json", "w"))
    return song


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out"), ap.add_argument("--per-kind", type=int, default=8)
    ap.add_argument("--half", choices=["tuning", "apart"], help="all songs for this half; left out, every second one")
    ap.add_argument("--round", default="", help="letters that stand in the names, and so change every seed")
    ap.add_argument("--part", default="0/1", help="i/n: this process makes every n-th song")
    ap.add_argument("--forms", default="../../shared/forms/forms.jsonl")
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    sources(a.forms)
    part, of = map(int, a.part.split("/"))
    for i in range(a.per_kind):
        for k, kind in enumerate(KINDS):
            if (i * len(KINDS) + k) % of != part:
                continue
            half = a.half or ("tuning", "apart")[(i + k) % 2]
            name = f"{kind}_{a.round}{i}"
            if os.path.exists(os.path.join(a.out, name + ".json")):
                continue
            song = render_song(a.out, name, kind, half)
            print(name, half, round(song.duration), file=sys.stderr, flush=True)


if __name__ == "__main__":
    main()
