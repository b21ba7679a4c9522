#!/usr/bin/env bash
# Makes the nine spoken words with flite's voice slt (Carnegie Mellon University; see LICENSE beside this file).
# Needs flite and sox. Words are spoken at 0.7 of their usual length, trimmed, 16 kHz mono.
set -euo pipefail
cd "$(dirname "$0")"
for word in one two three four five six seven eight and; do
    flite -voice slt --setf duration_stretch=0.7 -t "$word" -o raw.wav
    sox raw.wav "$word.wav" silence 1 0.005 0.3% reverse silence 1 0.005 0.3% fade t 0.02 reverse fade t 0.003 norm -3
done
rm raw.wav
