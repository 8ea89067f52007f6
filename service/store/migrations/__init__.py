"""The steps of the database from version to version, run by Alembic in the order of their numbers.

A step that was ever released is never changed. A next one is a file ``m0005_what_it_brings.py`` with ``revision``,
``down_revision`` and ``upgrade``; what the database then looks like goes into `released_forms`, the tables as the
code uses them into `schema`. Tests hold the three against each other. There is no way back: an older program
refuses a database that is newer than itself.
"""
