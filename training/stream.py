"""Renders training songs without end: compose, mix, run the product's own feature front, keep features and truth.

    python3 stream.py OUT --front dump_features --fonts A.sf3 B.sf3 [--seed 1] [--songs N] [--workers 2]

No sound is kept. Each shard is one .npz: `x` [frames, values] as float16, `beats` [n, 2] (seconds, place in bar),
`unjudged` [m, 2] (seconds). Seeds divisible by ten, and every tenth tune, go to files named val_*.
"""
from __future__ import annotations

import argparse
import json
import os
import struct
import subprocess
import tempfile
import time
import traceback
from multiprocessing import Process

import numpy as np
from scipy.fft import next_fast_len

import arrange
import render
import tunes

SR = 22050


def read_features(path):
    b = open(path, "rb").read()
    assert b[:8] == b"HBFEAT01"
    n, w, _, nb = struct.unpack("<IIfI", b[8:24])
    return np.frombuffer(b, "<f4", n * w, 24 + 4 * nb).reshape(n, w)


def write_wav(path, x):
    """32-bit float mono WAV."""
    data = x.astype("<f4").tobytes()
    with open(path, "wb") as f:
        f.write(b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 3, 1, SR, SR * 4, 4, 32)
                + b"data" + struct.pack("<I", len(data)) + data)


def wear(x, rng):
    """What a lossy codec leaves: a low-pass, and a floor of coarse steps in short blocks."""
    u = rng.uniform()
    if u < .35:
        n = next_fast_len(len(x), real=True)
        X = np.fft.rfft(x, n)
        f = np.fft.rfftfreq(n, 1 / SR)
        X[f > np.exp(rng.uniform(np.log(4500), np.log(10800)))] = 0
        x = np.fft.irfft(X, n)[: len(x)]
    if u > .65:
        n = 512
        m = len(x) // n
        win = np.sin(np.pi * (np.arange(2 * n) + .5) / (2 * n))
        pad = np.concatenate([np.zeros(n), x[: m * n], np.zeros(n)])
        frames = np.stack([pad[i * n:i * n + 2 * n] * win for i in range(m + 1)])
        F = np.fft.rfft(frames, axis=1)
        mag = np.abs(F)
        step = rng.uniform(.02, .12) * np.maximum(mag.max(1, keepdims=True), 1e-9) * rng.uniform(.1, 1)
        F = np.where(mag < step * .5, 0, F)
        y = np.fft.irfft(F, axis=1) * win
        out = np.zeros(len(pad))
        for i in range(m + 1):
            out[i * n:i * n + 2 * n] += y[i]
        x = np.concatenate([out[n:n + m * n], x[m * n:]])
    return x.astype(np.float32)


#: Styles that are also played slower and faster than the arranger's range for them.
ANY_TEMPO = ("rock", "pop", "country", "hiphop", "shuffle", "slowband", "swing16", "latin", "train")


def one_song(seed, pools, curves, tempi):
    """(song, generator) of a seed."""
    rng = np.random.default_rng([seed, 7])
    val = seed % 10 == 0
    seconds = float(rng.uniform(45, 75))
    real = curves[int(rng.integers(len(curves)))] if curves else None
    if rng.uniform() < .2:
        pool = pools["val" if val else "train"]
        while True:
            t = pool[int(rng.integers(len(pool)))]
            ts = arrange.tune_style(t, rng)
            if ts is None or t.bars > 100:
                continue
            hornpipe = "hornpipe" in t.rhythm or "clog" in t.rhythm
            swing = (16, rng.uniform(.54, .68)) if ts[0] == "reelband" and (hornpipe and rng.uniform() < .8 or rng.uniform() < .1) else None
            song = arrange.compose(rng, ts[0], seconds, tune=t, bpm=ts[1], real=real, swing=swing, drumless=bool(rng.uniform() < .55))
            if rng.uniform() < .3:                  # the tune alone
                lead = [s for s in song.stems if s.role == "lead"]
                start = min(n[0] for n in lead[0].notes)
                song.stems = lead
                song.beats = [b for b in song.beats if b[0] > start - .05]
            if len(song.beats) > 8:
                return song, rng
    names = list(arrange.TRAIN_WEIGHTS)
    w = np.array([arrange.TRAIN_WEIGHTS[n] for n in names], float)
    style = str(rng.choice(names, p=w / w.sum()))
    # Any beat may come at any tempo that songs have, not only at those that suit it best.
    bpm = float(np.clip(tempi[int(rng.integers(len(tempi)))], 66, 176)) if tempi and style in ANY_TEMPO and rng.uniform() < .4 else None
    return arrange.compose(rng, style, seconds, real=real, bpm=bpm), rng


