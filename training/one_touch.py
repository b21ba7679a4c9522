"""Whether one touch rights a song: a user who knows the truth corrects one thing through `hoofbeat mark`, and the beats that
come out are scored.

    python3 one_touch.py DATA/dev ../target/release/hoofbeat [--each] [--floor .98]

Right without help: beats F of 0.95 or more; with bars: downbeat F of 0.9 or more too (70 ms, mir_eval, first 5 s and what an
item leaves unjudged left out). Every song that is not right with its bars is touched, each time from the map as it was heard,
once in each of these ways:

    tap     one bar as it really goes, first beat to first beat of the next, each tap off by a normal 15 ms; a bar where the beats
            are wrong (the first such bar, and one half way through them), or where they are right but the bars are wrong
    first   counting starts on the first true bar line
    half, double, pulse   the true rate, where the rate heard is not it
    bar     +1, +2, -1; and a bar line at a true one
    beats-per-bar   the true number, where another was heard
    change  where tempo or bar really change, and where the beats heard go wrong (at most five places)

The best touch counts: a user sees what is wrong. Times are of the whole command: wall, and CPU (user and system).
"""
from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
import zlib
from concurrent.futures import ThreadPoolExecutor

import mir_eval
import numpy as np

import accuracy

SCATTER_S = .015
RIGHT, BARS_RIGHT = .95, .9


