"""Finished songs on disk: encoded and tagged, with their truth beside them."""

import subprocess
import tempfile
from pathlib import Path

import numpy as np
import soundfile
from scipy import signal

from .sound import RATE

# How each kind is encoded; every file has to stay under 1.5 MB.
ENCODERS = {
    "mp3": ["-c:a", "libmp3lame", "-abr", "1", "-b:a", "68k", "-joint_stereo", "1", "-ar", "32000", "-id3v2_version", "3"],
    "m4a": ["-c:a", "aac", "-b:a", "88k", "-movflags", "+faststart"],
    "ogg": ["-c:a", "libvorbis", "-q:a", "1.5"],
    "flac": ["-c:a", "flac", "-compression_level", "12", "-sample_fmt", "s16"],
    "wav": ["-c:a", "pcm_s16le"],
}


def encode(audio, path, song, year="2026", rate=RATE, mono=False):
    """Writes a song in the kind that the file's ending names. The same input gives the same bytes."""
    if mono:
        audio = audio.mean(axis=1, keepdims=True)
    if rate != RATE:
        audio = signal.resample_poly(audio, rate, RATE, axis=0)
    audio = np.clip(audio, -1, 1)
    with tempfile.TemporaryDirectory() as folder:
        master = Path(folder) / "master.wav"
        soundfile.write(master, audio, rate, subtype="PCM_24" if path.suffix != ".wav" else "PCM_16")
        tags = {"title": song.title, "artist": song.artist, "album": "Hoofbeat demo", "date": year}
        command = ["ffmpeg", "-nostdin", "-v", "error", "-y", "-i", str(master), "-map_metadata", "-1"]
        command += ["-fflags", "+bitexact", "-flags:a", "+bitexact"]
        for key, value in tags.items():
            command += ["-metadata", f"{key}={value}"]
        subprocess.run(command + ENCODERS[path.suffix[1:]] + [str(path)], check=True)


def decode(path, rate=RATE):
    """A file as FFmpeg decodes it, encoder delay trimmed, mono at `rate`."""
    raw = subprocess.run(
        ["ffmpeg", "-nostdin", "-v", "error", "-i", str(path), "-ac", "1", "-ar", str(rate), "-f", "f32le", "-"],
        check=True, capture_output=True,
    ).stdout
    return np.frombuffer(raw, dtype="<f4").astype(float)


def write_truth(stem, times, bar, phrases):
    """`STEM.beats` (seconds, place in the bar) and `STEM.phrases` (start, end, label, counts).
    `times` are the counts and the end of the last one; `phrases` are (label, start, counts)."""
    with open(stem.with_suffix(".beats"), "w") as out:
        for n, time in enumerate(times[:-1]):
            out.write(f"{time:.3f}\t{n % bar + 1}\n")
    with open(stem.with_suffix(".phrases"), "w") as out:
        for label, start, counts in phrases:
            out.write(f"{times[start]:.3f}\t{times[start + counts]:.3f}\t{label}\t{counts}\n")
