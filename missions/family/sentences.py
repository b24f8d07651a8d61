"""Every sentence that a family reads of the records, in the language that is active: plain values in, sentences out.

A sentence is whole in each language: nothing is glued to it but names, numbers and, behind it, another whole sentence.
"""

from __future__ import annotations

from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from classroom.site.figures import figure_said, length_said
from classroom.site.isolated import isolated
from missions.models import Cause, TierKind
from missions.runs.rules.runs_say import LAST, RunsSay
from missions.runs.what_changed import PlanRuns

#: What a team measured of its robot, as something that it learnt.
MEASURED_KINDS = ("straight", "spin", "square")
#: The causes of a miss that a family is told of.
TOLD_CAUSES = (
    Cause.TURNED_TOO_FAR,
    Cause.TURNED_TOO_LITTLE,
    Cause.TOO_SHORT,
    Cause.TOO_LONG,
    Cause.WHEEL_SLIP,
    Cause.TOUCHED,
)


def passed_sentence(mission: str, kind: TierKind) -> str:
    sentences = {
        TierKind.PLAIN: _(
            "Planning a course for %(mission)s in which the robot can drive out, do the task and come home."
        ),
        TierKind.OBSTACLE: _("Planning a course for %(mission)s in which the robot can find a way round an obstacle."),
        TierKind.TIMED: _("Planning a course for %(mission)s in which the robot can do it all against the clock."),
    }
    return sentences[kind] % {"mission": isolated(mission)}


def measured_sentence(kind: str) -> str:
    return {
        "straight": _("Measuring how far the robot really goes, and typing numbers that allow for it."),
        "spin": _("Measuring how far the robot really turns, and typing numbers that allow for it."),
        "square": _("Driving a square both ways to find out what the robot does wrong at each corner."),
    }[kind]


def first_learnt_sentence() -> str:
    """True of every team."""
    return _("Measuring a table with a tape, from its edges, and writing it down.")


def working_sentences(open_now: list[tuple[str, TierKind]], causes: list[Cause]) -> list[str]:
    """``open_now``: missions and kinds of tier, the newest first; ``causes`` of late misses, the most frequent first."""
    if not open_now:
        return [_("Getting ready for the next mission.")]
    tasks = [_task(mission, kind) for mission, kind in open_now]
    with_causes = [_just_now(cause) % {"task": tasks[0]} for cause in causes]
    alone = tasks[1:] if with_causes else tasks
    return with_causes + [_("%(task)s.") % {"task": task} for task in alone]


def _task(mission: str, kind: TierKind) -> str:
    tasks = {
        TierKind.PLAIN: _("%(mission)s: to drive out, do the task and come home"),
        TierKind.OBSTACLE: _("%(mission)s: to find a way round an obstacle"),
        TierKind.TIMED: _("%(mission)s: to do it all against the clock"),
    }
    return tasks[kind] % {"mission": isolated(mission)}


def _just_now(cause: Cause) -> str:
    return {
        Cause.TURNED_TOO_FAR: _("%(task)s; just now, turns that come out too large."),
        Cause.TURNED_TOO_LITTLE: _("%(task)s; just now, turns that come out too small."),
        Cause.TOO_SHORT: _("%(task)s; just now, distances that come out too short."),
        Cause.TOO_LONG: _("%(task)s; just now, distances that come out too long."),
        Cause.WHEEL_SLIP: _("%(task)s; just now, wheels that slip."),
        Cause.TOUCHED: _("%(task)s; just now, keeping clear of the obstacle."),
    }[cause]


def questions(open_now: list[tuple[str, TierKind]], causes: list[Cause]) -> list[str]:
    """What may be asked at home: about what went wrong of late, else what every team can answer."""
    found = [_cause_question(cause) for cause in causes]
    if any(kind == TierKind.TIMED for _mission, kind in open_now):
        found.append(_("Where does your robot lose the most time?"))
    return found or [
        _("What did you change after a run that missed, and what happened then?"),
        _("What does the robot do that you do not tell it to?"),
        _("What would you try next, and how would you see whether it helped?"),
    ]


