"""What is drawn.

The `strip` and its `lane`, `lines` down the track, `charts` (`curves`), `bench_picture`, `map_picture`.
"""
