"""A file dragged from another program and dropped on a window, by the protocol of the X desktop (XDND version 5,
https://www.freedesktop.org/wiki/Specifications/XDND/, section "Example").
"""

import time
from pathlib import Path

from Xlib import X, Xatom
from Xlib.display import Display
from Xlib.protocol import event


def drop(screen, window, path, at):
    """Drops the file at a place in the window; returns whether the window took it."""
    display = Display(screen)
    target = display.create_resource_object("window", window)
    root = display.screen().root
    source = root.create_window(0, 0, 1, 1, 0, X.CopyFromParent)
    atom = display.intern_atom
    uris = (Path(path).resolve().as_uri() + "\r\n").encode()
    place = target.translate_coords(root, 0, 0)
    x, y = at[0] - place.x, at[1] - place.y

    def say(kind, *words):
        data = [source.id, *words, *[0] * (4 - len(words))]
        message = event.ClientMessage(window=target, client_type=atom(kind), data=(32, data))
        target.send_event(message, event_mask=X.NoEventMask)
        display.flush()

    def hear(wanted, seconds=300.0):
        """Answers requests for the file's name until the wanted message comes."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            while display.pending_events():
                heard = display.next_event()
                if heard.type == X.SelectionRequest:
                    heard.requestor.change_property(heard.property, heard.target, 8, uris)
                    told = event.SelectionNotify(
                        time=heard.time,
                        requestor=heard.requestor,
                        selection=heard.selection,
                        target=heard.target,
                        property=heard.property,
                    )
                    heard.requestor.send_event(told)
                    display.flush()
                elif heard.type == X.ClientMessage and heard.client_type == atom(wanted):
                    return heard
            time.sleep(0.02)
        return None

    assert target.get_full_property(atom("XdndAware"), Xatom.ATOM), "the window takes no files"
    source.set_selection_owner(atom("XdndSelection"), X.CurrentTime)
    say("XdndEnter", 5 << 24, atom("text/uri-list"))
    say("XdndPosition", 0, (x << 16) | y, X.CurrentTime, atom("XdndActionCopy"))
    status = hear("XdndStatus")
    if status is None or not status.data[1][1] & 1:
        return False
    say("XdndDrop", 0, X.CurrentTime)
    finished = hear("XdndFinished")
    display.close()
    return finished is not None
