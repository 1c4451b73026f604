"""Entry points are found as the standard library finds them, without loading it."""

import subprocess
import sys
import zipfile
from importlib import metadata
from importlib.machinery import PathFinder
from pathlib import Path

import pytest

from linkcalc import discovery
from linkcalc.discovery import entries

GROUP = "linkcalc.hinge_moment"
ROOT = Path(__file__).resolve().parent.parent


def write(folder, info, lines, name="stranger", version="1.2"):
    """Write the metadata of a distribution as an installer leaves it."""
    home = folder / info
    home.mkdir(parents=True)
    kind = "METADATA" if info.endswith("dist-info") else "PKG-INFO"
    words = f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n"
    (home / kind).write_text(words, encoding="utf-8")
    if lines is not None:
        (home / "entry_points.txt").write_text(lines, encoding="utf-8")
    return home


@pytest.fixture(autouse=True)
def only_the_standard_library(monkeypatch):
    """Undo what a backport does to the library, should anything else have imported it."""
    kept = [each for each in sys.meta_path if "importlib_metadata" not in type(each).__module__]
    monkeypatch.setattr(sys, "meta_path", kept)
    find = metadata.MetadataPathFinder.find_distributions
    monkeypatch.setattr(PathFinder, "find_distributions", find, raising=False)


def library(group=GROUP):
    """What the standard library finds."""
    found = metadata.entry_points(group=group)
    return sorted(
        (item.name, item.value, f"{item.dist.name} {item.dist.version}") for item in found
    )


def ours(group=GROUP):
    return sorted((item.name, item.target, item.origin) for item in entries(group))


@pytest.mark.parametrize("group", [GROUP, "linkcalc.supply", "linkcalc.dive", "console_scripts"])
def test_what_is_installed_here_is_found_as_by_the_library(group):
    assert ours(group) == library(group)


FLAT = f"[{GROUP}]\nflat = stranger:Flat\n"
SITES = {
    "a wheel": [("stranger-1.2.dist-info", FLAT)],
    "in development mode": [("stranger.egg-info", FLAT)],
    "an egg-info with a version": [("stranger-1.2-py3.11.egg-info", FLAT)],
    "without entry points": [("stranger-1.2.dist-info", None)],
    "with an empty file": [("stranger-1.2.dist-info", "")],
    "another group": [("stranger-1.2.dist-info", "[linkcalc.hinge_moments]\nflat = a:b\n")],
    "a group twice": [("stranger-1.2.dist-info", f"{FLAT}[other]\nx = y:z\n[{GROUP}]\nmore = a:b\n")],
    "comments and spaces": [
        ("stranger-1.2.dist-info", f"# [x]\n\n [{GROUP}] \n # no\n\tflat=stranger : Flat \n")
    ],
    "an object in an object": [("stranger-1.2.dist-info", f"[{GROUP}]\nflat = a.b:C.d [extra]\n")],
    "a name with an equals sign after it": [("stranger-1.2.dist-info", f"[{GROUP}]\na b = c:d=e\n")],
    "windows line ends": [("stranger-1.2.dist-info", f"[{GROUP}]\r\nflat = a:b\r\n")],
    "two of one name": [
        ("stranger-1.2.dist-info", FLAT),
        ("neighbour-3.dist-info", f"[{GROUP}]\nflat = neighbour:Flat\n"),
    ],
    "an entry written twice": [("stranger-1.2.dist-info", FLAT + FLAT)],
    "names in capitals": [("Strange.Name-1.2.DIST-INFO", FLAT)],
}  # fmt: skip


@pytest.mark.parametrize("name", SITES)
def test_made_up_sites_are_read_as_by_the_library(name, tmp_path, monkeypatch):
    for info, lines in SITES[name]:
        write(tmp_path, info, lines, name=info.partition("-")[0].partition(".")[0])
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(discovery, "_asked", pytest.fail)
    assert ours() == library()


def test_the_first_distribution_of_a_name_on_the_path_counts(tmp_path, monkeypatch):
    write(tmp_path / "old", "my_stranger-1.0.dist-info", f"[{GROUP}]\nold = a:b\n", version="1.0")
    write(tmp_path / "new", "My.Stranger-2.0.dist-info", f"[{GROUP}]\nnew = a:b\n", version="2.0")
    for folder in ("old", "new"):  # the new one stands first then
        monkeypatch.syspath_prepend(tmp_path / folder)
    assert ours() == library()
    assert {"new"} == {item.name for item in entries(GROUP) if item.target == "a:b"}


def test_folders_that_are_not_there_and_the_working_folder_are_searched(tmp_path, monkeypatch):
    write(tmp_path, "stranger-1.2.dist-info", FLAT)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["", str(tmp_path / "gone"), *sys.path])
    assert ours() == library()
    assert "flat" in {item.name for item in entries(GROUP)}


