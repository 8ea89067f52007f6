"""The service and the command line: what is around the analysis.

It begins at `app`, with its `settings` (`store_address`); `serving` starts it (`version`, `made_ready`), and `cli` is
every command. `library` is a run in, a review out. Whoever watches asks `metrics`, `readiness` and `bytes_kept`.
Rooms, each told at its door, in the order of an upload: `http/`, `access/` (who may), `routes/`, `given/` (what users
tell), `uploads/`, `reviewing/`, `jobs/`, `kept/` and `cars/` beside the library, `store/` (rows and files) under it,
`answers/`; `openapi/` says their form, `commands/` do what a terminal asks.
"""

import os

# Set before polars is loaded, whose allocator reads it: the system may take back at any time what a log used, but need
# not clear it for the next log, which takes a fifteenth of the time of reading one of 45 MB.
os.environ.setdefault("_RJEM_MALLOC_CONF", "muzzy_decay_ms:-1")
