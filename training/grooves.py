"""Drum patterns: what a drummer plays in one or two bars, by feel and metre.

A pattern is a list of hits (place in the bar in beats, drum, velocity 0..1).
"""
from __future__ import annotations

BINARY_4 = ["rock", "rock", "rock", "rock", "half", "double", "four", "four", "motown", "train", "onedrop", "steppers",
            "funk", "funk", "stomp", "dembow", "latin", "twostep", "twostep", "march", "clapsonly", "shakeronly",
            "kickonly", "break", "tribal", "sidestick", "brushes", "disco", "offhat"]
METAL = ["rock", "doublekick", "doublekick", "gallop", "thrash", "thrash", "blast", "breakdown", "breakdown", "double", "half"]
TERNARY_4 = ["swing", "swing", "shuffle", "shuffle", "slow12", "slow12", "halfshuffle", "swingbrush", "bluesride",
             "gospelclap"]
THREE = ["waltz", "waltz", "waltzride", "rock3", "rock3b", "brush3", "kick3"]
TERNARY_2 = ["bodhran", "bodhran", "rock6", "march6", "kick6", "shaker6"]
BINARY_2 = ["polka", "bodhran2", "bodhran2", "chop", "twostep2", "train2", "kick2", "stompclap2"]


def feels(beats: int, sub: int) -> list[str]:
    if beats == 4:
        return BINARY_4 if sub == 4 else TERNARY_4
    if beats == 3:
        return THREE
    if beats == 2:
        return BINARY_2 if sub == 4 else TERNARY_2
    return ["odd"]


