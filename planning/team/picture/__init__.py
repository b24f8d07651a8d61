"""A tier's table measured by one picture: what stands off, the survey made of it, where a robot stopped.

No picture is kept: its bytes come in and numbers go out, within one request. What a second request needs of the first,
the fitted camera, goes to the browser signed and comes back from it (``carried``).
"""
