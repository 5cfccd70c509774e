"""Reads kinds from TOML, ours and a user's own. Refuses a bad file with file, key and reason."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from loopwright.catalogue.kinds import Behaviour, Kind, PropSpec
from loopwright.errors import KindError
from loopwright.plain import read_toml
from loopwright.resources import resource_root

Raw = dict[str, Any]
_SYMBOL = re.compile(r"[a-z][a-z0-9_]*")
_BODY_ROLES = {"", "store", "cylinder", "header", "cistern", "drain_vessel", "expansion"}


class Catalogue:
    """All kinds by id, in the order of their groups."""

    def __init__(self, kinds: Iterable[Kind]) -> None:
        self.kinds: dict[str, Kind] = {k.id: k for k in kinds}

    def __getitem__(self, kind_id: str) -> Kind:
        try:
            return self.kinds[kind_id]
        except KeyError:
            close = ", ".join(sorted(k for k in self.kinds if kind_id[:4] in k)[:4])
            hint = f"Did you mean {close}?" if close else "`loopwright kinds` lists all kinds"
            raise KindError(f"There is no kind of part called “{kind_id}”", do=hint) from None

    def __contains__(self, kind_id: object) -> bool:
        return kind_id in self.kinds

    def __iter__(self) -> Iterator[Kind]:
        return iter(self.kinds.values())

    def __len__(self) -> int:
        return len(self.kinds)

    def groups(self) -> dict[str, list[Kind]]:
        """Kinds by group, in catalogue order."""
        out: dict[str, list[Kind]] = {}
        for kind in self:
            out.setdefault(kind.group, []).append(kind)
        return out

    def find(self, words: str) -> list[Kind]:
        """Kinds whose name, group or synonyms hold every one of `words`; best match first."""
        wanted = words.lower().split()
        found = []
        for kind in self:
            text = " ".join((kind.name, kind.group, *kind.synonyms)).lower()
            if all(w in text for w in wanted):
                found.append((not kind.name.lower().startswith(words.lower()), kind))
        return [kind for _, kind in sorted(found, key=lambda pair: pair[0])]


def read_kinds(path: Path, base: Mapping[str, Raw], shared: Mapping[str, Any], own: bool = False) -> dict[str, Raw]:
    """Raw kind tables of one file, `like` and shared properties resolved. Raises KindError.

    `own`: a person's own kind that is like another has its symbol too, unless a drawing lies beside the file.
    """
    where = str(path.name)
    _, data = read_toml(path, KindError, "A kind file")
    group = data.pop("group", "")
    if not isinstance(group, str):
        raise KindError("`group` must be text", where=where, do='Write group = "Name"')
    out: dict[str, dict[str, Any]] = {}
    for kind_id, table in data.items():
        if not isinstance(table, dict):
            raise KindError(f"Key “{kind_id}” is not a kind", where=where, do=f"Write it as a table [{kind_id}]")
        like = table.pop("like", None)
        merged = {"group": group, **table, "id": kind_id}
        above: dict[str, Any] = {}
        if like is not None:
            parent = out.get(like) or base.get(like) if isinstance(like, str) else None
            if parent is None:
                raise KindError(
                    f"Kind “{kind_id}” is like “{like}”, which does not exist",
                    where=where,
                    do="Define the other kind first",
                )
            inherited = {k: v for k, v in parent.items() if k not in ("abstract", "group")}
            merged = {**inherited, **merged}
            if own and "symbol" not in table:
                beside = (path.parent / f"{kind_id}.svg").exists() or "abstract" in parent
                merged["symbol"] = kind_id if beside else parent.get("symbol", like)
            above = parent["props"]
        stated = _resolve_props(kind_id, table.get("props", {}), {**shared, **above}, where)
        merged["props"] = {**above, **stated}
        out[kind_id] = merged
    return out


def _resolve_props(kind_id: str, props: Any, shared: Mapping[str, Any], where: str) -> dict[str, Any]:
    if not isinstance(props, dict):
        raise KindError(f"`props` of “{kind_id}” is not a table", where=where, do="Write [kind.props]")
    out: dict[str, Any] = {}
    for name, entry in props.items():
        common = shared.get(name, {})
        if not isinstance(entry, dict):  # a bare value is a default on a shared property
            if not common:
                raise KindError(
                    f"Property “{name}” of “{kind_id}” has no description",
                    where=where,
                    do="Give it label, help and unit as a table",
                )
            entry = {"default": entry}
        elif not entry:  # nobody can guess it: what the other kind filled in does not count here
            common = {k: v for k, v in common.items() if k != "default"}
        out[name] = {**common, **entry, "name": name}
    return out


def build_kind(raw: dict[str, Any], where: str) -> Kind:
    """A checked Kind from a raw table. Raises KindError naming the key."""
    table = dict(raw)
    props = table.get("props", {})
    if not isinstance(props, dict):
        raise KindError(f"`props` of “{table['id']}” is not a table", where=where, do="Write [kind.props]")
    table["props"] = list(props.values())
    for key in ("ports", "ways"):
        entries = table.get(key, {})
        if isinstance(entries, dict):
            for name, spec in entries.items():
                if not isinstance(spec, dict):
                    raise KindError(
                        f"`{key}.{name}` of “{table['id']}” is not a table", where=where, do="Write it as { ... }"
                    )
            table[key] = [{"name": name, **spec} for name, spec in entries.items()]
    table.setdefault("symbol", table["id"])
    try:
        kind = msgspec.convert(table, Kind, strict=True)
    except (msgspec.ValidationError, TypeError, ValueError) as bad:
        raise KindError(
            f"Kind “{table['id']}” cannot be read: {_with_names(str(bad), table)}", where=where, do="Mend that key"
        ) from None
    unknown = set(table) - set(Kind.__struct_fields__)
    if unknown:
        raise KindError(
            f"Kind “{kind.id}” has the unknown key “{sorted(unknown)[0]}”",
            where=where,
            do="Remove it or mend the spelling",
        )
    if not _SYMBOL.fullmatch(kind.symbol):
        raise KindError(
            f"Kind “{kind.id[:60]}” cannot have the symbol “{kind.symbol[:60]}”",
            where=where,
            do='Name one in small letters, figures and _, as in symbol = "pump"',
        )
    _check_places(kind, where)
    for prop in kind.props:
        _check_prop(kind, prop, where)
    return kind


def _with_names(message: str, table: Mapping[str, Any]) -> str:
    """A reader's complaint with `$.ports[1]` put as `ports.return`."""

    def named(found: re.Match[str]) -> str:
        entries = table.get(found[1])
        number = int(found[2])
        if isinstance(entries, list) and number < len(entries) and isinstance(entries[number], dict):
            return f"{found[1]}.{entries[number].get('name', number)}"
        return f"{found[1]}[{number}]"

    return re.sub(r"\$\.(\w+)\[(\d+)\]", named, message).replace("$.", "")