def test_a_legacy_file_of_metadata_brings_nothing(tmp_path, monkeypatch):
    (tmp_path / "stranger-1.2.egg-info").write_text("Metadata-Version: 1.0\nName: stranger\n")
    monkeypatch.syspath_prepend(tmp_path)
    assert ours() == library()


def test_what_lies_in_an_archive_is_found_by_the_library(tmp_path, monkeypatch):
    home = write(tmp_path, "stranger-1.2.dist-info", FLAT)
    archive = tmp_path / "stranger.zip"
    with zipfile.ZipFile(archive, "w") as made:
        for file in home.iterdir():
            made.write(file, f"{home.name}/{file.name}")
    monkeypatch.syspath_prepend(archive)
    assert ours() == library()
    assert ("flat", "stranger:Flat", "stranger 1.2") in ours()


def test_an_egg_is_found_by_the_library(tmp_path, monkeypatch):
    write(tmp_path, "stranger-1.2-py3.11.egg/EGG-INFO", FLAT)
    monkeypatch.syspath_prepend(tmp_path / "stranger-1.2-py3.11.egg")
    assert ours() == library()
    assert "flat" in {item.name for item in entries(GROUP)}


def test_a_finder_of_distributions_of_its_own_is_asked_by_the_library(tmp_path, monkeypatch):
    home = write(tmp_path, "stranger-1.2.dist-info", FLAT)

    class Finder(metadata.DistributionFinder):
        def find_spec(self, *_):
            return None

        def find_distributions(self, context=None):
            del context
            yield metadata.Distribution.at(home)

    monkeypatch.setattr(sys, "meta_path", [*sys.meta_path, Finder()])
    assert ours() == library()
    assert "flat" in {item.name for item in entries(GROUP)}


def test_a_malformed_line_is_told_of_its_distribution_and_takes_nobody_down(tmp_path, monkeypatch):
    write(tmp_path, "stranger-1.2.dist-info", f"[{GROUP}]\nno target here\nempty =\n")
    monkeypatch.syspath_prepend(tmp_path)
    found = {item.name: item for item in entries(GROUP)}
    assert {"plate", "no target here", "empty"} <= found.keys()
    for name in ("no target here", "empty"):
        assert found[name].origin == "stranger 1.2"
        with pytest.raises(ValueError, match="Empty module name"):
            found[name].load()


def test_bytes_that_are_no_text_take_nobody_down(tmp_path, monkeypatch):
    home = write(tmp_path, "stranger-1.2.dist-info", None)
    (home / "entry_points.txt").write_bytes(f"[{GROUP}]\n".encode() + b"\xff\xfe = a:b\n")
    monkeypatch.syspath_prepend(tmp_path)
    assert {"plate", r"\xff\xfe"} <= {item.name for item in entries(GROUP)}


def test_a_distribution_without_a_name_is_told_by_its_folder(tmp_path, monkeypatch):
    home = write(tmp_path, "stranger-1.2.dist-info", FLAT)
    (home / "METADATA").unlink()
    monkeypatch.syspath_prepend(tmp_path)
    (found,) = (item for item in entries(GROUP) if item.name == "flat")
    assert "unknown distribution" in found.origin
    assert str(home) in found.origin


def test_an_object_in_an_object_is_loaded():
    made = discovery.Entry("x", "linkcalc.discovery : Entry.load [extra]", "stranger", "")
    assert made.load() is discovery.Entry.load
    module = discovery.Entry("x", "linkcalc.discovery", "stranger", "")
    assert module.load() is discovery


@pytest.mark.parametrize("editable", ["pth", "finder"])
def test_an_editable_install_is_found(editable, tmp_path):
    site, source = tmp_path / "site", tmp_path / "source"
    source.mkdir()
    (source / "stranger_here.py").write_text("Flat = 7\n")
    write(site, "stranger-1.2.dist-info", f"[{GROUP}]\nflat = stranger_here:Flat\n")
    if editable == "pth":
        (site / "stranger.pth").write_text(f"{source}\n")
    else:  # as build backends write it: a finder of modules, not of distributions
        (site / "stranger_finder.py").write_text(
            "import importlib.util, sys\n"
            "class Finder:\n"
            "    @staticmethod\n"
            "    def find_spec(name, path=None, target=None):\n"
            "        if name == 'stranger_here':\n"
            f"            return importlib.util.spec_from_file_location(name, {str(source / 'stranger_here.py')!r})\n"
            "sys.meta_path.append(Finder)\n"
        )
        (site / "stranger.pth").write_text("import stranger_finder\n")
    code = (
        f"import site, sys; sys.path.insert(0, {str(site)!r}); site.addsitedir({str(site)!r})\n"
        "from linkcalc.discovery import entries\n"
        f"print([e.load() for e in entries({GROUP!r}) if e.name == 'flat'], 'importlib.metadata' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout == "[7] False\n"
