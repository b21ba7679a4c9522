"""A small studio band: written tunes in, mixed and mastered songs out."""