def _cause_question(cause: Cause) -> str:
    return {
        Cause.TURNED_TOO_FAR: _("How did you find out that the robot turned too far?"),
        Cause.TURNED_TOO_LITTLE: _("How did you find out that the robot turned too little?"),
        Cause.TOO_SHORT: _("How do you know how far the robot really goes?"),
        Cause.TOO_LONG: _("What makes the robot go farther than you told it?"),
        Cause.WHEEL_SLIP: _("What makes a wheel slip, and what did you try against it?"),
        Cause.TOUCHED: _("How much room does the robot need when it turns?"),
    }[cause]


def own_job_sentence(job: str, count: int) -> str:
    """Of what a child itself had to do, as one thing learnt."""
    sentences = {
        "drive": ngettext(
            "Setting the robot down on the same place, the same way round, each time: this job came once.",
            "Setting the robot down on the same place, the same way round, each time: this job came %(count)s times.",
            count,
        ),
        "type": ngettext(
            "Typing a plan's numbers into the robot and reading them again: this job came once.",
            "Typing a plan's numbers into the robot and reading them again: this job came %(count)s times.",
            count,
        ),
        "measure": ngettext(
            "Measuring with the tape to the mark, and again to be sure: this job came once.",
            "Measuring with the tape to the mark, and again to be sure: this job came %(count)s times.",
            count,
        ),
        "log": ngettext(
            "Writing down what a run did, also one that missed: this job came once.",
            "Writing down what a run did, also one that missed: this job came %(count)s times.",
            count,
        ),
    }
    return sentences[job] % {"count": count}


def own_job_question(job: str) -> str:
    return {
        "drive": _("How do you set the robot down so that it starts from the same place each time?"),
        "type": _("What do you look at before the robot may start?"),
        "measure": _("How did you measure, and how sure are you of the last number?"),
        "log": _("What do you write down about a run, and what is it good for?"),
    }[job]


def written_question(text: str) -> str:
    return _("When it was your turn to write, your team wrote “%(text)s”. What came of it?") % {"text": isolated(text)}


def job_count_words(job: str, turns: int) -> str:
    """One line of a list: a job, and how often."""
    lines = {
        "drive": ngettext(
            "setting the robot down and starting it: once",
            "setting the robot down and starting it: %(count)s times",
            turns,
        ),
        "type": ngettext(
            "typing the numbers into the robot: once", "typing the numbers into the robot: %(count)s times", turns
        ),
        "measure": ngettext("measuring with the tape: once", "measuring with the tape: %(count)s times", turns),
        "log": ngettext(
            "writing down what each run did: once", "writing down what each run did: %(count)s times", turns
        ),
    }
    return lines[job] % {"count": turns}


def tier_in_sentence(mission: str, tier: str) -> str:
    """A mission and one of its tiers. German keeps a noun's capital wherever it stands."""
    within = tier if get_language() == "de" else tier.lower()
    return _("%(mission)s, %(tier)s") % {"mission": isolated(mission), "tier": isolated(within)}


def runs_sentence(says: RunsSay, ever: int, unit: str) -> str:
    """What the runs say of a tier. ``ever``: all runs on record, whether they count or not."""
    if not ever:
        return _("They have just begun.")
    if not says.runs:
        return ngettext(
            "%(count)s run so far; none yet of a known plan with the robot as it is now.",
            "%(count)s runs so far; none yet of a known plan with the robot as it is now.",
            ever,
        ) % {"count": ever}
    return " ".join([_worked(says), *([_landing(says, unit)] if says.sides else [])])


def _worked(says: RunsSay) -> str:
    if says.runs == LAST:
        return _("%(clean)s of the last %(count)s runs worked.") % {"clean": says.clean, "count": says.runs}
    return ngettext("%(clean)s of %(count)s run worked.", "%(clean)s of %(count)s runs worked.", says.runs) % {
        "clean": says.clean,
        "count": says.runs,
    }


