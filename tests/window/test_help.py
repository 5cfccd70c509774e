"""The Help: every page can be made, every link leads somewhere; search, back and forward, and F1 by the focus."""

from __future__ import annotations

import gc
import re
import weakref
from html import unescape

import pytest
from PySide6.QtCore import QEvent, Qt, QUrl
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QApplication

from loopwright.catalogue import standard_catalogue
from loopwright.engineering import pages as computations
from loopwright.errors import LoopwrightError
from loopwright.resources import resource_root
from loopwright.rules.registry import all_rules, facts
from loopwright.window.actions import COMMANDS
from loopwright.window.help import HelpWindow
from loopwright.window.help_here import page_here
from loopwright.window.help_pages import GUIDE, THEMES, HelpPages
from loopwright.window.main import MainWindow
from loopwright.window.pages import markdown_html, page_of_link, with_indices
from loopwright.window.quantities import Units

LINK = re.compile(r'href="help:([^"]*)"')


@pytest.fixture(scope="module")
def pages(qapp) -> HelpPages:
    return HelpPages(standard_catalogue())


@pytest.fixture
def help_window(drawn, qtbot):
    made = HelpWindow(drawn.desk)
    qtbot.addWidget(made)
    made.show_page("tour")
    return made


def test_the_contents_hold_every_rule_computation_kind_and_guide(pages):
    names = set(pages.names())
    assert {f"rule/{slug}" for slug in all_rules(computed=True)} <= names
    assert {f"computation/{name}" for name in computations.names()} <= names
    assert {f"kind/{kind.id}" for kind in standard_catalogue()} <= names
    assert set(GUIDE) | {"keys", "sources", "cautions", "about"} <= names
    assert {rule.theme for rule in all_rules(computed=True).values()} <= set(THEMES)


def test_every_page_can_be_made_and_every_link_leads_to_one(pages):
    places: dict[str, set[str]] = {}
    links: list[tuple[str, str]] = []
    for name in pages.names():
        html = pages.html(name)
        assert html.startswith('<p class="title">') and len(html) > 60, name
        places[name] = set(re.findall(r'<a name="([^"]*)"', html))
        links += [(name, unescape(link)) for link in LINK.findall(html)]
    assert len(links) > 500
    for name, link in links:
        page, _, place = link.partition("#")
        assert page_of_link(QUrl(f"help:{link}")) == link
        assert page in places, f"{name} leads to {page}"
        assert not place or place in places[page], f"{name} leads to {link}"


def test_the_guide_names_menus_and_commands_as_they_are(qapp):
    labels = {(c.menu.partition("/")[0], c.label) for c in COMMANDS}
    for path in (resource_root() / "help").glob("*.md"):
        for menu, label in re.findall(r"\*([A-Z]\w+), ([^*]+)\*", path.read_text(encoding="utf-8")):
            assert (menu, label) in labels, f"{path.stem}: {menu}, {label}"


def test_a_page_that_is_not_there_says_so(pages, help_window):
    with pytest.raises(LoopwrightError):
        pages.html("rule/no/such")
    help_window.show_page("kind/../../etc/passwd")
    assert "No such page" in help_window.text.toPlainText()


def test_sources_stand_with_their_trust_and_the_rules_that_lean_on_them(pages):
    html = pages.html("sources")
    for key, fact in facts().items():
        assert f'<a name="{key}">' in html, key
        assert fact.confidence
    assert "common practice" in html and 'href="help:rule/' in html


def test_a_kind_shows_its_ports_and_properties_in_the_units_preferred():
    catalogue = standard_catalogue()
    metric = HelpPages(catalogue).html("kind/heat_store")
    imperial = HelpPages(catalogue, Units("imperial")).html("kind/heat_store")
    assert "Properties" in metric and '<a name="volume_l">' in metric
    assert re.search(r"usual \d+ to \d+ l", metric.lower())
    assert re.search(r"usual \d+ to \d+ gal", imperial.lower())
    assert "Ports" in HelpPages(catalogue).html("kind/pump")


