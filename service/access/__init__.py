"""Who may: teams, their people and what each may do.

`door` stands before every route and asks `identity` (`passwords`, `tries`, `records`); `teams` and `libraries` open
what is a team's, as `teams_told` names them. `commands`: set up from the machine itself.
`sending_people`: a backup's onto a server.
"""
