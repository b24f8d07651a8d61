"""PostgreSQL for a server: as Django has it, and nobody waits for one that hangs."""