def test_a_kind_shows_its_symbol(help_window):
    help_window.show_page("kind/pump")
    drawn = help_window.text.loadResource(2, QUrl("symbol:pump")).toImage()
    assert not drawn.isNull() and len({drawn.pixel(x, drawn.height() // 2) for x in range(drawn.width())}) > 1
    assert help_window.text.loadResource(2, QUrl("file:///etc/hostname")) is None


def test_equations_are_set_with_indices(qapp):
    html = with_indices(markdown_html("`V = (V_e + V_r) (p_e + 1)` and store_flow stays"))
    assert "V<sub>e</sub>" in html and "store_flow" in html and 'class="equation"' in html


def test_search_finds_words_titles_first_and_enter_opens_the_first(help_window, qtbot):
    help_window.search.setText("expansion vessel")
    titles = [help_window.model.item(row).text() for row in range(help_window.model.rowCount())]
    assert len(titles) > 2 and all(word in titles[0].lower() for word in ("expansion", "vessel"))
    qtbot.keyClick(help_window.search, Qt.Key.Key_Return)
    assert titles[0].startswith(help_window.where.text()) and titles[0] != titles[1]
    help_window.search.setText("xyzzy")
    assert help_window.model.rowCount() == 0 and help_window.said.text() == "No page has all of these words."
    help_window.search.setText("")
    assert help_window.model.item(0).text() == "Guide"


def test_back_and_forward_lead_where_one_has_been(help_window):
    help_window._follow(QUrl("help:figures"))
    help_window._follow(QUrl("help:computation/vessel"))
    assert "Expansion vessel" in help_window.text.toPlainText()
    help_window.back()
    assert help_window.page == "figures" and help_window.forward_button.isEnabled()
    help_window.back()
    assert help_window.page == "tour" and not help_window.back_button.isEnabled()
    help_window.forward()
    assert help_window.page == "figures"
    help_window.show_page("units")
    assert not help_window.forward_button.isEnabled()


def test_the_contents_follow_the_page(help_window):
    help_window.show_page("rule/sealed/no-vessel")
    assert help_window.tree.currentIndex().data() == help_window.pages.title("rule/sealed/no-vessel")
    index = help_window.model.index(0, 0)
    help_window.tree.setCurrentIndex(help_window.model.index(1, 0, index))
    assert help_window.page == GUIDE[1]


def test_the_text_size_is_kept(help_window, memory):
    before = help_window._size
    help_window.larger()
    help_window.larger()
    assert memory.text_size == before + 2
    block = help_window.text.document().begin().next()
    assert block.begin().fragment().charFormat().font().pixelSize() == before + 2
    for _ in range(40):
        help_window.smaller()
    assert not help_window.smaller_button.isEnabled() and memory.text_size >= 10


def test_f1_opens_the_page_for_what_has_the_focus(drawn, qtbot):
    with qtbot.waitExposed(drawn):
        drawn.show()
    drawn.activateWindow()
    drawn.stage.take_focus()
    qtbot.waitUntil(lambda: drawn.stage.view.hasFocus())
    assert page_here(drawn) == "tour"
    drawn.document.choose(["store"])
    assert page_here(drawn) == "kind/heat_store"
    drawn.properties.focus_field("insulation_mm")
    assert page_here(drawn) == "kind/heat_store#insulation_mm"
    drawn.properties.tappings.table.setFocus()
    assert page_here(drawn) == "tappings"
    drawn.document.choose([next(iter(drawn.document.sheet.pipes))])
    drawn.properties.focus_first()
    assert page_here(drawn) == "pipes"
    drawn.actions_["next_finding"].trigger()
    drawn.findings.list.setFocus()
    assert page_here(drawn) == f"rule/{drawn.findings.current.rule}"
    drawn.actions_["conditions"].trigger()
    assert page_here(drawn) == "conditions"
    drawn.parts.tree.setFocus()
    assert page_here(drawn) == "kinds"
    drawn.actions_["review"].trigger()
    assert page_here(drawn) == "findings"


def test_the_command_shows_one_window_that_closes_with_the_other(drawn, qtbot):
    assert QKeySequence("F1") in drawn.actions_["help"].shortcuts()
    drawn.actions_["help"].trigger()
    made = drawn.commands._help
    drawn.actions_["rule_pages"].trigger()
    assert drawn.commands._help is made and made.page == "rules" and made.isVisible()
    drawn.use_mode("dark")
    drawn.preferred.use("imperial")
    drawn.shut_down()
    assert not made.isVisible()


def test_the_why_page_leads_to_the_help(drawn, qtbot):
    qtbot.waitUntil(lambda: not drawn.surveyor.busy)
    drawn.actions_["why"].trigger()
    rule = drawn.findings.current.rule
    assert "This rule in the Help" in drawn.why.text.toPlainText()
    drawn.why._follow(QUrl(f"help:rule/{rule}"))
    assert drawn.commands._help.page == f"rule/{rule}"


def test_figures_and_help_let_go_of_a_window_that_was_closed(qtbot, catalogue, small, memory, answers, tmp_path):
    window = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "gone")
    window.document.open(small, None)
    window.places.open("figures")
    window.places.open("figure")
    window.commands.show_help("tour")
    window.show()
    qtbot.wait(5)
    gone = weakref.ref(window)
    window.shut_down()
    window.deleteLater()
    del window
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert gone() is None
