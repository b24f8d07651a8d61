"""What becomes of runs, jobs and words when something breaks: ``make faults``, and its table in ``docs/faults.md``.

Two houses stand on this machine's loopback, each in a folder of its own that is gone afterwards: a server (``server.py``)
and a laptop (``laptop.py``). ``people.py`` are tablets and a coach that use them; ``ledger.py`` counts rows, past the
program's own code. A fault is a function with a sentence (``fault.py``), in the file of its group.
"""
