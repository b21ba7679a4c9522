"""Practice audio held against readers that are not ours: librosa's onsets, ffmpeg's loudness, ffprobe's chapters.

    python3 tests/outside/practice.py target/release/hoofbeat

Needs ffmpeg, and from PyPI: numpy, soundfile, librosa.
"""
import json
import os
import re
import subprocess
import sys
import tempfile

import librosa
import numpy as np
import soundfile

HOOFBEAT = os.path.abspath(sys.argv[1])
DEMO = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "..", "demo-audio")
failures = []


def check(holds, words):
    print(("ok    " if holds else "WRONG ") + words)
    if not holds:
        failures.append(words)


def run(*args):
    done = subprocess.run([HOOFBEAT, *args], capture_output=True, text=True)
    if done.returncode != 0:
        sys.exit(f"{args}: {done.stderr}")
    return done.stdout


def onsets(path):
    """Onsets to about half a millisecond, by librosa, moved to where the sound starts."""
    y, rate = soundfile.read(path)
    y = y.mean(axis=1) if y.ndim > 1 else y
    hop = 32
    strength = librosa.onset.onset_strength(y=y, sr=rate, hop_length=hop, n_fft=512, n_mels=24, center=False)
    found = librosa.onset.onset_detect(onset_envelope=strength, sr=rate, hop_length=hop, units="samples", pre_max=100, post_max=100,
                                       pre_avg=150, post_avg=150, delta=.07, wait=200)
    times = []
    for at in found:
        window = np.abs(y[max(at - 1500, 0):at + 1500])
        start = np.argmax(window > .3 * window.max())
        times.append((max(at - 1500, 0) + start) / rate)
    return np.array(times)


with tempfile.TemporaryDirectory() as d:
    os.chdir(d)
    for name in ("lantern-road.mp3", "lantern-road.txt"):
        with open(os.path.join(DEMO, name), "rb") as f:
            open(name, "wb").write(f.read())
    run("listen", "lantern-road.mp3")
    heard = json.load(open("lantern-road.song.json"))["heard"]
    counts = np.array(heard["beats_s"])[heard["first_count_beat"]:]
    for percent in (60, 75, 100, 120):
        told = json.loads(run("practice", "lantern-road.song.json", "--counts", "49-80", "--tempo", str(percent), "--times", "2", "--no-music",
                              "--lead-in", "0", "--json", "--force", "-o", "clicks.wav"))
        found = onsets("clicks.wav")
        grid = np.concatenate([m["at_s"] + (counts[48:80] - counts[48]) / (percent / 100) for m in told["markers"]])
        off = np.array([np.min(abs(found - t)) for t in grid])
        check(len(found) >= 64 and off.max() < .002, f"clicks at {percent} %: {len(found)} onsets for 64 counts, worst {1000 * off.max():.2f} ms (2 ms)")
        run("practice", "lantern-road.song.json", "lantern-road.txt", "--counts", "49-112", "--tempo", str(percent), "--spoken", "--steps", "--calls",
            "--force", "-o", "all.wav")
        y, _ = soundfile.read("all.wav")
        check(abs(y).max() < .95, f"no sample at full scale at {percent} %: {abs(y).max():.3f}")
        report = subprocess.run(["ffmpeg", "-nostats", "-i", "all.wav", "-af", "ebur128=peak=true", "-f", "null", "-"], capture_output=True, text=True).stderr
        loud = float(re.findall(r"I:\s+(-?[\d.]+) LUFS", report)[-1])
        peak = float(re.findall(r"Peak:\s+(-?[\d.]+) dBFS", report)[-1])
        check(-24 < loud < -8 and peak < 0, f"loudness at {percent} %: {loud} LUFS, true peak {peak} dBFS")
    run("practice", "lantern-road.song.json", "lantern-road.txt", "--part", "B", "--tempo", "70,85,100", "--force", "-o", "ladder.wav")
    chapters = json.loads(subprocess.run(["ffprobe", "-v", "error", "-show_chapters", "-of", "json", "ladder.wav"], capture_output=True, text=True).stdout)
    names = [c["tags"]["title"] for c in chapters["chapters"]]
    check(names == ["Part B at 70 %", "Part B at 85 %", "Part B at 100 %"], f"markers as ffprobe reads them: {names}")
    for ending in ("flac", "ogg"):
        run("practice", "lantern-road.song.json", "lantern-road.txt", "--part", "B", "--tempo", "80", "--force", "-o", f"b.{ending}")
        run("practice", "lantern-road.song.json", "lantern-road.txt", "--part", "B", "--tempo", "80", "--force", "-o", "b.wav")
        subprocess.run(["ffmpeg", "-y", "-v", "error", "-i", f"b.{ending}", "-f", "f32le", "-ac", "2", "x.raw"], check=True)
        got, true = np.fromfile("x.raw", dtype="<f4").reshape(-1, 2), soundfile.read("b.wav")[0]
        n = min(len(got), len(true))
        snr = 10 * np.log10(np.sum(true[:n] ** 2) / max(np.sum((got[:n] - true[:n]) ** 2), 1e-12))
        check(len(got) == len(true) and snr > (80 if ending == "flac" else 8), f"{ending} as ffmpeg decodes it: {len(got)} frames of {len(true)}, {snr:.0f} dB")
    # What is stretched stays under its clicks: the attacks of the music against the grid, at 70 % and at full tempo.
    late = {}
    for percent in (100, 70):
        told = json.loads(run("practice", "lantern-road.song.json", "--counts", "49-112", "--tempo", str(percent), "--no-click", "--lead-in", "0",
                              "--json", "--force", "-o", "music.wav"))
        found = onsets("music.wav")
        grid = told["markers"][0]["at_s"] + (counts[48:112] - counts[48]) / (percent / 100)
        near = [found[np.argmin(abs(found - t))] - t for t in grid if np.min(abs(found - t)) < .03]
        late[percent] = np.median(near)
        check(len(near) >= 24, f"{len(near)} of 64 counts have an attack of the music at {percent} %")
    check(abs(late[70] - late[100]) < .003, f"music under its clicks: {1000 * late[100]:+.1f} ms at full tempo, {1000 * late[70]:+.1f} ms at 70 %")
if failures:
    sys.exit(f"{len(failures)} wrong")
print("practice audio: all right")
