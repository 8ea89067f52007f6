"""What a person sees: pages, the strip, charts, the print. No figure is computed here.

`assets` are the files that pages bring with them. Rooms, each told at its door: `shown/` (what pages are given),
`forms/`, `sheets/` (a review laid out, for page and print alike), `drawn/`, `printed/`, `pages/`, and `wording/`, in
which all of them write.
"""
