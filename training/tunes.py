"""Published tunes in ABC notation, read into notes with known bars.

Only tunes whose bars add up are kept: every fragment between bar lines is a full bar, or a pickup and its
complement. So the place of every beat and bar line is known from the notation alone.
"""
from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass, field
from fractions import Fraction as F

#: Folders of the music21 corpus read here: 19th-century and older prints, all out of copyright.
#: The Essen folders are left out: their licence is for non-commercial use only.
FOLDERS = ["ryansMammoth", "oneills1850", "airdsAirs", "nottingham-dataset", "miscFolk"]

LETTER = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARPS, FLATS = "FCGDAEB", "BEADGCF"
MODE_SHIFT = {"": 0, "maj": 0, "ion": 0, "m": -3, "min": -3, "aeo": -3, "mix": -1, "dor": -2, "phr": -4,
              "lyd": 1, "loc": -5}
MODE_ROOT = {0: 0, -3: 9, -1: 7, -2: 2, -4: 4, 1: 5, -5: 11}


@dataclass
class Tune:
    name: str
    rhythm: str
    meter: tuple[int, int]
    bar_q: float                     # length of a bar in quarter notes
    pickup_q: float                  # sounding length before the first bar line
    tonic: int                       # pitch class
    minor: bool
    scale: list[int]                 # pitch classes of the key signature
    notes: list = field(default_factory=list)     # (onset in quarters from the first bar line, length, midi)
    chords: list = field(default_factory=list)    # (onset, name), where the print has them
    bars: int = 0
    aabb: bool = False

    @property
    def half(self) -> str:
        """Which part of the data the tune belongs to: train, dev or held. By name, so re-runs agree."""
        h = int(hashlib.sha256(re.sub(r"\W", "", self.name.lower()).encode()).hexdigest()[:8], 16) % 100
        return "train" if h < 70 else "dev" if h < 85 else "held"


def key_signature(text: str):
    text = text.strip().split("%")[0].strip() or "C"
    m = re.match(r"([A-G])([#b]?)\s*([A-Za-z]*)", text)
    if not m:
        return None
    mode = m.group(3).lower()[:3]
    mode = "m" if mode in ("m",) else mode
    if mode not in MODE_SHIFT:
        mode = "m" if m.group(3).startswith("m") and not mode.startswith(("maj", "mix")) else ""
    fifths = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}[m.group(1)]
    fifths += {"": 0, "#": 7, "b": -7}[m.group(2)] + MODE_SHIFT[mode]
    if abs(fifths) > 7:
        return None
    acc = {c: 1 for c in SHARPS[:fifths]} if fifths > 0 else {c: -1 for c in FLATS[:-fifths]}
    tonic = (LETTER[m.group(1)] + {"": 0, "#": 1, "b": -1}[m.group(2)]) % 12
    return acc, tonic, MODE_SHIFT[mode] in (-3, -2, -4)


def duration(text: str) -> F:
    m = re.match(r"(\d*)(/*)(\d*)", text)
    num = F(int(m.group(1) or 1))
    if m.group(2):
        num /= int(m.group(3)) if m.group(3) else 2 ** len(m.group(2))
    return num


TOKEN = re.compile(
    r'(?P<chordname>"[^"]*")|(?P<deco>![^!]*!|\+[a-z]+\+)|(?P<grace>\{[^}]*\})|(?P<inline>\[[A-Za-z]:[^\]]*\])'
    r"|(?P<ending>\[[12]|(?<=\|)\s*[12](?=[\s\"A-Ga-g^_=~(.uvz])|:?\|+\s*[12](?=[\s\"A-Ga-g^_=~(.uvz]))"
    r"|(?P<bar>:\|:|:\|\||\|\|:|\|:|:\||::|\[\||\|\]|\|\||\|)"
    r"|(?P<tuplet>\((?P<tn>[2-9])(:\d*(:\d*)?)?)"
    r"|(?P<chord>\[[^\]\|:]*\](?P<cd>\d*/*\d*))"
    r"|(?P<note>(?P<acc>\^\^|__|\^|_|=)?(?P<p>[A-Ga-g])(?P<oct>[,']*)(?P<d>\d*/*\d*))"
    r"|(?P<rest>[zx](?P<rd>\d*/*\d*))|(?P<broken>>+|<+)|(?P<tie>-)|(?P<other>.)", re.S)


