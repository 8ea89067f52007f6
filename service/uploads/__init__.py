"""An upload as it comes in: `received` to disk (`files_coming`), then looked at: `sent_files`."""
