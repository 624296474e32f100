"""Steps and readings that several tests share."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SHIN = ROOT / "demo-scans" / "shin-23.obj"


def sources(design):
    return design["zone"]["sources"] if design else []


def dabs(design, remove):
    strokes = [s["strokes"]["dabs"] for s in sources(design) if "strokes" in s]
    return [dab for stroke in strokes for dab in stroke if dab["remove"] == remove]


def painted(one):
    """Opens the shin and paints one stroke down its front; returns the autosaved design."""
    one.opened()
    one.key("2", "b")
    one.drag((480, 330), (485, 470))
    return one.settled("the stroke", lambda design: dabs(design, False))


def with_pen_line(one):
    """Opens the shin, takes its pen line and goes to the shell step; returns the autosaved design."""
    one.opened()
    one.key("2", "p")
    one.settled("the pen line", lambda design: any("line" in s for s in sources(design)))
    one.key("3")
    return one.autosaved()
