"""What is kept, of whom, what for and until when, record by record: the one list that the privacy page, the exports and
the nightly purge are made from. A model that is not on it fails a test, so the pages cannot go stale.

A record is named by its label, such as ``missions.Attempt``, since this layer does not know the ones above.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _


class Of(StrEnum):
    """Whom a record is about."""

    CHILD = "a child"
    FAMILY = "a child's family"
    TEAM = "a team, no child by itself"
    COACH = "a coach"
    CLUB = "the club and its things"
    DOOR = "whoever comes to the door"


class Until(StrEnum):
    """The dates of deletion. ``{days}`` is the club's own number of days."""

    CHILD = _("Until the child is erased; by itself {days} days after the child has left its last team.")
    RETENTION = _("{days} days, then it is deleted by itself.")
    AFTERWARDS = _("30 days after its end, then it is deleted by itself.")
    DAY = _("One day, then it is deleted by itself.")
    EXPIRY = _("Until it runs out; what has run out is deleted each night.")
    COACH = _("As long as the coach's account; it ends with the club's say, and whoever runs the server deletes it.")
    CLUB = _("As long as the club.")


@dataclass(frozen=True)
class Kept:
    """
    Parameters
    ----------
    what
        In the club's own words, for a page's heading.
    why
        What it is needed for, a whole sentence.
    seen_by
        Who sees it.
    """

    what: str
    of: Of
    why: str
    seen_by: str
    until: Until

    def said(self) -> Kept:
        """The same in the language that is active."""
        return replace(self, what=gettext(self.what), why=gettext(self.why), seen_by=gettext(self.seen_by))


COACHES = _("The club's coaches.")
TABLET = _("The club's coaches; the child's own team on its tablet.")
FAMILY = _("The club's coaches; the child's own family.")
ADMIN = _("Whoever runs the server.")
_TEAM = _("The club's coaches; the team itself on its tablet.")

