"""The service and the command line: what is around the analysis."""

import os

# Set before polars is loaded, whose allocator reads it: the system may take back at any time what a log used, but need
# not clear it for the next log, which takes a fifteenth of the time of reading one of 45 MB.
os.environ.setdefault("_RJEM_MALLOC_CONF", "muzzy_decay_ms:-1")
