"""Renders songs with known forms without end and keeps what the network that hears phrases is told of them.

    python3 form_stream.py OUT --front dump_form_inputs --fonts A.sf3 B.sf3 --forms forms.jsonl [--seed 1] [--songs N] [--workers 2]

No sound is kept. A song is one .npz: `sounds` [beats, 46] as float16 (form_inputs.py makes of them what the network is
told), `times` and `places` of the beats as the ear found them, `per_bar`, and the truth: `beats` [n, 2] (seconds, place in bar), `starts` (seconds; the last is the last chord) and `labels`.
Seeds divisible by ten go to files named val_*. The forms of pop songs are the second and fourth of every four of the set;
the first and third of every four are those that `form_songs.py` measures with.
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

import numpy as np

import arrange
import form_songs
import render
import tunes
from stream import SR, side_by_side, wear, write_wav


def read_inputs(path):
    b = open(path, "rb").read()
    n, w, per_bar, sounds = struct.unpack("<IIII", b[:16])
    v = np.frombuffer(b, "<f4", offset=16)
    return v[:n], v[n:2 * n], per_bar, v[2 * n:(2 + w) * n].reshape(n, w), v[(2 + w) * n:].reshape(n, sounds)


def worker(k, a):
    os.environ["OMP_NUM_THREADS"] = os.environ["RAYON_NUM_THREADS"] = "1"
    pool = [t for t in tunes.load(a.corpus) if t.half == "train"]
    lines = [json.loads(line) for line in open(a.forms)]
    forms = [f for f in lines[1::2] if form_songs.plan_of(f)]
    curves = [c for c in map(arrange.real_drift, lines[1::2]) if c is not None and c.std() > .004]
    fonts = [("tiny", f) for f in a.fonts]
    scratch = tempfile.mkdtemp()
    for seed in range(a.seed + k, a.seed + a.songs, a.workers):
        if a.until and time.time() > a.until:
            return
        try:
            rng = np.random.default_rng([seed, 11])
            kind, song = form_songs.song_for_training(rng, forms, pool, curves)
            if song.duration > 420:
                continue
            x = wear(render.mix(song, rng, SR, fonts, rough=.7), rng)
            if not np.isfinite(x).all() or x.std() < 1e-4:
                continue
            write_wav(f"{scratch}/s.wav", x)
            subprocess.run([a.front, f"{scratch}/s.wav", f"{scratch}/s.in"], check=True)
            times, places, per_bar, _, sounds = read_inputs(f"{scratch}/s.in")
            name = f"{'val' if seed % 10 == 0 else 'trn'}_{seed:07d}.npz"
            np.savez(f"{scratch}/{name}", sounds=sounds.astype(np.float16), times=times, places=places.astype(np.int8), per_bar=per_bar, kind=kind,
                     beats=np.array(song.beats, np.float32), starts=np.array([t for t, _ in song.phrases], np.float32),
                     labels=np.array([label for _, label in song.phrases]), style=song.style)
            subprocess.run(["mv", f"{scratch}/{name}", f"{a.out}/{name}"], check=True)
        except Exception:
            traceback.print_exc()
            time.sleep(.1)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("--front", required=True)
    ap.add_argument("--fonts", nargs="+", required=True)
    ap.add_argument("--corpus", help="the music21 corpus folder")
    ap.add_argument("--forms", default="../../shared/forms/forms.jsonl")
    ap.add_argument("--seed", type=int, default=1_000_001), ap.add_argument("--songs", type=int, default=1_000_000)
    ap.add_argument("--workers", type=int, default=2), ap.add_argument("--minutes", type=float)
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    a.until = a.minutes and time.time() + 60 * a.minutes
    side_by_side(worker, a)


if __name__ == "__main__":
    main()
