from __future__ import annotations

import io
import struct
import zipfile

import pytest

from panelscan.errors import InputError
from panelscan.intake import limits
from panelscan.intake.archive import list_members, read_member
from tests.intake import makers


def book(tmp_path, members, name="book.cbz", **settings):
    return makers.write(tmp_path / name, makers.archive(members, **settings))


def test_pages_come_in_natural_order_without_litter(tmp_path):
    page = makers.png()
    members = {
        "p10.png": page,
        "p2.png": page,
        "__MACOSX/._p2.png": b"x",
        ".DS_Store": b"x",
        "Thumbs.db": b"x",
        "info.xml": b"<x/>",
    }
    pages, failures = list_members(book(tmp_path, members))
    assert pages == ("p2.png", "p10.png")
    assert failures == ()


@pytest.mark.parametrize(
    ("name", "reason"),
    [
        ("../../p.png", "outside"),
        ("/tmp/p.png", "absolute"),
        ("C:/p.png", "absolute"),
        ("..\\..\\p.png", "outside"),
        ("a\x07b.png", "control"),
        ("inner.cbz", "inside an archive"),
        ("inner.pdf", "inside an archive"),
        ("x" * 3000 + ".png", "characters"),
    ],
)
def test_hostile_members_are_refused_by_name_and_reason(tmp_path, name, reason):
    path = book(tmp_path, {"p1.png": makers.png(), name: makers.png()})
    pages, failures = list_members(path)
    assert pages == ("p1.png",)
    assert len(failures) == 1
    assert reason in failures[0].reason
    assert failures[0].label.startswith("/") and "book.cbz" in failures[0].label
    assert all(ord(letter) >= 32 for letter in failures[0].label)
    # Nothing is ever unpacked.
    assert [p.name for p in tmp_path.iterdir()] == ["book.cbz"]


def test_a_member_without_a_name_is_told(tmp_path):
    data = bytearray(makers.archive({"p.png": makers.png(), "q.png": makers.png()}))
    at = data.index(b"PK\x01\x02")
    name = at + 46
    data[at + 28 : at + 32] = struct.pack("<HH", 0, 5)  # its name's bytes become an extra field
    assert data[name : name + 5] == b"p.png"
    data[name : name + 5] = b"\x99\x99\x01\x00x"
    pages, failures = list_members(makers.write(tmp_path / "b.zip", bytes(data)))
    assert pages == ("q.png",)
    assert "no name" in failures[0].reason


def test_of_two_members_with_one_name_the_first_is_read(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        made.writestr("p1.png", makers.png())
        with pytest.warns(UserWarning, match="Duplicate"):
            made.writestr("p1.png", b"other")
    path = makers.write(tmp_path / "b.zip", out.getvalue())
    pages, failures = list_members(path)
    assert pages == ("p1.png",)
    assert "two members" in failures[0].reason
    assert read_member(path, "p1.png") == makers.png()


def test_encrypted_member_is_told(tmp_path):
    # PKWARE APPNOTE 4.4.4: general purpose bit 0.
    data = bytearray(makers.archive({"p1.png": makers.png()}))
    data[6] |= 1
    at = data.index(b"PK\x01\x02")
    data[at + 8] |= 1
    path = makers.write(tmp_path / "b.cbz", bytes(data))
    pages, failures = list_members(path)
    assert pages == ()
    assert "encrypted" in failures[0].reason
    with pytest.raises(InputError, match="encrypted"):
        read_member(path, "p1.png")


def test_bomb_is_refused_by_its_ratio(tmp_path):
    # 100 MB of zeros packed by Deflate: about 1000 to 1.
    path = book(tmp_path, {"p1.bmp": b"BM" + b"\0" * 100_000_000, "p2.png": makers.png()})
    pages, failures = list_members(path)
    assert pages == ("p2.png",)
    assert "times" in failures[0].reason


def test_member_that_inflates_past_its_promise_is_cut_off(tmp_path):
    data = bytearray(makers.archive({"p1.png": makers.png() + b"\0" * 50_000}))
    at = data.index(b"PK\x01\x02")
    data[at + 24 : at + 28] = struct.pack("<I", 100)  # uncompressed size in the directory
    path = makers.write(tmp_path / "b.cbz", bytes(data))
    with pytest.raises(InputError, match=r"p1\.png"):
        read_member(path, "p1.png")


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_ways_of_packing_without_a_bound_are_refused(tmp_path, method):
    pages, failures = list_members(book(tmp_path, {"p1.png": makers.png()}, method=method))
    assert pages == ()
    assert "unusual" in failures[0].reason


def test_too_many_members_are_refused_before_the_directory_is_read(tmp_path, monkeypatch):
    monkeypatch.setattr(limits, "MOST_MEMBERS", 5)
    path = book(tmp_path, {f"p{k}.png": b"x" for k in range(6)})
    monkeypatch.setattr(zipfile, "ZipFile", lambda *_: pytest.fail("directory was read"))
    with pytest.raises(InputError, match="more than 5"):
        list_members(path)


def test_archive_cut_anywhere_is_an_error_or_lists_pages(tmp_path):
    data = makers.archive({"p1.png": makers.png(), "p2.png": makers.png()})
    for cut in range(0, len(data) - 1, 7):
        path = makers.write(tmp_path / "b.cbz", data[:cut])
        with pytest.raises(InputError, match=r"b\.cbz"):
            list_members(path)


def test_damaged_member_is_an_error_that_names_it(tmp_path):
    data = bytearray(makers.archive({"p1.png": makers.png()}, zipfile.ZIP_STORED))
    data[60] ^= 0xFF
    path = makers.write(tmp_path / "b.cbz", bytes(data))
    with pytest.raises(InputError, match=r"b\.cbz: p1\.png: the page is damaged"):
        read_member(path, "p1.png")


def test_names_in_any_script_are_pages(tmp_path):
    members = {"第1話/ページ 2.png": makers.png(), "第1話/ページ 10.png": makers.png()}
    pages, failures = list_members(book(tmp_path, members))
    assert pages == tuple(members)
    assert failures == ()


def test_missing_member_is_an_error(tmp_path):
    with pytest.raises(InputError, match="no such page"):
        read_member(book(tmp_path, {"p1.png": makers.png()}), "p9.png")
