"""Reviews computed beside the server.

`workers` are its processes (`workload`, `memory`, `threads`); in one of them `review_files` reviews an upload or
`holding_again` holds a stored run against other bounds; `sorting` says which files are of one run. `upload_review`
asks them for the library. How far it is: `progress`, followed by `following`. `tables` keep a run's channels;
`remembered` keeps what was made last.
"""
