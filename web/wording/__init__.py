"""How the pages write: figures with their `units` (`figures`), sentences (`prose`), channels (`channel_titles`)."""
