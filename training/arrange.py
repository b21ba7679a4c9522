"""The arranger: invents a song, or sets a published tune, and knows where every beat and bar line is.

Music is written in beats (floats; 0 is the first bar line) and turned into seconds by a tempo map. A song holds
stems of notes in seconds, and the truth: beat times, places in the bar, phrases, and spans that are left unjudged.
"""
from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

import grooves

MAJOR, MINOR = [0, 2, 4, 5, 7, 9, 11], [0, 2, 3, 5, 7, 8, 10]
DORIAN, MIXO = [0, 2, 3, 5, 7, 9, 10], [0, 2, 4, 5, 7, 9, 10]

PROGRESSIONS = [  # scale degrees (0-based), one a bar
    [0, 4, 5, 3], [5, 3, 0, 4], [0, 3, 4, 4], [0, 0, 3, 4], [0, 5, 3, 4], [0, 3, 0, 4], [0, 0, 4, 4], [0, 4, 3, 3],
    [0, 0, 0, 0, 3, 3, 0, 0, 4, 3, 0, 4], [0, 0, 3, 3, 4, 4, 0, 0], [0, 3, 5, 4], [1, 4, 0, 0], [0, 5, 1, 4],
    [0, 6, 3, 0], [0, 6, 5, 6], [0, 2, 3, 4], [3, 4, 0, 5], [0, 0, 0, 4, 4, 4, 4, 0], [0, 4, 5, 2, 3, 0, 3, 4],
    [0, 0, 0, 0], [0, 6, 0, 6], [0, 3], [0, 4], [0, 0, 0, 4], [5, 5, 3, 3, 0, 0, 4, 4], [3, 0, 4, 5],
]

LEADS = [40, 40, 110, 110, 73, 75, 78, 21, 22, 105, 105, 24, 25, 0, 65, 66, 56, 71, 80, 81, 82, 52, 53, 54, 27, 29, 30,
         109, 11, 12, 68, 16, 48, 15, 107, 41, 42, 64, 57, 72, 74, 26]
COMPS = [0, 0, 0, 1, 2, 4, 5, 24, 24, 25, 25, 25, 26, 27, 28, 16, 18, 19, 105, 29, 30, 48, 50, 6, 7, 21, 46, 104, 106, 3, 45]
PADS = [48, 49, 50, 51, 88, 89, 90, 91, 92, 94, 16, 19, 52, 53, 61, 95]
BASSES = [32, 32, 33, 33, 33, 34, 35, 36, 37, 38, 38, 39, 43, 58, 87]
KITS = [0, 0, 0, 8, 16, 24, 25, 32, 40]


@dataclass
class Stem:
    role: str
    sound: tuple                     # ("sf", program) | ("kit",) | ("sfkit", program) | ("voice", kind)
    notes: list = field(default_factory=list)     # pitched: (on, off, midi, v); drums: (on, name, v); seconds
    gain: float = 1.0


@dataclass
class Song:
    style: str
    beats: list = field(default_factory=list)        # (seconds, place in bar from 1)
    phrases: list = field(default_factory=list)      # (seconds, label)
    unjudged: list = field(default_factory=list)     # (start, end) seconds
    stems: list = field(default_factory=list)
    duration: float = 0.0
    talk: list = field(default_factory=list)         # (start, end, kind) non-music
    fade: float | None = None
    meta: dict = field(default_factory=dict)


# ---------------------------------------------------------------- styles

def style(meter=(4, 4), bpm=(80, 140), swing=0, drums=.95, feel=None, lead=.85, bass=.92, comp=.9, pad=.3, riff=.3, **kw):
    return dict(meter=meter, bpm=bpm, swing=swing, drums=drums, feel=feel, lead=lead, bass=bass, comp=comp, pad=pad,
                riff=riff, **kw)


