"""The songs, one file each. Every file has a `SONG` and a `play(song)` that returns the take."""