def _landing(says: RunsSay, unit: str) -> str:
    """One side, or one to the left or right and one along the way."""
    n = says.measured
    first, second = length_said(says.sides[0].mm, unit), length_said(says.sides[-1].mm, unit)
    sentences = {
        ("left",): ngettext(
            "On average it lands %(first)s left (%(count)s run measured).",
            "On average it lands %(first)s left (%(count)s runs measured).",
            n,
        ),
        ("right",): ngettext(
            "On average it lands %(first)s right (%(count)s run measured).",
            "On average it lands %(first)s right (%(count)s runs measured).",
            n,
        ),
        ("too far",): ngettext(
            "On average it lands %(first)s too far (%(count)s run measured).",
            "On average it lands %(first)s too far (%(count)s runs measured).",
            n,
        ),
        ("short",): ngettext(
            "On average it lands %(first)s short (%(count)s run measured).",
            "On average it lands %(first)s short (%(count)s runs measured).",
            n,
        ),
        ("left", "too far"): ngettext(
            "On average it lands %(first)s left and %(second)s too far (%(count)s run measured).",
            "On average it lands %(first)s left and %(second)s too far (%(count)s runs measured).",
            n,
        ),
        ("left", "short"): ngettext(
            "On average it lands %(first)s left and %(second)s short (%(count)s run measured).",
            "On average it lands %(first)s left and %(second)s short (%(count)s runs measured).",
            n,
        ),
        ("right", "too far"): ngettext(
            "On average it lands %(first)s right and %(second)s too far (%(count)s run measured).",
            "On average it lands %(first)s right and %(second)s too far (%(count)s runs measured).",
            n,
        ),
        ("right", "short"): ngettext(
            "On average it lands %(first)s right and %(second)s short (%(count)s run measured).",
            "On average it lands %(first)s right and %(second)s short (%(count)s runs measured).",
            n,
        ),
    }
    ways = tuple(side.way for side in says.sides)
    return sentences[ways] % {"first": first, "second": second, "count": n}


def week_words(day: str, middle: str, unit: str, runs: int) -> str:
    """A point of the picture. ``middle``: the median, rounded."""
    return _("%(day)s: %(middle)s %(unit)s from %(count)s measured runs") % {
        "day": day,
        "middle": middle,
        "unit": unit,
        "count": runs,
    }


def change_sentences(own: PlanRuns, tier: str, unit: str) -> str:
    """A change is said only where it is one; else the runs are about as before, with one number for them all."""
    found, parts = own.changes, []
    if off := found.off:
        lengths = {
            "together": length_said(off.together, unit),
            "before": length_said(off.before, unit),
            "after": length_said(off.after, unit),
            "count": off.runs_before + off.runs_after,
            "first": off.runs_before,
            "last": off.runs_after,
        }
        parts.append(_off_sentence(off.way) % lengths)
    if clean := found.clean:
        counts = {
            "together": figure_said(clean.together),
            "before": figure_said(clean.before),
            "after": figure_said(clean.after),
            "count": clean.runs_before + clean.runs_after,
            "first": clean.runs_before,
            "last": clean.runs_after,
        }
        parts.append(_clean_sentence(clean.way) % counts)
    if not parts:
        return ""
    where = (
        _("%(tier)s, runs of plan %(plan)s with the robot as it is now.") % {"tier": tier, "plan": found.plan}
        if tier
        else _("Runs of plan %(plan)s with the robot as it is now.") % {"plan": found.plan}
    )
    return " ".join([where, *parts])


def _off_sentence(way: str) -> str:
    if way == "same":
        return _("They end about as far from the mark as before: usually %(together)s (%(count)s runs measured).")
    if way == "less":
        return _(
            "They end closer to the mark than before: usually %(before)s away in the first %(first)s runs measured "
            "and %(after)s in the %(last)s since."
        )
    return _(
        "They end farther from the mark than before: usually %(before)s away in the first %(first)s runs measured "
        "and %(after)s in the %(last)s since."
    )


def _clean_sentence(way: str) -> str:
    if way == "same":
        return _("About as many work as before: %(together)s of %(count)s.")
    if way == "more":
        return _("More of them work: %(after)s of the last %(last)s, %(before)s of the %(first)s before.")
    return _("Fewer of them work: %(after)s of the last %(last)s, %(before)s of the %(first)s before.")
