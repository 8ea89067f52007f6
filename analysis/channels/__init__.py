"""Channels: what each is called, its unit, and what it goes by in logs.

The catalogue: `catalogue`, `units`; a log as read: `log`.
A header to a channel: `recognition`, on words evened out by `plain_words` (`abbreviations`, `sides`,
`numbers_in_names`, `word_forms`), weighed by `telling_words`; names that describe or are formula signs:
`descriptions`, `symbols`.
What channels go by: `aliases` (English), `languages`, `more_languages`, `longer_names`, `foreign_controls`,
`foreign_wheels`.
"""
