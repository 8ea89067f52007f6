"""What every request passes before its route, and every answer on its way out.

In: `slow_clients`, `long_bodies`, `guard`, `request_ids`, `questions`, `bodies`. Out: `headers`, `assets`, `answered`;
`errors` is the one form of what went wrong, `log_lines` the server's own log.
"""
