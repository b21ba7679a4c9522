"""Makes other cuts of rendered songs, with known maps, and measures how well `hoofbeat recut` carries marks over.

    python3 form_songs.py SONGS --per-kind 3 --half tuning
    python3 form_songs.py SONGS --per-kind 3 --half apart --round b
    python3 cuts.py SONGS CUTS --make [--part 0/2] [--kind medley cover]
    python3 cuts.py SONGS CUTS --hoofbeat ../target/release/hoofbeat [--half tuning|apart] [--kind radio take] [--each]

Kinds: radio (phrases dropped, the intro halved, faded early), extended (a phrase repeated, an intro and a break of strange
music added), transposed, tempo, both (radio, transposed, at another tempo), worn (equalised, MP3 at 64 kb/s), take (played again by
other instruments in another key at a drifting tempo, with applause), radio_take (a radio cut of that), cover (another band: other
instruments, beat, accompaniment, key, tempo), radio_cover, medley (a part of the song between other songs), moved_medley
(that in another key and tempo), other (another song), other_medley (other songs only).
`both`, `radio_take`, `radio_cover` and `moved_medley` were held back once; their failures on tuning songs have been looked at since. What is kept apart is the half of the songs that
form_songs.py calls `apart`.

Right is a phrase whose label, first count and length in counts are those of the cut's true map; what is added is
carried wrongly when more than half of it is given to a phrase of the old song.
"""
import argparse
import json
import os
import subprocess
import tempfile

import numpy as np

from cut_kinds import HELD_BACK, KINDS, REFUSED, counted, load, make


# ---------------------------------------------------------------- measuring

def true_map(hoofbeat, songs, name, work):
    """The song as the program hears it, marked by what is true."""
    to = os.path.join(work, name + ".song.json")
    if not os.path.exists(to):
        subprocess.run([hoofbeat, "listen", os.path.join(songs, name + ".wav"), "-o", to], check=True, stdout=subprocess.DEVNULL)
        beats, phrases, _ = load(os.path.join(songs, name))
        rows = counted(beats, phrases)
        m = json.load(open(to))
        last = rows[-1][0] + rows[-1][2]
        m["set"] = dict(first_count_s=beats[rows[0][0]], phrases_complete=True,
                        end_s=beats[last] if last < len(beats) else beats[-1] + .5,
                        pulse=dict(counts_per_minute=60 / float(np.median(np.diff(beats)))),
                        phrases=[dict(label=label, start_s=beats[a]) for a, label, _ in rows])
        json.dump(m, open(to, "w"))
        put_right(hoofbeat, to, rows, beats, work)
        # The routine is made for the song as the map counts it.
        danced = counted_by(hoofbeat, to)
        part = {c: f"Part {chr(65 + i)}" for i, c in enumerate(sorted(set(danced)))}
        sheet = [f"Title: {name}\nWait: 0\n"] + [f"{part[c]}: {c[1]} counts\n" for c in sorted(part)]
        sheet.append("Order: " + ", ".join(part[c] for c in danced) + "\n")
        open(os.path.join(work, name + ".txt"), "w").write("\n".join(sheet))
    return to


def counted_by(hoofbeat, song_map):
    """[(label, counts)] of a map's phrases."""
    table = subprocess.run([hoofbeat, "export", song_map, "--as", "phrases", "-o", "-"], capture_output=True, text=True, check=True)
    return [(label, int(n)) for _, _, label, n in (line.split("\t") for line in table.stdout.splitlines())]


def put_right(hoofbeat, song_map, rows, beats, work):
    """Where a phrase has the wrong number of counts, its beats are tapped, as a teacher does who marks the song."""
    taps = os.path.join(work, "taps.txt")
    for k, (first, _, n) in enumerate(rows):
        danced = counted_by(hoofbeat, song_map)
        if len(danced) != len(rows) or danced[k][1] != n:
            with open(taps, "w") as f:
                f.writelines(f"{t:.3f}\n" for t in beats[first:first + n + 1])
            subprocess.run([hoofbeat, "mark", song_map, "tap", taps], check=True, stdout=subprocess.DEVNULL)


def judge(answer, truth):
    """(right, of, false carries, added, lengths) of one cut."""
    right = of = false = added = 0
    told = answer.get("phrases", []) if answer.get("same_song") else []
    for t, label, counts, p in truth:
        if p is None:
            added += 1
            period = None
            span = (t, t + counts * answer.get("period_s", .5))
            covered = sum(max(0, min(span[1], q["end_s"]) - max(span[0], q["start_s"])) for q in told if q["of"])
            false += covered > .5 * (span[1] - span[0])
            continue
        if counts != -1 and counts < 8:
            continue
        of += 1
        for q in told:
            half = (q["end_s"] - q["start_s"]) / max(q["counts"], 1) / 2
            if q["of"] and q["of"]["label"] == label and abs(q["start_s"] - t) <= half and (counts == -1 or q["counts"] == counts):
                right += 1
                break
    return right, of, int(false), added


