"""The only way to a club's rows. Every view's first line is one of these; an outsider gets 404, never a hint.

Three kinds of people come in: coaches (Django users with a role in a club), teams (a tablet session) and guardians
(a short session opened by one child's link). ``Seat`` says who is asking.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from django.core.exceptions import PermissionDenied
from django.db.models import Model, QuerySet
from django.http import Http404, HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from classroom.models import (
    Calibration,
    Club,
    Coach,
    GuardianContact,
    Invitation,
    Member,
    Robot,
    ServiceNote,
    Session,
    SignIn,
    Spare,
    SummaryLink,
    TabletSession,
    Team,
    Term,
    User,
)

Row = TypeVar("Row", bound=Model)

TABLET_KEY = "tablet_session"
FAMILY_KEY = "summary_link"
CLUB_KEY = "club"


class SignInNeeded(Exception):
    """Nobody has signed in; ``classroom.site.error_pages`` sends them to the right door."""


@dataclass(frozen=True)
class TeamSeat:
    """A team at its tablet."""

    team: Team
    tablet: TabletSession

    @property
    def club(self) -> Club:
        return self.team.club


def _coach(request: HttpRequest) -> Coach | None:
    if not request.user.is_authenticated:
        return None
    if not hasattr(request, "_helmroom_coach"):
        roles = Coach.objects.select_related("club", "user").filter(user=request.user, left_at=None)
        chosen = request.session.get(CLUB_KEY)
        coach = roles.filter(club=chosen).first() if chosen else None
        request._helmroom_coach = coach or roles.first()  # type: ignore[attr-defined]
    return request._helmroom_coach  # type: ignore[attr-defined]


def _tablet(request: HttpRequest) -> TabletSession | None:
    key = request.session.get(TABLET_KEY)
    if key is None or request.user.is_authenticated:
        return None
    if not hasattr(request, "_helmroom_tablet"):
        request._helmroom_tablet = (  # type: ignore[attr-defined]
            TabletSession.objects.select_related("team__club")
            .filter(pk=key, ended_at=None, expires_at__gt=timezone.now(), team__archived_at=None)
            .first()
        )
    return request._helmroom_tablet  # type: ignore[attr-defined]


def _family(request: HttpRequest) -> SummaryLink | None:
    key = request.session.get(FAMILY_KEY)
    if key is None or request.user.is_authenticated or TABLET_KEY in request.session:
        return None
    if not hasattr(request, "_helmroom_family"):
        request._helmroom_family = (  # type: ignore[attr-defined]
            SummaryLink.objects.select_related("member__club", "contact")
            .filter(pk=key, revoked_at=None, expires_at__gt=timezone.now())
            .first()
        )
    return request._helmroom_family  # type: ignore[attr-defined]


def end_other_visits(request: HttpRequest) -> None:
    """A coach who signs in ends what else this browser was let in for: a family's visit, a team's tablet."""
    request.session.pop(FAMILY_KEY, None)
    tablet = request.session.pop(TABLET_KEY, None)
    TabletSession.objects.filter(pk=tablet, ended_at=None).update(ended_at=timezone.now())


def current_club(request: HttpRequest) -> Club | None:
    """The club this request is about, whoever asks."""
    if coach := _coach(request):
        return coach.club
    if tablet := _tablet(request):
        return tablet.team.club
    if link := _family(request):
        return link.member.club
    return None


def coach_or_none(request: HttpRequest) -> Coach | None:
    return _coach(request)


def tablet_or_none(request: HttpRequest) -> TabletSession | None:
    return _tablet(request)


def family_link_or_none(request: HttpRequest) -> SummaryLink | None:
    return _family(request)


def known_coach(request: HttpRequest) -> Coach | None:
    """The coach, if this request has found out already who asks. Asks nobody, so it holds with a broken database."""
    return getattr(request, "_helmroom_coach", None)


def who_asks(request: HttpRequest) -> str:
    """For the log, such as ``coach:12``: whom this request has found out already. Asks nobody."""
    for name in ("_helmroom_coach", "_helmroom_tablet", "_helmroom_family"):
        if (row := getattr(request, name, None)) is not None:
            return f"{row._meta.model_name}:{row.pk}"
    return "nobody"


def team_or_none(request: HttpRequest) -> TeamSeat | None:
    tablet = _tablet(request)
    return TeamSeat(tablet.team, tablet) if tablet else None


def require_coach(request: HttpRequest, *, to_change: bool = False, to_lead: bool = False) -> Coach:
    """The coach who asks. ``to_change`` keeps observers out, ``to_lead`` all but lead coaches (403)."""
    coach = _coach(request)
    if coach is None:
        if request.user.is_authenticated or _tablet(request) or _family(request):
            raise Http404
        raise SignInNeeded
    if to_lead and coach.role != "lead":
        raise PermissionDenied(_("Only a lead coach can do this. Ask one of them."))
    if to_change and not coach.may_change:
        raise PermissionDenied(_("An observer looks and changes nothing. Ask a coach to do this."))
    return coach


def require_account(request: HttpRequest) -> User:
    """Whoever has signed in with a password, also support, which has no role in a club: for what is of the account alone."""
    if isinstance(request.user, User):
        return request.user
    if _tablet(request) or _family(request):
        raise Http404
    raise SignInNeeded


def require_team(request: HttpRequest) -> TeamSeat:
    tablet = _tablet(request)
    if tablet is None:
        if _coach(request) or _family(request):
            raise Http404
        raise SignInNeeded
    return TeamSeat(tablet.team, tablet)


def require_family(request: HttpRequest) -> SummaryLink:
    link = _family(request)
    if link is None:
        raise Http404
    return link


def get_or_404(rows: QuerySet[Row], pk: int) -> Row:
    """One row of those that the asker may see; all others do not exist for them."""
    row = rows.filter(pk=pk).first()
    if row is None:
        raise Http404
    return row


def as_key(text: str | None) -> int:
    """A row's number as a form names it; 0, which no row has, for anything else."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 18 else 0


