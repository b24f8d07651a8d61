from __future__ import annotations

import config.process.warm as warm


def test_what_other_sources_compiled_goes_before_compiling_anew(tmp_path, monkeypatch, settings):
    """numba looks at a kernel's own file alone, so a changed kernel could live on inside the ones that inline it."""
    settings.DATA_DIR = tmp_path / "data"
    monkeypatch.setenv("NUMBA_CACHE_DIR", str(tmp_path / "cache"))
    stale = tmp_path / "cache" / "motion_1" / "kernels.leg_free-1.py311.1.nbc"
    stale.parent.mkdir(parents=True)
    stale.touch()
    monkeypatch.setattr("motion.search.warm.compile_kernels", lambda: None)
    warm.compile_all()
    assert not stale.exists()
    assert warm.is_warm()
    stale.touch()
    warm.compile_all()
    assert stale.exists(), "the same sources keep what they compiled"