def run(*args):
    """Exit code, wall and CPU seconds of a command."""
    start = time.perf_counter()
    child = subprocess.Popen(args, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    return child.returncode, time.perf_counter() - start, usage.ru_utime + usage.ru_stime


def exported(binary, path, tmp):
    out = os.path.join(tmp, "x.beats")
    if os.path.exists(out):
        os.remove(out)
    run(binary, "export", path, "--as", "beats", "-o", out)
    return accuracy.load_beats(out)


def scores(item, data, beats):
    s = accuracy.score(item, data, beats, True)
    return s["f"], s["fd"], s["cml"]


def is_right(s, bars):
    return s[0] >= RIGHT and (not bars or not s[1] < BARS_RIGHT)


def places(truth, item, heard):
    """True bars (index of the first beat, of the next bar's first), the beats missed, and where tempo or bar change."""
    t = truth[:, 0]
    downs = np.flatnonzero(truth[:, 1] == 1)
    bars = [(a, b) for a, b in zip(downs, downs[1:]) if b - a >= 2]
    judged = np.array([t[a] >= 5 and not any(x <= t[a] <= y for x, y in item.get("unjudged", [])) for a, _ in bars], bool)
    missed = np.ones(len(t), bool)
    if len(heard):
        missed = np.array([np.min(np.abs(heard[:, 0] - x)) > .07 for x in t])
        extra = heard[[np.min(np.abs(t - x)) > .07 for x in heard[:, 0]], 0]
    else:
        extra = np.zeros(0)
    wrong = [k for k, (a, b) in enumerate(bars) if judged[k] and (missed[a:b].any() or np.any((extra > t[a]) & (extra < t[b])))]
    changes = []
    gaps = np.diff(t)
    for (a, b), (_, c) in zip(bars, bars[1:]):
        if (abs(np.log(np.median(gaps[a:b]) / np.median(gaps[b:c]))) > .06 and np.all(gaps[a:c] > 0)) or b - a != c - b:
            changes.append(t[b])
    if wrong:
        changes += [t[bars[wrong[0]][0]], t[bars[min(wrong[-1] + 1, len(bars) - 1)][0]]]
    return bars, judged, wrong, sorted(set(np.round(changes, 3)))[:5]


def touches(item, truth, heard):
    rng = np.random.default_rng(zlib.crc32(item["name"].encode()))
    t = truth[:, 0]
    bars, judged, wrong, changes = places(truth, item, heard)
    good = [k for k in range(len(bars)) if judged[k]] or list(range(len(bars)))
    chosen = [wrong[0], wrong[len(wrong) // 2]] if wrong else [good[0], good[len(good) // 2]] if good else []
    clock = lambda s: f"{int(s // 60)}:{s % 60:06.3f}"
    for k in dict.fromkeys(chosen):
        a, b = bars[k]
        taps = t[a:b + 1] + rng.normal(0, SCATTER_S, b + 1 - a)
        yield "tap", ["tap", *map(clock, taps)]
    if bars:
        yield "first", ["first", clock(t[bars[0][0]])]
        yield "bar", ["bar", clock(t[bars[good[len(good) // 2]][0]])]
    for shift in ("+1", "+2", "-1"):
        yield "bar", ["bar", shift]
    rate = 60 / np.median(np.diff(t))
    if len(heard) > 2:
        ratio = rate * np.median(np.diff(heard[:, 0])) / 60
        if ratio < .8:
            yield "half", ["half"]
        if ratio > 1.25:
            yield "double", ["double"]
        if not .8 < ratio < 1.25:
            yield "pulse", ["pulse", f"{rate:.0f}"]
    number = np.bincount([b - a for a, b in bars]).argmax() if bars else 4
    if not len(heard) or number != np.bincount(np.diff(np.flatnonzero(heard[:, 1] == 1)), minlength=9).argmax():
        yield "beats-per-bar", ["beats-per-bar", str(number)]
    for time_s in changes:
        yield "change", ["change", clock(time_s)]


def one(job):
    item, data, binary = job
    truth = accuracy.load_beats(os.path.join(data, item["name"] + ".beats"))
    with tempfile.TemporaryDirectory() as tmp:
        plain, touched = os.path.join(tmp, "m.song.json"), os.path.join(tmp, "t.song.json")
        run(binary, "listen", "--without-beats", os.path.join(data, item["audio"]), "-o", plain)
        if not os.path.exists(plain):
            return dict(item=item, before=(0., 0., 0.), after=[])
        heard = exported(binary, plain, tmp)
        before, after = scores(item, data, heard), []
        if not is_right(before, True):
            os.link(os.path.join(tmp, "m.heard"), os.path.join(tmp, "t.heard"))
            for kind, words in touches(item, truth, heard):
                with open(touched, "wb") as f:
                    f.write(open(plain, "rb").read())
                code, wall, cpu = run(binary, "mark", touched, *words)
                if code == 0:
                    after.append((kind, words, scores(item, data, exported(binary, touched, tmp)), wall, cpu))
                else:
                    after.append((kind, words, before, wall, cpu))
    return dict(item=item, before=before, after=after)


def best(result, bars, kinds=None):
    """The best score that one touch of these kinds gives; the song's own where none helps."""
    options = [(a[2], a[0], a[1]) for a in result["after"] if kinds is None or a[0] in kinds] + [(result["before"], "", [])]
    key = lambda o: (is_right(o[0], bars), o[0][0] + (0 if not bars or np.isnan(o[0][1]) else o[0][1]))
    return max(options, key=key)


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("data"), ap.add_argument("binary")
    ap.add_argument("--jobs", type=int, default=os.cpu_count())
    ap.add_argument("--only", help="names that start so, by commas")
    ap.add_argument("--each", action="store_true", help="every touch of the songs that were not right")
    ap.add_argument("--floor", type=float, help="exit 1 where fewer songs are right (beats) after one touch")
    a = ap.parse_args()
    binary = os.path.abspath(a.binary)
    todo = [i for i in accuracy.items(a.data) if os.path.exists(os.path.join(a.data, i["audio"]))
            and (not a.only or i["name"].startswith(tuple(a.only.split(","))))]
    with ThreadPoolExecutor(a.jobs) as pool:
        results = list(pool.map(one, [(i, a.data, binary) for i in todo]))
    if a.each:
        for r in results:
            if r["after"]:
                print(f"{r['item']['name']:24} heard F {r['before'][0]:.3f} down {r['before'][1]:.3f}"
                      f"   best {best(r, True)[0][0]:.3f} {best(r, True)[0][1]:.3f} by {' '.join(best(r, True)[2])}")
                for kind, words, s, wall, _ in r["after"]:
                    print(f"    {s[0]:.3f} {s[1]:.3f}  {1000 * wall:4.0f} ms  {' '.join(words)}")
        print()
    share = lambda rs, f: f"{100 * np.mean([f(r) for r in rs]):.0f} %"
    print("| class | n | beats right | after one touch | beats and bars right | after one touch | worst after it |")
    print("|---|---|---|---|---|---|---|")
    classes = sorted({r["item"]["cls"] for r in results})
    for label, rs in [(c, [r for r in results if r["item"]["cls"] == c]) for c in classes] + [("**all**", results)]:
        worst = min(rs, key=lambda r: best(r, False)[0][0])
        print(f"| {label} | {len(rs)} | {share(rs, lambda r: is_right(r['before'], False))} | "
              f"{share(rs, lambda r: is_right(best(r, False)[0], False))} | {share(rs, lambda r: is_right(r['before'], True))} | "
              f"{share(rs, lambda r: is_right(best(r, True)[0], True))} | {worst['item']['name']} {best(worst, False)[0][0]:.2f} |")
    kinds = sorted({x[0] for r in results for x in r["after"]})
    print("\n| touch | songs touched | righted (beats) | righted (beats and bars) | wall, median / most, ms | CPU, median / most, ms |\n|---|---|---|---|---|---|")
    for kind in kinds:
        rs = [r for r in results if any(x[0] == kind for x in r["after"])]
        ms = lambda k: [1000 * x[k] for r in rs for x in r["after"] if x[0] == kind]
        unright = [r for r in rs if not is_right(r["before"], False)]
        print(f"| {kind} | {len(rs)} | {sum(is_right(best(r, False, [kind])[0], False) for r in unright)} of {len(unright)} | "
              f"{sum(is_right(best(r, True, [kind])[0], True) for r in rs)} of {len(rs)} | "
              f"{np.median(ms(3)):.0f} / {max(ms(3)):.0f} | {np.median(ms(4)):.0f} / {max(ms(4)):.0f} |")
    righted = float(np.mean([is_right(best(r, False)[0], False) for r in results]))
    if a.floor is not None and righted < a.floor:
        sys.exit(1)


if __name__ == "__main__":
    main()
