"""The Run view: choosing, running, stopping, playing, keeping; on runs made by hand and one short real power cut."""

from __future__ import annotations

import gc
import threading
import weakref
from pathlib import Path

import msgspec
import numpy as np
import pytest
from canned import made
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QToolButton

from loopwright.engineering.runs.day import days, load_day
from loopwright.files.reader import load
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from loopwright.window.actions import COMMANDS
from loopwright.window.jobs import Jobs
from loopwright.window.main import MainWindow
from loopwright.window.run import export, runner, story
from loopwright.window.run.wish import Wish

SOUND = Path(__file__).parents[2] / "samples" / "sound"


@pytest.fixture
def view(drawn, qtbot, monkeypatch):
    """The view over the small sheet, where every run is answered at once by one made by hand."""
    asked = []

    def answer(wish, sheet, catalogue, progress, cancel, so_far=None):
        asked.append((wish, sheet))
        progress(0.5)
        out, back = list(sheet.pipes)
        run = made("day" if wish.what == "day" else "power cut", "done" if wish.what == "day" else "peaks")
        rename = {"out": out, "back": back}
        return msgspec.structs.replace(
            run,
            condition=wish.condition,
            pipes={rename[k]: v for k, v in run.pipes.items()},
            flows={rename[k]: v for k, v in run.flows.items()},
        )

    monkeypatch.setattr(runner, "carry_out", answer)
    drawn.resize(1280, 800)
    drawn.show()
    made_view = drawn.places.open("run")
    made_view.asked = asked
    return made_view


def test_the_view_opens_empty_with_its_choices_in_place_of_the_tools(view, drawn):
    assert view.reading is None and not view.choices.run.isHidden()
    tools = list(drawn.tool_row.findChildren(QToolButton))
    assert tools and all(b.isHidden() for b in tools) and view.choices.isVisible()
    drawn.places.open("draw")
    assert not any(b.isHidden() for b in tools) and view.choices.isHidden()
    names = [b.text() for b in drawn.tool_row.views.buttons()]
    assert names == ["Draw", "Run", "Report", "Compare"]


def test_keys_of_the_menu_run_are_nobody_elses():
    keys = [key for c in COMMANDS for key in c.keys]
    assert len(keys) == len(set(keys))
    assert {c.id for c in COMMANDS if c.menu == "Run"} >= {"run", "run_cut", "run_day", "run_again", "run_stop"}


def test_a_power_cut_is_run_as_it_was_chosen_and_shown(view):
    view.choices.run.click()
    (wish, sheet), = view.asked  # fmt: skip
    assert wish.what == "cut" and wish.condition == POWER_CUT and sheet is view.reading.sheet
    assert view.outcome.card.heading.text() == "Does not boil"
    assert view.outcome.card.accessibleName() == "Pass: Does not boil"
    assert view.choices.run.text() == "Run again" and view.player.play.isEnabled()
    chart = view.centre.charts[0]
    assert "stove 60 °C" in chart.words_at(0.0) and "store top 50 °C" in chart.words_at(0.0)
    assert "top 50 °C, bottom 20 °C" in view.store.picture.accessibleDescription()


def test_days_conditions_and_valves_go_into_the_wish(view, drawn):
    view.choices.choose("winter")
    assert view.choices.condition.currentText() == "Normal running" and not view.choices.edit.isHidden()
    texts = [view.choices.condition.itemText(n) for n in range(view.choices.condition.count())]
    assert "No electricity" in texts and any("stopped" in t for t in texts)
    view.choices.condition.setCurrentIndex(next(n for n, t in enumerate(texts) if "stopped" in t))
    assert view.choices.wish().condition == Condition(stopped=frozenset({"P1"}))
    assert view.choices.wish().day is days()["winter"]
    assert not view.choices.valves.isEnabled()  # this sheet has none
    view.choices.choose("cut")
    assert view.choices.wish().condition in (POWER_CUT, Condition(stopped=frozenset({"P1"})))