def true_ratio(facts, songs):
    """Tempo of the cut over the song's: of all phrases that follow one another in both, taken together."""
    beats, phrases, _ = load(os.path.join(songs, facts["song"]))
    rows = counted(beats, phrases)
    starts = [beats[a] for a, _, _ in rows]
    pairs = [(starts[q] - starts[p], u - t) for (t, _, n, p), (u, _, _, q) in zip(facts["truth"], facts["truth"][1:])
             if p is not None and q == p + 1 and n == rows[p][2]]
    return sum(a for a, _ in pairs) / sum(b for _, b in pairs) if pairs else facts["ratio"]


def selected(a):
    """(name, facts) of the cuts asked for."""
    for f in sorted(os.listdir(a.cuts)):
        if f.endswith(".json"):
            facts = json.load(open(os.path.join(a.cuts, f)))
            if a.half in (None, facts["half"]) and (not a.kind or facts["kind"] in a.kind):
                yield f[:-5], facts


def asked(hoofbeat, old, audio, work, timer=None):
    """What the program answers of a cut, and what it says where it refuses."""
    new, routine = os.path.join(work, "new.song.json"), old.replace(".song.json", ".txt")
    run = subprocess.run([hoofbeat, "recut", old, audio, "--json", "--force", "-o", new, "--routine", routine],
                         capture_output=True, text=True)
    answer = json.loads(run.stdout) if run.stdout.strip() else {}
    took = None
    if timer and os.path.exists(new):
        timed = subprocess.run([timer], input="\t".join((old, new, routine)), capture_output=True, text=True, check=True)
        took = json.loads(timed.stdout)["took_s"]
        os.remove(new)
    return answer, run.stderr.strip() if run.returncode == 2 else "", took


def judged(answer, facts, songs):
    """What is right of an answer."""
    beats = load(os.path.join(songs, facts["song"]))[0]
    answer["period_s"] = float(np.median(np.diff(beats))) / facts["ratio"]
    right, of, false, added = judge(answer, facts["truth"])
    kind, same = facts["kind"], answer.get("same_song", False)
    return dict(kind=kind, right=right, of=of, false=false, added=added, same=same == (kind not in REFUSED), took=None,
                key=answer.get("shift_semitones") == facts["semitones"],
                tempo=bool(abs(answer.get("tempo_ratio", 0) / true_ratio(facts, songs) - 1) < .03),
                verdict=(answer.get("fit") or {}).get("fits") == facts["same_form"],
                # Whether it is one recording, another performance or a part among other songs, as it is told.
                sort=answer.get("what") == ("part" if "medley" in kind else "performance" if kind in PLAYED_AGAIN else "recording"))


def told(name, row, answer, refused=""):
    """One line of what was right and what was wrong."""
    asked_of = ("same",) if row["kind"] in REFUSED else ("same", "key", "tempo", "verdict", "sort")
    wrong = " ".join(k for k in asked_of if not row[k])
    return (f"{name:28} {row['right']}/{row['of']} false {row['false']}/{row['added']} share {answer.get('matches', 0):.2f}/"
            f"{answer.get('matches_of_old', 0):.2f} sound {answer.get('same_sound') or 0:.2f} wrong: {wrong or '-'} {refused[:80]}")


def measure(a):
    work = tempfile.mkdtemp() if not a.work else a.work
    os.makedirs(work, exist_ok=True)
    rows = {k: [] for k in KINDS}
    for name, facts in selected(a):
        old = true_map(a.hoofbeat, a.songs, facts["song"], work)
        answer, refused, took = asked(a.hoofbeat, old, os.path.join(a.cuts, name + ".flac"), work, a.timer)
        row = judged(answer, facts, a.songs) | dict(took=took)
        rows[facts["kind"]].append(row)
        if a.each:
            print(told(name, row, answer, refused), flush=True)
    table(rows)


PLAYED_AGAIN = ["take", "radio_take", "cover", "radio_cover"]


def table(rows):
    print("| kind | cuts | phrases right | carried wrongly | key | tempo | same song or not | what it is | verdict | matching took |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for kind, some in rows.items():
        if not some:
            continue
        total = lambda k: sum(r[k] for r in some)
        share = lambda k: "" if kind in REFUSED else f"{100 * np.mean([r[k] for r in some]):.0f} %"
        carried = "" if kind in REFUSED else f"{100 * total('right') / max(total('of'), 1):.1f} % of {total('of')}"
        false = f"{total('false')} of {total('added')}" if total("added") else ""
        times = [r["took"] for r in some if r["took"] is not None]
        took = f"{np.median(times):.2f}, at most {max(times):.2f} s" if times else ""
        name = kind + (" *" if kind in HELD_BACK else "")
        print(f"| {name} | {len(some)} | {carried} | {false} | {share('key')} | {share('tempo')} | "
              f"{100 * np.mean([r['same'] for r in some]):.0f} % | {share('sort')} | {share('verdict')} | {took} |")


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("songs"), ap.add_argument("cuts"), ap.add_argument("--make", action="store_true")
    ap.add_argument("--part", default="0/1"), ap.add_argument("--hoofbeat"), ap.add_argument("--half")
    ap.add_argument("--kind", nargs="*"), ap.add_argument("--each", action="store_true"), ap.add_argument("--work")
    ap.add_argument("--timer", help="the example recut_kept: what matching takes beyond listening")
    a = ap.parse_args()
    if a.make:
        make(a.songs, a.cuts, *map(int, a.part.split("/")), a.kind)
    else:
        measure(a)


if __name__ == "__main__":
    main()
