"""A robot as built: its outline as a box with a tool or by points, its wheels, its pace, its way of counting yaw."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from classroom.models import Club, Robot, RobotAssignment, RobotState, ServiceNote, Spare, Team, YawSense
from classroom.people.names import one_line
from classroom.robots.rules.footprints import BodyWithTool, box_of, corner_example, outline_of, points_of, write_points
from classroom.site.fields import LengthField, read_in_unit
from motion.errors import MotionError

BOX, POINTS = "box", "points"


class RobotForm(forms.Form):
    """Bound fields keep what was typed; ``values()`` is what the service takes."""

    name = forms.CharField(
        max_length=40, label=gettext_lazy("Name"), help_text=gettext_lazy("What is written on it, such as Kit 3.")
    )
    shape = forms.ChoiceField(
        label=gettext_lazy("Outline given as"),
        choices=[
            (BOX, gettext_lazy("a box, with or without a tool")),
            (POINTS, gettext_lazy("corner points (for any other shape)")),
        ],
        widget=forms.RadioSelect,
        initial=BOX,
        help_text=gettext_lazy("Seen from above, measured from the middle of the axle between the two driven wheels."),
    )
    ahead = LengthField(
        label=gettext_lazy("Axle to front"), required=False, most_mm=1000, help_text=gettext_lazy("Without the tool.")
    )
    behind = LengthField(label=gettext_lazy("Axle to back"), required=False, most_mm=1000)
    width = LengthField(
        label=gettext_lazy("Width"),
        required=False,
        most_mm=1000,
        help_text=gettext_lazy("Its widest, wheels included."),
    )
    tool_reach = LengthField(label=gettext_lazy("Tool reaches ahead of the front by"), required=False, most_mm=1000)
    tool_width = LengthField(label=gettext_lazy("Tool width"), required=False, most_mm=1000)
    tool_left = LengthField(
        label=gettext_lazy("Tool's middle is left of the robot's middle by"),
        required=False,
        least_mm=-1000,
        most_mm=1000,
        help_text=gettext_lazy("0 in the middle, negative to the right."),
    )
    lowered_reach = LengthField(
        label=gettext_lazy("Lowered, the tool reaches ahead by"),
        required=False,
        most_mm=1000,
        help_text=gettext_lazy("Only when it reaches further once lowered."),
    )
    travel_points = forms.CharField(
        label=gettext_lazy("Corners while driving"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
        max_length=4000,
    )
    working_points = forms.CharField(
        label=gettext_lazy("Corners with the tool lowered"),
        required=False,
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
        max_length=4000,
        help_text=gettext_lazy("Only where they differ."),
    )
    tool_seconds = forms.FloatField(
        label=gettext_lazy("Raising or lowering takes (s)"), min_value=0, max_value=60, initial=0
    )
    wheel_diameter = LengthField(label=gettext_lazy("Wheel diameter"), least_mm=5, most_mm=500)
    track_width = LengthField(
        label=gettext_lazy("Track width"),
        least_mm=10,
        most_mm=1000,
        help_text=gettext_lazy("Between the middles of the two wheels' treads."),
    )
    speed = LengthField(label=gettext_lazy("Top speed, a second"), least_mm=10, most_mm=3000, initial=250.0)
    acceleration = LengthField(
        label=gettext_lazy("Acceleration, a second squared"), least_mm=10, most_mm=10_000, initial=500.0
    )
    push_speed = LengthField(
        label=gettext_lazy("Speed when pushing, a second"), least_mm=5, most_mm=3000, initial=120.0
    )
    turn_rate = forms.FloatField(
        label=gettext_lazy("Turn rate (degrees a second)"), min_value=5, max_value=1080, initial=150
    )
    turn_acceleration = forms.FloatField(
        label=gettext_lazy("Turn acceleration (degrees a second squared)"), min_value=5, max_value=10_000, initial=500
    )
    settle = forms.FloatField(label=gettext_lazy("Pause after every move (s)"), min_value=0, max_value=10, initial=0.25)
    distance_step = LengthField(
        label=gettext_lazy("Smallest step of a distance"),
        least_mm=0.1,
        most_mm=200,
        initial=10.0,
        help_text=gettext_lazy("What the team can set."),
    )
    turn_step = forms.FloatField(
        label=gettext_lazy("Smallest step of a turn (degrees)"), min_value=0.1, max_value=90, initial=1
    )
    min_leg = LengthField(label=gettext_lazy("Shortest leg worth driving"), most_mm=500, initial=20.0)
    min_back_off = LengthField(label=gettext_lazy("Backs off the target by at least"), most_mm=500, initial=40.0)
    yaw_sense = forms.ChoiceField(
        label=gettext_lazy("Its yaw number"), choices=YawSense.choices, widget=forms.RadioSelect
    )
    yaw_reference = forms.ChoiceField(
        label=gettext_lazy("It is told to turn"),
        choices=[
            ("absolute", gettext_lazy("to a heading (its yaw is zero at the start)")),
            ("relative", gettext_lazy("by an angle (from where it stands)")),
        ],
        widget=forms.RadioSelect,
    )
    rebuilt = forms.BooleanField(
        label=gettext_lazy("It was built differently: runs and calibrations from before count as old"),
        required=False,
    )

    def __init__(
        self, *args: Any, club: Club, robot: Robot | None = None, like: Robot | None = None, **kwargs: Any
    ) -> None:
        """``robot`` is changed; ``like`` is one that the new one is built as, but for its name."""
        built = robot or like
        known = _initial(built, club.unit) if built else {"yaw_sense": "ccw", "yaw_reference": "absolute"}
        if robot is None:
            known.pop("name", None)
        kwargs.setdefault("initial", known)
        super().__init__(*args, **kwargs)
        self.club, self.robot = club, robot
        read_in_unit(self, club.unit)
        self.fields["travel_points"].help_text = _(
            "One corner a line, ahead then left of the axle's middle, in %(unit)s: %(example)s. "
            "Behind and to the right have a minus. An empty line starts another part."
        ) % {"unit": club.unit, "example": corner_example(club.unit)}
        if robot is None:
            del self.fields["rebuilt"]

    def clean_name(self) -> str:
        name = one_line(self.cleaned_data["name"])
        others = Robot.objects.filter(club=self.club, name=name)
        if self.robot is not None:
            others = others.exclude(pk=self.robot.pk)
        if others.exists():
            raise forms.ValidationError(_("Another robot of the club has this name; give this one its own."))
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("shape") == BOX:
            self._need(data, ["ahead", "behind", "width"])
            if data.get("tool_reach"):
                self._need(data, ["tool_width"])
            if data.get("lowered_reach") and not data.get("tool_width"):
                self._need(data, ["tool_width"])
        elif data.get("shape") == POINTS:
            self._need(data, ["travel_points"])
        if "shape" in data and not self.errors.keys() & SHAPE_FIELDS:
            self._outline(data)
        return data

    def _need(self, data: dict[str, Any], names: list[str]) -> None:
        for name in names:
            if name not in self.errors and not data.get(name):
                self.add_error(name, _("Needed for this shape; measure it and fill it in."))

    def _outline(self, data: dict[str, Any]) -> None:
        try:
            if data["shape"] == BOX:
                box = BodyWithTool(
                    ahead_mm=data["ahead"],
                    behind_mm=data["behind"],
                    width_mm=data["width"],
                    tool_reach_mm=data.get("tool_reach") or 0.0,
                    tool_width_mm=data.get("tool_width") or 0.0,
                    tool_left_mm=data.get("tool_left") or 0.0,
                    lowered_reach_mm=data.get("lowered_reach") or 0.0,
                )
                data["travel_footprint"], data["working_footprint"] = outline_of(box)
            else:
                data["travel_footprint"] = points_of(data["travel_points"], self.club.unit)
                lowered = (data.get("working_points") or "").strip()
                data["working_footprint"] = points_of(lowered, self.club.unit) if lowered else None
        except MotionError as error:
            named = "travel_points" if data["shape"] == POINTS else None
            self.add_error(named, error.message)

    def values(self) -> dict[str, Any]:
        """Field values of ``Robot``."""
        data = self.cleaned_data
        return {"travel_footprint": data["travel_footprint"], "working_footprint": data["working_footprint"]} | {
            field: data[name] for name, field in _FIELDS.items()
        }


SHAPE_FIELDS = (
    "ahead",
    "behind",
    "width",
    "tool_reach",
    "tool_width",
    "tool_left",
    "lowered_reach",
    "travel_points",
    "working_points",
)
#: Form field -> model field, for all that is stored as it is.
_FIELDS = {
    "name": "name",
    "tool_seconds": "tool_seconds",
    "wheel_diameter": "wheel_diameter_mm",
    "track_width": "track_width_mm",
    "speed": "speed_mm_s",
    "acceleration": "acceleration_mm_s2",
    "push_speed": "push_speed_mm_s",
    "turn_rate": "turn_rate_deg_s",
    "turn_acceleration": "turn_acceleration_deg_s2",
    "settle": "settle_s",
    "distance_step": "distance_step_mm",
    "turn_step": "turn_step_deg",
    "min_leg": "min_leg_mm",
    "min_back_off": "min_back_off_mm",
    "yaw_sense": "yaw_sense",
    "yaw_reference": "yaw_reference",
}


def _initial(robot: Robot, unit: str) -> dict[str, Any]:
    values: dict[str, Any] = {name: getattr(robot, field) for name, field in _FIELDS.items()}
    for name, field in _FIELDS.items():
        if isinstance(values[name], float) and not field.endswith(("_mm", "_mm_s", "_mm_s2")):
            values[name] = f"{values[name]:g}"
    values["travel_points"] = write_points(robot.travel_footprint, unit)
    values["working_points"] = write_points(robot.working_footprint or [], unit)
    box = box_of(robot.travel_footprint, robot.working_footprint)
    values["shape"] = BOX if box else POINTS
    if box:
        values |= {
            "ahead": box.ahead_mm,
            "behind": box.behind_mm,
            "width": box.width_mm,
            "tool_reach": box.tool_reach_mm or None,
            "tool_width": box.tool_width_mm or None,
            "tool_left": box.tool_left_mm or None,
            "lowered_reach": box.lowered_reach_mm or None,
        }
    return values


class AssignForm(forms.Form):
    team = forms.ModelChoiceField(
        queryset=Team.objects.none(),
        required=False,
        empty_label=gettext_lazy("No team"),
        label=gettext_lazy("Goes to team"),
    )

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["team"].queryset = Team.objects.filter(club=club).active()  # type: ignore[attr-defined]


class StateForm(forms.Form):
    state = forms.ChoiceField(choices=RobotState.choices, label=gettext_lazy("State"))


class ServiceNoteForm(forms.Form):
    kind = forms.ChoiceField(choices=ServiceNote._meta.get_field("kind").choices or [], label=gettext_lazy("About"))
    text = forms.CharField(max_length=300, label=gettext_lazy("What"), widget=forms.TextInput)
    due_on = forms.DateField(
        required=False,
        label=gettext_lazy("Due on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=gettext_lazy("Left empty, it is done already."),
    )
    spare = forms.ModelChoiceField(
        queryset=Spare.objects.none(),
        required=False,
        empty_label=gettext_lazy("no spare part"),
        label=gettext_lazy("Takes from the spares"),
    )
    spare_count = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=1000,
        label=gettext_lazy("How many"),
        widget=forms.NumberInput(attrs={"class": "short"}),
    )

    def __init__(self, *args: Any, club: Club, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        spares = Spare.objects.filter(club=club).kept()
        if spares.exists():
            self.fields["spare"].queryset = spares  # type: ignore[attr-defined]
        else:
            del self.fields["spare"], self.fields["spare_count"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        data["spare_count"] = (data.get("spare_count") or 1) if data.get("spare") else 0
        return data

    def clean_text(self) -> str:
        return one_line(self.cleaned_data["text"])


def current_team(robot: Robot) -> RobotAssignment | None:
    return RobotAssignment.objects.select_related("team").filter(robot=robot, to_on=None).first()
