"""The benchmark: how often a spotter misses, is wrong, how fast it is, on a folder of recordings."""