def get_team(coach: Coach, pk: int) -> Team:
    return get_or_404(Team.objects.filter(club=coach.club), pk)


def get_member(coach: Coach, pk: int) -> Member:
    return get_or_404(Member.objects.select_related("club").filter(club=coach.club), pk)


def get_robot(coach: Coach, pk: int) -> Robot:
    return get_or_404(Robot.objects.filter(club=coach.club), pk)


def get_calibration(coach: Coach, pk: int) -> Calibration:
    return get_or_404(Calibration.objects.select_related("robot").filter(robot__club=coach.club), pk)


def get_coach(lead: Coach, pk: int) -> Coach:
    rows = Coach.objects.select_related("user", "club").filter(club=lead.club, left_at=None)
    return get_or_404(rows, pk)


def get_own_role(coach: Coach, pk: int) -> Coach:
    """Another role of the same person, in whichever club."""
    return get_or_404(Coach.objects.select_related("club").filter(user=coach.user, left_at=None), pk)


def get_sign_in(user: User, pk: int) -> SignIn:
    """One of the user's own; a colleague's does not exist, for a lead coach neither."""
    return get_or_404(SignIn.objects.select_related("user").filter(user=user), pk)


def get_invitation(lead: Coach, pk: int) -> Invitation:
    return get_or_404(Invitation.objects.select_related("club").filter(club=lead.club), pk)


def get_service_note(coach: Coach, pk: int) -> ServiceNote:
    return get_or_404(ServiceNote.objects.select_related("robot__club").filter(robot__club=coach.club), pk)


def get_spare(coach: Coach, pk: int) -> Spare:
    return get_or_404(Spare.objects.select_related("club").filter(club=coach.club).kept(), pk)


def get_term(coach: Coach, pk: int) -> Term:
    return get_or_404(Term.objects.filter(club=coach.club), pk)


def get_session(coach: Coach, pk: int) -> Session:
    return get_or_404(Session.objects.select_related("term").filter(term__club=coach.club), pk)


def get_contact(coach: Coach, pk: int) -> GuardianContact:
    return get_or_404(GuardianContact.objects.select_related("member__club").filter(member__club=coach.club), pk)


def get_link(coach: Coach, pk: int) -> SummaryLink:
    return get_or_404(SummaryLink.objects.select_related("member__club", "contact").filter(member__club=coach.club), pk)
