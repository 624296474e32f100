"""Form shows as plainly on dark skin as on pale skin. The one test that looks at pixels: nothing else can tell."""

# Tones of the darkest and the palest demo limb, in crates/demo-limbs/src/catalogue.rs.
DARKEST, PALEST = (92, 60, 46), (232, 190, 168)
# The stage between the panels, and the colour behind the limb: crates/workbench/src/look/colours.rs.
LEFT, TOP, RIGHT, BOTTOM = 0, 60, 930, 744
STAGE = (0xE7, 0xE0, 0xD3)


def limb(path, tone):
    """A limb of 250 mm with three ridges along it, all in one tone."""
    import numpy as np
    import trimesh

    around, along = 180, 120
    angle, height = np.meshgrid(np.linspace(0, 2 * np.pi, around, endpoint=False), np.linspace(0, 250, along))
    radius = 45 + 5 * np.sin(3 * angle) + 4 * np.sin(height / 30)
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle), height], axis=-1).reshape(-1, 3)
    at = np.arange(around * along).reshape(along, around)
    low, high = at[:-1], at[1:]
    next_low, next_high = np.roll(low, -1, axis=1), np.roll(high, -1, axis=1)
    faces = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in [(low, next_low, next_high), (low, next_high, high)]])
    colours = np.tile([*tone, 255], (len(points), 1)).astype(np.uint8)
    trimesh.Trimesh(points, faces, vertex_colors=colours, process=False).export(path)


def stage(one):
    """Pixels of the stage, once the window rests and its last frame is on the screen."""
    import numpy as np
    from Xlib import X
    from Xlib.display import Display

    display = Display(one.screen)
    window = display.create_resource_object("window", int(one.number))

    def taken():
        image = window.get_image(LEFT, TOP, RIGHT - LEFT, BOTTOM - TOP, X.ZPixmap, 0xFFFFFFFF)
        return np.frombuffer(image.data, np.uint8).reshape(BOTTOM - TOP, RIGHT - LEFT, 4)[..., 2::-1]

    one.opened()

    def still():
        frames = one.report()["frames"]
        before = taken()
        one.reported("more frames", lambda now: now["frames"] > frames + 3)
        now = taken()
        covered = (np.abs(now.astype(int) - STAGE).max(axis=-1) > 40).mean()
        return [now] if 0.1 < covered < 0.9 and (before == now).all() else None

    return one.until("the limb", still)[0]


def lightness(picture):
    """CIE 1976 lightness of sRGB pixels (CIE 15:2018, 8.2.1; IEC 61966-2-1)."""
    import numpy as np

    c = picture / 255
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    y = linear @ [0.2126, 0.7152, 0.0722]
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


def test_light_and_shade_show_form_on_every_tone(window, tmp_path):
    import numpy as np

    seen = {}
    for name, tone in [("dark", DARKEST), ("pale", PALEST)]:
        scan = tmp_path / f"{name}.ply"
        limb(scan, tone)
        one = window(scan)
        seen[name] = stage(one)
        one.kill()
    # The same limb from the same place: the dark one tells which pixels show it.
    on_limb = np.abs(seen["dark"].astype(int) - STAGE).max(axis=-1) > 40
    assert on_limb.mean() > 0.1, "a limb is seen"
    spread = {name: lightness(picture)[on_limb].std() for name, picture in seen.items()}
    assert spread["pale"] > 3.0, "form is seen on the pale one"
    assert spread["dark"] > 0.8 * spread["pale"], spread
