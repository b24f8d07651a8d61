"""Where a robot stands to push: its nose, driven the gap ahead, meets the contact."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point
from shapely.geometry import Polygon as ShapelyPolygon

from motion.scene.contact import Nose, contact_of, nose_of, precontact_of
from motion.scene.records import Pose

poses = st.builds(Pose, st.floats(-3000, 3000), st.floats(-3000, 3000), st.floats(-360, 360))
noses = st.builds(Nose, st.floats(10, 500), st.floats(-200, 200))


@given(contact=poses, nose=noses, gap=st.floats(0, 500))
def test_the_contact_and_the_pose_before_it_belong_together(contact: Pose, nose: Nose, gap: float) -> None:
    back = contact_of(precontact_of(contact, nose, gap), nose, gap)
    assert (back.x_mm, back.y_mm) == pytest.approx((contact.x_mm, contact.y_mm), abs=0.002)
    assert back.heading_deg == contact.heading_deg


@given(
    contact=poses,
    reach=st.integers(60, 300),
    left=st.integers(-60, 60),
    half=st.integers(5, 40),
    gap=st.integers(0, 100),
)
def test_the_body_driven_ahead_by_the_gap_touches_with_the_middle_of_its_nose(
    contact: Pose, reach: int, left: int, half: int, gap: int
) -> None:
    """Against shapely: the body placed and moved there, apart from how the pose was worked out."""
    hull = [(-50, -75), (50, -75), (50, 75), (-50, 75)]
    tool = [(50, left - half), (reach, left - half), (reach, left + half), (50, left + half)]
    pose = precontact_of(contact, nose_of([hull, tool]), gap)
    h = math.radians(pose.heading_deg)
    body = affinity.rotate(MultiPolygon([ShapelyPolygon(hull), ShapelyPolygon(tool)]), pose.heading_deg, origin=(0, 0))
    body = affinity.translate(body, pose.x_mm + gap * math.cos(h), pose.y_mm + gap * math.sin(h))
    point = Point(contact.x_mm, contact.y_mm)
    assert body.distance(point) < 0.01
    beyond = Point(contact.x_mm + math.cos(h), contact.y_mm + math.sin(h))
    assert body.distance(beyond) == pytest.approx(1.0, abs=0.01)


def test_a_pointed_nose_and_a_slanted_one_have_their_middle_where_they_are_foremost() -> None:
    assert nose_of([[(-50, -50), (100, 20), (-50, 50)]]) == Nose(100, 20)
    assert nose_of([[(-50, -60), (100, -60), (99.5, 40), (-50, 40)]]) == Nose(100, -10)
