"""Scores beat trackers on the evaluation set by class, with mir_eval's own functions.

    python3 accuracy.py DATA/dev --hoofbeat ../target/release/hoofbeat      # listen, export --as beats, score
    python3 accuracy.py DATA/dev --estimates FOLDER                          # NAME.beats made elsewhere
    python3 accuracy.py DATA/dev --librosa                                   # a general-purpose tracker, for scale

Beats inside spans that an item marks as unjudged (a rubato opening, what rings after the last note) are left out on both
sides. mir_eval then leaves out the first 5 s, as is usual; `--from-start` keeps them. `right` is the share of songs with
F >= .95. Offsets are estimate less attack, over beats within 70 ms of one; their spread is half the middle half.
"""
from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import warnings
from concurrent.futures import ProcessPoolExecutor

import mir_eval
import numpy as np

warnings.filterwarnings("ignore")


def load_beats(path):
    """(seconds, place in bar or 0), ascending."""
    rows = []
    if os.path.exists(path):
        for line in open(path):
            parts = line.split()
            if parts:
                rows.append((float(parts[0]), int(float(parts[1])) if len(parts) > 1 else 0))
    return np.array(rows, float).reshape(-1, 2)


def items(data):
    out = []
    for name in sorted(os.listdir(data)):
        if name.startswith("items") and name.endswith(".jsonl"):
            out += [json.loads(line) for line in open(os.path.join(data, name)) if line.strip()]
    return sorted(out, key=lambda i: i["name"])


def judged(beats, item):
    keep = np.ones(len(beats), bool)
    for a, b in item.get("unjudged", []):
        keep &= ~((beats[:, 0] >= a) & (beats[:, 0] <= b))
    return beats[keep]


def estimate(job):
    """Beats of one item by the chosen tracker."""
    item, data, how, arg = job
    audio = os.path.join(data, item["audio"])
    if how == "estimates":
        return load_beats(os.path.join(arg, item["name"] + ".beats"))
    if how == "librosa":
        import librosa
        y, sr = librosa.load(audio, sr=22050, mono=True)
        _, frames = librosa.beat.beat_track(y=y, sr=sr, hop_length=512)
        return np.array([(t, 0) for t in librosa.frames_to_time(frames, sr=sr, hop_length=512)], float).reshape(-1, 2)
    with tempfile.TemporaryDirectory() as tmp:
        heard, beats = os.path.join(tmp, "map.json"), os.path.join(tmp, "x.beats")
        done = subprocess.run([arg, "listen", audio, "-o", heard], capture_output=True, text=True)
        if done.returncode == 2 or not os.path.exists(heard):
            print(f"{item['name']}: {done.stderr.strip().splitlines()[:1]}", file=sys.stderr)
            return np.zeros((0, 2))
        subprocess.run([arg, "export", heard, "--as", "beats", "-o", beats], capture_output=True)
        return load_beats(beats)


def score(item, data, est, trim):
    ref = judged(load_beats(os.path.join(data, item["name"] + ".beats")), item)
    est = judged(est, item)
    cut = (lambda t: mir_eval.beat.trim_beats(t)) if trim else (lambda t: t)
    r, e = cut(ref[:, 0]), cut(est[:, 0])
    rd, ed = cut(ref[ref[:, 1] == 1, 0]), cut(est[est[:, 1] == 1, 0])
    _, cml, _, aml = mir_eval.beat.continuity(r, e) if len(r) > 1 and len(e) > 1 else (0, 0, 0, 0)
    f = mir_eval.beat.f_measure(r, e) if len(e) else 0.0
    fd = mir_eval.beat.f_measure(rd, ed) if len(ed) and item["cls"] != "recorded" else (0.0 if item["cls"] != "recorded" else np.nan)
    off = []
    path = os.path.join(data, item["name"] + ".attacks")
    if os.path.exists(path) and len(est):
        for t in np.loadtxt(path, ndmin=1):
            if np.isfinite(t):
                d = est[np.argmin(np.abs(est[:, 0] - t)), 0] - t
                if abs(d) <= .07:
                    off.append(1000 * d)
    return dict(name=item["name"], cls=item["cls"], f=f, cml=cml, aml=aml, fd=fd, off=off)


def row(label, scores):
    m = lambda k: np.nanmean([s[k] for s in scores]) if not np.all(np.isnan([s[k] for s in scores])) else np.nan
    off = np.concatenate([s["off"] for s in scores]) if any(s["off"] for s in scores) else np.array([np.nan])
    q = np.percentile(off, [25, 50, 75])
    worst = min(scores, key=lambda s: s["f"])
    print(f"| {label} | {len(scores)} | {m('f'):.3f} | {m('cml'):.3f} | {m('aml'):.3f} | {m('fd'):.3f} | "
          f"{100 * np.mean([s['f'] >= .95 for s in scores]):.0f} % | {q[1]:+.1f} / {(q[2] - q[0]) / 2:.1f} | {worst['name']} {worst['f']:.2f} |")


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("data")
    how = ap.add_mutually_exclusive_group(required=True)
    how.add_argument("--hoofbeat"), how.add_argument("--estimates"), how.add_argument("--librosa", action="store_true")
    ap.add_argument("--jobs", type=int, default=os.cpu_count())
    ap.add_argument("--from-start", action="store_true")
    ap.add_argument("--each", action="store_true", help="every item, worst first")
    ap.add_argument("--floor", type=float, help="exit 1 where the mean F lies under it")
    a = ap.parse_args()
    which = "hoofbeat" if a.hoofbeat else "librosa" if a.librosa else "estimates"
    todo = [i for i in items(a.data) if os.path.exists(os.path.join(a.data, i["audio"]))]
    jobs = [(i, a.data, which, a.hoofbeat or a.estimates) for i in todo]
    with ProcessPoolExecutor(a.jobs) as pool:
        ests = list(pool.map(estimate, jobs))
    scores = [score(i, a.data, e, not a.from_start) for i, e in zip(todo, ests)]
    if a.each:
        for s in sorted(scores, key=lambda s: s["f"]):
            print(f"{s['name']:26} F {s['f']:.3f} CMLt {s['cml']:.3f} AMLt {s['aml']:.3f} down {s['fd']:.3f}")
        print()
    print("| class | n | F | CMLt | AMLt | downbeat F | right | offset / spread, ms | worst |\n|---|---|---|---|---|---|---|---|---|")
    for cls in sorted({s["cls"] for s in scores}):
        row(cls, [s for s in scores if s["cls"] == cls])
    row("**all**", scores)
    if a.floor is not None and np.mean([s["f"] for s in scores]) < a.floor:
        sys.exit(1)


if __name__ == "__main__":
    main()