def _check_places(kind: Kind, where: str) -> None:
    spots = [c for port in kind.ports for c in port.at] + [c for at in kind.inner.values() for c in at]
    spots += [c for moved in kind.layouts.values() for spec in moved.values() for c in spec.at]
    if not all(math.isfinite(c) and abs(c) <= 100 for c in [*spots, kind.width_m, kind.height_m]):
        raise KindError(
            f"Kind “{kind.id}” has a size or a place that is no number of metres",
            where=where,
            do="Mend `at`, `inner`, `width_m` or `height_m`",
        )
    if kind.body not in _BODY_ROLES:
        raise KindError(
            f"Kind “{kind.id}” has the unknown body role “{kind.body}”",
            where=where,
            do=f"Use one of {', '.join(sorted(_BODY_ROLES - {''}))}",
        )
    for port in kind.ports:
        if port.name in kind.inner or port.name == "body":
            raise KindError(
                f"Port “{port.name}” of “{kind.id}” has the name of an inner place",
                where=where,
                do="Rename one of them",
            )
    if kind.positions and kind.tied_by is None:
        raise KindError(
            f"Kind “{kind.id}” has positions but not `tied_by`",
            where=where,
            do="Say what moves them: powered, thermal or hand",
        )
    places = {p.name for p in kind.ports} | set(kind.inner) | ({"body"} if kind.body else set())
    names = {w.name for w in kind.ways}
    for way in kind.ways:
        for end in (way.a, way.b):
            if end not in places:
                raise KindError(
                    f"Way “{way.name}” of “{kind.id}” ends at “{end}”, which is no place of it",
                    where=where,
                    do="Name a port, an inner place or body",
                )
        if way.does is Behaviour.PIPE:
            raise KindError(f"Way “{way.name}” of “{kind.id}” may not be a pipe", where=where, do="Use free")
    for position, open_ways in kind.positions.items():
        for way_name in open_ways:
            if way_name not in names:
                raise KindError(
                    f"Position “{position}” of “{kind.id}” opens “{way_name}”, which is no way of it",
                    where=where,
                    do="Name one of its ways",
                )
    if kind.source and not {kind.source.hot, kind.source.cold} <= places:
        raise KindError(f"Source “{kind.id}” lacks its hot or cold place", where=where, do="Add them to inner")
    if kind.source and "immersion" not in kind.tags and not any(w.does is Behaviour.SOURCE for w in kind.ways):
        raise KindError(
            f"Kind “{kind.id}” is a source of heat that heats no way of its own",
            where=where,
            do='Give it a way from its cold to its hot place with does = "source"',
        )
    for layout, moved in kind.layouts.items():
        for name in moved:
            if kind.port(name) is None:
                raise KindError(
                    f"Layout “{layout}” of “{kind.id}” moves “{name}”, which is no port",
                    where=where,
                    do="Name one of its ports",
                )


