"""The file that results are kept in: whole entries or none, its room, and whose it is."""

from __future__ import annotations

import hashlib
import os
import signal
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any
from zlib import crc32

import lz4.block
import pytest

from checker.run.cache import Cache, _usual, folder, key_of, others_may_write, unpacked

KEY = key_of(b"x")


def kept(path: Path) -> list[tuple[bytes, bytes]]:
    """Its rows, as any reader of such files finds them."""
    connection = sqlite3.connect(path)
    rows: list[tuple[bytes, bytes]] = connection.execute(
        "SELECT key, entry FROM entries"
    ).fetchall()
    connection.close()
    return rows


def put_in(path: Path, entry: object) -> None:
    """One row written by another hand."""
    connection = sqlite3.connect(path)
    connection.execute("INSERT OR REPLACE INTO entries (key, entry) VALUES (?, ?)", (KEY, entry))
    connection.commit()
    connection.close()


def works(cache: Cache) -> bool:
    """Whether what is put into it is found in it."""
    cache.put([(b"new", b"entry")])
    found = cache.get([b"new"])
    return b"new" in found and unpacked(found[b"new"]) == b"entry"


def test_what_is_kept_is_what_the_form_of_the_file_says(tmp_path: Path) -> None:
    """Runs of several versions use one file, so its form is held: a key is BLAKE2b over each part
    after its length in eight bytes, an entry an LZ4 block after its CRC-32 in four."""
    Cache(tmp_path / "c.sqlite").put([(key_of(b"ab", b"c"), b"entry" * 99)])
    ((key, entry),) = kept(tmp_path / "c.sqlite")
    spelled = b"\x02" + bytes(7) + b"ab" + b"\x01" + bytes(7) + b"c"
    assert key == hashlib.blake2b(spelled, digest_size=16).digest()
    assert lz4.block.decompress(entry[4:]) == b"entry" * 99
    assert int.from_bytes(entry[:4], "little") == crc32(entry[4:])


@pytest.mark.parametrize("more", [-1, 1])
def test_a_wrong_sum_is_no_entry_whether_too_small_or_too_large(tmp_path: Path, more: int) -> None:
    path = tmp_path / "c.sqlite"
    cache = Cache(path)
    body = lz4.block.compress(b"entry" * 99)
    put_in(path, (crc32(body) + more).to_bytes(4, "little") + body)
    assert cache.get([KEY]) == {}
    put_in(path, crc32(body).to_bytes(4, "little") + body)
    assert cache.get([KEY]) == {KEY: body}


@pytest.mark.parametrize("entry", [b"", bytes(3), bytes(4), "text", 5, 1.5])
def test_what_is_no_entry_is_none(tmp_path: Path, entry: object) -> None:
    cache = Cache(tmp_path / "c.sqlite")
    put_in(tmp_path / "c.sqlite", entry)
    assert cache.get([KEY]) == {}
    assert works(cache)


