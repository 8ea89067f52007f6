"""What pages ask: of a `car`, its `limits`; what was `understood`; `doubts` about a log."""
