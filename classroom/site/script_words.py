"""The sentences that scripts show, for pages in another language than English: a page carries them with it.

One request less than a catalogue of its own would cost, on tablets that are slow; in English nothing is carried at all. A
test holds the list to what the scripts say.
"""

from __future__ import annotations

import json
from functools import cache

from django.utils import translation
from django.utils.formats import get_format
from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

SAID_BY_SCRIPTS = (
    # static/site/page.js
    _("There was no answer from the server, so nothing was changed that this page knows of. Try again."),
    _("That did not work. Load the page again, then try once more."),
    # static/site/live.js
    _("Up to date at {at}"),
    _("No answer from the server; this may be old"),
    _("Refreshing is paused"),
    # static/site/wall.js
    _("Screen {number} of {all}"),
    # static/site/chart.js
    _("Bigger map"),
    _("Map"),
    _("Close the map"),
    _("The map, to be moved about"),
    # static/site/tablet.js
    _("This tablet is full: keep this page open ({count})"),
    _("This tablet is full: keep this page open"),
    _("Not saved ({count})"),
    _("Saved"),
    _("Sign in again to send ({count})"),
    _("Load this page again to send ({count})"),
    _("Not saved ({count}): load this page again, or show your coach"),
    _("Sign in to the Wi-Fi to send ({count})"),
    _("Asked to wait a little, then sends ({count})"),
    _("The club's computer has trouble: tried again ({count})"),
    _("Sending ({count})"),
    _("Waiting for network ({count})"),
    # static/planning/team/checks.js
    _("Write the time as seconds, such as 41.2, or minutes and seconds: 1:12.4."),
    _("A run takes more than 0 seconds and at most an hour."),
    _("Write a number, such as 4, or with its unit: 4 {unit}."),
    _("That is more than 5 m away. Measure again."),
    _("Write degrees, such as 7."),
    _("A robot turns at most half way round: 180°. Measure again."),
    _("This tier is against the clock. Enter the time of the run."),
    # static/planning/team/kept_runs.js
    _("Run {number}, {duration} s."),
    _("Run {number}."),
    _("Run {number} of {time}, {duration} s."),
    _("Run {number} of {time}."),
    _("A run, {duration} s."),
    _("A run."),
    _("A run of {time}, {duration} s."),
    _("A run of {time}."),
    _("Not saved yet"),
    _(
        "The club's computer could not take these. They stay on this tablet. Put them right, or show them to your coach."
    ),
    _("On this tablet, not sent yet"),
    _("They are sent by themselves. Until then you can put them right."),
    _("And {more} more."),
    _("It is taken back."),
    _("Take run {number} back"),
    _("Take this run back"),
    _("Throw it away"),
    _("Sure? Throw it away"),
    _("Send it again"),
    _("Put run {number} right"),
    _("Put this run right"),
    # static/planning/team/log.js
    _("step {step}: {size} more"),
    _("step {step}: {size} less"),
    _("All else stays as in plan {plan}."),
    _("Run {number} waits in this page"),
    _("The change waits in this page"),
    _("Run {number} is kept on this tablet"),
    _("The change is kept on this tablet"),
    _("{what}: yes"),
    _("{what}: not yet"),
    _("{seconds} s too slow: not clean yet"),
    _("You can log the next run straight away. What this one says shows here when it has been sent."),
    _("Log the next run"),
    _("Save the change"),
    _("Save this run"),
    _("Run {number} is taken back"),
    _("The run is taken back"),
    _("Undo: it counts again"),
    _("It no longer counts."),
    _("This run was not taken"),
    _("It stays on this tablet. You can put it right or take it back."),
    _("Run {number} is saved"),
    _("The change is saved"),
    _("What it says together with your last runs shows when there is network again."),
    # static/planning/team/pad.js
    _("in the middle"),
    _("{size} to the left"),
    _("{size} to the right"),
    _("{size} too far"),
    _("{size} too short"),
    # static/planning/team/stopwatch.js
    _("Stop"),
    _("Start"),
    _("Not yet: start again"),
    _("Undo: let it run on"),
    _("Clear"),
    # static/planning/team/course.js
    _("Turn left"),
    _("Turn right"),
    _("Drive"),
    _("Back up"),
    _("Push"),
    _("Wait"),
    _("Lower the tool"),
    _("Raise the tool"),
    _("No steps yet. Add the first one below."),
    _("Step {number}: {what}"),
    _("Turn right instead"),
    _("Turn left instead"),
    _("Back up instead"),
    _("Drive forward instead"),
    _("Start: from the left edge"),
    _("Now from the left edge"),
    _("Start: from the near edge"),
    _("Now from the near edge"),
    _("Start: facing"),
    _("Now facing"),
    _(
        "No network: the map shows an earlier draft. Your drawing is kept on this tablet and checked as soon as the network is back."
    ),
    _(
        "Load the page again: it has been open too long to be answered, and the map shows an earlier draft. Your drawing is kept on this tablet."
    ),
    _("An earlier draft"),
    # static/missions/day/today.js
    _("{hours} h {minutes} min"),
    _("{time} left"),
    _("{time} to go"),
    # static/planning/team/picture/check.js
    _("This picture cannot be shown here. Take another one."),
    _("{corner} is set. {count} of {all}."),
    # static/planning/team/picture/stopped.js
    _("Where did it stop?"),
    _("Back to the run"),
    # static/classroom/robots/by_picture.js
    _("Measure by pictures"),
    _("Back to the sheet"),
    _("Run {number}"),
    _("Take a picture first, or choose one."),
    _("Measuring…"),
    _("Others are measuring just now. Yours is next…"),
    _("You are signed out on this tablet. Sign in again; the sheet keeps what it has."),
    _("Seen where it stands. Now: {then}"),
    _("Use these numbers"),
    _("Leave it out"),
    _("Set it down again, and take the next picture."),
    _("Next: a first picture of another run."),
    _("Run {number} is in the sheet."),
    _("Nothing was written."),
    # static/classroom/robots/picture_link.js
    _("Measure by pictures (no network just now)"),
    # static/classroom/robots/measure.js
    _("Load the page again, or sign in again: what you typed is kept on this tablet."),
    _("No network: what you typed is kept on this tablet. What it says shows when the network is back."),
    # static/classroom/club/marks/send.js
    _("No network: nothing was sent. What is on this page stays; try again when the network is back."),
    # static/planning/courses/rehearsal.js
    _("There was no answer. Try again when the network is back."),
    _("Close it"),
    _("Rehearse it"),
    _("Run it through"),
    _("{at} s of {end} s"),
    _("The draft has changed. Rehearse it again to see how it goes now."),
    _("At the start"),
    _("Done"),
)