def read_body(body: str, acc0: dict, unit: F):
    """Fragments between bar lines, with the repeat marks that stand between them."""
    frags, cur, marks, acc = [], [], [], {}
    tup_left, tup_ratio, broken = 0, F(1), None
    pending_chord = None

    def close():
        nonlocal cur, acc, marks
        if cur:
            frags.append(("frag", cur))
        cur, acc = [], {}

    def add(pitch, d):
        nonlocal tup_left, broken, pending_chord
        d *= unit
        if tup_left:
            d *= tup_ratio
            tup_left -= 1
        if broken:
            n = len(broken)
            d *= F(1, 2 ** n) if broken[0] == ">" else 2 - F(1, 2 ** n)
            broken = None
        cur.append([pitch, d, pending_chord, False])
        pending_chord = None

    for m in TOKEN.finditer(body):
        k = m.lastgroup
        g = m.groupdict()
        if g["chordname"]:
            name = g["chordname"].strip('"')
            if re.match(r"[A-G]", name):
                pending_chord = name
        elif g["ending"]:
            text = g["ending"]
            close()
            if ":" in text:
                frags.append(("end", None))
            frags.append(("ending", int(re.search(r"[12]", text).group())))
        elif g["bar"]:
            close()
            t = g["bar"]
            if t in (":|", ":||", "::", ":|:"):
                frags.append(("end", None))
            if t in ("|:", "||:", "::", ":|:"):
                frags.append(("start", None))
            if t in ("||", "|]"):
                frags.append(("double", None))
        elif g["tuplet"]:
            n = int(g["tn"])
            tup_left, tup_ratio = n, {2: F(3, 2), 3: F(2, 3), 4: F(3, 4), 5: F(2, 5), 6: F(2, 6), 7: F(2, 7),
                                      8: F(3, 8), 9: F(2, 9)}[n]
        elif g["chord"]:
            inner = re.findall(r"(\^\^|__|\^|_|=)?([A-Ga-g])([,']*)(\d*/*\d*)", g["chord"])
            if inner:
                pitches = [pitch_of(a, p, o, acc, acc0) for a, p, o, _ in inner]
                add(max(pitches), duration(inner[0][3]) * duration(g["cd"] or ""))
        elif g["note"]:
            add(pitch_of(g["acc"], g["p"], g["oct"], acc, acc0), duration(g["d"]))
        elif g["rest"]:
            add(None, duration(g["rd"]))
        elif g["broken"]:
            if cur:
                n = len(g["broken"])
                cur[-1][1] *= (2 - F(1, 2 ** n)) if g["broken"][0] == ">" else F(1, 2 ** n)
                broken = g["broken"]
        elif g["tie"]:
            if cur:
                cur[-1][3] = True
    close()
    return frags


def pitch_of(a, p, o, acc, acc0):
    letter = p.upper()
    octave = (72 if p.islower() else 60) + 12 * (o.count("'") - o.count(","))
    if a:
        acc[letter + o + p] = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}[a]
    alter = acc.get(letter + o + p, acc0.get(letter, 0))
    return octave + LETTER[letter] + alter


def expand(frags):
    """Plays the repeats: a flat list of fragments."""
    out, section, i = [], [], 0
    first, in_first = [], False
    sections = 0
    for kind, val in frags:
        if kind == "frag":
            (first if in_first else section).append(val)
        elif kind == "start":
            out += section
            section, first, in_first = [], [], False
        elif kind == "ending":
            if val == 1:
                in_first, first = True, []
            else:
                in_first = False
                out += section + first
                sections += 1
                # the second ending follows the section once more
        elif kind == "end":
            if in_first:
                in_first = False
                out += section + first
                sections += 1
                first = []
            elif section:
                out += section + section
                section = []
                sections += 1
        elif kind == "double":
            if not in_first and section:
                out += section
                section = []
    out += section
    return out, sections


