"""What listening costs beside decoding alone, on the same file.

    cargo build --release --features measure --bin hoofbeat --example decoding_speed
    python3 training/speed.py target/release song.mp3 [--pairs 10] [--songs 100]

Decoding alone is the decoder by itself on one core, every packet decoded and dropped (`examples/decoding_speed.rs`).
Listening is the whole command, from the start of the process to the map on standard output. Both are run in turn;
the least and the median of all runs are printed, because other programs on the machine only ever add. With --songs, so many links
to the file are listened to in one command. Exit 1 where the map from one core is not, byte for byte, that from all.
"""
import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time


def run(command, cores=None):
    """Output, processor seconds, wall seconds, peak MiB."""
    bind = (lambda: os.sched_setaffinity(0, cores)) if cores else None
    start = time.time()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, preexec_fn=bind)
    out = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    if status:
        sys.exit(f"{command[0]} failed")
    return out, used.ru_utime + used.ru_stime, time.time() - start, used.ru_maxrss / 1024


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("folder", help="where hoofbeat and examples/decoding_speed are")
    ap.add_argument("song")
    ap.add_argument("--pairs", type=int, default=10)
    ap.add_argument("--songs", type=int, default=0)
    args = ap.parse_args()
    hoofbeat = os.path.join(args.folder, "hoofbeat")
    decoding = os.path.join(args.folder, "examples", "decoding_speed")
    alone, cpu, wall, memory, out = [], [], [], [], b""
    for _ in range(args.pairs):
        said, *_ = run([decoding, args.song, "2"])
        alone.append(float(re.search(rb"alone ([\d.]+)", said)[1]))
        out, c, w, m = run([hoofbeat, "listen", args.song, "-o", "-"])
        cpu.append(c), wall.append(w), memory.append(m)
    print(f"decoding alone        least {min(alone):.3f} s  median {statistics.median(alone):.3f} s")
    for name, times in (("listening, processor", cpu), ("listening, wall", wall)):
        print(f"{name:21} least {min(times):.3f} s  median {statistics.median(times):.3f} s  "
              f"{min(times) / min(alone):.2f} and {statistics.median(times) / statistics.median(alone):.2f} times decoding")
    print(f"peak memory           {max(memory):.0f} MiB")
    if args.songs:
        with tempfile.TemporaryDirectory() as folder:
            songs = [os.path.join(folder, f"{n}{os.path.splitext(args.song)[1]}") for n in range(args.songs)]
            for song in songs:
                os.symlink(os.path.abspath(args.song), song)
            _, c, w, m = run([hoofbeat, "listen", "--no-cache", *songs])
        print(f"{args.songs} songs             wall {w:.2f} s = {w / min(alone):.0f} times one song's decoding "
              f"(processor {c:.2f} s), {m:.0f} MiB")
    one_core, *_ = run([hoofbeat, "listen", args.song, "-o", "-"], cores=[min(os.sched_getaffinity(0))])
    print("one core and all give the same map" if one_core == out else "ONE CORE GIVES ANOTHER MAP")
    sys.exit(one_core != out)


if __name__ == "__main__":
    main()
