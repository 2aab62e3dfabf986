"""Files are written whole or not at all."""

import pytest

from saltglaze import atomic


def test_a_failed_write_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch):
    path = tmp_path / "record.json"
    atomic.write_text(path, "old")

    def broken(handle):
        raise OSError("the disk is full")

    monkeypatch.setattr(atomic.os, "fsync", broken)
    with pytest.raises(OSError, match="full"):
        atomic.write_text(path, "new")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]
