"""The steps of a PostgreSQL database from version to version, run by Alembic in the order of their numbers.

A chain of its own, whose first step makes what the fourth form of a SQLite file holds, with teams: no library was ever
on PostgreSQL before, so the three older forms have nothing to bring up here, and steps that make a file's tables anew
are none of a server's. A step that was ever released is never changed; the next is ``m0002_what_it_brings.py``, and
`postgres_form.NEWEST` its number.
"""
