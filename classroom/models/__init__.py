from classroom.models.audit import AuditEntry
from classroom.models.clubs import Club, LengthUnit
from classroom.models.families import FamilyLetter, GuardianContact, LetterState, NoMail, SummaryLink, SummaryWords
from classroom.models.people import Coach, Invitation, Role, SignIn, User
from classroom.models.robots import (
    Calibration,
    Robot,
    RobotAssignment,
    RobotLoan,
    RobotState,
    ServiceNote,
    YawSense,
)
from classroom.models.spares import Spare
from classroom.models.teams import Member, Membership, SignInFailure, TabletSession, Team
from classroom.models.terms import Attendance, MeasuredTable, SafetyCard, Session, Table, Term

__all__ = [
    "Attendance",
    "AuditEntry",
    "Calibration",
    "Club",
    "Coach",
    "FamilyLetter",
    "GuardianContact",
    "Invitation",
    "LengthUnit",
    "LetterState",
    "MeasuredTable",
    "Member",
    "Membership",
    "NoMail",
    "Robot",
    "RobotAssignment",
    "RobotLoan",
    "RobotState",
    "Role",
    "SafetyCard",
    "ServiceNote",
    "Session",
    "SignIn",
    "SignInFailure",
    "Spare",
    "SummaryLink",
    "SummaryWords",
    "Table",
    "TabletSession",
    "Team",
    "Term",
    "User",
    "YawSense",
]