STYLES = {
    "rock": style(bpm=(92, 176), feel=["rock", "rock", "rock", "motown", "funk", "break", "tribal"]),
    "pop": style(bpm=(84, 136), feel=["rock", "four", "sidestick", "stomp", "disco", "funk", "clapsonly", "dembow"], pad=.6),
    "country": style(bpm=(84, 168), feel=["twostep", "twostep", "train", "rock", "brushes"]),
    "train": style(meter=(2, 4), bpm=(96, 140), feel=["train2", "train2", "chop", "twostep2", "polka"], pad=.05),
    "bluegrass": style(meter=(2, 4), bpm=(100, 142), drums=.12, feel=["chop"], pad=0, comp=1, bass=.95, chop=True),
    "swing": style(meter=(4, 3), bpm=(92, 190), feel=["swing", "swing", "swingbrush", "bluesride"], walk=True),
    "shuffle": style(meter=(4, 3), bpm=(82, 150), feel=["shuffle", "shuffle", "gospelclap", "halfshuffle"]),
    "swing16": style(bpm=(78, 112), swing=16, feel=["rock", "funk", "half", "break"]),
    "slow12": style(meter=(4, 3), bpm=(54, 92), feel=["slow12"], pad=.5),
    "six8": style(meter=(2, 3), bpm=(46, 96), feel=["rock6", "shaker6", "kick6"], pad=.5),
    "jigband": style(meter=(2, 3), bpm=(98, 138), feel=["bodhran", "rock6", "march6", "kick6"]),
    "reelband": style(meter=(2, 4), bpm=(92, 132), feel=["bodhran2", "polka", "train2", "twostep2", "kick2", "stompclap2"]),
    "waltz": style(meter=(3, 4), bpm=(80, 190), pad=.35, drums=.75),
    "jazzwaltz": style(meter=(3, 3), bpm=(110, 190), feel=["waltzride", "brush3"], drums=.8),
    "ballad": style(bpm=(60, 84), drums=0, pad=.6, comp=1, lead=.95),
    "slowband": style(bpm=(56, 82), feel=["rock", "sidestick", "half", "brushes"], pad=.6),
    "halfdouble": style(bpm=(80, 160), feel=["rock"], sections=["half", "double", "rock", "four"]),
    "edm": style(bpm=(112, 150), feel=["four", "four", "offhat", "disco"], pad=.7, steadyonly=True, synths=.8),
    "hiphop": style(bpm=(72, 104), feel=["funk", "break", "half", "dembow", "rock"], pad=.4, steadyonly=True),
    "reggae": style(bpm=(66, 100), feel=["onedrop", "onedrop", "steppers"], skank=True),
    "latin": style(bpm=(84, 132), feel=["latin", "dembow"]),
    "punk": style(bpm=(140, 196), feel=["rock", "double", "four"]),
    "metal": style(bpm=(108, 200), feel=grooves.METAL, sections=grooves.METAL, chug=True, lead=.5, riff=.6, pad=.1),
    "march": style(bpm=(96, 132), feel=["march", "kickonly"], lead=1),
    "odd5": style(meter=(5, 4), bpm=(90, 180), feel=["odd"]),
    "six4": style(meter=(6, 4), bpm=(90, 180), feel=["odd"]),
    "voices": style(bpm=(66, 120), drums=0, bass=.3, comp=.3, pad=.4, lead=1, sung=True),
    "solo": style(bpm=(66, 132), drums=0, bass=0, comp=.15, pad=0, lead=1, riff=0),
    "pianosolo": style(bpm=(66, 132), drums=0, bass=1, comp=1, pad=0, lead=.9, riff=0, onlypiano=True),
    "fingerstyle": style(bpm=(66, 126), drums=0, bass=1, comp=1, pad=0, lead=.7, riff=0, onlyguitar=True),
}

TRAIN_WEIGHTS = {
    "rock": 9, "pop": 8, "country": 7, "train": 5, "bluegrass": 5, "swing": 6, "shuffle": 5, "swing16": 3, "slow12": 6,
    "six8": 5, "jigband": 5, "reelband": 5, "waltz": 7, "jazzwaltz": 2, "ballad": 7, "slowband": 8, "halfdouble": 6,
    "edm": 5, "hiphop": 5, "reggae": 2, "latin": 2, "punk": 4, "metal": 9, "march": 2, "odd5": 1, "six4": 1, "voices": 5, "solo": 4,
    "pianosolo": 6, "fingerstyle": 5,
}


# ---------------------------------------------------------------- tempo

