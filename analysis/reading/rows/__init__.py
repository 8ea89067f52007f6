"""Rows of text to a table of numbers.

`table` is the plain path: one strict read. Lines as places in bytes: `lines`.
Mostly blank: `sparse_rows`, `held_rows`. Damaged: `damaged_rows`, `lines_set_aside`, `odd_cells`, `unusable_values`.
Other headers amid the rows, columns that come, go or change places: `headers_within`, `relaying`, `columns_moved`,
`columns_swapped`, `shifted_columns`, `side_by_side`.
Other shapes: `long_form`, `named_above`, `fixed_width`, `columns_by_place`, `columns_by_digits`, `rows_in_order`,
`printed_pages`.
Numbers written otherwise: `decimal_commas`, `cell_units`, `two_pressure_units`, `numbers_as_dates`,
`written_otherwise`, `switches`, `stated_scales`, `wrapped_counts`, `positions`, `fuel_air_ratio`.
"""