def cymbal(rng, steps, sub, name, density=None):
    """A time-keeping line: quarters, eighths (or the shuffle's outer two), or all steps."""
    density = density if density is not None else rng.choice([1, 2, 2, 2, 3])
    hits = []
    for s in range(steps):
        on_beat = s % sub == 0
        mid = (s % sub == sub // 2) if sub == 4 else (s % sub == 2)
        if on_beat or (density >= 2 and mid) or density >= 3:
            v = .8 if on_beat else .55 if mid else .4
            hits.append((s / sub, name, v))
    return hits


def groove(feel: str, beats: int, sub: int, rng, loose: float = 1.0):
    """One pattern of `beats` beats, each in `sub` steps."""
    n = beats * sub
    hits = []
    u = rng.uniform

    def add(name, steps, v=.85):
        hits.extend((s / sub, name, v * u(.9, 1.05)) for s in steps if 0 <= s < n)

    def maybe(name, steps, p, v=.7):
        hits.extend((s / sub, name, v * u(.85, 1.05)) for s in steps if 0 <= s < n and u() < p * loose)

    keeper = rng.choice(["hat", "hat", "hat", "ride", "open", "shaker", "tamb"])
    back = rng.choice(["snare", "snare", "snare", "snare", "clap", "side", "snap"])
    keep = lambda d=None, name=None: hits.extend(cymbal(rng, n, sub, name or keeper, d))
    q = sub  # one beat
    if feel == "rock":
        add("kick", [0]); add("kick", [8] if u() < .6 else []); maybe("kick", [2, 3, 6, 7, 10, 11, 14], .17)
        add(back, [4, 12], .9); maybe("snare", [1, 3, 7, 9, 15], .06, .3)
        keep()
    elif feel in ("doublekick", "gallop"):
        hits.extend((x / sub, "kick", .8 if x % q == 0 else .6) for x in range(n)
                    if feel == "doublekick" or x % 4 != 1)
        add("snare", [4, 12] if u() < .7 else [8], .95); keep(rng.choice([1, 1, 2]), rng.choice(["hat", "open", "crash", "ride"]))
    elif feel == "thrash":
        add("kick", range(0, n, 4 if u() < .6 else 2)); add("snare", range(2, n, 4), .9); keep(2, rng.choice(["hat", "open", "ride"]))
    elif feel == "blast":
        if u() < .5:
            add("kick", range(0, n, 2), .8); add("snare", range(1, n, 2), .75)
        else:
            add("kick", range(0, n, 2), .8); add("snare", range(0, n, 2), .75)
        keep(rng.choice([1, 2]), rng.choice(["ride", "crash", "open"]))
    elif feel == "breakdown":
        add("kick", [0]); maybe("kick", range(1, n), .3, .85); add("snare", [8], .95); keep(1, rng.choice(["crash", "open", "ride"]))
    elif feel == "half":
        add("kick", [0]); maybe("kick", [3, 6, 7, 10, 11, 13, 14], .22); add(back, [8], .95); keep()
        maybe("snare", [5, 7, 15], .06, .3)
    elif feel == "double":
        add("kick", [0, 4, 8, 12] if u() < .6 else [0, 8]); add("snare", [2, 6, 10, 14], .8); keep(2)
    elif feel in ("four", "disco", "offhat"):
        add("kick", range(0, n, q), .95)
        if feel != "offhat" or u() < .5:
            add(back, [4, 12], .8) if u() < .75 else None
        if feel == "disco":
            keep(3, "hat"); add("open", range(2, n, q), .6)
        else:
            maybe("open", range(2, n, q), .9, .6)
            if u() < .5:
                keep(3, rng.choice(["hat", "shaker"]))
        maybe("kick", [7, 10, 14, 15], .08)
    elif feel == "motown":
        add("snare", range(0, n, q), .8); add("kick", [0, 8]); maybe("kick", [6, 7, 10, 14], .25); keep(2, "tamb")
    elif feel in ("train", "train2"):
        s = rng.choice(["snare", "brush", "brush"])
        acc = [x for x in range(n) if x % q == (q // 2 if u() < .5 else 0)] if feel == "train2" or u() < .5 else [4, 12]
        hits.extend((x / sub, s, .75 if x in acc else .35) for x in range(n) if u() < .97)
        add("kick", range(0, n, q) if u() < .6 else range(0, n, 2 * q), .7)
    elif feel == "onedrop":
        add("kick", [8]); add("side", [8], .8); keep(2); maybe("hat", [3, 7, 11, 15], .15, .4)
    elif feel == "steppers":
        add("kick", range(0, n, q)); add("side", [8] if u() < .5 else [4, 12], .8); keep(2)
    elif feel == "funk":
        add("kick", [0]); maybe("kick", [2, 3, 6, 7, 9, 10, 11, 13, 14], .25); add("snare", [4, 12], .95)
        maybe("snare", [1, 3, 7, 9, 10, 15], .25, .3); keep(rng.choice([2, 3]))
        maybe("open", [2, 14, 10], .2, .5)
    elif feel == "stomp":
        add("stomp", [0, 2, 8, 10] if u() < .5 else [0, 8]); add("clap", [4, 12], .9)
        if u() < .3:
            keep(2, "tamb")
    elif feel == "dembow":
        add("kick", range(0, n, q)); add(back, [3, 6, 11, 14], .8); maybe("hat", range(n), .4, .5)
    elif feel == "latin":
        maybe("conga2", [2, 4, 6, 12], .7, .7); add("conga", [12, 14, 0], .7); add("cow", range(0, n, q), .5) if u() < .5 else None
        add("side", [0, 3, 6, 10, 12] if u() < .5 else [2, 4, 8, 11, 14], .7); add("kick", [0, 8] if u() < .5 else [0, 6, 8, 14], .7)
        keep(3, "shaker")
    elif feel == "twostep":
        add("kick", [0, 8]); add(rng.choice(["snare", "side", "brush"]), [4, 12], .75); keep(rng.choice([1, 2]))
        maybe("kick", [6, 14], .1)
    elif feel == "march":
        hits.extend((x / sub, "snare", .9 if x % q == 0 else .4) for x in range(n) if x % q == 0 or u() < .5)
        add("kick", [0, 8])
    elif feel == "clapsonly":
        add(rng.choice(["clap", "snap", "tamb"]), [4, 12], .9); maybe("stomp", [0, 8], .5)
    elif feel == "shakeronly":
        keep(3, rng.choice(["shaker", "tamb"])); maybe("kick", [0], .4)
    elif feel == "kickonly":
        add("kick", range(0, n, q) if u() < .5 else [0, 8])
    elif feel == "break":
        add("kick", [0, 10]); maybe("kick", [2, 3, 7, 11], .3); add("snare", [4, 12], .9); maybe("snare", [7, 9, 15, 14], .35, .4)
        keep(2)
    elif feel == "tribal":
        for x in range(n):
            if x in (0, 3, 6, 8, 11, 14) or u() < .35:
                hits.append((x / sub, rng.choice(["tom1", "tom2", "tom3"]), .9 if x in (0, 8) else .6))
        add("kick", [0]); maybe(back, [4, 12], .4)
    elif feel == "sidestick":
        add("kick", [0]); maybe("kick", [7, 8, 10], .35); add("side", [4, 12], .8); keep(2, rng.choice(["hat", "ride", "shaker"]))
    elif feel == "brushes":
        add("brush", range(0, n, q), .5); add("brush", [4, 12], .8); maybe("brush", range(2, n, q), .4, .4); maybe("kick", [0, 8], .6, .5)
    elif feel in ("swing", "bluesride", "swingbrush"):
        ride = "brush" if feel == "swingbrush" else "ride"
        hits.extend((b, ride, .75) for b in range(beats))
        hits.extend((b + 2 / 3, ride, .5) for b in range(beats) if (b % 2 == 1 or feel == "bluesride"))
        add("hat", [3, 9], .6)
        if u() < .4 or feel == "bluesride":
            add("kick", range(0, n, q), .35)
        if feel == "bluesride":
            add("snare", [3, 9], .85)
        maybe("snare", range(2, n, 3), .15, .45); maybe("kick", [5, 8, 11], .12, .6)
    elif feel == "shuffle":
        keep(2, rng.choice(["hat", "ride"])); add("snare", [3, 9], .9); add("kick", [0, 6]); maybe("kick", [2, 5, 8, 11], .22)
        if u() < .3:
            add("kick", [3, 9], .7)
    elif feel == "slow12":
        keep(rng.choice([2, 3, 3])); add("kick", [0]); maybe("kick", [5, 6, 8], .5); add("snare", [3, 9], .9)
    elif feel == "halfshuffle":
        keep(2); add("snare", [6], .95); add("kick", [0]); maybe("kick", [5, 8, 11], .3); maybe("snare", [1, 4, 7, 10], .25, .25)
    elif feel == "gospelclap":
        add("clap", [3, 9], .9); maybe("stomp", [0, 6], .6); keep(2, "tamb")
    elif feel in ("waltz", "waltzride", "brush3", "kick3"):
        add("kick", [0])
        if feel != "kick3":
            add({"waltz": rng.choice(["snare", "side", "hat"]), "waltzride": "hat", "brush3": "brush"}[feel], [q, 2 * q], .6)
        if feel == "waltzride":
            hits.extend((b, "ride", .7) for b in range(3)); maybe("ride", [q + q // 2 + (sub == 3)], .6, .5)
        elif u() < .4:
            keep()
    elif feel in ("rock3", "rock3b"):
        add("kick", [0]); add("snare", [2 * q] if feel == "rock3" else [q, 2 * q] if u() < .4 else [q], .9)
        maybe("kick", [q + q // 2, 2 * q + q // 2], .25); keep(2)
    elif feel == "bodhran":
        hits.extend((x / sub, "bodhran" if x % 3 == 0 else "bodhran2", .95 if x == 0 else .8 if x % 3 == 0 else .45)
                    for x in range(n) if x % 3 == 0 or u() < .75)
    elif feel == "rock6":
        add("kick", [0]); maybe("kick", [2, 5], .3); add(back, [3], .9); keep(rng.choice([1, 3, 3]))
    elif feel == "march6":
        hits.extend((x / sub, "snare", .85 if x % 3 == 0 else .45) for x in range(n) if x % 3 == 0 or u() < .7)
        add("kick", [0]); maybe("kick", [3], .5)
    elif feel == "kick6":
        add("kick", [0, 3]); maybe("clap", [3], .4)
    elif feel == "shaker6":
        keep(3, rng.choice(["shaker", "tamb", "hat"])); maybe("kick", [0], .7)
    elif feel == "polka":
        add("kick", range(0, n, q)); add(rng.choice(["snare", "hat", "side"]), range(q // 2, n, q), .6)
    elif feel == "bodhran2":
        hits.extend((x / sub, "bodhran" if x % q == 0 else "bodhran2", .95 if x == 0 else .75 if x % q == 0 else .45)
                    for x in range(n) if x % q == 0 or u() < .7)
    elif feel == "chop":
        add(rng.choice(["side", "snare", "brush", "hat"]), range(q // 2, n, q), .6); maybe("kick", range(0, n, q), .5, .6)
    elif feel == "twostep2":
        add("kick", [0]); add("snare", [4], .8); keep(rng.choice([1, 2, 3]))
    elif feel == "kick2":
        add("kick", range(0, n, q))
    elif feel == "stompclap2":
        add("stomp", [0]); add("clap", [4], .9); maybe("stomp", [2, 6], .3)
    else:  # odd numbers of beats
        add("kick", [0]); keep(2)
        groups = [b for b in range(beats)]
        backs = [b for b in groups if b % 2 == 1 and b < beats - (beats % 2)]
        add(back, [b * q for b in backs], .85)
        maybe("kick", [b * q for b in groups if b % 2 == 0 and b], .5)
    return hits


def fill(beats: int, sub: int, rng):
    """A fill over the last beats of a bar; returns (first beat of the fill, hits)."""
    length = min(beats, int(rng.choice([1, 1, 2, 2, beats])))
    start = beats - length
    kind = rng.integers(4)
    names = ["snare", "tom1", "tom2", "tom3"]
    hits = []
    steps = length * sub
    for s in range(steps):
        if rng.uniform() < (.85 if kind < 2 else .5):
            name = "snare" if kind == 0 else names[min(3, s * 4 // steps)] if kind == 1 else rng.choice(names)
            hits.append((start + s / sub, name, .55 + .4 * s / steps))
    return start, hits