def read_tune(text: str, default_name: str):
    head, body, in_body = {}, [], False
    for line in text.splitlines():
        line = line.split("%")[0].rstrip()
        if not line:
            continue
        m = re.match(r"([A-Za-z]):(.*)", line)
        if m and not line.startswith("|:"):
            k, v = m.group(1), m.group(2).strip()
            if in_body and k in "MLK":
                return None
            if k not in head:
                head[k] = v
            if k == "K":
                in_body = True
        elif in_body:
            body.append(line.rstrip("\\"))
    if "K" not in head or "M" not in head:
        return None
    sig = key_signature(head["K"])
    meter = {"C": "4/4", "C|": "2/2"}.get(head["M"], head["M"])
    m = re.match(r"(\d+)/(\d+)$", meter)
    if not sig or not m:
        return None
    num, den = int(m.group(1)), int(m.group(2))
    bar = F(num * 4, den)
    unit = duration(head["L"]) * 4 if "L" in head else (F(1, 4) if F(num, den) < F(3, 4) else F(1, 2))
    acc0, tonic, minor = sig
    flat, sections = expand(read_body(" ".join(body), acc0, unit))
    if len(flat) < 8:
        return None
    # Bars must add up: full bars, or a part and its complement.
    lens = [sum((n[1] for n in fr), F(0)) for fr in flat]
    pickup = lens[0] if lens[0] < bar else F(0)
    i, t = (1 if pickup else 0), F(0)
    part = F(0)
    for j in range(i, len(lens)):
        part += lens[j]
        if part == bar:
            part = F(0)
        elif part > bar:
            return None
    notes, chords, t, tie = [], [], -pickup, False
    for fr in flat:
        for pitch, d, chord, tied in fr:
            if chord:
                chords.append((float(t), chord))
            if pitch is not None:
                if tie and notes and notes[-1][2] == pitch and abs(notes[-1][0] + notes[-1][1] - float(t)) < 1e-6:
                    notes[-1] = (notes[-1][0], notes[-1][1] + float(d), pitch)
                else:
                    notes.append((float(t), float(d), pitch))
                tie = tied
            else:
                tie = False
            t += d
    bars = int(t / bar + F(1, 2))
    if bars < 8 or bars > 160 or not notes:
        return None
    scale = sorted({(LETTER[c] + acc0.get(c, 0)) % 12 for c in LETTER})
    name = head.get("T", default_name)
    rhythm = (head.get("R", "") + " " + name).lower()
    return Tune(name, rhythm, (num, den), float(bar), float(pickup), tonic, minor, scale, notes, chords, bars,
                aabb=(sections >= 2 and bars % 16 == 0))


def load(corpus: str | None = None) -> list[Tune]:
    if corpus is None:
        import music21
        corpus = os.path.join(os.path.dirname(music21.__file__), "corpus")
    tunes, seen = [], set()
    for folder in FOLDERS:
        for name in sorted(os.listdir(os.path.join(corpus, folder))):
            if not name.endswith(".abc"):
                continue
            text = open(os.path.join(corpus, folder, name), encoding="utf-8", errors="replace").read()
            for piece in re.split(r"(?m)^(?=X:)", text):
                try:
                    tune = read_tune(piece, f"{folder}/{name}")
                except (KeyError, ZeroDivisionError, ValueError, IndexError):
                    tune = None
                if tune and (tune.name, len(tune.notes)) not in seen:
                    seen.add((tune.name, len(tune.notes)))
                    tunes.append(tune)
    return tunes


if __name__ == "__main__":
    import collections
    all_tunes = load()
    print(len(all_tunes), "tunes")
    print(collections.Counter(t.meter for t in all_tunes))
    print(collections.Counter(t.half for t in all_tunes))
    for word in ("reel", "jig", "hornpipe", "clog", "waltz"):
        print(word, sum(word in t.rhythm for t in all_tunes), sum(word in t.rhythm and t.aabb for t in all_tunes))
