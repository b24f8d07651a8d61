"""The demonstration club: an estuary, six teams, three missions. All of it is invented, and every page says so."""