def test_time_moves_by_key_by_line_and_by_play(view, qtbot):
    view.run()
    view.player.line.setFocus()
    QTest.keyClick(view.player.line, Qt.Key.Key_Right)
    assert view.player.time_s == 60.0 and view.player.now.text() == "0:01"
    QTest.keyClick(view.player.line, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert view.player.time_s == 3600.0  # no further than the end
    QTest.keyClick(view.player.line, Qt.Key.Key_Home)
    QTest.keyClick(view.player.line, Qt.Key.Key_Space)
    assert view.player.playing and view.player.play.accessibleName() == "Pause"
    qtbot.waitUntil(lambda: view.player.time_s > 0.0, timeout=2000)
    QTest.keyClick(view.player.line, Qt.Key.Key_Space)
    assert not view.player.playing
    left, right = view.player.line._track()
    QTest.mouseClick(view.player.line, Qt.MouseButton.LeftButton, pos=QPointF((left + right) / 2, 36).toPoint())
    assert view.player.time_s == pytest.approx(1800.0, abs=15.0)


def test_a_line_of_what_happened_leads_to_its_time(view):
    view.run()
    events = view.outcome.events
    peak = next(n for n in range(events.count()) if "Highest" in events.item(n).text())
    events.itemClicked.emit(events.item(peak))
    assert view.player.time_s == 1800.0 and events.currentRow() >= peak


def test_a_click_on_a_curve_goes_there_and_says_its_figure(view, drawn, qtbot):
    view.run()
    chart = view.centre.charts[0]
    qtbot.waitUntil(lambda: chart._plots[0].vb.width() > 100)
    spot = chart.mapFromScene(chart._plots[0].vb.mapViewToScene(QPointF(900.0, 75.0)))
    QTest.mouseClick(chart.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    assert view.player.time_s == pytest.approx(900.0, abs=20.0)
    assert drawn.status.words.text().startswith("Stove 15 min after the cut: 75 °C")


def test_the_sheet_shows_its_pipes_warm_and_marks_that_creep(view, qtbot):
    view.run()
    view.choices.shown.button(1).click()
    play = view.centre.sheet
    assert play.isVisible() and set(play.warm.warm) == set(view.reading.run.pipes)
    assert set(play.warm.moving) == set(view.reading.run.pipes) and play.warm.lines
    assert {p: round(c) for p, c in play.figures.warm.items()} == {"stove": 60}
    before = dict(play.warm.creep)
    view.player.toggle()
    qtbot.waitUntil(lambda: play.warm.creep != before, timeout=2000)
    view.player.stop()


def test_an_edit_makes_a_run_old_and_undoing_it_makes_it_good_again(view, drawn):
    view.run()
    assert view.stale.isHidden() and view.in_report.isEnabled()
    drawn.document.apply("Name", lambda sheet: msgspec.structs.replace(sheet, title="Another"))
    assert not view.stale.isHidden() and not view._veil.isHidden() and not view.in_report.isEnabled()
    assert len(view.asked) == 1  # nothing runs by itself
    view.run()
    assert view.stale.isHidden() and view._veil.isHidden() and len(view.asked) == 2


def test_two_runs_stand_side_by_side_with_what_differs(view, qtbot):
    view.run()
    view.compare("hold")
    view.choices.condition.setCurrentIndex(1)
    view.run()
    assert view.other is not None and [c.isVisible() for c in view.centre.charts] == [True, True]
    assert view.outcome.beside.text() and not view.outcome.beside_head.isHidden()
    assert view.store.which.count() == 2
    view.compare("alone")
    assert [c.isVisible() for c in view.centre.charts] == [True, False] and view.other is None


def test_the_saved_sheet_is_run_in_the_same_way(view, drawn, answers, tmp_path):
    answers["ask_save_path"] = tmp_path / "barn.loopwright"
    drawn.filing.save_as()
    drawn.document.apply("Name", lambda sheet: msgspec.structs.replace(sheet, title="Another"))
    view.compare("saved")
    assert [sheet.title for _, sheet in view.asked] == ["Kiln Lane barn", "Another"]
    assert view.other.sheet.title == "Kiln Lane barn" and view.reading.sheet is drawn.document.sheet


def test_what_cannot_be_run_says_why(view, drawn, monkeypatch):
    from loopwright.errors import FigureError

    def refuse(*_):
        raise FigureError("The stove’s output is missing", do="Enter it under Properties")

    monkeypatch.setattr(runner, "carry_out", refuse)
    view.run()
    assert view.centre.title.text() == "This cannot be run" and "Enter it under Properties" in view.centre.words.text()
    assert view.reading is None and view.choices.run.isEnabled() and not view.runner.busy


def test_a_run_can_be_stopped_and_keeps_what_is_done(view, drawn, qtbot, monkeypatch):
    drawn.desk.jobs = Jobs(parent=drawn.desk)  # beside the window, as people have it
    monkeypatch.setattr(runner, "BAR_MS", 0)
    begun, heard, go = threading.Event(), threading.Event(), threading.Event()

    def slow(wish, sheet, catalogue, progress, cancel, so_far):
        begun.set()
        heard.wait(5)
        progress(0.25)
        go.wait(5)
        assert cancel()
        return msgspec.structs.replace(made(complete=False, outcome="cancelled"), pipes={}, flows={})

    monkeypatch.setattr(runner, "carry_out", slow)
    view.run()
    assert view.runner.busy and not view.choices.run.isEnabled()
    assert begun.wait(5)
    view.runner._words_due.stop()
    view.runner._bar_due.stop()
    heard.set()
    qtbot.waitUntil(lambda: view.runner._part == 0.25)
    view.runner._tell()
    assert not view.bar.isHidden() and "45 min after the cut" in view.choices.said.text()
    view.choices.cancel.click()
    go.set()
    qtbot.waitUntil(lambda: view.reading is not None, timeout=5000)
    assert view.outcome.card.heading.text() == "Stopped by hand" and view.bar.isHidden()
    assert not view.in_report.isEnabled()
    drawn.desk.jobs.close()


def until(hour: float):
    """A day of which so much is done, its store's layers in motion."""
    times = np.arange(0.0, 3600.0 * hour + 1.0, 60.0)
    warm = 60.0 + times / 3600.0
    return made(
        "day", "under way", complete=False, times_s=times, pipes={}, flows={}, parts={"stove": warm},
        layers={"store": np.column_stack([warm - 10.0, warm])}, powers={"stove": 8000.0 + 0.0 * times},
    )  # fmt: skip


def test_the_charts_grow_while_a_day_runs_on_axes_that_stand_still(view):
    view.bar.show()
    sheet = view._desk.sheet
    view._grew(until(2.0), sheet)
    chart = view.centre.charts[0]
    spans, items, end = chart.spans(), [item for item, _ in chart._drawn], view.player.line._end_s
    assert view.outcome.card.heading.text() == "Under way" and end == 86400.0 == chart.end_s
    assert view.player.time_s == 7200.0 and not view.save.isEnabled() and not view.in_report.isEnabled()
    view._grew(until(9.0), sheet)
    assert chart.spans() == spans and [item for item, _ in chart._drawn] == items and chart.end_s == 86400.0
    assert chart._drawn[0][0].xData[-1] == 9 * 3600.0 and "stove 69 °C" in chart.words_at(9 * 3600.0)
    assert view.player.time_s == 9 * 3600.0  # it goes along
    view.player.go(3600.0)
    view._grew(until(12.0), sheet)
    assert view.player.time_s == 3600.0  # and stays where it was put
    view.player.to_end()
    assert view.player.time_s == 12 * 3600.0
    view.show_run(msgspec.structs.replace(until(24.0), outcome="done", complete=True), sheet)
    assert view.save.isEnabled() and view.player.line._done_s == 86400.0 == view.player.time_s  # still at the end


def test_what_a_run_has_so_far_comes_home_from_beside_the_window(view, drawn, qtbot, monkeypatch):
    drawn.desk.jobs = Jobs(parent=drawn.desk)
    monkeypatch.setattr(runner, "BAR_MS", 0)
    go = threading.Event()

    def slow(wish, sheet, catalogue, progress, cancel, so_far):
        progress(0.1)
        so_far(until(2.0))
        go.wait(5)
        so_far(until(4.0))
        return msgspec.structs.replace(until(24.0), outcome="done", complete=True)

    monkeypatch.setattr(runner, "carry_out", slow)
    with qtbot.waitSignal(view.runner.grew, timeout=5000) as heard:
        view.run()
    assert heard.args[0].times_s[-1] == 7200.0 and heard.args[1] is drawn.document.sheet
    go.set()
    qtbot.waitUntil(lambda: not view.runner.busy, timeout=5000)
    assert view.reading.run.outcome == "done"
    drawn.desk.jobs.close()


def test_runs_put_in_the_report_are_printed_while_the_drawing_stays(view, drawn):
    view.run()
    view.in_report.click()
    assert drawn.desk.runs.of(drawn.document.sheet) == (view.reading.run,)
    assert view.in_report.text() == "Take out of the report"
    report = drawn.places.open("report")
    assert any("Runs" in report.paper.contents.item(n).text() for n in range(report.paper.contents.count()))
    drawn.document.apply("Name", lambda sheet: msgspec.structs.replace(sheet, title="Another"))
    assert drawn.desk.runs.of(drawn.document.sheet) == ()


def test_table_charts_and_pictures_are_saved(view, answers, tmp_path, qtbot, monkeypatch):
    view.run()
    answers["ask_save_path"] = tmp_path / "run.csv"
    view.exports.save_csv()
    assert (tmp_path / "run.csv").read_text().startswith("time_s,store layer 1 (C)")
    answers["ask_save_path"] = tmp_path / "run.png"
    view.exports.save_png()
    assert (tmp_path / "run.png").read_bytes().startswith(b"\x89PNG")
    answers["ask_save_path"] = tmp_path / "run.svg"
    view.exports.save_svg()
    assert "</svg>" in (tmp_path / "run.svg").read_text()
    answers["ask_folder"] = tmp_path
    monkeypatch.setitem(export.FRAME_S, "power cut", 1200.0)
    view.exports.save_frames()
    qtbot.waitUntil(lambda: not view.exports.busy, timeout=20000)
    assert len(list(tmp_path.glob("run-*.png"))) == 4


def test_a_day_is_edited_on_its_strips_and_in_words(view, answers, tmp_path):
    view.choices.choose("winter")
    view.choices.edit.click()
    editor = view._editor
    assert editor.isVisible() and editor.fields["boiler"].text() == "05:00–22:30"
    editor.strips["boiler"].hours_changed.emit([(6 * 3600.0, 9 * 3600.0)])
    assert editor.day.boiler == (("06:00", "09:00"),) and editor.fields["boiler"].text() == "06:00–09:00"
    editor.strips["fires"].mark_added.emit(7 * 3600.0)
    assert editor.day.fires[0].at == "07:00" and editor.day.name == "own"
    editor.fields["cold_c"].setText("50")
    editor.finish()
    assert editor.refused == ["cold_c"] and "Give 0 to 30 °C" in editor.refusals["cold_c"].text() and not view.asked
    QTest.keyClick(editor, Qt.Key.Key_Escape)  # brings the last good value back
    assert not editor.refused and editor.fields["cold_c"].text() == "8"
    answers["ask_save_path"] = tmp_path / "own.toml"
    editor.save()
    assert load_day(tmp_path / "own.toml") == editor.day
    editor.use.click()
    assert view.asked[-1][0].day == editor.day and view.choices.what.currentText() == "A day of your own"
    (tmp_path / "bad.toml").write_text("title = 1")
    answers["ask_open_path"] = tmp_path / "bad.toml"
    kept = editor.day
    editor.load()
    assert editor.day == kept


def test_a_strip_is_dragged_by_the_pointer(view, qtbot):
    view.choices.choose("winter")
    view.edit_day()
    strip = view._editor.strips["programmer"]
    qtbot.waitUntil(lambda: strip.width() > 300)
    at = QPointF(strip._x(5 * 3600.0), 17.0).toPoint()
    to = QPointF(strip._x(7 * 3600.0), 17.0).toPoint()
    QTest.mousePress(strip, Qt.MouseButton.LeftButton, pos=at)
    QTest.mouseMove(strip, to)
    QTest.mouseRelease(strip, Qt.MouseButton.LeftButton, pos=to)
    assert view._editor.day.programmer == (("07:00", "22:30"),)
    QTest.mouseDClick(strip, Qt.MouseButton.LeftButton, pos=QPointF(strip._x(12 * 3600.0), 17.0).toPoint())
    assert view._editor.day.programmer == ()


def test_curves_that_never_rest_show_a_mean_and_contours_follow_the_layers():
    from loopwright.window.run.curves import busy, contour, smoothed

    times = np.arange(1440)
    assert busy(np.where(times % 20 < 10, 0.0, 15.0)) and not busy(np.sin(times / 200.0))
    low, mean, most = smoothed(np.where(times % 20 < 10, 0.0, 10.0))
    assert low.min() == 0.0 and most.max() == 10.0 and mean[700] == pytest.approx(5.0, abs=0.6)
    layers = np.array([[20.0, 40.0, 60.0, 80.0], [20.0, 20.0, 20.0, 20.0]])
    heights = contour(layers, 50.0, 2.0)  # layers at 0.25, 0.75, 1.25, 1.75 m: 50 degC half way from the second
    assert heights[0] == pytest.approx(1.0) and np.isnan(heights[1])


def test_a_real_power_cut_runs_from_the_menu(window, catalogue, qtbot):
    window.document.open(load(SOUND / "stove-by-gravity.loopwright", catalogue), None)
    window.actions_["run_cut"].trigger()
    view = window.places.widget("run")
    assert view.reading.run.kind == "power cut" and view.reading.run.complete
    assert view.reading.run.condition == POWER_CUT and view.reading.run.outcome == "peaks"
    told = story.shares(view.reading)
    whole = sum(s.kwh for s in told if s.gives)
    assert sum(s.kwh for s in told if not s.gives) == pytest.approx(whole, rel=0.03)  # but for the smallest shares
    assert window.conditions.condition == NORMAL  # the sheet itself is shown as before


def test_the_view_lets_go_of_a_window_that_was_closed(qtbot, catalogue, small, memory, answers, tmp_path):
    window = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "gone")
    window.document.open(small, None)
    view = window.places.open("run")
    view.show_run(msgspec.structs.replace(made(), pipes={}, flows={}), window.document.sheet)
    view.choices.shown.button(1).click()
    view.choices.choose("winter")
    view.edit_day()
    window.show()
    qtbot.wait(5)
    gone = weakref.ref(window)
    window.shut_down()
    window.deleteLater()
    del window, view
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert gone() is None


def test_a_sheet_without_a_store_runs_too(view):
    run = msgspec.structs.replace(made(), layers={}, pipes={}, flows={})
    view.show_run(run, view._desk.sheet)
    assert view.store.picture.isHidden() and len(view.centre.charts[0]._plots) == 2
    view.player.go(600.0)
    assert view.store._values[1].text() == "70 °C"
    view.choices.shown.button(1).click()
    assert view.centre.shows_sheet


def test_what_runs_while_a_day_is_edited_is_that_day(view):
    view.choices.choose("summer")
    view.edit_day()
    view._editor.strips["fires"].mark_added.emit(3600.0)
    view.choices.run.click()
    assert view.asked[-1][0].day.fires[0].at == "01:00"


def test_a_run_of_seconds_is_told_in_seconds(view):
    short = made()
    short = msgspec.structs.replace(short, times_s=short.times_s / 360.0, pipes={}, flows={})
    view.show_run(short, view._desk.sheet)
    view.player.feed_key(Qt.Key.Key_Right, False)
    assert view.player.now.text() == "1 s" and view.store.heading.text() == "1 s after the cut"


def test_a_wish_tells_what_is_unusual_about_it():
    assert Wish().told == "power cut during a fire"
    assert Wish(condition=Condition(power=False, shut=frozenset({"V1"}))).told == "power cut during a fire, V1 shut"
    assert Wish("day", days()["winter"], NORMAL).told == "a cold winter's day"
    assert Wish("day", days()["winter"], POWER_CUT).told == "a cold winter's day, Power cut"
