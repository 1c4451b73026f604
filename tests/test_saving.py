"""Files are written whole or not at all, and replace nothing unless that is asked for."""

import errno
import os
from pathlib import Path

import pytest

from linkcalc.errors import InputFaults
from linkcalc.saving import refuse_existing, save, save_all


def test_a_file_is_written(tmp_path):
    save(tmp_path / "sheet.html", b"whole")
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.html"]
    assert (tmp_path / "sheet.html").read_bytes() == b"whole"


def test_a_file_that_exists_stays_unless_force_is_said(tmp_path):
    target = tmp_path / "sheet.html"
    target.write_bytes(b"old")
    with pytest.raises(InputFaults, match="--force"):
        save(target, b"new")
    assert target.read_bytes() == b"old"
    save(target, b"new", force=True)
    assert target.read_bytes() == b"new"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_dangling_link_is_a_name_that_is_taken(tmp_path):
    (tmp_path / "link.svg").symlink_to(tmp_path / "nowhere")
    with pytest.raises(InputFaults, match="a file of this name"):
        refuse_existing([str(tmp_path / "link.svg")])


@pytest.mark.parametrize("name", ["no folder/sheet.html", "a\0b.html", "x" * 300 + ".html"])
@pytest.mark.parametrize("force", [False, True])
def test_what_cannot_be_written_is_a_fault_and_leaves_nothing(tmp_path, name, force):
    with pytest.raises(InputFaults, match=r"expected a (place to write to|name that is free)"):
        save(f"{tmp_path}/{name}", b"content", force=force)
    assert not list(tmp_path.iterdir())


def test_a_folder_is_never_replaced(tmp_path):
    (tmp_path / "cards.pdf").mkdir()
    with pytest.raises(InputFaults, match="a place to write to"):
        save(tmp_path / "cards.pdf", b"content", force=True)
    assert [path.name for path in tmp_path.iterdir()] == ["cards.pdf"]


def test_of_several_files_none_is_written_where_one_cannot_be(tmp_path):
    wanted = {f"{tmp_path}/card-1.svg": b"one", f"{tmp_path}/none/card-2.svg": b"two"}
    with pytest.raises(InputFaults, match=r"none/card-2\.svg"):
        save_all(wanted)
    assert not list(tmp_path.iterdir())


def test_of_several_files_none_is_written_where_one_is_taken(tmp_path):
    (tmp_path / "card-2.svg").write_bytes(b"old")
    with pytest.raises(InputFaults, match=r"card-2\.svg"):
        save_all({f"{tmp_path}/card-1.svg": b"one", f"{tmp_path}/card-2.svg": b"two"})
    assert [path.name for path in tmp_path.iterdir()] == ["card-2.svg"]


@pytest.mark.parametrize("force", [False, True])
def test_a_full_disk_leaves_what_was_there(tmp_path, monkeypatch, force):
    target = tmp_path / "sheet.html"
    if force:
        target.write_bytes(b"old")
    real = Path.open

    def full(path, mode="r", *rest, **more):
        if "x" in mode:
            real(path, mode, *rest, **more).close()
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return real(path, mode, *rest, **more)

    monkeypatch.setattr(Path, "open", full)
    with pytest.raises(InputFaults, match="no space left"):
        save(target, b"new", force=force)
    assert [path.read_bytes() for path in tmp_path.iterdir()] == ([b"old"] if force else [])


def test_of_two_that_write_at_once_the_second_is_told(tmp_path, monkeypatch):
    target = tmp_path / "sheet.html"

    def late(_, name):
        Path(name).write_bytes(b"first")
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST))

    monkeypatch.setattr(os, "link", late)
    with pytest.raises(InputFaults, match="a file of this name"):
        save(target, b"second")
    assert [path.read_bytes() for path in tmp_path.iterdir()] == [b"first"]


def test_without_hard_links_a_disk_that_fills_up_leaves_no_half_file(tmp_path, monkeypatch):
    target, real = tmp_path / "sheet.html", Path.open

    class Full:
        """A file that takes nothing."""

        def __init__(self, file):
            self.file = file

        def __enter__(self):
            return self

        def __exit__(self, *error):
            self.file.close()

        def write(self, _):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def opened(path, *rest, **more):
        file = real(path, *rest, **more)
        return Full(file) if path == target else file

    def none(*_):
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", none)
    save(tmp_path / "other.html", b"whole")
    assert (tmp_path / "other.html").read_bytes() == b"whole"
    monkeypatch.setattr(Path, "open", opened)
    with pytest.raises(InputFaults, match="no space left"):
        save(target, b"content")
    assert [path.name for path in tmp_path.iterdir()] == ["other.html"]
