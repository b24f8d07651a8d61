"""The coach's pages of courses and jobs."""

from tests.access import CHANGES_OF_CLUB, COACHES_OF_CLUB, Row

LEADS_ON_OF_CLUB = "302 404 404 404 404 302 302 302 404"
READY = "204 204 204 204 204 204 204 204 204"  # nobody need wait; what it says else names no club
ONE_COURSE = lambda w: {"pk": w.course.pk}  # noqa: E731
ONE_JOB = lambda w: {"pk": w.job.pk}  # noqa: E731
TEAM_AND_TIER = lambda w: {"team_id": w.cast.team_a.pk, "tier_id": w.tier.pk}  # noqa: E731

ROWS = {
    "course_ask": Row(COACHES_OF_CLUB, TEAM_AND_TIER),
    "course_ask:ask": Row(
        CHANGES_OF_CLUB, TEAM_AND_TIER, lambda w: {"aim": "fastest", "alternatives": 1}, method="post"
    ),
    "course_by_number": Row(LEADS_ON_OF_CLUB, lambda w: TEAM_AND_TIER(w) | {"number": w.course.number}),
    "course": Row(COACHES_OF_CLUB, ONE_COURSE),
    "course_rehearsal": Row(COACHES_OF_CLUB, ONE_COURSE),
    "course_show": Row(CHANGES_OF_CLUB, ONE_COURSE, method="post"),
    "course_card": Row(COACHES_OF_CLUB, ONE_COURSE),
    "tier_cards": Row(COACHES_OF_CLUB, lambda w: {"tier_id": w.tier.pk}),
    "preparing": Row(READY),
    "job": Row(COACHES_OF_CLUB, ONE_JOB),
    "job_cancel": Row(CHANGES_OF_CLUB, ONE_JOB, method="post"),
}
