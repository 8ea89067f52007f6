"""What is computed of stored runs when somebody asks; `shared` is what all routes use.

Runs beside each other: `side_by_side`, `digests`, `engines_held`, `group_change`, `items`,
`put_right`. One run: `traces`,
`downloads`, `sheet_files`. Foretold: `whatif_asked`, `whatif_answered`, `search_asked`, `back_tests`. Bench and map:
`bench_laid`, `map_laid`. Told back before it counts: `understanding`, `beside_understood`, `answering` (questions about
columns). Lists of runs in a file: `run_list`, `listed_sheets`.
"""
