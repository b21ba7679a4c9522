"""Builds the evaluation set: songs by class, a `dev` half to look at and a `held` half kept back.

    python3 make_eval.py OUT dev|held [--per-class 6] [--only CLASS] [--round 2]

For every item: the audio (its codec drawn), NAME.beats (seconds<TAB>place in bar), NAME.phrases, NAME.attacks
(times at which a note or drum really starts near each beat) and a line in items.jsonl. The halves share no tune,
no soundfont, no seed and no real tempo curve, and neither shares any with the training songs.
"""
from __future__ import annotations

import argparse
import hashlib
import json
import os
import subprocess
import sys
import tempfile

import numpy as np
import soundfile

import arrange
import render
import tunes

SR = 44100
SF2 = "/usr/share/sounds/sf2/"
FONTS = {"dev": [("fluid", SF2 + "sf_GMbank.sf2"), ("fluid", SF2 + "FluidR3_GM.sf2")],
         "held": [("fluid", SF2 + "TimGM6mb.sf2"), ("fluid", SF2 + "TimGM6mb.sf2"), ("fluid", SF2 + "OPL-3_FM_128M.sf2")]}
DRUM_FONTS = {"dev": [("fluid", SF2 + "Black_Pearl_4_LV2.sf2")], "held": [("fluid", SF2 + "Red_Zeppelin_4_LV2.sf2")]}
SOLO = {"fiddle": 40, "banjo": 105, "piano": 0, "whistle": 78, "accordion": 21, "guitar": 25, "flute": 73, "mandolin": 24}
CODECS = [("flac", []), ("mp3", ["-b:a", "64k"]), ("mp3", ["-b:a", "128k"]), ("mp3", ["-b:a", "192k"]), ("mp3", ["-q:a", "4"]),
          ("ogg", ["-c:a", "libvorbis", "-q:a", "2"]), ("ogg", ["-c:a", "libvorbis", "-q:a", "5"]),
          ("m4a", ["-c:a", "aac", "-b:a", "96k"]), ("m4a", ["-c:a", "aac", "-b:a", "160k"])]

STEADY = dict(tempo_change=False, odd_bars=False, fade=None)
PLAIN = dict(opening="none", pickup=False, ending="end", tempo_change=False, odd_bars=False)
HUMAN = ["human"]


def pick_tune(rng, pool, words=None, meters=None, aabb=True):
    while True:
        t = pool[int(rng.integers(len(pool)))]
        if meters and t.meter not in meters or words and not any(w in t.rhythm for w in words) or t.bars > 64:
            continue
        if aabb and not t.aabb and rng.uniform() < .7:
            continue
        if arrange.tune_style(t, rng):
            return t


