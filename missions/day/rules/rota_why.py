"""Why a team has two turns in a row: said at its place, so that a coach can tell a need from a slip. Pure."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from missions.day.rules.rota import PlannedTurn, RotaTask


def why_twice(task: RotaTask, turns: Sequence[PlannedTurn], turn: PlannedTurn) -> str:
    """What keeps every other team from this place; empty when the team had no turn in the slot before."""
    me = next(team for team in task.teams if team.key == turn.team)
    before = {one.team for one in turns if one.slot == turn.slot - 1}
    if turn.team not in before and not (turn.slot == 0 and me.just_played):
        return ""
    if turn.by_hand:
        return _("set by hand")
    at_tables = {one.team for one in turns if one.slot == turn.slot}
    robots = {team.robot for team in task.teams if team.key in at_tables - {me.key} and team.robot is not None}
    idle = [team for team in task.teams if team.key not in at_tables and team.here(turn.slot)]
    idle = [team for team in idle if team.robot is None or team.robot not in robots]
    if not idle:
        return _("every other team that can play is at a table then")
    table = next(one for one in task.tables if one.key == turn.table)
    fitting = [team for team in idle if table.takes(team.layout)]
    if not fitting:
        return _("what the others play does not stand at this table")
    count = {team.key: team.past_turns + sum(one.team == team.key for one in turns) for team in task.teams}
    fewer = [team for team in fitting if count[team.key] < count[me.key]]
    if not fewer and all(count[team.key] > count[me.key] for team in fitting):
        return _("fewest turns this term")
    alike = [team for team in fewer or fitting if team.layout == me.layout]
    if not alike:
        return _("any other team would need the table laid anew")
    around = before | {one.team for one in turns if one.slot == turn.slot + 1}
    if all(team.key in around for team in alike):
        return _("the others play just before or after")
    return _("no better rota was found")
