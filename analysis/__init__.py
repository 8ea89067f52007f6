"""Pure computation: from the bytes of a data-logger file to the review of a run."""
