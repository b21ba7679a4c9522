"""Recorded songs with a synchronised tempo map, from Debian's fretsonfire-songs-muldjord (CC BY-SA 3.0).

    python3 make_recorded.py OUT dev|held

Four songs by one band, played to a fixed tempo: two go to each half. Mix and guitar are added; beats and bars come
from notes.mid. The map counts the quarter note (170 to 190 a minute, bars of 4).
"""
import json
import os
import subprocess
import sys

import mido

SONGS = "/usr/share/games/fretsonfire/data/songs/muldjord"
HALVES = {"dev": ["chaos_god", "mutilated_mime"], "held": ["armygeddon", "internal_degeneration"]}


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


def main():
    out = os.path.join(sys.argv[1], sys.argv[2])
    os.makedirs(out, exist_ok=True)
    with open(os.path.join(out, "items_recorded.jsonl"), "w") as index:
        for song in HALVES[sys.argv[2]]:
            src, name = os.path.join(SONGS, song), f"recorded_{song}"
            subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", f"{src}/song.ogg", "-i", f"{src}/guitar.ogg", "-filter_complex",
                            "amix=inputs=2:duration=longest:normalize=0,volume=0.7", "-c:a", "libvorbis", "-q:a", "5",
                            f"{out}/{name}.ogg"], check=True)
            beats = grid(f"{src}/notes.mid")
            with open(f"{out}/{name}.beats", "w") as f:
                f.writelines(f"{t:.4f}\t{p}\n" for t, p in beats)
            index.write(json.dumps(dict(name=name, audio=f"{name}.ogg", cls="recorded", style="metal", unjudged=[])) + "\n")


main()