def bare_clicks(rng):
    """(sound, beats) of a click and nothing else, as a metronome or hands make it."""
    seconds, bpm, bar = float(rng.uniform(30, 60)), float(np.exp(rng.uniform(np.log(60), np.log(190)))), int(rng.choice([2, 3, 4, 4, 4, 6]))
    t = np.arange(int(.07 * SR)) / SR
    tone = np.sign if rng.uniform() < .3 else lambda v: v
    f = float(np.exp(rng.uniform(np.log(70), np.log(3500))))
    click = np.exp(-t / rng.uniform(.004, .03)) * (tone(np.sin(2 * np.pi * f * t)) if rng.uniform() < .7 else rng.standard_normal(len(t)))
    weak = float(rng.choice([1, 1, .8, .5]))
    x = np.zeros(int(seconds * SR), np.float32)
    times = np.arange(rng.uniform(0, 2), seconds - .2, 60 / bpm)
    for i, at in enumerate(times):
        at = int(at * SR)
        x[at:at + len(click)] += click[: len(x) - at] * (1 if i % bar == 0 else weak)
    return x / np.abs(x).max() * rng.uniform(.1, .9), [(float(at), i % bar + 1) for i, at in enumerate(times)]


def worker(k, a):
    os.environ["OMP_NUM_THREADS"] = "1"
    everything = [t for t in tunes.load(a.corpus) if t.half == "train"]
    pools = {"val": everything[::10], "train": [t for i, t in enumerate(everything) if i % 10]}
    curves, tempi = [], []
    if a.forms and os.path.exists(a.forms):
        for i, line in enumerate(open(a.forms)):
            if i % 4 == 0:
                tapped = json.loads(line)
                tempi.append(tapped["bpm"])
                r = arrange.real_drift(tapped)
                if r is not None and r.std() > .004:
                    curves.append(r)
    fonts = [("tiny", f) for f in a.fonts]
    scratch = tempfile.mkdtemp(dir=a.scratch)
    for seed in range(a.seed + k, a.seed + a.songs, a.workers):
        try:
            rng = np.random.default_rng([seed, 11])
            if rng.uniform() < a.clicks:
                x, beats = bare_clicks(rng)
                unjudged, style = [], "clicks"
            else:
                song, rng = one_song(seed, pools, curves, tempi)
                x, beats, unjudged, style = render.mix(song, rng, SR, fonts), song.beats, song.unjudged, song.style
            x = wear(x, rng)
            if not np.isfinite(x).all() or x.std() < 1e-4:
                continue
            write_wav(f"{scratch}/s.wav", x)
            subprocess.run([a.front, f"{scratch}/s.wav", scratch], check=True)
            name = f"{'val' if seed % 10 == 0 else 'trn'}_{seed:07d}.npz"
            tmp = f"{scratch}/{name}"
            np.savez(tmp, x=read_features(f"{scratch}/s.feat").astype(np.float16), beats=np.array(beats, np.float32),
                     unjudged=np.array(unjudged, np.float32).reshape(-1, 2), style=style)
            os.replace(tmp, f"{a.out}/{name}") if a.scratch is None or os.stat(tmp).st_dev == os.stat(a.out).st_dev else None
        except Exception:
            traceback.print_exc()
            time.sleep(.1)


def side_by_side(work, a):
    """Runs `work(k, a)` for each of so many workers, each in a process of its own."""
    ps = [Process(target=work, args=(k, a)) for k in range(a.workers)]
    [p.start() for p in ps]
    [p.join() for p in ps]


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("--front", required=True)
    ap.add_argument("--fonts", nargs="+", required=True)
    ap.add_argument("--corpus", help="the music21 corpus folder")
    ap.add_argument("--forms", help="tapped songs, for real tempi and their curves")
    ap.add_argument("--scratch", help="a folder on the same file system as OUT")
    ap.add_argument("--clicks", type=float, default=.03, help="share of bare clicks among the songs")
    ap.add_argument("--seed", type=int, default=1_000_001)
    ap.add_argument("--songs", type=int, default=1_000_000)
    ap.add_argument("--workers", type=int, default=2)
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    a.scratch = a.scratch or a.out
    side_by_side(worker, a)


if __name__ == "__main__":
    main()
