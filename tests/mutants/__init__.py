"""Mutation testing of the decisions: small faults put into a module one at a time, to see whether its tests notice.

``make mutants`` runs it; ``docs/mutants.md`` says what is changed, in which modules, and what survived and why.
"""
