"""What a person sees: pages, the strip, charts, the print. No figure is computed here.

Pages: `pages`, `start_page`, `run_page` (`top_of_run`), `car_page`, `parts_page`, `foretold_page`, `many_pages`,
`season`, `runline`, `assets`; given to them: `run_shown`, `car_shown`, `parts_shown`, `groups_shown`, `trash_shown`;
forms: `carform`, `limitcards`, `doubts`, `understood`.
A review laid out, for page and print alike: `sheets` calls `sheet_track`, `sheet_engine`, on `sheet`; words: `words`,
`units`, `prose` (sentences in the reader's units), `channel_titles`.
Drawn: `strip`, `lane`, `lines`, `charts`, `curves`, `bench_picture`, `map_picture`, `paper`, `paper_event`.
Printed: `printed`, `printed_page`, `printed_runs`, `printed_bench`, `printed_whatif`.
"""
