"""Writing is all or nothing, follows links, keeps modes, and keeps a file of an older version beside."""

from __future__ import annotations

import os
import stat

import pytest

from loopwright.errors import FileError
from loopwright.files import migrate, writer
from loopwright.files.reader import load
from loopwright.files.writer import dumps, save, write_bytes
from loopwright.sheet import edits

posix = pytest.mark.skipif(os.name != "posix", reason="modes and links are those of POSIX")


def test_saving_and_loading(tmp_path, sheet):
    path = tmp_path / "house.loopwright"
    save(sheet, path)
    assert load(path) == sheet
    save(edits.set_title(sheet, "Second"), path)
    assert load(str(path)).title == "Second"
    assert os.listdir(tmp_path) == ["house.loopwright"]


def test_a_failed_write_leaves_the_old_file_and_no_rubbish(tmp_path, sheet, monkeypatch):
    path = tmp_path / "house.loopwright"
    save(sheet, path)
    before = path.read_bytes()
    for name in ("fsync", "replace"):
        with monkeypatch.context() as patch:

            def fails(*_):
                raise OSError(28, "No space left on device")

            patch.setattr(writer.os, name, fails)
            with pytest.raises(FileError, match="No space left on device"):
                save(edits.set_title(sheet, "Second"), path)
        assert path.read_bytes() == before
        assert os.listdir(tmp_path) == ["house.loopwright"]


def test_it_is_on_the_disk_before_it_takes_the_place_of_the_old(tmp_path, monkeypatch):
    order = []
    real_fsync, real_replace = os.fsync, os.replace
    monkeypatch.setattr(writer.os, "fsync", lambda fd: (order.append("fsync"), real_fsync(fd))[1])
    monkeypatch.setattr(writer.os, "replace", lambda a, b: (order.append("replace"), real_replace(a, b))[1])
    write_bytes(tmp_path / "a", b"x")
    assert order[:2] == ["fsync", "replace"]


@posix
def test_the_mode_is_kept(tmp_path, sheet):
    path = tmp_path / "house.loopwright"
    save(sheet, path)
    os.chmod(path, 0o640)
    save(sheet, path)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


@posix
def test_a_link_stays_a_link(tmp_path, sheet):
    real = tmp_path / "real"
    real.mkdir()
    link = tmp_path / "house.loopwright"
    link.symlink_to(real / "house.loopwright")
    save(sheet, link)
    assert link.is_symlink()
    assert load(real / "house.loopwright") == sheet
    assert os.listdir(real) == ["house.loopwright"]


@posix
def test_a_device_is_written_to(sheet):
    write_bytes("/dev/null", b"x")


def test_places_that_take_no_file(tmp_path, sheet):
    with pytest.raises(FileError, match="is a folder"):
        save(sheet, tmp_path)
    with pytest.raises(FileError, match="cannot be written"):
        save(sheet, tmp_path / "none" / "house.loopwright")
    with pytest.raises(FileError, match="cannot be written"):
        save(sheet, tmp_path / ("x" * 300))


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="nothing is protected from root")
def test_a_protected_file_is_left_alone(tmp_path, sheet):
    path = tmp_path / "house.loopwright"
    save(sheet, path)
    os.chmod(path, 0o444)
    with pytest.raises(FileError, match="protected"):
        save(sheet, path)


def test_a_file_of_an_older_version_is_kept_beside(tmp_path, sheet):
    path = tmp_path / "house.loopwright"
    old = dumps(sheet).replace(b'"version": 1', b'"version": 0')
    path.write_bytes(old)
    save(sheet, path)
    save(sheet, path)
    assert (tmp_path / "house.version-0.loopwright").read_bytes() == old
    assert load(path) == sheet
    assert len(os.listdir(tmp_path)) == 2


def test_steps_lead_up_to_the_version_of_today():
    given = {"version": 1, "name": "Barn"}
    steps = {
        1: lambda data: {**{k: v for k, v in data.items() if k != "name"}, "title": data["name"]},
        2: lambda data: {**data, "levels": []},
    }
    assert migrate.migrate(given, steps, 3) == {"version": 3, "title": "Barn", "levels": []}
    assert given == {"version": 1, "name": "Barn"}
    with pytest.raises(FileError, match="newer"):
        migrate.migrate({"version": 4}, steps, 3)
    with pytest.raises(FileError, match="no longer be read"):
        migrate.migrate({"version": 0}, steps, 3)