def tempo_map(rng, n_beats, bpm, shape, changes=(), real=None):
    """Seconds of beats 0..n_beats. `changes`: (beat, new ratio). `shape`: steady, human, drift, real, rit, accel."""
    period = np.full(n_beats + 1, 60.0 / bpm)
    x = np.arange(n_beats + 1)
    if "human" in shape:
        period *= 1 + np.cumsum(rng.standard_normal(n_beats + 1)) * .0015
        period *= 1 + .004 * rng.standard_normal(n_beats + 1)
    if "drift" in shape:
        knots = max(3, n_beats // int(rng.integers(8, 40)) + 2)
        curve = rng.uniform(-.06, .06, knots)
        period *= 1 + np.interp(x, np.linspace(0, n_beats, knots), curve)
        period *= 1 + .006 * rng.standard_normal(n_beats + 1)
    if "real" in shape and real is not None:
        ratio = np.resize(real, n_beats + 1)
        period *= ratio
    if "accel" in shape:
        period /= 1 + rng.uniform(.1, .35) * (x / n_beats)
    for beat, ratio in changes:
        period[beat:] = period[beat:] / ratio
    if "rit" in shape:
        k = int(rng.integers(6, 17))
        period[-k:] *= 1 + np.linspace(0, rng.uniform(.25, .9), k) ** 1.5
    return np.concatenate([[0], np.cumsum(period[:-1])])


def real_drift(song, n_min=64):
    """Beat-to-beat ratios of a song tapped by people, around its own running tempo."""
    b = np.diff(np.asarray(song["beats_s"]))
    if len(b) < n_min:
        return None
    r = b / np.median(b)
    r = r[(r > .8) & (r < 1.25)]
    return r if len(r) >= n_min else None


def swing_warp(frac, kind, ratio):
    if kind == 8:
        return np.where(frac < .5, frac * 2 * ratio, ratio + (frac - .5) * 2 * (1 - ratio))
    if kind == 16:
        half = np.floor(frac * 2) / 2
        f = (frac - half) * 2
        return half + .5 * np.where(f < .5, f * 2 * ratio, ratio + (f - .5) * 2 * (1 - ratio))
    return frac


class Score:
    """Collects notes in beats; turns them into seconds."""

    def __init__(self, rng):
        self.rng = rng
        self.stems = {}

    def stem(self, role, sound, gain=1.0):
        key = (role, tuple(sound))
        if key not in self.stems:
            self.stems[key] = (Stem(role, sound, [], gain), [])
        return self.stems[key][1]

    def realise(self, times, swing=(0, .5), tight=1.0):
        rng = self.rng
        idx = np.arange(len(times))
        period0, period1 = times[1] - times[0], times[-1] - times[-2]

        def sec(b):
            b = np.asarray(b, float)
            fl = np.floor(b + 1e-9)
            fr = np.clip(b - fl, 0, 1)
            b = fl + swing_warp(fr, *swing)
            t = np.interp(b, idx, times)
            t = np.where(b < 0, times[0] + b * period0, t)
            return np.where(b > idx[-1], times[-1] + (b - idx[-1]) * period1, t)

        stems = []
        for stem, notes in self.stems.values():
            if not notes:
                continue
            drums = len(notes[0]) == 3
            sd = rng.uniform(.0005, .006 if drums else .012) * tight
            lag = (0 if drums else rng.normal(0, .004)) * tight
            on = sec([n[0] for n in notes]) + lag + rng.normal(0, sd, len(notes))
            vel = rng.normal(1, .07, len(notes))
            if drums:
                stem.notes = [(float(t), n[1], float(np.clip(n[2] * v, .05, 1))) for t, n, v in zip(on, notes, vel)]
            else:
                off = sec([n[0] + n[1] for n in notes]) + lag
                stem.notes = [(float(t), float(max(o, t + .04)), int(n[2]), float(np.clip(n[3] * v, .05, 1)))
                              for t, o, n, v in zip(on, off, notes, vel)]
            stems.append(stem)
        return stems, sec


# ---------------------------------------------------------------- parts

def degree_pitch(scale, tonic, degree, octave):
    return tonic + 12 * octave + scale[degree % 7] + 12 * (degree // 7)


def chord_pitches(scale, tonic, degree, low, seventh=False):
    ps = [degree_pitch(scale, tonic, degree + k, 0) for k in ((0, 2, 4, 6) if seventh else (0, 2, 4))]
    return [low + (p - low) % 12 for p in ps]


def rhythm_cell(rng, beats, sub, density, synco, off_one=False):
    """Steps on which a tune's notes start in one bar."""
    n = beats * sub
    steps = []
    for s in range(n):
        if s % sub == 0:
            w = 1.0 if s == 0 else .85
        elif sub == 4 and s % 2 == 0 or sub == 3 and s % 3 == 2:
            w = .6 + .4 * synco
        else:
            w = .15 + .5 * synco
        if s % sub == 0 and rng.uniform() < synco * .6:
            w *= .3
        if rng.uniform() < w * density:
            steps.append(s)
    if off_one and 0 in steps:
        steps.remove(0)
    return steps or [0 if not off_one else sub // 2]


def write_melody(rng, out, bars, chords, scale, tonic, register, density, synco, sub, legato, accent=.1):
    """Melody over bars [(start beat, beats)]: two-bar motifs repeated and varied, breaths, pickups."""
    motif = {}
    degree = int(rng.integers(0, 7)) + 7
    off_one = rng.uniform() < .15
    pattern = rng.choice(["AABA", "ABAB", "AAAB", "ABAC"])
    for i, (start, nb) in enumerate(bars):
        key = (pattern[(i // 2) % 4], i % 2, nb)
        if key not in motif:
            motif[key] = [(s, int(rng.choice([-2, -1, -1, 0, 1, 1, 2, 3, -3]))) for s in
                          rhythm_cell(rng, nb, sub, density, synco, off_one)]
        cell = list(motif[key])
        if i % 4 == 3 and rng.uniform() < .7:          # breathe at the end of four bars
            cut = rng.integers(1, nb + 1) * sub
            cell = [c for c in cell if c[0] < cut] or cell[:1]
            if rng.uniform() < .5:                      # and lead into the next
                k = int(rng.integers(1, sub + 1))
                cell += [(nb * sub - j, 1) for j in range(k, 0, -1)]
        chord = chords[i]
        for j, (s, step) in enumerate(cell):
            if rng.uniform() < .05:
                continue
            degree = int(np.clip(degree + step, 2, 16))
            d = degree
            if s % sub == 0 and rng.uniform() < .7:     # chord tone on the beat
                d = min((degree + k for k in (0, -1, 1, -2, 2)), key=lambda x: ((x - chord) % 7 not in (0, 2, 4), abs(x - degree)))
                degree = d
            nxt = cell[j + 1][0] if j + 1 < len(cell) else nb * sub
            dur = (nxt - s) / sub
            if dur > 0:
                out.append((start + s / sub, max(.08, min(dur, 4) * legato), degree_pitch(scale, tonic, d, register),
                            .7 + accent * (s == 0) + rng.uniform(-.1, .1)))


def write_bass(rng, out, bars, chords, scale, tonic, kind, sub, kick=None):
    for i, (start, nb) in enumerate(bars):
        root = 28 + (degree_pitch(scale, tonic, chords[i], 0) - 28) % 12
        fifth = root + 7 if root < 34 else root - 5
        put = lambda b, d, p, v=.8: out.append((start + b, d * .92, p, v))
        nxt = 28 + (degree_pitch(scale, tonic, chords[(i + 1) % len(chords)], 0) - 28) % 12
        if kind == "rootfifth":
            if nb == 3:
                put(0, 2, root if i % 2 == 0 else fifth)
            elif nb == 2:
                put(0, .9, root); put(1, .9, fifth)
            else:
                for b in range(0, nb, 2):
                    put(b, 1.6, root if b % 4 == 0 else fifth)
        elif kind == "long":
            put(0, nb, root)
        elif kind == "eighths":
            for k in range(nb * 2 if sub == 4 else nb * 3):
                put(k / (2 if sub == 4 else 3), .48 if sub == 4 else .3, root if rng.uniform() < .93 else fifth, .8 if k == 0 else .7)
        elif kind == "quarters":
            for b in range(nb):
                put(b, .9, root if rng.uniform() < .8 else fifth)
        elif kind == "walk":
            ch = [root, root + 4 if rng.uniform() < .5 else root + 3, fifth, nxt + int(rng.choice([-1, 1, -2, 2]))]
            for b in range(nb):
                put(b, .95, ch[min(b, 3)] if b < nb - 1 else ch[3])
                if rng.uniform() < .1 and sub == 3:
                    put(b + 2 / 3, .3, ch[min(b, 3)], .6)
        elif kind == "octave":
            for b in range(nb):
                put(b, .4, root); put(b + .5, .4, root + 12, .75)
        elif kind == "off":
            for b in range(nb):
                put(b + .5, .4, root)
        elif kind == "kick" and kick:
            ks = sorted({h[0] for h in kick[i % len(kick)] if h[1] == "kick" and h[0] < nb}) or [0]
            for j, b in enumerate(ks):
                end = ks[j + 1] if j + 1 < len(ks) else nb
                put(b, end - b, root)
        else:  # synco
            r = np.random.default_rng(int(1000 * (chords[0] + 3)) + nb)
            put(0, .7, root)
            for b in np.arange(.5, nb, .5 if sub == 4 else 1 / 3):
                if r.uniform() < .45:
                    put(float(b), .4, root if r.uniform() < .7 else fifth, .7)


def write_comp(rng, out, bars, chords, scale, tonic, kind, sub, low, seventh=False, push=0.0, kick=None):
    cell = None
    for i, (start, nb) in enumerate(bars):
        ps = chord_pitches(scale, tonic, chords[i], low, seventh)
        if kind in ("chug", "tremolo"):                  # muted fifths, low: with the kick, or a cell, or running
            root = 38 + (ps[0] - 38) % 12
            ps = [root, root + 7] if kind == "chug" else [root + 24]

        def put(b, d, v=.65, which=ps):
            for k, p in enumerate(which):
                out.append((start + b + .006 * k, max(.1, d), p, v))

        if kind == "boomchick":
            for b in range(nb):
                if nb == 3 and b > 0 or nb == 4 and b % 2 == 1:
                    put(b, .5)
                if nb == 2:
                    put(b + .5, .35)
        elif kind == "strum8":
            for k in range(nb * 2):
                if rng.uniform() < .85:
                    pos = k / 2 if sub == 4 else k // 2 + (k % 2) * 2 / 3
                    put(pos, .4, .75 if (k % 4 == 2) else .6 if k % 2 == 0 else .45)
        elif kind == "strumcell":
            if cell is None:
                cell = rhythm_cell(rng, nb, sub, .75, .45)
            for s in cell:
                if s < nb * sub:
                    put(s / sub, .5, .7)
        elif kind == "quarters":
            for b in range(nb):
                put(b, .8, .7 if b else .75)
        elif kind == "pad":
            put(-push if i else 0, nb, .5)
        elif kind == "skank":
            for b in range(nb):
                if sub == 3:
                    put(b + 2 / 3, .2)
                elif nb == 4:
                    put(b + .5, .2) if rng.uniform() < .97 else None
                else:
                    put(b + .5, .2)
        elif kind == "arp":
            m = 2 if sub == 4 and rng.uniform() < .7 else sub
            for k in range(nb * m):
                p = ps[[0, 1, 2, 1][k % 4] if m != 3 else [0, 1, 2][k % 3]]
                out.append((start + k / m, .9 / m * 2, p + (12 if k % 8 == 6 else 0), .65 if k else .75))
        elif kind == "travis":
            for k in range(nb * 2):
                p = ps[0] - 12 if k % 4 == 0 else ps[2] - 12 if k % 4 == 2 else ps[int(rng.integers(0, 3))]
                out.append((start + k / 2, .6, p, .75 if k % 2 == 0 else .55))
        elif kind == "stabs":
            if cell is None:
                cell = rhythm_cell(rng, nb, sub, .35, .8)
            for s in cell:
                put(s / sub, .2, .8)
        elif kind == "tremolo":
            for k in range(nb * sub):
                put(k / sub, .9 / sub, .7)
        elif kind == "chug":
            if cell is None:
                with_kick = rng.uniform() < .6 and kick
                cell = ([h[0] for h in kick[0] if h[1] == "kick"] if with_kick else
                        [c / sub for c in rhythm_cell(rng, nb, sub, float(rng.uniform(.4, 1)), .7)])
                ring = rng.uniform() < .3
            for b in sorted({c for c in cell if c < nb}):
                put(b, .6 if ring else .14, .8)
        elif kind == "whole":
            put(-push if i else 0, nb * .95, .65)
        elif kind == "halves":
            put(-push if i else 0, nb / 2, .65); put(nb / 2 if nb % 2 == 0 else nb - 1, nb / 2, .6)


def auto_chords(tune, rng, per_bar=1):
    """Diatonic triads under a tune: best overlap with few changes, home at the end. One a bar."""
    scale = MINOR if tune.minor else MAJOR
    names = list(range(7))
    score = np.zeros((tune.bars * per_bar, 7))
    step = tune.bar_q / per_bar
    for on, d, p in tune.notes:
        i = int(on // step) if on >= 0 else -1
        if 0 <= i < len(score):
            for c in names:
                tones = [(tune.tonic + scale[(c + k) % 7]) % 12 for k in (0, 2, 4)]
                hit = p % 12 in tones
                score[i, c] += d * ((1 if hit else -.7) + (.4 if hit and on % step < 1e-6 else 0))
    prior = np.array([.6, -.1, -.5, .35, .35, 0, -.3]) if not tune.minor else np.array([.6, -1, 0, .2, .2, 0, .35])
    score += prior * tune.bar_q * .15
    best, back = score[0].copy(), []
    for i in range(1, len(score)):
        m = best[None, :] - .25 * (1 - np.eye(7))
        k = m.argmax(1)
        back.append(k)
        best = m.max(1) + score[i]
    best[0] += 1
    path = [int(best.argmax())]
    for k in reversed(back):
        path.append(int(k[path[-1]]))
    return path[::-1], scale


# ---------------------------------------------------------------- whole songs

def pick_sound(rng, role, st, synth_share):
    if role == "drums":
        return ("kit",) if rng.uniform() < max(synth_share, .45) else ("sfkit", int(rng.choice(KITS)))
    own = rng.uniform() < (st.get("synths", synth_share))
    if st.get("onlypiano"):
        return ("sf", int(rng.choice([0, 0, 1, 2, 3, 4, 5])))
    if st.get("onlyguitar"):
        return ("sf", int(rng.choice([24, 25, 26, 27, 105, 46])))
    if st.get("sung") and role in ("lead", "pad"):
        return ("voice", "sung") if rng.uniform() < .6 else ("sf", int(rng.choice([52, 53, 54, 85])))
    if own:
        kind = {"bass": ["pluck", "fm", "square", "ks"], "pad": ["pad", "reed", "bow"],
                "comp": ["pluck", "ks", "fm", "square", "bell", "reed"]}.get(role, list(("pluck", "ks", "fm", "square",
                "bell", "reed", "bow", "sung", "sung", "sung")))
        return ("voice", str(rng.choice(kind)))
    table = {"bass": BASSES, "comp": COMPS, "pad": PADS, "lead": LEADS, "riff": COMPS + LEADS}[role]
    if role == "comp" and st.get("chop"):
        table = [24, 25, 105, 25, 106]
    return ("sf", int(rng.choice(table)))


def section_plan(rng, total_bars):
    """Lengths in bars and labels; mostly 8s and 4s, now and then something else."""
    labels = ["intro", "verse", "chorus", "verse", "chorus", "bridge", "instrumental", "chorus", "ending"]
    plan, used, i = [], 0, int(rng.choice([0, 0, 0, 1]))
    while used < total_bars:
        label = labels[i] if i < len(labels) else str(rng.choice(["verse", "chorus", "instrumental"]))
        n = int(rng.choice([4, 8, 8, 8, 8, 8, 16] if label != "intro" else [2, 4, 4, 8]))
        if rng.uniform() < .07:
            n += int(rng.choice([1, 2, -1, 4]))
        n = max(1, min(n, total_bars - used))
        plan.append([label, n])
        used += n
        i += 1
    return plan


def compose(rng, style_name, seconds=60.0, tempo_shape=None, real=None, odd_bars=None, pickup=None, opening=None,
            ending=None, tempo_change=None, drumless=None, tune=None, synth_share=.4, bpm=None, swing=None, plan=None,
            one_loop=False, habits=None):
    """One song. Options left None are drawn. `plan`: the form, [(label, [beats of each bar])], if it is given; a
    last chord follows it. Phrases of one label get one music. `one_loop`: all phrases go round the same chords.
    `habits`: a band's own ways with phrases, see `draw_habits`."""
    habits = habits or {}
    st = dict(STYLES[style_name])
    nb, sub = st["meter"]
    u = rng.uniform
    draw = lambda p, val: (u() < p) if val is None else val
    bpm = bpm or float(np.exp(u(np.log(st["bpm"][0]), np.log(st["bpm"][1]))))
    if swing is not None:
        pass
    elif st["swing"]:
        swing = (st["swing"], u(.55, .68))
    elif sub == 4 and nb in (2, 4) and style_name not in ("edm", "punk") and u() < .08:
        swing = (8, u(.52, .66))
    else:
        swing = (0, .5)
    scale = [MAJOR, MAJOR, MAJOR, MINOR, MINOR, DORIAN, MIXO][int(rng.integers(7))]
    tonic = int(rng.integers(12))
    song = Song(style_name)

    # bars
    if tune is not None:
        chords_tune, scale = auto_chords(tune, rng)
        tonic = tune.tonic + int(rng.integers(-3, 4))
        shift = tonic - tune.tonic
        beat_q = tune.bar_q / nb
        need = max(1, int(round(seconds * bpm / 60 / nb / tune.bars)))
        repeats = min(need, 3)
        intro_bars = int(rng.choice([0, 0, 0, 2, 4, 4])) if st["drums"] or st["comp"] else 0
        total_bars = intro_bars + repeats * tune.bars + 1
        plan = ([["intro", intro_bars]] if intro_bars else []) + \
            [["tune", 8 if tune.bars % 8 == 0 else tune.bars] for _ in range(repeats * (tune.bars // 8 if tune.bars % 8 == 0 else 1))]
        plan.append(["ending", 1])
    elif plan is None:
        total_bars = max(4, int(seconds * bpm / 60 / nb))
        plan = section_plan(rng, total_bars - 1)
        plan.append(["ending", 1])
    given = [b for _, bars in plan for b in bars] + [nb] if tune is None and isinstance(plan[0][1], list) else None
    if given:
        plan = [[label, len(bars)] for label, bars in plan] + [["ending", 1]]
    bar_beats = given or [nb] * sum(n for _, n in plan)
    odd = given is None and draw(.06, odd_bars) and tune is None
    if odd:
        k = 0
        for label, n in plan[:-1]:
            r = u()
            if r < .45 and k + n < len(bar_beats):
                bar_beats[k + n - 1] = {4: int(rng.choice([2, 2, 6, 3, 5])), 3: int(rng.choice([2, 4])), 2: int(rng.choice([1, 3]))}.get(nb, nb - 1)
            elif r < .6 and n > 4:
                bar_beats[k + int(rng.integers(1, n - 1))] = 2 if nb == 4 else max(1, nb - 1)
            k += n
    starts = np.concatenate([[0], np.cumsum(bar_beats)]).astype(int)
    n_beats = int(starts[-1])

    # tempo
    if tempo_shape is None:
        tempo_shape = ["steady"] if st.get("steadyonly") or u() < .35 else ["human"] if u() < .65 else ["drift"] if u() < .6 else ["real"]
        if not st.get("steadyonly"):
            tempo_shape += ["rit"] * (u() < .12) + ["accel"] * (u() < .04)
    changes, sec_starts = [], np.concatenate([[0], np.cumsum([n for _, n in plan])]).astype(int)
    if draw(.06, tempo_change) and len(plan) > 2:
        k = int(rng.integers(1, len(plan) - 1))
        changes = [(int(starts[sec_starts[k]]), float(rng.choice([u(.72, .92), u(1.08, 1.38)])))]
    opening = opening if opening is not None else str(rng.choice(["none", "talk", "silence", "rubato", "countin"],
                                                                p=[.74, .08, .07, .05, .06]))
    if opening == "rubato" and len(plan) < 3:
        opening = "none"
    times = tempo_map(rng, n_beats, bpm, tempo_shape, changes, real)
    rubato_end = 0
    if opening == "rubato":
        k = next((i for i, s in enumerate(sec_starts) if starts[s] * 60 / bpm > 6), 1)
        rubato_end = int(starts[sec_starts[k]])
        per = np.diff(times)
        wave = np.exp(np.interp(np.arange(rubato_end), np.linspace(0, rubato_end, rubato_end // 2 + 2),
                                rng.normal(.15, .33, rubato_end // 2 + 2)))
        per[:rubato_end] *= wave
        per[rubato_end - 1] *= u(1, 2)
        times = np.concatenate([[0], np.cumsum(per)])

    # who plays
    score = Score(rng)
    drumless = draw(1 - st["drums"], drumless)
    feels = st["feel"] or grooves.feels(nb, sub)
    if u() < .25 and st["feel"] and nb in (2, 3, 4) and "sections" not in st:
        feels = grooves.feels(nb, sub)
    main_feel = str(rng.choice(feels))
    dsound = pick_sound(rng, "drums", st, synth_share)
    sounds = {r: pick_sound(rng, r, st, synth_share) for r in ("bass", "comp", "pad", "lead", "riff")}
    comp2 = pick_sound(rng, "comp", st, synth_share)
    has = {r: u() < st[r] for r in ("bass", "comp", "pad", "lead", "riff")}
    if tune is not None:
        has["lead"], has["riff"] = True, False
    if not (has["lead"] or has["comp"] or has["riff"]) and (drumless or u() < .7):
        has["lead"] = True
    bass_kinds = (["rootfifth", "rootfifth", "quarters", "long", "eighths", "kick", "synco", "walk"] if sub == 4 else
                  ["rootfifth", "quarters", "walk", "long", "eighths", "kick"])
    bass_kind = "walk" if st.get("walk") and u() < .75 else str(rng.choice(bass_kinds))
    if style_name in ("edm",):
        bass_kind = str(rng.choice(["off", "octave", "eighths", "synco", "kick", "long"]))
    if style_name in ("country", "train", "bluegrass", "reelband") and u() < .6:
        bass_kind = "rootfifth"
    comp_kinds = ["boomchick", "strum8", "strumcell", "quarters", "arp", "stabs", "whole", "halves", "skank"]
    comp_kind = str(rng.choice(comp_kinds))
    if st.get("chop") or style_name in ("country", "waltz", "reelband") and u() < .5:
        comp_kind = "boomchick"
    if st.get("skank"):
        comp_kind = "skank"
    if st.get("chug"):
        comp_kind = str(rng.choice(["chug", "chug", "chug", "tremolo", "whole", "strum8"]))
        bass_kind = str(rng.choice(["kick", "eighths", "synco"]))
        sounds["comp"] = ("sf", int(rng.choice([29, 30, 30]))) if u() < .7 else ("voice", "square")
        comp2 = ("sf", int(rng.choice([29, 30])))
        sounds["lead"] = ("sf", int(rng.choice([29, 30, 52, 81]))) if u() < .7 else ("voice", "sung")
    if st.get("onlyguitar"):
        comp_kind = str(rng.choice(["arp", "travis", "strum8", "strumcell"]))
    if style_name in ("ballad", "voices") and u() < .6:
        comp_kind = str(rng.choice(["arp", "quarters", "whole", "halves"]))
    seventh = u() < .2
    push = .5 if u() < .12 and sub == 4 else 0
    register = 4 if u() < .5 else 5
    density, synco, legato = u(.35, .95), u(0, .6) ** 1.3, u(.6, 1.0)
    harmonic = str(rng.choice(["bar", "bar", "bar", "two", "half"]))

    progs, grooves_by_label, seed_by_label, layers = {}, {}, {}, {}
    lift_from = int(habits.get("lift", 9) * len(plan))
    bar = 0
    prev_drums = False
    for si, (label, n) in enumerate(plan):
        bars = [(int(starts[b]), bar_beats[b]) for b in range(bar, bar + n)]
        if label not in progs:
            loop_chords = next(iter(progs.values()), None) if one_loop else None
            progs[label] = loop_chords or PROGRESSIONS[int(rng.integers(len(PROGRESSIONS)))]
            seed_by_label[label] = int(rng.integers(1 << 30))
        prog = progs[label]
        if tune is not None and label == "tune":
            first = bar - intro_bars
            chords = [chords_tune[(first + i) % tune.bars] for i in range(n)]
        elif label == "ending":
            chords = [0] * n
        else:
            idx = [i // 2 if harmonic == "two" else i for i in range(n)]
            chords = [prog[i % len(prog)] for i in idx]
        r2 = np.random.default_rng(seed_by_label[label])
        quiet = label == "intro" and u() < .5 or u() < habits.get("quiet", .08)
        play = {r: has[r] and not (quiet and u() < .5) for r in has}
        if "layers" in habits and label not in layers:
            layers[label] = {r for r in (*has, "drums") if r2.uniform() < habits["layers"]}
        if layers.get(label):
            play = {r: play[r] and r in layers[label] for r in has}
        if si == lift_from:
            tonic += int(habits["lift_by"])
        drums_on = not drumless and not (label == "intro" and u() < .45) and not u() < .07
        if layers.get(label) and "drums" not in layers[label] and habits["drop_drums"]:
            drums_on = False
        # In an intro the tune is not played yet: something else sounds.
        if not (drums_on or any(play[r] for r in play if (label, r) != ("intro", "lead"))):
            play["comp"] = True
        if opening == "rubato" and starts[bar] < rubato_end:
            drums_on, play["bass"], play["riff"] = False, False, False
            play["lead"] = True
        if label == "ending":
            last = bars[0][0]
            for r in ("bass", "comp", "pad", "lead"):
                if has[r]:
                    low = {"bass": 28, "comp": 52, "pad": 55, "lead": 60}[r]
                    ps = chord_pitches(scale, tonic, 0, low)[:1 if r in ("bass", "lead") else 3]
                    for p in ps:
                        score.stem(r, sounds[r]).append((last, min(nb, 3), p, .8))
            if not drumless:
                score.stem("drums", dsound).extend([(last, "kick", .9), (last, "crash", .8)])
            bar += n
            continue
        # drums
        loop = None
        if drums_on:
            feel = main_feel
            if "sections" in st:
                feel = str(rng.choice(st["sections"]))
            elif u() < habits.get("change_feel", .12):
                feel = str(rng.choice(feels))
            k = (label, feel)
            if k not in grooves_by_label:
                g1 = grooves.groove(feel, nb, sub, r2)
                g2 = g1 if r2.uniform() < .5 else grooves.groove(feel, nb, sub, np.random.default_rng(seed_by_label[label]), .5)
                grooves_by_label[k] = [g1, g2]
            loop = grooves_by_label[k]
            out = score.stem("drums", dsound)
            stop = u() < .05
            for i, (start, b) in enumerate(bars):
                hits = loop[i % 2]
                if b > nb:
                    hits = hits + [(h[0] + nb, h[1], h[2]) for h in hits]
                lastbar = i == n - 1
                f0, fh = (b, [])
                if lastbar and u() < habits.get("fill", .6):
                    f0, fh = grooves.fill(b, sub, rng)
                    if u() < .25:                # a break instead of a fill
                        fh = []
                if stop and i >= n - 2:
                    continue
                for pos, name, v in hits:
                    if pos < min(b, f0) and u() > .012:
                        out.append((start + pos, name, v))
                for pos, name, v in fh:
                    out.append((start + pos, name, v))
                if i == 0 and u() < (.6 if prev_drums or si else .3) * habits.get("crash", 1):
                    out.append((start, "crash", .8))
                    out.append((start, "kick", .9))
        elif not drumless and si + 1 < len(plan) and u() < .5 and n >= 2 and opening != "rubato":
            start, b = bars[-1]                  # pick the band up
            _, fh = grooves.fill(b, sub, rng)
            score.stem("drums", dsound).extend((start + p, nm, v) for p, nm, v in fh)
        prev_drums = drums_on
        if play["bass"]:
            kind = bass_kind if u() > .08 else "long"
            write_bass(np.random.default_rng(seed_by_label[label] + 1) if u() < .5 else rng, score.stem("bass", sounds["bass"]),
                       bars, chords, scale, tonic, kind, sub, loop)
        if play["comp"]:
            c2 = chords
            write_comp(r2, score.stem("comp", sounds["comp"]), bars, c2, scale, tonic, comp_kind, sub,
                       int(rng.choice([48, 52, 55])), seventh, push, loop)
            if u() < .25 and label in ("chorus", "instrumental"):
                write_comp(r2, score.stem("comp2", comp2), bars, chords, scale, tonic, str(r2.choice(comp_kinds)), sub, 55)
        if play["pad"]:
            write_comp(r2, score.stem("pad", sounds["pad"]), bars, chords, scale, tonic, "pad", sub, 55, seventh, push)
        if play["riff"] and label != "verse":
            write_melody(np.random.default_rng(seed_by_label[label] + 7), score.stem("riff", sounds["riff"]), bars, chords,
                         scale, tonic, 3 + int(u() < .5), u(.5, .9), u(.1, .8), sub, .7)
        if play["lead"] and tune is None and (label != "intro" or opening == "rubato" or u() < .3):
            r3 = np.random.default_rng(seed_by_label[label] + 3) if u() < habits.get("same_tune", .7) else rng
            write_melody(r3, score.stem("lead", sounds["lead"]), bars, chords, scale, tonic, register, density, synco, sub, legato)
        bar += n
    first_beat = 0
    if tune is not None:
        out = score.stem("lead", sounds["lead"])
        accent = u(.05, .3)
        for rep in range(repeats):
            base = (intro_bars + rep * tune.bars) * nb
            for on, d, p in tune.notes:
                b = base + on / beat_q
                if rep > 0 and on < 0:
                    continue
                out.append((b, d / beat_q * legato, p + shift + 12 * (register - 5 if p + shift > 74 else 0),
                            .68 + accent * (abs(b - round(b)) < 1e-6) + rng.uniform(-.08, .08)))
        if intro_bars == 0 and tune.pickup_q:
            first_beat = -tune.pickup_q / beat_q
        song.meta.update(tune=tune.name, meter=list(tune.meter))
    elif draw(.2, pickup):
        span = float(rng.choice([.5, 1, 1, 1.5, 2, 3])) if sub == 4 else float(rng.choice([1 / 3, 1, 2 / 3, 4 / 3]))
        span = min(span, nb - .5)
        who = "lead" if has["lead"] else "comp" if has["comp"] else "bass"
        pos = -span
        while pos < -1e-6:
            score.stem(who, sounds[who]).append((pos, .45, degree_pitch(scale, tonic, int(rng.integers(7, 12)), register if who == "lead" else 3), .75))
            pos += .5 if sub == 4 else 1 / 3
        first_beat = -span

    # count-in of sticks: heard beats, no bars' worth of music yet
    lead_in = .3 + max(0, -first_beat) * 60 / bpm * 1.1
    count_beats = 0
    if opening == "countin":
        count_beats = nb if nb in (3, 4) else 2 * nb
        score.stem("drums", dsound if not drumless else ("kit",)).extend((b - count_beats, "side", .8) for b in range(count_beats))
        lead_in += count_beats * 60 / bpm
    gap = 0.0
    if opening in ("talk", "silence"):
        gap = u(3, 18)
        song.talk.append((0.0, gap + (u(0, 1.5) if opening == "talk" else 0), opening))
    lead_in += gap + u(0, .8)
    times = times + lead_in
    song.stems, sec = score.realise(times, swing, tight=.6 if st.get("steadyonly") else 1.0)

    # truth
    low = int(np.ceil(min(first_beat, -count_beats) - 1e-6))
    place, b = {}, 0
    for nbeats in bar_beats:
        for k in range(nbeats):
            place[b] = k + 1
            b += 1
    last_on = max((n[0] for s in song.stems for n in s.notes), default=0)
    for i in range(low, n_beats):
        t = float(sec(i))
        p = place.get(i, (i - 0) % nb + 1 if i < 0 else 1)
        if i < 0:
            p = nb + 1 + i if -i <= nb else (i % nb) + 1
        if t <= last_on + .05 and i >= rubato_end:
            song.beats.append((t, int(p)))
    if rubato_end:
        song.unjudged.append((0.0, float(sec(rubato_end)) - .1))
    song.duration = float(max((n[1] if not isinstance(n[1], str) else n[0] + .5 for s in song.stems for n in s.notes), default=1)) + u(.5, 2)
    song.unjudged.append((song.beats[-1][0] + .1, song.duration))
    for si, (label, n) in enumerate(plan):
        song.phrases.append((float(sec(starts[sec_starts[si]])), label))
    if ending == "fade" or (ending is None and u() < .1):
        song.fade = song.duration - u(5, 12)
    song.meta.update(bpm=bpm, beats_per_bar=nb, sub=sub, feel=main_feel if not drumless else "none", opening=opening,
                     tempo="+".join(tempo_shape), tonic=tonic % 12)
    return song


def draw_habits(rng):
    """How a band marks its phrases, or doesn't: how often it fills before one and crashes on one, changes its groove, thins out,
    sings the same tune again; which roles play in phrases of a label at all; where the key is lifted."""
    u = rng.uniform
    h = dict(fill=u(0, 1), crash=u(0, 1.5), change_feel=u(0, .4), quiet=u(0, .25), same_tune=u(.2, 1), drop_drums=bool(u() < .4))
    if u() < .7:
        h["layers"] = u(.5, 1)
    if u() < .08:
        h.update(lift=u(.55, .95), lift_by=rng.choice([1, 2, 2, 3]))
    return h


def tune_style(tune, rng):
    """Style name, tempo and metre that suit a published tune; None where its metre has no set beat here."""
    num, den = tune.meter
    r = tune.rhythm
    if (num, den) == (6, 8):
        return ("jigband", rng.uniform(96, 136)) if "slow" not in r else ("six8", rng.uniform(46, 80))
    if (num, den) == (3, 4):
        return "waltz", rng.uniform(84, 170)
    if (num, den) in ((2, 2), (4, 4), (2, 4)):
        if "hornpipe" in r or "clog" in r:
            return "reelband", rng.uniform(68, 100)
        if "reel" in r or (num, den) == (2, 2):
            return "reelband", rng.uniform(92, 130)
        if (num, den) == (2, 4):
            return "reelband", rng.uniform(84, 126)
        return None
    return None
