"""The mission editor's own rules: the form as a sheet, steps on it, its reading, its problems, comparisons."""
