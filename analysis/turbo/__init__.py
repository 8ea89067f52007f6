"""A run over its compressor's map: `map` (read, and points placed on it), `gas`, `run_air`, `path`."""
