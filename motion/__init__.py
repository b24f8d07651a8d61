"""Motion: the computation behind helmroom. Pure numbers; no Django, no files, no clock, no global random state."""
