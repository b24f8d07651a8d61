"""The obstacle assistant: what it proposes blocks the plain route and leaves the room that was asked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from motion.errors import DeadlineError, MotionError
from motion.search.obstacle_places import propose_obstacles
from motion.search.plan import plan_courses
from tests.motion.scenes import plain_scene
from tests.oracles.judge import judge_course


@pytest.mark.slow
def test_a_proposed_place_blocks_the_plain_route_and_leaves_a_course_with_the_room():
    scene = plain_scene()
    proposals = propose_obstacles(scene, room_mm=20, count=2, seed=1)
    assert proposals
    plain = plan_courses(replace(scene, margin_mm=20), "fastest", seed=1)[0]
    chances = [p.course.check.success.probability for p in proposals]
    assert chances == sorted(chances, reverse=True)
    for proposal in proposals:
        harder = replace(scene, obstacles=(proposal.obstacle,))
        assert not judge_course(harder, plain.start, plain.actions).clear
        roomy = replace(harder, margin_mm=20)
        assert judge_course(roomy, proposal.course.start, proposal.course.actions).clear
        assert proposal.course.check.clearance_mm >= 20 - 1e-6
        assert proposal.longer_s > 0


def test_no_time_and_no_sense_are_said():
    with pytest.raises(DeadlineError):
        propose_obstacles(plain_scene(), room_mm=20, count=1, deadline=lambda: 0.0)
    with pytest.raises(MotionError) as caught:
        propose_obstacles(plain_scene(), room_mm=float("nan"))
    assert caught.value.code == "bad_room"