def song_for(cls, rng, pool, curves):
    """One song of a class."""
    u = rng.uniform
    seconds = float(u(42, 80))
    tempo = [["steady"], ["human"], ["human"]][int(rng.integers(3))]
    c = lambda name, **kw: arrange.compose(rng, name, **{**dict(seconds=seconds, tempo_shape=tempo, synth_share=.35), **PLAIN, **kw})
    ch = lambda *names: str(rng.choice(names))

    def setting(t, **kw):
        name, bpm = arrange.tune_style(t, rng)
        hornpipe = "hornpipe" in t.rhythm or "clog" in t.rhythm
        return c(kw.pop("style", name), tune=t, bpm=kw.pop("bpm", bpm), **({"swing": (16, u(.54, .68))} if hornpipe and name == "reelband" else {}), **kw)

    if cls == "steady_drums":
        return c(ch("rock", "pop", "country", "punk", "hiphop"), drumless=False)
    if cls == "train_bluegrass":
        return c(ch("train", "bluegrass"))
    if cls == "swing_shuffle":
        return c(ch("swing", "shuffle", "swing16"), drumless=False)
    if cls == "compound":
        return c(ch("slow12", "six8", "jigband"), drumless=False)
    if cls == "jig_tune":
        return setting(pick_tune(rng, pool, meters=[(6, 8)]), drumless=bool(u() < .5))
    if cls == "reel_tune":
        return setting(pick_tune(rng, pool, words=["reel"], meters=[(2, 2), (4, 4)]), bpm=u(104, 130), drumless=bool(u() < .5))
    if cls == "hornpipe_clog":
        return setting(pick_tune(rng, pool, words=["hornpipe", "clog"], meters=[(2, 2), (4, 4), (2, 4)]), drumless=bool(u() < .6))
    if cls == "waltz":
        return setting(pick_tune(rng, pool, meters=[(3, 4)], aabb=False)) if u() < .4 else c(ch("waltz", "jazzwaltz"))
    if cls == "no_drums":
        return c(ch("ballad", "pianosolo", "fingerstyle", "voices"), drumless=True)
    if cls == "solo_tune":
        t = pick_tune(rng, pool, meters=[(6, 8), (2, 2), (4, 4), (3, 4), (2, 4)])
        s = setting(t, drumless=True, tempo_shape=["human"])
        lead = [st for st in s.stems if st.role == "lead"]
        s.stems = lead
        lead[0].sound = ("sf", int(rng.choice(list(SOLO.values()))))
        start = min(n[0] for n in lead[0].notes)                       # nothing but the tune: truth starts where it does
        s.beats = [b for b in s.beats if b[0] > start - .05]
        return s
    if cls == "half_double":
        return c("halfdouble", drumless=False, seconds=80)
    if cls == "edm":
        return c("edm", drumless=False)
    if cls == "rubato_opening":
        return c(ch("ballad", "rock", "country", "waltz", "slowband"), opening="rubato", seconds=80)
    if cls == "long_intro":
        return c(ch("rock", "pop", "country", "waltz", "bluegrass"), opening=ch("talk", "talk", "silence"), seconds=70)
    if cls == "drift":
        return c(ch("rock", "country", "pop", "bluegrass", "shuffle", "waltz"), tempo_shape=["real"] if u() < .6 else ["drift"],
                 real=curves[int(rng.integers(len(curves)))], seconds=80)
    if cls == "slow_ending":
        return c(ch("rock", "country", "ballad", "waltz", "pianosolo"), tempo_shape=["human", "rit"])
    if cls == "tempo_change":
        return c(ch("rock", "pop", "country", "swing"), tempo_change=True, seconds=85)
    if cls == "odd_bars":
        return c(ch("rock", "pop", "country", "hiphop"), odd_bars=True, seconds=80, drumless=False)
    if cls == "pickup":
        return c(ch("rock", "country", "swing", "waltz", "bluegrass", "pop"), pickup=True)
    if cls == "fade_out":
        return c(ch("rock", "pop", "country", "reggae", "latin"), ending="fade")
    if cls == "slow_pulse":
        return c(ch("slowband", "ballad", "slow12"), bpm=u(54, 72))
    raise ValueError(cls)


CLASSES = ["steady_drums", "train_bluegrass", "swing_shuffle", "compound", "jig_tune", "reel_tune", "hornpipe_clog", "waltz",
           "no_drums", "solo_tune", "half_double", "edm", "rubato_opening", "long_intro", "drift", "slow_ending",
           "tempo_change", "odd_bars", "pickup", "fade_out", "slow_pulse"]

WORDS = ("well friends thank you all for coming down tonight this next one is an old tune my father taught me on the porch when "
         "i was ten years old so find your places square your sets and listen for the fiddle are you ready here it comes").split()


def speech(n, sr, rng):
    """Words spoken by flite."""
    out = np.zeros(n)
    at = 0
    while at < n:
        k = int(rng.integers(0, len(WORDS) - 8))
        with tempfile.NamedTemporaryFile(suffix=".wav") as f:
            subprocess.run(["flite", "-voice", str(rng.choice(["slt", "rms", "awb", "kal16"])), "-t",
                            " ".join(WORDS[k:k + int(rng.integers(5, 16))]), "-o", f.name], check=True)
            x, rate = soundfile.read(f.name)
        x = np.interp(np.arange(int(len(x) * sr / rate)) * rate / sr, np.arange(len(x)), x)
        out[at:at + len(x)] += x[: n - at]
        at += len(x) + int(rng.uniform(.1, 1.0) * sr)
    return out


