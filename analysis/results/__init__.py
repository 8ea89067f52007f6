"""What a review is made of. Imports nothing else of ours.

The review: `review`, and a file a part: `window`, `clocks`, `distance`, `launch`, `gears`, `shifts`, `boost`,
`power`, `band`, `limits`, `air`. A figure: `estimate`, or `unknown` with its reason.
Findings: `findings`; every kind of them: `catalogue`, `catalogue_of_logs`, `catalogue_entry`. Questions: `doubt`.
JSON and back: `codec`, `reading_back`, `plain_values`.
"""