def _check_prop(kind: Kind, prop: PropSpec, where: str) -> None:
    what = f"Property “{prop.name}” of “{kind.id}”"
    if prop.kind == "choice" and not prop.choices:
        raise KindError(f"{what} has no choices", where=where, do="List them in `choices`")
    default = prop.default
    if default is None:
        return
    right = {"number": (int, float), "flag": (bool,), "text": (str,), "choice": (str,)}[prop.kind]
    if not isinstance(default, right) or (prop.kind == "number" and isinstance(default, bool)):
        raise KindError(f"{what} has a default that is not a {prop.kind}", where=where, do="Mend `default`")
    if prop.kind == "choice" and default not in prop.choices:
        raise KindError(f"{what} has a default that is none of its choices", where=where, do="Mend `default`")
    if prop.kind == "number" and isinstance(default, int | float):
        least = -math.inf if prop.least is None else prop.least
        most = math.inf if prop.most is None else prop.most
        real = abs(default) <= 1e300 if isinstance(default, int) else math.isfinite(default)
        if not (real and least <= default <= most):
            raise KindError(f"{what} has a default outside its limits", where=where, do="Mend `default`")


def load_catalogue(folders: Iterable[Path], refused: list[KindError] | None = None) -> Catalogue:
    """A catalogue from folders of kind files, later ones adding to (never replacing) earlier ones.

    Raises KindError; where `refused` is given, what cannot be used is left out and its error put there instead.
    """
    raw: dict[str, dict[str, Any]] = {}
    kinds: dict[str, Kind] = {}
    shared = _shared("_properties.toml")
    for folder in folders:
        own = folder != resource_root() / "parts"
        for path in sorted(folder.glob("*.toml")):
            if path.name.startswith("_"):
                continue
            with _kept(refused):
                if path.is_symlink() and not path.resolve().is_relative_to(folder.resolve()):
                    raise KindError(
                        "A kind file is a link to another folder", where=path.name, do="Copy the file itself"
                    )
                for kind_id, table in read_kinds(path, raw, shared, own).items():
                    with _kept(refused):
                        if kind_id in raw:
                            raise KindError(f"Kind “{kind_id}” is defined twice", where=path.name, do="Rename one")
                        if "abstract" not in table:
                            kinds[kind_id] = build_kind(table, path.name)
                        raw[kind_id] = table
    order = {name: number for number, name in enumerate(_shared("_groups.toml")["order"])}
    return Catalogue(sorted(kinds.values(), key=lambda kind: order.get(kind.group, len(order))))


@contextmanager
def _kept(refused: list[KindError] | None) -> Iterator[None]:
    """Keep a refusal for later, where somebody asks for it."""
    try:
        yield
    except KindError as bad:
        if refused is None:
            raise
        refused.append(bad)


@cache
def _shared(name: str) -> dict[str, Any]:
    return tomllib.loads((resource_root() / "parts" / name).read_text(encoding="utf-8"))


@cache
def standard_catalogue() -> Catalogue:
    """The shipped kinds alone."""
    return load_catalogue([resource_root() / "parts"])


def user_catalogue(folder: Path, refused: list[KindError] | None = None) -> Catalogue:
    """The shipped kinds and those of a person's own folder; `refused` as in `load_catalogue`."""
    return load_catalogue([resource_root() / "parts", folder], refused)