def test_an_entry_of_one_byte_is_one(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c.sqlite")
    put_in(tmp_path / "c.sqlite", crc32(b"y").to_bytes(4, "little") + b"y")
    assert cache.get([KEY]) == {KEY: b"y"}


@pytest.mark.parametrize("mode", [0o700, 0o755, 0o750, 0o705, 0o744])
def test_who_may_only_read_spoils_nothing(tmp_path: Path, mode: int) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own").chmod(mode)
    assert others_may_write(tmp_path / "own") == ""


@pytest.mark.parametrize("mode", [0o720, 0o702, 0o722, 0o777])
def test_who_may_write_may_have_written(tmp_path: Path, mode: int) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own").chmod(mode)
    assert others_may_write(tmp_path / "own").startswith("others may write")
    cache = Cache(tmp_path / "own" / "c.sqlite")
    assert "others may write" in cache.refused
    assert not works(cache)
    assert [*(tmp_path / "own").iterdir()] == []


def test_a_file_that_others_may_write_is_refused_in_a_folder_of_ones_own(tmp_path: Path) -> None:
    path = tmp_path / "own" / "c.sqlite"
    first = Cache(path)
    assert path.parent.stat().st_mode & 0o777 == 0o700
    assert works(first)
    first.close()
    path.chmod(0o620)
    assert str(path) in Cache(path).refused
    assert not works(Cache(path))


def test_what_is_not_there_was_written_by_nobody(tmp_path: Path) -> None:
    assert others_may_write(tmp_path / "none") == ""


def test_what_belongs_to_another_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    uid = os.getuid()
    for another in (uid - 1, uid + 1):
        monkeypatch.setattr(os, "getuid", lambda uid=another: uid)
        assert "belongs to somebody else" in others_may_write(tmp_path)
    monkeypatch.delattr(os, "getuid")  # a system with rights of another kind
    assert others_may_write(tmp_path) == ""


@pytest.mark.parametrize("path", ["c.sqlite", "own/c.sqlite", "a/b/c.sqlite"])
def test_its_folder_is_made_wherever_it_is_to_lie(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    monkeypatch.chdir(tmp_path)
    assert works(Cache(path))
    assert Path(path).is_file()


def test_without_a_path_it_lies_in_the_folder_of_the_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PRESCREED_CACHE", str(tmp_path / "mine"))
    assert works(Cache())
    assert (tmp_path / "mine" / "results.sqlite").is_file()


def test_a_folder_that_another_run_makes_at_the_same_time_is_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, is_folder = tmp_path / "own", os.path.isdir
    own.mkdir(mode=0o700)
    monkeypatch.setattr(os.path, "isdir", lambda path: path != str(own) and is_folder(path))
    assert works(Cache(own / "c.sqlite"))


def test_a_place_that_is_none_does_no_harm(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    assert not works(Cache(tmp_path / "file" / "c.sqlite"))
    assert not works(Cache(tmp_path / "file" / "own" / "c.sqlite"))


def test_a_closed_one_is_empty_and_raises_nothing(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c.sqlite")
    assert works(cache)
    cache.close()
    assert [path.name for path in tmp_path.iterdir()] == ["c.sqlite"]  # no log of it is left open
    cache.close()
    assert not works(cache)
    assert works(Cache(tmp_path / "c.sqlite"))


def test_what_is_put_again_replaces_what_was_there(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c.sqlite")
    cache.put([(KEY, b"before")])
    cache.put([])
    cache.put(iter([(KEY, b"after")]))
    assert {key: unpacked(entry) for key, entry in cache.get(iter([KEY])).items()} == {
        KEY: b"after"
    }
    assert len(kept(tmp_path / "c.sqlite")) == 1


@pytest.mark.parametrize(
    "garbage", [b"not a database at all" * 500, b"SQLite format 3\0" + b"x" * 9000]
)
def test_a_file_that_is_none_is_begun_anew(tmp_path: Path, garbage: bytes) -> None:
    (tmp_path / "c.sqlite").write_bytes(garbage)
    assert works(Cache(tmp_path / "c.sqlite"))


def test_a_file_that_is_spoilt_while_it_is_in_use_is_begun_anew(tmp_path: Path) -> None:
    path = tmp_path / "c.sqlite"
    keys = [key_of(b"%d" % number) for number in range(400)]
    first = Cache(path)
    first.put([(key, os.urandom(900)) for key in keys])
    first.close()
    cache = Cache(path)  # what it reads to open the file is as it was
    whole = path.read_bytes()
    path.write_bytes(whole[:4096] + b"\xa5" * (len(whole) - 4096))
    assert cache.get(keys) == {}
    assert works(cache)
    assert len(kept(path)) == 1


def test_a_library_that_opens_nothing_is_asked_twice_at_most(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def connect(*_: object, **__: object) -> None:
        asked.append(1)
        raise sqlite3.DatabaseError("broken")

    monkeypatch.setattr(sqlite3, "connect", connect)
    assert not works(Cache(tmp_path / "c.sqlite"))
    assert len(asked) == 2


def size(path: Path) -> int:
    """Bytes of pages that hold something."""
    connection = sqlite3.connect(path)
    asked = ("page_count", "freelist_count", "page_size")
    pages, free, each = (connection.execute(f"PRAGMA {one}").fetchone()[0] for one in asked)
    connection.close()
    return int((pages - free) * each)


def test_room_is_made_only_where_there_is_more_than_its_size(tmp_path: Path) -> None:
    path = tmp_path / "c.sqlite"
    cache = Cache(path)
    cache.put([(key_of(b"%d" % number), os.urandom(9000)) for number in range(30)])
    cache.largest = size(path)
    cache._make_room()
    assert len(kept(path)) == 30
    cache.largest -= 1
    cache._make_room()
    # A tenth of them, and one.
    assert len(kept(path)) == 30 - 3 - 1


def test_it_takes_half_a_gibibyte_of_a_disk_where_nothing_else_is_said(tmp_path: Path) -> None:
    assert Cache(tmp_path / "c.sqlite").largest == 1 << 29


@pytest.mark.parametrize("lacking", ["page_count", "page_size", "freelist_count"])
def test_a_size_that_cannot_be_read_makes_no_room_and_no_harm(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lacking: str
) -> None:
    cache = Cache(tmp_path / "c.sqlite", largest=1)
    real = cache._do

    def do(statement: str, values: list[Any] | None = None, *, many: bool = False) -> Any:
        return [] if lacking in statement else real(statement, values, many=many)

    monkeypatch.setattr(cache, "_do", do)
    cache.put([(KEY, b"entry")])
    assert len(kept(tmp_path / "c.sqlite")) == 1


def test_it_stays_within_its_size(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c.sqlite", largest=2_000_000)
    for number in range(60):
        cache.put([(key_of(b"%d" % number), os.urandom(100_000))])
    cache.close()
    assert (tmp_path / "c.sqlite").stat().st_size < 2_600_000
    kept = Cache(tmp_path / "c.sqlite").get([key_of(b"%d" % n) for n in range(60)])
    assert key_of(b"59") in kept
    assert key_of(b"0") not in kept


def test_the_oldest_make_room_down_to_nine_tenths_of_the_size(tmp_path: Path) -> None:
    """Of 40 entries of some 25 pages of 4096 bytes, 17 are just under nine tenths of 2 MB."""
    keys = [key_of(b"%d" % number) for number in range(40)]
    cache = Cache(tmp_path / "c.sqlite", largest=2_000_000)
    cache.put([(key, os.urandom(100_000)) for key in keys])
    kept = cache.get(keys)
    assert [key in kept for key in keys] == [False] * 23 + [True] * 17
    cache.put([(key_of(b"another"), os.urandom(100_000))])
    assert len(cache.get(keys)) == 17
    # The file is as large as it was; what counts is what is in it, which is 20 entries then.
    cache.put([(key_of(b"two %d" % number), os.urandom(100_000)) for number in range(2)])
    assert [key in cache.get(keys) for key in keys] == [False] * 26 + [True] * 14


def test_many_runs_at_once(tmp_path: Path) -> None:
    def work(number: int) -> None:
        cache = Cache(tmp_path / "c.sqlite")
        for step in range(30):
            cache.put([(key_of(b"%d" % step), b"%d" % step * 1000)])
            found = cache.get([key_of(b"%d" % step)])
            if found and unpacked(found[key_of(b"%d" % step)]) != b"%d" % step * 1000:
                wrong.append(number)
        cache.close()

    wrong: list[int] = []
    threads = [threading.Thread(target=work, args=(n,)) for n in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    kept = Cache(tmp_path / "c.sqlite").get([key_of(b"%d" % step) for step in range(30)])
    assert len(kept) > 0


def test_a_killed_run_leaves_a_cache_that_works(tmp_path: Path) -> None:
    path = tmp_path / "c.sqlite"
    code = (
        "import os, sys; from pathlib import Path; from checker.run.cache import Cache, key_of\n"
        f"cache = Cache(Path({str(path)!r}))\n"
        "for n in range(10**6):\n"
        "    cache.put([(key_of(b'%d' % n), os.urandom(20000))])\n"
        "    if n == 20: print('going', flush=True)\n"
    )
    root = str(Path(__file__).parents[2])
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, env={**os.environ, "PYTHONPATH": root}
    ) as run:
        assert run.stdout
        assert run.stdout.readline() == b"going\n"
        run.send_signal(signal.SIGKILL)
    cache = Cache(path)
    assert key_of(b"5") in cache.get([key_of(b"5")])
    cache.put([(b"new", b"entry")])
    assert unpacked(cache.get([b"new"])[b"new"]) == b"entry"


def test_parts_that_run_into_one_another_have_keys_of_their_own() -> None:
    assert len({key_of(b"ab", b"c"), key_of(b"a", b"bc"), key_of(b"abc"), key_of(b"abc", b"")}) == 4


def test_the_cache_lies_where_each_system_keeps_such_files(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LOCALAPPDATA", "/local")
    assert _usual("win32") == os.path.join("/local", "Cache")
    assert _usual("darwin").endswith(os.path.join("Library", "Caches"))
    for other in ("linux", "aix", "cygwin", "zos"):
        assert _usual(other).endswith(".cache")
    monkeypatch.delenv("LOCALAPPDATA")
    assert _usual("win32").endswith(".cache")


def test_the_cache_lies_where_the_person_says(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRESCREED_CACHE", "/mine")
    monkeypatch.setenv("XDG_CACHE_HOME", "/of all programs")
    assert folder() == "/mine"
    monkeypatch.setenv("PRESCREED_CACHE", "")
    assert folder() == os.path.join("/of all programs", "prescreed")
    monkeypatch.delenv("XDG_CACHE_HOME")
    assert folder() == os.path.join(_usual(sys.platform), "prescreed")


def test_more_entries_than_one_question_asks_for_are_all_found(tmp_path: Path) -> None:
    entries = {key_of(b"%d" % number): b"entry %d" % number for number in range(1201)}
    cache = Cache(tmp_path / "c.sqlite")
    cache.put(entries.items())
    found = cache.get([*entries, key_of(b"another")])
    assert {key: unpacked(entry) for key, entry in found.items()} == entries


def test_what_another_run_holds_is_waited_for_and_then_done_without(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("checker.run.cache.PATIENCE", 0.01)
    path, key = tmp_path / "c.sqlite", key_of(b"x")
    cache = Cache(path)
    cache.put([(key, b"before")])
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    cache.put([(key, b"meanwhile")])
    assert unpacked(cache.get([key])[key]) == b"before"
    other.execute("ROLLBACK")
    cache.put([(key, b"after")])
    assert unpacked(cache.get([key])[key]) == b"after"
    other.close()
    cache.close()


def test_a_file_that_another_holds_whole_is_not_thrown_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("checker.run.cache.PATIENCE", 0.01)
    path, key = tmp_path / "c.sqlite", key_of(b"x")
    first = Cache(path)
    first.put([(key, b"entry")])
    first.close()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("PRAGMA locking_mode=EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    shut_out = Cache(path)
    shut_out.put([(key, b"lost")])
    assert shut_out.get([key]) == {}
    other.execute("ROLLBACK")
    other.close()
    assert unpacked(Cache(path).get([key])[key]) == b"entry"
