#!/usr/bin/env python3
"""Checks the demo songs against their masters and against tools that are not ours.

    python3 make.py --masters DIR && python3 check.py DIR

For each song: size; loudness and true peak by FFmpeg's ebur128; the lag of the decoded file against
its master at nine places, by cross-correlation; how far the kick drum's attacks lie from the truth;
drift of the tempo; and how librosa's beat tracker scores by mir_eval's F-measure (70 ms).
"""

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import soundfile
from scipy import signal

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))
from band.files import decode  # noqa: E402

RATE = 44100
KINDS = {".mp3", ".m4a", ".ogg", ".flac", ".wav"}


def lags_ms(decoded, master, places=9):
    """Lag of the decoded file at places along the song, in milliseconds (positive: it is late)."""
    lags, half, reach = [], RATE, 2205
    length = min(len(decoded), len(master))
    for centre in np.linspace(2 * half, length - 2 * half, places).astype(int):
        a = decoded[centre - half : centre + half]
        b = master[centre - half - reach : centre + half + reach]
        c = signal.fftconvolve(b, a[::-1], "valid")
        k = int(np.argmax(c))
        if 0 < k < len(c) - 1:
            y0, y1, y2 = c[k - 1 : k + 2]
            lags.append((reach - (k + 0.5 * (y0 - y2) / (y0 - 2 * y1 + y2))) / RATE * 1000)
    return np.array(lags)


def kick_from_truth_ms(kick, beats):
    """For each beat with a kick drum on it: how far the kick's attack lies from the truth, in
    milliseconds. The attack is where the drum alone first passes a tenth of its peak."""
    out, size = [], np.abs(kick)
    loud = 0.3 * np.percentile(size[size > 0.02 * size.max()], 99)
    for beat in beats:
        start = int((beat - 0.03) * RATE)
        near = size[max(start, 0) : start + int(0.07 * RATE)]
        if len(near) and near.max() > loud and near[: int(0.01 * RATE)].max() < 0.1 * near.max():
            out.append((start + np.argmax(near > 0.1 * near.max())) / RATE * 1000 - beat * 1000)
    return np.array(out)


def ebur128(path):
    """Integrated loudness (LUFS), loudness range (LU) and true peak (dBTP) by FFmpeg."""
    text = subprocess.run(
        ["ffmpeg", "-nostdin", "-hide_banner", "-nostats", "-i", str(path), "-af", "ebur128=peak=true", "-f", "null", "-"],
        capture_output=True, text=True, check=True).stderr
    tail = text[text.rindex("Summary:"):]
    return [float(re.search(rf"{key}:\s+(-?[\d.]+)", tail)[1]) for key in ("I", "LRA", "Peak")]


def main():
    masters = Path(sys.argv[1])
    for path in sorted(p for p in HERE.iterdir() if p.suffix in KINDS):
        beats = np.loadtxt(path.with_suffix(".beats"))
        times = beats[:, 0]
        decoded = decode(path)
        master = soundfile.read(masters / f"{path.stem}.wav", always_2d=True)[0].mean(axis=1)
        lag = lags_ms(decoded, master)
        kick = soundfile.read(masters / f"{path.stem}.kick.wav", always_2d=True)[0].mean(axis=1)
        low = kick_from_truth_ms(kick, times)
        tempo = 60 / np.diff(times)
        loud, spread, peak = ebur128(path)
        print(f"{path.name}: {path.stat().st_size} bytes, {len(decoded) / RATE:.2f} s "
              f"(master {len(master) / RATE:.2f})")
        print(f"  {loud} LUFS, range {spread} LU, true peak {peak} dB")
        print(f"  lag against master: {np.round(lag, 2)} ms")
        print(f"  kick on {len(low)} of {len(times)} counts, from the truth: median {np.median(low):+.1f} ms, "
              f"middle 80 % {np.percentile(low, 10):+.1f} to {np.percentile(low, 90):+.1f}")
        print(f"  tempo {60 * (len(times) - 1) / (times[-1] - times[0]):.2f}, "
              f"slowest {tempo.min():.1f}, fastest {tempo.max():.1f}")
        try:
            import librosa
            import mir_eval
        except ImportError:
            continue
        found_bpm, found = librosa.beat.beat_track(y=decoded.astype("f4"), sr=RATE, units="time")
        score = mir_eval.beat.f_measure(mir_eval.beat.trim_beats(times), mir_eval.beat.trim_beats(found))
        cml, aml = mir_eval.beat.continuity(times, found)[1::2]
        print(f"  librosa: {float(np.squeeze(found_bpm)):.1f} a minute, F {score:.3f}, CMLt {cml:.3f}, AMLt {aml:.3f}")


if __name__ == "__main__":
    main()