def attacks(song):
    """For each beat the start of the nearest struck or plucked sound within 40 ms, or nan."""
    rank = {"drums": 0, "bass": 1, "comp": 2}
    best = []
    for t, _ in song.beats:
        near = [(rank.get(s.role, 3), abs(n[0] - t), n[0]) for s in song.stems for n in s.notes if abs(n[0] - t) < .04]
        best.append(min(near)[2] if near else float("nan"))
    return best


def write_item(folder, name, cls, song, x, sr, codec, extra=()):
    ext, args = codec
    path = os.path.join(folder, f"{name}.{ext}")
    with tempfile.NamedTemporaryFile(suffix=".wav") as f:
        soundfile.write(f.name, x, sr, subtype="PCM_16")
        subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", f.name, "-ac", "2", *args, path], check=True)
    with open(os.path.join(folder, name + ".beats"), "w") as f:
        f.writelines(f"{t:.4f}\t{p}\n" for t, p in song.beats)
    with open(os.path.join(folder, name + ".phrases"), "w") as f:
        f.writelines(f"{t:.4f}\t{label}\n" for t, label in song.phrases)
    with open(os.path.join(folder, name + ".attacks"), "w") as f:
        f.writelines(f"{t:.4f}\n" for t in attacks(song))
    return dict(name=name, audio=os.path.basename(path), cls=cls, style=song.style, unjudged=song.unjudged,
                duration=song.duration, **song.meta)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out"), ap.add_argument("half", choices=["dev", "held"])
    ap.add_argument("--per-class", type=int, default=6)
    ap.add_argument("--forms", default="../../shared/forms/forms.jsonl", help="tapped songs, for real tempo curves")
    ap.add_argument("--only", help="classes, with commas")
    ap.add_argument("--font", help="one soundfont in place of all others")
    ap.add_argument("--part", default="0/1", help="i/n: this process makes every n-th item")
    ap.add_argument("--first", type=int, default=0, help="number of each class's first item, to add to a set")
    ap.add_argument("--round", type=int, default=1, help="another round of seeds: songs that no earlier round had")
    a = ap.parse_args()
    folder = os.path.join(a.out, a.half)
    os.makedirs(folder, exist_ok=True)
    pool = [t for t in tunes.load() if t.half == a.half]
    curves = []
    if os.path.exists(a.forms):
        for i, line in enumerate(open(a.forms)):
            if i % 4 == {"dev": 1, "held": 3}[a.half]:
                r = arrange.real_drift(json.loads(line))
                if r is not None and r.std() > .008:
                    curves.append(r)
    curves = curves or [1 + .02 * np.sin(np.arange(400) / 23)]
    part, of = map(int, a.part.split("/"))
    index = open(os.path.join(folder, f"items{a.first or ''}{'_' if a.first else ''}{part}.jsonl"), "w")
    k = 0
    salt = a.half if a.round == 1 else f"{a.half}{a.round}"
    for i in range(a.first, a.per_class):
        for cls in CLASSES:
            if a.only and cls not in a.only.split(","):
                continue
            k += 1
            if k % of != part:
                continue
            seed = int(hashlib.sha256(f"{salt}/{cls}/{i}".encode()).hexdigest()[:8], 16)
            rng = np.random.default_rng(seed)
            song = song_for(cls, rng, pool, curves)
            fonts, drums = ([("fluid", a.font)],) * 2 if a.font else (FONTS[a.half], DRUM_FONTS[a.half])
            x = render.mix(song, rng, SR, fonts, drums, rough=.8, talk_sound=speech)
            item = write_item(folder, f"{cls}_{i}", cls, song, x, SR, CODECS[int(rng.integers(len(CODECS)))])
            item["seed"] = seed
            index.write(json.dumps(item) + "\n")
            index.flush()
            print(item["name"], file=sys.stderr)


if __name__ == "__main__":
    main()
