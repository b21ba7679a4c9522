"""Renders published tunes (Ryan's Mammoth Collection, 1883; O'Neill's Music of Ireland, 1903: as in PyPI music21) through
FluidSynth and checks what hoofbeat counts in them.

    python3 check_tunes.py ../target/release/hoofbeat [--font /usr/share/sounds/sf2/TimGM6mb.sf2] [--keep FOLDER]

Sixteen tunes of the half that the ear may be tuned on and sixteen of the half kept apart: jigs, reels, hornpipes and clogs,
and solo tunes. Floors: beats F (70 ms, mir_eval) 0.90 on average over the twelve of the first half that a band plays, over
the sixteen kept apart, and over all; and of the tunes in two, eight in ten hold 16 counts in each of their parts of eight
bars. Tunes played by one instrument alone are where the ear is weakest: their figures are printed beside. Exit 1 where a
floor is missed.
"""
from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

import mir_eval
import numpy as np

import accuracy

CLASSES = "jig_tune,reel_tune,hornpipe_clog,solo_tune"
HERE = os.path.dirname(os.path.abspath(__file__))


def heard_beats(binary, audio):
    done = subprocess.run([binary, "listen", audio, "-o", "-"], capture_output=True, text=True)
    return np.array(json.loads(done.stdout)["heard"]["beats_s"]) if done.returncode == 0 else np.zeros(0)


def check_half(binary, folder, half):
    scores, whole, parts_of_16 = [], 0, 0
    for item in accuracy.items(os.path.join(folder, half)):
        data = os.path.join(folder, half)
        found = heard_beats(binary, os.path.join(data, item["audio"]))
        truth = accuracy.judged(accuracy.load_beats(os.path.join(data, item["name"] + ".beats")), item)[:, 0]
        judged = accuracy.judged(np.c_[found, found], item)[:, 0] if len(found) else found
        trim = mir_eval.beat.trim_beats
        f = mir_eval.beat.f_measure(trim(truth), trim(judged)) if len(judged) else 0.0
        scores.append((f, item["cls"]))
        starts = [line.split("\t") for line in open(os.path.join(data, item["name"] + ".phrases"))]
        starts = [float(t) for t, label in starts if label.strip() in ("tune", "ending")]
        note = ""
        if item["beats_per_bar"] == 2 and len(starts) > 4:
            counts = [int(np.sum((found > a - .07) & (found < b - .07))) for a, b in zip(starts, starts[1:])]
            whole += 1
            parts_of_16 += all(c == 16 for c in counts)
            note = f"  counts in its parts: {counts}"
        print(f"{half:4} {item['name']:18} F {f:.3f}  {item.get('tune', '')}{note}")
    return scores, whole, parts_of_16


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("binary")
    ap.add_argument("--font", default="/usr/share/sounds/sf2/TimGM6mb.sf2")
    ap.add_argument("--keep", help="render here and use what is there already")
    a = ap.parse_args()
    binary = os.path.abspath(a.binary)
    ok = True
    with tempfile.TemporaryDirectory() as tmp:
        folder = os.path.abspath(a.keep or tmp)
        jobs = [(half, part) for half in ("dev", "held") for part in range(2)
                if not os.path.exists(os.path.join(folder, half, f"items{part}.jsonl"))]
        render = lambda job: subprocess.run(
            [sys.executable, "make_eval.py", folder, job[0], "--per-class", "4", "--only", CLASSES, "--font", a.font,
             "--part", f"{job[1]}/2"], cwd=HERE, check=True, stderr=subprocess.DEVNULL)
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(render, jobs))
        mean = lambda scores: float(np.mean([f for f, _ in scores]))
        every, right, whole = [], 0, 0
        for half in ("dev", "held"):
            scores, of, good = check_half(binary, folder, half)
            band = [s for s in scores if s[1] != "solo_tune"]
            solo = [s for s in scores if s[1] == "solo_tune"]
            print(f"{half}: beats F {mean(scores):.3f} over {len(scores)} tunes; {mean(band):.3f} with a band, "
                  f"{mean(solo):.3f} alone; {good} of {of} tunes in two hold 16 counts in every part")
            floor_on = band if half == "dev" else scores
            ok &= len(floor_on) >= 10 and mean(floor_on) >= .90
            every, right, whole = every + scores, right + good, whole + of
        print(f"all: beats F {mean(every):.3f} over {len(every)} tunes; {right} of {whole} hold 16 counts in every part")
        ok &= mean(every) >= .90 and right >= .8 * whole
    print("tunes: passed" if ok else "tunes: a floor was missed")
    sys.exit(0 if ok else 1)


if __name__ == "__main__":
    main()
