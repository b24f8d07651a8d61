"""How motion's loops are compiled.

A ``kernel`` is called from Python; what it was compiled to is kept beside the sources (or in NUMBA_CACHE_DIR), for the
types of its first call: callers always hand over the same ones, so that nothing is compiled twice. An ``inner``
function is called by kernels and compiled into them; called from Python it is plain, slow Python. ``inner_fast`` also
lets the compiler reorder sums and drop tests for infinities, for loops over float32 runs that differ far more by chance.

An ``inner`` function uses the arrays that it is given and counts no references to them: each count is a locked addition,
and in loops over sides of walls they were a third of all time. So it may neither make an array nor return one, alone or in
a tuple; who does is an ``inner_maker``, which counts.

Numba looks at a kernel's own file alone: after an inner function of another file has changed, remove what was compiled
(``manage.py warm`` does) before trusting a result. Dividing by zero gives an infinity, as in numpy, and no exception.
"""

from __future__ import annotations

from typing import Any

from numba import njit
from numba.extending import register_jitable

#: No doors for C, and none for Python where only kernels call: half of what there was to compile.
_LEAN: dict[str, Any] = {"error_model": "numpy", "no_cfunc_wrapper": True}

#: Said outright: what is left open is taken over from whoever calls first.
_COUNTS: dict[str, Any] = {"_nrt": True}
_COUNTS_NOT: dict[str, Any] = {"_nrt": False}

kernel = njit(cache=True, nogil=True, **_COUNTS, **_LEAN)
inner = register_jitable(**_COUNTS_NOT, **_LEAN)
inner_maker = register_jitable(**_COUNTS, **_LEAN)
inner_fast = register_jitable(fastmath=True, **_COUNTS_NOT, **_LEAN)
