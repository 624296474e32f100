"""The zone marked in the window: brush and trim line."""

from doing import SHIN, dabs, painted, sources, with_pen_line


def test_paint_erase_undo_and_redo_are_kept(window):
    one = window(SHIN)
    first = painted(one)
    one.key("e")
    one.drag((480, 400), (500, 400))
    erased = one.settled("erasing", lambda design: dabs(design, True))
    one.chord("ctrl", key="z")
    one.settled("undo", lambda design: design["zone"] == first["zone"])
    one.chord("ctrl", "shift", key="z")
    one.settled("redo", lambda design: design["zone"] == erased["zone"])
    assert one.title().startswith("•"), one.title()


# The grip on the left edge in a window of 1280 × 800, with the shin as first seen.
GRIP = (386, 376)


def pulls(design):
    """How far each pull moves the edge, in mm: outward above 0."""
    return [pull["by_mm"] for pull in design["zone"]["pulls"]] if design else []


def test_the_trim_line_is_pulled_by_its_grip(window):
    one = window(SHIN)
    before = with_pen_line(one)
    assert pulls(before) == []
    one.drag(GRIP, (376, 375))
    out = one.settled("the pull outward", pulls)
    assert len(pulls(out)) == 1 and pulls(out)[0] > 2.0, pulls(out)
    assert sources(out) == sources(before), "what was marked stays; the pull comes after it"
    one.chord("ctrl", key="z")
    one.settled("undo of the whole pull", lambda design: design["zone"] == before["zone"])
    one.drag(GRIP, (408, 376))
    into = one.settled("the pull inward", pulls)
    assert len(pulls(into)) == 1 and pulls(into)[0] < -2.0, pulls(into)
    assert sources(into) == sources(before)
    one.chord("ctrl", key="z")
    one.settled("undo", lambda design: design["zone"] == before["zone"])
