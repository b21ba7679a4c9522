"""What is written on the page: tunes, chords, the form, and the clock that the band plays to.

Places in a song are counts from count 1: place 0.0 is count 1, place 0.5 lies half a count later.
"""

import re
from dataclasses import dataclass, field

import numpy as np

NOTE = re.compile(r"([_^=]?)([A-Ga-gz])([,']*)(\d*)")
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARPS = {"C": "", "G": "F", "D": "FC", "A": "FCG"}

# Guitar shapes as a player would hold them, low string first (MIDI notes).
SHAPES = {
    "G": [43, 47, 50, 55, 59, 67],
    "C": [48, 52, 55, 60, 64],
    "D": [50, 57, 62, 66],
    "D/F#": [42, 50, 57, 62, 66],
    "D7": [50, 57, 60, 66],
    "Em": [40, 47, 52, 55, 59, 64],
    "Am": [45, 52, 57, 60, 64],
    "A": [45, 52, 57, 61, 64],
    "A7": [45, 52, 55, 61, 64],
    "Bm": [47, 54, 59, 62, 66],
}


@dataclass
class Tone:
    """A written note: place and length in counts, pitch as a MIDI number."""

    place: float
    length: float
    pitch: int


def tune(text, key, unit):
    """Reads a tune in letters: `C`-`B` from middle C, `c`-`b` an octave up, `'` and `,` shift by
    octaves, `z` is a rest, a number lengthens, `^ _ =` alter one note. `unit` is the length of a
    plain letter in counts. Returns the tones and the whole length in counts."""
    tones, place = [], 0.0
    for bar in text.split("|"):
        for accidental, letter, octave, number in NOTE.findall(bar):
            length = unit * int(number or 1)
            if letter != "z":
                pitch = 60 + SEMITONES[letter.upper()]
                pitch += 12 * (letter.islower() + octave.count("'") - octave.count(","))
                if accidental:
                    pitch += {"^": 1, "_": -1, "=": 0}[accidental]
                elif letter.upper() in SHARPS[key]:
                    pitch += 1
                tones.append(Tone(place, length, pitch))
            place += length
    return tones, place


def third_below(tones, key):
    """The same tune a third lower in the scale: the second fiddle."""
    scale = sorted((SEMITONES[n] + (n in SHARPS[key])) % 12 for n in SEMITONES)
    lower = []
    for tone in tones:
        pitch, steps = tone.pitch, 0
        while steps < 2:
            pitch -= 1
            steps += pitch % 12 in scale
        lower.append(Tone(tone.place, tone.length, pitch))
    return lower


@dataclass
class Section:
    """A phrase of the song: label, its first place, its counts, and a chord for each bar."""

    label: str
    start: int
    counts: int
    chords: list


@dataclass
class Song:
    """The page in front of the band."""

    name: str
    title: str
    artist: str
    key: str
    bar: int  # counts to the bar
    sections: list = field(default_factory=list)

    def add(self, label, chords, counts_each=None):
        """Puts a section behind the last one. `chords` are names parted by spaces, each lasting
        `counts_each` counts (a bar unless said otherwise)."""
        each = counts_each or self.bar
        names = chords.split()
        section = Section(label, self.counts, len(names) * each, [(n, each) for n in names])
        self.sections.append(section)
        return section

    @property
    def counts(self):
        """Counts from count 1 to the end of the last section."""
        return sum(s.counts for s in self.sections)

    def named(self, label):
        """Sections of that label in order."""
        return [s for s in self.sections if s.label == label]

    def chord_at(self, place):
        """Name of the chord that sounds at a place; before count 1 the first, at the end the last."""
        for section in self.sections:
            at = section.start
            for name, length in section.chords:
                at += length
                if place < at - 1e-9:
                    return name
        return self.sections[-1].chords[-1][0]


class Clock:
    """When each count falls: a steady band that leans a little into choruses and back out.

    `count_1_s` is where count 1 falls, `tempo` the counts a minute, `lean` maps a place to a factor
    on the tempo (1.01 is one in a hundred faster), `wander` the depth of the slow random drift.
    """

    def __init__(self, counts, count_1_s, tempo, lean, wander, rng):
        steps = counts + 16
        slow = rng.standard_normal(steps + 24)
        slow = np.convolve(slow, np.hanning(25) / np.sqrt((np.hanning(25) ** 2).sum()), "valid")
        factors = np.array([lean(place) for place in range(steps)])
        kernel = np.hanning(9) / np.hanning(9).sum()
        factors = np.convolve(np.pad(factors, 4, mode="edge"), kernel, "valid")
        periods = 60.0 / (tempo * factors * (1 + wander * slow[:steps]))
        self.times = count_1_s + np.concatenate([[0.0], np.cumsum(periods)])

    def pin(self, place, time_s):
        """Scales the tempo of the whole song so that `place` falls on `time_s`."""
        start = self.times[0]
        self.times = start + (self.times - start) * (time_s - start) / (self.times[place] - start)

    def at(self, place):
        """Seconds at a place, going on at the nearest tempo before count 1 and after the end."""
        last = len(self.times) - 2
        step = int(np.clip(np.floor(place), 0, last))
        return self.times[step] + (place - step) * (self.times[step + 1] - self.times[step])
