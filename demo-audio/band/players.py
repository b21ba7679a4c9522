"""The players: each reads the page and plays it with hands, not with a ruler.

A take holds what was played, by stem. Times are seconds; a player's feel is a small steady lean
against the clock plus a random scatter of a few milliseconds, so that counts stay true on average.
"""

from dataclasses import dataclass

import numpy as np

from .score import SHAPES

# Drum sounds by their General MIDI keys.
KICK, STICK, SNARE, CLAP, SNARE_2 = 36, 37, 38, 39, 40
TOM_LOW, TOM_MID, TOM_HIGH = 45, 47, 50
HAT, HAT_FOOT, HAT_OPEN, CRASH, RIDE, TAMBOURINE, CRASH_2, SHAKER = 42, 44, 46, 49, 51, 54, 57, 70


@dataclass
class Played:
    """A sounding note: start and length in seconds, MIDI pitch, velocity, and a slide into it."""

    start_s: float
    length_s: float
    pitch: int
    velocity: int
    slide: bool = False


class Take:
    """What the band played: a list of notes for each stem."""

    def __init__(self, song, clock, rng):
        self.song, self.clock, self.rng = song, clock, rng
        self.stems = {}

    def hit(self, stem, place, length, pitch, velocity, feel_ms=0.0, scatter_ms=4.0, slide=False):
        """Plays a note at a place for a length (both in counts)."""
        scatter = np.clip(self.rng.normal(0, scatter_ms), -2.2 * scatter_ms, 2.2 * scatter_ms)
        start = self.clock.at(place) + (feel_ms + scatter) / 1000
        end = self.clock.at(place + length) + feel_ms / 1000
        loud = int(np.clip(round(velocity + self.rng.normal(0, 3.5)), 8, 127))
        note = Played(max(start, 0.0), max(end - start, 0.03), pitch, loud, slide)
        self.stems.setdefault(stem, []).append(note)

    # Drums. A groove is a bar in text: one letter a slot, `x` plain, `X` strong, `o` soft, `.` rest.

    def groove(self, stem, pitch, pattern, start, counts, velocity, bar, scatter_ms=3.0, feel_ms=0.0):
        """Repeats a bar's pattern from `start` for `counts`."""
        slots = len(pattern)
        strength = {"x": 1.0, "X": 1.18, "o": 0.55}
        for n in range(int(round(counts / bar * slots))):
            mark = pattern[n % slots]
            if mark != ".":
                place = start + n * bar / slots
                loud = velocity * strength[mark]
                self.hit(stem, place, 0.25, pitch, loud, feel_ms, scatter_ms)

    def fill(self, start, text):
        """A drum fill in quarter counts from `start`: `s` snare, `S` loud, `h m l` toms, `k` kick,
        `c` crash, `.` rest. It swells towards its end."""
        sounds = {"s": SNARE, "S": SNARE, "h": TOM_HIGH, "m": TOM_MID, "l": TOM_LOW, "k": KICK, "c": CRASH}
        for n, mark in enumerate(text):
            if mark in sounds:
                loud = 74 + 34 * n / len(text) + (10 if mark == "S" else 0)
                stem = {"k": "kick", "c": "metal"}.get(mark, "snare")
                self.hit(stem, start + n / 4, 0.25, sounds[mark], loud, 1.0, 3.0)

    # Strings.

    def strum(self, stem, place, length, chord, velocity, up=False, top=None):
        """One stroke over a chord's strings, 9 ms from string to string."""
        strings = SHAPES[chord][-top:] if top else SHAPES[chord]
        strings = strings[::-1] if up else strings
        spread = 6.0 if up else 9.0
        for n, pitch in enumerate(strings):
            lag = (n - 1.0) * spread
            loud = velocity - 2.5 * n + (3 if n == 0 else 0)
            self.hit(stem, place, length, pitch, loud, lag, 1.5)

    def strum_bars(self, stem, start, counts, velocity, pattern, bar):
        """Strums a bar's pattern: `B` bass string, `D` down, `d` soft down, `u` up, `.` let ring."""
        slots = len(pattern)
        each = bar / slots
        for n in range(int(round(counts / each))):
            mark, place = pattern[n % slots], start + n * each
            chord = self.song.chord_at(place)
            ringing = 1
            while pattern[(n + ringing) % slots] == "." and ringing < slots:
                ringing += 1
            hold = ringing * each
            if mark == "B":
                low = SHAPES[chord][0] if (place % bar) < bar / 2 or bar == 3 else SHAPES[chord][1]
                self.hit(stem, place, hold, low, velocity + 4, 0, 3)
            elif mark in "Dd":
                self.strum(stem, place, hold, chord, velocity - (14 if mark == "d" else 0))
            elif mark == "u":
                self.strum(stem, place, hold, chord, velocity - 16, up=True, top=4)

    def roll(self, stem, start, counts, velocity, melody=(), per_count=4):
        """A banjo roll: the tune's notes where they fall, chord tones and the drone in between."""
        picked = {round((t.place) * per_count): t for t in melody}
        order = [1, 2, 5, 3, 2, 5, 3, 1]
        last = None
        for n in range(int(round(counts * per_count))):
            place = start + n / per_count
            shape = [p for p in SHAPES[self.song.chord_at(place)] if p >= 50][-4:]
            drone = 67 if 67 % 12 in {p % 12 for p in shape} | {2, 7} else 69
            if n in picked:
                pitch, loud = picked[n].pitch, velocity + 14
            else:
                finger = order[n % 8]
                pitch = drone if finger == 5 else shape[min(finger, len(shape) - 1)]
                loud = velocity - 12 + (6 if n % per_count == 0 else 0)
                if pitch == last:
                    pitch = shape[0]
            self.hit(stem, place, 1.6 / per_count, pitch, loud, 0, 4)
            last = pitch

    def bass_line(self, stem, start, counts, velocity, pattern):
        """Bass: `r` root, `f` fifth below or above, `w` a step towards the next chord's root,
        `.` let ring; one letter a count."""
        n = 0
        while n < counts:
            mark, place = pattern[n % len(pattern)], start + n
            hold = 1
            while n + hold < counts and pattern[(n + hold) % len(pattern)] == ".":
                hold += 1
            root = self.root(place)
            if mark == "r":
                pitch = root
            elif mark == "f":
                pitch = root + 7 if root + 7 <= 43 else root - 5
            else:
                goal = self.root(place + 1)
                pitch = goal - 1 if goal > root else goal + 2
                if goal == root:
                    pitch = root - 5 if root - 5 >= 28 else root + 7
            if mark != ".":
                self.hit(stem, place, hold * 0.9, pitch, velocity + (5 if n % 4 == 0 else 0), 2, 3)
            n += hold

    def root(self, place):
        """Bass root of the chord at a place, between E1 and D#2."""
        low = SHAPES[self.song.chord_at(place)][0] % 12
        return 28 + (low - 28) % 12

    def pad(self, stem, start, counts, velocity, low=55):
        """Held chords in close position, one chord as long as it lasts."""
        place = start
        while place < start + counts - 1e-9:
            chord, hold = self.song.chord_at(place), 0.5
            while place + hold < start + counts and self.song.chord_at(place + hold) == chord:
                hold += 0.5
            for tone in sorted({low + (p - low) % 12 for p in SHAPES[chord]}):
                self.hit(stem, place, hold * 0.97, tone, velocity, 0, 5)
            place += hold

    # The tune.

    def sing(self, stem, start, tones, velocity, bar, legato=0.93, slides=0.0, feel_ms=3.0, shift=0):
        """Plays a tune with a swell over each four bars, weight on the bar line, and slides into
        some of the longer notes."""
        for tone in tones:
            place = start + tone.place
            along = (tone.place % (4 * bar)) / (4 * bar)
            swell = 9 * np.sin(np.pi * min(along * 1.15, 1.0))
            weight = 6 if tone.place % bar < 1e-6 else (2 if tone.place % 1 < 1e-6 else -4)
            slide = tone.length >= 1 and self.rng.random() < slides
            length = tone.length * (legato if tone.length > 0.3 else 0.9)
            self.hit(stem, place, length, tone.pitch + shift, velocity + swell + weight, feel_ms, 5, slide)

    def chop(self, stem, start, counts, velocity, bar=4, places=(1, 3)):
        """Mandolin chop: short high chords off the bass."""
        for n in range(int(counts)):
            if n % bar in places:
                place = start + n
                tones = sorted({62 + (p - 62) % 12 for p in SHAPES[self.song.chord_at(place)]})[:3]
                for k, pitch in enumerate(tones):
                    self.hit(stem, place, 0.16, pitch, velocity, (k - 1) * 4, 2)
