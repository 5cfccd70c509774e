"""What a small system of this folder has besides what it is drawn for: a filled cistern, and radiators on its store.

Owns those parts and where they stand. They are there so that no system is smaller than a house; each is sound by
itself.
"""

from __future__ import annotations

from loopwright.draw import Drawing, PartRef
from loopwright.sheet import edits
from loopwright.sheet.values import End


def furnished(s: Drawing) -> Drawing:
    """The drawing with its cistern filled from the main, and two radiators on its store where there is room."""
    for part in list(s.sheet.parts.values()):
        if part.kind == "feed_expansion_cistern" and not {End(part.id, "float_in"), End(part.id, "overflow")} & set(
            s.sheet.taken
        ):
            filled(s, s[part.id])
    store = next((p for p in s.sheet.parts.values() if p.kind == "heat_store"), None)
    if store is not None and len(s.sheet.parts) < 30:
        warmed(s, s[store.id])
    return s


def filled(s: Drawing, cistern: PartRef) -> None:
    """A float valve on the main with its stop valve, and an overflow to the outside."""
    at, name = cistern.part, cistern.id
    s.sheet = edits.set_property(s.sheet, name, "float_valve", True, s.catalogue)
    z = at.height_m + 0.4675
    main = s.add("mains_supply", f"{name}_main", x_m=at.x_m - 1.55, height_m=z, pressure_bar=3.0)
    stop = s.add("stop_valve", f"{name}_stop", x_m=at.x_m - 1.15, height_m=z)
    s.pipe(main["a"], stop["a"], "15", via=[])
    s.pipe(stop["b"], cistern["float_in"], "15", via=[])
    end = s.add("discharge_point", f"{name}_end", x_m=at.x_m + 0.95, height_m=at.height_m + 0.05)
    s.pipe(cistern["overflow"], end["in"], "22", via=[(at.x_m + 0.95, at.height_m + 0.41998)])


def warmed(s: Drawing, store: PartRef) -> None:
    """Two radiators on a pump of their own with an anti-gravity check: one open, one with a thermostatic valve."""
    part, tall = store.part, float(store.part.props["body_height_m"])  # type: ignore[arg-type]
    high, low = _free(s, store, 0.78 * tall), _free(s, store, 0.24 * tall)
    for name, z, purpose in (("warm out", high, "load_flow"), ("warm in", low, "load_return")):
        s.sheet = edits.add_tapping(
            s.sheet, store.id, z, s.catalogue, side="right", name=name, purpose=purpose, size="22"
        )
    x = part.x_m + 8.0
    out, back = part.height_m + high, part.height_m + low
    upstairs, downstairs = out + 2.0, out - 0.552
    pump = s.add("pump", "warm_pump", x_m=x + 0.9, height_m=out)
    check = s.add("anti_gravity_check", "warm_check", x_m=x + 1.5, height_m=out)
    split = s.add("tee", "warm_split", x_m=x + 2.2, height_m=out)
    joined = s.add("tee", "warm_joined", x_m=x + 1.9, height_m=back)
    hall = s.add("radiator", "warm_hall", x_m=x + 3.9, height_m=downstairs, output_w=1500.0)
    room = s.add("radiator", "warm_room", x_m=x + 3.9, height_m=upstairs, output_w=1200.0)
    stat = s.add("thermostatic_radiator_valve", "warm_stat", x_m=x + 2.8, height_m=upstairs + 0.552)
    shields = [
        s.add("lockshield_valve", f"warm_shield_{n}", x_m=x + 2.8, height_m=z + 0.048, turn=2)
        for n, z in enumerate((downstairs, upstairs), 1)
    ]
    s.pipe(store["warm out"], pump["a"], "22", via=[], id="warm_supply")
    s.pipe(pump["b"], check["a"], "22", via=[])
    s.pipe(check["b"], split["left"], "22", via=[])
    s.pipe(split["right"], hall["flow"], "22", via=[])
    s.pipe(split["branch"], stat["a"], "22", via=[(x + 2.2, upstairs + 0.552)])
    s.pipe(stat["b"], room["flow"], "22", via=[])
    for emitter, shield in zip((hall, room), shields):
        s.pipe(emitter["return"], shield["a"], "22", via=[])
    s.pipe(shields[0]["b"], joined["right"], "22", via=[(x + 2.4, downstairs + 0.048), (x + 2.4, back)])
    s.pipe(shields[1]["b"], joined["branch"], "22", via=[(x + 1.9, upstairs + 0.048)])
    s.pipe(joined["left"], store["warm in"], "22", via=[], id="warm_back")


def _free(s: Drawing, store: PartRef, height_m: float) -> float:
    """A height as near as can be at which the store's right side has room for a stub."""
    taken = [t.height_m for t in store.part.tappings if t.side == "right"]
    steps = (round(height_m + sign * 0.01 * n, 3) for n in range(60) for sign in (1, -1))
    return next(z for z in steps if all(abs(z - other) >= 0.06 for other in taken))