#: What the mission editor's scripts say: no tablet carries it.
SAID_BY_THE_EDITOR = (
    # static/missions/editor/editor.js
    _("Base"),
    _("Start pose"),
    _("Target"),
    _("Contact and push"),
    _("Push of the {name}"),
    _("all of it"),
    _("{words} Undo brings it back."),
    _("{what}, turned {degrees}° left"),
    _("{what}, turned {degrees}° right"),
    _("Undone."),
    _("Done again."),
    _("Choose a shape whose numbers can be read, then add a corner."),
    _("Choose a corner; an outline keeps at least three."),
    _("The base and the target stay; only obstacles and keep-outs can be taken out."),
    _("{name} taken out. Undo brings it back."),
    _("Taken over."),
    _("Map of the table"),
    # static/missions/editor/form.js
    _("base"),
    _("target"),
    _("obstacle"),
    _("keep out"),
    _("Corner {number} of the {name}, away"),
    _("Corner {number} of the {name}, along"),
    _("Add a corner after {number}"),
    _("Take out corner {number}"),
    _("Obstacle"),
    _("Keep-out"),
    _("Take out this obstacle"),
    _("Take out this keep-out"),
    # static/missions/editor/hands.js
    _("Back where it was."),
    # static/missions/editor/ladder.js
    _("There was no answer from the server. Nothing is changed; try again."),
    # static/missions/editor/moves.js
    _("{along} along, {away} away"),
    _("Start: {place}, heading {degrees}°"),
    _("Contact: {place}, heading {degrees}°"),
    _("{name}: a number cannot be read yet"),
    _("{name}, corner {number} of {count}: {place}"),
    _("{name}, {count} corners, middle {place}"),
    # static/missions/editor/state.js
    _("Not saved yet"),
)


@cache
def words_for_scripts(language: str, *, editor: bool = False) -> str:
    """JSON of each sentence in this language, and under "." its decimal mark; empty in English."""
    if language.startswith("en"):
        return ""
    said = SAID_BY_SCRIPTS + (SAID_BY_THE_EDITOR if editor else ())
    with translation.override(language):
        words = {sentence: gettext(sentence) for sentence in said}
        words["."] = str(get_format("DECIMAL_SEPARATOR"))
        return json.dumps(words, ensure_ascii=False)
