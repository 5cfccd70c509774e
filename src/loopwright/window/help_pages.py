"""What the Help holds: its contents, each page as HTML, and what a search finds.

Owns making pages out of the shipped texts and data: the guide, rules, computations, kinds of part, sources, cautions.
Refuses to know how they are shown. A page's name is the end of its link: `help:rule/sealed/no-vessel`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from html import escape

from loopwright import __version__
from loopwright.catalogue import Catalogue, Kind, PortSpec, PropSpec
from loopwright.errors import LoopwrightError
from loopwright.plain import read_page
from loopwright.resources import resource_root
from loopwright.window.actions import keys_html
from loopwright.window.cautions import cautions
from loopwright.window.pages import markdown_html, with_indices
from loopwright.window.quantities import Units
from loopwright.window.why import TRUST, page_html

GUIDE = ("tour", "drawing", "pipes", "tappings", "findings", "conditions", "figures", "runs", "units")
"""Pages of the guide in reading order; others follow by name."""
HOME = "tour"
THEMES = {
    "solid-fuel": "Solid fuel",
    "gravity-loop": "Gravity loops",
    "vent-and-feed": "Vents and feeds",
    "order": "Order along a run",
    "sealed": "Sealed water",
    "tapping": "Tappings",
    "circuit": "Circuits",
    "domestic": "Tap water",
    "discharge": "Discharge pipes",
    "underfloor": "Underfloor heating",
    "solar": "Solar",
    "control": "Controls",
    "sizing": "Sizes",
}


SORTS = {"rule": "rule", "computation": "computation", "kind": "kind of part"}


@dataclass(frozen=True)
class Entry:
    """A line of the contents: a page, or a heading with lines under it."""

    title: str
    page: str = ""
    under: tuple[Entry, ...] = ()


class HelpPages:
    """The Help of one catalogue."""

    def __init__(self, catalogue: Catalogue, units: Units | None = None) -> None:
        self._catalogue = catalogue
        self.units = units or Units()

    # ---- contents

    @cached_property
    def contents(self) -> tuple[Entry, ...]:
        """The headings and pages, in reading order."""
        from loopwright.engineering import pages as computations

        guide = tuple(Entry(self._guide[name][0], name) for name in self._guide_names)
        rules = tuple(
            Entry(title, f"rules/{theme}", tuple(Entry(t, f"rule/{slug}") for slug, t in self._rules.get(theme, ())))
            for theme, title in THEMES.items()
        )
        groups = tuple(
            Entry(group, f"kinds/{group}", tuple(Entry(kind.name, f"kind/{kind.id}") for kind in kinds))
            for group, kinds in self._groups.items()
        )
        return (
            Entry("Guide", "", guide),
            Entry("Rules", "rules", rules),
            Entry(
                "Computations",
                "computations",
                tuple(Entry(computations.page(n).title, f"computation/{n}") for n in computations.names()),
            ),
            Entry("Kinds of part", "kinds", groups),
            Entry("Glossary", "glossary"),
            Entry("Keys", "keys"),
            Entry("Sources", "sources"),
            Entry("Cautions", "cautions"),
            Entry("About loopwright", "about"),
        )

    def names(self) -> tuple[str, ...]:
        """The name of every page."""
        return tuple(entry.page for entry in self._walk(self.contents) if entry.page)

    def title(self, name: str) -> str:
        """The title of a page; its name where there is no such page."""
        return next((e.title for e in self._walk(self.contents) if e.page == name), name)

    def title_with_sort(self, name: str) -> str:
        """The title of a page and what sort of page it is, for a list of all sorts."""
        sort = SORTS.get(name.partition("/")[0], "")
        return f"{self.title(name)}, {sort}" if sort else self.title(name)

    def _walk(self, entries: tuple[Entry, ...]) -> Iterator[Entry]:
        for entry in entries:
            yield entry
            yield from self._walk(entry.under)

    @cached_property
    def _guide(self) -> dict[str, tuple[str, str]]:
        out = {}
        for path in sorted((resource_root() / "help").glob("*.md")):
            head, text = read_page(path, f"The page {path.stem} of the Help", "title")
            out[path.stem] = (str(head["title"]), text)
        return out

    @property
    def _guide_names(self) -> tuple[str, ...]:
        return (*(n for n in GUIDE if n in self._guide), *(n for n in self._guide if n not in GUIDE))

    @cached_property
    def _rules(self) -> dict[str, list[tuple[str, str]]]:
        """Slug and title of the rules of each theme."""
        from loopwright.rules.registry import all_rules, page

        out: dict[str, list[tuple[str, str]]] = {}
        for slug, rule in all_rules(computed=True).items():
            try:
                out.setdefault(rule.theme, []).append((slug, page(slug).title))
            except LoopwrightError:  # a rule is shown without its page rather than not at all
                out.setdefault(rule.theme, []).append((slug, slug))
        return out

    @cached_property
    def _groups(self) -> dict[str, list[Kind]]:
        return self._catalogue.groups()

    # ---- pages

    def html(self, name: str) -> str:
        """A page, its title first. Raises LoopwrightError for a name that no page has."""
        sort, _, rest = name.partition("/")
        makers = {
            "rules": self._rules_page,
            "rule": self._rule,
            "computations": self._computations,
            "computation": self._computation,
            "kinds": self._kinds,
            "kind": self._kind,
            "glossary": self._glossary,
            "keys": lambda _: _titled("Keys", keys_html()),
            "sources": self._sources,
            "cautions": self._cautions,
            "about": self._about,
        }
        if sort in makers:
            return makers[sort](rest)
        if name in self._guide:
            title, text = self._guide[name]
            return _titled(title, markdown_html(text))
        raise LoopwrightError(f"There is no page “{name}” in the Help", do="Choose one of the contents")

    def _rules_page(self, theme: str) -> str:
        from loopwright.rules.registry import page

        out = []
        for key, title in THEMES.items():
            if theme not in ("", key):
                continue
            rows = []
            for slug, name in self._rules.get(key, ()):
                try:
                    severity = page(slug).severity
                except LoopwrightError:
                    severity = "advice"
                word = f'<span class="{severity}">{severity}</span>'
                rows.append(f"<tr><td>{_link(f'rule/{slug}', name)}</td><td>{word}</td></tr>")
            out.append(
                (f'<p class="head">{escape(title)}</p>' if not theme else "") + f"<table>{''.join(rows)}</table>"
            )
        return _titled(THEMES.get(theme, "Rules"), "".join(out))

    def _rule(self, slug: str) -> str:
        from loopwright.rules.registry import facts

        title, severity, body, keys = page_html(slug)
        theme = slug.partition("/")[0]
        where = _link(f"rules/{theme}", THEMES.get(theme, theme))
        where = f'<p>{where}, <span class="{severity}">{severity}</span></p>'
        known = [key for key in keys if key in facts()]
        more = f"<p>{_link(f'sources#{known[0]}', 'These figures in the table of sources')}</p>" if known else ""
        return _titled(title, where + body + more)

    def _computations(self, _rest: str) -> str:
        from loopwright.engineering import pages as computations

        rows = "".join(f"<p>{_link(f'computation/{n}', computations.page(n).title)}</p>" for n in computations.names())
        return _titled("Computations", rows)

    def _computation(self, name: str) -> str:
        from loopwright.engineering import pages as computations

        found = computations.page(name)
        return _titled(found.title, with_indices(markdown_html(found.text)))

    def _kinds(self, group: str) -> str:
        out = []
        for name, kinds in self._groups.items():
            if group in ("", name):
                rows = "".join(
                    f"<tr><td>{_link(f'kind/{k.id}', k.name)}</td><td>{escape(k.help)}</td></tr>" for k in kinds
                )
                out.append((f'<p class="head">{escape(name)}</p>' if not group else "") + f"<table>{rows}</table>")
        return _titled(group or "Kinds of part", "".join(out))

    def _kind(self, ident: str) -> str:
        if ident not in self._catalogue:
            raise LoopwrightError(f"There is no kind “{ident}”", do="Choose one of the contents")
        kind = self._catalogue[ident]
        out = [f'<p><img src="symbol:{escape(kind.id)}"></p>' if kind.symbol else "", f"<p>{escape(kind.help)}</p>"]
        if kind.synonyms:
            out.append(f'<p class="faint">Also called {escape(", ".join(kind.synonyms))}.</p>')
        if kind.ports:
            rows = "".join(
                f"<tr><td><b>{escape(p.label or p.name.replace('_', ' '))}</b></td><td>{_port_words(p)}</td></tr>"
                for p in kind.ports
            )
            out.append(f'<p class="head">Ports</p><table>{rows}</table>')
        if kind.props:
            rows = "".join(self._prop(p) for p in kind.props)
            out.append(f'<p class="head">Properties</p>{rows}')
        out.append(f"<p>{_link(f'kinds/{kind.group}', f'More of {kind.group.lower()}')}</p>")
        return _titled(kind.name, "".join(out))

    def _prop(self, spec: PropSpec) -> str:
        """A property: what it means, its usual range, and what is assumed where nobody says."""
        sign = self.units.sign(spec.unit)
        words = []
        if spec.usual:
            low, high = (self.units.about(end, spec.unit) for end in spec.usual)
            words.append(f"usual {low} to {high} {sign}".strip())
        if spec.choices:
            words.append(" or ".join(c.replace("_", " ") for c in spec.choices))
        if spec.default is None:
            words.append("to be stated: nobody can guess it")
        elif isinstance(spec.default, bool):
            words.append(f"assumed {'yes' if spec.default else 'no'}")
        elif isinstance(spec.default, str):
            words.append(f"assumed {spec.default.replace('_', ' ')}" if spec.default else "")
        else:
            words.append(f"assumed {self.units.show(spec.default, spec.unit)} {sign}".strip())
        said = "; ".join(word for word in words if word)
        return (
            f'<p><a name="{escape(spec.name)}"></a><b>{escape(spec.label)}</b><br>{escape(spec.help)}'
            f'<br><span class="faint">{escape(said[:1].upper() + said[1:])}.</span></p>'
        )

    def _sources(self, _rest: str) -> str:
        from loopwright.rules.limits import asked_by
        from loopwright.rules.registry import facts

        titles = {slug: title for rules in self._rules.values() for slug, title in rules}
        out = [
            "<p>Every published figure that rules and computations lean on, with how far it is to be trusted: read in "
            "a published page, recalled and to be confirmed, or common practice without a source.</p>"
        ]
        for key, fact in facts().items():
            doubt = "; sources differ or are weak" if fact.doubt else ""
            used = ", ".join(_link(f"rule/{slug}", titles.get(slug, slug)) for slug in asked_by().get(key, ()))
            out.append(
                f'<p><a name="{escape(key)}"></a>{escape(fact.says)}<br><span class="faint">{escape(fact.source)}; '
                f"{TRUST[fact.confidence]}{doubt}.</span>{f'<br>{used}' if used else ''}</p>"
            )
        return _titled("Sources", "".join(out))

    def _glossary(self, _rest: str) -> str:
        """Every word of the trade, with its other names and where to read on."""
        from loopwright.lessons.glossary import terms
        from loopwright.rules.registry import page

        out = ["<p>Words of the trade. Rest the pointer on one of them anywhere in the Help, and it is explained.</p>"]
        for term in terms():
            links = [_link(f"kind/{k}", self._catalogue[k].name) for k in term.kinds if k in self._catalogue]
            links += [_link(f"rule/{term.page}", page(term.page).title)] if term.page else []
            name = f"{term.name[:1].upper()}{term.name[1:]}"
            also = f' <span class="faint">also {escape(", ".join(term.words[1:]))}</span>' if term.words[1:] else ""
            more = f"<br>{', '.join(links)}" if links else ""
            head = f'<a name="{escape(term.name)}"></a><b>{escape(name)}</b>{also}'
            out.append(f"<p>{head}<br>{escape(term.says)}{more}</p>")
        return _titled("Glossary", "".join(out))

    def _cautions(self, _rest: str) -> str:
        heading, lines = cautions()
        return _titled(heading, "".join(f"<p>{escape(line)}</p>" for line in lines))

    def _about(self, _rest: str) -> str:
        return _titled(
            f"loopwright {__version__}",
            "<p>Draws heat-store pipework as a section through the house and shows what is unsafe or will not work.</p>"
            "<p>The symbols follow ISO 14617 and BS 1553. The typeface is under the SIL Open Font License 1.1.</p>",
        )

    # ---- searching

    @cached_property
    def _texts(self) -> dict[str, tuple[str, str]]:
        """Title and words of every page, in small letters."""
        from loopwright.engineering import pages as computations
        from loopwright.lessons.glossary import terms
        from loopwright.rules.registry import page

        out: dict[str, tuple[str, str]] = {}
        for entry in self._walk(self.contents):
            sort, _, rest = entry.page.partition("/")
            text = ""
            if entry.page in self._guide:
                text = self._guide[entry.page][1]
            elif sort == "rule":
                try:
                    text = page(rest).text
                except LoopwrightError:
                    text = rest
            elif sort == "computation":
                text = computations.page(rest).text
            elif sort == "glossary":
                text = " ".join(f"{' '.join(term.words)} {term.says}" for term in terms())
            elif sort == "kind":
                kind = self._catalogue[rest]
                text = " ".join((kind.help, *kind.synonyms, *(f"{p.label} {p.help}" for p in kind.props)))
            if entry.page:
                out[entry.page] = (entry.title.lower(), text.lower())
        return out

    def search(self, text: str) -> tuple[str, ...]:
        """Names of pages that hold every word, those that have them in their title first."""
        words = text.lower().split()
        if not words:
            return ()
        hits = [
            (not all(word in title for word in words), place, name)
            for place, (name, (title, body)) in enumerate(self._texts.items())
            if all(word in title or word in body for word in words)
        ]
        return tuple(name for _, _, name in sorted(hits))


def _titled(title: str, body: str) -> str:
    return f'<p class="title">{escape(title)}</p>{body}'


def _link(page: str, words: str) -> str:
    return f'<a href="help:{escape(page)}">{escape(words)}</a>'


def _port_words(port: PortSpec) -> str:
    """The role of a port, and whether it may stand unused."""
    words = [] if port.role == "any" else [port.role.replace("_", " ")]
    if port.optional:
        words.append("may stay unused")
    if port.bore_mm:
        words.append(f"bore {port.bore_mm:g} mm")
    return escape(", ".join(words))
