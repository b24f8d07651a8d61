"""Many tablets and boards at once: ``make load``, and its tables in ``docs/load.md``.

A house of ``tests/faults`` stands on loopback, in a folder of its own that is gone afterwards: a server with PostgreSQL, Redis and a
worker, or with ``--laptop`` a laptop with SQLite. ``crowd.py`` are the people, each with their own pace; ``report.py`` says how long
they waited, what of their runs has its row, and what it cost.
"""
