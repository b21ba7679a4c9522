"""A rendered song played again: by its own band on another night, or by another band.

`second_take`: other instruments of the same sort, another key, a tempo that wanders, applause at both ends.
`cover`: another band. Every part goes to an instrument of another family, the drummer plays a beat of his own, chords are
broken or struck instead of what was played, the bass holds or walks, the tune is ornamented and may stand an octave
elsewhere; any key, 0.8 to 1.25 of the tempo, which wanders too. What is kept is what makes it the same song: form, chords, tune.
"""
import os

import numpy as np

import arrange
import form_songs
import grooves
import render

SR = 22050
FONTS = {"tuning": "/usr/share/sounds/sf2/TimGM6mb.sf2", "apart": "/usr/share/sounds/sf2/sf_GMbank.sf2"}
#: General MIDI programs of one sort, exchanged for one another by the same band.
SWAP = {24: 26, 25: 0, 26: 25, 27: 4, 28: 27, 29: 30, 30: 29, 0: 24, 4: 0, 32: 33, 33: 34, 34: 33, 40: 73, 73: 40, 105: 24, 48: 50, 16: 48}
#: Programs of a family for each role, from which another band takes those of another family.
FAMILIES = {
    "bass": [[32], [33, 34, 36], [38, 39], [58], [43]],
    "comp": [[0, 1, 4, 5], [24, 25, 105], [27, 28, 29], [16, 17, 21], [46, 11, 12]],
    "lead": [[40, 41], [71, 68], [56, 65, 66], [73, 74, 75], [80, 81, 87], [22, 21], [110, 25]],
}
FAMILIES["comp2"], FAMILIES["riff"] = FAMILIES["comp"], FAMILIES["lead"]
FAMILIES["pad"] = [[48, 49, 50], [52, 53], [16, 19], [88, 89, 91]]


def composed(songs, name, facts):
    """The song once more from its seed, as notes; None where it does not come out as it did."""
    if facts["kind"] not in form_songs.KINDS:
        return None
    song, _ = form_songs.from_seed(name, facts["kind"], facts["half"])
    known = sum(1 for _ in open(os.path.join(songs, name + ".beats")))
    return song if len(song.beats) == known else None


def wandering(beats, ratio, rng):
    """Times of the beats at another tempo that wanders by some per cent over half a minute."""
    wander = np.cumsum(rng.normal(0, .006, len(beats)))
    wander = np.clip(wander - np.linspace(0, wander[-1], len(beats)), -.05, .05)
    steps = np.diff(beats) / ratio * (1 + wander[1:])
    return np.concatenate([[beats[0]], beats[0] + np.cumsum(steps)])


def move(song, beats, moved, semis, ratio):
    """Notes to other times and another key."""
    def warp(t):
        if beats[0] <= t <= beats[-1]:
            return float(np.interp(t, beats, moved))
        return t if t < beats[0] else moved[-1] + (t - beats[-1]) / ratio

    for stem in song.stems:
        if stem.role == "drums":
            stem.notes = [(warp(n[0]),) + tuple(n[1:]) for n in stem.notes]
        else:
            stem.notes = [(warp(a), warp(b), p + semis, v) for a, b, p, v in stem.notes]
    song.duration = warp(song.duration)