KEPT: dict[str, Kept] = {
    "classroom.Member": Kept(
        _("First name or nickname"), Of.CHILD, _("So that coaches and the team know who is meant. Never a surname, a birth date or a picture."),
        _("The club's coaches; the child's own team on its tablet; the child's own family."), Until.CHILD,
    ),
    "classroom.Membership": Kept(_("Time in a team"), Of.CHILD, _("Who is in which team, from when to when."), FAMILY, Until.CHILD),
    "classroom.Attendance": Kept(_("Here or away"), Of.CHILD, _("Who was at a session, so that nobody is missed."), COACHES, Until.RETENTION),
    "missions.TeamJob": Kept(_("Jobs in the team"), Of.CHILD, _("Who drives, types, measures and logs in a turn, so that jobs go round."), TABLET, Until.RETENTION),
    "classroom.GuardianContact": Kept(
        _("A guardian's e-mail and consent"), Of.FAMILY,
        _("To tell a family of its link, only with consent; who recorded it, when, to which notice, and when it was withdrawn."),
        COACHES, Until.CHILD,
    ),
    "classroom.SummaryLink": Kept(
        _("Links of a family"), Of.FAMILY, _("So that only one family opens one child's page. The address itself is not kept, only its fingerprint."),
        FAMILY, Until.AFTERWARDS,
    ),
    "classroom.FamilyLetter": Kept(
        _("E-mails to a family"), Of.FAMILY,
        _("That one was sent and when, so that none goes out twice and a family can ask for no more. What it said is not kept."),
        COACHES, Until.CHILD,
    ),
    "classroom.SummaryWords": Kept(_("A coach's words for the family"), Of.CHILD, _("What was learnt, worked on, and may be asked at home."), FAMILY, Until.CHILD),
    "classroom.Team": Kept(_("Teams"), Of.TEAM, _("A team's name, its code and its PIN as a hash."), _TEAM, Until.CLUB),
    "classroom.TabletSession": Kept(_("Sign-ins of tablets"), Of.TEAM, _("So that a coach can end them."), COACHES, Until.AFTERWARDS),
    "missions.Attempt": Kept(_("Runs"), Of.TEAM, _("What a team's robot did, to learn from. No child is named in a run."), _TEAM, Until.RETENTION),
    "missions.PlanTry": Kept(_("Tries"), Of.TEAM, _("What a team changed to see what it does."), _TEAM, Until.CLUB),
    "missions.Progress": Kept(_("How far a team is"), Of.TEAM, _("Which task is open to it."), _TEAM, Until.CLUB),
    "missions.ProgressChange": Kept(_("Decisions on a team's tasks"), Of.TEAM, _("Who opened a task and why."), COACHES, Until.CLUB),
    "missions.ChangeMark": Kept(_("“We changed something”"), Of.TEAM, _("Runs before it then count for less."), _TEAM, Until.CLUB),
    "missions.TeamDay": Kept(_("A team late or away"), Of.TEAM, _("To plan the tables of a session."), COACHES, Until.CLUB),
    "missions.RotaTurn": Kept(_("Turns at tables"), Of.TEAM, _("Which team is where and when."), _("All in the room; the wall shows teams only."), Until.CLUB),
    "missions.QuickNote": Kept(_("A coach's lines of a session"), Of.TEAM, _("What to remember of the day; no child's behaviour or health."), COACHES, Until.RETENTION),
    "planning.Course": Kept(_("Plans"), Of.TEAM, _("How a team's robot is to drive."), _TEAM, Until.CLUB),
    "planning.TableSurvey": Kept(_("Measured tables"), Of.TEAM, _("Where things really stand."), _TEAM, Until.CLUB),
    "planning.Job": Kept(_("Work in the background"), Of.TEAM, _("What was computed, so that it is not computed twice. No child is named."), COACHES, Until.AFTERWARDS),
    "classroom.User": Kept(_("A coach's account"), Of.COACH, _("Name, e-mail and password as a hash, to sign in."), _("The club's coaches."), Until.COACH),
    "account.EmailAddress": Kept(_("A coach's e-mail"), Of.COACH, _("To sign in and to set a new password."), ADMIN, Until.COACH),
    "account.EmailConfirmation": Kept(_("E-mail to confirm"), Of.COACH, _("Not used here; kept empty."), ADMIN, Until.COACH),
    "mfa.Authenticator": Kept(_("A coach's second step"), Of.COACH, _("The secret of their code app."), _("Nobody."), Until.COACH),
    "classroom.Coach": Kept(_("A coach's role"), Of.COACH, _("Who may do what in the club."), COACHES, Until.COACH),
    "classroom.SignIn": Kept(
        _("Sign-ins of a coach"), Of.COACH, _("When, in which browser, from which network address: so that a coach sees them and can end them."),
        _("The coach alone; whoever runs the server."), Until.AFTERWARDS,
    ),
    "classroom.Invitation": Kept(_("Invitations of coaches"), Of.COACH, _("The address invited and its role."), _("Lead coaches."), Until.AFTERWARDS),
    "classroom.AuditEntry": Kept(_("The log"), Of.COACH, _("Who did what and when, never what it said."), _("Lead coaches."), Until.RETENTION),
    "admin.LogEntry": Kept(_("The support pages' log"), Of.COACH, _("What support has changed."), ADMIN, Until.RETENTION),
    "classroom.SignInFailure": Kept(_("Refused sign-ins"), Of.DOOR, _("The network address, so that guessing is slowed."), ADMIN, Until.DAY),
    "sessions.Session": Kept(_("Sign-ins of browsers"), Of.DOOR, _("So that one stays signed in."), _("Nobody."), Until.EXPIRY),
    "classroom.Club": Kept(_("The club's settings"), Of.CLUB, _("Its name, clock and bar."), COACHES, Until.CLUB),
    "classroom.Term": Kept(_("Terms"), Of.CLUB, _("The calendar."), COACHES, Until.CLUB),
    "classroom.Session": Kept(_("Sessions"), Of.CLUB, _("The calendar, and a coach's notes of a session."), COACHES, Until.CLUB),
    "classroom.Table": Kept(_("Tables"), Of.CLUB, _("Their sizes."), COACHES, Until.CLUB),
    "classroom.SafetyCard": Kept(_("Cautions"), Of.CLUB, _("What can hurt, and who checked it."), _TEAM, Until.CLUB),
    "classroom.Robot": Kept(_("Robots"), Of.CLUB, _("Their shape and state."), _TEAM, Until.CLUB),
    "classroom.RobotAssignment": Kept(_("Robots of teams"), Of.CLUB, _("Which team has which robot."), _TEAM, Until.CLUB),
    "classroom.RobotLoan": Kept(_("Robots lent"), Of.CLUB, _("Which team had which robot for a day."), _TEAM, Until.CLUB),
    "classroom.ServiceNote": Kept(_("Service of robots"), Of.CLUB, _("What was repaired."), COACHES, Until.CLUB),
    "classroom.Calibration": Kept(_("Measured robots"), Of.CLUB, _("How a robot really moves."), _TEAM, Until.CLUB),
    "classroom.Spare": Kept(_("Spares"), Of.CLUB, _("What there is and what to buy."), COACHES, Until.CLUB),
    "missions.Mission": Kept(_("Missions"), Of.CLUB, _("What stands on the tables."), _TEAM, Until.CLUB),
    "missions.MissionVersion": Kept(_("Missions' versions"), Of.CLUB, _("What a mission was when a run was made."), _TEAM, Until.CLUB),
    "missions.Tier": Kept(_("Tasks"), Of.CLUB, _("A mission's steps."), _TEAM, Until.CLUB),
    "missions.TierVersion": Kept(_("Tasks' versions"), Of.CLUB, _("What a task was when a run was made."), _TEAM, Until.CLUB),
    "missions.BarChange": Kept(_("Changes of the bar"), Of.CLUB, _("Who changed when a team is ready, and why."), COACHES, Until.CLUB),
    "missions.SessionRun": Kept(_("How a session ran"), Of.CLUB, _("When it began and ended."), COACHES, Until.CLUB),
    "missions.PlannedMission": Kept(_("Planned missions"), Of.CLUB, _("What is on the plan of a session."), COACHES, Until.CLUB),
    "missions.CalendarFeed": Kept(_("The calendar's address"), Of.CLUB, _("Its fingerprint."), COACHES, Until.CLUB),
}  # fmt: skip

#: Framework's own tables that hold nothing of anybody: kinds of rows and of rights.
OF_NOBODY = {"contenttypes.ContentType", "auth.Permission", "auth.Group"}

#: Sentences that people type: an erased child's name is taken out of them too.
FREE_TEXT: dict[str, tuple[str, ...]] = {
    "classroom.SummaryWords": ("learnt", "working_on", "ask_at_home"),
    "classroom.ServiceNote": ("text",),
    "classroom.Session": ("notes",),
    "classroom.SafetyCard": ("text",),
    "missions.PlanTry": ("words",),
    "missions.Attempt": ("change_to_try", "note"),
    "missions.Progress": ("why", "need"),
    "missions.ProgressChange": ("reason",),
    "missions.ChangeMark": ("words",),
    "missions.BarChange": ("reason",),
    "missions.SessionRun": ("cancelled_why",),
    "missions.QuickNote": ("text",),
    "planning.Course": ("note",),
    "planning.Job": ("progress_words", "error_words"),
}
#: As above, in documents.
FREE_DOCUMENTS: dict[str, tuple[str, ...]] = {
    "missions.Progress": ("evidence",),
    "missions.ProgressChange": ("evidence",),
    "planning.Job": ("input", "result"),
}
