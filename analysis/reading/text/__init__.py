"""Bytes to text, its layout, and the names above the rows.

Bytes: `unpack`, `encoding`, `code_pages`, `mended_bytes`. Layout: `layout`, `cells`, `quoting`, `bare_digits`.
Names and units: `header`, `title_rows`, `preamble`, `name_and_unit`, `listed_names`, `names_in_a_line`,
`paired_columns`, `place_labels`, `stated_scales`, `pulses_said`, `fuel_said`.
Other shapes stood upright (`upright`): `markup_tables`, `json_tables`, `sql_tables`, `rich_text`, `line_marks`,
`named_values`, `sections`, `streams`. Sentences: `refusal`, `counted`.
"""