def second_take(songs, name, facts, rng):
    """(sound, times of its beats, semitones, tempo ratio), or (None, ...) where it cannot be made."""
    song = composed(songs, name, facts)
    if song is None:
        return None, None, 0, 1.0
    beats = np.array([t for t, _ in song.beats])
    semis, ratio = int(rng.integers(-3, 4)), float(rng.uniform(.88, 1.12))
    moved = wandering(beats, ratio, rng)
    for stem in song.stems:
        if stem.sound[0] == "sf":
            stem.sound = ("sf", SWAP.get(stem.sound[1], (stem.sound[1] + 2) % 8 + stem.sound[1] // 8 * 8))
    move(song, beats, moved, semis, ratio)
    y = np.asarray(render.mix(song, rng, SR, [("tiny", FONTS[facts["half"]])], rough=.6), dtype=float)
    at = np.arange(len(y)) / SR
    clap = np.interp(at, [0, 3, 6, song.duration - 6, song.duration - 3, song.duration], [1, 1, 0, 0, 1, 1])
    return y + rng.normal(0, .05, len(y)) * np.clip(clap, 0, 1), moved, semis, ratio


# ---------------------------------------------------------------- another band

def cover(songs, name, facts, rng):
    """As `second_take`, by another band."""
    song = composed(songs, name, facts)
    if song is None:
        return None, None, 0, 1.0
    beats = np.array([t for t, _ in song.beats])
    semis = int(rng.integers(-5, 7))
    ratio = float(rng.choice([rng.uniform(.8, .95), rng.uniform(1.05, 1.25)]))
    drums_heard = any(stem.role == "drums" for stem in song.stems)
    for stem in song.stems:
        if stem.role == "drums":
            stem.sound, stem.notes = ("kit",), own_beat(song, stem.notes, rng)
        else:
            stem.sound = another_family(stem, rng)
            stem.notes = {"bass": own_bass, "comp": own_chords, "comp2": own_chords}.get(stem.role, own_tune)(beats, stem.notes, rng)
    if not drums_heard and rng.uniform() < .5:
        song.stems.append(arrange.Stem("drums", ("kit",), own_beat(song, [(t, "kick", .8) for t in beats], rng)))
    moved = wandering(beats, ratio, rng)
    move(song, beats, moved, semis, ratio)
    song.talk = []
    y = render.mix(song, rng, SR, [("tiny", FONTS[facts["half"]])], rough=.8)
    return np.asarray(y, dtype=float), moved, semis, ratio


def another_family(stem, rng):
    families = FAMILIES[stem.role]
    now = stem.sound[1] if stem.sound[0] == "sf" else None
    others = [f for f in families if now not in f]
    return ("sf", int(rng.choice(others[int(rng.integers(len(others)))])))


def own_beat(song, notes, rng):
    """Another beat in every bar in which drums are heard."""
    lines = [(t, i) for i, (t, place) in enumerate(song.beats) if place == 1]
    per_bar = max(set(p for _, p in song.beats))
    sub = 3 if song.style in ("shuffle", "swing", "jigband", "six8", "slow12", "jazzwaltz") else 4
    feel = str(rng.choice(grooves.feels(per_bar, sub)))
    pattern = grooves.groove(feel, per_bar, sub, rng)
    hit = np.array(sorted(n[0] for n in notes))
    times = [t for t, _ in song.beats]
    out = []
    for (start, i), (end, j) in zip(lines, lines[1:] + [(times[-1], len(times) - 1)]):
        if not np.any((hit >= start - .01) & (hit < end - .01)) or j <= i:
            continue
        for at, drum, v in pattern:
            if at < j - i:
                k = i + int(at)
                period = times[k + 1] - times[k] if k + 1 < len(times) else .5
                out.append((times[k] + (at - int(at)) * period, drum, v))
    return out


def sounding(beats, notes):
    """Of each beat: (start, end, [pitches that sound or start in it], loudness)."""
    ends = np.append(beats[1:], beats[-1] + (beats[-1] - beats[-2]))
    out = []
    for a, b in zip(beats, ends):
        here = [n for n in notes if n[0] < b - .03 and n[1] > a + .03]
        if here:
            out.append((a, b, sorted({n[2] for n in here}), max(n[3] for n in here)))
    return out


def own_bass(beats, notes, rng):
    """The lowest of each beat, held, or struck twice."""
    twice = rng.uniform() < .5
    out = []
    for a, b, pitches, v in sounding(beats, notes):
        for k in range(1 + twice):
            half = (b - a) / (1 + twice)
            out.append((a + k * half, a + (k + .9) * half, pitches[0], v))
    return out


def own_chords(beats, notes, rng):
    """The chord of each beat, broken into four or struck on the off-beat or on the beat, an inversion away."""
    way = str(rng.choice(["broken", "struck", "off"]))
    up = int(rng.integers(0, 3))
    out = []
    for a, b, pitches, v in sounding(beats, notes):
        chord = sorted(p + 12 if i < up else p for i, p in enumerate(pitches[:4]))
        if way == "broken":
            quarter = (b - a) / 4
            out += [(a + k * quarter, a + (k + .9) * quarter, chord[k % len(chord)], v) for k in range(4)]
        else:
            start = a if way == "struck" else (a + b) / 2
            out += [(start, b - .02, p, v) for p in chord]
    return out


def own_tune(beats, notes, rng):
    """The same tune, an octave elsewhere or not, some notes left out, some begun late, some with a grace note."""
    octave = int(rng.choice([-12, 0, 0, 12]))
    period = float(np.median(np.diff(beats)))
    out = []
    for a, b, p, v in notes:
        if rng.uniform() < .08:
            continue
        late = rng.uniform(0, .12) * period if rng.uniform() < .2 else 0
        if rng.uniform() < .1:
            out.append((a - .06, a, p + octave + int(rng.choice([-2, 2])), .7 * v))
        out.append((a + min(late, .5 * (b - a)), b, p + octave, v))
    return out
