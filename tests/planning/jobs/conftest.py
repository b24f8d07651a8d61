"""What tests of jobs share: a job that waits, and another that nothing may touch."""

from __future__ import annotations

import pytest

from planning.models import Job
from tests import factories as make


@pytest.fixture
def job(db):
    return make.JobFactory()


@pytest.fixture
def bystander(db):
    """A job of the same kind that waits; it stays as it is."""
    other = make.JobFactory()
    yield
    row = Job.objects.get(pk=other.pk)
    assert (row.state, row.progress_words, row.sent_at, row.token) == ("waiting", "", None, 0)
