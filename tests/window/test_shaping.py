"""The shell shaped in the window."""

import time

from doing import SHIN, with_pen_line


def test_a_strap_slot_is_placed_moved_and_turned(window):
    one = window(SHIN)
    with_pen_line(one)
    fittings = lambda design: design["shell"]["fittings"] if design else []
    one.key("k")
    time.sleep(2.0)
    # Pressed again where the first press came before the window had taken the key.
    one.until("the strap slot", lambda: one.press((480, 400)) or fittings(one.put_by()))
    placed = one.settled("the strap slot", fittings)
    first = fittings(placed)[0]

    def moved(design):
        return sum((a - b) ** 2 for a, b in zip(fittings(design)[0]["at_mm"], first["at_mm"])) > 15**2

    far = one.haul((480, 400), (486, 450), "the move", moved)
    assert len(fittings(far)) == 1 and fittings(far)[0]["turn_deg"] == first["turn_deg"]
    one.chord("ctrl", key="z")
    one.settled("undo of the move", lambda design: fittings(design) == [first])
    # The arm for turning stands 30 mm up the limb from its middle.
    turned = one.haul(
        (481, 351), (525, 385), "the turn", lambda design: abs(fittings(design)[0]["turn_deg"] - first["turn_deg"]) > 30
    )
    assert fittings(turned)[0]["at_mm"] == first["at_mm"], "turning does not move it"
    one.chord("ctrl", key="z")
    one.settled("undo of the turn", lambda design: fittings(design) == [first])
    one.key("Delete")
    one.settled("taking it away", lambda design: not fittings(design))
