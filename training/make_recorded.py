"""Recorded songs with a synchronised tempo map, from two Debian packages of songs for a rhythm game.

    python3 make_recorded.py OUT dev|held [--songs /usr/share/games/fretsonfire/data/songs]
    python3 make_recorded.py OUT cuts            all eight as songs for cuts_stream.py --songs OUT

fretsonfire-songs-muldjord (CC BY-SA 3.0; four songs by one band) and fretsonfire-songs-sectoid (MIT; four songs by one
musician), all played to a fixed tempo; two of each go to each half. Mix and guitar are added; beats come from notes.mid, which
counts the quarter note in bars of 4 throughout. Phrases are not charted: for cuts, songs are divided into 32 counts each, from the
first bar that sounds, a phrase of its own name each.
"""
import argparse
import json
import os
import subprocess

import mido
import numpy as np
import soundfile

HALVES = {"dev": ["muldjord/chaos_god", "muldjord/mutilated_mime", "sectoid/Metal madness", "sectoid/Feelings"],
          "held": ["muldjord/armygeddon", "muldjord/internal_degeneration", "sectoid/Escape from chaosland", "sectoid/War of freedom"]}


def grid(path):
    """(seconds, place in bar) of every quarter note of the tempo map, to the last note."""
    midi = mido.MidiFile(path)
    events, last = [], 0
    for track in midi.tracks:
        t = 0
        for m in track:
            t += m.time
            if m.type in ("set_tempo", "time_signature"):
                events.append((t, m))
            if m.type == "note_on":
                last = max(last, t)
    events.sort(key=lambda e: e[0])
    tempo, bar, out = 500000, 4, []
    tick, sec, place, i = 0, 0.0, 0, 0
    while tick <= last:
        while i < len(events) and events[i][0] <= tick:
            m = events[i][1]
            if m.type == "set_tempo":
                tempo = m.tempo
            else:
                bar, place = m.numerator, 0
            i += 1
        out.append((sec, place + 1))
        place = (place + 1) % bar
        tick += midi.ticks_per_beat
        sec += tempo / 1e6
    return out


def sound_to(src, out, *options):
    subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", f"{src}/song.ogg", "-i", f"{src}/guitar.ogg", "-filter_complex",
                    "amix=inputs=2:duration=longest:normalize=0,volume=0.7", *options, out], check=True)


def song_for_cuts(out, song, src, half):
    """Sound, beats and phrases as form_songs.py writes them."""
    base = os.path.join(out, "recorded-" + song.split("/")[1].lower().replace(" ", "-").replace("_", "-"))
    sound_to(src, base + ".wav", "-ac", "1", "-ar", "22050")
    x, sr = soundfile.read(base + ".wav")
    loud = abs(x) > .05 * abs(x).max()
    starts_s, ends_s = np.argmax(loud) / sr, (len(x) - np.argmax(loud[::-1])) / sr
    beats = [(t, p) for t, p in grid(f"{src}/notes.mid") if t < ends_s]
    first = next(i for i, (t, p) in enumerate(beats) if p == 1 and t > starts_s - .1)
    beats = beats[first:]
    phrases = [(beats[i][0], f"part {k + 1}") for k, i in enumerate(range(0, len(beats) - 32, 32))]
    phrases.append((beats[32 * len(phrases)][0], "end"))
    with open(base + ".beats", "w") as f:
        f.writelines(f"{t:.4f}\t{p}\n" for t, p in beats)
    with open(base + ".phrases", "w") as f:
        f.writelines(f"{t:.4f}\t{label}\n" for t, label in phrases)
    json.dump(dict(kind="recorded", half=half, seconds=len(x) / sr), open(base + ".json", "w"))


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out"), ap.add_argument("half", choices=list(HALVES) + ["cuts"])
    ap.add_argument("--songs", default="/usr/share/games/fretsonfire/data/songs")
    a = ap.parse_args()
    if a.half == "cuts":
        os.makedirs(a.out, exist_ok=True)
        for half, songs in HALVES.items():
            for song in songs:
                song_for_cuts(a.out, song, os.path.join(a.songs, song), {"dev": "tuning", "held": "apart"}[half])
        return
    out = os.path.join(a.out, a.half)
    os.makedirs(out, exist_ok=True)
    with open(os.path.join(out, "items_recorded.jsonl"), "w") as index:
        for song in HALVES[a.half]:
            src = os.path.join(a.songs, song)
            if not os.path.isdir(src):
                print("not installed:", song)
                continue
            name = "recorded_" + song.split("/")[1].lower().replace(" ", "_")
            sound_to(src, f"{out}/{name}.ogg", "-c:a", "libvorbis", "-q:a", "5")
            beats = grid(f"{src}/notes.mid")
            with open(f"{out}/{name}.beats", "w") as f:
                f.writelines(f"{t:.4f}\t{p}\n" for t, p in beats)
            index.write(json.dumps(dict(name=name, audio=f"{name}.ogg", cls="recorded", style="metal", unjudged=[])) + "\n")


main()
