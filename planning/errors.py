"""What planning refuses, as codes for programs; the errors themselves are those of the classroom and of motion."""

from __future__ import annotations

from enum import StrEnum


class PlanningCode(StrEnum):
    """Everything that planning refuses. The sentence, with what to do next, stands where it is refused."""

    BAD_LINE = "bad_line"
    BAD_ROOM = "bad_room"
    NEWER_PLAN = "newer_plan"
    NO_ACTIONS = "no_actions"
    NO_FILE = "no_file"
    NO_MARK = "no_mark"
    NO_MOMENT = "no_moment"
    NO_ROBOT = "no_robot"
    NO_PICTURES = "no_pictures"
    NO_TAPS = "no_taps"
    NO_TEAM = "no_team"
    NOT_PUBLISHED = "not_published"
    NOT_A_DRAFT = "not_a_draft"
    NOT_A_PLACE = "not_a_place"
    NOT_AN_ANSWER = "not_an_answer"
    NOT_CLEAR = "not_clear"
    NOT_SHOWN = "not_shown"
    OWN_COURSE = "own_course"
    PICTURE_OVER = "picture_over"
    PLANNER_NOT_READY = "planner_not_ready"
    START_OFF_TABLE = "start_off_table"
    STEP_LIMIT = "step_limit"
    TOO_FAR = "too_far"
    TOO_LARGE = "too_large"
    TOO_MANY_ACTIONS = "too_many_actions"
    TOO_MANY_ALTERNATIVES = "too_many_alternatives"
    UNKNOWN_AIM = "unknown_aim"
