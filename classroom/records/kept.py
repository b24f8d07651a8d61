"""What is kept, of whom, what for and until when, record by record: the one list that the privacy page, the exports and
the nightly purge are made from. A model that is not on it fails a test, so the pages cannot go stale.

A record is named by its label, such as ``missions.Attempt``, since this layer does not know the ones above.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


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

    CHILD = "Until the child is erased; by itself {days} days after the child has left its last team."
    RETENTION = "{days} days, then it is deleted by itself."
    AFTERWARDS = "30 days after its end, then it is deleted by itself."
    DAY = "One day, then it is deleted by itself."
    EXPIRY = "Until it runs out; what has run out is deleted each night."
    COACH = "As long as the coach's account; it ends with the club's say, and whoever runs the server deletes it."
    CLUB = "As long as the club."


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


COACHES = "The club's coaches."
TABLET = "The club's coaches; the child's own team on its tablet."
FAMILY = "The club's coaches; the child's own family."
ADMIN = "Whoever runs the server."
_TEAM = "The club's coaches; the team itself on its tablet."

KEPT: dict[str, Kept] = {
    "classroom.Member": Kept(
        "First name or nickname", Of.CHILD, "So that coaches and the team know who is meant. Never a surname, a birth date or a picture.",
        "The club's coaches; the child's own team on its tablet; the child's own family.", Until.CHILD,
    ),
    "classroom.Membership": Kept("Time in a team", Of.CHILD, "Who is in which team, from when to when.", FAMILY, Until.CHILD),
    "classroom.Attendance": Kept("Here or away", Of.CHILD, "Who was at a session, so that nobody is missed.", COACHES, Until.RETENTION),
    "missions.TeamJob": Kept("Jobs in the team", Of.CHILD, "Who drives, types, measures and logs in a turn, so that jobs go round.", TABLET, Until.RETENTION),
    "classroom.GuardianContact": Kept(
        "A guardian's e-mail and consent", Of.FAMILY,
        "To tell a family of its link, only with consent; who recorded it, when, to which notice, and when it was withdrawn.",
        COACHES, Until.CHILD,
    ),
    "classroom.SummaryLink": Kept(
        "Links of a family", Of.FAMILY, "So that only one family opens one child's page. The address itself is not kept, only its fingerprint.",
        FAMILY, Until.AFTERWARDS,
    ),
    "classroom.FamilyLetter": Kept(
        "E-mails to a family", Of.FAMILY,
        "That one was sent and when, so that none goes out twice and a family can ask for no more. What it said is not kept.",
        COACHES, Until.CHILD,
    ),
    "classroom.SummaryWords": Kept("A coach's words for the family", Of.CHILD, "What was learnt, worked on, and may be asked at home.", FAMILY, Until.CHILD),
    "classroom.Team": Kept("Teams", Of.TEAM, "A team's name, its code and its PIN as a hash.", _TEAM, Until.CLUB),
    "classroom.TabletSession": Kept("Sign-ins of tablets", Of.TEAM, "So that a coach can end them.", COACHES, Until.AFTERWARDS),
    "missions.Attempt": Kept("Runs", Of.TEAM, "What a team's robot did, to learn from. No child is named in a run.", _TEAM, Until.RETENTION),
    "missions.PlanTry": Kept("Tries", Of.TEAM, "What a team changed to see what it does.", _TEAM, Until.CLUB),
    "missions.Progress": Kept("How far a team is", Of.TEAM, "Which task is open to it.", _TEAM, Until.CLUB),
    "missions.ProgressChange": Kept("Decisions on a team's tasks", Of.TEAM, "Who opened a task and why.", COACHES, Until.CLUB),
    "missions.ChangeMark": Kept("“We changed something”", Of.TEAM, "Runs before it then count for less.", _TEAM, Until.CLUB),
    "missions.TeamDay": Kept("A team late or away", Of.TEAM, "To plan the tables of a session.", COACHES, Until.CLUB),
    "missions.RotaTurn": Kept("Turns at tables", Of.TEAM, "Which team is where and when.", "All in the room; the wall shows teams only.", Until.CLUB),
    "missions.QuickNote": Kept("A coach's lines of a session", Of.TEAM, "What to remember of the day; no child's behaviour or health.", COACHES, Until.RETENTION),
    "planning.Course": Kept("Plans", Of.TEAM, "How a team's robot is to drive.", _TEAM, Until.CLUB),
    "planning.TableSurvey": Kept("Measured tables", Of.TEAM, "Where things really stand.", _TEAM, Until.CLUB),
    "planning.Job": Kept("Work in the background", Of.TEAM, "What was computed, so that it is not computed twice. No child is named.", COACHES, Until.AFTERWARDS),
    "classroom.User": Kept("A coach's account", Of.COACH, "Name, e-mail and password as a hash, to sign in.", "The club's coaches.", Until.COACH),
    "account.EmailAddress": Kept("A coach's e-mail", Of.COACH, "To sign in and to set a new password.", ADMIN, Until.COACH),
    "account.EmailConfirmation": Kept("E-mail to confirm", Of.COACH, "Not used here; kept empty.", ADMIN, Until.COACH),
    "mfa.Authenticator": Kept("A coach's second step", Of.COACH, "The secret of their code app.", "Nobody.", Until.COACH),
    "classroom.Coach": Kept("A coach's role", Of.COACH, "Who may do what in the club.", COACHES, Until.COACH),
    "classroom.SignIn": Kept(
        "Sign-ins of a coach", Of.COACH, "When, in which browser, from which network address: so that a coach sees them and can end them.",
        "The coach alone; whoever runs the server.", Until.AFTERWARDS,
    ),
    "classroom.Invitation": Kept("Invitations of coaches", Of.COACH, "The address invited and its role.", "Lead coaches.", Until.AFTERWARDS),
    "classroom.AuditEntry": Kept("The log", Of.COACH, "Who did what and when, never what it said.", "Lead coaches.", Until.RETENTION),
    "admin.LogEntry": Kept("The support pages' log", Of.COACH, "What support has changed.", ADMIN, Until.RETENTION),
    "classroom.SignInFailure": Kept("Refused sign-ins", Of.DOOR, "The network address, so that guessing is slowed.", ADMIN, Until.DAY),
    "sessions.Session": Kept("Sign-ins of browsers", Of.DOOR, "So that one stays signed in.", "Nobody.", Until.EXPIRY),
    "classroom.Club": Kept("The club's settings", Of.CLUB, "Its name, clock and bar.", COACHES, Until.CLUB),
    "classroom.Term": Kept("Terms", Of.CLUB, "The calendar.", COACHES, Until.CLUB),
    "classroom.Session": Kept("Sessions", Of.CLUB, "The calendar, and a coach's notes of a session.", COACHES, Until.CLUB),
    "classroom.Table": Kept("Tables", Of.CLUB, "Their sizes.", COACHES, Until.CLUB),
    "classroom.SafetyCard": Kept("Cautions", Of.CLUB, "What can hurt, and who checked it.", _TEAM, Until.CLUB),
    "classroom.Robot": Kept("Robots", Of.CLUB, "Their shape and state.", _TEAM, Until.CLUB),
    "classroom.RobotAssignment": Kept("Robots of teams", Of.CLUB, "Which team has which robot.", _TEAM, Until.CLUB),
    "classroom.RobotLoan": Kept("Robots lent", Of.CLUB, "Which team had which robot for a day.", _TEAM, Until.CLUB),
    "classroom.ServiceNote": Kept("Service of robots", Of.CLUB, "What was repaired.", COACHES, Until.CLUB),
    "classroom.Calibration": Kept("Measured robots", Of.CLUB, "How a robot really moves.", _TEAM, Until.CLUB),
    "classroom.Spare": Kept("Spares", Of.CLUB, "What there is and what to buy.", COACHES, Until.CLUB),
    "missions.Mission": Kept("Missions", Of.CLUB, "What stands on the tables.", _TEAM, Until.CLUB),
    "missions.MissionVersion": Kept("Missions' versions", Of.CLUB, "What a mission was when a run was made.", _TEAM, Until.CLUB),
    "missions.Tier": Kept("Tasks", Of.CLUB, "A mission's steps.", _TEAM, Until.CLUB),
    "missions.TierVersion": Kept("Tasks' versions", Of.CLUB, "What a task was when a run was made.", _TEAM, Until.CLUB),
    "missions.BarChange": Kept("Changes of the bar", Of.CLUB, "Who changed when a team is ready, and why.", COACHES, Until.CLUB),
    "missions.SessionRun": Kept("How a session ran", Of.CLUB, "When it began and ended.", COACHES, Until.CLUB),
    "missions.PlannedMission": Kept("Planned missions", Of.CLUB, "What is on the plan of a session.", COACHES, Until.CLUB),
    "missions.CalendarFeed": Kept("The calendar's address", Of.CLUB, "Its fingerprint.", COACHES, Until.CLUB),
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
